//! One client's work opened: its sheets read and proposed, again after a change.

mod propose;
mod proposer;
mod read;
mod settings;
mod sheets;

pub use proposer::{Proposer, Seen};
pub use read::ReadSummary;
pub use settings::{Index, JOB_FILE, JobSettings, Parts, fault_at};
pub use sheets::{SheetFile, list_sheets};

use crate::journal::{JournalError, SqliteStore, Store};
use crate::reading::PoolError;
use crate::roster::TableError;
use crate::rules::{Fault, Faults, RuleBook};
use crate::value::Finding;
use std::io;
use std::path::{Path, PathBuf};

/// A job, ready for work. Several may be open on one folder; the journal keeps them apart.
#[derive(Debug)]
pub struct Job<S = SqliteStore> {
    pub settings: JobSettings,
    /// The job file's text, for faults that are found later.
    pub text: String,
    pub proposer: Proposer,
    pub store: S,
    /// Of the roster.
    pub findings: Vec<Finding>,
}

/// Why a job could not be opened or worked on.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    #[error("{path}: expected {expected}, found: {cause}")]
    Unreadable {
        path: PathBuf,
        expected: String,
        cause: io::Error,
    },
    #[error("{0}")]
    Faults(#[from] Faults),
    #[error("{0}")]
    Roster(#[from] TableError),
    #[error("{0}")]
    Journal(#[from] JournalError),
    #[error("{0}")]
    Reading(#[from] PoolError),
}

impl JobError {
    fn unreadable(path: &Path, expected: &str, cause: io::Error) -> Self {
        Self::Unreadable {
            path: path.to_owned(),
            expected: expected.to_owned(),
            cause,
        }
    }
}

impl Job {
    /// Opens the job in a folder, with its journal.
    ///
    /// # Errors
    /// Every fault of the job file and the rule files at once, each with its place.
    pub fn open(folder: &Path) -> Result<Self, JobError> {
        let (settings, text, proposer, findings) = prepare(folder)?;
        let store = SqliteStore::open(&folder.join("headword.db"))?;
        Ok(Self {
            settings,
            text,
            proposer,
            store,
            findings,
        })
    }
}

impl<S: Store> Job<S> {
    /// The same with a store of the caller's.
    pub fn with_store(folder: &Path, store: S) -> Result<Self, JobError> {
        let (settings, text, proposer, findings) = prepare(folder)?;
        Ok(Self {
            settings,
            text,
            proposer,
            store,
            findings,
        })
    }
}

/// Everything of a job but its store.
fn prepare(folder: &Path) -> Result<(JobSettings, String, Proposer, Vec<Finding>), JobError> {
    let path = folder.join(JOB_FILE);
    let text = std::fs::read_to_string(&path).map_err(|cause| {
        JobError::unreadable(&path, "a job's folder with a job.toml in it", cause)
    })?;
    let settings = JobSettings::parse(folder, &text)?;
    let rules = load_rules(&settings)?;
    let known: Vec<&str> = rules
        .fields()
        .iter()
        .map(|field| field.name.as_str())
        .collect();
    let faults: Vec<Fault> = settings.unknown_fields(&text, &known);
    if !faults.is_empty() {
        return Err(Faults { faults, more: 0 }.into());
    }
    let (proposer, findings) = Proposer::new(&settings, rules)?;
    Ok((settings, text, proposer, findings))
}

/// The rule files as one book; faults name them as the job file does.
fn load_rules(settings: &JobSettings) -> Result<RuleBook, JobError> {
    let mut files = Vec::new();
    for name in &settings.rules.files {
        let path = settings.folder.join(name);
        let bytes = std::fs::read(&path)
            .map_err(|cause| JobError::unreadable(&path, "a rule file", cause))?;
        let text = String::from_utf8(bytes).map_err(|fault| {
            let cause = io::Error::new(io::ErrorKind::InvalidData, fault.utf8_error());
            JobError::unreadable(&path, "a rule file in UTF-8", cause)
        })?;
        files.push((name.display().to_string(), text));
    }
    let files: Vec<(&str, &str)> = files
        .iter()
        .map(|(n, t)| (n.as_str(), t.as_str()))
        .collect();
    Ok(RuleBook::parse_all(&files, &settings.styles)?)
}
