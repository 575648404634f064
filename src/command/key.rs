//! `headword key`: the clerk's desk.

use super::{CommandError, Exit, Report, proof};
use crate::desk::driver::{DeskError, Options, key_sheets};
use crate::desk::picture::Shape;
use crate::desk::terminal::PictureWish;
use crate::desk::view::Theme;
use crate::job::Job;
use crate::journal::{JournalError, Store, Tally};
use crate::review::{Gate, Proof};
use crate::value::shown;
use jiff::Timestamp;
use serde::Serialize;
use std::io::{IsTerminal, stdin, stdout};
use std::path::PathBuf;

/// Confirm or key the sheets of a job, one after the other
///
/// Shows each waiting sheet's strip with what is proposed for it. Several people may key one job at the same time, each
/// in a terminal of his or her own; nobody gets a sheet that another has. Everything accepted is on disk before the next
/// sheet is shown.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// Who keys; the name that the system has for you unless said otherwise
    #[arg(long = "as", value_name = "NAME")]
    person: Option<String>,
    /// Which keying of the sheets this is
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=2))]
    pass: u8,
    /// Key the sample that the job's quality plan draws, blind, instead of a pass
    #[arg(long, conflicts_with = "pass")]
    inspect: bool,
    /// Key the sheets that `headword proof` drew, with nothing filled in, and no others
    #[arg(long, conflicts_with_all = ["pass", "inspect"])]
    proof: bool,
    /// Sheets that were put off, instead of those that wait
    #[arg(long)]
    held: bool,
    /// Open at this sheet, also to correct one that was keyed: its place in the drawer, or a part of its name
    #[arg(long, conflicts_with = "held")]
    sheet: Option<String>,
    /// What the picture is made of; what the terminal can show unless said otherwise
    #[arg(long, value_enum)]
    picture: Option<PictureName>,
}

impl Arguments {
    /// A first pass over a job, by somebody.
    pub fn of(job: PathBuf, person: &str) -> Self {
        Self {
            job,
            person: Some(person.to_owned()),
            pass: 1,
            inspect: false,
            proof: false,
            held: false,
            sheet: None,
            picture: None,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum PictureName {
    Sextants,
    Quadrants,
    Halves,
    Braille,
    /// No pictures: what was read, as text
    Off,
}

impl From<PictureName> for PictureWish {
    fn from(name: PictureName) -> Self {
        match name {
            PictureName::Sextants => Self::Of(Shape::Sextant),
            PictureName::Quadrants => Self::Of(Shape::Quadrant),
            PictureName::Halves => Self::Of(Shape::Half),
            PictureName::Braille => Self::Of(Shape::Braille),
            PictureName::Off => Self::Off,
        }
    }
}

/// What came of a sitting, for `--json`.
#[derive(Debug, Serialize)]
struct Outcome {
    done: usize,
    sheets: usize,
    keyed: usize,
    held: usize,
    set_aside: usize,
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    expect_terminal("key")?;
    let mut job = Job::open(&arguments.job)?;
    let person = person(arguments.person.as_deref())?;
    let warning = may_key(arguments, &job)?;
    let pass = match arguments.inspect {
        true => job.settings.keying.inspection(),
        false => pass_of(&job, arguments.pass)?,
    };
    let options = Options {
        person,
        pass,
        proof: arguments.proof,
        held: arguments.held,
        sheet: arguments.sheet.clone(),
        pictures: arguments
            .picture
            .map_or(PictureWish::Best, PictureWish::from),
        theme: theme(),
        program: std::env::current_exe().map_err(CommandError::input)?,
        clock: || Timestamp::now().as_millisecond(),
    };
    let sitting = key_sheets(&mut job, &options).map_err(|fault| match fault {
        DeskError::Journal(JournalError::NoSuchSheet { text }) if arguments.proof => {
            let folder = arguments.job.display().to_string();
            CommandError::input(format!(
                "--sheet: expected one of the sheets drawn for the proof, found {}; `headword proof {} --json` lists them",
                shown(&text),
                shown(&folder)
            ))
        }
        fault => CommandError::input(fault),
    })?;
    if sitting.tally.sheets == 0 {
        let job = arguments.job.display().to_string();
        return Err(CommandError::input(format!(
            "{0}: expected sheets that were read, found none in its journal; run `headword read {0}` first",
            shown(&job)
        )));
    }
    let waiting = sitting.tally.waiting();
    let Tally {
        sheets,
        keyed,
        held,
        set_aside,
    } = sitting.tally;
    let what = if arguments.proof {
        "sheets drawn"
    } else {
        "sheets"
    };
    let text = format!(
        "{warning}{} sheets done in this sitting; of {sheets} {what} {keyed} are keyed, {held} put off, {set_aside} set aside, \
         {waiting} wait\n",
        sitting.done
    );
    let outcome = Outcome {
        done: sitting.done,
        sheets,
        keyed,
        held,
        set_aside,
    };
    let exit = match warning.is_empty() {
        true => Exit::Done,
        false => Exit::Findings,
    };
    Ok(Report::new(text, &outcome, exit))
}

/// What is to be told before the bulk is keyed; empty where nothing is.
///
/// # Errors
/// There is no sample to key, or the bulk waits for the client's approval.
fn may_key(arguments: &Arguments, job: &Job) -> Result<String, CommandError> {
    let folder = arguments.job.display().to_string();
    let folder = shown(&folder);
    if arguments.proof {
        let decisions = job.store.decisions().map_err(CommandError::input)?;
        return match Proof::of(&decisions).sheets().is_empty() {
            false => Ok(String::new()),
            true => Err(CommandError::input(format!(
                "expected sheets that were drawn for the proof, found none; run `headword proof {folder} --draw` first"
            ))),
        };
    }
    may_key_bulk(job, &folder)
}

/// The same for whoever keys without a sample.
pub(super) fn may_key_bulk(job: &Job, folder: &str) -> Result<String, CommandError> {
    match proof::gate(job, folder)? {
        Gate::Open => Ok(String::new()),
        Gate::Warned(why) => Ok(format!("{why}\n")),
        Gate::Refused(why) => Err(CommandError::Input(why)),
    }
}

/// Refuses to open a desk where there is nobody to see it.
pub(super) fn expect_terminal(verb: &str) -> Result<(), CommandError> {
    if stdin().is_terminal() && stdout().is_terminal() {
        return Ok(());
    }
    Err(CommandError::input(format!(
        "expected a terminal to {verb} in, found a pipe or a file; run it in a terminal window"
    )))
}

/// A keying, if the job has it.
pub(super) fn pass_of(job: &Job, pass: u8) -> Result<u8, CommandError> {
    let passes = job.settings.keying.passes;
    match pass <= passes {
        true => Ok(pass),
        false => Err(CommandError::input(format!(
            "expected a keying from 1 to {passes}, found {pass}; the job has passes = {passes} in [keying] of its job.toml"
        ))),
    }
}

/// Who sits at the desk: as said, or as the system has it.
pub(super) fn person(said: Option<&str>) -> Result<String, CommandError> {
    let person = match said {
        Some(person) => person.trim().to_owned(),
        None => std::env::var("USER").unwrap_or_default(),
    };
    if person.is_empty() {
        return Err(CommandError::input(
            "expected a name to write on every entry, found none; say --as NAME",
        ));
    }
    Ok(person)
}

/// The colours that the terminal is to have (the convention of NO_COLOR).
pub(super) fn theme() -> Theme {
    match std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty()) {
        true => Theme::Plain,
        false => Theme::Greys,
    }
}
