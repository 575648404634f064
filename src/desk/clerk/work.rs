//! What is being keyed on one sheet: its records, each with its fields and its row of the roster.

use super::field::Field;
use super::sheet::{DeskSheet, FieldPlace, Knowledge, LikelyRows, Plan, PlannedField, RosterRow};
use crate::journal::{KeyedRecord, Keying, UNREADABLE};
use crate::value::{Probability, SheetId, SheetKind};

/// Rows of the roster that are offered beside the linked one, and how probable they must be.
const MOST_OTHERS: usize = 3;
/// Rows that the roster is asked for: those, and the linked one.
const MOST_ROWS: usize = MOST_OTHERS + 1;
const LEAST_ROW: f64 = 0.001;

/// One row of the index in the making.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Record {
    pub fields: Vec<Field>,
    /// The roster row that it is linked to.
    pub row: Option<RosterRow>,
    /// The person chose the row, and it stays whatever is typed.
    pub picked: bool,
    /// Other rows that its values may mean, the likeliest first.
    pub others: Vec<(RosterRow, Probability)>,
    /// What the roster has still to be asked: a large one takes too long for it to happen at every letter.
    pub wanted: Option<Wanted>,
}

/// What is asked of the roster.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// Which other rows the values may mean.
    Others,
    /// Which row they mean now: another value may mean another row, or none.
    Row,
}

/// All of it, and where the person is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Work {
    pub records: Vec<Record>,
    /// The record in hand, and the field in it.
    pub record: usize,
    pub focus: usize,
    pub kind: SheetKind,
}

impl Work {
    /// As the sheet comes to the desk: with what is proposed where that may be seen, or with what was keyed before.
    pub fn new(plan: &Plan, sheet: &DeskSheet, knowledge: &dyn Knowledge) -> Self {
        let shown = sheet.shown_proposal();
        let count = 1 + shown.map_or(0, |frozen| frozen.proposal.more.len());
        let mut work = Self {
            records: (0..count).map(|at| Record::new(plan, sheet, at)).collect(),
            kind: shown.map_or(SheetKind::Record, |frozen| frozen.proposal.kind),
            ..Self::default()
        };
        for (at, record) in work.records.iter_mut().enumerate() {
            let link = shown.and_then(|frozen| match at {
                0 => frozen.proposal.link.as_ref(),
                at => frozen.proposal.more.get(at - 1)?.link.as_ref(),
            });
            record.row = link.and_then(|link| knowledge.row(&link.key));
        }
        if let Some(again) = &sheet.again {
            work.take_up(plan, sheet, again, knowledge);
        }
        for record in &mut work.records {
            for field in &mut record.fields {
                field.judge(knowledge);
            }
            record.compare(knowledge);
            record.wanted = shown.map(|_| Wanted::Others);
        }
        work
    }

    fn take_up(
        &mut self,
        plan: &Plan,
        sheet: &DeskSheet,
        again: &Keying,
        knowledge: &dyn Knowledge,
    ) {
        self.kind = again.kind;
        while self.records.len() < again.records.len() {
            let more = Record::new(plan, sheet, self.records.len());
            self.records.push(more);
        }
        for (record, keyed) in self.records.iter_mut().zip(&again.records) {
            let key = keyed.roster_key.as_deref();
            record.row = key.and_then(|key| knowledge.row(key));
            record.picked = record.row.is_some();
            for keyed in &keyed.fields {
                let mut fields = record.fields.iter_mut();
                if let Some(field) = fields.find(|field| field.plan.name == keyed.field) {
                    field.take_up(keyed);
                    // The roster may be a newer one than when the sheet was keyed.
                    let says = record.row.as_ref().and_then(|row| row.says(&keyed.field));
                    field.as_roster = says.map(str::to_owned);
                }
            }
        }
    }

    /// Takes over what another reading of the same sheet proposes, but for fields that somebody touched.
    pub fn take_reading(&mut self, plan: &Plan, sheet: &DeskSheet, knowledge: &dyn Knowledge) {
        let mut anew = Self::new(plan, sheet, knowledge);
        for (old, new) in self.records.iter().zip(&mut anew.records) {
            for (old, new) in old.fields.iter().zip(&mut new.fields) {
                let is_touched = old.accepted || !(old.is_blank() || old.is_as_proposed());
                if is_touched {
                    let place = std::mem::take(&mut new.place);
                    *new = Field {
                        place,
                        ..old.clone()
                    };
                }
            }
            if old.picked {
                new.row.clone_from(&old.row);
                new.picked = true;
            }
            new.compare(knowledge);
        }
        let kept = self.records.iter().skip(anew.records.len());
        anew.records.extend(kept.cloned());
        *self = Self {
            record: self.record.min(anew.records.len() - 1),
            focus: self.focus,
            ..anew
        };
    }

    pub fn in_record(&self) -> &Record {
        &self.records[self.record]
    }

    pub fn in_record_mut(&mut self) -> &mut Record {
        &mut self.records[self.record]
    }

    pub fn in_hand(&self) -> Option<&Field> {
        self.in_record().fields.get(self.focus)
    }

    pub fn in_hand_mut(&mut self) -> Option<&mut Field> {
        self.records[self.record].fields.get_mut(self.focus)
    }

    pub fn all_fields(&self) -> impl Iterator<Item = &Field> {
        self.records.iter().flat_map(|record| &record.fields)
    }

