//! Delivery killed at random moments, and at size.
//!
//! `cargo bench --profile dev --no-default-features --bench deliver -- kills 200` kills `index` and `deliver` in all its
//! forms, looks at what is there, runs the command again and looks again. `-- timed 20000 50000` checks, indexes and
//! delivers so many sheets with scans of so many bytes, one command a process, and prints its processor time and memory.

#[allow(dead_code)]
#[path = "../delivering/hands.rs"]
mod hands;
#[allow(dead_code)]
#[path = "../support.rs"]
mod support;

use hands::HandKeyed;
use headword::delivery::verify;
use headword::value::sha256_file;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const SCANS: &str = "[scans]\nfolder = \"scans\"\nname = \"{sheet}.pdf\"\n";

fn main() {
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| a != "--bench")
        .collect();
    let number = |at: usize, usual: usize| {
        arguments
            .get(at)
            .map_or(usual, |text| text.parse().expect("a number"))
    };
    match arguments.first().map(String::as_str) {
        Some("run") => run_one(&arguments[1..]),
        Some("timed") => timed(number(1, 20_000), number(2, 50_000)),
        _ => println!("{}", kills(number(1, 200))),
    }
}

/// A number with its check character (ISO/IEC 7064, MOD 11-2).
fn numbered(digits: usize) -> String {
    let digits = format!("{digits:06}");
    let sum = digits
        .bytes()
        .fold(0, |sum, digit| (sum + u32::from(digit - b'0')) * 2 % 11);
    let check = (12 - sum) % 11;
    match check {
        10 => format!("{digits}-X"),
        check => format!("{digits}-{check}"),
    }
}

/// A job of keyed sheets with a scan each.
fn job(sheets: usize, bytes: usize) -> HandKeyed {
    let mut job = HandKeyed::of_sheets(sheets, SCANS);
    fs::create_dir(job.file("scans")).expect("a folder");
    let mut random = ChaCha8Rng::seed_from_u64(7);
    for sheet in 1..=sheets {
        let scan: Vec<u8> = (0..bytes / 8)
            .flat_map(|_| random.random::<u64>().to_le_bytes())
            .collect();
        let name = format!("{sheet:04}.pdf");
        fs::write(job.file("scans").join(name), scan).expect("a scan");
        job.key(
            sheet,
            &format!("DALTON MARY~ANN {} 1931 1958 1 1", numbered(sheet)),
        );
    }
    job
}

/// The sums of all files of a job but those below `out` and the journal.
fn outside(job: &Path) -> BTreeMap<String, String> {
    fn walk(root: &Path, folder: &Path, found: &mut BTreeMap<String, String>) {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            let name = path
                .strip_prefix(root)
                .expect("below")
                .to_string_lossy()
                .into_owned();
            if name == "out" || name.starts_with("headword.db") {
                continue;
            }
            if path.is_dir() {
                walk(root, &path, found);
            } else {
                let sum = sha256_file(&path).expect("a file");
                found.insert(name, sum);
            }
        }
    }
    let mut found = BTreeMap::new();
    walk(job, job, &mut found);
    found
}

/// Files of the folder of the index.
const INDEX_FILES: usize = 8;

/// What is there must be whole: an index of one run, deliveries that are sound.
fn is_whole(job: &HandKeyed) -> Result<(), String> {
    let index = job.file("out/index");
    if index.exists() {
        let files = fs::read_dir(&index).expect("a folder").count();
        let rows = |name: &str| support::rows(&index.join(name));
        let (index, provenance) = (rows("index.csv"), rows("provenance.csv"));
        let of_first = |rows: &[std::collections::HashMap<String, String>], column: &str| {
            rows.first().map(|row| row[column].clone())
        };
        if files != INDEX_FILES
            || of_first(&index, "surname_as_typed") != of_first(&provenance, "as_typed")
        {
            return Err(format!("out/index holds {files} files, of different runs"));
        }
    }
    for number in 1..=9 {
        let bag = job.file(&format!("out/delivery-{number:04}"));
        let found = verify(&bag, || {});
        if bag.exists() && !found.is_sound() {
            return Err(format!("{found:?}"));
        }
    }
    Ok(())
}

/// What became of the rounds.
pub struct Killed {
    pub rounds: usize,
    pub killed: usize,
    by_verb: BTreeMap<String, usize>,
    /// Indexes and deliveries that were not whole after the kill or the next run.
    pub broken: usize,
    /// Rounds that touched something outside `out`.
    pub touched: usize,
}

impl std::fmt::Display for Killed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{} rounds, {} killed ({:?}), {} had ended; not whole after the kill or the next run {}, files outside out/ \
             touched {}",
            self.rounds,
            self.killed,
            self.by_verb,
            self.rounds - self.killed,
            self.broken,
            self.touched
        )
    }
}

