//! What was read and proposed, kept on disk: one record a sheet and kind, replaced as a whole.
//!
//! [`Store`] is what the other rooms see. [`SqliteStore`] keeps a job's `headword.db`; [`MemoryStore`] serves tests and
//! measurements that must leave nothing behind. One story of tests runs on both.

mod entry;
mod error;
mod memory;
mod record;
mod sqlite;
mod state;
#[cfg(test)]
mod story;

pub use entry::{
    Act, Desk, Entry, KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying, ProposedValue,
    Seen, UNREADABLE,
};
pub use error::JournalError;
pub use memory::MemoryStore;
pub use record::{FormatVersion, ProposalRecord, ReadingRecord, SheetRecord, SheetStatus};
pub use sqlite::SqliteStore;
pub use state::{PassState, replay};

use crate::value::SheetId;

pub type Result<T, E = JournalError> = std::result::Result<T, E>;

/// Records in drawer order, loaded one at a time.
pub type Records<'a, T> = Box<dyn Iterator<Item = Result<T>> + 'a>;

/// Keeps one sheet record, one reading and one proposal a sheet.
///
/// Every `put_*` is one transaction: all of it is on disk when the call returns, or nothing is. A sheet has to be put
/// before its reading and proposal.
pub trait Store {
    /// Adds or replaces sheets. A sheet that had vanished is present again, with what was known of it.
    fn put_sheets(&mut self, records: &[SheetRecord]) -> Result<()>;

    /// Adds or replaces readings.
    fn put_readings(&mut self, records: &[ReadingRecord]) -> Result<()>;

    /// Adds or replaces proposals.
    fn put_proposals(&mut self, records: &[ProposalRecord]) -> Result<()>;

    /// Notes that the files of these sheets are gone. Nothing is deleted, so that a folder that was out of reach for
    /// an hour costs no second reading; the sheets leave [`Store::overview`] and the iterations until they are put
    /// again. Sheets that the store never knew are passed over.
    fn mark_vanished(&mut self, sheets: &[SheetId]) -> Result<()>;

    /// One sheet, present or vanished.
    fn sheet(&self, sheet: &SheetId) -> Result<Option<SheetRecord>>;

    /// One sheet's reading.
    fn reading(&self, sheet: &SheetId) -> Result<Option<ReadingRecord>>;

    /// One sheet's proposal.
    fn proposal(&self, sheet: &SheetId) -> Result<Option<ProposalRecord>>;

    /// All sheets present, in drawer order, each with the keys under which it was read and proposed: what a resumed
    /// run needs to find the sheets that are new or changed.
    fn overview(&self) -> Result<Vec<SheetStatus>>;

    /// The readings of all sheets present, in drawer order, without holding them all in memory.
    fn readings(&self) -> Result<Records<'_, ReadingRecord>> {
        let sheets = self.overview()?;
        Ok(Box::new(
            sheets
                .into_iter()
                .filter(|status| status.reading_key.is_some())
                .filter_map(|status| self.reading(&status.record.sheet).transpose()),
        ))
    }

    /// The proposals of all sheets present, in drawer order, without holding them all in memory.
    fn proposals(&self) -> Result<Records<'_, ProposalRecord>> {
        let sheets = self.overview()?;
        Ok(Box::new(
            sheets
                .into_iter()
                .filter(|status| status.proposal_key.is_some())
                .filter_map(|status| self.proposal(&status.record.sheet).transpose()),
        ))
    }
}
