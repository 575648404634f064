//! `headword roster`: the client's list replaced by a newer one, with what that does to the job.

use super::batch::{Delivery, Scope};
use super::key::person;
use super::progress;
use super::report::{columns, counted};
use super::{CommandError, Exit, Report};
use crate::delivery::{Check, Links, Record};
use crate::job::{Job, NewerRoster};
use crate::journal::Replacement;
use crate::roster::Difference;
use crate::value::{Finding, SheetId, shown};
use jiff::Timestamp;
use serde::Serialize;
use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::PathBuf;

/// Replace the job's roster by a newer one, and see which sheets that concerns
///
/// Compares both by the key column, row by row: added, gone, changed, keys that name somebody else now. Lists the keyed
/// sheets whose row is gone or says something else in what the index delivers; `headword check` goes on listing them until
/// they are keyed again. The roster before stays beside the new one, under a number; who replaced it, and when, is kept.
/// Waiting sheets are proposed anew.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// The newer list, a CSV file with the same key column
    newer: PathBuf,
    /// Only show what differs; nothing is changed
    #[arg(long)]
    dry_run: bool,
    /// Who decides it; the name that the system has for you unless said otherwise
    #[arg(long = "as", value_name = "NAME")]
    person: Option<String>,
}

/// Rows of one sort that are shown before the rest is only counted.
const SHOWN: usize = 10;

/// Of the rows before, so many gone suggest that it is another list.
const MANY_GONE: f64 = 0.5;

#[derive(Debug, Serialize)]
struct Outcome {
    difference: Difference,
    /// Keyed sheets whose links do not hold with the newer roster, with the way to mend them.
    sheets: Vec<Check>,
    /// Of these sheets, those whose links did not hold before either.
    already: usize,
    findings: Vec<Finding>,
    replaced: bool,
    /// The name of the roster before, beside the new one.
    kept_as: Option<String>,
    /// Waiting sheets that were proposed anew.
    proposed: usize,
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let mut job = Job::open(&arguments.job)?;
    let newer = job.newer_roster(&arguments.newer)?;
    let hash = job.roster_hash()?;
    if hash == newer.hash {
        let text = format!(
            "{} is the roster that the job has already, byte for byte; there is nothing to replace",
            arguments.newer.display()
        );
        let json = serde_json::json!({ "replaced": false });
        return Ok(Report::new(text, json, Exit::Done));
    }
    let old = job
        .proposer
        .roster()
        .expect("a job with a newer roster has one");
    let difference = old.difference(&newer.roster);
    let delivery = Delivery::of(&job, Scope::Draft)?;
    let links = |roster| Links {
        roster,
        columns: job.proposer.roster_columns(),
        delivered: &delivery.plan.checks.from_roster,
    };
    let records: Vec<&Record> = delivery.records.iter().filter(|r| r.is_indexed()).collect();
    let before = sheets_of(&links(old).checks(&records));
    let checks = links(&newer.roster).checks(&records);
    let concerned = sheets_of(&checks);
    let mut outcome = Outcome {
        already: concerned.intersection(&before).count(),
        findings: findings(&difference, &newer),
        difference,
        sheets: checks,
        replaced: false,
        kept_as: None,
        proposed: 0,
    };
    if !arguments.dry_run {
        let person = person(arguments.person.as_deref())?;
        let at = Timestamp::now().as_millisecond();
        let replacement = outcome.replacement(hash, concerned);
        let kept = job.replace_roster(&newer, &person, at, replacement)?;
        outcome.kept_as = Some(kept);
        outcome.replaced = true;
        let bar = progress::bar("proposing", 0);
        let proposed = job.propose(|done, of| {
            bar.set_length(of as u64);
            bar.set_position(done as u64);
        });
        bar.finish_and_clear();
        outcome.proposed = proposed?;
    }
    let text = outcome.in_words(arguments);
    let is_clean = outcome.sheets.is_empty() && outcome.findings.is_empty();
    let exit = if is_clean { Exit::Done } else { Exit::Findings };
    Ok(Report::new(text, &outcome, exit))
}

fn sheets_of(checks: &[Check]) -> BTreeSet<SheetId> {
    checks
        .iter()
        .flat_map(|check| check.sheets.clone())
        .collect()
}

/// What somebody should look at in the newer roster itself.
fn findings(difference: &Difference, newer: &NewerRoster) -> Vec<Finding> {
    use crate::value::{Severity, Station};
    let mut findings = newer.findings.clone();
    let mut warn = |code: &str, message: String| {
        findings.push(Finding::new(
            Severity::Warning,
            Station::Roster,
            code,
            message,
        ));
    };
    let others = difference.others().count();
    if others > 0 {
        warn(
            "roster-key-reused",
            format!(
                "{} of the newer roster whose names have nothing in common with those before: ask the client whether \
                 the keys were given to others",
                counted(others, "row")
            ),
        );
    }
    let [before, now] = difference.rows;
    if difference.gone.len() as f64 > MANY_GONE * before as f64 {
        warn(
            "roster-mostly-gone",
            format!(
                "{} of {before} rows are gone, and the newer roster has {now}: see that it is the whole list, of the \
                 same client, with the same keys",
                difference.gone.len()
            ),
        );
    }
    findings
}

