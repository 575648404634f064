//! What a station noticed beside its result.

use serde::{Deserialize, Serialize};
use std::fmt;

/// How much a finding matters to the index.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing; nothing has to be done.
    Note,
    /// Somebody should look before the sheet is delivered.
    Warning,
    /// The station could not do its work on this sheet or file.
    Fault,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Fault => "fault",
        })
    }
}

/// The room that noticed it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Station {
    Strip,
    Reading,
    Rules,
    Roster,
    Proposal,
    Job,
    Delivery,
}

/// One thing a station noticed, in words for the person at the desk.
///
/// `code` is stable and short (`blank-strip`); programs and tests compare it. `message` says where, what was
/// expected, what was found and what to do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    pub severity: Severity,
    pub station: Station,
    pub code: String,
    pub message: String,
}

impl Finding {
    pub fn new(
        severity: Severity,
        station: Station,
        code: &str,
        message: impl Into<String>,
    ) -> Self {
        Self {
            severity,
            station,
            code: code.to_owned(),
            message: message.into(),
        }
    }
}
