//! `headword rehearse`: what a job asks of an ideal clerk.

use super::{CommandError, Exit, Report};
use crate::desk::knowledge::JobKnowledge;
use crate::desk::rehearse::{KnownSheet, Rehearsed, rehearse};
use crate::desk::session::{plan, seen};
use crate::figures::{Mean, Skill, clopper_pearson_upper, keystroke_seconds};
use crate::job::Job;
use crate::journal::Store;
use crate::proposal::Face;
use crate::value::{SheetId, SheetKind, shown};
use serde::Serialize;
use std::collections::HashMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// Rehearse the keying of a job whose answers are known
///
/// An ideal clerk, who knows what is on every strip, keys the job at the real desk: keys a sheet, seconds by the
/// Keystroke-Level Model, and which wrong values would pass unseen because they are called sure. Nothing is written.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// CSV with a column `sheet`, one for each field as it is on the strip, and `kind` where not all are records
    #[arg(long)]
    truth: PathBuf,
    /// How fast the clerk types
    #[arg(long, value_enum, default_value_t)]
    skill: Skill,
}

#[derive(Debug, Default, Serialize)]
struct Figures {
    sheets: usize,
    /// Sheets in the job of which the truth says nothing.
    unknown: usize,
    stuck: Vec<(SheetId, String)>,
    keystrokes_a_sheet: f64,
    /// Of those that came filled in; the others were keyed from nothing.
    keystrokes_a_filled_sheet: f64,
    unfilled: usize,
    seconds_a_sheet: f64,
    one_key: usize,
    /// By the face that was proposed: sure, look, empty.
    fields: [usize; 3],
    /// Of these, those whose proposal was wrong; all but the sure ones are looked at and put right.
    misproposed: [usize; 3],
    /// Accepted wrongly.
    wrong: [usize; 3],
    wrong_and_sure: Vec<Wrong>,
}

#[derive(Debug, Serialize)]
struct Wrong {
    sheet: SheetId,
    field: String,
    accepted: String,
    on_strip: String,
    strip: String,
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let job = Job::open(&arguments.job)?;
    let known = read_truth(&arguments.truth)?;
    let knowledge = JobKnowledge::new(&job.proposer);
    let plan = plan(&job.settings, &job.proposer, 1);
    let mut figures = Figures::default();
    let [mut keystrokes, mut filled, mut seconds] = [(); 3].map(|()| Mean::default());
    let overview = job.store.overview().map_err(CommandError::input)?;
    let of = overview.len();
    let mut before: Option<(SheetId, Rehearsed)> = None;
    for (place, status) in overview.into_iter().enumerate() {
        let sheet = status.record.sheet.clone();
        let Some(truth) = known.get(sheet.as_str()) else {
            figures.unknown += 1;
            before = None;
            continue;
        };
        let reading = job.store.reading(&sheet).map_err(CommandError::input)?;
        let proposal = job.store.proposal(&sheet).map_err(CommandError::input)?;
        let mut desk_sheet = seen(&job.settings, &status.record, 1, reading, proposal);
        (desk_sheet.place, desk_sheet.of) = (place + 1, of);
        desk_sheet.before = before.take().map(|(id, done)| (id, done.records));
        let strip = desk_sheet.reading.text().replace('\n', " / ");
        let done = rehearse(&plan, desk_sheet, truth, &knowledge);
        add(&mut figures, &done, &strip);
        keystrokes.add(done.keystrokes as f64);
        match done.unfilled {
            true => figures.unfilled += 1,
            false => filled.add(done.keystrokes as f64),
        }
        seconds.add(keystroke_seconds(done.keys, done.looks, arguments.skill));
        before = Some((sheet, done));
    }
    figures.keystrokes_a_sheet = keystrokes.value().unwrap_or(0.0);
    figures.keystrokes_a_filled_sheet = filled.value().unwrap_or(0.0);
    figures.seconds_a_sheet = seconds.value().unwrap_or(0.0);
    let exit = match figures.wrong[0] + figures.stuck.len() {
        0 => Exit::Done,
        _ => Exit::Findings,
    };
    Ok(Report::new(text(&figures, arguments.skill), &figures, exit))
}

