//! A job's sheets proposed, those only whose reading, rules, roster or sheets before them changed.

use super::{Job, JobError, Proposer, Seen};
use crate::journal::{ProposalRecord, ReadingRecord, SheetStatus, Store};
use crate::proposal::Before;
use crate::rules::Extraction;
use crate::value::drawer_order;
use std::thread;

/// Sheets that are proposed at a time and kept in one transaction.
const BATCH: usize = 256;

impl<S: Store> Job<S> {
    /// Proposes for every sheet whose reading, rules, roster or sheets before it changed since. `progress` is told how
    /// many of how many were looked at; returns how many were proposed.
    pub fn propose(&mut self, mut progress: impl FnMut(usize, usize)) -> Result<usize, JobError> {
        let mut read = self.store.overview()?;
        read.retain(|status| status.reading_key.is_some());
        if self.proposer.looks_back() {
            read.sort_by(|a, b| drawer_order(a.record.sheet.as_str(), b.record.sheet.as_str()));
        } else {
            let proposer = &self.proposer;
            read.retain(|status| is_stale(proposer, status));
        }
        let (mut done, mut proposed) = (0, 0);
        let mut before = Before::default();
        for batch in read.chunks(BATCH) {
            let records = self.propose_batch(batch, &mut before)?;
            self.store.put_proposals(&records)?;
            done += batch.len();
            proposed += records.len();
            progress(done, read.len());
        }
        Ok(proposed)
    }

    /// Applies the rules on all cores; then proposes one sheet after the other, each with what stands before it.
    fn propose_batch(
        &self,
        batch: &[SheetStatus],
        before: &mut Before,
    ) -> Result<Vec<ProposalRecord>, JobError> {
        let proposer = &self.proposer;
        if !proposer.looks_back() {
            let readings = self.readings(batch)?;
            return Ok(on_all_cores(&readings, |reading| {
                let extractions = proposer.extract(&Seen::from(reading));
                proposer.record(reading, extractions, before)
            }));
        }
        let stale: Vec<SheetStatus> = batch
            .iter()
            .filter(|status| is_stale(proposer, status))
            .cloned()
            .collect();
        let readings = self.readings(&stale)?;
        let extracted: Vec<Vec<Extraction>> =
            on_all_cores(&readings, |reading| proposer.extract(&Seen::from(reading)));
        let mut extracted = readings.into_iter().zip(extracted).peekable();
        let mut records = Vec::new();
        for status in batch {
            let sheet = &status.record.sheet;
            let (reading, extractions) = match extracted.next_if(|(r, _)| r.sheet == *sheet) {
                Some(found) => found,
                None => {
                    let key = status.reading_key.as_deref().unwrap_or_default();
                    let kept = self.store.proposal(sheet)?;
                    let reading = self.store.reading(sheet)?;
                    match (kept, reading) {
                        (Some(kept), _) if kept.key == proposer.key_for(key, before) => {
                            before.pass(sheet, &kept.proposal);
                            continue;
                        }
                        // The rules say the same as before; only the sheets before it changed.
                        (Some(kept), Some(reading)) => (reading, kept.extractions),
                        _ => continue,
                    }
                }
            };
            let record = proposer.record(&reading, extractions, before);
            before.pass(sheet, &record.proposal);
            records.push(record);
        }
        Ok(records)
    }

    fn readings(&self, batch: &[SheetStatus]) -> Result<Vec<ReadingRecord>, JobError> {
        let mut readings = Vec::with_capacity(batch.len());
        for status in batch {
            readings.extend(self.store.reading(&status.record.sheet)?);
        }
        Ok(readings)
    }
}

/// Whether a sheet's reading, the rules or the roster changed since it was proposed.
fn is_stale(proposer: &Proposer, status: &SheetStatus) -> bool {
    let base = status
        .reading_key
        .as_deref()
        .map(|key| proposer.base_key(key));
    let kept = status.proposal_key.as_deref();
    let kept = kept.and_then(|key| key.split(' ').next());
    base.as_deref() != kept
}

/// The results in the order of the items.
pub(super) fn on_all_cores<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let share = items.len().div_ceil(cores).max(1);
    thread::scope(|scope| {
        let workers: Vec<_> = items
            .chunks(share)
            .map(|items| scope.spawn(|| items.iter().map(&work).collect::<Vec<_>>()))
            .collect();
        workers
            .into_iter()
            .flat_map(|worker| worker.join().expect("proposing does not panic"))
            .collect()
    })
}
