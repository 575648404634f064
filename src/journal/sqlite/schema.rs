//! The layout of the file, and how an older one becomes it.

use super::{fault, is_busy};
use crate::journal::{JournalError, Result};
use rusqlite::{Connection, TransactionBehavior};
use std::time::{Duration, Instant};

/// `PRAGMA application_id`: "head" in ASCII, so that a stranger's database is never taken for a journal.
pub(super) const APPLICATION_ID: i64 = 0x6865_6164;

/// What leads from each layout to the next, from an empty file on; the layout's number, kept in `PRAGMA user_version`,
/// is how many of these have been run. Never edit one that was released: add another.
pub(super) const MIGRATIONS: [&str; 3] = [
    "
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
",
    "
    -- AUTOINCREMENT: a number is never given twice.
    CREATE TABLE entries (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        sheet INTEGER NOT NULL REFERENCES sheets (first_seen),
        pass INTEGER NOT NULL,
        payload TEXT NOT NULL
    ) STRICT;
    CREATE INDEX entries_of_sheets ON entries (sheet, number);
    -- `state` is in the payload too; here it can be counted.
    CREATE TABLE states (
        sheet INTEGER NOT NULL REFERENCES sheets (first_seen),
        pass INTEGER NOT NULL,
        state TEXT NOT NULL,
        payload TEXT NOT NULL,
        PRIMARY KEY (sheet, pass)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE claims (
        sheet INTEGER NOT NULL REFERENCES sheets (first_seen),
        pass INTEGER NOT NULL,
        holder TEXT NOT NULL,
        until INTEGER NOT NULL,
        PRIMARY KEY (sheet, pass)
    ) STRICT, WITHOUT ROWID;
",
    "
    CREATE TABLE decisions (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        payload TEXT NOT NULL
    ) STRICT;
",
];

/// A journal of ours in a layout that we know, or a file that is still empty.
pub(super) fn expect_journal(
    connection: &mut Connection,
    path: &str,
    wait: Duration,
) -> Result<()> {
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
pub(super) fn use_write_ahead_log(connection: &Connection, wait: Duration) -> rusqlite::Result<()> {
    const PAUSE: Duration = Duration::from_millis(5);
    let start = Instant::now();
    loop {
        match connection.execute_batch("PRAGMA journal_mode = WAL") {
            Err(error) if is_busy(&error) && start.elapsed() < wait => std::thread::sleep(PAUSE),
            done => return done,
        }
    }
}

/// Brings the file to the layout of today. Two programs may do this at once: the second finds nothing left to do.
pub(super) fn migrate(connection: &mut Connection) -> rusqlite::Result<()> {
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
