//! A journal that ends with the process.

use super::claim::choose;
use super::state::accept;
use super::{
    Claim, ClaimRequest, Decision, Entry, Holder, JournalError, PASSES, PassState, ProposalRecord,
    ReadingRecord, Result, SETTLEMENT_PASS, SheetRecord, SheetStatus, Standing, Store, replay,
};
use crate::value::{SheetId, drawer_order};
use std::collections::HashMap;

/// Keeps everything in memory, with the rules of [`super::SqliteStore`] but none of its durability.
#[derive(Debug, Default)]
pub struct MemoryStore {
    sheets: HashMap<SheetId, SheetRecord>,
    readings: HashMap<SheetId, ReadingRecord>,
    proposals: HashMap<SheetId, ProposalRecord>,
    entries: Vec<Entry>,
    decisions: Vec<Decision>,
    claims: HashMap<(SheetId, u8), Claim>,
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

    fn append(&mut self, entry: &Entry, after: Option<i64>) -> Result<i64> {
        self.expect_known([&entry.sheet].into_iter(), "entry")?;
        accept(entry, &self.history(&entry.sheet)?, after)?;
        let number = self.entries.len() as i64 + 1;
        self.entries.push(Entry {
            number,
            ..entry.clone()
        });
        Ok(number)
    }

    fn history(&self, sheet: &SheetId) -> Result<Vec<Entry>> {
        let own = self.entries.iter().filter(|entry| entry.sheet == *sheet);
        Ok(own.cloned().collect())
    }

    fn entries(&self, after: i64, most: usize) -> Result<Vec<Entry>> {
        let behind = self.entries.iter().filter(|entry| entry.number > after);
        Ok(behind.take(most).cloned().collect())
    }

    fn state(&self, sheet: &SheetId, pass: u8) -> Result<PassState> {
        let own = self.entries.iter();
        Ok(replay(own.filter(|entry| {
            entry.sheet == *sheet && entry.pass == pass
        })))
    }

    fn states(&self, pass: u8) -> Result<Vec<(SheetId, PassState)>> {
        let mut by_sheet: HashMap<&SheetId, Vec<&Entry>> = HashMap::new();
        for entry in self.entries.iter().filter(|entry| entry.pass == pass) {
            by_sheet.entry(&entry.sheet).or_default().push(entry);
        }
        let overview = self.overview()?.into_iter();
        let state = |status: SheetStatus| {
            let sheet = status.record.sheet;
            let entries = by_sheet.remove(&sheet).unwrap_or_default();
            (sheet, replay(entries))
        };
        Ok(overview.map(state).collect())
    }

    fn decide(&mut self, decision: &Decision) -> Result<i64> {
        let number = self.decisions.len() as i64 + 1;
        self.decisions.push(Decision {
            number,
            ..decision.clone()
        });
        Ok(number)
    }

    fn decisions(&self) -> Result<Vec<Decision>> {
        Ok(self.decisions.clone())
    }

    fn claim(&mut self, ask: &ClaimRequest) -> Result<Vec<SheetId>> {
        let states = self.states(ask.pass)?;
        let drawer: Vec<SheetId> = states.iter().map(|(sheet, _)| sheet.clone()).collect();
        let mut standing: HashMap<&SheetId, Standing> = HashMap::new();
        for (sheet, state) in &states {
            standing.insert(
                sheet,
                Standing {
                    state: state.state,
                    is_keyed_before: false,
                    keyed_elsewhere_by: Vec::new(),
                    claim: self.claims.get(&(sheet.clone(), ask.pass)).cloned(),
                },
            );
        }
        for pass in (SETTLEMENT_PASS..=PASSES).filter(|pass| *pass != ask.pass) {
            for (sheet, state) in self.states(pass)? {
                if let Some(standing) = standing.get_mut(&sheet) {
                    standing.is_keyed_before |= (1..ask.pass).contains(&pass) && state.is_keyed();
                    standing.keyed_elsewhere_by.extend(state.keyers);
                }
            }
        }
        let chosen = choose(&drawer, &standing, ask, Holder::is_gone);
        let given: Vec<SheetId> = chosen.into_iter().map(|at| drawer[at].clone()).collect();
        for sheet in &given {
            let claim = Claim {
                holder: ask.holder.clone(),
                until: ask.now + ask.lease,
            };
            self.claims.insert((sheet.clone(), ask.pass), claim);
        }
        Ok(given)
    }

    fn renew(&mut self, holder: &Holder, until: i64) -> Result<()> {
        let own = self.claims.values_mut();
        own.filter(|claim| claim.holder == *holder)
            .for_each(|claim| claim.until = until);
        Ok(())
    }

    fn release(&mut self, holder: &Holder) -> Result<()> {
        self.claims.retain(|_, claim| claim.holder != *holder);
        Ok(())
    }
}
