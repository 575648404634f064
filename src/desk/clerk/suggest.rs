//! Values and rows to choose from by Alt and a digit.

use super::desk::Clerk;
use super::sheet::{Knowledge, RosterRow};
use super::work::Wanted;
use crate::journal::KeyedSource;
use crate::value::Probability;

/// Other values that are offered for a field.
const MOST_VALUES: usize = 5;
/// Values less probable than this are not worth a line.
const LEAST_PROBABILITY: f64 = 0.005;

/// Something that Alt and its number put in.
#[derive(Debug, Clone, PartialEq)]
pub enum Suggestion {
    Value(String, Probability),
    /// What the linked row says of the field, where the strip says something else.
    AsRoster(String),
    /// The row that the record is linked to, and others that it may mean.
    Linked(RosterRow),
    Row(RosterRow, Probability),
}

impl Clerk {
    /// What Alt and a digit put in, in the order of the digits.
    pub fn suggestions(&self) -> Vec<Suggestion> {
        let Some(field) = self.in_hand().filter(|_| self.shows_proposal()) else {
            return Vec::new();
        };
        let value = field.value();
        let proposed = field.proposed.iter().map(|p| (&p.value, p.probability));
        let others = field.alternatives.iter().map(|(value, p)| (value, *p));
        let others = others.filter(|(_, probability)| probability.get() >= LEAST_PROBABILITY);
        let mut offered: Vec<Suggestion> = Vec::new();
        let is_known = |offered: &[Suggestion], other: &str| {
            let same = |s: &Suggestion| matches!(s, Suggestion::Value(v, _) if v == other);
            offered.iter().any(same)
        };
        for (other, probability) in proposed.chain(others) {
            if !other.is_empty() && *other != value && !is_known(&offered, other) {
                offered.push(Suggestion::Value(other.clone(), probability));
            }
        }
        offered.truncate(MOST_VALUES);
        let differing = field.as_roster.clone().filter(|_| field.differs());
        if let Some(row) = differing.filter(|row| !is_known(&offered, row)) {
            offered.push(Suggestion::AsRoster(row));
        }
        let record = self.work.in_record();
        offered.extend(record.row.clone().map(Suggestion::Linked));
        let others = record.others.iter().cloned();
        offered.extend(others.map(|(row, probability)| Suggestion::Row(row, probability)));
        offered.truncate(9);
        offered
    }

    pub(super) fn take_suggestion(&mut self, number: usize, knowledge: &dyn Knowledge) {
        match self.suggestions().into_iter().nth(number - 1) {
            None => self.say(format!("There is no suggestion {number}.")),
            Some(Suggestion::Linked(row) | Suggestion::Row(row, _)) => self.link(row, knowledge),
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
        if let Some(field) = self.work.in_hand_mut() {
            field.set(value, source, knowledge);
            field.accepted = field.objection.is_none();
        }
        self.changed(knowledge);
        self.go_to_next_open_field();
    }

    /// Links the record to a row. Fields that are empty take what the row says; what was read or typed from the strip
    /// stays, and what differs is said.
    pub(super) fn link(&mut self, row: RosterRow, knowledge: &dyn Knowledge) {
        self.remember(None);
        let mut differing = Vec::new();
        let record = self.work.in_record_mut();
        for field in &mut record.fields {
            let says = row.says(&field.plan.name);
            field.as_roster = says.map(str::to_owned);
            let Some(value) = says else { continue };
            let is_open = field.is_blank() && field.mark.is_none();
            if is_open && !value.is_empty() {
                field.set(value, KeyedSource::Roster, knowledge);
                field.accepted = true;
            }
            if field.differs() {
                differing.push(format!("{} {value}", field.plan.name));
            }
        }
        let words = match differing.as_slice() {
            [] => "the strip and the roster say the same".to_owned(),
            some => format!("the roster says: {}", some.join(", ")),
        };
        let words = format!("Linked to {}; {words}.", row.key);
        record.row = Some(row);
        record.picked = true;
        record.compare(knowledge);
        record.wanted = Some(Wanted::Others);
        self.say(words);
        self.go_to_next_open_field();
    }
}
