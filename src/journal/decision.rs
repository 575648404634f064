//! Decisions about a whole job: what was put to use, drawn or agreed, by whom and when. Like entries they are only added.

use super::proof::{AnswersRead, PageWritten, ProofApproved, ProofDrawn, QuestionAdded};
use super::record::{Extra, FormatVersion};
use crate::value::SheetId;
use serde::{Deserialize, Serialize};

/// One decision of one person about the job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Decision {
    pub format: FormatVersion,
    /// Counts all decisions of a journal from 1, in the order in which they were made. Given by the store.
    #[serde(skip)]
    pub number: i64,
    /// Who made it, as told by `--as` or by the system.
    pub by: String,
    /// When, in milliseconds since 1970-01-01 UTC, by the clock of that person's machine; order is by number, not time.
    pub at: i64,
    pub choice: Choice,
    #[serde(flatten)]
    pub extra: Extra,
}

impl Decision {
    pub fn new(by: &str, at: i64, choice: Choice) -> Self {
        Self {
            format: FormatVersion::CURRENT,
            number: 0,
            by: by.to_owned(),
            at,
            choice,
            extra: Extra::new(),
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Choice {
    /// Other rules were put to use.
    RulesPublished(Publication),
    /// The client's roster gave way to a newer one.
    RosterReplaced(Replacement),
    /// A sample was drawn on which the rules are proved.
    ProofDrawn(ProofDrawn),
    /// The supervisor has a question to the client.
    QuestionAdded(QuestionAdded),
    /// A page was written for the client.
    PageWritten(PageWritten),
    /// The client's answers were read.
    AnswersRead(AnswersRead),
    /// The client approved the proof.
    ProofApproved(ProofApproved),
}

/// Rules put to use in the place of those before.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Publication {
    /// Counts the publications of a job from 1.
    pub version: u32,
    /// The rule files, by the names that the job file has: their whole text, so that every version can be had again.
    pub files: Vec<(String, String)>,
    /// The texts in whose place they came.
    #[serde(default)]
    pub replaced: Vec<(String, String)>,
    /// What it changed, in words, as the desk showed it.
    pub effect: Vec<String>,
    /// Keyed sheets on which these rules disagree with what was keyed, and those before did not; and of the publication
    /// before, those on which they still do.
    pub disagreeing: Vec<SheetId>,
    /// Number of the first pass's last entry when they were published.
    #[serde(default)]
    pub entries_before: i64,
    #[serde(flatten)]
    pub extra: Extra,
}

/// A roster put in the place of the one before, with what that came to.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Replacement {
    /// SHA-256 of the file before, and of the one now.
    pub before: String,
    pub after: String,
    /// The file before, by its name beside the one now.
    pub kept_as: String,
    /// Rows before and now.
    pub rows: [u64; 2],
    pub added: u64,
    pub gone: u64,
    pub changed: u64,
    /// Of the changed rows those whose key seems to name another.
    pub others: u64,
    /// Keyed sheets whose row was gone or said something else in what the index delivers.
    pub concerned: Vec<SheetId>,
    #[serde(flatten)]
    pub extra: Extra,
}
