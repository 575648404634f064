use super::*;
use crate::journal::{MemoryStore, story};

fn open(folder: &tempfile::TempDir) -> Result<SqliteStore> {
    SqliteStore::open_waiting(
        &folder.path().join("headword.db"),
        Duration::from_millis(20),
    )
}

#[test]
fn both_stores_tell_the_same_story() {
    story::tell(&mut MemoryStore::new());
    let folder = tempfile::tempdir().unwrap();
    story::tell(&mut open(&folder).unwrap());
    let reopened = open(&folder).unwrap();
    assert_eq!(reopened.overview().unwrap().len(), 3);
    assert!(reopened.reading(&SheetId::new("10.png")).unwrap().is_some());
}

#[test]
fn is_durable_and_named() {
    let folder = tempfile::tempdir().unwrap();
    let store = open(&folder).unwrap();
    let ask = |pragma: &str| -> String {
        store
            .connection
            .query_row(
                &format!("SELECT CAST({pragma} AS TEXT) FROM pragma_{pragma}"),
                [],
                |row| row.get(0),
            )
            .unwrap()
    };
    assert_eq!(ask("journal_mode"), "wal");
    assert_eq!(ask("synchronous"), "2", "FULL");
    assert_eq!(ask("foreign_keys"), "1");
    assert_eq!(ask("user_version"), schema::MIGRATIONS.len().to_string());
    assert_eq!(ask("application_id"), schema::APPLICATION_ID.to_string());
}

#[test]
fn refuses_what_is_not_its_own_and_leaves_it_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("headword.db");

    std::fs::write(&path, "no database at all\n".repeat(100)).unwrap();
    assert!(matches!(
        open(&folder),
        Err(JournalError::NotAJournal { .. })
    ));
    assert!(
        std::fs::read_to_string(&path)
            .unwrap()
            .starts_with("no database")
    );

    std::fs::remove_file(&path).unwrap();
    let stranger = Connection::open(&path).unwrap();
    stranger
        .execute_batch("CREATE TABLE letters (x); PRAGMA user_version = 1;")
        .unwrap();
    assert!(matches!(
        open(&folder),
        Err(JournalError::NotAJournal { .. })
    ));
    drop(stranger);

    std::fs::remove_file(&path).unwrap();
    let newer = open(&folder).unwrap();
    newer
        .connection
        .execute_batch("PRAGMA user_version = 9")
        .unwrap();
    drop(newer);
    let refused = open(&folder).err().unwrap();
    assert!(matches!(
        refused,
        JournalError::Newer {
            found: 9,
            known: 3,
            ..
        }
    ));
    assert!(
        refused.to_string().contains("use the newer headword"),
        "{refused}"
    );

    let no_folder = Path::new("/nowhere/at/all/headword.db");
    assert!(matches!(
        SqliteStore::open(no_folder),
        Err(JournalError::NotWritable { .. })
    ));
}

#[test]
fn a_lock_a_full_disk_and_damage_are_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = open(&folder).unwrap();
    store.put_sheets(&[story::sheet("1.png", "a")]).unwrap();

    let other = open(&folder).unwrap();
    other.connection.execute_batch("BEGIN IMMEDIATE").unwrap();
    let locked = store.put_sheets(&[story::sheet("2.png", "b")]);
    assert!(
        matches!(locked, Err(JournalError::Locked { .. })),
        "{locked:?}"
    );
    assert!(
        store.reading(&SheetId::new("1.png")).is_ok(),
        "readers go on"
    );
    other.connection.execute_batch("ROLLBACK").unwrap();
    drop(other);
    store.put_sheets(&[story::sheet("2.png", "b")]).unwrap();

    let pages: i64 = store
        .connection
        .query_row("PRAGMA page_count", [], |row| row.get(0))
        .unwrap();
    store
        .connection
        .query_row(
            &format!("PRAGMA max_page_count = {}", pages + 1),
            [],
            |_| Ok(()),
        )
        .unwrap();
    let much: Vec<_> = (0..5_000)
        .map(|n| story::sheet(&format!("m{n}.png"), "c"))
        .collect();
    let full = store.put_sheets(&much);
    assert!(
        matches!(full, Err(JournalError::DiskFull { .. })),
        "{full:?}"
    );
    assert_eq!(
        store.overview().unwrap().len(),
        2,
        "nothing of it was written"
    );
    drop(store);

    let path = folder.path().join("headword.db");
    let mut bytes = std::fs::read(&path).unwrap();
    let middle = bytes.len() - 4096;
    bytes[4096..middle].fill(0xa5);
    std::fs::write(&path, bytes).unwrap();
    let damaged = open(&folder).and_then(|store| store.overview());
    assert!(
        matches!(damaged, Err(JournalError::Damaged { .. })),
        "{damaged:?}"
    );
}

