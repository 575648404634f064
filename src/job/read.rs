//! Reading a job's sheets: only those that are new or changed, in worker processes, kept as they come.

use super::sheets::{SheetFile, list_sheets};
use super::{Job, JobError};
use crate::journal::{ReadingRecord, SheetRecord, SheetStatus, Store};
use crate::reading::{Outcome, Pool, SheetReading};
use crate::strip;
use crate::value::{Finding, SheetId, sha256_file, sha256_parts};
use serde::Serialize;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::fs;
use std::sync::Mutex;
use std::time::UNIX_EPOCH;

/// Readings that go to disk in one transaction. A kill costs at most these, and they are read again.
const BATCH: usize = 32;

/// Findings after which the sheet is read again by the next run: nothing is wrong with the sheet for certain.
const WORTH_ANOTHER_RUN: [&str; 2] = ["worker-died", "worker-late"];

/// What one run of reading did.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct ReadSummary {
    /// Sheets in the folder.
    pub sheets: usize,
    /// Read in this run.
    pub read: usize,
    /// Read before, and their content has not changed since.
    pub unchanged: usize,
    /// Known before, their files gone since the last run.
    pub vanished: usize,
    /// Stopped before the end; the next run goes on.
    pub stopped: bool,
    /// Of the sheets read in this run: the findings by sheet.
    pub findings: Vec<(SheetId, Finding)>,
    /// Of the sheets folder.
    pub folder_findings: Vec<Finding>,
    /// Milliseconds spent in the workers, by step, over all sheets read.
    pub milliseconds: BTreeMap<String, f64>,
}

/// A sheet to be read, its file looked at.
struct Due {
    record: SheetRecord,
    file: SheetFile,
}

impl<S: Store> Job<S> {
    /// Reads what is new or changed. `progress` is told after each sheet how many of how many are dealt with; when it
    /// returns false the run stops, and the next one goes on from there.
    pub fn read(
        &mut self,
        pool: &Pool,
        mut progress: impl FnMut(usize, usize) -> bool,
    ) -> Result<ReadSummary, JobError> {
        let folder = self.settings.sheets_folder();
        let (files, folder_findings) = list_sheets(&folder)
            .map_err(|fault| JobError::unreadable(&folder, "a folder of sheet images", fault))?;
        let reader = pool.reader()?;
        let overview = self.store.overview()?;
        let known: HashMap<&SheetId, &SheetStatus> = overview
            .iter()
            .map(|status| (&status.record.sheet, status))
            .collect();
        let mut summary = ReadSummary {
            sheets: files.len(),
            folder_findings,
            ..Default::default()
        };
        summary.vanished = self.mark_vanished(&files, &known)?;

        let (unchanged, due): (Vec<_>, Vec<_>) = files.into_iter().partition(|file| {
            known
                .get(&file.sheet)
                .is_some_and(|s| is_unchanged(file, s, &reader))
        });
        summary.unchanged = unchanged.len();
        let total = due.len();

        // Hashing happens as workers become free. A file that was only copied or touched keeps its reading.
        let touched = Mutex::new(Vec::new());
        let jobs = due.into_iter().filter_map(|file| {
            let record = look(&file);
            let status = known.get(&file.sheet).copied();
            if status.is_some_and(|status| has_reading_of(status, &record, &reader)) {
                touched
                    .lock()
                    .expect("a worker thread panicked")
                    .push(record);
                return None;
            }
            Some(Due { record, file })
        });
        let mut batch = Vec::with_capacity(BATCH);
        let mut kept = Ok(());
        let store = &mut self.store;
        let read = pool.read_all(
            jobs,
            |due| due.file.path.clone(),
            |outcome| {
                summary.take(&outcome);
                batch.push(outcome);
                if batch.len() == BATCH {
                    kept = keep(store, &mut batch);
                }
                summary.stopped = !progress(summary.read, total);
                kept.is_ok() && !summary.stopped
            },
        );
        // What was read is kept, also where the pool could not go on.
        kept?;
        keep(&mut self.store, &mut batch)?;
        read?;
        let touched = touched.into_inner().expect("a worker thread panicked");
        self.store.put_sheets(&touched)?;
        summary.unchanged += touched.len();
        Ok(summary)
    }

