//! What one delivery ships, under which names. Names that were delivered stay as they are until what they say changes.

use super::ledger::{Frozen, value_changes};
use super::names::{Clash, FileNames, exception_names, name_sheets};
use super::pairing::stem;
use super::{NamePattern, Record, Scan, brief, csv_of, portable_value};
use crate::value::{SheetId, SheetState};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Folders of the payload.
const SHEETS: &str = "sheets/";
const EXCEPTIONS: &str = "exceptions/";

/// Everything that a delivery is decided by.
#[derive(Debug, Clone, Copy)]
pub struct Consigning<'a> {
    /// Every sheet's, those of one sheet together.
    pub records: &'a [Record],
    pub pattern: &'a NamePattern,
    /// Every sheet with its scan, in drawer order.
    pub paired: &'a [(SheetId, &'a Scan)],
    pub frozen: &'a Frozen,
    /// Delivered sheets whose scans have another content now.
    pub rescanned: &'a BTreeSet<SheetId>,
    /// Only what changed since it was delivered; else only what never was.
    pub amends: bool,
    /// Sheets on which people still have to do something are left for a later delivery; else they keep it from being made.
    pub leaves_open: bool,
}

/// What is shipped.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Consignment {
    pub sheets: Vec<Consigned>,
    /// Sheets on which people still have to do something.
    pub open: Vec<(SheetId, String)>,
    /// What has to be decided or mended before anything can be shipped.
    pub refusals: Vec<String>,
    /// Sheets that were delivered before and have changed since; only an amendment ships them.
    pub changed: Vec<SheetId>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Consigned {
    pub sheet: SheetId,
    /// Index into the pairs.
    pub pair: usize,
    /// Below the payload.
    pub name: String,
    /// Why it is an exception.
    pub reason: Option<String>,
    /// The scan goes along.
    pub ships_scan: bool,
    /// What an amendment changes.
    pub change: Option<Change>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// The delivery that is amended.
    pub delivery: u32,
    pub old_name: String,
    pub what: Vec<String>,
}

/// Decides what a delivery ships. Nothing may be shipped where something is refused.
pub fn consign(with: &Consigning) -> Consignment {
    let mut by_sheet: HashMap<&SheetId, Vec<&Record>> = HashMap::new();
    for record in with.records {
        by_sheet.entry(&record.sheet).or_default().push(record);
    }
    let names = Names::of(with, &by_sheet);
    let mut consignment = Consignment::default();
    // What each name stands for after this delivery, capital letters and small ones taken alike.
    let mut taken: BTreeMap<String, BTreeSet<&SheetId>> = BTreeMap::new();
    let mut renamed: BTreeSet<&SheetId> = BTreeSet::new();
    for (pair, (sheet, scan)) in with.paired.iter().enumerate() {
        let records = by_sheet.get(sheet).map_or(&[][..], Vec::as_slice);
        let before = with.frozen.get(sheet);
        if let Some(open) = records.iter().find(|record| is_open(record)) {
            let reason = open.reason.clone().unwrap_or_default();
            consignment.open.push((sheet.clone(), reason));
            continue;
        }
        let mut change = before.map(|(delivery, delivered)| Change {
            delivery: *delivery,
            old_name: delivered.name.clone(),
            what: value_changes(delivered, records),
        });
        let values_changed = change
            .as_ref()
            .is_some_and(|change| !change.what.is_empty());
        let scan_changed = with.rescanned.contains(sheet);
        if let Some(change) = &mut change {
            if scan_changed {
                change.what.push("another scan".to_owned());
            }
            if change.what.is_empty() {
                continue;
            }
            if !with.amends {
                consignment.changed.push(sheet.clone());
                continue;
            }
        } else if with.amends {
            continue;
        }
        let name = match before {
            Some((_, delivered)) if !values_changed || names.stays(sheet) => {
                Ok(delivered.name.clone())
            }
            _ => names.wanted(sheet, scan, records),
        };
        match name {
            Ok(name) => {
                renamed.insert(sheet);
                taken
                    .entry(name.to_ascii_lowercase())
                    .or_default()
                    .insert(sheet);
                let is_renamed = change.as_ref().is_none_or(|change| change.old_name != name);
                consignment.sheets.push(Consigned {
                    sheet: sheet.clone(),
                    pair,
                    ships_scan: is_renamed || scan_changed,
                    reason: match is_exception(records) {
                        true => Some(exception_reason(records)),
                        false => None,
                    },
                    name,
                    change,
                });
            }
            Err(refusal) => consignment.refusals.push(refusal),
        }
    }
    for (sheet, (_, delivered)) in with.frozen {
        if !renamed.contains(sheet) {
            taken
                .entry(delivered.name.to_ascii_lowercase())
                .or_default()
                .insert(sheet);
        }
    }
    let wanted_twice = taken.iter().filter(|(_, sheets)| sheets.len() > 1);
    for (name, sheets) in wanted_twice {
        let sheets = sheets.iter().map(|sheet| (*sheet).clone()).collect();
        consignment.refusals.push(refused(name, sheets));
    }
    for clash in &names.of_records.clashes {
        if clash.sheets.iter().any(|sheet| renamed.contains(sheet)) {
            consignment
                .refusals
                .push(refused(&clash.name, clash.sheets.clone()));
        }
    }
    if !with.leaves_open && !consignment.open.is_empty() {
        let count = consignment.open.len();
        let (sheet, reason) = &consignment.open[0];
        consignment.refusals.push(format!(
            "{count} sheets are not finished; the first is {sheet}: {reason}; finish them, or add --incomplete, which \
             leaves them for a later delivery"
        ));
    }
    consignment
}

