//! What the desk shows, and where the focus goes.

use super::desk::{Clerk, Done, PictureWishes};
use super::field::Field;
use super::pane::Pane;
use super::sheet::{DeskSheet, Knowledge, RosterRow};
use crate::journal::KeyedSource;
use crate::value::{Probability, SheetKind};

/// Other values that are offered for a field.
const MOST_VALUES: usize = 6;
/// Values less probable than this are not worth a line.
const LEAST_PROBABILITY: f64 = 0.005;

/// Something that Alt and its number put in.
#[derive(Debug, Clone, PartialEq)]
pub enum Suggestion {
    Value(String, Probability),
    /// What the linked row says of the field, where the strip says something else.
    AsRoster(String),
    Row(RosterRow),
}

impl Clerk {
    pub fn sheet(&self) -> &DeskSheet {
        &self.sheet
    }

    pub fn kind(&self) -> SheetKind {
        self.kind
    }

    pub fn pane(&self) -> &Pane {
        &self.pane
    }

    pub fn wishes(&self) -> PictureWishes {
        self.wishes
    }

    pub fn message(&self) -> Option<&str> {
        self.message.as_deref()
    }

    /// What was done in this sitting, the last one at the end.
    pub fn done(&self) -> &[Done] {
        &self.done
    }

    /// The record in hand, from 0, and how many there are.
    pub fn record(&self) -> (usize, usize) {
        (self.record, self.records.len())
    }

    /// The fields of the record in hand.
    pub fn fields(&self) -> &[Field] {
        &self.records[self.record]
    }

    /// The roster row that the record in hand is linked to.
    pub fn row(&self) -> Option<&RosterRow> {
        self.rows[self.record].as_ref()
    }

    /// Index of the field in hand.
    pub fn focus(&self) -> usize {
        self.focus
    }

    pub fn in_hand(&self) -> Option<&Field> {
        self.fields().get(self.focus)
    }

    /// Whether the proposal was filled in for this sheet.
    pub fn shows_proposal(&self) -> bool {
        self.sheet.proposal.is_some() && self.sheet.sees_proposal && !self.sheet.unfilled
    }

    /// Whether the next Enter accepts the sheet.
    pub fn ready(&self) -> bool {
        let needs_values = self.kind == SheetKind::Record;
        let has_values = needs_values || self.kind == SheetKind::Divider;
        let mut fields = self.records.iter().flatten();
        let is_open = |field: &Field| {
            field.needs_a_look() || needs_values && field.is_blank() && field.plan.required
        };
        !(has_values && fields.any(is_open))
    }

    /// What Alt and a digit put in, in the order of the digits.
    pub fn suggestions(&self) -> Vec<Suggestion> {
        let Some(field) = self.in_hand().filter(|_| self.shows_proposal()) else {
            return Vec::new();
        };
        let value = field.value();
        let proposed = field.proposed.iter().map(|p| (&p.value, p.probability));
        let others = field.alternatives.iter().map(|(value, p)| (value, *p));
        let mut values: Vec<Suggestion> = Vec::new();
        let others = others.filter(|(_, probability)| probability.get() >= LEAST_PROBABILITY);
        for (other, probability) in proposed.chain(others) {
            let known = |s: &Suggestion| matches!(s, Suggestion::Value(v, _) if v == other);
            if !other.is_empty() && *other != value && !values.iter().any(known) {
                values.push(Suggestion::Value(other.clone(), probability));
            }
        }
        values.truncate(MOST_VALUES);
        let differing = field.as_roster.clone().filter(|_| field.differs());
        let is_new = |other: &String| {
            let known = |s: &Suggestion| matches!(s, Suggestion::Value(v, _) if v == other);
            !values.iter().any(known)
        };
        let as_roster = differing.filter(is_new).map(Suggestion::AsRoster);
        values.extend(as_roster);
        values.extend(self.row().cloned().map(Suggestion::Row));
        values
    }

    pub(super) fn take_suggestion(&mut self, number: usize, knowledge: &dyn Knowledge) {
        match self.suggestions().into_iter().nth(number - 1) {
            None => self.say(format!("There is no suggestion {number}.")),
            Some(Suggestion::Row(row)) => self.link(row, knowledge),
            Some(Suggestion::Value(value, _)) => {
                self.take(&value, KeyedSource::Alternative, knowledge);
            }
            Some(Suggestion::AsRoster(value)) => {
                self.take(&value, KeyedSource::Roster, knowledge);
            }
        }
    }

    fn take(&mut self, value: &str, source: KeyedSource, knowledge: &dyn Knowledge) {
        self.remember(None);
        let field = &mut self.records[self.record][self.focus];
        field.set(value, source, knowledge);
        field.accepted = field.objection.is_none();
        self.relink(knowledge);
        self.go_to_next_open_field();
    }

    /// Links the record to a row. Fields that nobody typed or accepted take what the row says; what was typed stays,
    /// and what differs is said.
    pub(super) fn link(&mut self, row: RosterRow, knowledge: &dyn Knowledge) {
        self.remember(None);
        let mut differing = Vec::new();
        for field in &mut self.records[self.record] {
            let named = row.fields.iter().find(|(name, _)| *name == field.plan.name);
            field.as_roster = named.map(|(_, value)| value.clone());
            let Some((name, value)) = named else { continue };
            let is_open = field.is_blank() && field.mark.is_none();
            if is_open && !value.is_empty() {
                field.set(value, KeyedSource::Roster, knowledge);
                field.accepted = true;
            }
            if field.differs() {
                differing.push(format!("{name} {value}"));
            }
        }
        self.say(match differing.as_slice() {
            [] => format!(
                "Linked to {}; the strip and the roster say the same.",
                row.key
            ),
            some => format!(
                "Linked to {}; the roster says: {}.",
                row.key,
                some.join(", ")
            ),
        });
        self.rows[self.record] = Some(row);
        self.picked[self.record] = true;
        self.go_to_next_open_field();
    }

    pub(super) fn move_focus(&mut self, by: isize) {
        let count = self.fields().len().max(1) as isize;
        self.focus = (self.focus as isize + by).rem_euclid(count) as usize;
        self.wishes.pan = 0;
    }

    /// To the next field that needs a look, from the one in hand on and round; stays where none does.
    pub(super) fn go_to_next_open_field(&mut self) {
        let from = (self.record, self.focus);
        let all = self.records.iter().enumerate();
        let open: Vec<(usize, usize)> = all
            .flat_map(|(record, fields)| {
                let open = fields.iter().enumerate().filter(|(_, f)| f.needs_a_look());
                open.map(move |(at, _)| (record, at))
            })
            .collect();
        let next = open.iter().find(|at| **at >= from).or(open.first());
        if let Some(&(record, focus)) = next {
            (self.record, self.focus) = (record, focus);
            self.wishes.pan = 0;
        }
    }
}
