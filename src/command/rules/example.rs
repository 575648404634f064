//! `headword rules --from-sheet` and `--suggest`: rules from marked pieces of a strip, and from what was keyed.

use crate::command::report::counted;
use crate::command::{CommandError, Exit, Report};
use crate::job::Job;
use crate::journal::Store;
use crate::rules::example::{
    Candidate, Example, MarkError, RuleFiles, Suggestion, candidates, suggest,
};
use crate::rules::{Bench, FieldKind};
use crate::value::{SheetId, shown};
use std::fmt::Write;
use std::sync::Arc;

/// A piece to mark, as the command line has it: `FIELD=TEXT`, `FIELD@2=TEXT` for the second place with that text,
/// `FIELD:KIND=TEXT` for a field of that kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    field: String,
    /// Counted from 1.
    nth: Option<usize>,
    kind: Option<FieldKind>,
    text: String,
}

/// Reads a piece to mark.
pub(super) fn parse_mark(mark: &str) -> Result<Mark, String> {
    let expected = || {
        format!(
            "expected FIELD=TEXT, FIELD@N=TEXT for the Nth place that has the text, or FIELD:KIND=TEXT, found `{}`",
            shown(mark)
        )
    };
    let (head, text) = mark.split_once('=').ok_or_else(expected)?;
    let (head, kind) = match head.split_once(':') {
        None => (head, None),
        Some((head, kind)) => {
            let known = FieldKind::ALL
                .into_iter()
                .find(|known| known.name() == kind);
            let names = || FieldKind::ALL.map(FieldKind::name).join(", ");
            let unknown = || format!("expected a kind: {}; found `{}`", names(), shown(kind));
            (head, Some(known.ok_or_else(unknown)?))
        }
    };
    let (field, nth) = match head.split_once('@') {
        None => (head, None),
        Some((field, nth)) => {
            let nth = nth.parse().ok().filter(|nth| *nth > 0);
            (field, Some(nth.ok_or_else(expected)?))
        }
    };
    if field.is_empty() || text.trim().is_empty() {
        return Err(expected());
    }
    Ok(Mark {
        field: field.to_owned(),
        nth,
        kind,
        text: text.to_owned(),
    })
}

/// Prints rules that take the marked pieces from a sheet's strip.
pub(super) fn run_example<S: Store>(
    job: &Job<S>,
    sheet: &str,
    marks: &[Mark],
) -> Result<Report, CommandError> {
    let sheet = SheetId::new(sheet);
    let record = job.store.reading(&sheet).map_err(CommandError::input)?;
    let record = record.ok_or_else(|| {
        CommandError::Input(format!(
            "{sheet}: expected a sheet that was read, found none of that name; write it as index.csv does, and run \
             headword read first"
        ))
    })?;
    let mut example = Example::new(&record.reading);
    let strip = example.lines().collect::<Vec<_>>().join(" / ");
    let strip = shown(&strip);
    let not_there = |text: &str| {
        CommandError::Input(format!(
            "{sheet}: expected `{}` on its strip, found {strip}; write the piece as the reading has it",
            shown(text)
        ))
    };
    let fault = |fault: MarkError| CommandError::Input(fault.to_string());
    for mark in marks.iter().filter(|mark| mark.nth.is_some()) {
        let place = example.find(&mark.text, mark.nth.unwrap_or(1));
        let (line, range) = place.ok_or_else(|| not_there(&mark.text))?;
        example.mark(line, range, &mark.field).map_err(fault)?;
    }
    let others = marks.iter().filter(|mark| mark.nth.is_none());
    let others: Vec<(String, &str)> = others
        .map(|mark| (mark.field.clone(), mark.text.as_str()))
        .collect();
    let found = example.mark_values(&others, &job.settings.styles);
    if let Some(missing) = found.missing.first() {
        let text = others.iter().find(|(field, _)| field == missing);
        let text = text.map_or("", |(_, text)| text);
        if let Some((line, range)) = example.find(text, 1) {
            example.mark(line, range, missing).map_err(fault)?;
        }
        return Err(not_there(text));
    }
    for mark in marks {
        if let Some(kind) = mark.kind {
            example.choose(&mark.field, kind);
        }
    }
    let found = with_files(job, |files, bench| candidates(&example, files, bench))?;
    let found = found.map_err(CommandError::input)?;
    let mut text = format!("strip: {strip}\n");
    for (at, candidate) in found.iter().enumerate() {
        let _ = write!(text, "\n{}. {}", at + 1, told(candidate));
        for what in &candidate.considered[if at == 0 {
            0
        } else {
            candidate.considered.len() - 1
        }..]
        {
            let _ = writeln!(text, "   {}", shown(what));
        }
        let _ = write!(text, "\n{}", candidate.fragment);
    }
    Ok(Report::new(text, &found, Exit::Done))
}

/// Prints rules for the layouts of keyed sheets that no rule fits.
pub(super) fn run_suggest<S: Store>(job: &Job<S>) -> Result<Report, CommandError> {
    let found = with_files(job, suggest)?.map_err(CommandError::input)?;
    let mut text = String::new();
    for Suggestion {
        sheet,
        like,
        missing,
        candidate,
    } in &found
    {
        let _ = write!(
            text,
            "from {sheet}, one of {} that no rule fits\n   {}",
            counted(*like, "keyed sheet"),
            told(candidate)
        );
        if !missing.is_empty() {
            let _ = writeln!(
                text,
                "   keyed, but not found on its strip: {}",
                shown(&missing.join(", "))
            );
        }
        let _ = writeln!(text, "\n{}", candidate.fragment);
    }
    let exit = match found.is_empty() {
        true => {
            text +=
                "no suggestions: no keyed sheet that no rule fits has its values on its strip\n";
            Exit::Findings
        }
        false => {
            text += "add one to a rule file, and ask again for the others\n";
            Exit::Done
        }
    };
    Ok(Report::new(text, &found, exit))
}