    fn mark_vanished(
        &mut self,
        files: &[SheetFile],
        known: &HashMap<&SheetId, &SheetStatus>,
    ) -> Result<usize, JobError> {
        let present: HashSet<&SheetId> = files.iter().map(|file| &file.sheet).collect();
        let vanished: Vec<SheetId> = known
            .keys()
            .filter(|sheet| !present.contains(**sheet))
            .map(|&s| s.clone())
            .collect();
        self.store.mark_vanished(&vanished)?;
        Ok(vanished.len())
    }
}

impl ReadSummary {
    fn take(&mut self, outcome: &Outcome<Due>) {
        self.read += 1;
        for (step, milliseconds) in &outcome.sheet.milliseconds {
            *self.milliseconds.entry(step.clone()).or_default() += milliseconds;
        }
        let sheet = &outcome.job.file.sheet;
        self.findings.extend(
            outcome
                .sheet
                .findings
                .iter()
                .map(|f| (sheet.clone(), f.clone())),
        );
    }
}

/// What a reading depends on. Another image, reader or way of finding strips reads again.
fn reading_key(content_hash: &str, reader: &str) -> String {
    sha256_parts([content_hash, reader, strip::VERSION])
}

/// Size and time are as they were when the sheet was read by this reader.
fn is_unchanged(file: &SheetFile, status: &SheetStatus, reader: &str) -> bool {
    let (bytes, modified) = size_and_time(file);
    (status.record.bytes, status.record.modified) == (bytes, modified)
        && has_reading_of(status, &status.record, reader)
}

/// The store holds a reading of what `record` says of the file.
fn has_reading_of(status: &SheetStatus, record: &SheetRecord, reader: &str) -> bool {
    status.reading_key.as_deref() == Some(&reading_key(&record.content_hash, reader))
}

/// Looks at a file. What is no file that can be read (a folder, a device without an end, no permission) has no hash;
/// the worker will say what is wrong with it.
fn look(file: &SheetFile) -> SheetRecord {
    let (bytes, modified) = size_and_time(file);
    let is_file = fs::metadata(&file.path).is_ok_and(|metadata| metadata.is_file());
    let hash = is_file
        .then(|| sha256_file(&file.path).ok())
        .flatten()
        .unwrap_or_default();
    SheetRecord::new(file.sheet.clone(), hash, bytes, modified)
}

fn size_and_time(file: &SheetFile) -> (u64, i64) {
    let Ok(metadata) = fs::metadata(&file.path) else {
        return (0, 0);
    };
    let since = metadata
        .modified()
        .ok()
        .and_then(|time| time.duration_since(UNIX_EPOCH).ok());
    (
        metadata.len(),
        since.map_or(0, |since| since.as_nanos() as i64),
    )
}

/// Keeps a batch of readings on disk.
fn keep<S: Store>(store: &mut S, batch: &mut Vec<Outcome<Due>>) -> Result<(), JobError> {
    let sheets: Vec<_> = batch
        .iter()
        .map(|outcome| outcome.job.record.clone())
        .collect();
    let readings: Vec<_> = batch.drain(..).map(record_of).collect();
    store.put_sheets(&sheets)?;
    store.put_readings(&readings)?;
    Ok(())
}

fn record_of(outcome: Outcome<Due>) -> ReadingRecord {
    let Outcome { job, sheet, reader } = outcome;
    reading_record(&job.record, sheet, &reader)
}

/// A sheet's reading as the journal keeps it; without a key where it is worth another run.
pub fn reading_record(record: &SheetRecord, sheet: SheetReading, reader: &str) -> ReadingRecord {
    let again = sheet
        .findings
        .iter()
        .any(|f| WORTH_ANOTHER_RUN.contains(&f.code.as_str()));
    let key = if again {
        String::new()
    } else {
        reading_key(&record.content_hash, reader)
    };
    let mut kept = ReadingRecord::new(record.sheet.clone(), key, sheet.lay, sheet.reading);
    kept.findings = sheet.findings;
    kept.milliseconds = sheet.milliseconds;
    kept
}
