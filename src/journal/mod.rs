//! What was read, proposed and keyed, on disk. Readings and proposals are one record a sheet, replaced as a whole;
//! what people did is a row of entries that only grows, with the state that it comes to beside it.
//!
//! [`Store`] is what the other rooms see. [`SqliteStore`] keeps a job's `headword.db`; [`MemoryStore`] serves tests and
//! measurements that must leave nothing behind. One story of tests runs on both.

mod claim;
mod decision;
mod drive;
mod entry;
#[cfg(test)]
mod entry_tests;
mod error;
mod memory;
mod proof;
mod record;
mod sqlite;
mod state;
#[cfg(test)]
mod story;

pub use claim::{Claim, ClaimRequest, Holder, Standing};
pub use decision::{Choice, Decision, Publication, Replacement};
pub use drive::network_finding;
pub use entry::{
    Act, Desk, Entry, KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying, ProposedValue,
    SETTLEMENT_PASS, Seen, Settlement, Taken, UNREADABLE,
};
pub use error::JournalError;
pub use memory::MemoryStore;
pub use proof::{
    AnswersRead, ClientAnswer, Numbered, PageWritten, ProofApproved, ProofDrawn, ProofItem,
    QuestionAdded, Versions,
};
pub use record::{FormatVersion, ProposalRecord, ReadingRecord, SheetRecord, SheetStatus};
pub use sqlite::SqliteStore;
pub use state::{PassState, Tally, replay};

use crate::value::SheetId;
use std::collections::BTreeMap;

/// Keyings that a sheet may get: two, and an inspection.
pub const PASSES: u8 = 3;

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

    /// Adds an entry, on disk when this returns, together with the state that its sheet is in now; gives its number.
    ///
    /// `after` is [`PassState::last`] of the sheet and pass as the desk knew it: where somebody else was faster the
    /// entry is refused, so that nobody writes over anybody.
    fn append(&mut self, entry: &Entry, after: Option<i64>) -> Result<i64>;

    /// All entries of a sheet, of every pass, in the order in which they were accepted.
    fn history(&self, sheet: &SheetId) -> Result<Vec<Entry>>;

    /// The entries that follow this number, `most` at a time.
    fn entries(&self, after: i64, most: usize) -> Result<Vec<Entry>>;

    /// Where a sheet stands in a pass.
    fn state(&self, sheet: &SheetId, pass: u8) -> Result<PassState>;

    /// Where every sheet present stands in a pass, in drawer order.
    fn states(&self, pass: u8) -> Result<Vec<(SheetId, PassState)>>;

    /// How many sheets stand where in a pass.
    fn tally(&self, pass: u8) -> Result<Tally> {
        let states = self.states(pass)?;
        let mut tally = Tally {
            sheets: states.len(),
            ..Tally::default()
        };
        for (_, state) in states {
            tally.add(state.state, 1);
        }
        Ok(tally)
    }

    /// Adds a decision about the job, on disk when this returns; gives its number.
    fn decide(&mut self, decision: &Decision) -> Result<i64>;

    /// All decisions about the job, in the order in which they were made.
    fn decisions(&self) -> Result<Vec<Decision>>;

    /// Claims sheets for one person's process, as [`ClaimRequest`] says; none where nothing is free.
    fn claim(&mut self, ask: &ClaimRequest) -> Result<Vec<SheetId>>;

    /// Lengthens all claims of a process to this time, in milliseconds since 1970-01-01 UTC.
    fn renew(&mut self, holder: &Holder, until: i64) -> Result<()>;

    /// Gives the claims of a process back.
    fn release(&mut self, holder: &Holder) -> Result<()>;

    /// The sheets whose kept state is not what a replay of their entries gives: none, or the journal is damaged.
    fn wrong_states(&self) -> Result<Vec<SheetId>> {
        const PAGE: usize = 1_000;
        let mut by_sheet: BTreeMap<(SheetId, u8), Vec<Entry>> = BTreeMap::new();
        let mut after = 0;
        loop {
            let page = self.entries(after, PAGE)?;
            let Some(last) = page.last() else { break };
            after = last.number;
            for entry in page {
                let key = (entry.sheet.clone(), entry.pass);
                by_sheet.entry(key).or_default().push(entry);
            }
        }
        let mut wrong = Vec::new();
        for ((sheet, pass), entries) in by_sheet {
            if self.state(&sheet, pass)? != replay(&entries) {
                wrong.push(sheet);
            }
        }
        Ok(wrong)
    }

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
