//! Disks, locks and permissions that fail, and processes that are killed.

use crate::batch::{entry, with_scans};
use crate::hands::{HandKeyed, keyed, record};
use crate::run::{Tally, command};
use crate::{Plan, deliver, kills};
use headword::delivery::verify;
use headword::journal::{JournalError, SqliteStore, Store};
use headword::value::{SheetId, sha256_file};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::Command;

const SCANS: &str = "[scans]\nfolder = \"scans\"\n";

/// The sums of a folder's files, by name.
fn sums(folder: &Path) -> Vec<(String, String)> {
    let mut sums: Vec<(String, String)> = fs::read_dir(folder)
        .into_iter()
        .flatten()
        .map(|entry| entry.expect("an entry"))
        .map(|entry| {
            let name = entry.file_name().to_string_lossy().into_owned();
            (name, sha256_file(&entry.path()).unwrap_or_default())
        })
        .collect();
    sums.sort();
    sums
}

/// No file may grow beyond some bytes: what was there stays as it was, and the next run completes.
pub fn full(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
    let mut refused = 0;
    for round in 0..20 * plan.times {
        let mut job = with_scans(3, SCANS);
        let path = job.path().to_str().expect("a path").to_owned();
        for number in 1..=3 {
            let scan = job.file(&format!("scans/{number:04}.pdf"));
            fs::write(scan, vec![0; 300_000]).expect("a scan");
        }
        tally.runs(&["index", &path]);
        let before = sums(&job.file("out/index"));
        job.key(1, &format!("{} B 000001", "A".repeat(400_000)));
        let verb = ["index", "deliver"][round % 2];
        let limit = random.random_range(0..600);
        let script = format!("ulimit -f {limit}; trap '' XFSZ; exec \"$@\"");
        let mut limited = Command::new("bash");
        let program = command();
        let arguments = program.get_args();
        limited
            .args(["-c", &script, "bash"])
            .arg(program.get_program())
            .args(arguments);
        limited.args([verb, &path]);
        let (code, said) = tally.ends(limited);
        if code == 2 {
            refused += 1;
            let is_as_before =
                sums(&job.file("out/index")) == before && !job.file("out/delivery-0001").exists();
            tally.holds(is_as_before, || said);
        }
        // A value too long for a cell of the workbook is told of, and all else is done.
        let (code, said) = tally.runs(&[verb, &path]);
        tally.holds(code < 2, || said);
        let bag = job.file("out/delivery-0001");
        tally.holds(!bag.exists() || verify(&bag, || {}).is_sound(), || {
            "an unsound bag".to_owned()
        });
    }
    tally.note = format!("{refused} refused");
    tally
}

/// A file system of its own, taken down in the end.
struct Mounted(tempfile::TempDir);

impl Mounted {
    fn of_size(size: &str) -> Option<Self> {
        let folder = tempfile::tempdir().expect("a folder");
        let mut mount = Command::new("mount");
        mount
            .args(["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs"])
            .arg(folder.path());
        let done = mount.output().ok()?;
        done.status.success().then_some(Self(folder))
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.0.path()).output();
    }
}

/// Entries until the disk is full: what was accepted is there, what was not is told, and it goes on with room.
pub fn full_journal(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    for _ in 0..3 * plan.times {
        let Some(disk) = Mounted::of_size("2m") else {
            return Tally::left_out("no file system can be mounted here");
        };
        let journal = disk.0.path().join("headword.db");
        let ballast = disk.0.path().join("ballast");
        fs::write(&ballast, vec![0; 200_000]).expect("ballast");
        let sheet = SheetId::new("1.png");
        let mut accepted = Vec::new();
        {
            let mut store = SqliteStore::open(&journal).expect("a journal");
            let known = headword::journal::SheetRecord::new(sheet.clone(), "a".to_owned(), 1, 1);
            store.put_sheets(&[known]).expect("a sheet");
            for round in 0..5_000 {
                let last = store.state(&sheet, 1).ok().and_then(|state| state.last);
                let act = keyed(vec![record(
                    &format!("{}{round} B", "A".repeat(2_000)),
                    None,
                )]);
                let told = tally.tries("an entry", || {
                    store.append(&entry(&sheet, "mia", 1, 0, act), last)
                });
                match told {
                    Some(Ok(number)) => accepted.push(number),
                    Some(Err(fault)) => {
                        let words = fault.to_string();
                        tally.holds(words.contains("full"), || words);
                        break;
                    }
                    None => break,
                }
            }
        }
        fs::remove_file(&ballast).expect("room");
        let mut store = SqliteStore::open(&journal).expect("the journal opens with room");
        let kept: Vec<i64> = store
            .history(&sheet)
            .expect("a history")
            .iter()
            .map(|e| e.number)
            .collect();
        tally.holds(kept == accepted, || {
            format!("{} of {} kept", kept.len(), accepted.len())
        });
        let act = keyed(vec![record("B B", None)]);
        let more = store.append(&entry(&sheet, "mia", 1, 0, act), accepted.last().copied());
        tally.holds(more.is_ok(), || format!("{more:?}"));
        tally.note = format!("{} entries kept on the last disk", kept.len());
    }
    tally
}

