//! `headword read`: strips of new and changed sheets found, read, and proposed.

use super::report::{counted, exit_for};
use super::worker::ReaderName;
use super::{CommandError, Report, progress};
use crate::job::{Job, JobError, ReadSummary};
use crate::journal::Store;
use crate::reading::{Pool, PoolSettings};
use crate::value::{Finding, Severity};
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::thread;
use std::time::{Duration, Instant};

/// Find and read the strips of sheets that are new or changed, and propose their fields
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    #[command(flatten)]
    workers: Workers,
}

/// How the reading workers are run
#[derive(Debug, Clone, Copy, clap::Args)]
pub struct Workers {
    /// Worker processes; as many as there are cores unless said otherwise
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=256))]
    workers: Option<u16>,
    /// Seconds after which a sheet is given up
    #[arg(long, default_value_t = PoolSettings::DEADLINE.as_secs(), value_parser = clap::value_parser!(u64).range(1..=3600))]
    deadline: u64,
    /// What reads the lines
    #[arg(long, value_enum, default_value_t)]
    reader: ReaderName,
}

impl Workers {
    pub fn pool(self) -> Result<Pool, CommandError> {
        let program = std::env::current_exe().map_err(CommandError::ours)?;
        let cores = || thread::available_parallelism().map_or(1, usize::from);
        Ok(Pool::new(PoolSettings {
            program,
            arguments: vec![
                "worker".into(),
                "--reader".into(),
                self.reader.name().into(),
            ],
            workers: self.workers.map_or_else(cores, usize::from),
            deadline: Duration::from_secs(self.deadline),
        }))
    }
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let mut job = Job::open(&arguments.job)?;
    let done = read_and_propose(&mut job, &arguments.workers.pool()?)?;
    let exit = exit_for(done.all_findings());
    Ok(Report::new(done.to_string(), &done, exit))
}

/// What one run did.
#[derive(Debug, Serialize)]
pub struct Done {
    #[serde(flatten)]
    pub summary: ReadSummary,
    pub proposed: usize,
    pub roster_findings: Vec<Finding>,
    pub seconds_reading: f64,
    pub seconds_proposing: f64,
}

/// Reads, then proposes, with a bar for each.
pub fn read_and_propose<S: Store>(job: &mut Job<S>, pool: &Pool) -> Result<Done, CommandError> {
    let start = Instant::now();
    let bar = progress::bar("reading", 0);
    let summary = job.read(pool, |done, total| {
        bar.set_length(total as u64);
        bar.set_position(done as u64);
        true
    })?;
    bar.finish_and_clear();
    let seconds_reading = start.elapsed().as_secs_f64();
    let start = Instant::now();
    let bar = progress::bar("proposing", 0);
    let proposed = job.propose(|done, total| {
        bar.set_length(total as u64);
        bar.set_position(done as u64);
    })?;
    bar.finish_and_clear();
    Ok(Done {
        summary,
        proposed,
        roster_findings: job.findings.clone(),
        seconds_reading,
        seconds_proposing: start.elapsed().as_secs_f64(),
    })
}

impl Done {
    fn all_findings(&self) -> impl Iterator<Item = &Finding> {
        let sheets = self.summary.findings.iter().map(|(_, finding)| finding);
        sheets
            .chain(&self.summary.folder_findings)
            .chain(&self.roster_findings)
    }
}

/// Findings of one sort listed by sheet before the rest is only counted.
const LISTED: usize = 5;

impl std::fmt::Display for Done {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let ReadSummary {
            sheets,
            read,
            unchanged,
            vanished,
            ..
        } = &self.summary;
        let sheets = counted(*sheets, "sheet");
        write!(f, "{sheets}: {read} read, {unchanged} unchanged")?;
        if *vanished > 0 {
            write!(
                f,
                ", {vanished} whose files are gone (their readings are kept)"
            )?;
        }
        writeln!(f, "; {} proposed", self.proposed)?;
        if *read > 0 {
            let rate = *read as f64 / self.seconds_reading;
            let spent: Vec<String> = self
                .summary
                .milliseconds
                .iter()
                .map(|(step, spent)| format!("{step} {:.0} ms", spent / *read as f64))
                .collect();
            write!(f, "{rate:.1} sheets a second")?;
            // Where no image opened, no step took any time.
            if !spent.is_empty() {
                write!(f, "; a sheet took on average: {}", spent.join(", "))?;
            }
            writeln!(f)?;
        }
        for finding in self
            .summary
            .folder_findings
            .iter()
            .chain(&self.roster_findings)
        {
            writeln!(f, "{}: {}", finding.severity, finding.message)?;
        }
        let mut by_code: BTreeMap<(Severity, &str), Vec<String>> = BTreeMap::new();
        for (sheet, finding) in &self.summary.findings {
            let line = format!("{sheet}: {}", finding.message);
            by_code
                .entry((finding.severity, &finding.code))
                .or_default()
                .push(line);
        }
        for ((severity, code), lines) in by_code.iter().rev() {
            writeln!(f, "{severity}, {code}: {}", counted(lines.len(), "sheet"))?;
            lines
                .iter()
                .take(LISTED)
                .try_for_each(|line| writeln!(f, "  {line}"))?;
            if lines.len() > LISTED {
                writeln!(f, "  and {} more", lines.len() - LISTED)?;
            }
        }
        Ok(())
    }
}

impl From<JobError> for CommandError {
    fn from(fault: JobError) -> Self {
        match fault {
            JobError::Reading(_) => Self::ours(fault),
            _ => Self::input(fault),
        }
    }
}
