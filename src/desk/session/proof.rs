//! The proof's sample at the desk, and what the client said.

use super::Session;
use crate::journal::{Result, Store, Tally};
use crate::value::{Finding, Severity, SheetId, Station};
use std::collections::HashSet;
use std::sync::Arc;

impl<S: Store> Session<'_, S> {
    /// Keys the proof's sample alone, each sheet with nothing filled in.
    pub fn of_proof(mut self) -> Self {
        let sample: HashSet<SheetId> = self.proof.sheets().iter().cloned().collect();
        self.own.retain(|(_, sheet)| sample.contains(sheet));
        self.among = Some(Arc::new(sample));
        self.is_sample = true;
        self
    }

    /// Who keys the sample reaches no other sheet.
    pub(super) fn may_open(&self, sheet: &SheetId) -> bool {
        let among = self.among.as_ref().filter(|_| self.is_sample);
        among.is_none_or(|among| among.contains(sheet))
    }

    /// How many sheets of the sample stand where.
    pub(super) fn sample_tally(&self) -> Result<Tally> {
        let sample = self.proof.sheets();
        let mut tally = Tally {
            sheets: sample.len(),
            ..Tally::default()
        };
        for sheet in sample {
            tally.add(self.store.state(sheet, self.pass)?.state, 1);
        }
        Ok(tally)
    }

    /// What the client said of a sheet, for whoever opens it.
    pub(super) fn client_said(&self, sheet: &SheetId) -> Vec<Finding> {
        let said = self.proof.said_of(sheet).into_iter();
        let told = said.map(|(asked, answer)| {
            let message = format!("the client, asked \"{asked}\", says: {answer}");
            Finding::new(Severity::Note, Station::Job, "client-said", message)
        });
        told.collect()
    }
}
