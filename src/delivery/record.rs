//! What is delivered of a sheet.

use crate::proposal::{Face, Proposal};
use crate::value::{Finding, Probability, Severity, SheetId, SheetKind, SheetState};
use serde::{Deserialize, Serialize};

/// One row of the index to be: what one sheet says about one person or thing. Two people on a sheet are two records
/// with the same sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Record {
    pub sheet: SheetId,
    pub kind: SheetKind,
    pub state: SheetState,
    pub values: Vec<RecordValue>,
    pub findings: Vec<Finding>,
}

/// A field's value.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct RecordValue {
    pub field: String,
    /// What the strip says; empty where it says nothing.
    pub as_typed: String,
    /// What the linked roster row says; none where there is no row or the roster does not hold the field.
    pub as_roster: Option<String>,
    /// How the value was proposed; none where a person keyed it.
    pub face: Option<Face>,
    pub probability: Option<Probability>,
}

impl Record {
    /// The records of a sheet that nobody has keyed yet: the proposal's values, written as `written` (field, value)
    /// says, with its faces and findings.
    pub fn proposed(
        sheet: &SheetId,
        proposal: &Proposal,
        written: impl Fn(&str, &str) -> String,
    ) -> Vec<Self> {
        let others = proposal.more.iter().map(|record| &record.fields);
        std::iter::once(&proposal.fields)
            .chain(others)
            .map(|fields| Self {
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
                    })
                    .collect(),
                findings: proposal.findings.clone(),
            })
            .collect()
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

    /// Whether it becomes a row of the index: a record that was not set aside, and that was read or keyed.
    pub fn is_indexed(&self) -> bool {
        self.kind == SheetKind::Record
            && self.state != SheetState::SetAside
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
