//! `headword index`: the index, its metadata, its provenance and every exception, all together or not at all.

use super::batch::{Delivery, Scope};
use super::report::counted;
use super::scans::{paired, scans};
use super::{CommandError, Exit, Report};
use crate::delivery::{
    Deliveries, Exception, FileNames, IndexLayout, Record, csv_of, csvw_metadata, exceptions_csv,
    frozen, index_rows, is_open, provenance_csv, replace_folder, rescans_csv, scan_name,
    spreadsheet_csv, strips_csv, unused_roster_csv, xlsx_of,
};
use crate::job::{Job, JobSettings};
use crate::journal::Store;
use crate::proposal::Face;
use crate::roster::Roster;
use crate::value::{SheetId, SheetKind, SheetState};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::PathBuf;

/// Write the index of what was keyed, and what is not in it
///
/// The folder out/index is replaced as a whole: index.csv with its metadata, the same as index.xlsx and as a copy for
/// spreadsheets, provenance.csv, exceptions.csv, rescans.csv, unused-roster.csv, and strips.csv where the job wants what
/// was read. With --draft, out/draft holds every
/// record, as proposed where nobody has keyed it, with sheet, state, and each field's face and probability.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// Write every record, as proposed where nobody has keyed it
    #[arg(long)]
    draft: bool,
}

/// Every file that these folders may hold.
const FILES: [&str; 9] = [
    "index.csv",
    "index.csv-metadata.json",
    "index.xlsx",
    "index-for-spreadsheets.csv",
    "provenance.csv",
    "exceptions.csv",
    "rescans.csv",
    "unused-roster.csv",
    "strips.csv",
];

#[derive(Debug, Serialize)]
pub struct Written {
    pub folder: PathBuf,
    pub records: usize,
    pub exceptions: usize,
    /// Fields by face: sure, look, empty.
    pub faces: [usize; 3],
}

/// What a validated index came to.
#[derive(Debug, Serialize)]
struct Validated {
    folder: PathBuf,
    records: usize,
    sheets: usize,
    exceptions: usize,
    /// Sheets on which people still have to do something.
    open: usize,
    /// Names that several sheets want.
    clashes: usize,
    /// Why there is no workbook, where there is none.
    no_workbook: Option<String>,
    /// Why names lack the endings of their scans, where they do.
    without_endings: Option<String>,
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let job = Job::open(&arguments.job)?;
    match arguments.draft {
        true => draft(&job),
        false => validated(&job),
    }
}

fn draft<S: Store>(job: &Job<S>) -> Result<Report, CommandError> {
    let written = write_draft(job)?;
    let text = format!(
        "{} and {} written to {}\nfields: {} sure, {} to look at, {} empty",
        counted(written.records, "record"),
        counted(written.exceptions, "exception"),
        written.folder.display(),
        written.faces[0],
        written.faces[1],
        written.faces[2]
    );
    let exit = if written.exceptions > 0 {
        Exit::Findings
    } else {
        Exit::Done
    };
    Ok(Report::new(text, &written, exit))
}

/// Writes the draft of a job that was read.
pub fn write_draft<S: Store>(job: &Job<S>) -> Result<Written, CommandError> {
    let delivery = Delivery::of(job, Scope::Draft)?;
    let layout = IndexLayout {
        draft: true,
        ..delivery.plan.layout.clone()
    };
    let mut exceptions = exceptions(&delivery.records);
    exceptions.extend(delivery.unread.iter().map(|sheet| Exception {
        sheet: sheet.clone(),
        kind: SheetKind::Record,
        state: SheetState::Waiting,
        reason: "not read yet; run headword read".into(),
    }));
    let records = delivery.records.iter().filter(|record| record.is_indexed());
    let mut faces = [0; 3];
    for face in records
        .clone()
        .flat_map(|r| &r.values)
        .filter_map(|value| value.face)
    {
        faces[match face {
            Face::Sure => 0,
            Face::Look => 1,
            Face::Empty => 2,
        }] += 1;
    }
    let folder = job.settings.out_folder().join("draft");
    let rows = index_rows(&delivery.records, &delivery.names, &layout);
    let files = vec![
        ("index.csv", csv_of(&rows)),
        (
            "index.csv-metadata.json",
            csvw_metadata("index.csv", &layout),
        ),
        ("exceptions.csv", exceptions_csv(&exceptions)),
    ];
    replace_folder(&folder, &files, &FILES).map_err(CommandError::input)?;
    Ok(Written {
        folder,
        records: records.count(),
        exceptions: exceptions.len(),
        faces,
    })
}