fn add(figures: &mut Figures, done: &Rehearsed, strip: &str) {
    figures.sheets += 1;
    figures.one_key += usize::from(done.keystrokes == 1);
    for (sum, count) in figures.fields.iter_mut().zip(done.faces) {
        *sum += count;
    }
    for (sum, count) in figures.misproposed.iter_mut().zip(done.misproposed) {
        *sum += count;
    }
    if let Some(words) = &done.stuck {
        figures.stuck.push((done.sheet.clone(), words.clone()));
    }
    for (field, accepted, on_strip, face) in &done.wrong {
        let at = match face {
            Face::Sure => 0,
            Face::Look => 1,
            Face::Empty => 2,
        };
        figures.wrong[at] += 1;
        if *face == Face::Sure {
            figures.wrong_and_sure.push(Wrong {
                sheet: done.sheet.clone(),
                field: field.clone(),
                accepted: accepted.clone(),
                on_strip: on_strip.clone(),
                strip: strip.to_owned(),
            });
        }
    }
}

fn text(figures: &Figures, skill: Skill) -> String {
    let share = |part: usize, of: usize| 100.0 * part as f64 / of.max(1) as f64;
    let mut text = String::new();
    let [sure, look, empty] = figures.fields;
    let [wrong_sure, wrong_look, wrong_empty] = figures.misproposed;
    let _ = writeln!(
        text,
        "{} sheets rehearsed; {} of the job are not in the truth\n\
         {:.2} keystrokes a sheet, {:.2} where it comes filled in ({} do not); {:.1} % of the sheets take one\n\
         {:.1} seconds a sheet by the Keystroke-Level Model ({skill:?} typist; a look of 1.35 s for each field stopped at \
         and one for the sheet, no errors, no waiting)\n\
         fields proposed as sure {sure} ({wrong_sure} wrong), to look at {look} ({wrong_look} wrong), empty {empty} \
         ({wrong_empty} wrong)",
        figures.sheets,
        figures.unknown,
        figures.keystrokes_a_sheet,
        figures.keystrokes_a_filled_sheet,
        figures.unfilled,
        share(figures.one_key, figures.sheets),
        figures.seconds_a_sheet,
    );
    let bound = clopper_pearson_upper(figures.wrong[0] as u64, sure as u64, 0.95);
    let _ = writeln!(
        text,
        "sure and wrong: {} of {sure}; with 95 % confidence at most {:.2} in 1,000",
        figures.wrong[0],
        1_000.0 * bound
    );
    for wrong in &figures.wrong_and_sure {
        let _ = writeln!(
            text,
            "  {} {}: {} is accepted, {} is on the strip; read: {}",
            wrong.sheet,
            wrong.field,
            shown(&wrong.accepted),
            shown(&wrong.on_strip),
            shown(&wrong.strip)
        );
    }
    for (sheet, words) in &figures.stuck {
        let _ = writeln!(text, "  {sheet} could not be accepted: {}", shown(words));
    }
    text
}

/// The truth by sheet: every column but `sheet` and `kind` may be a field.
fn read_truth(path: &Path) -> Result<HashMap<String, KnownSheet>, CommandError> {
    let fault = |found: String| {
        CommandError::input(format!(
            "{}: expected a CSV file with a column `sheet` and one for each field, found {found}; correct the file",
            path.display()
        ))
    };
    let mut reader = csv::Reader::from_path(path).map_err(|cause| fault(cause.to_string()))?;
    let header = reader
        .headers()
        .map_err(|cause| fault(cause.to_string()))?
        .clone();
    let column = |name: &str| header.iter().position(|column| column == name);
    let sheet = column("sheet").ok_or_else(|| {
        fault(format!(
            "the columns {}",
            header.iter().collect::<Vec<_>>().join(", ")
        ))
    })?;
    let kind = column("kind");
    let mut known = HashMap::new();
    for row in reader.records() {
        let row = row.map_err(|cause| fault(cause.to_string()))?;
        let kind = match kind
            .and_then(|at| row.get(at))
            .filter(|kind| !kind.is_empty())
        {
            Some(name) => serde_json::from_value(name.into())
                .map_err(|_| fault(format!("a sheet of the kind `{name}`")))?,
            None => SheetKind::Record,
        };
        let values = header.iter().zip(row.iter());
        known.insert(
            row.get(sheet).unwrap_or_default().to_owned(),
            KnownSheet {
                kind,
                values: values.map(|(a, b)| (a.to_owned(), b.to_owned())).collect(),
            },
        );
    }
    Ok(known)
}
