//! The versions of a job's rules that were put to use.

use crate::command::{CommandError, Exit, Report};
use crate::job::Job;
use crate::value::shown;
use jiff::Timestamp;
use serde_json::json;
use std::fmt::Write;

pub fn list(job: &Job) -> Result<Report, CommandError> {
    let versions = job.publications()?;
    let mut text = String::new();
    if versions.is_empty() {
        text += "no rules were put to use at the desk; those in the job's folder are used as they are\n";
    }
    for (decision, publication) in &versions {
        let at = Timestamp::from_millisecond(decision.at).unwrap_or_default();
        let by = shown(&decision.by);
        let _ = writeln!(text, "version {}, {at:.0}, by {by}", publication.version);
        for words in &publication.effect {
            let _ = writeln!(text, "  {}", shown(words));
        }
    }
    let json = versions.iter().map(|(decision, publication)| {
        json!({
            "version": publication.version, "by": decision.by, "at": decision.at,
            "effect": publication.effect, "files": publication.files,
        })
    });
    Ok(Report::new(text, json.collect::<Vec<_>>(), Exit::Done))
}

pub fn bring_back(job: &Job, version: u32) -> Result<Report, CommandError> {
    let _seat = job.take_seat("somebody who brings back earlier rules")?;
    if job.draft()?.is_changed() {
        return Err(CommandError::input(
            "expected no draft in the job, found one, which this would take the place of; put it to use or give it up at \
             the desk (headword rules) first",
        ));
    }
    let Some(draft) = job.draft_of(version)? else {
        return Err(CommandError::Input(format!(
            "expected a version that was put to use, found {version}; headword rules --versions lists them"
        )));
    };
    job.keep_draft(&draft)?;
    let text = match draft.is_changed() {
        true => format!(
            "version {version} is a draft now: see what it does, and put it to use, at the desk (headword rules)\n"
        ),
        false => format!("version {version} is what is in use\n"),
    };
    Ok(Report::new(
        text,
        json!({ "version": version, "is_draft": draft.is_changed() }),
        Exit::Done,
    ))
}
