//! Kills a process that keys, at random moments, and counts what it had been told is kept and is not; and times the
//! journal. `cargo bench --profile dev --no-default-features --bench kills -- [KILLS]`

use headword::journal::{
    Act, ClaimRequest, Desk, Entry, FormatVersion, Holder, KeyedField, KeyedRecord, KeyedSource,
    KeyedValue, Keying, SheetRecord, SqliteStore, Store,
};
use headword::value::SheetId;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::HashSet;
use std::io::{BufRead, BufReader, Write, stdout};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Sheets of the job that is keyed.
const SHEETS: usize = 2_000;

fn main() {
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| a != "--bench")
        .collect();
    if let [key, journal, round] = arguments.as_slice()
        && key == "key"
    {
        return key_until_killed(Path::new(journal), round);
    }
    let kills = arguments
        .first()
        .map_or(1_000, |text| text.parse().expect("a number"));
    println!("{}", killed(kills));
    timed();
}

fn entry(sheet: SheetId, act: Act) -> Entry {
    Entry {
        format: FormatVersion::CURRENT,
        number: 0,
        sheet,
        by: "mia".to_owned(),
        at: 1_700_000_000_000,
        pass: 1,
        desk: Desk::Clerk,
        act,
        extra: Default::default(),
    }
}

fn keyed(value: &str) -> Act {
    let field = |name: &str| KeyedField {
        field: name.to_owned(),
        value: KeyedValue::Text(value.to_owned()),
        as_roster: None,
        source: KeyedSource::Typed,
        proposed: None,
        overruled: None,
    };
    let names = [
        "surname",
        "forenames",
        "number",
        "from",
        "to",
        "part",
        "parts",
    ];
    Act::Keyed(Keying {
        records: vec![KeyedRecord {
            fields: names.map(field).into(),
            roster_key: Some("104210-1".to_owned()),
        }],
        ..Keying::default()
    })
}

/// The clerk: keys sheet after sheet, and undoes every seventh, telling the number of each entry once it is kept.
pub fn key_until_killed(journal: &Path, round: &str) {
    let mut store = SqliteStore::open(journal).expect("the journal opens");
    for step in 0.. {
        let sheet = SheetId::new(format!("{}.png", step % SHEETS));
        let last = store.state(&sheet, 1).expect("a state").last;
        let value = format!("{round} {step}");
        let number = store
            .append(&entry(sheet.clone(), keyed(&value)), last)
            .expect("an entry");
        println!("{number} {value}");
        if step % 7 == 6 {
            let undone = Act::Undone { entry: number };
            let number = store
                .append(&entry(sheet, undone), Some(number))
                .expect("an undoing");
            println!("{number} undone");
        }
        stdout().flush().expect("a pipe");
    }
}

/// What became of the entries.
pub struct Killed {
    pub kills: usize,
    pub kept: usize,
    /// Entries that the process told of before it was killed.
    pub told: usize,
    pub lost: usize,
    pub doubled: usize,
    pub wrong_states: usize,
}

impl std::fmt::Display for Killed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{} kills: {} entries kept, {} told of; lost {}, doubled {}, states that a replay does not give {}",
            self.kills, self.kept, self.told, self.lost, self.doubled, self.wrong_states
        )
    }
}

