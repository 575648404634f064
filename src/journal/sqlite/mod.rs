//! The journal in an SQLite file. All SQL of the crate is in this folder.

mod decisions;
mod entries;
mod schema;

use super::{
    ClaimRequest, Decision, Entry, Holder, JournalError, PassState, ProposalRecord, ReadingRecord,
    Result, SheetRecord, SheetStatus, Store, Tally,
};
use crate::value::{SheetId, drawer_order, shown};
use entries::Drawer;
use rusqlite::{
    Connection, ErrorCode, OptionalExtension, Row, Transaction, TransactionBehavior, params,
};
use serde::{Serialize, de::DeserializeOwned};
use std::path::Path;
use std::time::Duration;

/// How long a call waits for another program that writes. Own choice: longer than any of our transactions takes, short
/// enough that somebody at the keyboard still waits for the message.
const BUSY_WAIT: Duration = Duration::from_secs(5);

/// A journal in one SQLite file (and its `-wal` and `-shm` companions while it is open).
pub struct SqliteStore {
    connection: Connection,
    /// The file as shown to people.
    path: String,
    wait: Duration,
    drawer: Drawer,
}

impl SqliteStore {
    /// Opens the journal at `path`, making or migrating it where needed.
    pub fn open(path: &Path) -> Result<Self> {
        Self::open_waiting(path, BUSY_WAIT)
    }

    fn open_waiting(path: &Path, wait: Duration) -> Result<Self> {
        let shown_path = shown(&path.display().to_string()).into_owned();
        let fault = |error| fault(&shown_path, wait, error);
        let mut connection = Connection::open(path).map_err(fault)?;
        connection.busy_timeout(wait).map_err(fault)?;
        // Before anything is changed: a stranger's file stays as it is.
        schema::expect_journal(&mut connection, &shown_path, wait)?;
        schema::use_write_ahead_log(&connection, wait).map_err(fault)?;
        connection
            .execute_batch("PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;")
            .map_err(fault)?;
        schema::migrate(&mut connection).map_err(fault)?;
        Ok(Self {
            connection,
            path: shown_path,
            wait,
            drawer: Drawer::default(),
        })
    }

    fn fault(&self, error: rusqlite::Error) -> JournalError {
        fault(&self.path, self.wait, error)
    }

    /// Runs `work` in one transaction that is on disk when this returns.
    fn write(&mut self, work: impl FnOnce(&Transaction) -> Result<(), Broken>) -> Result<()> {
        let (path, wait) = (self.path.clone(), self.wait);
        let connection = &mut self.connection;
        let run = || -> Result<(), Broken> {
            let transaction =
                connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            work(&transaction)?;
            Ok(transaction.commit()?)
        };
        run().map_err(|broken| broken.in_our_words(&path, wait))
    }

    fn broken(&self, broken: Broken) -> JournalError {
        broken.in_our_words(&self.path, self.wait)
    }

    fn put<T: Stored>(&mut self, records: &[T]) -> Result<()> {
        let payloads = records.iter().map(encode).collect::<Result<Vec<_>>>()?;
        self.write(|transaction| {
            let mut statement = transaction.prepare_cached(T::PUT)?;
            for (record, payload) in records.iter().zip(payloads) {
                let rows = match record.key() {
                    None => statement.execute(params![record.sheet().as_str(), payload])?,
                    Some(key) => {
                        statement.execute(params![record.sheet().as_str(), payload, key])?
                    }
                };
                if rows == 0 {
                    return Err(Broken::Journal(JournalError::UnknownSheet {
                        sheet: record.sheet().clone(),
                        what: T::WHAT,
                    }));
                }
            }
            Ok(())
        })
    }

    fn get<T: Stored>(&self, sheet: &SheetId) -> Result<Option<T>> {
        let mut statement = self
            .connection
            .prepare_cached(T::GET)
            .map_err(|e| self.fault(e))?;
        let payload: Option<String> = statement
            .query_row([sheet.as_str()], |row| row.get(0))
            .optional()
            .map_err(|e| self.fault(e))?;
        payload.map(|payload| decode(&payload, sheet)).transpose()
    }
}

impl Store for SqliteStore {
    fn put_sheets(&mut self, records: &[SheetRecord]) -> Result<()> {
        self.put(records)
    }

    fn put_readings(&mut self, records: &[ReadingRecord]) -> Result<()> {
        self.put(records)
    }

    fn put_proposals(&mut self, records: &[ProposalRecord]) -> Result<()> {
        self.put(records)
    }

