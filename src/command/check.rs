//! `headword check`: what stands between the batch and its delivery.

use super::batch::{Delivery, Scope, worst};
use super::report::counted;
use super::{CommandError, Exit, Report};
use crate::job::Job;
use crate::value::Severity;
use std::fmt::Write;
use std::path::PathBuf;

/// Check the batch: required fields, parts, duplicates, file names
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
}

/// Sheets of one check named before the rest is only counted.
const NAMED: usize = 3;

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let job = Job::open(&arguments.job)?;
    let delivery = Delivery::of(&job, Scope::Draft)?;
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
    let count = |severity| {
        delivery
            .checks
            .iter()
            .filter(|c| c.severity == severity)
            .count()
    };
    let _ = writeln!(
        text,
        "{}: {}, {}, {}",
        counted(delivery.records.len(), "record"),
        counted(count(Severity::Fault), "fault"),
        counted(count(Severity::Warning), "warning"),
        counted(count(Severity::Note), "note")
    );
    let exit = match worst(&delivery.checks) {
        Some(Severity::Warning | Severity::Fault) => Exit::Findings,
        _ => Exit::Done,
    };
    Ok(Report::new(text, &delivery.checks, exit))
}
