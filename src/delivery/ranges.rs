//! Key ranges of sheets that follow each other, as on computer-output microfiche: they should abut.

use super::check::{Check, in_drawer_order, sheets_of};
use super::{PartFields, Record, brief};
use crate::rules::{FieldKind, FieldSpec, RuleBook};
use crate::value::{Range, Severity};
use std::collections::BTreeMap;

/// Checks that within each series the ranges of a drawer neither overlap nor leave numbers out. Records come in drawer
/// order; a series is what has the same key of parts, or else everything. A range that begins before the one before it
/// did begins another series.
pub(super) fn check_ranges(
    records: &[&Record],
    rules: &RuleBook,
    parts: Option<&PartFields>,
) -> Vec<Check> {
    let mut checks = Vec::new();
    let is_range = |field: &&FieldSpec| field.kind == FieldKind::Range;
    for field in rules.fields().iter().filter(is_range) {
        let mut series: BTreeMap<Vec<&str>, (&Record, Range)> = BTreeMap::new();
        for &record in records {
            let filing = field.styles.filing;
            let Ok(read) = Range::read(record.as_typed(&field.name), filing) else {
                continue;
            };
            let range = read.range;
            let key = parts.map_or_else(Vec::new, |parts| {
                let key = parts.key.iter().filter(|name| **name != field.name);
                key.map(|name| record.as_roster_or_typed(name).trim())
                    .collect()
            });
            if let Some((before, earlier)) = series.insert(key, (record, range.clone())) {
                let goes_on = filing_goes_on(&range, &earlier, field);
                let gap = range.gap_behind(&earlier).filter(|gap| *gap > 0);
                let words = match (goes_on, range.comes_after(&earlier, filing), gap) {
                    (true, false, _) => "both hold what lies between".to_owned(),
                    (true, true, Some(gap)) => format!("{gap} numbers between them are on neither"),
                    _ => continue,
                };
                checks.push(Check {
                    severity: Severity::Warning,
                    code: "ranges-do-not-abut",
                    sheets: sheets_of(&[before, record]),
                    message: format!(
                        "{} {} is followed by {}: {words}; look for a sheet that is missing or a range that was misread",
                        field.name,
                        brief(&earlier.to_string()),
                        brief(&range.to_string())
                    ),
                });
            }
        }
    }
    in_drawer_order(&mut checks);
    checks
}

/// Whether a range begins behind where the earlier one began, so that both are of one series.
fn filing_goes_on(range: &Range, earlier: &Range, field: &FieldSpec) -> bool {
    let first = Range {
        from: earlier.from.clone(),
        to: earlier.from.clone(),
    };
    range.comes_after(&first, field.styles.filing)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delivery::RecordValue;
    use crate::value::SheetId;

    const RULES: &str =
        "[[field]]\nname = \"keys\"\nkind = \"range\"\n[[rule]]\nname = \"r\"\nline = \"{keys}\"\n";

    fn check(ranges: &[&str], found: &[&str]) {
        let rules = RuleBook::parse("r.toml", RULES).unwrap();
        let records: Vec<Record> = ranges
            .iter()
            .enumerate()
            .map(|(at, range)| Record {
                sheet: SheetId::new(format!("{at}.png")),
                values: vec![RecordValue {
                    field: "keys".to_owned(),
                    as_typed: (*range).to_owned(),
                    ..RecordValue::default()
                }],
                ..Record::default()
            })
            .collect();
        let records: Vec<&Record> = records.iter().collect();
        let checks = check_ranges(&records, &rules, None);
        assert_eq!(checks.len(), found.len(), "{ranges:?}: {checks:?}");
        for (check, words) in checks.iter().zip(found) {
            assert!(check.message.contains(words), "{}", check.message);
        }
    }

    #[test]
    fn ranges_abut_or_are_told() {
        check(&["10001-10450", "10451-10900"], &[]);
        check(&["10001-10450", "10461-10900"], &["10 numbers"]);
        check(&["10001-10450", "10400-10900"], &["both hold"]);
        check(&["AAR-BAK", "BAL-CAR"], &[]);
        check(&["AAR-BAK", "BAB-CAR"], &["both hold"]);
        // Another series begins; what is no range says nothing.
        check(&["10001-10450", "10451-10900", "10001-10300"], &[]);
        check(&["10001-10450", "?", "10451-10900"], &[]);
    }
}
