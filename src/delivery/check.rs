//! What is looked at over a whole batch before it is delivered.

use super::accounts::{check_images, check_states};
use super::csv_of;
use super::dates::check_sense;
use super::links::Links;
use super::parts::{PartFields, check_parts};
use super::ranges::check_ranges;
use super::{Legibility, Record, brief};
use crate::rules::RuleBook;
use crate::value::{CheckScheme, Severity, SheetId, drawer_order};
use serde::Serialize;
use std::collections::BTreeMap;

/// One thing that the checks found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Check {
    pub severity: Severity,
    /// Stable and short; programs compare it.
    pub code: &'static str,
    /// In drawer order; empty where it concerns the batch.
    pub sheets: Vec<SheetId>,
    /// What was found and how to mend it.
    pub message: String,
}

/// What a job wants checked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CheckPlan {
    /// Fields that every record must have.
    pub required: Vec<String>,
    /// Fields that end with a check character.
    pub check_characters: Vec<(String, CheckScheme)>,
    pub parts: Option<PartFields>,
    /// Fields that are delivered as the roster has them.
    pub from_roster: Vec<String>,
}

/// A batch as the checks see it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Batch<'a> {
    /// Every sheet's, those of one sheet together.
    pub records: &'a [Record],
    /// Hash of each sheet's image file as it is now.
    pub content_hashes: &'a [(SheetId, String)],
    pub without_proposal: &'a [SheetId],
    /// Rows of the roster, and how many different ones have a sheet; none where the job has no roster.
    pub roster_rows: Option<(usize, usize)>,
    /// The roster as it is now, to see whether links still hold; none where the job has no roster.
    pub links: Option<Links<'a>>,
    /// Whose sheet checks are to hold; none where nothing is to hold between fields.
    pub rules: Option<&'a RuleBook>,
}

/// Checks every record by itself and the batch as a whole.
pub fn check_batch(batch: &Batch, plan: &CheckPlan) -> Vec<Check> {
    let mut records: Vec<&Record> = batch.records.iter().filter(|r| r.is_indexed()).collect();
    records.sort_by(|a, b| drawer_order(a.sheet.as_str(), b.sheet.as_str()));

    let mut checks = Vec::new();
    checks.extend(
        records
            .iter()
            .filter_map(|record| required(record, &plan.required)),
    );
    for (field, scheme) in &plan.check_characters {
        checks.extend(
            records
                .iter()
                .filter_map(|record| check_character(record, field, scheme)),
        );
    }
    if let Some(fields) = &plan.parts {
        checks.extend(check_parts(&records, fields));
    }
    if let Some(rules) = batch.rules {
        checks.extend(check_sense(&records, rules, plan.parts.as_ref()));
        checks.extend(check_ranges(&records, rules, plan.parts.as_ref()));
    }
    checks.extend(duplicates(&records));
    checks.extend(check_states(batch.records));
    checks.extend(check_images(batch.records, batch.content_hashes));
    checks.extend(same_images(batch.content_hashes));
    checks.extend(batch.without_proposal.iter().map(|sheet| {
        Check {
            severity: Severity::Warning,
            code: "no-proposal",
            sheets: vec![sheet.clone()],
            message:
                "nothing was proposed for this sheet; run headword read, or look at it yourself"
                    .to_owned(),
        }
    }));
    if let Some(links) = batch.links {
        checks.extend(links.checks(&records));
    }
    if let Some((rows, with_sheet)) = batch.roster_rows {
        checks.extend(not_in_roster(&records));
        let without = rows.saturating_sub(with_sheet);
        if without > 0 {
            checks.push(Check {
                severity: Severity::Note,
                code: "roster-rows-without-sheet",
                sheets: Vec::new(),
                message: format!(
                    "{without} of {rows} roster rows have no sheet in this batch; if the batch is the whole \
                     collection, ask the client about them"
                ),
            });
        }
    }
    checks
}

fn required(record: &Record, fields: &[String]) -> Option<Check> {
    // What a person could not read is said by another check.
    let is_unread = |field: &str| {
        let value = record.value(field);
        value.is_some_and(|value| value.legibility == Legibility::CannotBeRead)
    };
    let empty: Vec<&str> = fields
        .iter()
        .map(String::as_str)
        .filter(|field| record.as_typed(field).trim().is_empty() && !is_unread(field))
        .collect();
    (!empty.is_empty()).then(|| Check {
        severity: Severity::Warning,
        code: "required-empty",
        sheets: vec![record.sheet.clone()],
        message: format!(
            "no value for {}; look at the strip and fill it in",
            empty.join(", ")
        ),
    })
}

