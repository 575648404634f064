//! "2 OF 3": whether the parts of each thing are all there, once, and agree on how many there are.

use super::check::{Check, in_drawer_order, sheets_of};
use super::{Record, brief};
use crate::value::Severity;
use std::collections::{BTreeMap, BTreeSet};

/// Ranges of missing numbers that a message lists before it says that there are more.
const LISTED_RANGES: usize = 8;

/// The fields that number the parts of a thing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartFields {
    /// What the parts of one thing have in common: the person's number, say.
    pub key: Vec<String>,
    pub part: String,
    /// How many there are.
    pub parts: String,
}

/// A record with its numbers; none where the strip has none or none that can be counted.
struct Part<'a> {
    record: &'a Record,
    part: Option<u32>,
    total: Option<u32>,
}

/// Checks parts, given in drawer order.
pub(super) fn check_parts(records: &[&Record], fields: &PartFields) -> Vec<Check> {
    let mut checks = Vec::new();
    let mut groups: BTreeMap<Vec<&str>, Vec<Part>> = BTreeMap::new();
    for &record in records {
        let mut count = |field: &str| {
            let typed = record.as_typed(field).trim();
            let number = typed.parse().ok().filter(|&number| number > 0);
            if number.is_none() && !typed.is_empty() {
                checks.push(warning(
                    "part-not-a-number",
                    &[record],
                    format!(
                        "{field} {:?} cannot be counted; expected a number from 1",
                        brief(typed)
                    ),
                ));
            }
            number
        };
        let (part, total) = (count(&fields.part), count(&fields.parts));
        if let (Some(part), Some(total)) = (part, total)
            && part > total
        {
            checks.push(warning(
                "part-beyond-total",
                &[record],
                format!("part {part} of {total}: one of the two was misread or mistyped; look at the strip"),
            ));
        }
        let key: Vec<&str> = fields
            .key
            .iter()
            .map(|field| record.as_roster_or_typed(field).trim())
            .collect();
        if key.iter().all(|value| !value.is_empty()) {
            groups.entry(key).or_default().push(Part {
                record,
                part,
                total,
            });
        }
    }
    for (key, parts) in &groups {
        checks.extend(check_group(&brief(&key.join(", ")), parts));
    }
    in_drawer_order(&mut checks);
    checks
}

fn check_group(key: &str, parts: &[Part]) -> Vec<Check> {
    let mut checks = Vec::new();
    let all: Vec<&Record> = parts.iter().map(|part| part.record).collect();
    let numbers: BTreeSet<u32> = parts.iter().filter_map(|part| part.part).collect();
    let totals: BTreeSet<u32> = parts.iter().filter_map(|part| part.total).collect();

    let unnumbered: Vec<&Record> = parts
        .iter()
        .filter(|part| part.part.is_none())
        .map(|part| part.record)
        .collect();
    if sheets_of(&all).len() > 1 && !unnumbered.is_empty() {
        let message = format!(
            "{key} has several sheets and no part number here; number it, or see whether it is a repeat scan"
        );
        checks.push(warning("part-empty", &unnumbered, message));
    }
    for &number in &numbers {
        let same: Vec<&Record> = parts
            .iter()
            .filter(|part| part.part == Some(number))
            .map(|part| part.record)
            .collect();
        if same.len() > 1 && !same_values(&same) {
            let message = format!(
                "{key} has part {number} {} times; mark repeat scans, or mend the part numbers",
                same.len()
            );
            checks.push(warning("part-doubled", &same, message));
        }
    }
    let has_grown = totals.len() > 1 && grew(parts);
    if has_grown {
        let message = format!(
            "{key} is said to have {} parts on its earlier sheets and {} on later ones; the last is taken as right",
            totals.first().map_or(0, |&total| total),
            totals.last().map_or(0, |&total| total)
        );
        checks.push(Check {
            severity: Severity::Note,
            ..warning("totals-grew", &all, message)
        });
    }
    if totals.len() > 1 && !has_grown {
        let listed: Vec<String> = totals
            .iter()
            .take(LISTED_RANGES)
            .map(u32::to_string)
            .collect();
        let message = format!(
            "{key} is said to have {} parts; look which strip is right",
            listed.join(" and ")
        );
        checks.push(warning("totals-differ", &all, message));
    } else if let (Some(&total), false) = (totals.last(), numbers.is_empty()) {
        let missing = missing_ranges(&numbers, total);
        if !missing.is_empty() {
            let message = format!(
                "{key} lacks part {} of {total}; look for the sheet, or note for the client that it is not there",
                missing.join(", ")
            );
            checks.push(warning("part-missing", &all, message));
        }
    }
    checks
}

/// Whether later parts have larger totals and none has a smaller one, as where sheets were added over the years and the
/// earlier strips were left as they were.
fn grew(parts: &[Part]) -> bool {
    let mut numbered: Vec<(u32, u32)> = Vec::new();
    for part in parts {
        match (part.part, part.total) {
            (Some(part), Some(total)) if part <= total => numbered.push((part, total)),
            _ => return false,
        }
    }
    numbered.sort_unstable();
    numbered
        .windows(2)
        .all(|pair| pair[0].0 < pair[1].0 && pair[0].1 <= pair[1].1)
}

/// Records that agree in everything are reported as duplicates, once.
fn same_values(records: &[&Record]) -> bool {
    records.iter().all(|record| {
        let typed = |record: &Record| {
            record
                .values
                .iter()
                .map(|v| v.as_typed.clone())
                .collect::<Vec<_>>()
        };
        typed(record) == typed(records[0])
    })
}

/// The numbers from 1 to `total` that are not there, as ranges in words, in time independent of `total`.
fn missing_ranges(numbers: &BTreeSet<u32>, total: u32) -> Vec<String> {
    let mut ranges = Vec::new();
    let mut next = 1;
    let last = u64::from(total) + 1;
    let present = numbers.iter().map(|&number| u64::from(number));
    for number in present.filter(|&number| number < last).chain([last]) {
        match number - next {
            0 => {}
            1 => ranges.push(next.to_string()),
            _ => ranges.push(format!("{next} to {}", number - 1)),
        }
        next = number + 1;
    }
    if ranges.len() > LISTED_RANGES {
        ranges.truncate(LISTED_RANGES);
        ranges.push("and more".to_owned());
    }
    ranges
}

fn warning(code: &'static str, records: &[&Record], message: String) -> Check {
    Check {
        severity: Severity::Warning,
        code,
        sheets: sheets_of(records),
        message,
    }
}