pub fn killed(kills: usize) -> Killed {
    let folder = tempfile::tempdir().expect("a folder");
    let journal = folder.path().join("headword.db");
    let sheets: Vec<SheetRecord> = (0..SHEETS)
        .map(|n| SheetRecord::new(SheetId::new(format!("{n}.png")), "a".to_owned(), 1, 1))
        .collect();
    SqliteStore::open(&journal)
        .and_then(|mut store| store.put_sheets(&sheets))
        .expect("a journal");
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let mut told: Vec<(i64, String)> = Vec::new();
    for round in 0..kills {
        let mut clerk = Command::new(std::env::current_exe().expect("this program"))
            .args(["key", journal.to_str().expect("a path"), &round.to_string()])
            .stdout(Stdio::piped())
            .spawn()
            .expect("a clerk");
        let out = clerk.stdout.take().expect("its stdout");
        let reader = std::thread::spawn(move || {
            let lines = BufReader::new(out).lines().map_while(Result::ok);
            lines.collect::<Vec<String>>()
        });
        std::thread::sleep(Duration::from_micros(random.random_range(3_000..60_000)));
        clerk.kill().expect("a kill");
        clerk.wait().expect("an end");
        // The last line may be half of one.
        for line in reader.join().expect("lines") {
            if let Some((number, value)) = line.split_once(' ')
                && let Ok(number) = number.parse()
            {
                told.push((number, value.to_owned()));
            }
        }
    }
    let store = SqliteStore::open(&journal).expect("the journal opens");
    let kept = store.entries(0, usize::MAX >> 1).expect("entries");
    let value = |entry: &Entry| match &entry.act {
        Act::Keyed(keying) => match &keying.records[0].fields[0].value {
            KeyedValue::Text(value) => value.clone(),
            other => format!("{other:?}"),
        },
        _ => "undone".to_owned(),
    };
    let by_number: std::collections::HashMap<i64, String> = kept
        .iter()
        .map(|entry| (entry.number, value(entry)))
        .collect();
    let is_lost = |(number, value): &&(i64, String)| by_number.get(number) != Some(value);
    let lost = told.iter().filter(is_lost).count();
    let values: Vec<String> = kept.iter().map(value).filter(|v| v != "undone").collect();
    let different: HashSet<&String> = values.iter().collect();
    Killed {
        kills,
        kept: kept.len(),
        told: told.len(),
        lost,
        doubled: values.len() - different.len(),
        wrong_states: store.wrong_states().expect("states").len(),
    }
}

/// Opening, states, claims and entries of a journal of 100,000 sheets with 50,000 keyed.
fn timed() {
    let folder = tempfile::tempdir().expect("a folder");
    let journal = folder.path().join("headword.db");
    let sheet = |n: usize| SheetId::new(format!("sheet-{n:06}.png"));
    let sheets: Vec<SheetRecord> = (0..100_000)
        .map(|n| SheetRecord::new(sheet(n), "a".to_owned(), 1, 1))
        .collect();
    let mut store = SqliteStore::open(&journal).expect("a journal");
    store.put_sheets(&sheets).expect("sheets");
    let mut times: Vec<f64> = (0..50_000)
        .map(|n| {
            let new = entry(sheet(n), keyed("QUAYLE"));
            let start = Instant::now();
            store.append(&new, None).expect("an entry");
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times.sort_by(f64::total_cmp);
    println!(
        "append: p50 {:.2} ms, p99 {:.2} ms, slowest {:.1} ms of 50,000",
        times[25_000], times[49_500], times[49_999]
    );
    drop(store);
    let start = Instant::now();
    let mut store = SqliteStore::open(&journal).expect("the journal");
    let opened = start.elapsed();
    let start = Instant::now();
    let states = store.states(1).expect("states").len();
    let stated = start.elapsed();
    let start = Instant::now();
    let tally = store.tally(1).expect("a tally");
    println!(
        "{states} sheets: opened in {opened:.1?}, states in {stated:.0?}, counted in {:.1?} ({} keyed)",
        start.elapsed(),
        tally.keyed
    );
    let mut ask = ClaimRequest {
        holder: Holder::here("mia"),
        pass: 1,
        count: 12,
        now: 0,
        lease: 1_000,
        behind: None,
        wanted: None,
        held: false,
        among: None,
    };
    for what in ["first claim", "second claim"] {
        let start = Instant::now();
        let given = store.claim(&ask).expect("a claim");
        println!("{what}: {} sheets in {:.0?}", given.len(), start.elapsed());
        ask.behind = given.last().cloned();
    }
}
