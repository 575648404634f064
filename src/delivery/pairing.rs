//! Which scan belongs to which sheet: one to one and in step, or the place where it breaks.
//!
//! A double feed or a sheet scanned twice shifts every later file by one, and then every later file would get the name
//! of its neighbour. So nothing is paired unless everything is.

use super::brief;
use crate::job::Pairing;
use crate::value::SheetId;
use std::collections::HashMap;
use thiserror::Error;

/// Where a pairing breaks.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PairingFault {
    #[error(
        "expected one scan for each of {sheets} sheets, found {scans} scans; {place}; scan what is missing, take away what \
         is double, or name the pairs in a list"
    )]
    Count {
        sheets: usize,
        scans: usize,
        place: String,
    },
    #[error(
        "the numbers of sheets and scans drift apart at sheet {sheet} and scan {scan}, number {place} of the batch: before \
         it they kept one distance; look there for a double feed or a sheet scanned twice, or name the pairs in a list"
    )]
    Drift {
        sheet: SheetId,
        scan: String,
        place: usize,
    },
    #[error(
        "the numbers of all scans are {distance} off those of their sheets, beginning with sheet {sheet} and scan {scan}: so \
         it is where a sheet was missed or scanned twice at the very start; see whether the two belong together, and name \
         the pairs in a list if they do"
    )]
    Shifted {
        distance: i128,
        sheet: SheetId,
        scan: String,
    },
    #[error(
        "sheet {sheet}: expected one scan, found none{looked_for}; scan it, or correct the scan's name"
    )]
    NoScan { sheet: SheetId, looked_for: String },
    #[error("sheet {sheet}: expected one scan, found {scans}; take all but one of them away")]
    Several { sheet: SheetId, scans: String },
    #[error(
        "scan {scan}: expected a sheet for it, found none; take it away, or read the sheet's image"
    )]
    NoSheet { scan: String },
    #[error(
        "scan {scan}: expected to be one sheet's, found that of {sheets}; correct the list or the sheets' names"
    )]
    Shared { scan: String, sheets: String },
    #[error(
        "sheet {sheet}: expected its scan {scan} behind that of the sheet before, {before}, found it before it; correct \
         the names, or write in_any_order = true in [scans] where scans need not follow the drawer"
    )]
    OutOfOrder {
        sheet: SheetId,
        scan: String,
        before: String,
    },
    #[error(
        "the times of sheets and scans part at sheet {sheet} and scan {scan}, number {place} of the batch: one of the two \
         was made before the one in front of it and the other behind; look there for a sheet that was scanned later or \
         put elsewhere, or leave in_step_by_time out of [scans] where files have lost their times"
    )]
    Times {
        sheet: SheetId,
        scan: String,
        place: usize,
    },
    #[error("the list of scans, line {line}: expected {expected}, found {found}; correct the list")]
    List {
        line: u64,
        expected: &'static str,
        found: String,
    },
}

/// A row of the list that says which scan is whose, with its line in the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListedPair {
    pub line: u64,
    pub sheet: String,
    pub scan: String,
}

