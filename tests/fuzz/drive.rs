//! Files driven through the program's own reading workers, and what became of each.

use super::mutate::mutated;
use headword::reading::{Outcome, Pool, PoolSettings};
use headword::value::Severity;
use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;
use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::Duration;

/// Most memory that a worker may take, in bytes.
pub const MOST_MEMORY: u64 = 1 << 30;

/// Rest between two looks at the workers' memory.
const WATCH: Duration = Duration::from_millis(20);

/// How many files to try, and how.
pub struct Plan {
    pub seed: u64,
    pub files: usize,
    pub workers: usize,
    /// Where a file is kept whose worker died or was late.
    pub keep: Option<PathBuf>,
}

/// What became of the files.
#[derive(Debug, Default)]
pub struct Tally {
    pub tried: usize,
    pub opened: usize,
    /// By the first words of the reason.
    pub refused: BTreeMap<String, usize>,
    /// Files that ended a worker, once or twice.
    pub crashes: Vec<String>,
    /// Files beyond the deadline.
    pub hangs: Vec<String>,
    /// Files without a strip and without a finding.
    pub unaccounted: Vec<String>,
    /// Most resident memory of a worker, in bytes.
    pub peak: u64,
    /// Most milliseconds that a file took, by step.
    pub slowest: BTreeMap<String, f64>,
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{:>7} files tried", self.tried)?;
        writeln!(f, "{:>7} opened", self.opened)?;
        for (reason, count) in &self.refused {
            writeln!(f, "{count:>7} refused: {reason}")?;
        }
        for (what, files) in [
            ("ended a worker", &self.crashes),
            ("ran into the deadline", &self.hangs),
            ("unaccounted for", &self.unaccounted),
        ] {
            writeln!(f, "{:>7} {what}", files.len())?;
            for file in files.iter().take(20) {
                writeln!(f, "        {file}")?;
            }
        }
        for (step, took) in &self.slowest {
            writeln!(f, "{took:>7.0} ms at most to {step}")?;
        }
        write!(f, "{:>7} MB at most in a worker", self.peak / 1_000_000)
    }
}

impl Tally {
    /// Whether every file was opened or refused with a reason, in time and within the memory.
    pub fn is_clean(&self) -> bool {
        let faults = [&self.crashes, &self.hangs, &self.unaccounted];
        faults.iter().all(|files| files.is_empty())
            && self.opened + self.refused.values().sum::<usize>() == self.tried
            && self.peak < MOST_MEMORY
    }

    fn count(&mut self, name: &str, outcome: &Outcome<PathBuf>) {
        self.tried += 1;
        let findings = &outcome.sheet.findings;
        for (step, took) in &outcome.sheet.milliseconds {
            let slowest = self.slowest.entry(step.clone()).or_default();
            *slowest = slowest.max(*took);
        }
        let said = |code: &str| findings.iter().find(|finding| finding.code == code);
        if let Some(finding) = said("worker-died").or(said("read-at-second-try")) {
            self.crashes.push(format!("{name}: {}", finding.message));
        } else if said("worker-late").is_some() {
            self.hangs.push(name.to_owned());
        } else if let Some(finding) = said("cannot-open") {
            *self.refused.entry(kind_of(&finding.message)).or_default() += 1;
        } else if outcome.sheet.lay.is_none()
            && !findings
                .iter()
                .any(|finding| finding.severity > Severity::Note)
        {
            self.unaccounted.push(name.to_owned());
        } else {
            self.opened += 1;
        }
    }
}

/// A reason without the numbers and names that differ from file to file.
fn kind_of(message: &str) -> String {
    let first = message.split([';', ':']).next().unwrap_or_default();
    let words = first.split(' ').map(|word| {
        let is_number = !word.is_empty() && word.chars().all(|c| c.is_ascii_digit());
        if is_number { "N" } else { word }
    });
    words.collect::<Vec<_>>().join(" ")
}