impl Outcome {
    fn replacement(&self, before: String, concerned: BTreeSet<SheetId>) -> Replacement {
        let count = |count: usize| count as u64;
        Replacement {
            before,
            rows: self.difference.rows.map(count),
            added: count(self.difference.added.len()),
            gone: count(self.difference.gone.len()),
            changed: count(self.difference.changed.len()),
            others: count(self.difference.others().count()),
            concerned: concerned.into_iter().collect(),
            ..Replacement::default()
        }
    }

    fn in_words(&self, arguments: &Arguments) -> String {
        let (job, newer) = (
            arguments.job.display().to_string(),
            arguments.newer.display().to_string(),
        );
        let difference = &self.difference;
        let [before, now] = difference.rows;
        let mut text = format!(
            "the job's roster: {}; {}: {now}\n{} added, {} gone, {} changed\n",
            counted(before, "row"),
            shown(&newer),
            difference.added.len(),
            difference.gone.len(),
            difference.changed.len()
        );
        for (what, columns) in [
            ("new columns", &difference.columns_added),
            ("columns that are gone", &difference.columns_gone),
        ] {
            if !columns.is_empty() {
                let _ = writeln!(text, "{what}: {}", shown(&columns.join(", ")));
            }
        }
        let added = difference
            .added
            .iter()
            .map(|row| vec![shown(&row.key).into(), line(row.line)]);
        list(&mut text, "added", added.collect());
        let gone = difference.gone.iter().map(|row| {
            let perhaps = row.perhaps_now.as_ref();
            let perhaps =
                perhaps.map(|key| format!("perhaps {} now, which says the same", shown(key)));
            vec![
                shown(&row.key).into(),
                line(row.line),
                perhaps.unwrap_or_default(),
            ]
        });
        list(
            &mut text,
            "gone (lines of the roster before)",
            gone.collect(),
        );
        let changed = difference.changed.iter().map(|row| {
            let cells = row.cells.iter().map(|cell| {
                format!(
                    "{} {:?} to {:?}",
                    shown(&cell.column),
                    shown(&cell.before),
                    shown(&cell.now)
                )
            });
            let another = if row.is_another { "another? " } else { "" };
            let cells: Vec<String> = cells.collect();
            vec![
                shown(&row.key).into(),
                line(row.line),
                format!("{another}{}", cells.join(", ")),
            ]
        });
        list(&mut text, "changed", changed.collect());
        for finding in &self.findings {
            let _ = writeln!(text, "{}: {}", finding.severity, finding.message);
        }
        self.tell_sheets(&mut text);
        let _ = match (&self.kept_as, arguments.dry_run) {
            (Some(kept), _) => writeln!(
                text,
                "The roster was replaced; the one before is {}. {} proposed anew. Desks that are open go on with the one \
                 before until they are opened again.",
                shown(kept),
                counted(self.proposed, "sheet")
            ),
            (None, _) => writeln!(
                text,
                "Nothing was changed. To replace the roster:\n  headword roster {} {}",
                shown(&job),
                shown(&newer)
            ),
        };
        text
    }

    fn tell_sheets(&self, text: &mut String) {
        let concerned = sheets_of(&self.sheets).len();
        if concerned == 0 {
            *text += "No keyed sheet is linked to a row that is gone or says something else in what the index delivers.\n";
            return;
        }
        let already = match self.already {
            0 => String::new(),
            already => format!(", {already} of them already before"),
        };
        let _ = writeln!(
            text,
            "keyed sheets that this concerns: {concerned}{already}"
        );
        for check in self.sheets.iter().take(SHOWN) {
            let sheets: Vec<_> = check
                .sheets
                .iter()
                .take(SHOWN)
                .map(|s| shown(s.as_str()))
                .collect();
            let more = check.sheets.len() - sheets.len();
            let more = if more > 0 {
                format!(" and {more} more")
            } else {
                String::new()
            };
            let _ = writeln!(text, "  {}{more}: {}", sheets.join(", "), check.message);
        }
        if self.sheets.len() > SHOWN {
            let more = self.sheets.len() - SHOWN;
            let _ = writeln!(text, "  and {more} more; headword check lists all");
        }
    }
}

fn line(line: u32) -> String {
    format!("line {line}")
}

fn list(text: &mut String, what: &str, mut rows: Vec<Vec<String>>) {
    if rows.is_empty() {
        return;
    }
    let more = rows.len().saturating_sub(SHOWN);
    rows.truncate(SHOWN);
    let _ = writeln!(text, "{what}:");
    *text += &columns(&rows);
    if more > 0 {
        let _ = writeln!(text, "  and {more} more; --json lists all");
    }
}
