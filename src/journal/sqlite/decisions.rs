//! Decisions about the whole job.

use super::SqliteStore;
use crate::journal::{Decision, JournalError, Result};
use rusqlite::params;

impl SqliteStore {
    pub(super) fn append_decision(&mut self, decision: &Decision) -> Result<i64> {
        let payload = serde_json::to_string(decision).map_err(|e| JournalError::Failed {
            path: self.path.clone(),
            detail: e.to_string(),
        })?;
        let mut number = 0;
        self.write(|transaction| {
            transaction
                .prepare_cached("INSERT INTO decisions (payload) VALUES (?1)")?
                .execute(params![payload])?;
            number = transaction.last_insert_rowid();
            Ok(())
        })?;
        Ok(number)
    }

    pub(super) fn all_decisions(&self) -> Result<Vec<Decision>> {
        let read = || -> rusqlite::Result<Vec<(i64, String)>> {
            self.connection
                .prepare_cached("SELECT number, payload FROM decisions ORDER BY number")?
                .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
                .collect()
        };
        let rows = read().map_err(|error| self.fault(error))?;
        let decode = |(number, payload): (i64, String)| {
            let decision: Decision = serde_json::from_str(&payload).map_err(|error| {
                JournalError::DecisionNotReadable {
                    number,
                    detail: error.to_string(),
                }
            })?;
            Ok(Decision { number, ..decision })
        };
        rows.into_iter().map(decode).collect()
    }
}
