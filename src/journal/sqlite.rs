//! The journal in an SQLite file. All SQL of the crate is here.

use super::{JournalError, ProposalRecord, ReadingRecord, Result, SheetRecord, SheetStatus, Store};
use crate::value::{SheetId, drawer_order, shown};
use rusqlite::{
    Connection, ErrorCode, OptionalExtension, Row, Transaction, TransactionBehavior, params,
};
use serde::{Serialize, de::DeserializeOwned};
use std::path::Path;
use std::time::{Duration, Instant};

/// How long a call waits for another program that writes. Own choice: longer than any of our transactions takes, short
/// enough that somebody at the keyboard still waits for the message.
const BUSY_WAIT: Duration = Duration::from_secs(5);

/// `PRAGMA application_id`: "head" in ASCII, so that a stranger's database is never taken for a journal.
const APPLICATION_ID: i64 = 0x6865_6164;

/// What leads from each layout to the next, from an empty file on; the layout's number, kept in `PRAGMA user_version`,
/// is how many of these have been run. Never edit one that was released: add another.
const MIGRATIONS: [&str; 1] = ["
    CREATE TABLE sheets (
        first_seen INTEGER PRIMARY KEY AUTOINCREMENT,
        sheet TEXT NOT NULL UNIQUE,
        vanished INTEGER NOT NULL DEFAULT 0,
        payload TEXT NOT NULL
    ) STRICT;
    CREATE TABLE readings (
        sheet INTEGER PRIMARY KEY REFERENCES sheets (first_seen),
        key TEXT NOT NULL,
        payload TEXT NOT NULL
    ) STRICT;
    CREATE TABLE proposals (
        sheet INTEGER PRIMARY KEY REFERENCES sheets (first_seen),
        key TEXT NOT NULL,
        payload TEXT NOT NULL
    ) STRICT;
    -- So that the overview need not leaf through the payloads.
    CREATE INDEX reading_keys ON readings (sheet, key);
    CREATE INDEX proposal_keys ON proposals (sheet, key);
"];

/// A journal in one SQLite file (and its `-wal` and `-shm` companions while it is open).
pub struct SqliteStore {
    connection: Connection,
    /// The file as shown to people.
    path: String,
    wait: Duration,
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
        expect_journal(&mut connection, &shown_path, wait)?;
        use_write_ahead_log(&connection, wait).map_err(fault)?;
        connection
            .execute_batch("PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;")
            .map_err(fault)?;
        migrate(&mut connection).map_err(fault)?;
        Ok(Self {
            connection,
            path: shown_path,
            wait,
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
        run().map_err(|broken| match broken {
            Broken::Journal(error) => error,
            Broken::Sqlite(error) => fault(&path, wait, error),
        })
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

/// A journal of ours in a layout that we know, or a file that is still empty.
fn expect_journal(connection: &mut Connection, path: &str, wait: Duration) -> Result<()> {
    let fault = |error| fault(path, wait, error);
    // One look: another program may be making the journal at this very moment.
    let snapshot = connection.transaction().map_err(fault)?;
    let ask =
        |sql: &str| -> Result<i64> { snapshot.query_row(sql, [], |row| row.get(0)).map_err(fault) };
    let tables = ask("SELECT count(*) FROM sqlite_schema")?;
    let application = ask("PRAGMA application_id")?;
    let found = ask("PRAGMA user_version")?;
    let known = MIGRATIONS.len() as i64;
    if application != APPLICATION_ID && (application, found, tables) != (0, 0, 0) {
        Err(JournalError::NotAJournal {
            path: path.to_owned(),
            found: "a database of another program".to_owned(),
        })
    } else if found > known {
        Err(JournalError::Newer {
            path: path.to_owned(),
            found,
            known,
        })
    } else {
        Ok(())
    }
}

/// Switches to write-ahead logging, so that readers and a writer do not stop each other. SQLite's own waiting does not
/// cover this switch, which happens once in a file's life.
fn use_write_ahead_log(connection: &Connection, wait: Duration) -> rusqlite::Result<()> {
    const PAUSE: Duration = Duration::from_millis(5);
    let start = Instant::now();
    loop {
        match connection.execute_batch("PRAGMA journal_mode = WAL") {
            Err(error) if is_busy(&error) && start.elapsed() < wait => std::thread::sleep(PAUSE),
            done => return done,
        }
    }
}

fn is_busy(error: &rusqlite::Error) -> bool {
    let code = error.sqlite_error_code();
    matches!(
        code,
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked)
    )
}

/// Brings the file to the layout of today. Two programs may do this at once: the second finds nothing left to do.
fn migrate(connection: &mut Connection) -> rusqlite::Result<()> {
    let layout = |connection: &Connection| -> rusqlite::Result<usize> {
        let found: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0))?;
        Ok(found.max(0) as usize)
    };
    if layout(connection)? >= MIGRATIONS.len() {
        return Ok(());
    }
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    for migration in MIGRATIONS.iter().skip(layout(&transaction)?) {
        transaction.execute_batch(migration)?;
    }
    transaction.execute_batch(&format!(
        "PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {};",
        MIGRATIONS.len()
    ))?;
    transaction.commit()
}

/// What may break a transaction.
enum Broken {
    Journal(JournalError),
    Sqlite(rusqlite::Error),
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
#[path = "sqlite_tests.rs"]
mod tests;