/// For each sheet its scan, as an index into `scans`; both come in drawer order. `list` holds the rows of the list
/// where the job pairs by one.
///
/// # Errors
/// Everything that is not one to one; or else the first place that is out of step.
pub fn pair(
    sheets: &[SheetId],
    scans: &[String],
    how: &Pairing,
    list: &[ListedPair],
    in_any_order: bool,
) -> Result<Vec<usize>, Vec<PairingFault>> {
    let of_sheets = match how {
        Pairing::Order => return by_order(sheets, scans),
        Pairing::Name(pattern) => by_name(sheets, scans, pattern),
        Pairing::List(_) => by_list(sheets, scans, list)?,
    };
    let looked_for = match how {
        Pairing::Name(pattern) => format!(" by the pattern {}", brief(pattern)),
        _ => " in the list".to_owned(),
    };
    let mut faults = Vec::new();
    let mut owners: Vec<Vec<&SheetId>> = vec![Vec::new(); scans.len()];
    for (sheet, found) in sheets.iter().zip(&of_sheets) {
        match &found[..] {
            [] => faults.push(PairingFault::NoScan {
                sheet: sheet.clone(),
                looked_for: looked_for.clone(),
            }),
            [scan] => owners[*scan].push(sheet),
            several => {
                several.iter().for_each(|&scan| owners[scan].push(sheet));
                let several: Vec<String> = several.iter().map(|&at| brief(&scans[at])).collect();
                faults.push(PairingFault::Several {
                    sheet: sheet.clone(),
                    scans: several.join(", "),
                });
            }
        }
    }
    for (scan, owners) in scans.iter().zip(&owners) {
        match &owners[..] {
            [] => faults.push(PairingFault::NoSheet { scan: brief(scan) }),
            [_] => {}
            several => {
                let several: Vec<String> = several.iter().map(ToString::to_string).collect();
                faults.push(PairingFault::Shared {
                    scan: brief(scan),
                    sheets: several.join(", "),
                });
            }
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let paired: Vec<usize> = of_sheets.into_iter().map(|found| found[0]).collect();
    let back = paired.windows(2).position(|two| two[1] < two[0]);
    match back.filter(|_| !in_any_order) {
        None => Ok(paired),
        Some(at) => Err(vec![PairingFault::OutOfOrder {
            sheet: sheets[at + 1].clone(),
            scan: brief(&scans[paired[at + 1]]),
            before: brief(&scans[paired[at]]),
        }]),
    }
}

/// Sheets that a feed misses or doubles at the start at most. Own choice: scans that are numbered apart from the sheets
/// begin farther off.
const MOST_SHIFTED: i128 = 5;

/// The first to the first, as long as the numbers in the names keep their distance, and that is none or a large one.
fn by_order(sheets: &[SheetId], scans: &[String]) -> Result<Vec<usize>, Vec<PairingFault>> {
    let distance = |at: usize| {
        let sheet = last_number(sheets[at].as_str())?.parse::<i128>().ok()?;
        let scan = last_number(&scans[at])?.parse::<i128>().ok()?;
        Some(scan - sheet)
    };
    let both = sheets.len().min(scans.len());
    let mut known = None;
    let drift = (0..both).find(|&at| match (known, distance(at)) {
        (_, None) => false,
        (None, found) => {
            known = found;
            false
        }
        (Some(kept), Some(found)) => kept != found,
    });
    if sheets.len() != scans.len() {
        let place = match drift {
            Some(at) => format!(
                "their numbers drift apart at sheet {} and scan {}, number {} of the batch",
                sheets[at],
                brief(&scans[at]),
                at + 1
            ),
            None if known.is_some() => {
                format!("their numbers are in step up to number {both} of the batch")
            }
            None => "their names have no numbers that would tell where".to_owned(),
        };
        return Err(vec![PairingFault::Count {
            sheets: sheets.len(),
            scans: scans.len(),
            place,
        }]);
    }
    let is_shifted = |distance: &i128| (1..=MOST_SHIFTED).contains(&distance.abs());
    match drift {
        None if known.as_ref().is_some_and(is_shifted) => Err(vec![PairingFault::Shifted {
            distance: known.unwrap_or_default().abs(),
            sheet: sheets[0].clone(),
            scan: brief(&scans[0]),
        }]),
        None => Ok((0..both).collect()),
        Some(at) => Err(vec![PairingFault::Drift {
            sheet: sheets[at].clone(),
            scan: brief(&scans[at]),
            place: at + 1,
        }]),
    }
}

/// Whether sheets and their scans were made in the same order. `times` has for each sheet when its image and its scan
/// were last written, in nanoseconds of any one clock; 0 and equal times say nothing.
///
/// # Errors
/// The first place where the one goes on and the other goes back.
pub fn in_step<'a>(
    sheets: &[SheetId],
    scan_of: impl Fn(usize) -> &'a str,
    times: &[(i64, i64)],
) -> Result<(), PairingFault> {
    let known: Vec<usize> = (0..times.len())
        .filter(|&at| times[at].0 != 0 && times[at].1 != 0)
        .collect();
    let parts = known.windows(2).find(|two| {
        let [before, now] = [times[two[0]], times[two[1]]];
        let (sheets, scans) = (now.0.cmp(&before.0), now.1.cmp(&before.1));
        sheets.is_ne() && scans == sheets.reverse()
    });
    match parts {
        None => Ok(()),
        Some(two) => Err(PairingFault::Times {
            sheet: sheets[two[1]].clone(),
            scan: brief(scan_of(two[1])),
            place: two[1] + 1,
        }),
    }
}

/// The scans whose names are what the pattern makes of the sheet's, in the same folder below theirs.
fn by_name(sheets: &[SheetId], scans: &[String], pattern: &str) -> Vec<Vec<usize>> {
    let is_digits = pattern.contains("{digits}");
    let placeholder = if is_digits { "{digits}" } else { "{sheet}" };
    let (prefix, suffix) = pattern.split_once(placeholder).unwrap_or((pattern, ""));
    let key = |part: &str| match is_digits {
        true => last_number(part).map(str::to_owned),
        false => Some(part.to_owned()),
    };
    let within = |name: &str| -> Option<String> {
        let part = name.strip_prefix(prefix)?.strip_suffix(suffix)?;
        let is_whole = !is_digits || part.chars().all(|c| c.is_ascii_digit());
        key(part).filter(|_| is_whole)
    };
    let mut by_key: HashMap<(&str, String), Vec<usize>> = HashMap::new();
    for (at, scan) in scans.iter().enumerate() {
        let (folder, name) = split(scan);
        let whole = within(name);
        // A pattern that says nothing of an ending takes any.
        let without =
            within(stem(name)).filter(|key| !suffix.contains('.') && Some(key) != whole.as_ref());
        for key in whole.into_iter().chain(without) {
            by_key.entry((folder, key)).or_default().push(at);
        }
    }
    let found = sheets.iter().map(|sheet| {
        let (folder, name) = split(sheet.as_str());
        let key = key(stem(name))?;
        by_key.get(&(folder, key)).cloned()
    });
    found.map(Option::unwrap_or_default).collect()
}

fn by_list(
    sheets: &[SheetId],
    scans: &[String],
    list: &[ListedPair],
) -> Result<Vec<Vec<usize>>, Vec<PairingFault>> {
    let places = |names: Vec<&str>| -> HashMap<String, usize> {
        names
            .into_iter()
            .zip(0..)
            .map(|(name, at)| (name.to_owned(), at))
            .collect()
    };
    let sheet_at = places(sheets.iter().map(SheetId::as_str).collect());
    let scan_at = places(scans.iter().map(String::as_str).collect());
    let mut of_sheets = vec![Vec::new(); sheets.len()];
    let mut faults = Vec::new();
    for row in list {
        match (sheet_at.get(&row.sheet), scan_at.get(&row.scan)) {
            (Some(&sheet), Some(&scan)) => of_sheets[sheet].push(scan),
            (None, _) => faults.push(PairingFault::List {
                line: row.line,
                expected: "a sheet of the job",
                found: brief(&row.sheet),
            }),
            (_, None) => faults.push(PairingFault::List {
                line: row.line,
                expected: "a scan below the scans' folder",
                found: brief(&row.scan),
            }),
        }
    }
    if faults.is_empty() {
        Ok(of_sheets)
    } else {
        Err(faults)
    }
}

/// The folder and the name in it.
fn split(path: &str) -> (&str, &str) {
    path.rsplit_once('/').unwrap_or(("", path))
}

/// A name without its ending.
pub(super) fn stem(name: &str) -> &str {
    match name.rsplit_once('.') {
        Some((stem, _)) if !stem.is_empty() => stem,
        _ => name,
    }
}

/// The last run of digits in a path's name, without leading zeros; the ending does not count.
fn last_number(path: &str) -> Option<&str> {
    let name = stem(split(path).1);
    let end = name.rfind(|c: char| c.is_ascii_digit())? + 1;
    let before = name[..end].trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = &name[before.len()..end];
    let trimmed = digits.trim_start_matches('0');
    Some(if trimmed.is_empty() { "0" } else { trimmed })
}

#[cfg(test)]
#[path = "pairing_tests.rs"]
mod tests;