    fn mark_vanished(&mut self, sheets: &[SheetId]) -> Result<()> {
        self.write(|transaction| {
            let mut statement =
                transaction.prepare_cached("UPDATE sheets SET vanished = 1 WHERE sheet = ?1")?;
            for sheet in sheets {
                statement.execute([sheet.as_str()])?;
            }
            Ok(())
        })
    }

    fn sheet(&self, sheet: &SheetId) -> Result<Option<SheetRecord>> {
        let mut statement = self
            .connection
            .prepare_cached(
                "SELECT sheet, first_seen, vanished, payload FROM sheets WHERE sheet = ?1",
            )
            .map_err(|e| self.fault(e))?;
        let found = statement
            .query_row([sheet.as_str()], SheetRow::from_row)
            .optional()
            .map_err(|e| self.fault(e))?;
        found.map(SheetRow::decode).transpose()
    }

    fn reading(&self, sheet: &SheetId) -> Result<Option<ReadingRecord>> {
        self.get(sheet)
    }

    fn proposal(&self, sheet: &SheetId) -> Result<Option<ProposalRecord>> {
        self.get(sheet)
    }

    fn overview(&self) -> Result<Vec<SheetStatus>> {
        let read = || -> rusqlite::Result<Vec<_>> {
            self.connection
                .prepare_cached(
                    "SELECT s.sheet, s.first_seen, s.vanished, s.payload, r.key, p.key FROM sheets s
                     LEFT JOIN readings r INDEXED BY reading_keys ON r.sheet = s.first_seen
                     LEFT JOIN proposals p INDEXED BY proposal_keys ON p.sheet = s.first_seen
                     WHERE NOT s.vanished",
                )?
                .query_map([], |row| {
                    Ok((SheetRow::from_row(row)?, row.get(4)?, row.get(5)?))
                })?
                .collect()
        };
        let mut all = read()
            .map_err(|e| self.fault(e))?
            .into_iter()
            .map(|(sheet, reading_key, proposal_key)| {
                Ok(SheetStatus {
                    record: sheet.decode()?,
                    reading_key,
                    proposal_key,
                })
            })
            .collect::<Result<Vec<_>>>()?;
        all.sort_by(|a, b| drawer_order(a.record.sheet.as_str(), b.record.sheet.as_str()));
        Ok(all)
    }

    fn append(&mut self, entry: &Entry, after: Option<i64>) -> Result<i64> {
        self.append_entry(entry, after)
    }

    fn history(&self, sheet: &SheetId) -> Result<Vec<Entry>> {
        self.history_of(sheet)
    }

    fn entries(&self, after: i64, most: usize) -> Result<Vec<Entry>> {
        self.entries_behind(after, most)
    }

    fn state(&self, sheet: &SheetId, pass: u8) -> Result<PassState> {
        self.state_of(sheet, pass)
    }

    fn states(&self, pass: u8) -> Result<Vec<(SheetId, PassState)>> {
        self.states_of(pass)
    }

    fn tally(&self, pass: u8) -> Result<Tally> {
        self.tally_of(pass)
    }

    fn decide(&mut self, decision: &Decision) -> Result<i64> {
        self.append_decision(decision)
    }

    fn decisions(&self) -> Result<Vec<Decision>> {
        self.all_decisions()
    }

    fn claim(&mut self, ask: &ClaimRequest) -> Result<Vec<SheetId>> {
        self.claim_sheets(ask)
    }

    fn renew(&mut self, holder: &Holder, until: i64) -> Result<()> {
        self.renew_claims(holder, until)
    }

    fn release(&mut self, holder: &Holder) -> Result<()> {
        self.release_claims(holder)
    }
}

/// A row of `sheets`.
struct SheetRow {
    sheet: String,
    first_seen: i64,
    vanished: bool,
    payload: String,
}

impl SheetRow {
    /// From the columns sheet, first_seen, vanished, payload.
    fn from_row(row: &Row) -> rusqlite::Result<Self> {
        Ok(Self {
            sheet: row.get(0)?,
            first_seen: row.get(1)?,
            vanished: row.get(2)?,
            payload: row.get(3)?,
        })
    }

    fn decode(self) -> Result<SheetRecord> {
        Ok(SheetRecord {
            first_seen: self.first_seen,
            vanished: self.vanished,
            ..decode(&self.payload, &SheetId::new(self.sheet))?
        })
    }
}