pub fn kills(rounds: usize) -> Killed {
    let mut job = job(60, 100_000);
    let before = outside(job.path());
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let (mut ended, mut broken, mut touched) = (0, 0, 0);
    let mut by_verb: BTreeMap<String, usize> = BTreeMap::new();
    // How long each command takes when nobody kills it.
    let mut spans: BTreeMap<String, Duration> = BTreeMap::new();
    for round in 0..rounds {
        // A correction, so that each round has something to write.
        let name = format!("DALTON{}", letters(round));
        job.key(1, &format!("{name} MARY~ANN {} 1931 1958 1 1", numbered(1)));
        let has_delivery = job.file("out/delivery-0001.json").exists();
        let has_second = job.file("out/delivery-0002.json").exists();
        let arguments: &[&str] = match (random.random_range(0..3), has_delivery) {
            (0, _) => &["index"],
            (_, false) if round % 2 == 0 => &["deliver", "--link"],
            (_, false) => &["deliver"],
            (1, true) if !has_second => &["deliver", "--amend", "a correction"],
            _ => &["deliver", "--undo"],
        };
        let words = arguments.join(" ");
        let path = job.path().to_str().expect("a path").to_owned();
        let full: Vec<&str> = [&[arguments[0], &path], &arguments[1..]].concat();
        let span = spans
            .get(&words)
            .copied()
            .unwrap_or(Duration::from_millis(150));
        let mut child = Command::new(env!("CARGO_BIN_EXE_headword"))
            .args(&full)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the binary starts");
        let microseconds = span.as_micros() as u64;
        std::thread::sleep(Duration::from_micros(random.random_range(0..microseconds)));
        match child.try_wait().expect("a child") {
            Some(_) => ended += 1,
            None => {
                *by_verb.entry(words.clone()).or_default() += 1;
                child.kill().expect("a kill");
            }
        }
        child.wait().expect("an end");
        if let Err(words) = is_whole(&job) {
            broken += 1;
            eprintln!("round {round}, after the kill: {words}");
        }
        let start = Instant::now();
        let again = support::headword(&full);
        let took = start.elapsed();
        spans.insert(words.clone(), took.max(Duration::from_millis(20)));
        // An undoing that was done before the kill finds nothing, or another delivery that it takes back.
        let is_done = matches!(again.code, Some(0 | 1)) || arguments.contains(&"--undo");
        let is_verified = !job.file("out/delivery-0001").exists()
            || job.run("deliver", &["--verify"]).code == Some(0);
        if let Err(words) = is_whole(&job).and_then(|()| match is_done && is_verified {
            true => Ok(()),
            false => Err(format!("{again:?}")),
        }) {
            broken += 1;
            eprintln!("round {round}, {words}, after the next run");
        }
        if outside(job.path()) != before {
            touched += 1;
        }
    }
    Killed {
        rounds,
        killed: rounds - ended,
        by_verb,
        broken,
        touched,
    }
}

fn letters(number: usize) -> String {
    let letter = |digit: u8| char::from(b'A' + digit - b'0');
    number.to_string().bytes().map(letter).collect()
}

/// One command in this process, then what it took.
fn run_one(arguments: &[String]) {
    let start = Instant::now();
    let arguments = std::iter::once("headword".to_owned()).chain(arguments.iter().cloned());
    headword::command::run(arguments.map(Into::into));
    let wall = start.elapsed().as_secs_f64();
    // Nanoseconds on a processor, of this thread alone: these commands have one.
    let processor = fs::read_to_string("/proc/self/schedstat").expect("Linux");
    let processor: f64 = processor
        .split(' ')
        .next()
        .and_then(|nanoseconds| nanoseconds.parse().ok())
        .expect("a number");
    let status = fs::read_to_string("/proc/self/status").expect("Linux");
    let peak = status.lines().find(|line| line.starts_with("VmHWM"));
    eprintln!(
        "processor {:.2} s, wall {wall:.2} s, {}",
        processor / 1e9,
        peak.unwrap_or_default().replace('\t', " ")
    );
}

fn timed(sheets: usize, bytes: usize) {
    let job = job(sheets, bytes);
    let path = job.path().to_str().expect("a path");
    for arguments in [
        &["check"][..],
        &["index"],
        &["deliver", "--dry-run"],
        &["deliver", "--link"],
        &["deliver", "--verify"],
        &["deliver", "--undo"],
        &["deliver"],
    ] {
        let done = Command::new(std::env::current_exe().expect("this program"))
            .arg("run")
            .args([arguments[0], path])
            .args(&arguments[1..])
            .output()
            .expect("an end");
        let out = String::from_utf8_lossy(&done.stdout);
        let told = String::from_utf8_lossy(&done.stderr);
        println!("{}: {}", arguments.join(" "), told.trim());
        println!("  {}", out.lines().last().unwrap_or_default());
    }
}
