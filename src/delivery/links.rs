//! Whether the roster still says of keyed records what it said when they were keyed.
//!
//! A record keeps the key of its row and what that row said; a newer roster may have dropped the row, given its key to
//! another, or say something else now. What was keyed is never changed by that: somebody keys the sheet again.

use super::check::{Check, in_drawer_order, sheets_of};
use super::{Record, brief};
use crate::roster::{Roster, is_another};
use crate::value::Severity;

/// The way to mend each.
const KEY_AGAIN: &str = "headword key JOB --sheet NAME opens the desk at one, to key it again (with --pass 2 too where it was keyed \
     twice)";

/// The roster as it is now, and the fields that it holds, each with its column.
#[derive(Debug, Clone, Copy)]
pub struct Links<'a> {
    pub roster: &'a Roster,
    pub columns: &'a [(String, String)],
    /// Fields that are delivered as the roster has them.
    pub delivered: &'a [String],
}

/// What became of the row that a record is linked to.
enum Became<'a> {
    Gone,
    Another,
    /// Fields that are delivered, what the row said, and what it says now.
    Changed(Vec<(&'a str, &'a str, &'a str)>),
}

impl Links<'_> {
    /// The links of records that people keyed and that no longer hold, each with the way to mend it.
    pub fn checks(&self, records: &[&Record]) -> Vec<Check> {
        let (mut gone, mut others) = (Vec::new(), Vec::new());
        let mut checks = Vec::new();
        for record in records.iter().filter(|record| record.entry.is_some()) {
            match self.became(record) {
                None => {}
                Some(Became::Gone) => gone.push(*record),
                Some(Became::Another) => others.push(*record),
                Some(Became::Changed(fields)) => {
                    let fields = fields.iter().map(|(field, was, is)| {
                        format!("{field} {:?}, now {:?}", brief(was), brief(is))
                    });
                    let fields: Vec<String> = fields.collect();
                    checks.push(Check {
                        severity: Severity::Warning,
                        code: "roster-value-changed",
                        sheets: sheets_of(&[record]),
                        message: format!(
                            "the roster's row said {} when it was keyed; the index delivers what it said then; {KEY_AGAIN}",
                            fields.join("; ")
                        ),
                    });
                }
            }
        }
        in_drawer_order(&mut checks);
        let mut all = |code, records: &[&Record], words: &str| {
            if !records.is_empty() {
                checks.push(Check {
                    severity: Severity::Warning,
                    code,
                    sheets: sheets_of(records),
                    message: format!("{words}; {KEY_AGAIN}"),
                });
            }
        };
        all(
            "roster-row-gone",
            &gone,
            "linked to a row that the roster no longer has",
        );
        all(
            "roster-row-another",
            &others,
            "linked to a key that names somebody or something else in the roster now",
        );
        checks
    }

    /// None where the record is linked to nothing, or the row says what it said.
    fn became<'a>(&'a self, record: &'a Record) -> Option<Became<'a>> {
        let key = record.roster_key.as_deref()?;
        let Some(row) = self.roster.row_of(key) else {
            return Some(Became::Gone);
        };
        let said = |field: &str| {
            record
                .value(field)
                .and_then(|value| value.as_roster.as_deref())
        };
        let both = self.columns.iter().filter_map(|(field, column)| {
            let is = self.roster.cell(row, column)?;
            Some((field.as_str(), column.as_str(), said(field)?, is))
        });
        let both: Vec<(&str, &str, &str, &str)> = both.collect();
        let names: Vec<&str> = self.roster.names().collect();
        let named = both.iter().filter(|(_, column, ..)| {
            let mut names = names.iter();
            names.any(|name| name.eq_ignore_ascii_case(column))
        });
        if is_another(named.map(|(_, _, was, is)| (*was, *is))) {
            return Some(Became::Another);
        }
        let changed: Vec<(&str, &str, &str)> = both
            .iter()
            .filter(|(field, _, was, is)| was != is && self.delivered.iter().any(|f| f == field))
            .map(|(field, _, was, is)| (*field, *was, *is))
            .collect();
        (!changed.is_empty()).then_some(Became::Changed(changed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delivery::{KeyedBy, RecordValue};
    use crate::journal::Desk;
    use crate::roster::{ColumnKind, Schema, Table};
    use crate::value::SheetId;

    fn record(sheet: &str, key: Option<&str>, surname: &str, forenames: &str) -> Record {
        let value = |field: &str, says: &str| RecordValue {
            field: field.to_owned(),
            as_roster: Some(says.to_owned()),
            ..RecordValue::default()
        };
        Record {
            sheet: SheetId::new(sheet),
            values: vec![value("name", surname), value("first", forenames)],
            roster_key: key.map(str::to_owned),
            entry: Some(KeyedBy {
                number: 1,
                by: "mia".to_owned(),
                at: 0,
                pass: 1,
                desk: Desk::Clerk,
                saw_proposal: true,
                content_hash: String::new(),
            }),
            ..Record::default()
        }
    }

    #[test]
    fn links_that_no_longer_hold_are_told_with_the_way_to_mend_them() {
        let text = &b"number,surname,forenames\n1,DALTON,MARY\n2,QUAYLE-HART,ANN\n3,ANDERSEN,ROBERT\n4,MOORE,KIMBERLY\n"[..];
        let (table, _) = Table::from_reader(text).unwrap();
        let columns = [
            ("surname", ColumnKind::Surname),
            ("forenames", ColumnKind::Forenames),
        ];
        let schema = Schema {
            key: "number".to_owned(),
            columns: columns.map(|(name, kind)| (name.to_owned(), kind)).to_vec(),
        };
        let (roster, _) = Roster::prepare(table, &schema).unwrap();
        let proposed = Record {
            entry: None,
            ..record("0", Some("8"), "PIER", "JOHN")
        };
        let records = [
            proposed,
            record("1", Some("1"), "DALTON", "MARY"),
            record("2", Some("2"), "QUAYLE", "ANN"),
            record("3", Some("3"), "PIER", "JOHN"),
            record("4", Some("4"), "MOORE", "KIM"),
            record("5", Some("9"), "PIER", "JOHN"),
            record("6", None, "", ""),
        ];
        let records: Vec<&Record> = records.iter().collect();
        let columns = [("name", "surname"), ("first", "forenames")];
        let columns = columns.map(|(field, column)| (field.to_owned(), column.to_owned()));
        let delivered = ["name".to_owned()];
        let links = Links {
            roster: &roster,
            columns: &columns,
            delivered: &delivered,
        };
        let checks = links.checks(&records);
        let told: Vec<(&str, &str)> = checks
            .iter()
            .map(|check| (check.code, check.sheets[0].as_str()))
            .collect();
        // A forename is not delivered as the roster has it.
        assert_eq!(
            told,
            [
                ("roster-value-changed", "2"),
                ("roster-row-gone", "5"),
                ("roster-row-another", "3")
            ]
        );
        assert!(
            checks[0]
                .message
                .contains("name \"QUAYLE\", now \"QUAYLE-HART\""),
            "{checks:?}"
        );
        assert!(
            checks
                .iter()
                .all(|check| check.message.contains("headword key JOB --sheet NAME"))
        );
    }
}
