//! Files that mean harm: images, rosters, rule and job files, journals.

use crate::hands::HandKeyed;
use crate::run::Tally;
use crate::{Plan, fuzz, fuzz_rules};
use headword::journal::{SqliteStore, Store};
use headword::roster::{ColumnKind, Roster, Schema, Table};
use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// Mutated images through the reading workers.
pub fn images(plan: Plan) -> Tally {
    let program = Path::new(env!("CARGO_BIN_EXE_headword"));
    let plan = fuzz::drive::Plan {
        seed: plan.seed,
        files: 1_000 * plan.times,
        workers: 2,
        keep: None,
    };
    let found = fuzz::drive::fuzz(&plan, program);
    Tally {
        tried: found.tried,
        crashes: found.crashes.len(),
        hangs: found.hangs.len(),
        lost: found.unaccounted.len(),
        note: format!(
            "{} opened, the others refused with a reason; {} MB at most in a worker",
            found.opened,
            found.peak / 1_000_000
        ),
        told: [found.crashes, found.hangs, found.unaccounted].concat(),
    }
}

/// Mutated rule and job files through their parsers and through readings.
pub fn rules_and_jobs(plan: Plan) -> Tally {
    let found = fuzz_rules::drive::fuzz(&fuzz_rules::drive::Plan {
        seed: plan.seed,
        first: 0,
        files: 2_000 * plan.times,
        keep: None,
    });
    Tally {
        tried: found.tried,
        crashes: found.panics.len(),
        hangs: found.slow.len(),
        lost: found.placeless.len(),
        note: format!(
            "{} understood, the others faulted with places",
            found.understood
        ),
        told: [found.panics, found.slow, found.placeless].concat(),
    }
}

/// The sheet is flagged, and what was keyed is kept.
pub fn replaced(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
    for _ in 0..plan.times {
        let mut job = HandKeyed::of_sheets(40, "");
        for number in 1..=40 {
            job.key(number, &format!("A B {number}"));
        }
        let mut changed = BTreeSet::new();
        for number in 1..=40 {
            let path = job.file("sheets").join(format!("{number:04}.png"));
            if random.random_bool(0.5) {
                let noise: Vec<u8> = (0..random.random_range(0..99))
                    .map(|_| random.random())
                    .collect();
                fs::write(path, noise).expect("an image");
                changed.insert(format!("{number:04}.png"));
            }
        }
        let path = job.path().to_str().expect("a path");
        tally.tried += changed.len();
        let (_, said) = tally.runs(&["check", path, "--json"]);
        let said: serde_json::Value = serde_json::from_str(&said).unwrap_or_default();
        let checks = said["checks"].as_array().cloned().unwrap_or_default();
        let flagged = checks.iter().find(|check| check["code"] == "image-changed");
        let flagged = flagged.map(|check| check["sheets"].clone());
        let expected = serde_json::json!(changed);
        tally.holds(flagged.as_ref() == Some(&expected), || {
            format!("flagged {flagged:?}")
        });
        let kept = (1..=40).filter(|&number| {
            let history = job.store.history(&job.sheet(number));
            history.is_ok_and(|history| history.len() == 1)
        });
        let kept = kept.count();
        tally.holds(kept == 40, || format!("{kept} of 40 entries kept"));
    }
    tally
}

/// What hurts readers of tables.
const INSERTED: [&[u8]; 12] = [
    b"\"",
    b",",
    b"\r\n",
    b"\n",
    b"\0",
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b";",
    b"\x1b[2J",
    b"\xe2\x80\xae",
    b"\"\"\"",
    b",,,,,,,,,,,,",
];

/// Mutated rosters: loaded with every row, or refused.
pub fn rosters(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
    let whole = fs::read(crate::support::repository("demo-data/roster.csv")).expect("a roster");
    let lines = whole.split_inclusive(|byte| *byte == b'\n').take(60);
    let sound: Vec<u8> = lines.collect::<Vec<_>>().concat();
    let columns = [
        ("number", ColumnKind::Code),
        ("surname", ColumnKind::Surname),
    ];
    let schema = Schema {
        key: "number".to_owned(),
        columns: columns.map(|(name, kind)| (name.to_owned(), kind)).into(),
    };
    let (mut loaded, mut found) = (0, 0);
    for _ in 0..3_000 * plan.times {
        let mut bytes = sound.clone();
        for _ in 0..random.random_range(1..5) {
            let at = random.random_range(0..bytes.len());
            match random.random_range(0..4) {
                0 => bytes[at] = random.random(),
                1 => bytes.truncate(at.max(1)),
                2 => drop(bytes.splice(
                    at..at,
                    INSERTED.choose(&mut random).expect("bytes").iter().copied(),
                )),
                _ => drop(bytes.drain(at..(at + 30).min(bytes.len()))),
            }
            if bytes.is_empty() {
                bytes.push(b'x');
            }
        }
        let tried = tally.tries("a roster", || {
            let (table, findings) = Table::from_reader(&bytes[..]).ok()?;
            let rows = table.len();
            let (roster, more) = Roster::prepare(table, &schema).ok()?;
            Some((
                rows,
                roster.len(),
                findings.len() + more.len(),
                roster.search("SMITH", 5).len(),
            ))
        });
        if let Some(Some((rows, kept, findings, _))) = tried {
            loaded += 1;
            found += usize::from(findings > 0);
            tally.holds(rows == kept, || format!("{kept} of {rows} rows"));
        }
    }
    tally.note = format!("{loaded} loaded, {found} of them with findings, the others refused");
    tally
}

/// Bytes of a journal changed at random: it opens, or the fault is told.
pub fn journals(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
    let mut job = HandKeyed::of_sheets(5, "");
    for number in 1..=5 {
        job.key(number, &format!("A B 00000{number}"));
    }
    let path = job.path().to_str().expect("a path").to_owned();
    tally.runs(&["index", &path]);
    let index = job.text("out/index/index.csv");
    let file = job.file("headword.db");
    // All of it into the one file, as a backup would have it.
    let copy = whole_journal(&file);
    // The job lets go of the file that is changed.
    job.store = SqliteStore::open(&job.file("other.db")).expect("a journal");
    let (mut refused, mut unnoticed) = (0, 0);
    for round in 0..60 * plan.times {
        let mut bytes = copy.clone();
        for _ in 0..random.random_range(1..20) {
            let at = random.random_range(0..bytes.len());
            bytes[at] = random.random();
        }
        if round % 7 == 0 {
            bytes.truncate(random.random_range(0..bytes.len()));
        }
        for beside in ["headword.db-wal", "headword.db-shm"] {
            let _ = fs::remove_file(job.file(beside));
        }
        fs::write(&file, bytes).expect("a journal");
        let (code, _) = tally.runs(&["index", &path]);
        match code {
            2 => refused += 1,
            _ if job.text("out/index/index.csv") != index => unnoticed += 1,
            _ => {}
        }
        tally.runs(&["history", &path, "0001.png"]);
    }
    tally.note = format!(
        "{refused} of {} refused; {unnoticed} gave another index, for the journal keeps no sums of its entries",
        60 * plan.times
    );
    tally
}

/// A journal's bytes, once nothing is left beside it.
fn whole_journal(file: &Path) -> Vec<u8> {
    let connection = rusqlite::Connection::open(file).expect("a journal");
    let all = connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()));
    all.expect("a checkpoint");
    drop(connection);
    fs::read(file).expect("a journal")
}
