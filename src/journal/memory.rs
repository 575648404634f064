//! A journal that ends with the process.

use super::{JournalError, ProposalRecord, ReadingRecord, Result, SheetRecord, SheetStatus, Store};
use crate::value::{SheetId, drawer_order};
use std::collections::HashMap;

/// Keeps everything in memory, with the rules of [`super::SqliteStore`] but none of its durability.
#[derive(Debug, Default)]
pub struct MemoryStore {
    sheets: HashMap<SheetId, SheetRecord>,
    readings: HashMap<SheetId, ReadingRecord>,
    proposals: HashMap<SheetId, ProposalRecord>,
}

impl MemoryStore {
    pub fn new() -> Self {
        Self::default()
    }

    /// All or nothing: every sheet must be known before the first record goes in.
    fn expect_known<'a>(
        &self,
        mut sheets: impl Iterator<Item = &'a SheetId>,
        what: &'static str,
    ) -> Result<()> {
        match sheets.find(|sheet| !self.sheets.contains_key(sheet)) {
            None => Ok(()),
            Some(sheet) => Err(JournalError::UnknownSheet {
                sheet: sheet.clone(),
                what,
            }),
        }
    }
}

impl Store for MemoryStore {
    fn put_sheets(&mut self, records: &[SheetRecord]) -> Result<()> {
        for record in records {
            let next = self.sheets.len() as i64 + 1;
            let first_seen = self
                .sheets
                .get(&record.sheet)
                .map_or(next, |s| s.first_seen);
            let record = SheetRecord {
                first_seen,
                vanished: false,
                ..record.clone()
            };
            self.sheets.insert(record.sheet.clone(), record);
        }
        Ok(())
    }

    fn put_readings(&mut self, records: &[ReadingRecord]) -> Result<()> {
        self.expect_known(records.iter().map(|record| &record.sheet), "reading")?;
        for record in records {
            self.readings.insert(record.sheet.clone(), record.clone());
        }
        Ok(())
    }

    fn put_proposals(&mut self, records: &[ProposalRecord]) -> Result<()> {
        self.expect_known(records.iter().map(|record| &record.sheet), "proposal")?;
        for record in records {
            self.proposals.insert(record.sheet.clone(), record.clone());
        }
        Ok(())
    }

    fn mark_vanished(&mut self, sheets: &[SheetId]) -> Result<()> {
        for sheet in sheets {
            if let Some(record) = self.sheets.get_mut(sheet) {
                record.vanished = true;
            }
        }
        Ok(())
    }

    fn sheet(&self, sheet: &SheetId) -> Result<Option<SheetRecord>> {
        Ok(self.sheets.get(sheet).cloned())
    }

    fn reading(&self, sheet: &SheetId) -> Result<Option<ReadingRecord>> {
        Ok(self.readings.get(sheet).cloned())
    }

    fn proposal(&self, sheet: &SheetId) -> Result<Option<ProposalRecord>> {
        Ok(self.proposals.get(sheet).cloned())
    }

    fn overview(&self) -> Result<Vec<SheetStatus>> {
        let mut all: Vec<_> = self
            .sheets
            .values()
            .filter(|record| !record.vanished)
            .map(|record| SheetStatus {
                record: record.clone(),
                reading_key: self.readings.get(&record.sheet).map(|r| r.key.clone()),
                proposal_key: self.proposals.get(&record.sheet).map(|p| p.key.clone()),
            })
            .collect();
        all.sort_by(|a, b| drawer_order(a.record.sheet.as_str(), b.record.sheet.as_str()));
        Ok(all)
    }
}
