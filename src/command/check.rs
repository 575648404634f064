//! `headword check`: what stands between the batch and its delivery.

use super::batch::{Delivery, Scope, worst};
use super::report::counted;
use super::{CommandError, Exit, Report, proof};
use crate::delivery::{checks_csv, replace_folder};
use crate::job::Job;
use crate::value::{Severity, shown};
use serde_json::json;
use std::fmt::Write;
use std::path::PathBuf;

/// Check the batch: sheets accounted for, required fields, parts, dates, duplicates, images, file names
///
/// Sheets that nobody has keyed are checked as they are proposed. The worst comes first, with the way to mend it.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// Write the list to out/checks/checks.csv as well, a row for each sheet
    #[arg(long)]
    csv: bool,
}

/// Sheets of one check named before the rest is only counted.
const NAMED: usize = 3;

const FILE: &str = "checks.csv";

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let job = Job::open(&arguments.job)?;
    let folder = arguments.job.display().to_string();
    let folder = shown(&folder);
    let mut delivery = Delivery::of(&job, Scope::Draft)?;
    delivery
        .checks
        .extend(proof::checks(&job, &delivery, &folder)?);
    delivery
        .checks
        .sort_by_key(|check| std::cmp::Reverse(check.severity));
    let mut text = String::new();
    for check in &delivery.checks {
        let named: Vec<String> = check
            .sheets
            .iter()
            .take(NAMED)
            .map(|s| s.to_string())
            .collect();
        let more = check.sheets.len().saturating_sub(NAMED);
        let more = if more > 0 {
            format!(" and {more} more")
        } else {
            String::new()
        };
        let _ = writeln!(
            text,
            "{}, {}: {}",
            check.severity, check.code, check.message
        );
        if !named.is_empty() {
            let _ = writeln!(text, "  {}{more}", named.join(", "));
        }
    }
    for count in &delivery.accounts.counted {
        let _ = writeln!(
            text,
            "{}, {}: {}",
            counted(count.sheets, "sheet"),
            count.kind,
            count.state
        );
    }
    for batch in &delivery.accounts.batches {
        let _ = writeln!(
            text,
            "batch {}: {} of {}",
            shown(&batch.folder),
            batch.sheets,
            counted(batch.expected, "sheet")
        );
    }
    let count = |severity| {
        delivery
            .checks
            .iter()
            .filter(|c| c.severity == severity)
            .count()
    };
    let _ = writeln!(
        text,
        "{}, {}: {}, {}, {}",
        counted(delivery.accounts.sheets, "sheet"),
        counted(delivery.records.len(), "record"),
        counted(count(Severity::Fault), "fault"),
        counted(count(Severity::Warning), "warning"),
        counted(count(Severity::Note), "note")
    );
    if arguments.csv {
        let folder = job.settings.out_folder().join("checks");
        let files = [(FILE, checks_csv(&delivery.checks))];
        replace_folder(&folder, &files, &[FILE]).map_err(CommandError::input)?;
        let _ = writeln!(text, "written to {}", folder.join(FILE).display());
    }
    let exit = match worst(&delivery.checks) {
        Some(Severity::Warning | Severity::Fault) => Exit::Findings,
        _ => Exit::Done,
    };
    let json = json!({ "sheets": delivery.accounts, "checks": delivery.checks });
    Ok(Report::new(text, json, exit))
}