fn validated<S: Store>(job: &Job<S>) -> Result<Report, CommandError> {
    let delivery = Delivery::of(job, Scope::Keyed)?;
    let records = delivery.records.iter();
    let indexed = records.clone().filter(|record| record.is_indexed()).count();
    let open = records.clone().filter(|record| is_open(record)).count();
    if indexed == 0 && open == delivery.records.len() {
        let text = format!(
            "no sheet was keyed yet, {} are waiting: there is nothing to put into a validated index.\n\
             Add --draft for an index of what is proposed.",
            delivery.records.len()
        );
        let json = serde_json::json!({ "waiting": delivery.records.len() });
        return Ok(Report::new(text, json, Exit::Findings));
    }
    let (names, without_endings) = file_names(job, &delivery)?;
    let (files, no_workbook) =
        index_files(&delivery.records, &names, &delivery, job.proposer.roster());
    let folder = job.settings.out_folder().join("index");
    replace_folder(&folder, &files, &FILES).map_err(CommandError::input)?;
    let written = Validated {
        folder,
        records: indexed,
        sheets: delivery.names.iter().count(),
        exceptions: exceptions(&delivery.records).len(),
        open,
        clashes: delivery.names.clashes.len(),
        no_workbook,
        without_endings,
    };
    let mut text = format!(
        "{} of {} and {} written to {}\n",
        counted(written.records, "record"),
        counted(written.sheets, "sheet"),
        counted(written.exceptions, "exception"),
        written.folder.display()
    );
    if open > 0 {
        let _ = writeln!(
            text,
            "{} still to be keyed or settled; exceptions.csv says which",
            counted(open, "sheet")
        );
    }
    for clash in &delivery.names.clashes {
        let sheets: Vec<String> = clash.sheets.iter().map(ToString::to_string).collect();
        let _ = writeln!(
            text,
            "{} is wanted by {}; say of each whether it is a repeat scan, a true second sheet or a keying error",
            clash.name,
            sheets.join(", ")
        );
    }
    for words in written.no_workbook.iter().chain(&written.without_endings) {
        let _ = writeln!(text, "{words}");
    }
    let is_clean = open + written.clashes == 0 && written.no_workbook.is_none();
    let exit = if is_clean { Exit::Done } else { Exit::Findings };
    Ok(Report::new(text, &written, exit))
}

/// The names as the files have them or will have them: those of delivered sheets as the client has them, others with the
/// endings of their scans. Why these are missing, where the scans do not pair with the sheets yet.
fn file_names<S>(
    job: &Job<S>,
    delivery: &Delivery,
) -> Result<(FileNames, Option<String>), CommandError> {
    let deliveries = Deliveries::look(&job.settings.out_folder()).map_err(CommandError::input)?;
    let named = delivery.names.iter();
    let mut named: BTreeMap<SheetId, String> = named
        .map(|(sheet, name)| (sheet.clone(), name.to_owned()))
        .collect();
    let without_endings = match job.settings.scans.is_some() {
        true => with_endings(&job.settings, delivery, &mut named).err(),
        false => None,
    };
    for (sheet, (_, delivered)) in frozen(&deliveries.ledgers()) {
        if let Some(name) = named.get_mut(&sheet)
            && !delivered.records.is_empty()
        {
            *name = delivered.file_name().to_owned();
        }
    }
    let why = without_endings.map(|fault| {
        format!("names stand without their scans' endings, which deliver will add: {fault}")
    });
    Ok((FileNames::decided(named), why))
}

fn with_endings(
    settings: &JobSettings,
    delivery: &Delivery,
    named: &mut BTreeMap<SheetId, String>,
) -> Result<(), CommandError> {
    let scans = scans(settings, &delivery.records)?;
    for (sheet, scan) in paired(settings, &delivery.records, &scans)? {
        if let Some(name) = named.get_mut(&sheet)
            && let Some(whole) = scan_name(name, &delivery.plan.naming, scan)
        {
            *name = whole;
        }
    }
    Ok(())
}

fn exceptions(records: &[Record]) -> Vec<Exception> {
    let mut exceptions: Vec<Exception> = records.iter().filter_map(Exception::of).collect();
    // Two records of one sheet say it twice.
    exceptions.dedup();
    exceptions
}

/// The files of an index of some of a batch's records, and why there is no workbook among them, where there is none. With
/// a roster comes the list of its rows that no record of the whole batch uses.
pub(super) fn index_files(
    records: &[Record],
    names: &FileNames,
    batch: &Delivery,
    roster: Option<&Roster>,
) -> (Vec<(&'static str, Vec<u8>)>, Option<String>) {
    let layout = &batch.plan.layout;
    let rows = index_rows(records, names, layout);
    let mut files = vec![
        ("index.csv", csv_of(&rows)),
        (
            "index.csv-metadata.json",
            csvw_metadata("index.csv", layout),
        ),
        ("index-for-spreadsheets.csv", spreadsheet_csv(&rows)),
        ("provenance.csv", provenance_csv(records, names)),
        ("exceptions.csv", exceptions_csv(&exceptions(records))),
        ("rescans.csv", rescans_csv(records, names)),
    ];
    if let Some(roster) = roster {
        let unused = unused_roster_csv(roster, &batch.records);
        files.push(("unused-roster.csv", unused));
    }
    if let Some(texts) = &batch.texts {
        files.push(("strips.csv", strips_csv(records, names, texts)));
    }
    let no_workbook = match xlsx_of(&rows) {
        Ok(workbook) => {
            files.push(("index.xlsx", workbook));
            None
        }
        Err(fault) => Some(fault.to_string()),
    };
    (files, no_workbook)
}
