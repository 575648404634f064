//! What people did: the lines of the journal. Nothing here is ever changed or taken away; undoing is another entry.

use super::record::{Extra, FormatVersion};
use crate::proposal::Face;
use crate::value::{Probability, SheetId, SheetKind};
use serde::{Deserialize, Serialize};

/// Stands in a keyed value for one character that is there and cannot be read (U+FFFD, which Unicode has for that).
pub const UNREADABLE: char = '\u{fffd}';

/// The pass that settlements stand in: they belong to no one keying. Keyings count from 1.
pub const SETTLEMENT_PASS: u8 = 0;

/// One act of one person on one sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    pub format: FormatVersion,
    /// Counts all entries of a journal from 1, in the order in which they were accepted. Given by the store.
    #[serde(skip)]
    pub number: i64,
    pub sheet: SheetId,
    /// Who did it, as told by `--as` or by the system.
    pub by: String,
    /// When, in milliseconds since 1970-01-01 UTC, by the clock of that person's machine; order is by number, not time.
    pub at: i64,
    /// Which keying of the sheet it belongs to, from 1; or [`SETTLEMENT_PASS`].
    pub pass: u8,
    pub desk: Desk,
    pub act: Act,
    #[serde(flatten)]
    pub extra: Extra,
}

/// The screens that entries come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Desk {
    Clerk,
    Supervisor,
    Reviewer,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Act {
    /// The sheet was accepted with these values.
    Keyed(Keying),
    /// What two people keyed differently was decided by a third.
    Settled(Settlement),
    /// Put off, with a reason; comes back when asked for.
    Held { reason: String },
    /// Given up, with a reason; goes to the exceptions.
    SetAside { reason: String },
    /// A held or set-aside sheet waits again.
    Returned,
    /// A remark; changes no state.
    Noted { note: String },
    /// The person's own entry of this number no longer counts.
    Undone { entry: i64 },
}

/// What a person keyed for a sheet, and what he or she had seen.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Keying {
    pub kind: SheetKind,
    /// One for each row of the index; empty for sheets that give none.
    pub records: Vec<KeyedRecord>,
    pub seen: Seen,
    /// Keys pressed from the strip's drawing to the acceptance, that one included.
    pub keystrokes: u32,
    /// From the strip's drawing to the acceptance.
    pub milliseconds: u64,
    #[serde(flatten)]
    pub extra: Extra,
}

/// What was on the screen while the sheet was keyed.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Seen {
    /// The proposal was filled in or otherwise shown.
    pub proposal: bool,
    /// Suggestions, alternatives or the strip's text as read were shown.
    pub suggestions: bool,
    /// Hash of the proposal that was frozen for this keying; none where there was none.
    pub proposal_key: Option<String>,
    /// SHA-256 of the image that was shown.
    pub content_hash: String,
    /// The sheet belongs to the random share that arrives with nothing filled in.
    pub unfilled: bool,
}

#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct KeyedRecord {
    /// Every field of the rules, in their order.
    pub fields: Vec<KeyedField>,
    /// Key of the roster row that the record is linked to.
    pub roster_key: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeyedField {
    pub field: String,
    pub value: KeyedValue,
    /// What the linked roster row says, for fields that the roster holds.
    pub as_roster: Option<String>,
    pub source: KeyedSource,
    /// What the proposal said of this field, whether shown or not; none where there was no proposal.
    pub proposed: Option<ProposedValue>,
    /// Why a value counts although a check speaks against it.
    pub overruled: Option<String>,
}

/// What the person says stands on the strip.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum KeyedValue {
    /// As typed on the strip; may hold [`UNREADABLE`] for single characters.
    Text(String),
    NothingOnStrip,
    CannotBeRead,
}

/// What counts of a sheet from now on, and how that was decided.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Settlement {
    /// Numbers of the two keyings that were settled. It lapses when either no longer counts.
    pub of: [i64; 2],
    pub kind: SheetKind,
    /// All of the sheet, with what both agreed on.
    pub records: Vec<KeyedRecord>,
    /// What was in dispute, in words (`record 1, surname`), and whose value was taken.
    pub decided: Vec<(String, Taken)>,
    /// What the reviewer asked to see beside the strip and the two keyings.
    pub saw_proposal: bool,
    pub saw_roster: bool,
    /// Settlements of the same harmless difference that were made in one go, and are undone in one, have the same text
    /// here.
    pub bulk: Option<String>,
    pub keystrokes: u32,
    pub milliseconds: u64,
    #[serde(flatten)]
    pub extra: Extra,
}

/// Whose value a settlement took.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Taken {
    First,
    Second,
    /// Neither: the reviewer's own.
    Third,
}

/// Where a keyed value came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum KeyedSource {
    Typed,
    /// The proposed value, accepted as it stood.
    Proposal,
    /// One of the proposal's other values.
    Alternative,
    /// A roster row that was picked.
    Roster,
    /// The sheet before, in drawer order.
    Ditto,
    /// A divider, or a default of the rules.
    Carried,
}

/// A field of the proposal as it stood when the sheet was keyed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProposedValue {
    pub value: String,
    pub probability: Probability,
    pub face: Face,
}
