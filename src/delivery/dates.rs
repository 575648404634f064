//! Date ranges that are odd within one record, or from part to part of it.

use super::check::{Check, in_drawer_order, sheets_of};
use super::{PartFields, Record, brief};
use crate::rules::{FieldKind, FieldSpec, RuleBook};
use crate::value::{Edtf, Severity, SheetId, typed_dates};
use std::collections::{BTreeMap, BTreeSet};

/// Checks what the rules say must hold between fields, and that dates go forward: within a record, and from each part
/// of a thing to the next. Records come in drawer order.
pub(super) fn check_sense(
    records: &[&Record],
    rules: &RuleBook,
    parts: Option<&PartFields>,
) -> Vec<Check> {
    let mut checks = Vec::new();
    let dates: Vec<&FieldSpec> = rules
        .fields()
        .iter()
        .filter(|field| {
            matches!(
                field.kind,
                FieldKind::Year | FieldKind::Date | FieldKind::DateRange
            )
        })
        .collect();
    for &record in records {
        let value_of = |field: &str| record.value(field).map(|value| value.as_typed.as_str());
        let broken: Vec<String> = (1..)
            .zip(rules.checks_kept(value_of))
            .filter(|(_, kept)| *kept == Some(false))
            .map(|(number, _): (usize, _)| number.to_string())
            .collect();
        let message = if !broken.is_empty() {
            format!(
                "the rules' [[check]] number {} does not hold for {}; look at the strip again",
                broken.join(", "),
                words(record)
            )
        } else if let Some(fault) = backwards(record, &dates) {
            fault
        } else {
            continue;
        };
        checks.push(Check {
            severity: Severity::Warning,
            code: "odd-values",
            sheets: vec![record.sheet.clone()],
            message,
        });
    }
    if let Some(parts) = parts {
        checks.extend(between_parts(records, &dates, parts));
    }
    in_drawer_order(&mut checks);
    checks
}

fn words(record: &Record) -> String {
    let values = record.values.iter().map(|value| value.as_typed.trim());
    let values: Vec<&str> = values.filter(|text| !text.is_empty()).collect();
    brief(&values.join(", "))
}

fn understood(record: &Record, field: &FieldSpec) -> Option<Edtf> {
    let typed = record.as_typed(&field.name);
    let understood = typed_dates(typed, &field.styles.dates);
    understood.ok().map(|dates| dates.edtf)
}

/// Two dates of a record of which the second is over before the first begins.
fn backwards(record: &Record, dates: &[&FieldSpec]) -> Option<String> {
    let [from, to] = dates else { return None };
    let begins = understood(record, from)?.earliest()?;
    let ends = understood(record, to)?.latest()?;
    (ends < begins).then(|| {
        format!(
            "{} {} comes after {} {}; one of the two was misread or mistyped",
            from.name,
            brief(record.as_typed(&from.name)),
            to.name,
            brief(record.as_typed(&to.name))
        )
    })
}

/// Parts of one thing whose dates go back while their numbers go on.
fn between_parts(records: &[&Record], dates: &[&FieldSpec], parts: &PartFields) -> Vec<Check> {
    let mut things: BTreeMap<Vec<&str>, BTreeMap<u32, &Record>> = BTreeMap::new();
    for &record in records {
        let key = parts
            .key
            .iter()
            .map(|field| record.as_roster_or_typed(field).trim());
        let key: Vec<&str> = key.collect();
        if let Ok(part) = record.as_typed(&parts.part).trim().parse()
            && key.iter().all(|value| !value.is_empty())
        {
            things.entry(key).or_default().insert(part, record);
        }
    }
    let Some(from) = dates.first() else {
        return Vec::new();
    };
    let mut checks = Vec::new();
    for (key, parts) in things {
        let mut before: Option<(u32, Edtf)> = None;
        let mut seen: BTreeSet<&SheetId> = BTreeSet::new();
        for (part, record) in parts {
            let Some(range) = understood(record, from) else {
                continue;
            };
            if let Some((earlier, other)) = &before
                && range.earliest() < other.earliest()
                && range.earliest().is_some()
                && seen.insert(&record.sheet)
            {
                checks.push(Check {
                    severity: Severity::Warning,
                    code: "dates-go-back",
                    sheets: sheets_of(&[record]),
                    message: format!(
                        "{} begins in {} with part {part} and in {other} with part {earlier}; look at the numbers and \
                         dates of both strips",
                        brief(&key.join(", ")),
                        range
                    ),
                });
            }
            before = Some((part, range));
        }
    }
    checks
}
