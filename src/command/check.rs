//! `headword check`: what stands between the batch and its delivery.

use super::batch::{Delivery, Scope, worst};
use super::key::{PictureName, expect_terminal, may_key_bulk, pass_of, person, theme};
use super::report::counted;
use super::scans::scan_checks;
use super::{CommandError, Exit, Report, proof};
use crate::delivery::{Check, checks_csv, replace_folder};
use crate::desk::checks::driver::mend;
use crate::desk::driver::{DeskError, Options};
use crate::desk::terminal::PictureWish;
use crate::job::Job;
use crate::value::{Severity, shown};
use jiff::Timestamp;
use serde_json::json;
use std::cmp::Reverse;
use std::fmt::Write;
use std::path::PathBuf;

/// Check the batch: sheets accounted for, required fields, parts, dates, duplicates, images, scans, names
///
/// Sheets that nobody has keyed are checked as they are proposed. The worst comes first, with the way to mend it.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// Write the list to out/checks/checks.csv as well, a row for each sheet
    #[arg(long)]
    csv: bool,
    /// Show the list in the terminal, from where Enter opens the clerk's desk at a sheet
    #[arg(long, conflicts_with = "csv")]
    desk: bool,
    /// Who mends; the name that the system has for you unless said otherwise
    #[arg(long = "as", value_name = "NAME", requires = "desk")]
    person: Option<String>,
    /// Which keying the clerk's desk opens
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=2))]
    pass: u8,
    /// What the picture is made of; what the terminal can show unless said otherwise
    #[arg(long, value_enum, requires = "desk")]
    picture: Option<PictureName>,
}

/// Sheets of one check named before the rest is only counted.
const NAMED: usize = 3;

const FILE: &str = "checks.csv";

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    if arguments.desk {
        return at_desk(arguments);
    }
    let job = Job::open(&arguments.job)?;
    let folder = arguments.job.display().to_string();
    let delivery = checked(&job, &shown(&folder))?;
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

/// The batch with all that was found, the worst first.
fn checked(job: &Job, folder: &str) -> Result<Delivery, CommandError> {
    let mut delivery = Delivery::of(job, Scope::Draft)?;
    let of_proof = proof::checks(job, &delivery, folder)?;
    delivery.checks.extend(of_proof);
    let of_scans = scan_checks(&job.settings, &delivery.records);
    delivery.checks.extend(of_scans);
    let unlike_rules = job.keyed_unlike_rules().map_err(CommandError::input)?;
    if let Some((version, sheets)) = unlike_rules {
        delivery.checks.push(Check {
            severity: Severity::Warning,
            code: "keyed-unlike-rules",
            message: format!(
                "keyed before version {version} of the rules, which takes other values from the strip; look at these sheets \
                 again, and accept them as they are or as the rules have them"
            ),
            sheets,
        });
    }
    let by_severity = |check: &Check| Reverse(check.severity);
    delivery.checks.sort_by_key(by_severity);
    Ok(delivery)
}

/// The list in the terminal, until the person leaves it.
fn at_desk(arguments: &Arguments) -> Result<Report, CommandError> {
    expect_terminal("check")?;
    let mut job = Job::open(&arguments.job)?;
    let folder = arguments.job.display().to_string();
    let folder = shown(&folder);
    let warning = may_key_bulk(&job, &folder)?;
    let clerk = Options {
        person: person(arguments.person.as_deref())?,
        pass: pass_of(&job, arguments.pass)?,
        proof: false,
        held: false,
        sheet: None,
        pictures: arguments
            .picture
            .map_or(PictureWish::Best, PictureWish::from),
        theme: theme(),
        program: std::env::current_exe().map_err(CommandError::input)?,
        clock: || Timestamp::now().as_millisecond(),
    };
    let look = |job: &Job| Ok::<_, CommandError>(checked(job, &folder)?.checks);
    let left = mend(&mut job, &clerk, look)?;
    let text = format!("{warning}{} left\n", counted(left.len(), "finding"));
    let exit = match worst(&left) {
        Some(Severity::Warning | Severity::Fault) => Exit::Findings,
        _ => Exit::Done,
    };
    Ok(Report::new(text, json!({ "checks": left }), exit))
}

impl From<DeskError> for CommandError {
    fn from(fault: DeskError) -> Self {
        Self::input(fault)
    }
}