#[test]
fn many_may_open_a_new_journal_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("headword.db");
    std::thread::scope(|scope| {
        for n in 0..8 {
            let path = &path;
            scope.spawn(move || {
                let mut store = SqliteStore::open(path).unwrap();
                store
                    .put_sheets(&[story::sheet(&format!("{n}.png"), "a")])
                    .unwrap();
            });
        }
    });
    assert_eq!(
        SqliteStore::open(&path).unwrap().overview().unwrap().len(),
        8
    );
}

#[test]
fn what_would_not_read_back_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = open(&folder).unwrap();
    store.put_sheets(&[story::sheet("1.png", "a")]).unwrap();
    let mut record = story::proposal("1.png", "X");
    record.extractions[0].score = f64::NEG_INFINITY;
    let refused = store.put_proposals(&[record]);
    assert!(
        matches!(refused, Err(JournalError::NotStorable { .. })),
        "{refused:?}"
    );

    store
        .put_readings(&[story::reading("1.png", "ONE")])
        .unwrap();
    store
        .connection
        .execute(
            r#"UPDATE readings SET payload = replace(payload, '"format":1', '"format":2')"#,
            [],
        )
        .unwrap();
    let refused = store.reading(&SheetId::new("1.png")).unwrap_err();
    assert!(refused.to_string().contains("has format 2"), "{refused}");
}

/// The target is a second for 100,000 sheets to open, measured with `--nocapture`. The records are small, because
/// opening must not depend on what was read.
#[test]
fn a_large_job_opens_quickly() {
    const SHEETS: usize = 100_000;
    let folder = tempfile::tempdir().unwrap();
    let mut store = open(&folder).unwrap();
    let hash = "0123456789abcdef".repeat(4);
    let sheets: Vec<_> = (0..SHEETS)
        .map(|n| story::sheet(&format!("drawer-{}/sheet-{n}.png", n / 500), &hash))
        .collect();
    store.put_sheets(&sheets).unwrap();
    let readings: Vec<_> = (0..SHEETS)
        .map(|n| {
            let sheet = sheets[n].sheet.clone();
            ReadingRecord::new(sheet, hash.clone(), None, Default::default())
        })
        .collect();
    store.put_readings(&readings).unwrap();
    drop(store);

    let start = std::time::Instant::now();
    let store = open(&folder).unwrap();
    let overview = store.overview().unwrap();
    let took = start.elapsed();
    println!(
        "{SHEETS} sheets opened and listed in {} ms",
        took.as_millis()
    );
    assert_eq!(overview.len(), SHEETS);
    assert_eq!(overview[10].record.sheet.as_str(), "drawer-0/sheet-10.png");
    // Four times the target: other work on the machine must not fail the test.
    assert!(took < Duration::from_secs(4), "{took:?}");
}

/// Layout 1 with a sheet in it, as the first programs made it.
#[test]
fn an_older_journal_is_brought_up_to_date() {
    let folder = tempfile::tempdir().unwrap();
    let old = Connection::open(folder.path().join("headword.db")).unwrap();
    old.execute_batch(schema::MIGRATIONS[0]).unwrap();
    old.execute_batch(&format!(
        "PRAGMA application_id = {}; PRAGMA user_version = 1;
         INSERT INTO sheets (sheet, payload) VALUES ('1.png', '{}');",
        schema::APPLICATION_ID,
        serde_json::to_string(&story::sheet("1.png", "a")).unwrap()
    ))
    .unwrap();
    drop(old);
    let store = open(&folder).unwrap();
    let states = store.states(1).unwrap();
    assert_eq!(states, [(SheetId::new("1.png"), PassState::default())]);
}

/// Six connections in threads of their own ask at the same time.
#[test]
fn no_sheet_is_claimed_twice() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("headword.db");
    let sheets: Vec<SheetRecord> = (0..200)
        .map(|n| story::sheet(&format!("{n}.png"), "a"))
        .collect();
    SqliteStore::open(&path)
        .unwrap()
        .put_sheets(&sheets)
        .unwrap();
    let clerk = |by: usize| {
        let mut store = SqliteStore::open(&path).unwrap();
        let mut given = Vec::new();
        loop {
            let run = store
                .claim(&ClaimRequest {
                    holder: Holder::here(&format!("clerk {by}")),
                    pass: 1,
                    count: 7,
                    now: 1_000,
                    lease: 1_000,
                    behind: given.last().cloned(),
                    wanted: None,
                    held: false,
                    among: None,
                })
                .unwrap();
            // A claim of one's own comes again; it is no new sheet.
            let new: Vec<SheetId> = run.into_iter().filter(|s| !given.contains(s)).collect();
            if new.is_empty() {
                return given;
            }
            given.extend(new);
        }
    };
    let all: Vec<SheetId> = std::thread::scope(|scope| {
        let clerks: Vec<_> = (0..6).map(|by| scope.spawn(move || clerk(by))).collect();
        let given = clerks.into_iter().map(|clerk| clerk.join().unwrap());
        given.flatten().collect()
    });
    let different: std::collections::HashSet<&SheetId> = all.iter().collect();
    assert_eq!((all.len(), different.len()), (200, 200));
}
