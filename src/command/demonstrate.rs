//! `headword demo`: the invented harbour board's sheets drawn, read, indexed, and held against the truth.

use super::demo::{
    Collection, CollectionKind, FontUse, PlannedSheet, Settings, Trouble, Truth, draw, readings,
    truth,
};
use super::key::{self, expect_terminal};
use super::read::{Workers, read_and_propose};
use super::report::counted;
use super::score::{Attempt, ScoreBoard};
use super::{CommandError, Exit, Report, index, progress};
use crate::job::{JOB_FILE, Job, Proposer, Seen};
use crate::journal::{MemoryStore, ReadingRecord, SheetRecord, SqliteStore, Store};
use crate::proposal::Before;
use crate::reading::Reading;
use crate::value::{SheetId, sha256_hex};
use clap::ValueEnum;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, OnceLock};
use std::thread;
use std::time::Instant;

/// Who keys at the desk that a demo opens.
const DEMO_CLERK: &str = "demo";

/// Draw an invented harbour board's sheets, read them, and write a draft index beside the truth
///
/// Makes a job in DIR: sheets, roster, rules, job.toml, and truth.csv, which says what is on each sheet.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Where the job goes; a new folder, or one that an earlier demo with the same options was making
    #[arg(default_value = "harbour-board")]
    dir: PathBuf,
    /// Do not open the clerk's desk at the end
    #[arg(long)]
    headless: bool,
    /// What the board's drawer holds
    #[arg(long, value_enum, default_value_t = CollectionKind::Personnel)]
    collection: CollectionKind,
    /// Sheets to draw; those of the repository's demo-data, which show every trouble, unless said otherwise
    #[arg(long, value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    sheets: Option<u32>,
    /// Another seed, other sheets
    #[arg(long)]
    seed: Option<u64>,
    /// How hard the sheets are to read
    #[arg(long, value_enum, default_value_t = NoiseMix::Mixed)]
    noise: NoiseMix,
    /// Give every sheet this kind of trouble and no other (mirrored, curled, two-sheets, ...)
    #[arg(long, value_name = "NAME", conflicts_with = "noise")]
    trouble: Option<Trouble>,
    /// Share of strips, 0 to 1, whose layout no starter rule covers: to count the rules that fit one all the same
    #[arg(long, value_name = "SHARE", default_value_t = 0.0, value_parser = share)]
    strange: f64,
    /// Typefaces that the strip finder was tuned on, or those kept for reporting
    #[arg(long, value_enum, default_value_t = Fonts::Tuning)]
    fonts: Fonts,
    /// What to keep on disk
    #[arg(long, value_enum, default_value_t = Keep::Sheets)]
    keep: Keep,
    #[command(flatten)]
    workers: Workers,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum NoiseMix {
    /// Every second sheet heavy
    Mixed,
    Default,
    Heavy,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Fonts {
    Tuning,
    Reporting,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Keep {
    /// The job with its sheets
    Sheets,
    /// Readings made without pictures, for measuring the later stations
    Readings,
    /// What is typed, as a reader without fault would read it, for measuring the rules alone
    Text,
    /// Nothing: each sheet is drawn, read and thrown away; DIR is not made
    Nothing,
}

fn share(text: &str) -> Result<f64, String> {
    let share = text
        .parse()
        .ok()
        .filter(|share| (0.0..=1.0).contains(share));
    share.ok_or_else(|| "expected a share from 0 to 1, as in 0.1".to_owned())
}

impl Arguments {
    fn settings(&self) -> Settings {
        let base = match self.sheets {
            None => Settings::committed(self.collection),
            Some(sheets) => Settings {
                kind: self.collection,
                sheets: sheets as usize,
                ..Settings::default()
            },
        };
        Settings {
            seed: self.seed.unwrap_or(base.seed),
            heavy_share: match self.noise {
                NoiseMix::Mixed => base.heavy_share,
                NoiseMix::Default => 0.0,
                NoiseMix::Heavy => 1.0,
            },
            fonts: match self.fonts {
                Fonts::Tuning => FontUse::Tuning,
                Fonts::Reporting => FontUse::Reporting,
            },
            strange: self.strange,
            trouble: self.trouble,
            ..base
        }
    }

    /// What was asked for, in the job file, so that a demo can go on where it was stopped and never mixes two.
    fn job_file(&self, settings: &Settings) -> String {
        let Settings {
            kind,
            seed,
            sheets,
            heavy_share,
            fonts,
            strange,
            trouble,
            ..
        } = settings;
        let mut noise = match trouble {
            Some(trouble) => format!("all {trouble}"),
            None => format!("{:.0} % heavy", heavy_share * 100.0),
        };
        if *strange > 0.0 {
            noise += &format!(", {:.1} % strange", strange * 100.0);
        }
        format!(
            "# Drawn by headword demo: {sheets} sheets, seed {seed}, {noise}, {fonts:?} fonts, keeping {:?}.\n{}",
            self.keep,
            (kind.particulars().job)()
        )
    }
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let collection = Collection::new(arguments.settings());
    if arguments.keep == Keep::Nothing {
        return measure(arguments, &collection);
    }
    let folder = &arguments.dir;
    lay_out(
        folder,
        &arguments.job_file(collection.settings()),
        &collection,
    )?;
    let mut text = String::new();
    let mut job = Job::open(folder)?;
    let read: Option<fn(&PlannedSheet) -> Reading> = match arguments.keep {
        Keep::Readings => Some(readings::reading),
        Keep::Text => Some(readings::faultless),
        Keep::Sheets | Keep::Nothing => None,
    };
    let truths = match read {
        Some(read) => keep_readings(&mut job, &collection, read)?,
        None => draw_all(folder, &collection)?,
    };
    write_truths(folder, &truths)?;
    if read.is_none() {
        let done = read_and_propose(&mut job, &arguments.workers.pool()?)?;
        text += &format!("{done}\n");
    }
    let written = index::write_draft(&job)?;
    let particulars = arguments.collection.particulars();
    let board = score(&job, &truths, ScoreBoard::new(particulars.identifier))?;
    text += &format!(
        "{board}\n{} and {} are in {}\n",
        counted(written.records, "record"),
        counted(written.exceptions, "exception"),
        written.folder.display()
    );
    if !arguments.headless && expect_terminal("key").is_ok() {
        // What was drawn and read stands on the screen again once the desk is left.
        key::run(&key::Arguments::of(folder.to_owned(), DEMO_CLERK))?;
    }
    text += &next_steps(folder, particulars.rules.0);
    let json = serde_json::json!({ "job": folder, "draft": written, "score": board });
    Ok(Report::new(text, json, Exit::Done))
}

fn next_steps(folder: &Path, rules: &str) -> String {
    let folder = folder.display();
    format!(
        "Look next at {folder}/out/draft/index.csv, {folder}/{rules}, and\n  \
         headword key {folder}\n  headword rules {folder}\n  headword check {folder}\n  headword find {folder} NAME\n"
    )
}

/// Writes everything of the job but the sheets.
fn lay_out(folder: &Path, job_file: &str, collection: &Collection) -> Result<(), CommandError> {
    let path = folder.join(JOB_FILE);
    let is_new = match fs::read_dir(folder) {
        Ok(mut entries) => entries.next().is_none(),
        Err(_) => true,
    };
    if !is_new && fs::read_to_string(&path).ok().as_deref() != Some(job_file) {
        return Err(CommandError::Input(format!(
            "{}: expected a new folder, or one that a demo with the same options was making; found other files; \
             name another folder, or remove this one",
            folder.display()
        )));
    }
    let write = || -> Result<(), std::io::Error> {
        fs::create_dir_all(folder.join("sheets"))?;
        fs::create_dir_all(folder.join("rules"))?;
        fs::write(&path, job_file)?;
        let (rules, text) = collection.settings().kind.particulars().rules;
        fs::write(folder.join(rules), text)?;
        match collection.roster().map_err(std::io::Error::other)? {
            Some(roster) => fs::write(folder.join("roster.csv"), roster),
            None => Ok(()),
        }
    };
    write().map_err(|fault| cannot_write(folder, fault))
}

fn cannot_write(folder: &Path, fault: std::io::Error) -> CommandError {
    CommandError::Input(format!(
        "{}: cannot write the demo here: {fault}",
        folder.display()
    ))
}

/// Draws on all cores; a sheet's file appears whole or not at all, and one that is there is kept.
fn draw_all(folder: &Path, collection: &Collection) -> Result<Vec<Truth>, CommandError> {
    let bar = progress::bar("drawing", collection.len() as u64);
    let truths: Vec<OnceLock<Truth>> = (0..collection.len()).map(|_| OnceLock::new()).collect();
    let next = AtomicUsize::new(0);
    let draw_share = || -> Result<(), std::io::Error> {
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            if at >= collection.len() {
                return Ok(());
            }
            let drawn = draw::draw(&collection.sheet(at));
            let path = folder.join("sheets").join(&drawn.truth.sheet);
            if !path.exists() {
                let unfinished = folder
                    .join("sheets")
                    .join(format!(".{}", drawn.truth.sheet));
                fs::write(&unfinished, drawn.encode().map_err(std::io::Error::other)?)?;
                fs::rename(&unfinished, &path)?;
            }
            let _ = truths[at].set(drawn.truth);
            bar.inc(1);
        }
    };
    let cores = thread::available_parallelism().map_or(1, usize::from);
    thread::scope(|scope| {
        let threads: Vec<_> = (0..cores).map(|_| scope.spawn(draw_share)).collect();
        threads
            .into_iter()
            .try_for_each(|thread| thread.join().expect("drawing does not panic"))
    })
    .map_err(|fault| cannot_write(folder, fault))?;
    bar.finish_and_clear();
    let truths: Vec<Truth> = truths
        .into_iter()
        .filter_map(OnceLock::into_inner)
        .collect();
    Ok(truths)
}

fn write_truths(folder: &Path, truths: &[Truth]) -> Result<(), CommandError> {
    let file = fs::File::create(folder.join("truth.csv")).map_err(|f| cannot_write(folder, f))?;
    truth::write(file, truths).map_err(CommandError::ours)
}

/// Readings made up from the plans, straight into the journal.
fn keep_readings(
    job: &mut Job<SqliteStore>,
    collection: &Collection,
    read: fn(&PlannedSheet) -> Reading,
) -> Result<Vec<Truth>, CommandError> {
    let mut truths = Vec::with_capacity(collection.len());
    let plans: Vec<PlannedSheet> = collection.sheets().collect();
    for batch in plans.chunks(256) {
        let (mut sheets, mut records) = (Vec::new(), Vec::new());
        for plan in batch {
            let sheet = SheetId::new(plan.file_name());
            let key = sha256_hex(format!("{}/{}", plan.seed, plan.index).as_bytes());
            sheets.push(SheetRecord::new(sheet.clone(), key.clone(), 0, 0));
            records.push(ReadingRecord::new(sheet, key, None, read(plan)));
            truths.push(Truth::planned(plan));
        }
        job.store.put_sheets(&sheets).map_err(CommandError::input)?;
        job.store
            .put_readings(&records)
            .map_err(CommandError::input)?;
    }
    let start = Instant::now();
    let proposed = job.propose(|_, _| ())?;
    eprintln!(
        "{proposed} proposed in {:.1} s",
        start.elapsed().as_secs_f64()
    );
    Ok(truths)
}

fn score<S: Store>(
    job: &Job<S>,
    truths: &[Truth],
    mut board: ScoreBoard,
) -> Result<ScoreBoard, CommandError> {
    for truth in truths {
        let sheet = SheetId::new(truth.sheet.as_str());
        let reading = job.store.reading(&sheet).map_err(CommandError::input)?;
        let proposal = job.store.proposal(&sheet).map_err(CommandError::input)?;
        if let (Some(reading), Some(proposal)) = (reading, proposal) {
            board.add(
                truth,
                &Attempt {
                    lay: reading.lay.as_ref(),
                    reading: &reading.reading,
                    findings: &reading.findings,
                    extractions: &proposal.extractions,
                    proposal: &proposal.proposal,
                },
            );
        }
    }
    Ok(board)
}

/// A sheet on its way through [`measure`]: drawn by the worker's thread when it is its turn.
struct Passing {
    plan: PlannedSheet,
    drawn: Mutex<Option<(Truth, PathBuf)>>,
}

/// Draws, reads, proposes and scores sheet by sheet; only a handful of files exist at any time.
fn measure(arguments: &Arguments, collection: &Collection) -> Result<Report, CommandError> {
    let scratch = tempfile::tempdir().map_err(CommandError::input)?;
    lay_out(
        scratch.path(),
        &arguments.job_file(collection.settings()),
        collection,
    )?;
    let job = Job::with_store(scratch.path(), MemoryStore::default())?;
    let proposer: &Proposer = &job.proposer;
    let bar = progress::bar("drawing and reading", collection.len() as u64);
    let mut board = ScoreBoard::new(arguments.collection.particulars().identifier);
    let jobs = collection.sheets().map(|plan| Passing {
        plan,
        drawn: Mutex::new(None),
    });
    arguments
        .workers
        .pool()?
        .read_all(
            jobs,
            |passing: &Passing| {
                let drawn = draw::draw(&passing.plan);
                let path = scratch.path().join("sheets").join(&drawn.truth.sheet);
                // What cannot be written cannot be opened either, and that is what the worker will say.
                let _ = drawn.encode().map(|bytes| fs::write(&path, bytes));
                *passing.drawn.lock().expect("nobody panics with it") =
                    Some((drawn.truth, path.clone()));
                path
            },
            |outcome| {
                let drawn = outcome
                    .job
                    .drawn
                    .into_inner()
                    .expect("nobody panics with it");
                if let Some((truth, path)) = drawn {
                    let _ = fs::remove_file(path);
                    let sheet = &outcome.sheet;
                    let seen = Seen {
                        reading: &sheet.reading,
                        findings: &sheet.findings,
                        lay: sheet.lay.as_ref(),
                    };
                    let extractions = proposer.extract(&seen);
                    // Sheets come back in any order, so none has another before it.
                    let proposal = proposer.propose(&seen, &extractions, &Before::default());
                    board.add(
                        &truth,
                        &Attempt {
                            lay: sheet.lay.as_ref(),
                            reading: &sheet.reading,
                            findings: &sheet.findings,
                            extractions: &extractions,
                            proposal: &proposal,
                        },
                    );
                }
                bar.inc(1);
                true
            },
        )
        .map_err(CommandError::ours)?;
    bar.finish_and_clear();
    Ok(Report::new(board.to_string(), &board, Exit::Done))
}
