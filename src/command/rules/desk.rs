//! The supervisor's desk opened.

use super::Arguments;
use crate::command::key::{expect_terminal, person, theme};
use crate::command::{CommandError, Exit, Report};
use crate::desk::supervise::driver::{Options, supervise};
use crate::desk::terminal::PictureWish;
use crate::job::Job;
use jiff::Timestamp;
use serde::Serialize;

/// What came of a sitting, for `--json`.
#[derive(Debug, Serialize)]
struct Outcome {
    published: Vec<u32>,
    draft_kept: bool,
    draft_lost: Option<String>,
    proposals_to_be_made_anew: usize,
}

pub fn open(arguments: &Arguments) -> Result<Report, CommandError> {
    expect_terminal("write rules")?;
    let mut job = Job::open_for_rules(&arguments.job)?;
    let options = Options {
        person: person(arguments.person.as_deref())?,
        pictures: arguments
            .picture
            .map_or(PictureWish::Best, PictureWish::from),
        theme: theme(),
        program: std::env::current_exe().map_err(CommandError::input)?,
        clock: || Timestamp::now().as_millisecond(),
    };
    let sitting = supervise(&mut job, &options).map_err(CommandError::input)?;
    let published = match sitting.published.as_slice() {
        [] => "nothing was put to use".to_owned(),
        versions => {
            let versions: Vec<String> = versions.iter().map(u32::to_string).collect();
            format!("version {} put to use", versions.join(", "))
        }
    };
    let draft = match (&sitting.lost, sitting.draft) {
        (Some(fault), _) => format!("; the draft is lost: {fault}"),
        (None, true) => "; the draft is kept, and comes back with headword rules".to_owned(),
        (None, false) => String::new(),
    };
    let unrenewed = sitting.unrenewed.map_or(0, |(done, of)| of - done);
    let renewing = match unrenewed {
        0 => String::new(),
        left => {
            format!("; {left} sheets are still to be proposed by the new rules: run headword read")
        }
    };
    let outcome = Outcome {
        published: sitting.published,
        draft_kept: sitting.draft,
        draft_lost: sitting.lost.clone(),
        proposals_to_be_made_anew: unrenewed,
    };
    let exit = match outcome.draft_lost {
        Some(_) => Exit::Findings,
        None => Exit::Done,
    };
    Ok(Report::new(
        format!("{published}{draft}{renewing}\n"),
        &outcome,
        exit,
    ))
}
