//! The client's page and the form beside it: what is on them, and put in place.

use super::answers::may_hold_unread;
use super::markup::{Facts, SheetView, page};
use super::pictures::pictures;
use super::strips::{Strip, Strips, comparer};
use super::{Arguments, decide, folder, is_done, proof_of};
use crate::command::batch::{Delivery, Scope};
use crate::command::page::Staged;
use crate::command::report::counted;
use crate::command::{CommandError, Exit, Report};
use crate::delivery::{spreadsheet_csv, xlsx_of};
use crate::job::Job;
use crate::journal::{Choice, Numbered, PageWritten, Store};
use crate::review::{Proof, form_rows};
use crate::value::{SheetId, sha256_hex, shown};
use jiff::Timestamp;
use serde_json::json;
use std::collections::HashMap;
use std::path::Path;

/// Writes the page and the form.
pub fn write<S: Store>(
    arguments: &Arguments,
    job: &mut Job<S>,
    path: &Path,
) -> Result<Report, CommandError> {
    let folder = folder(arguments);
    let is_proof = !arguments.questions;
    let form = path.with_extension("csv");
    if form == path {
        return Err(CommandError::input(format!(
            "{}: expected the page's name, found that of the form, which is written beside it; write --page page.html",
            shown(&path.display().to_string())
        )));
    }
    let workbook = path.with_extension("xlsx");
    let proof = proof_of(job)?;
    let strips = strips(job, &proof, is_proof, &folder)?;
    for (file, how) in [(&form, "it"), (&workbook, "it as CSV")] {
        if may_hold_unread(file, &proof) {
            return Err(CommandError::input(format!(
                "{}: expected the form as it was written, or one of which every row was taken, found another, with answers \
                 perhaps; read {how}, `headword proof {folder} --answers FILE.csv`, and keep it elsewhere, or give the page \
                 another name",
                shown(&file.display().to_string())
            )));
        }
    }
    let lines: Vec<_> = strips.iter().map(|strip| strip.lines.clone()).collect();
    let items = proof.numbered(&lines);
    let rows = form_rows(&items, &proof.answers);
    let form_file = spreadsheet_csv(&rows);
    let workbook_file = xlsx_of(&rows).map_err(CommandError::ours)?;
    let written = PageWritten {
        versions: job.versions(),
        is_proof,
        items: items.clone(),
        forms: vec![sha256_hex(form_file.as_ref()), sha256_hex(&workbook_file)],
        ..PageWritten::default()
    };
    let sheets: Vec<SheetId> = lines.iter().map(|lines| lines.sheet.clone()).collect();
    let pictures = pictures(job, &sheets)?;
    let without_picture = sheets.len() - pictures.len();
    let name = |path: &Path| {
        let name = path.file_name().unwrap_or_default();
        name.to_string_lossy().into_owned()
    };
    let forms = [name(&form), name(&workbook)];
    let facts = Facts {
        title: &job.settings.title,
        day: super::day(Timestamp::now().as_millisecond()),
        sample: proof
            .sample
            .as_ref()
            .map(|(drawn, _)| drawn)
            .filter(|_| is_proof),
        draws: proof.draws,
        versions: &written.versions,
        forms: &forms,
        has_roster: job.proposer.roster().is_some(),
        answers: &proof.answers,
    };
    let mut by_sheet: HashMap<&SheetId, Vec<&Numbered>> = HashMap::new();
    for line in &items {
        by_sheet.entry(&line.item.sheet).or_default().push(line);
    }
    let views: Vec<SheetView> = strips
        .iter()
        .map(|strip| SheetView {
            strip,
            lines: by_sheet.remove(&strip.lines.sheet).unwrap_or_default(),
            picture: pictures.get(&strip.lines.sheet),
        })
        .collect();
    let html = page(&facts, &views);
    let files = [
        Staged::beside(path, &html)?,
        Staged::beside(&form, form_file)?,
        Staged::beside(&workbook, workbook_file)?,
    ];
    // In the journal first: a form whose numbers nobody knows could not be read back.
    decide(arguments, job, Choice::PageWritten(written))?;
    for file in files {
        file.put()?;
    }
    let questions = items.iter().filter(|line| line.item.is_question()).count();
    let values = items.iter().filter(|line| line.item.is_value()).count();
    let mut text = format!(
        "{}: {}, {}, {} ({} kB)\n{}: the form to be filled in and sent back, {}; the same as a workbook beside it\n",
        shown(&path.display().to_string()),
        counted(sheets.len(), "sheet"),
        counted(values, "value"),
        counted(questions, "question"),
        html.len().div_ceil(1_000),
        shown(&form.display().to_string()),
        counted(items.len(), "row"),
    );
    if without_picture > 0 {
        text += &format!(
            "{} could not be pictured\n",
            counted(without_picture, "sheet")
        );
    }
    text += &format!(
        "all hold personal data: send them only as the contract allows\n\
         next: `headword proof {folder} --answers {}`, once it has come back\n",
        shown(&form.display().to_string())
    );
    let json = json!({
        "page": path, "form": form, "workbook": workbook, "sheets": sheets.len(), "values": values, "questions": questions,
        "lines": items.len(), "bytes": html.len(), "without_picture": without_picture,
    });
    let exit = if without_picture > 0 {
        Exit::Findings
    } else {
        Exit::Done
    };
    Ok(Report::new(text, json, exit))
}

/// The sheets that the page is to have.
fn strips<S: Store>(
    job: &Job<S>,
    proof: &Proof,
    is_proof: bool,
    folder: &str,
) -> Result<Vec<Strip>, CommandError> {
    let delivery = Delivery::of(job, Scope::Draft)?;
    let strips = Strips::of(job, &delivery);
    if !is_proof {
        let mut asked = strips.questioned(proof);
        let lines: Vec<_> = asked.iter().map(|strip| strip.lines.clone()).collect();
        let standing = proof.standing(&lines, &comparer(job));
        // What was answered need not be asked again.
        for strip in &mut asked {
            let sheet = strip.lines.sheet.clone();
            strip.lines.questions.retain(|(about, question)| {
                standing.iter().any(|(item, standing)| {
                    (&item.sheet, &item.about, &item.question) == (&sheet, about, question)
                        && standing.is_open()
                })
            });
        }
        asked.retain(|strip| !strip.lines.questions.is_empty());
        if asked.is_empty() {
            return Err(CommandError::input(format!(
                "expected open questions to the client, found none: no sheet is put off, nothing is illegible, and nobody \
                 asked; `headword proof {folder} --ask 'SHEET=QUESTION'` asks"
            )));
        }
        return Ok(asked);
    }
    if proof.sheets().is_empty() {
        return Err(CommandError::input(format!(
            "expected a sample to put on the page, found none; run `headword proof {folder} --draw` first, or write open \
             questions alone, with --questions"
        )));
    }
    let sample = strips.sample(proof);
    let waiting = sample.iter().filter(|strip| !is_done(strip.state)).count();
    if waiting > 0 {
        return Err(CommandError::input(format!(
            "expected a sample that was keyed, found {} of {} waiting; `headword key {folder} --proof` keys them",
            waiting,
            sample.len()
        )));
    }
    Ok(sample)
}
