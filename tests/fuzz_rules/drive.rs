//! Files driven through the parsers of rule and job files and through readings, and what became of each.

use super::mutate::{Corpus, mutated};
use headword::job::JobSettings;
use headword::reading::{Line, Reading};
use headword::rules::{Around, Faults, RuleBook};
use rand::SeedableRng;
use rand::seq::IndexedRandom;
use rand_chacha::ChaCha8Rng;
use std::fmt;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::Duration;

/// Most memory that the whole run may take, in bytes.
pub const MOST_MEMORY: u64 = 1 << 30;
/// Most processor time of one file, in seconds.
pub const MOST_SECONDS: f64 = 2.0;
/// Wall time after which a file is taken to run for ever, on however busy a machine.
const FOR_EVER: Duration = Duration::from_secs(120);

/// How many files to try, and how.
pub struct Plan {
    pub seed: u64,
    /// Files of the seed that are passed over, so that one may be tried again by itself.
    pub first: usize,
    pub files: usize,
    /// Where a file is kept that was at fault.
    pub keep: Option<PathBuf>,
}

/// What became of the files.
#[derive(Debug, Default)]
pub struct Tally {
    pub tried: usize,
    /// Files that are no UTF-8, which no parser sees.
    pub no_text: usize,
    pub understood: usize,
    pub faulted: usize,
    /// Faults told, all files together.
    pub faults: usize,
    /// Readings that the files that were understood were applied to, and those that a rule fitted.
    pub readings: usize,
    pub fitted: usize,
    pub panics: Vec<String>,
    /// Files beyond the time.
    pub slow: Vec<String>,
    /// Files whose faults do not say where.
    pub placeless: Vec<String>,
    /// Most seconds of processor time that a file took.
    pub slowest: f64,
    /// Most resident memory, in bytes.
    pub peak: u64,
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{:>8} files tried", self.tried)?;
        writeln!(f, "{:>8} no UTF-8", self.no_text)?;
        writeln!(f, "{:>8} understood", self.understood)?;
        writeln!(
            f,
            "{:>8} faulted, {} faults told",
            self.faulted, self.faults
        )?;
        writeln!(f, "{:>8} readings, {} fitted", self.readings, self.fitted)?;
        for (what, files) in [
            ("panicked", &self.panics),
            ("took too long", &self.slow),
            ("faulted without a place", &self.placeless),
        ] {
            writeln!(f, "{:>8} {what}", files.len())?;
            for file in files.iter().take(20) {
                writeln!(f, "         {file}")?;
            }
        }
        writeln!(
            f,
            "{:>8.2} s of processor time at most for one",
            self.slowest
        )?;
        write!(f, "{:>8} MB at most", self.peak / 1_000_000)
    }
}

impl Tally {
    /// Whether every file was understood or faulted with places, in time and within the memory.
    pub fn is_clean(&self) -> bool {
        let bad = [&self.panics, &self.slow, &self.placeless];
        bad.iter().all(|files| files.is_empty())
            && self.no_text + self.understood + self.faulted == self.tried
            && self.peak < MOST_MEMORY
    }
}

/// Mutated files, as many as planned.
pub fn fuzz(plan: &Plan) -> Tally {
    let corpus = Corpus::new(Path::new(env!("CARGO_MANIFEST_DIR")));
    let mut tally = Tally::default();
    let (working, watched) = mpsc::channel::<String>();
    let watch = std::thread::spawn(move || {
        let mut name = String::new();
        loop {
            match watched.recv_timeout(FOR_EVER) {
                Ok(next) => name = next,
                Err(RecvTimeoutError::Disconnected) => return,
                // A thread that does not end can be ended with its process only.
                Err(RecvTimeoutError::Timeout) => {
                    eprintln!("{name} takes for ever");
                    std::process::exit(1);
                }
            }
        }
    });
    for index in plan.first..plan.first + plan.files {
        let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
        random.set_stream(index as u64);
        let sound = corpus.files.choose(&mut random).expect("there are files");
        let bytes = mutated(&sound.text, &corpus, &mut random);
        let name = format!("{index}-{}", sound.name);
        working.send(name.clone()).expect("the watch lasts");
        tally.take(&name, &bytes, sound.is_job, plan.keep.as_deref());
    }
    drop(working);
    watch.join().expect("the watch ends");
    tally.peak = peak();
    tally
}