fn refused(name: &str, sheets: Vec<SheetId>) -> String {
    let clash = Clash {
        name: name.to_owned(),
        sheets,
    };
    let sheets: Vec<String> = clash.sheets.iter().map(ToString::to_string).collect();
    format!("{} ({})", clash.words(), sheets.join(", "))
}

/// Whether people still have to do something about a sheet.
pub fn is_open(record: &Record) -> bool {
    record.reason.is_some() && record.state != SheetState::SetAside
}

fn is_exception(records: &[&Record]) -> bool {
    !records.iter().any(|record| record.is_indexed())
}

fn exception_reason(records: &[&Record]) -> String {
    let words = records.first().map(|record| match &record.reason {
        Some(reason) => reason.clone(),
        None => record.kind.to_string(),
    });
    words.unwrap_or_else(|| "not in the journal".to_owned())
}

/// The names that sheets would have today.
struct Names<'a> {
    pattern: &'a NamePattern,
    of_records: FileNames,
    /// The same with the values that were delivered.
    of_old_values: FileNames,
    of_exceptions: BTreeMap<SheetId, String>,
}

impl<'a> Names<'a> {
    fn of(with: &Consigning<'a>, by_sheet: &HashMap<&SheetId, Vec<&Record>>) -> Self {
        let mut old = match with.frozen.is_empty() {
            true => Vec::new(),
            false => with.records.to_vec(),
        };
        let mut seen = BTreeSet::new();
        for record in &mut old {
            let is_first = seen.insert(record.sheet.clone());
            let delivered = with
                .frozen
                .get(&record.sheet)
                .and_then(|(_, d)| d.records.first());
            if let (true, Some(values)) = (is_first, delivered) {
                for value in &mut record.values {
                    let old = values.iter().find(|old| old.field == value.field);
                    value.as_typed = old.map(|old| old.as_typed.clone()).unwrap_or_default();
                    value.as_roster = old.and_then(|old| old.as_roster.clone());
                }
            }
        }
        let exceptions = with.paired.iter().map(|(sheet, _)| sheet).filter(|sheet| {
            let records = by_sheet.get(sheet);
            records.is_none_or(|records| is_exception(records))
        });
        Self {
            pattern: with.pattern,
            of_records: name_sheets(with.records, with.pattern),
            of_old_values: name_sheets(&old, with.pattern),
            of_exceptions: exception_names(exceptions),
        }
    }

    /// Whether what changed of a sheet says nothing in its name.
    fn stays(&self, sheet: &SheetId) -> bool {
        let name = self.of_records.get(sheet);
        name.is_some() && name == self.of_old_values.get(sheet)
    }

    /// The name of a sheet's scan below the payload, with the scan's own ending.
    fn wanted(&self, sheet: &SheetId, scan: &Scan, records: &[&Record]) -> Result<String, String> {
        if is_exception(records) {
            let ending = match scan.is_folder {
                true => String::new(),
                false => ending(&scan.name),
            };
            let name = self.of_exceptions.get(sheet).map_or("", String::as_str);
            return Ok(format!("{EXCEPTIONS}{name}{ending}"));
        }
        let name = self.of_records.get(sheet).unwrap_or_default();
        match scan_name(name, self.pattern, scan) {
            Some(name) => Ok(format!("{SHEETS}{name}")),
            None => Err(format!(
                "sheet {sheet}: the file names of [naming] end in {}, its scan is {}; leave the ending out of the \
                 pattern, and every scan keeps its own",
                self.pattern.extension,
                brief(&scan.name)
            )),
        }
    }
}

/// A name by the pattern as its scan bears it: with the scan's ending, or with none where the scan is a folder. None
/// where the pattern's own ending contradicts the scan's.
pub fn scan_name(name: &str, pattern: &NamePattern, scan: &Scan) -> Option<String> {
    let own = &pattern.extension;
    let stem = name.strip_suffix(own.as_str()).unwrap_or(name);
    if scan.is_folder {
        return Some(stem.to_owned());
    }
    let ending = ending(&scan.name);
    match own.is_empty() {
        true => Some(format!("{stem}{ending}")),
        false => own.eq_ignore_ascii_case(&ending).then(|| name.to_owned()),
    }
}

/// A scan's ending with its full stop, in small letters; nothing for one that is none.
fn ending(name: &str) -> String {
    let name = name.rsplit('/').next().unwrap_or_default();
    let rest = &name[stem(name).len()..];
    let ending = portable_value(&rest.to_lowercase());
    match ending.len() {
        0 => String::new(),
        length if length <= super::pattern::LONGEST_EXTENSION => format!(".{ending}"),
        _ => String::new(),
    }
}

/// What an amendment changes: delivery, sheet, old and new name, what changed, why.
pub fn amendments_csv(consigned: &[Consigned], reason: &str) -> Vec<u8> {
    let header = [
        "delivery", "sheet", "old_name", "new_name", "changed", "reason",
    ];
    let mut rows = vec![header.map(str::to_owned).to_vec()];
    for one in consigned {
        let Some(change) = &one.change else { continue };
        rows.push(vec![
            change.delivery.to_string(),
            one.sheet.as_str().to_owned(),
            change.old_name.clone(),
            one.name.clone(),
            change.what.join("; "),
            reason.to_owned(),
        ]);
    }
    csv_of(&rows)
}

#[cfg(test)]
#[path = "consignment_tests.rs"]
mod tests;
