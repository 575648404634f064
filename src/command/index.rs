//! `headword index`: the index, its metadata and the exceptions, all together or not at all.

use super::batch::Delivery;
use super::report::counted;
use super::{CommandError, Exit, Report};
use crate::delivery::{
    Exception, IndexLayout, csvw_metadata, exceptions_csv, index_csv, write_together,
};
use crate::job::Job;
use crate::journal::Store;
use crate::proposal::Face;
use crate::value::{SheetKind, SheetState};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Write index.csv and exceptions.csv
///
/// With --draft they go to out/draft and hold every record as proposed, with sheet, state, and each field's face and
/// probability, before anybody keyed. Without it they go to out and hold what was keyed.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// Write every record as proposed, keyed or not
    #[arg(long)]
    draft: bool,
}

#[derive(Debug, Serialize)]
pub struct Written {
    pub folder: PathBuf,
    pub records: usize,
    pub exceptions: usize,
    /// Fields by face: sure, look, empty.
    pub faces: [usize; 3],
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let job = Job::open(&arguments.job)?;
    if !arguments.draft {
        let waiting = job.store.overview().map_err(CommandError::input)?.len();
        let text = format!(
            "no sheet was keyed yet, {waiting} are waiting: there is nothing to put into a validated index.\n\
             Add --draft for an index of what is proposed."
        );
        return Ok(Report::new(
            text,
            serde_json::json!({ "waiting": waiting }),
            Exit::Findings,
        ));
    }
    let written = write_draft(&job)?;
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
    let delivery = Delivery::of(job)?;
    let layout = IndexLayout {
        draft: true,
        ..delivery.plan.layout.clone()
    };
    let mut exceptions: Vec<Exception> =
        delivery.records.iter().filter_map(Exception::of).collect();
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
    write_index(&folder, &delivery, &layout, &exceptions)?;
    Ok(Written {
        folder,
        records: records.count(),
        exceptions: exceptions.len(),
        faces,
    })
}

fn write_index(
    folder: &Path,
    delivery: &Delivery,
    layout: &IndexLayout,
    exceptions: &[Exception],
) -> Result<(), CommandError> {
    let index = index_csv(&delivery.records, &delivery.names, layout);
    let metadata = csvw_metadata("index.csv", layout);
    let exceptions = exceptions_csv(exceptions);
    let files: [(&str, &[u8]); 3] = [
        ("index.csv", &index),
        ("index.csv-metadata.json", &metadata),
        ("exceptions.csv", &exceptions),
    ];
    write_together(folder, &files).map_err(CommandError::input)
}