/// A record with a table of its own.
trait Stored: Serialize + DeserializeOwned {
    /// What messages call it.
    const WHAT: &'static str;
    /// Parameters: sheet, payload, and the key where there is one. Changes no row where the sheet is not known.
    const PUT: &'static str;
    /// Parameter: sheet. Column: payload.
    const GET: &'static str;

    fn sheet(&self) -> &SheetId;
    fn key(&self) -> Option<&str>;
}

impl Stored for SheetRecord {
    const WHAT: &'static str = "sheet record";
    const PUT: &'static str = "INSERT INTO sheets (sheet, payload) VALUES (?1, ?2)
        ON CONFLICT (sheet) DO UPDATE SET payload = excluded.payload, vanished = 0";
    const GET: &'static str = "SELECT payload FROM sheets WHERE sheet = ?1";

    fn sheet(&self) -> &SheetId {
        &self.sheet
    }

    fn key(&self) -> Option<&str> {
        None
    }
}

impl Stored for ReadingRecord {
    const WHAT: &'static str = "reading";
    const PUT: &'static str = "INSERT INTO readings (sheet, payload, key)
        SELECT first_seen, ?2, ?3 FROM sheets WHERE sheet = ?1
        ON CONFLICT (sheet) DO UPDATE SET payload = excluded.payload, key = excluded.key";
    const GET: &'static str = "SELECT r.payload FROM readings r JOIN sheets s ON r.sheet = s.first_seen WHERE s.sheet = ?1";

    fn sheet(&self) -> &SheetId {
        &self.sheet
    }

    fn key(&self) -> Option<&str> {
        Some(&self.key)
    }
}

impl Stored for ProposalRecord {
    const WHAT: &'static str = "proposal";
    const PUT: &'static str = "INSERT INTO proposals (sheet, payload, key)
        SELECT first_seen, ?2, ?3 FROM sheets WHERE sheet = ?1
        ON CONFLICT (sheet) DO UPDATE SET payload = excluded.payload, key = excluded.key";
    const GET: &'static str = "SELECT p.payload FROM proposals p JOIN sheets s ON p.sheet = s.first_seen WHERE s.sheet = ?1";

    fn sheet(&self) -> &SheetId {
        &self.sheet
    }

    fn key(&self) -> Option<&str> {
        Some(&self.key)
    }
}

/// The record as JSON. What would not read back (JSON has no infinity) is refused here, not found out months later.
fn encode<T: Stored>(record: &T) -> Result<String> {
    serde_json::to_string(record)
        .and_then(|payload| serde_json::from_str::<T>(&payload).map(|_| payload))
        .map_err(|error| JournalError::NotStorable {
            sheet: record.sheet().clone(),
            what: T::WHAT,
            detail: error.to_string(),
        })
}

fn decode<T: Stored>(payload: &str, sheet: &SheetId) -> Result<T> {
    serde_json::from_str(payload).map_err(|error| JournalError::NotReadable {
        sheet: sheet.clone(),
        what: T::WHAT,
        detail: error.to_string(),
    })
}

fn is_busy(error: &rusqlite::Error) -> bool {
    let code = error.sqlite_error_code();
    matches!(
        code,
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked)
    )
}

/// What may break a transaction.
enum Broken {
    Journal(JournalError),
    Sqlite(rusqlite::Error),
}

impl Broken {
    fn in_our_words(self, path: &str, wait: Duration) -> JournalError {
        match self {
            Self::Journal(error) => error,
            Self::Sqlite(error) => fault(path, wait, error),
        }
    }
}

impl From<rusqlite::Error> for Broken {
    fn from(error: rusqlite::Error) -> Self {
        Self::Sqlite(error)
    }
}

/// SQLite's error in our words.
fn fault(path: &str, wait: Duration, error: rusqlite::Error) -> JournalError {
    let path = path.to_owned();
    let detail = error.to_string();
    match error.sqlite_error_code() {
        _ if is_busy(&error) => JournalError::Locked {
            path,
            seconds: wait.as_secs(),
        },
        Some(ErrorCode::DiskFull) => JournalError::DiskFull { path },
        Some(ErrorCode::DatabaseCorrupt) => JournalError::Damaged { path, detail },
        Some(ErrorCode::NotADatabase) => JournalError::NotAJournal {
            path,
            found: "a file that is no database".to_owned(),
        },
        Some(ErrorCode::CannotOpen | ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => {
            JournalError::NotWritable { path, detail }
        }
        _ => JournalError::Failed { path, detail },
    }
}

#[cfg(test)]
mod tests;
