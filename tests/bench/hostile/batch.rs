//! Batches that mean harm: names, scans, links, keys, clerks and clocks.

use crate::Plan;
use crate::hands::{HandKeyed, keyed, record};
use crate::run::Tally;
use crate::support::rows;
use headword::desk::clerk::{Clerk, Code, Effect, Key};
use headword::desk::knowledge::JobKnowledge;
use headword::desk::session::{Session, plan};
use headword::job::Job;
use headword::journal::{
    Act, ClaimRequest, Desk, Entry, FormatVersion, Holder, JournalError, SqliteStore, Store,
};
use headword::value::SheetId;
use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::fs;
use std::os::unix::fs::symlink;

const SCANS: &str = "[scans]\nfolder = \"scans\"\n";

pub fn entry(sheet: &SheetId, by: &str, pass: u8, at: i64, act: Act) -> Entry {
    Entry {
        format: FormatVersion::CURRENT,
        number: 0,
        sheet: sheet.clone(),
        by: by.to_owned(),
        at,
        pass,
        desk: Desk::Clerk,
        act,
        extra: Default::default(),
    }
}

/// A job of keyed sheets, each with a scan.
pub fn with_scans(sheets: usize, settings: &str) -> HandKeyed {
    let mut job = HandKeyed::of_sheets(sheets, settings);
    fs::create_dir(job.file("scans")).expect("a folder");
    for number in 1..=sheets {
        fs::write(
            job.file(&format!("scans/{number:04}.pdf")),
            format!("scan {number}"),
        )
        .expect("a scan");
        job.key(number, &format!("A{number} B {number:06}"));
    }
    job
}

fn path(job: &HandKeyed) -> String {
    job.path().to_str().expect("a path").to_owned()
}

/// Nothing is delivered until somebody says which it is.
pub fn same_name(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
    let alike = ["O'BRIEN", "OBRIEN", "o'brien", "O’BRIEN", "Ó'BRIEN"];
    for _ in 0..20 * plan.times {
        let mut job = with_scans(4, SCANS);
        for number in [1, random.random_range(2..=4)] {
            let name = alike.choose(&mut random).expect("names");
            job.key(number, &format!("{name} PAT 000794-0"));
        }
        let (code, said) = tally.runs(&["deliver", &path(&job)]);
        let is_refused = code == 1 && said.contains("wanted more than once");
        tally.holds(
            is_refused && !job.file("out/delivery-0001").exists(),
            || said,
        );
    }
    tally
}

/// Refused with the place, whatever is missing, double or swapped, and in whatever way they pair.
pub fn unpaired(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
    for round in 0..60 * plan.times {
        let by_name = format!("{SCANS}name = \"{{sheet}}.pdf\"\n");
        let by_list = format!("{SCANS}list = \"pairs.csv\"\n");
        let settings = [SCANS, &by_name, &by_list][round % 3];
        let job = with_scans(8, settings);
        let scan = |number: usize| job.file(&format!("scans/{number:04}.pdf"));
        let mut pairs: Vec<(usize, usize)> = (1..=8).map(|number| (number, number)).collect();
        let at = random.random_range(1..=8);
        // Pairing by order does not mind what scans are called.
        let trouble = random.random_range(if round % 3 == 0 { 0..3 } else { 0..4 });
        match trouble {
            // A sheet was not scanned.
            0 => fs::remove_file(scan(at)).expect("a scan"),
            // One was scanned twice.
            1 => fs::write(scan(at).with_extension("b.pdf"), "again").expect("a scan"),
            // A double feed, and one more at the end: every later scan has moved up by one.
            2 => {
                fs::remove_file(scan(at)).expect("a scan");
                fs::write(scan(9), "scan 9").expect("a scan");
            }
            _ => {
                pairs[at - 1].1 = at % 8 + 1;
                fs::rename(scan(at), job.file("scans/other.pdf")).expect("a scan");
            }
        }
        let list: String = pairs
            .iter()
            .map(|(a, b)| format!("{a:04}.png,{b:04}.pdf\n"))
            .collect();
        fs::write(job.file("pairs.csv"), format!("sheet,scan\n{list}")).expect("a list");
        let (code, said) = tally.runs(&["deliver", &path(&job)]);
        let is_refused = code == 2 && !job.file("out/delivery-0001").exists();
        tally.holds(is_refused, || {
            format!("trouble {trouble} at {at}, {settings:?}: {said}")
        });
    }
    tally
}

/// Nothing outside the job is read or written through a link.
pub fn links(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
    let outside = tempfile::tempdir().expect("a folder");
    let secret = outside.path().join("secret.pdf");
    fs::write(&secret, "secret").expect("a file");
    for _ in 0..10 * plan.times {
        let job = with_scans(3, SCANS);
        let targets = [
            &secret,
            outside.path(),
            "/dev/zero".as_ref(),
            ".".as_ref(),
            "nowhere".as_ref(),
        ];
        let target = *targets.choose(&mut random).expect("targets");
        for link in ["sheets/box", "sheets/more.png", "scans/0004.pdf"] {
            symlink(target, job.file(link)).expect("a link");
        }
        let path = path(&job);
        for arguments in [
            &["read", &path, "--deadline", "20"][..],
            &["check", &path],
            &["index", &path],
        ] {
            tally.runs(arguments);
        }
        let (code, said) = tally.runs(&["deliver", &path]);
        tally.holds(code == 2 && !job.file("out/delivery-0001").exists(), || {
            said
        });
        let kept = fs::read_to_string(&secret).unwrap_or_default();
        let files = fs::read_dir(outside.path()).expect("a folder").count();
        tally.holds(kept == "secret" && files == 1, || {
            format!("{files} files outside")
        });
    }
    tally
}

