//! A sheet's name, kind and state.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A sheet: its image's path below the job's sheets folder, with `/` between the parts.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SheetId(String);

impl SheetId {
    pub fn new(path: impl Into<String>) -> Self {
        Self(path.into())
    }

    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for SheetId {
    /// Harmless on a terminal whatever the file is called.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&super::shown(&self.0))
    }
}

/// What a sheet is; kinds other than `Record` are accounted for apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SheetKind {
    #[default]
    Record,
    Divider,
    Target,
    CrossReference,
    RepeatScan,
    Blank,
}

/// Where a sheet stands on its way to the index.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SheetState {
    #[default]
    Waiting,
    Keyed,
    KeyedTwice,
    InDispute,
    Settled,
    Held,
    SetAside,
}

impl fmt::Display for SheetKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Record => "record",
            Self::Divider => "divider",
            Self::Target => "target",
            Self::CrossReference => "cross-reference only",
            Self::RepeatScan => "repeat scan",
            Self::Blank => "blank",
        })
    }
}

impl fmt::Display for SheetState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Waiting => "waiting",
            Self::Keyed => "keyed",
            Self::KeyedTwice => "keyed twice",
            Self::InDispute => "in dispute",
            Self::Settled => "settled",
            Self::Held => "held",
            Self::SetAside => "set aside",
        })
    }
}