/// Somebody else holds the journal: the fault is told in time, and afterwards all goes on.
pub fn locked(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    for _ in 0..2 * plan.times {
        let mut job = HandKeyed::of_sheets(2, "");
        job.key(1, "A B 000001");
        let path = job.path().to_str().expect("a path").to_owned();
        let other = rusqlite::Connection::open(job.file("headword.db")).expect("a journal");
        other.execute_batch("BEGIN EXCLUSIVE").expect("a lock");
        let act = || keyed(vec![record("C D 000002", None)]);
        let sheet = job.sheet(2);
        let told = tally.tries("an entry", || {
            job.store.append(&entry(&sheet, "mia", 1, 0, act()), None)
        });
        let is_told = matches!(told, Some(Err(JournalError::Locked { .. })));
        tally.holds(is_told, || format!("{told:?}"));
        tally.runs(&["index", &path]);
        other.execute_batch("ROLLBACK").expect("an end");
        let later = job.store.append(&entry(&sheet, "mia", 1, 0, act()), None);
        tally.holds(later.is_ok(), || format!("{later:?}"));
        let (code, said) = tally.runs(&["index", &path]);
        tally.holds(code == 0, || said);
    }
    tally
}

/// A user whom root may become, with no rights of its own.
const NOBODY: u32 = 65_534;

/// What may not be read or written is told, and what was there stays.
pub fn forbidden(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let is_root =
        fs::metadata("/proc/self").is_ok_and(|own| std::os::unix::fs::MetadataExt::uid(&own) == 0);
    for _ in 0..plan.times {
        for (what, mode) in [
            ("out", 0o555),
            ("out", 0o000),
            ("out/index", 0o000),
            ("sheets", 0o000),
            ("scans", 0o000),
            ("scans/0002.pdf", 0o000),
            ("headword.db", 0o444),
            ("headword.db", 0o000),
            ("roster.csv", 0o000),
            ("job.toml", 0o000),
            ("rules", 0o000),
            (".", 0o555),
        ] {
            let job = with_scans(3, SCANS);
            let path = job.path().to_str().expect("a path").to_owned();
            tally.runs(&["index", &path]);
            let before = sums(&job.file("out/index"));
            if is_root {
                let owner = format!("{NOBODY}:{NOBODY}");
                let done = Command::new("chown").args(["-R", &owner, &path]).output();
                assert!(done.is_ok_and(|done| done.status.success()), "chown");
            }
            let mode_of =
                |mode| fs::set_permissions(job.file(what), fs::Permissions::from_mode(mode));
            let usual = if job.file(what).is_dir() {
                0o755
            } else {
                0o644
            };
            mode_of(mode).expect("a mode");
            let (mut delivers, mut is_indexed) = (false, false);
            for verb in ["check", "index", "deliver"] {
                let mut run = command();
                run.args([verb, &path]);
                if is_root {
                    run.uid(NOBODY).gid(NOBODY);
                }
                let (code, said) = tally.ends(run);
                delivers |= verb == "deliver" && code == 0;
                is_indexed |= verb == "index" && code < 2;
                // A file that may not be read is told of with its path.
                let is_told = code < 2 || said.contains(&path);
                tally.holds(is_told, || format!("{what} {mode:o} {verb}: {said}"));
            }
            mode_of(usual).expect("a mode");
            let is_kept = is_indexed || sums(&job.file("out/index")) == before;
            tally.holds(is_kept, || {
                format!("{what} {mode:o}: the index is another one")
            });
            let bag = job.file("out/delivery-0001");
            let is_whole =
                bag.exists() == delivers && (!bag.exists() || verify(&bag, || {}).is_sound());
            tally.holds(is_whole, || format!("{what} {mode:o}: half a delivery"));
        }
    }
    tally
}

/// Processes killed at random moments.
pub fn killed(plan: Plan) -> Tally {
    let journal = kills::killed(100 * plan.times);
    let delivery = deliver::kills(40 * plan.times);
    Tally {
        tried: journal.kills + delivery.killed,
        lost: journal.lost
            + journal.doubled
            + journal.wrong_states
            + delivery.broken
            + delivery.touched,
        note: format!(
            "{} entries told of, none lost; {} rounds of deliveries",
            journal.told, delivery.rounds
        ),
        ..Tally::default()
    }
}
