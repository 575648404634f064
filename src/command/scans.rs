//! A job's scans, each with its sheet.

use super::report::list_some;
use super::{CommandError, progress};
use crate::delivery::{
    Check, Frozen, ListedPair, Record, Scan, check_pages, count_pages, in_step, list_scans,
    looks_the_same, modified, pair,
};
use crate::job::{JobSettings, Pairing, ScanSettings};
use crate::value::{Severity, SheetId, drawer_order, sha256_file, shown};
use std::collections::BTreeSet;
use std::path::Path;

fn scan_settings(settings: &JobSettings) -> Result<&ScanSettings, CommandError> {
    settings.scans.as_ref().ok_or_else(|| {
        CommandError::input(
            "job.toml: expected a section [scans] that says where the scans are, found none; add [scans] and below it \
             folder = \"scans\" and name = \"{sheet}.pdf\"",
        )
    })
}

/// The scans. The folders that the sheets lie in hold scans; other folders are one scan each.
pub fn scans(settings: &JobSettings, records: &[Record]) -> Result<Vec<Scan>, CommandError> {
    let mut folders = BTreeSet::new();
    for record in records {
        let mut path = record.sheet.as_str();
        while let Some((folder, _)) = path.rsplit_once('/') {
            folders.insert(folder);
            path = folder;
        }
    }
    let folder = settings.folder.join(&scan_settings(settings)?.folder);
    list_scans(&folder, |name| folders.contains(name)).map_err(CommandError::input)
}

/// Every sheet with its scan, in drawer order.
pub fn paired<'a>(
    settings: &JobSettings,
    records: &[Record],
    scans: &'a [Scan],
) -> Result<Vec<(SheetId, &'a Scan)>, CommandError> {
    let (folder, images) = (&settings.folder, settings.sheets_folder());
    let settings = scan_settings(settings)?;
    let mut sheets: Vec<SheetId> = records.iter().map(|record| record.sheet.clone()).collect();
    sheets.sort_by(|a, b| drawer_order(a.as_str(), b.as_str()));
    sheets.dedup();
    let list = match &settings.pairing {
        Pairing::List(file) => read_list(&folder.join(file))?,
        _ => Vec::new(),
    };
    let names: Vec<String> = scans.iter().map(|scan| scan.name.clone()).collect();
    let pairs = pair(
        &sheets,
        &names,
        &settings.pairing,
        &list,
        settings.in_any_order,
    );
    let pairs = pairs.and_then(|pairs| match settings.in_step_by_time {
        false => Ok(pairs),
        true => {
            let times = sheets.iter().zip(&pairs).map(|(sheet, &scan)| {
                let image = images.join(sheet.as_str());
                (modified(&image), scans[scan].files[0].modified)
            });
            let times: Vec<(i64, i64)> = times.collect();
            in_step(&sheets, |at| names[pairs[at]].as_str(), &times)
                .map_err(|fault| vec![fault])?;
            Ok(pairs)
        }
    });
    let pairs = pairs.map_err(|faults| {
        let mut text = format!(
            "the scans in {} do not pair with the sheets, one to one\n",
            shown(&settings.folder.display().to_string())
        );
        list_some(&mut text, &faults);
        CommandError::Input(text)
    })?;
    Ok(sheets
        .into_iter()
        .zip(pairs.into_iter().map(|at| &scans[at]))
        .collect())
}

/// What is wrong with the scans of a batch: they do not pair with the sheets, or have more pages than a sheet has frames.
pub fn scan_checks(settings: &JobSettings, records: &[Record]) -> Vec<Check> {
    let Some(wanted) = &settings.scans else {
        return Vec::new();
    };
    let unpaired = |fault: CommandError| {
        vec![Check {
            severity: Severity::Warning,
            code: "scans-not-paired",
            sheets: Vec::new(),
            message: fault.to_string().trim_end().replace("\n  ", "; "),
        }]
    };
    let scans = match scans(settings, records) {
        Ok(scans) => scans,
        Err(fault) => return unpaired(fault),
    };
    let paired = match paired(settings, records, &scans) {
        Ok(paired) => paired,
        Err(fault) => return unpaired(fault),
    };
    let Some(frames) = wanted.frames else {
        return Vec::new();
    };
    let bar = progress::bar("counting pages", paired.len() as u64);
    let counted = paired.into_iter().map(|(sheet, scan)| {
        bar.inc(1);
        (sheet, scan, count_pages(scan))
    });
    let counted: Vec<_> = counted.collect();
    bar.finish_and_clear();
    check_pages(&counted, frames.into())
}

fn read_list(path: &Path) -> Result<Vec<ListedPair>, CommandError> {
    let fault = |found: String| {
        CommandError::input(format!(
            "{}: expected a CSV file with the columns sheet and scan, found {found}; correct the file",
            path.display()
        ))
    };
    let mut reader = csv::Reader::from_path(path).map_err(|cause| fault(cause.to_string()))?;
    let header = reader.headers().map_err(|cause| fault(cause.to_string()))?;
    let column = |name: &str| header.iter().position(|column| column.trim() == name);
    let (Some(sheet), Some(scan)) = (column("sheet"), column("scan")) else {
        let found = header.iter().collect::<Vec<_>>().join(", ");
        return Err(fault(format!("the columns {found}")));
    };
    let mut list = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|cause| fault(cause.to_string()))?;
        let cell = |at: usize| row.get(at).unwrap_or_default().to_owned();
        list.push(ListedPair {
            line: row.position().map_or(0, csv::Position::line),
            sheet: cell(sheet),
            scan: cell(scan),
        });
    }
    Ok(list)
}

/// Delivered sheets whose scans have another content now. A file of the same size and time is taken to be the same.
pub fn rescanned(
    paired: &[(SheetId, &Scan)],
    frozen: &Frozen,
) -> Result<BTreeSet<SheetId>, CommandError> {
    let mut rescanned = BTreeSet::new();
    for (sheet, scan) in paired {
        let Some((_, delivered)) = frozen.get(sheet) else {
            continue;
        };
        if looks_the_same(delivered, scan) {
            continue;
        }
        let mut now = Vec::new();
        for file in &scan.files {
            let sha256 = sha256_file(&file.path).map_err(|error| {
                CommandError::input(format!("{}: cannot be read ({error})", file.path.display()))
            })?;
            now.push((file.within.clone(), sha256));
        }
        let then = delivered
            .files
            .iter()
            .map(|file| (file.within.clone(), file.sha256.clone()));
        if !then.eq(now) {
            rescanned.insert(sheet.clone());
        }
    }
    Ok(rescanned)
}
