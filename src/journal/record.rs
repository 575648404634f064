//! What the journal keeps. On disk each record is JSON that names its format; fields that this version does not know
//! are kept in `extra` and written again.

use crate::proposal::Proposal;
use crate::reading::Reading;
use crate::rules::Extraction;
use crate::strip::Lay;
use crate::value::{Finding, SheetId};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The format of a record on disk. It grows only when older programs could not make sense of a record; a new field
/// alone does not need it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "u32", into = "u32")]
pub struct FormatVersion(u32);

impl FormatVersion {
    pub const CURRENT: Self = Self(1);
}

impl Default for FormatVersion {
    fn default() -> Self {
        Self::CURRENT
    }
}

impl From<FormatVersion> for u32 {
    fn from(version: FormatVersion) -> Self {
        version.0
    }
}

impl TryFrom<u32> for FormatVersion {
    type Error = String;

    fn try_from(version: u32) -> Result<Self, String> {
        if (1..=Self::CURRENT.0).contains(&version) {
            Ok(Self(version))
        } else {
            Err(format!(
                "the record has format {version}, this headword knows formats 1 to {}; use the newer headword",
                Self::CURRENT.0
            ))
        }
    }
}

/// Fields of a record that this version does not know.
pub type Extra = BTreeMap<String, serde_json::Value>;

/// A sheet's image file as last seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetRecord {
    pub format: FormatVersion,
    pub sheet: SheetId,
    /// SHA-256 of the image file, in lower-case hexadecimal.
    pub content_hash: String,
    /// Size of the image file.
    pub bytes: u64,
    /// The file's modification time, in nanoseconds since 1970-01-01 UTC.
    pub modified: i64,
    /// Counts the sheets in the order in which the store first saw them, from 1. Given by the store.
    #[serde(skip)]
    pub first_seen: i64,
    /// The file was gone at the last look. Given by the store.
    #[serde(skip)]
    pub vanished: bool,
    #[serde(flatten)]
    pub extra: Extra,
}

impl SheetRecord {
    pub fn new(sheet: SheetId, content_hash: String, bytes: u64, modified: i64) -> Self {
        Self {
            format: FormatVersion::CURRENT,
            sheet,
            content_hash,
            bytes,
            modified,
            first_seen: 0,
            vanished: false,
            extra: Extra::new(),
        }
    }
}

/// What was read on a sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReadingRecord {
    pub format: FormatVersion,
    pub sheet: SheetId,
    /// Hash of all that the reading depends on: image content, reader, strip finder. The reading is stale once the
    /// key would come out differently.
    pub key: String,
    /// Where the strip lay; none where no strip was found.
    pub lay: Option<Lay>,
    pub reading: Reading,
    /// Of strip and reading.
    pub findings: Vec<Finding>,
    /// Time spent, by step.
    pub milliseconds: BTreeMap<String, f64>,
    #[serde(flatten)]
    pub extra: Extra,
}

impl ReadingRecord {
    pub fn new(sheet: SheetId, key: String, lay: Option<Lay>, reading: Reading) -> Self {
        Self {
            format: FormatVersion::CURRENT,
            sheet,
            key,
            lay,
            reading,
            findings: Vec::new(),
            milliseconds: BTreeMap::new(),
            extra: Extra::new(),
        }
    }
}

/// What was proposed for a sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProposalRecord {
    pub format: FormatVersion,
    pub sheet: SheetId,
    /// Hash of all that the proposal depends on: reading, rules, roster, calibration.
    pub key: String,
    /// What every rule took out of the reading, best first.
    pub extractions: Vec<Extraction>,
    pub proposal: Proposal,
    #[serde(flatten)]
    pub extra: Extra,
}

impl ProposalRecord {
    pub fn new(
        sheet: SheetId,
        key: String,
        extractions: Vec<Extraction>,
        proposal: Proposal,
    ) -> Self {
        Self {
            format: FormatVersion::CURRENT,
            sheet,
            key,
            extractions,
            proposal,
            extra: Extra::new(),
        }
    }
}

/// How far a sheet has come.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetStatus {
    pub record: SheetRecord,
    /// Key of its reading, if it was read.
    pub reading_key: Option<String>,
    /// Key of its proposal, if it has one.
    pub proposal_key: Option<String>,
}