fn check_character(record: &Record, field: &str, scheme: &CheckScheme) -> Option<Check> {
    let typed = record.as_typed(field).trim();
    (!typed.is_empty() && !scheme.holds(typed)).then(|| {
        let roster = record.value(field).and_then(|value| value.as_roster.as_deref());
        let advice = match roster.filter(|value| scheme.holds(value)) {
            Some(value) => format!("the linked roster row has {}", brief(value)),
            None => "look at the strip again".to_owned(),
        };
        Check {
            severity: Severity::Warning,
            code: "check-character",
            sheets: vec![record.sheet.clone()],
            message: format!(
                "{field} {:?}: its last character is not the check character ({}) of the others; {advice}",
                brief(typed),
                scheme.name()
            ),
        }
    })
}

/// Records that people keyed and that are linked to no row of the roster.
fn not_in_roster(records: &[&Record]) -> Option<Check> {
    let is_apart = |record: &&&Record| record.entry.is_some() && record.roster_key.is_none();
    let apart: Vec<&Record> = records.iter().filter(is_apart).copied().collect();
    (!apart.is_empty()).then(|| Check {
        severity: Severity::Note,
        code: "not-in-roster",
        sheets: sheets_of(&apart),
        message: "linked to no row of the roster; tell the client, or link them at the desk"
            .to_owned(),
    })
}

/// The checks as a list, a row for each sheet of each: severity, code, sheet, message.
pub fn checks_csv(checks: &[Check]) -> Vec<u8> {
    let header = ["severity", "code", "sheet", "message"]
        .map(str::to_owned)
        .to_vec();
    let rows = checks.iter().flat_map(|check| {
        let row = |sheet: &str| {
            let severity = check.severity.to_string();
            vec![
                severity,
                check.code.to_owned(),
                sheet.to_owned(),
                check.message.clone(),
            ]
        };
        match check.sheets.is_empty() {
            true => vec![row("")],
            false => check
                .sheets
                .iter()
                .map(|sheet| row(sheet.as_str()))
                .collect(),
        }
    });
    csv_of(&std::iter::once(header).chain(rows).collect::<Vec<_>>())
}

/// Records that say the same in every field.
fn duplicates(records: &[&Record]) -> Vec<Check> {
    let mut alike: BTreeMap<Vec<(&str, &str)>, Vec<&Record>> = BTreeMap::new();
    for record in records {
        let mut values: Vec<_> = record
            .values
            .iter()
            .map(|value| (value.field.as_str(), value.as_typed.trim()))
            .filter(|(_, typed)| !typed.is_empty())
            .collect();
        values.sort_unstable();
        if !values.is_empty() {
            alike.entry(values).or_default().push(record);
        }
    }
    let mut checks: Vec<Check> = alike
        .into_iter()
        .filter(|(_, records)| records.len() > 1)
        .map(|(values, records)| {
            let words: Vec<&str> = values.iter().map(|(_, typed)| *typed).collect();
            Check {
                severity: Severity::Warning,
                code: "duplicate-record",
                sheets: sheets_of(&records),
                message: format!(
                    "{} records say the same in every field ({}); mark repeat scans, or mend what was keyed wrongly",
                    records.len(),
                    brief(&words.join(", "))
                ),
            }
        })
        .collect();
    in_drawer_order(&mut checks);
    checks
}

fn same_images(hashes: &[(SheetId, String)]) -> Vec<Check> {
    let mut alike: BTreeMap<&str, Vec<SheetId>> = BTreeMap::new();
    for (sheet, hash) in hashes {
        alike.entry(hash).or_default().push(sheet.clone());
    }
    let mut checks: Vec<Check> = alike
        .into_values()
        .filter(|sheets| sheets.len() > 1)
        .map(|mut sheets| {
            sheets.sort_by(|a, b| drawer_order(a.as_str(), b.as_str()));
            Check {
                severity: Severity::Warning,
                code: "same-image",
                message: format!(
                    "{} image files have the same content; take the copies away, or scan the sheet that was missed",
                    sheets.len()
                ),
                sheets,
            }
        })
        .collect();
    in_drawer_order(&mut checks);
    checks
}

/// The sheets of some records, each once, in the records' order.
pub(super) fn sheets_of(records: &[&Record]) -> Vec<SheetId> {
    let mut sheets: Vec<SheetId> = records.iter().map(|record| record.sheet.clone()).collect();
    sheets.dedup();
    sheets
}

/// Sorts by the first sheet.
pub(super) fn in_drawer_order(checks: &mut [Check]) {
    let first = |check: &Check| {
        check
            .sheets
            .first()
            .map_or(String::new(), |s| s.as_str().to_owned())
    };
    checks.sort_by(|a, b| drawer_order(&first(a), &first(b)));
}

#[cfg(test)]
#[path = "check_tests.rs"]
mod tests;
