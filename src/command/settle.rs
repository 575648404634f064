//! `headword settle`: the reviewer's desk.

use super::key::{PictureName, expect_terminal, person, theme};
use super::{CommandError, Exit, Report};
use crate::desk::settle::driver::{Options, settle_sheets};
use crate::desk::terminal::PictureWish;
use crate::job::Job;
use jiff::Timestamp;
use serde::Serialize;
use std::path::PathBuf;

/// Settle what two people keyed differently
///
/// Shows each sheet in dispute: its strip, and both values side by side, in an order drawn for each, without names. What
/// the program proposed and the roster are shown only when asked for, and that is written down. Nobody settles a sheet that
/// he or she keyed.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// Who settles; the name that the system has for you unless said otherwise
    #[arg(long = "as", value_name = "NAME")]
    person: Option<String>,
    /// Sheets that were put off, instead of those in dispute
    #[arg(long)]
    held: bool,
    /// What the picture is made of; what the terminal can show unless said otherwise
    #[arg(long, value_enum)]
    picture: Option<PictureName>,
}

/// What came of a sitting, for `--json`.
#[derive(Debug, Serialize)]
struct Outcome {
    done: usize,
    in_dispute: usize,
    keyed_by_you: usize,
    settled: usize,
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    expect_terminal("settle")?;
    let mut job = Job::open(&arguments.job)?;
    let options = Options {
        person: person(arguments.person.as_deref())?,
        held: arguments.held,
        pictures: arguments
            .picture
            .map_or(PictureWish::Best, PictureWish::from),
        theme: theme(),
        program: std::env::current_exe().map_err(CommandError::input)?,
        clock: || Timestamp::now().as_millisecond(),
    };
    let sitting = settle_sheets(&mut job, &options).map_err(CommandError::input)?;
    let own = match sitting.own {
        0 => String::new(),
        own => format!(
            "; {own} more are in dispute that you keyed yourself, and somebody else has to settle them"
        ),
    };
    let text = format!(
        "{} sheets done in this sitting; of {} sheets {} are settled, {} in dispute{own}\n",
        sitting.done, sitting.sheets, sitting.settled, sitting.open
    );
    let outcome = Outcome {
        done: sitting.done,
        in_dispute: sitting.open,
        keyed_by_you: sitting.own,
        settled: sitting.settled,
    };
    Ok(Report::new(text, &outcome, Exit::Done))
}