    /// Whether a sheet of this kind has values to key.
    pub fn has_values(&self) -> bool {
        matches!(self.kind, SheetKind::Record | SheetKind::Divider)
    }

    /// Whether the next Enter accepts the sheet.
    pub fn is_ready(&self) -> bool {
        let needs_values = self.kind == SheetKind::Record;
        let is_open = |field: &Field| {
            field.needs_a_look() || needs_values && field.is_blank() && field.plan.required
        };
        !(self.has_values() && self.all_fields().any(is_open))
    }

    /// To the next field that needs a look, from the one in hand on and round; `false` where none does.
    pub fn go_to_next_open_field(&mut self) -> bool {
        let from = (self.record, self.focus);
        let all = self.records.iter().enumerate();
        let open: Vec<(usize, usize)> = all
            .flat_map(|(at, record)| {
                let fields = record.fields.iter().enumerate();
                let open = fields.filter(|(_, field)| field.needs_a_look());
                open.map(move |(field, _)| (at, field))
            })
            .collect();
        let next = open.iter().find(|at| **at >= from).or(open.first());
        if let Some(&(record, focus)) = next {
            (self.record, self.focus) = (record, focus);
        }
        next.is_some()
    }

    /// As it goes into an entry; sheets without values have no records.
    pub fn keyed(&self) -> Vec<KeyedRecord> {
        let records = self.records.iter().filter(|_| self.has_values());
        records.map(Record::keyed).collect()
    }
}

impl Record {
    /// The record of this place on a sheet, with what is proposed for it.
    pub fn new(plan: &Plan, sheet: &DeskSheet, at: usize) -> Self {
        let is_shown = sheet.shown_proposal().is_some();
        let frozen = sheet.proposal.as_ref();
        let proposed = frozen.map_or(&[][..], |frozen| match at {
            0 => frozen.proposal.fields.as_slice(),
            at => {
                let more = frozen.proposal.more.get(at - 1);
                more.map_or(&[][..], |more| more.fields.as_slice())
            }
        });
        let field = |plan: &PlannedField| {
            let proposed = proposed.iter().find(|p| p.field == plan.name);
            let mut places = frozen.into_iter().flat_map(|frozen| &frozen.places);
            let place = places.find(|place| place.field == plan.name && place.record == at);
            let place = place.filter(|_| is_shown).cloned();
            let nowhere = || FieldPlace {
                field: plan.name.clone(),
                record: at,
                ..FieldPlace::default()
            };
            Field::new(plan, proposed, place.unwrap_or_else(nowhere), is_shown)
        };
        Self {
            fields: plan.fields.iter().map(field).collect(),
            ..Self::default()
        }
    }

    pub fn is_blank(&self) -> bool {
        self.fields.iter().all(Field::is_blank)
    }

    /// Its values that can be compared with others: as keyed, without what is marked or not wholly readable.
    pub fn values(&self) -> Vec<(&str, String)> {
        let fields = self.fields.iter().filter(|field| field.mark.is_none());
        let values = fields.map(|field| (field.plan.name.as_str(), field.value()));
        values
            .filter(|(_, value)| !value.trim().is_empty() && !value.contains(UNREADABLE))
            .collect()
    }

    /// Holds its fields against each other. What contradicts is told at the last of the fields that take part, where
    /// both have been seen.
    pub fn compare(&mut self, knowledge: &dyn Knowledge) {
        let told: Vec<(usize, String)> = knowledge
            .contradictions(&self.values())
            .into_iter()
            .filter_map(|contradiction| {
                let takes_part = |field: &Field| contradiction.fields.contains(&field.plan.name);
                let at = self.fields.iter().rposition(takes_part)?;
                Some((at, contradiction.words))
            })
            .collect();
        for (at, field) in self.fields.iter_mut().enumerate() {
            let here = told.iter().find(|(other, _)| *other == at);
            field.contradiction = here.map(|(_, words)| words.clone());
        }
    }

    /// Takes what the roster says of its values. A row that the person chose stays.
    pub fn take_rows(&mut self, likely: LikelyRows) {
        if self.wanted.take() == Some(Wanted::Row) && !self.picked {
            let row = likely.meant().cloned();
            for field in &mut self.fields {
                let says = row.as_ref().and_then(|row| row.says(&field.plan.name));
                field.as_roster = says.map(str::to_owned);
            }
            self.row = row;
        }
        let linked = self.row.as_ref().map(|row| row.key.clone());
        self.others = likely.rows;
        self.others.retain(|(row, probability)| {
            Some(&row.key) != linked.as_ref() && probability.get() >= LEAST_ROW
        });
        self.others.truncate(MOST_OTHERS);
    }

    fn keyed(&self) -> KeyedRecord {
        KeyedRecord {
            fields: self.fields.iter().map(Field::keyed).collect(),
            roster_key: self.row.as_ref().map(|row| row.key.clone()),
        }
    }
}

/// Values of a record, of which the roster is asked whose they are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    pub sheet: SheetId,
    pub record: usize,
    /// By field.
    pub values: Vec<(String, String)>,
}

impl Question {
    pub fn ask(&self, knowledge: &dyn Knowledge) -> LikelyRows {
        let values: Vec<(&str, String)> = self
            .values
            .iter()
            .map(|(field, value)| (field.as_str(), value.clone()))
            .collect();
        knowledge.likely(&values, MOST_ROWS)
    }
}
