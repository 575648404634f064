//! `headword report`: how far a job is, and how right.

mod html;
mod sections;

use super::page::put_page;
use super::report::columns;
use super::{CommandError, Exit, Report};
use crate::job::Job;
use crate::journal::{Entry, JournalError, ProposalRecord, Store};
use crate::proposal::Proposal;
use crate::review::{Chosen, Comparer, JobReport, SheetFacts, second_keying};
use crate::value::SheetId;
use sections::{Section, sections};
use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Report progress, speed, disagreements, error rates and the inspection of the lot
///
/// Holds no value of any strip. People are named only where --people asks for it.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// Write one HTML page with plots there; it needs nothing beside it
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Tell error rates by person, too: for the supervisor
    #[arg(long)]
    people: bool,
}

/// Entries read from the journal at a time.
const PAGE: usize = 1_000;

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let job = Job::open(&arguments.job)?;
    let mut report = report(&job).map_err(CommandError::input)?;
    if !arguments.people {
        for errors in &mut report.errors {
            errors.by_person.clear();
        }
    }
    let sections = sections(&report);
    let mut text = told(&report, &sections);
    if let Some(path) = &arguments.html {
        put_page(path, html::page(&report.title, &sections))?;
        let _ = writeln!(text, "\nThe page is in {}.", path.display());
    }
    Ok(Report::new(text, &report, Exit::Done))
}

/// A job's report from its journal.
fn report<S: Store>(job: &Job<S>) -> Result<JobReport, JournalError> {
    let histories = histories(&job.store)?;
    let settings = &job.settings;
    let chosen = |sheet: &SheetId, proposal: Option<&Proposal>| {
        let seed = settings.keying.seed;
        let chosen = second_keying(&settings.quality, seed, sheet, proposal);
        chosen.filter(|_| settings.keying.passes > 1)
    };
    // Of each proposal no more is kept than a report needs.
    let mut proposed: HashMap<SheetId, (Option<String>, Option<Chosen>)> = HashMap::new();
    for record in job.store.proposals()? {
        let ProposalRecord {
            sheet, proposal, ..
        } = record?;
        let second = chosen(&sheet, Some(&proposal));
        proposed.insert(sheet, (proposal.rule, second));
    }
    let overview = job.store.overview()?;
    let facts: Vec<SheetFacts> = overview
        .iter()
        .map(|status| {
            let sheet = &status.record.sheet;
            let (rule, second) = match proposed.get(sheet) {
                Some((rule, second)) => (rule.as_deref(), *second),
                None => (None, chosen(sheet, None)),
            };
            SheetFacts {
                sheet,
                history: histories.get(sheet).map_or(&[], Vec::as_slice),
                rule,
                second,
            }
        })
        .collect();
    let comparer = Comparer::new(&settings.quality, job.proposer.rules().fields());
    Ok(JobReport::of(settings, &comparer, &facts))
}

/// All entries by their sheet.
pub(super) fn histories<S: Store>(store: &S) -> Result<HashMap<SheetId, Vec<Entry>>, JournalError> {
    let mut histories: HashMap<SheetId, Vec<Entry>> = HashMap::new();
    let mut after = 0;
    loop {
        let page = store.entries(after, PAGE)?;
        let Some(last) = page.last() else { break };
        after = last.number;
        for entry in page {
            let history = histories.entry(entry.sheet.clone()).or_default();
            history.push(entry);
        }
    }
    Ok(histories)
}

/// The sections in words and columns.
fn told(report: &JobReport, sections: &[Section]) -> String {
    let mut text = format!("{}\n", report.title);
    for section in sections {
        let _ = writeln!(text, "\n{}", section.title.to_uppercase());
        for line in &section.lines {
            let _ = writeln!(text, "{line}");
        }
        for table in &section.tables {
            let rows: Vec<_> = std::iter::once(&table.head)
                .chain(&table.rows)
                .cloned()
                .collect();
            text.push('\n');
            text += &columns(&rows);
        }
    }
    text
}
