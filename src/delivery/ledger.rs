//! What was delivered: the record that every bag carries, and what has changed since.

use super::{Record, Scan};
use crate::value::SheetId;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The format of a ledger on disk; it grows when older programs could not make sense of one.
pub const FORMAT: u32 = 1;

/// One delivery as it was made. It lies in the bag, and beside it where the bag may leave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Ledger {
    pub format: u32,
    /// Counts the job's deliveries from 1.
    pub number: u32,
    /// When it was begun (RFC 3339).
    pub at: String,
    /// Why earlier deliveries are amended; none where this one is no amendment.
    pub amends: Option<String>,
    /// In drawer order.
    pub sheets: Vec<Delivered>,
}

/// A sheet as it was delivered.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Delivered {
    pub sheet: SheetId,
    /// The scan, below the scans' folder.
    pub scan: String,
    /// The scan's name, below the payload; frozen from now on.
    pub name: String,
    /// The scan is in this bag; an amendment of the index alone has it not.
    pub shipped: bool,
    pub files: Vec<DeliveredFile>,
    /// Rows of the index; empty for exceptions.
    pub records: Vec<Vec<DeliveredValue>>,
    /// Why it is an exception.
    pub reason: Option<String>,
}

impl Delivered {
    /// The name without the payload's folder, as the index has it.
    pub fn file_name(&self) -> &str {
        self.name
            .split_once('/')
            .map_or(&self.name, |(_, name)| name)
    }
}

/// A file of a scan as it was delivered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DeliveredFile {
    /// Below the scan's folder; empty for a scan that is one file.
    pub within: String,
    pub bytes: u64,
    /// Modification time, in nanoseconds since 1970-01-01 UTC.
    pub modified: i64,
    pub sha256: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DeliveredValue {
    pub field: String,
    pub as_typed: String,
    pub as_roster: Option<String>,
}

/// The last delivery of each sheet, with its number.
pub type Frozen = BTreeMap<SheetId, (u32, Delivered)>;

/// What stands delivered after these ledgers, in the order of their numbers. An amendment without the scan keeps the
/// scan's files as they were shipped last.
pub fn frozen(ledgers: &[Ledger]) -> Frozen {
    let mut frozen = Frozen::new();
    for ledger in ledgers {
        for delivered in &ledger.sheets {
            frozen.insert(delivered.sheet.clone(), (ledger.number, delivered.clone()));
        }
    }
    frozen
}

/// The values of a sheet's records as a ledger keeps them.
pub fn delivered_values(records: &[&Record]) -> Vec<Vec<DeliveredValue>> {
    let indexed = records.iter().filter(|record| record.is_indexed());
    let values = |record: &&&Record| {
        let values = record.values.iter().map(|value| DeliveredValue {
            field: value.field.clone(),
            as_typed: value.as_typed.clone(),
            as_roster: value.as_roster.clone(),
        });
        values.collect()
    };
    indexed.map(|record| values(&record)).collect()
}

/// What has changed of a sheet's values since they were delivered, in words.
pub fn value_changes(delivered: &Delivered, records: &[&Record]) -> Vec<String> {
    let now = delivered_values(records);
    let mut changes = Vec::new();
    match (delivered.records.is_empty(), now.is_empty()) {
        (false, true) => return vec!["no record any more".to_owned()],
        (true, false) => return vec!["a record now".to_owned()],
        _ => {}
    }
    let both = delivered.records.iter().zip(&now);
    for (number, (old, new)) in (1..).zip(both) {
        let place = match now.len().max(delivered.records.len()) {
            1 => String::new(),
            _ => format!("record {number} "),
        };
        let of = |values: &[DeliveredValue], field: &str| {
            let found = values.iter().find(|value| value.field == field).cloned();
            found.map_or_else(Default::default, |v| {
                (v.as_typed, v.as_roster.unwrap_or_default())
            })
        };
        let mut fields: Vec<&str> = old.iter().chain(new).map(|v| v.field.as_str()).collect();
        let mut seen = std::collections::HashSet::new();
        fields.retain(|field| seen.insert(*field));
        for field in fields {
            let ((old, old_roster), (new, new_roster)) = (of(old, field), of(new, field));
            if old != new {
                changes.push(format!("{place}{field}: {old} -> {new}"));
            }
            if old_roster != new_roster {
                changes.push(format!(
                    "{place}{field} as roster: {old_roster} -> {new_roster}"
                ));
            }
        }
    }
    for number in now.len() + 1..=delivered.records.len() {
        changes.push(format!("record {number} is gone"));
    }
    for number in delivered.records.len() + 1..=now.len() {
        changes.push(format!("record {number} is new"));
    }
    changes
}

/// Whether a scan's files look as they did when they were delivered, by their names, sizes and times.
pub fn looks_the_same(delivered: &Delivered, scan: &Scan) -> bool {
    delivered.files.len() == scan.files.len()
        && delivered.files.iter().zip(&scan.files).all(|(old, new)| {
            (&old.within, old.bytes, old.modified) == (&new.within, new.bytes, new.modified)
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delivery::RecordValue;
    use crate::value::SheetState;

    fn record(values: &[(&str, &str)]) -> Record {
        let values = values.iter().map(|(field, typed)| RecordValue {
            field: (*field).to_owned(),
            as_typed: (*typed).to_owned(),
            ..RecordValue::default()
        });
        Record {
            state: SheetState::Keyed,
            values: values.collect(),
            ..Record::default()
        }
    }

    #[test]
    fn changes_are_told_field_by_field() {
        let (a, b) = (record(&[("n", "1"), ("s", "A")]), record(&[("n", "2")]));
        let check = |old: &[&Record], new: &[&Record], expected: &[&str]| {
            let delivered = Delivered {
                sheet: SheetId::new("1.png"),
                scan: String::new(),
                name: String::new(),
                shipped: true,
                files: vec![],
                records: delivered_values(old),
                reason: None,
            };
            assert_eq!(value_changes(&delivered, new), expected);
        };
        check(&[&a], &[&a], &[]);
        check(&[&a], &[&b], &["n: 1 -> 2", "s: A -> "]);
        check(&[&a], &[&a, &b], &["record 2 is new"]);
        check(
            &[&a, &b],
            &[&b],
            &[
                "record 1 n: 1 -> 2",
                "record 1 s: A -> ",
                "record 2 is gone",
            ],
        );
        check(&[&a], &[], &["no record any more"]);
        check(&[], &[&a], &["a record now"]);
        let mut linked = a.clone();
        linked.values[1].as_roster = Some("B".to_owned());
        check(&[&a], &[&linked], &["s as roster:  -> B"]);
        let mut aside = a.clone();
        aside.reason = Some("no strip".to_owned());
        check(&[&a], &[&aside], &["no record any more"]);
    }
}