impl Tally {
    /// Tries one file.
    pub fn take(&mut self, name: &str, bytes: &[u8], is_job: bool, keep: Option<&Path>) {
        self.tried += 1;
        let bad = |tally: &Self| tally.panics.len() + tally.slow.len() + tally.placeless.len();
        let bad_before = bad(self);
        let start = processor_seconds();
        match std::str::from_utf8(bytes) {
            Err(_) => self.no_text += 1,
            Ok(text) => {
                let done = catch_unwind(AssertUnwindSafe(|| match is_job {
                    true => self.job(name, text),
                    false => self.rules(name, text),
                }));
                if done.is_err() {
                    self.panics.push(name.to_owned());
                }
            }
        }
        let took = processor_seconds() - start;
        self.slowest = self.slowest.max(took);
        if took > MOST_SECONDS {
            self.slow.push(format!("{name}: {took:.1} s"));
        }
        if let Some(folder) = keep.filter(|_| bad(self) > bad_before) {
            fs::write(folder.join(name), bytes).expect("the file can be kept");
        }
    }

    fn rules(&mut self, name: &str, text: &str) {
        let book = match RuleBook::parse("rules.toml", text) {
            Ok(book) => book,
            Err(faults) => return self.faults(name, text, &faults),
        };
        self.understood += 1;
        let rules: Vec<&str> = book.rules().collect();
        for reading in readings() {
            let fits = book.extract(&reading, &Around::default());
            self.readings += 1;
            self.fitted += usize::from(!fits.is_empty());
            for extracted in fits.iter().flat_map(|fit| &fit.fields) {
                let value = &extracted.candidates[0].value;
                book.written(&extracted.field, value);
            }
            let rule = rules[self.readings % rules.len()];
            let explained = book.explain(&reading, &Around::default(), rule);
            assert!(
                !explained
                    .expect("a rule of the book")
                    .to_string()
                    .is_empty()
            );
        }
    }

    fn job(&mut self, name: &str, text: &str) {
        match JobSettings::parse(Path::new("."), text) {
            Ok(settings) => {
                self.understood += 1;
                settings.unknown_fields(text, &["surname", "number"]);
            }
            Err(faults) => self.faults(name, text, &faults),
        }
    }

    fn faults(&mut self, name: &str, text: &str, faults: &Faults) {
        self.faulted += 1;
        self.faults += faults.faults.len() + faults.more;
        let lines = text.split('\n').count();
        let has_place = |line: usize, column: usize| (1..=lines).contains(&line) && column > 0;
        let told = faults.to_string();
        if faults.faults.is_empty()
            || told.is_empty()
            || !faults.faults.iter().all(|f| has_place(f.line, f.column))
        {
            self.placeless.push(name.to_owned());
        }
    }
}

/// What the files are applied to: strips of the examples, well and badly read, of several lines, long ones.
pub fn readings() -> [Reading; 4] {
    let of = |lines: &[&str], certainty: f64| Reading {
        lines: lines
            .iter()
            .map(|line| Line::certain(line, certainty))
            .collect(),
    };
    [
        of(
            &["HARGREAVES, MARY ANN    NO. 204517-4   1931-1958   2 OF 3"],
            0.97,
        ),
        of(
            &[
                "PAYROLL REGISTER  PERIOD ENDING 31 MAR 1974",
                "AARON - BAKER   TOTAL 1,204.50   FICHE 2 OF 14",
            ],
            0.8,
        ),
        of(&["QY4410"], 0.5),
        of(&[&"0 A-".repeat(50)], 0.6),
    ]
}

/// Processor time of this thread.
pub fn processor_seconds() -> f64 {
    let stat = fs::read_to_string("/proc/thread-self/schedstat").expect("this needs Linux");
    let nanoseconds = stat
        .split(' ')
        .next()
        .and_then(|text| text.parse::<f64>().ok());
    nanoseconds.expect("nanoseconds come first") / 1e9
}

/// Most resident memory of this process so far: `VmHWM` of /proc.
pub fn peak() -> u64 {
    let status = fs::read_to_string("/proc/self/status").expect("this needs Linux");
    let line = status.lines().find(|line| line.starts_with("VmHWM:"));
    let kilobytes = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<u64>().ok());
    kilobytes.expect("the kernel says it") * 1024
}