/// What a candidate does, in one line.
fn told(candidate: &Candidate) -> String {
    let Candidate {
        fits,
        of,
        unfitted,
        takes_over,
        fitted_counted,
        ..
    } = candidate;
    let mut text = format!("fits {fits} of {of} strips");
    if of < unfitted {
        let _ = write!(text, " counted, of {unfitted} that no rule fits");
    } else {
        text += " that no rule fits";
    }
    if *fitted_counted > 0 {
        let _ = write!(
            text,
            "; takes over {takes_over} of {fitted_counted} that another rule fits"
        );
    }
    let (holding, failing) = (candidate.checks_holding, candidate.checks_failing);
    if holding + failing > 0 {
        let _ = write!(
            text,
            "; {holding} of {} check characters hold",
            holding + failing
        );
    }
    if candidate.keyed > 0 {
        let _ = write!(
            text,
            "; {} of {} keyed values are right",
            candidate.keyed_right, candidate.keyed
        );
    }
    text.push('\n');
    text
}

/// The job's rules as they are being written, and all readings on a bench, worked out by them.
fn with_files<S: Store, R>(
    job: &Job<S>,
    work: impl FnOnce(&RuleFiles, &Bench) -> R,
) -> Result<R, CommandError> {
    let draft = job.draft()?;
    let texts: Vec<(&str, &str)> = draft
        .files
        .iter()
        .map(|file| (file.name.as_str(), file.text.as_str()))
        .collect();
    let mut bench = job.bench()?;
    if let Ok(rules) = job.draft_rules(&draft) {
        bench.put(Arc::new(rules));
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        bench.step(threads, &|| true);
    }
    let files = RuleFiles {
        files: &texts,
        edited: texts.len().saturating_sub(1),
        styles: &job.settings.styles,
    };
    Ok(work(&files, &bench))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::{MemoryStore, ReadingRecord, SheetRecord};
    use crate::reading::{Line, Reading};

    const JOB: &str = "title = \"T\"\nsheets = { folder = \"s\" }\nrules = { files = [\"r.toml\"] }\n\
                       naming = { pattern = \"{number}\" }\n";
    const RULES: &str = "[[field]]\nname = \"number\"\nkind = \"code\"\npattern = '\\d{4}'\n\
                         [[rule]]\nname = \"stores\"\nline = \"STORES {number}\"\n";

    #[test]
    fn marked_pieces_of_a_sheet_give_rules() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("job.toml"), JOB).unwrap();
        std::fs::write(folder.path().join("r.toml"), RULES).unwrap();
        let mut job = Job::with_store(folder.path(), MemoryStore::default()).unwrap();
        for (name, strip) in [
            ("1.png", "HALL NO. 4418 SHEET 2 OF 2"),
            ("2.png", "STORES 4419"),
        ] {
            let sheet = SheetId::new(name);
            let record = SheetRecord::new(sheet.clone(), name.to_owned(), 1, 1);
            job.store.put_sheets(&[record]).unwrap();
            let lines = vec![Line::certain(strip, 0.97)];
            let reading = ReadingRecord::new(sheet, name.to_owned(), None, Reading { lines });
            job.store.put_readings(&[reading]).unwrap();
        }
        let run = |sheet: &str, marks: &[&str]| {
            let marks: Vec<Mark> = marks.iter().map(|mark| parse_mark(mark).unwrap()).collect();
            run_example(&job, sheet, &marks)
        };
        let report = run(
            "1.png",
            &["number=4418", "surname=HALL", "parts@2=2", "part=2"],
        )
        .unwrap();
        let line = "line = \"{surname} NO. {number} SHEET {part} OF {parts}\"";
        assert!(report.text.contains(line), "{}", report.text);
        assert!(
            report
                .text
                .contains("fits 1 of 1 strips that no rule fits; takes over 0 of 1"),
            "{}",
            report.text
        );
        for (sheet, mark, fault) in [
            ("3.png", "surname=HALL", "found none of that name"),
            (
                "1.png",
                "surname=ORMEROD",
                "expected `ORMEROD` on its strip",
            ),
            ("1.png", "sur name=HALL", "expected a name of letters"),
        ] {
            let found = run(sheet, &[mark]).unwrap_err().to_string();
            assert!(found.contains(fault), "{found}");
        }
        assert_eq!(run_suggest(&job).unwrap().exit, Exit::Findings);
    }

    #[test]
    fn marks_say_field_place_and_kind() {
        let mark = |field: &str, nth, kind, text: &str| Mark {
            field: field.to_owned(),
            nth,
            kind,
            text: text.to_owned(),
        };
        for (written, expected) in [
            ("surname=HALL", Some(mark("surname", None, None, "HALL"))),
            ("part@2=2", Some(mark("part", Some(2), None, "2"))),
            (
                "from:year=19=31",
                Some(mark("from", None, Some(FieldKind::Year), "19=31")),
            ),
            (
                "number@1:code=4",
                Some(mark("number", Some(1), Some(FieldKind::Code), "4")),
            ),
            ("x:yea=4", None),
            ("part@0=2", None),
            ("HALL", None),
            ("=HALL", None),
            ("surname= ", None),
        ] {
            assert_eq!(parse_mark(written).ok(), expected, "{written}");
        }
    }
}
