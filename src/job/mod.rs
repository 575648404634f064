//! One client's work opened: its sheets read and proposed, again after a change.

mod bench;
mod delivering;
mod keying;
mod proof;
mod propose;
mod proposer;
mod publishing;
mod quality;
mod read;
mod replacing;
mod schema;
mod settings;
mod sheets;
mod trial;

pub use delivering::{BatchSettings, Index, Naming, Pairing, ScanSettings};
pub use keying::KeyingSettings;
pub use proof::{Bulk, ProofSettings};
pub use propose::propose_again;
pub use proposer::{Proposer, Seen};
pub use publishing::{Draft, DraftFile, Seat};
pub use quality::{ErrorUnit, QualitySettings, Sameness, SecondKeying};
pub use read::{ReadSummary, reading_record};
pub use replacing::NewerRoster;
pub use schema::job_schema;
pub use settings::{JOB_FILE, JobSettings, Parts, fault_at};
pub use sheets::{SheetFile, list_sheets};
pub use trial::Tried;

use crate::journal::{JournalError, SqliteStore, Store, network_finding};
use crate::reading::PoolError;
use crate::roster::TableError;
use crate::rules::{Fault, Faults, RuleBook};
use crate::value::{Finding, Severity, Station};
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};

/// The journal of a job, in its folder.
const JOURNAL_FILE: &str = "headword.db";

