//! What is delivered of a sheet.

use super::Standing;
use crate::journal::{Act, Desk, Entry, KeyedRecord, KeyedSource, KeyedValue, UNREADABLE};
use crate::proposal::{Face, Proposal};
use crate::value::{Finding, Probability, Severity, SheetId, SheetKind, SheetState};

/// One row of the index to be: what one sheet says about one person or thing. Two people on a sheet are two records
/// with the same sheet. A sheet that gives no row, such as a divider, is a record without values.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Record {
    pub sheet: SheetId,
    pub kind: SheetKind,
    pub state: SheetState,
    pub values: Vec<RecordValue>,
    pub findings: Vec<Finding>,
    /// The entry that it stands on; none where nobody has worked on the sheet.
    pub entry: Option<KeyedBy>,
    /// Key of the roster row that it is linked to.
    pub roster_key: Option<String>,
    /// Why it is not in the index, in the words of who said so.
    pub reason: Option<String>,
}

/// A field's value.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RecordValue {
    pub field: String,
    /// What the strip says; empty where it says nothing.
    pub as_typed: String,
    /// What the linked roster row says; none where there is no row or the roster does not hold the field.
    pub as_roster: Option<String>,
    /// How the value was proposed; none where there was no proposal.
    pub face: Option<Face>,
    pub probability: Option<Probability>,
    /// How a person came by it; none where nobody keyed it.
    pub source: Option<KeyedSource>,
    pub legibility: Legibility,
    /// Why it counts although a check speaks against it.
    pub overruled: Option<String>,
}

/// Whether the strip could be read where a value stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Legibility {
    #[default]
    Read,
    /// A person says that there is nothing.
    NothingOnStrip,
    /// Some characters are there and cannot be read.
    InPart,
    /// Something is there and cannot be read.
    CannotBeRead,
}

/// Who made the entry that a record stands on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyedBy {
    pub number: i64,
    pub by: String,
    /// Milliseconds since 1970-01-01 UTC.
    pub at: i64,
    pub pass: u8,
    pub desk: Desk,
    /// The proposal, or suggestions, were on the screen.
    pub saw_proposal: bool,
    /// SHA-256 of the image that was on the screen; empty where none was.
    pub content_hash: String,
}

impl Record {
    /// The records of a sheet that nobody has keyed yet: the proposal's values, written as `written` (field, value)
    /// says, with its faces and findings.
    pub fn proposed(
        sheet: &SheetId,
        proposal: &Proposal,
        written: impl Fn(&str, &str) -> String,
    ) -> Vec<Self> {
        let others = proposal
            .more
            .iter()
            .map(|record| (&record.fields, &record.link));
        std::iter::once((&proposal.fields, &proposal.link))
            .chain(others)
            .map(|(fields, link)| Self {
                sheet: sheet.clone(),
                kind: proposal.kind,
                state: SheetState::Waiting,
                values: fields
                    .iter()
                    .map(|field| RecordValue {
                        field: field.field.clone(),
                        as_typed: written(&field.field, &field.as_typed),
                        as_roster: field.as_roster.clone(),
                        face: Some(field.face),
                        probability: Some(field.probability),
                        ..RecordValue::default()
                    })
                    .collect(),
                findings: proposal.findings.clone(),
                roster_key: link.as_ref().map(|link| link.key.clone()),
                ..Self::default()
            })
            .collect()
    }

    /// The records of a sheet that people worked on, values written as `written` (field, value) says. One without
    /// values where it gives no row.
    pub fn keyed(
        entry: &Entry,
        standing: &Standing,
        written: impl Fn(&str, &str) -> String,
    ) -> Vec<Self> {
        let sheet = Self {
            sheet: entry.sheet.clone(),
            kind: standing.kind,
            state: standing.state,
            entry: Some(KeyedBy::of(entry, &standing.content_hash)),
            reason: match &entry.act {
                Act::Held { reason } | Act::SetAside { reason } => Some(reason.clone()),
                _ => None,
            },
            ..Self::default()
        };
        if sheet.kind != SheetKind::Record || standing.records.is_empty() {
            return vec![sheet];
        }
        let records = standing.records.iter();
        records.map(|record| sheet.with(record, &written)).collect()
    }

    fn with(&self, keyed: &KeyedRecord, written: impl Fn(&str, &str) -> String) -> Self {
        let values = keyed.fields.iter().map(|field| {
            let (as_typed, legibility) = match &field.value {
                KeyedValue::Text(text) if text.contains(UNREADABLE) => {
                    (text.clone(), Legibility::InPart)
                }
                KeyedValue::Text(text) => (written(&field.field, text), Legibility::Read),
                KeyedValue::NothingOnStrip => (String::new(), Legibility::NothingOnStrip),
                KeyedValue::CannotBeRead => (String::new(), Legibility::CannotBeRead),
            };
            RecordValue {
                field: field.field.clone(),
                as_typed,
                as_roster: field.as_roster.clone(),
                face: field.proposed.as_ref().map(|proposed| proposed.face),
                probability: field.proposed.as_ref().map(|proposed| proposed.probability),
                source: Some(field.source),
                legibility,
                overruled: field.overruled.clone(),
            }
        });
        Self {
            values: values.collect(),
            roster_key: keyed.roster_key.clone(),
            ..self.clone()
        }
    }

    pub fn value(&self, field: &str) -> Option<&RecordValue> {
        self.values.iter().find(|value| value.field == field)
    }

    /// What the strip says in a field; empty where it says nothing.
    pub fn as_typed(&self, field: &str) -> &str {
        self.value(field).map_or("", |value| &value.as_typed)
    }

    /// The linked row's value of a field, or what the strip says where there is none.
    pub fn as_roster_or_typed(&self, field: &str) -> &str {
        self.value(field).map_or("", |value| {
            value
                .as_roster
                .as_deref()
                .filter(|text| !text.is_empty())
                .unwrap_or(&value.as_typed)
        })
    }

    /// Whether it becomes a row of the index: a record that was read or keyed and for which nothing says otherwise.
    pub fn is_indexed(&self) -> bool {
        self.kind == SheetKind::Record
            && self.reason.is_none()
            && !matches!(self.state, SheetState::Held | SheetState::SetAside)
            && self.faults().is_empty()
    }

    /// Why there is nothing to index yet: a station failed, and nobody has keyed the sheet since.
    pub fn faults(&self) -> Vec<&str> {
        let faults = self
            .findings
            .iter()
            .filter(|finding| finding.severity == Severity::Fault);
        match self.state {
            SheetState::Waiting => faults.map(|finding| finding.message.as_str()).collect(),
            _ => Vec::new(),
        }
    }
}

impl KeyedBy {
    fn of(entry: &Entry, content_hash: &str) -> Self {
        Self {
            number: entry.number,
            by: entry.by.clone(),
            at: entry.at,
            pass: entry.pass,
            desk: entry.desk,
            saw_proposal: match &entry.act {
                Act::Keyed(keying) => keying.seen.proposal || keying.seen.suggestions,
                Act::Settled(settlement) => settlement.saw_proposal,
                _ => false,
            },
            content_hash: content_hash.to_owned(),
        }
    }
}