/// Share of whole sheets among the files: they take a hundred times as long, but reach what comes after opening.
const SHEETS: f64 = 0.03;

/// The images of a folder of the repository, with their names.
fn images(folder: &str) -> Vec<(String, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut files: Vec<(String, Vec<u8>)> = fs::read_dir(folder)
        .expect("a folder of the repository")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| {
            path.extension()
                .is_some_and(|e| e == "png" || e == "jpg" || e == "tif")
        })
        .map(|path| {
            let name = path
                .file_name()
                .expect("a name")
                .to_string_lossy()
                .into_owned();
            (name, fs::read(path).expect("a file"))
        })
        .collect();
    files.sort();
    files
}

/// Mutated files, as many as planned, each through a worker.
pub fn fuzz(plan: &Plan, program: &Path) -> Tally {
    let (kinds, sheets) = (images("tests/data/strip"), images("demo-data/sheets"));
    let folder = tempfile::tempdir().expect("a folder for the files");
    let files = (0..plan.files).map(|index| {
        let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
        random.set_stream(index as u64);
        let sound = if random.random_bool(SHEETS) {
            &sheets
        } else {
            &kinds
        };
        let (name, bytes) = sound.choose(&mut random).expect("there are files");
        let path = folder.path().join(format!("{index}-{name}"));
        fs::write(&path, mutated(bytes, &mut random)).expect("the file can be written");
        path
    });
    drive(files, plan, program, |path| {
        let _ = fs::remove_file(path);
    })
}

/// Files that lie there already, each through a worker.
pub fn drive(
    files: impl Iterator<Item = PathBuf> + Send,
    plan: &Plan,
    program: &Path,
    mut done: impl FnMut(&Path),
) -> Tally {
    let pool = Pool::new(PoolSettings {
        program: program.to_owned(),
        arguments: vec!["worker".into()],
        workers: plan.workers,
        deadline: PoolSettings::DEADLINE,
    });
    let mut tally = Tally::default();
    let peak = AtomicU64::new(0);
    std::thread::scope(|scope| {
        // Dropped at the end, also by a panic: then the watch ends.
        let (_watched, ended) = mpsc::channel::<()>();
        let peak = &peak;
        scope.spawn(move || {
            while ended.recv_timeout(WATCH) == Err(RecvTimeoutError::Timeout) {
                peak.fetch_max(peak_of_workers(), Ordering::Relaxed);
            }
        });
        let outcome = pool.read_all(files, PathBuf::clone, |outcome| {
            let name = outcome
                .job
                .file_name()
                .unwrap_or_default()
                .to_string_lossy();
            let faults = tally.crashes.len() + tally.hangs.len() + tally.unaccounted.len();
            tally.count(&name, &outcome);
            let is_fault =
                faults < tally.crashes.len() + tally.hangs.len() + tally.unaccounted.len();
            if let Some(folder) = plan.keep.as_ref().filter(|_| is_fault) {
                let _ = fs::copy(&outcome.job, folder.join(name.as_ref()));
            }
            done(&outcome.job);
            true
        });
        outcome.expect("workers start");
    });
    tally.peak = peak.into_inner();
    tally
}

/// Most resident memory, so far, of a worker that runs now: `VmHWM` of /proc.
fn peak_of_workers() -> u64 {
    let own = std::process::id().to_string();
    let processes = fs::read_dir("/proc").expect("this needs /proc");
    let peaks = processes.filter_map(|entry| {
        let status = fs::read_to_string(entry.ok()?.path().join("status")).ok()?;
        let field = |name: &str| {
            let line = status.lines().find(|line| line.starts_with(name))?;
            line.split_whitespace().nth(1).map(str::to_owned)
        };
        (field("PPid:")? == own)
            .then(|| field("VmHWM:")?.parse::<u64>().ok())
            .flatten()
    });
    peaks.max().unwrap_or(0) * 1024
}