/// A job, ready for work. Several may be open on one folder; the journal keeps them apart.
#[derive(Debug)]
pub struct Job<S = SqliteStore> {
    pub settings: JobSettings,
    /// The job file's text, for faults that are found later.
    pub text: String,
    pub proposer: Proposer,
    pub store: S,
    /// Of the roster, and of the drive that the job is on.
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
    #[error(
        "{file}: expected the name of one of the job's rule files, so that it can be tried in its place, found {matching} \
         of that name among {known}; give it the name of the file that it is to replace"
    )]
    ReplacesNone {
        file: PathBuf,
        matching: usize,
        known: String,
    },
    #[error(
        "{path}: {what} cannot be written ({cause}); nothing of that file was changed; make room or see who may write \
         there, and do it again"
    )]
    NotKept {
        path: PathBuf,
        what: &'static str,
        cause: io::Error,
    },
    #[error(
        "{name} was changed by somebody else since this draft was begun, and that would be undone; give the draft up \
         to take the file as it is now, and make your change again"
    )]
    ChangedSince { name: String },
    #[error(
        "{by} sits at the rules of this job; one person at a time writes them, so wait or ask {by} to stop; \
         `headword rules --counts` shows the rules in use meanwhile"
    )]
    SeatTaken { by: String },
    #[error(
        "the job has no roster to replace; name one in the section [roster] of its job.toml, with its key and columns"
    )]
    NoRoster,
    #[error(
        "{path}: somebody changed the roster while it was compared with the newer one; nothing was replaced; run the command \
         again"
    )]
    RosterChanged { path: PathBuf },
    #[error("{path}: expected rows below the header, found none; see that it is the whole list")]
    NoRows { path: PathBuf },
    #[error(
        "{path}: the job's roster lies outside the job's folder, where headword writes nothing; copy it into the folder and \
         name the copy as `file` in [roster] of job.toml"
    )]
    RosterOutside { path: PathBuf },
    #[error("the draft changes nothing, so there is nothing to put to use")]
    NothingToPublish,
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
        Self::open_prepared(folder, prepare(folder)?)
    }

    /// The same for work on the rules, which may be at fault: then the job has no rules, and no sheet fits any.
    ///
    /// # Errors
    /// Every fault of the job file.
    pub fn open_for_rules(folder: &Path) -> Result<Self, JobError> {
        let prepared = match prepare(folder) {
            Err(JobError::Faults(faults)) => {
                let (settings, text) = read_settings(folder)?;
                rule_files(&settings)?;
                let (proposer, mut findings) = Proposer::new(&settings, RuleBook::none())?;
                let message = format!("the rules cannot be used as they are:\n{faults}");
                findings.push(Finding::new(
                    Severity::Fault,
                    Station::Rules,
                    "faulty-rules",
                    message,
                ));
                (settings, text, proposer, findings)
            }
            prepared => prepared?,
        };
        Self::open_prepared(folder, prepared)
    }

    fn open_prepared(folder: &Path, prepared: Prepared) -> Result<Self, JobError> {
        let (settings, text, proposer, mut findings) = prepared;
        findings.extend(network_finding(folder));
        let store = SqliteStore::open(&folder.join(JOURNAL_FILE))?;
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

/// Largest file of settings or rules that is read, in bytes: one that a device or a slip of the name gives has no end.
const LARGEST_TEXT: u64 = 8 << 20;

/// A file's text.
fn read_text(path: &Path, expected: &str) -> Result<String, JobError> {
    let fault = |kind, cause: String| {
        let cause = io::Error::new(kind, cause);
        Err(JobError::unreadable(path, expected, cause))
    };
    let mut bytes = Vec::new();
    let read = std::fs::File::open(path)
        .and_then(|file| file.take(LARGEST_TEXT + 1).read_to_end(&mut bytes));
    if let Err(cause) = read {
        return Err(JobError::unreadable(path, expected, cause));
    }
    if bytes.len() as u64 > LARGEST_TEXT {
        let cause = format!("more than {LARGEST_TEXT} bytes; check that it is the right file");
        return fault(io::ErrorKind::FileTooLarge, cause);
    }
    String::from_utf8(bytes).or_else(|found| {
        let found = found.utf8_error();
        let cause = format!("{found}; save the file as UTF-8");
        fault(io::ErrorKind::InvalidData, cause)
    })
}

/// Everything of a job but its store.
type Prepared = (JobSettings, String, Proposer, Vec<Finding>);

/// The job file, understood and as it stands.
fn read_settings(folder: &Path) -> Result<(JobSettings, String), JobError> {
    let text = read_text(
        &folder.join(JOB_FILE),
        "a job's folder with a job.toml in UTF-8 in it",
    )?;
    Ok((JobSettings::parse(folder, &text)?, text))
}

fn prepare(folder: &Path) -> Result<Prepared, JobError> {
    let (settings, text) = read_settings(folder)?;
    let rules = rule_book(&settings, &rule_files(&settings)?)?;
    let (proposer, findings) = proposer(&settings, &text, rules)?;
    Ok((settings, text, proposer, findings))
}

/// The proposer by a job's rules, once they have every field that the job file names.
fn proposer(
    settings: &JobSettings,
    text: &str,
    rules: RuleBook,
) -> Result<(Proposer, Vec<Finding>), JobError> {
    expect_fields(settings, text, &rules)?;
    Ok(Proposer::new(settings, rules)?)
}

/// Every field that the job file names has to be one of the rules'.
fn expect_fields(settings: &JobSettings, text: &str, rules: &RuleBook) -> Result<(), JobError> {
    let known: Vec<&str> = rules
        .fields()
        .iter()
        .map(|field| field.name.as_str())
        .collect();
    let faults: Vec<Fault> = settings.unknown_fields(text, &known);
    match faults.is_empty() {
        true => Ok(()),
        false => Err(Faults { faults, more: 0 }.into()),
    }
}

/// The rule files: their names as the job file has them, and their texts.
fn rule_files(settings: &JobSettings) -> Result<Vec<(String, String)>, JobError> {
    let files = settings.rules.files.iter();
    files
        .map(|name| {
            let text = read_text(&settings.folder.join(name), "a rule file in UTF-8")?;
            Ok((name.display().to_string(), text))
        })
        .collect()
}

/// The rule files, given as (name, text), as one book; faults name them so.
fn rule_book(settings: &JobSettings, files: &[(String, String)]) -> Result<RuleBook, JobError> {
    let files: Vec<(&str, &str)> = files
        .iter()
        .map(|(n, t)| (n.as_str(), t.as_str()))
        .collect();
    Ok(RuleBook::parse_all(&files, &settings.styles)?)
}