/// No key accepts a sheet that was not on the screen for a quarter of a second.
pub fn early_keys(asked: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(asked.seed);
    let job = HandKeyed::of_sheets(1, "[keying]\nunfilled = 0\n");
    let mut job = Job::open(job.path()).expect("a job");
    let knowledge = JobKnowledge::new(&job.proposer);
    let plan = plan(&job.settings, &job.proposer, 1);
    let mut session =
        Session::new(&mut job.store, &job.settings, Holder::here("mia"), 1).expect("a session");
    let sheet = session.next(0, false).expect("a journal").expect("a sheet");
    for _ in 0..2_000 * asked.times {
        let mut desk = Clerk::new(plan.clone(), sheet.clone(), &knowledge);
        let drawn = random.random_range(0..1_000);
        let is_drawn = random.random_bool(0.5);
        if is_drawn {
            desk.drawn(drawn);
        }
        let mut now = drawn;
        for _ in 0..40 {
            now += if is_drawn {
                random.random_range(0..6)
            } else {
                random.random_range(0..60)
            };
            let key = [Key::plain(Code::Enter), Key::ctrl('y'), Key::ctrl('j')]
                .choose(&mut random)
                .copied();
            let effect = tally.tries("a key", || desk.press(key.expect("keys"), now, &knowledge));
            let is_accepted = matches!(effect, Some(Some(Effect::Append(_))));
            tally.holds(!is_accepted, || {
                format!("accepted at {now}, drawn at {drawn}: {is_drawn}")
            });
        }
    }
    tally
}

/// Of two who accept one sheet the second is told, and nobody's entry is lost.
pub fn second_clerk(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
    let mut job = HandKeyed::of_sheets(5, "");
    let mut other = SqliteStore::open(&job.file("headword.db")).expect("a journal");
    let mut accepted = Vec::new();
    for round in 0..500 * plan.times {
        let sheet = job.sheet(random.random_range(1..=5));
        let seen = job.store.state(&sheet, 1).expect("a state").last;
        let act = |by: &str| keyed(vec![record(&format!("{by}{round} B"), None)]);
        let first = entry(&sheet, "mia", 1, 0, act("mia"));
        let second = entry(&sheet, "kim", 1, 0, act("kim"));
        let stores: [&mut SqliteStore; 2] = match round % 2 {
            0 => [&mut job.store, &mut other],
            _ => [&mut other, &mut job.store],
        };
        let [one, two] = stores;
        let told = tally.tries("two clerks", || {
            (one.append(&first, seen), two.append(&second, seen))
        });
        let Some((won, refused)) = told else { continue };
        let is_right = won.is_ok() && matches!(refused, Err(JournalError::Overtaken { .. }));
        tally.holds(is_right, || format!("{won:?} and {refused:?}"));
        accepted.extend(won.map(|number| (sheet, number)));
    }
    let lost = accepted.iter().filter(|(sheet, number)| {
        let history = other.history(sheet).expect("a history");
        !history.iter().any(|entry| entry.number == *number)
    });
    tally.lost += lost.count();
    tally
}

/// What was keyed last counts whatever the clock said, and no clock takes a sheet out of somebody's hands.
pub fn clocks(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
    let mut job = HandKeyed::of_sheets(12, "");
    let times = [
        i64::MIN,
        -1,
        0,
        1,
        1_700_000_000_000,
        253_402_300_800_000,
        i64::MAX,
    ];
    for round in 0..300 * plan.times {
        let sheet = job.sheet(random.random_range(1..=12));
        let at = *times.choose(&mut random).expect("times");
        let last = job.store.state(&sheet, 1).expect("a state").last;
        let act = keyed(vec![record(
            &format!("R{round} B {}", sheet.as_str()),
            None,
        )]);
        let told = tally.tries("an entry", || {
            job.store.append(&entry(&sheet, "mia", 1, at, act), last)
        });
        tally.holds(matches!(told, Some(Ok(_))), || format!("at {at}: {told:?}"));
    }
    tally.runs(&["index", &path(&job)]);
    let rows = rows(&job.file("out/index/index.csv"));
    for row in &rows {
        let sheet = SheetId::new(row["number"].clone());
        let history = job.store.history(&sheet).expect("a history");
        let Some(Act::Keyed(last)) = history.last().map(|entry| &entry.act) else {
            continue;
        };
        let value = format!("{:?}", last.records[0].fields[0].value);
        let is_last = value.contains(&format!("\"{}\"", row["surname_as_typed"]));
        tally.holds(is_last, || {
            format!("{value} is not {}", row["surname_as_typed"])
        });
    }
    tally.holds(rows.len() == 12, || format!("{} rows", rows.len()));
    // A holder that lives, on a machine of which nothing else is known, and clocks that run back from each other.
    let holder = |by: &str| Holder {
        by: by.to_owned(),
        machine: "another".to_owned(),
        process: 1,
        started: 1,
    };
    let ask = |by: &str, now: i64| ClaimRequest {
        holder: holder(by),
        pass: 2,
        count: 12,
        now,
        lease: 1_000_000,
        behind: None,
        wanted: None,
        held: false,
        among: None,
    };
    let given = job
        .store
        .claim(&ask("kim", 1_000_000_000))
        .expect("a claim")
        .len();
    for _ in 0..100 {
        let now = random.random_range(0..1_000_500_000);
        let taken = tally.tries("a claim", || job.store.claim(&ask("zoe", now)));
        let is_kept = matches!(&taken, Some(Ok(sheets)) if sheets.len() == 12 - given);
        tally.holds(is_kept, || format!("{taken:?} of {given} in other hands"));
    }
    tally
}
