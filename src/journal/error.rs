//! What can go wrong with a journal, and what to do about it.

use crate::value::SheetId;
use crate::value::SheetState;
use thiserror::Error;

/// Why the journal could not do what was asked. After an error nothing of that call is in the journal.
///
/// `path` is the journal's file as shown to people. No error carries a type of the database library, so that callers
/// need not know which one is behind the [`super::Store`].
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum JournalError {
    #[error(
        "{path}: another program kept the journal locked for {seconds} s; nothing was written; close the other program \
         or wait for it, then run the command again"
    )]
    Locked { path: String, seconds: u64 },

    #[error(
        "{path}: the disk is full; nothing of this step was written; free some space and run the command again"
    )]
    DiskFull { path: String },

    #[error(
        "{path}: the journal is damaged ({detail}); keep this file and its -wal file aside, put a copy of the journal \
         in their place, or none, in which case the sheets are read again"
    )]
    Damaged { path: String, detail: String },

    #[error(
        "{path}: expected a headword journal, found {found}; move that file away or name another job folder"
    )]
    NotAJournal { path: String, found: String },

    #[error(
        "{path}: the journal was written by a newer headword (layout {found}; this one knows layouts up to {known}); \
         use the newer headword, nothing was changed"
    )]
    Newer {
        path: String,
        found: i64,
        known: i64,
    },

    #[error(
        "{path}: the journal cannot be opened for writing ({detail}); the folder must exist and you must be allowed to \
         write to it and to the file"
    )]
    NotWritable { path: String, detail: String },

    #[error("sheet {sheet}: its {what} came before the sheet itself; put the sheet first")]
    UnknownSheet { sheet: SheetId, what: &'static str },

    #[error(
        "sheet {sheet}: its {what} in the journal cannot be understood ({detail}); read the sheet again"
    )]
    NotReadable {
        sheet: SheetId,
        what: &'static str,
        detail: String,
    },

    #[error(
        "sheet {sheet}: its {what} would not come back from the journal as it is ({detail}); this is a fault of headword"
    )]
    NotStorable {
        sheet: SheetId,
        what: &'static str,
        detail: String,
    },

    #[error(
        "sheet {sheet}: {by} worked on it meanwhile and it is {state} now; nothing was written over it; look at it again \
         and key it if it still needs it"
    )]
    Overtaken {
        sheet: SheetId,
        by: String,
        state: SheetState,
    },

    #[error(
        "sheet {sheet}: {by} made that entry and only {by} can undo it; hold the sheet with a reason instead"
    )]
    NotOwn { sheet: SheetId, by: String },

    #[error(
        "sheet {sheet}: there is no such entry, or it does not stand any more; nothing was undone"
    )]
    NothingToUndo { sheet: SheetId },

    #[error(
        "sheet {sheet}: {by} keyed or settled it in another pass; every keying and the settlement of a sheet are by people of \
         their own, so leave it to somebody else"
    )]
    SamePerson { sheet: SheetId, by: String },

    #[error(
        "no sheet of this job has the number or the name `{text}`; see its drawer with headword find"
    )]
    NoSuchSheet { text: String },

    #[error(
        "sheet {sheet}: it is in somebody else's hands, or you keyed it in another pass; come back later, or leave it"
    )]
    InOtherHands { sheet: SheetId },

    #[error(
        "decision {number} in the journal cannot be understood ({detail}); use the newer headword, or a copy of the \
         journal; nothing was changed"
    )]
    DecisionNotReadable { number: i64, detail: String },

    #[error("{path}: the journal failed ({detail}); nothing of this step was written")]
    Failed { path: String, detail: String },
}
