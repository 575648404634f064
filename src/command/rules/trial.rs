//! `headword rules --try`: what changed rules would do to the sheets that were read.

use super::compare::{Comparer, Comparison, Pair};
use super::truth::Truth;
use crate::command::report::counted;
use crate::command::{CommandError, Exit, Report, progress};
use crate::job::Job;
use crate::journal::Store;
use crate::value::{SheetId, shown};
use std::fmt::Write;
use std::path::Path;

/// Sheets told one by one before the rest is only counted.
const LISTED: usize = 20;
/// Sheets named on one line before the rest is only counted.
const NAMED: usize = 5;

/// Tries `file` in the place of the job's rule file of that name; without one, the rule files as they are now, against
/// what the journal holds.
pub fn run<S: Store>(
    job: &Job<S>,
    file: Option<&Path>,
    truth: Option<&Path>,
) -> Result<Report, CommandError> {
    let other = file.map(|file| job.proposer_with(file)).transpose();
    let truth = truth.map(Truth::load).transpose();
    let (other, truth) = match (other, truth) {
        (Ok(other), Ok(truth)) => (other, truth),
        (Err(fault), Ok(_)) => return Err(fault.into()),
        (Ok(_), Err(fault)) => return Err(CommandError::Input(fault)),
        (Err(fault), Err(more)) => return Err(CommandError::Input(format!("{fault}\n{more}"))),
    };
    let on_disk = &job.proposer;
    let (before, now) = match &other {
        Some(other) => (Some(on_disk), other),
        None => (None, on_disk),
    };
    let mut comparer = Comparer::new(on_disk.rules(), now.rules(), truth.as_ref());
    let bar = progress::bar("trying", 0);
    job.try_rules(
        before,
        now,
        |done, all| {
            bar.set_length(all as u64);
            bar.set_position(done as u64);
        },
        |tried| comparer.add(&tried),
    )?;
    bar.finish_and_clear();
    let comparison = comparer.comparison;
    if let (Some(right), Some(truth)) = (&comparison.truth, &truth)
        && right.values == 0
    {
        let fields = now.rules().fields().iter();
        let fields: Vec<&str> = fields.map(|field| field.name.as_str()).collect();
        return Err(CommandError::Input(format!(
            "expected true values of fields ({}) of sheets that were read, found {} in columns {}; name sheets and \
             fields as the job does",
            fields.join(", "),
            match right.sheets {
                0 => "no such sheet",
                _ => "no such field",
            },
            truth.columns.join(", ")
        )));
    }
    let exit = if comparison.worse.is_empty() {
        Exit::Done
    } else {
        Exit::Findings
    };
    Ok(Report::new(text(&comparison), comparison, exit))
}

fn text(all: &Comparison) -> String {
    let mut text = String::new();
    let mut row = |what: &str, pair: &Pair| {
        let _ = writeln!(text, "{:>8} {:>8}  {}", pair.before, pair.now, shown(what));
    };
    for (rule, pair) in &all.rules {
        row(rule, pair);
    }
    row("fitted by no rule", &all.fitted_by_none);
    row("fields filled", &all.fields_filled);
    row("sheet checks kept", &all.checks_kept);
    row("sheet checks broken", &all.checks_broken);
    row("check characters that hold", &all.check_characters_holding);
    row("check characters that fail", &all.check_characters_failing);
    if let Some(right) = &all.truth {
        let what = format!(
            "fields right, of {} on {}",
            right.values,
            counted(right.sheets, "sheet")
        );
        row(&what, &right.right);
    }
    let mut text = format!(
        "{}\n{:>8} {:>8}\n{text}",
        counted(all.sheets, "sheet"),
        "before",
        "now"
    );
    if all.not_proposed_before > 0 {
        let _ = writeln!(
            text,
            "{} had no proposal before",
            counted(all.not_proposed_before, "sheet")
        );
    }
    name(&mut text, "newly fitted", &all.newly_fitted);
    name(&mut text, "fitted no more", &all.fitted_no_more);
    if let Some(right) = &all.truth {
        name(&mut text, "with more fields right", &right.better);
    }
    let _ = writeln!(text, "\n{} got worse", counted(all.worse.len(), "sheet"));
    for sheet in all.worse.iter().take(LISTED) {
        let _ = writeln!(text, "  {}: {}", sheet.sheet, shown(&sheet.why.join("; ")));
    }
    rest(&mut text, all.worse.len());
    let _ = writeln!(text, "\n{} changed", counted(all.changed.len(), "sheet"));
    for sheet in all.changed.iter().take(LISTED) {
        let rule = |rule: &Option<String>| match rule {
            Some(rule) => format!("`{rule}`"),
            None => "no rule".to_owned(),
        };
        let (before, now) = (rule(&sheet.rule_before), rule(&sheet.rule_now));
        let fits = if before == now {
            String::new()
        } else {
            shown(&format!(": {before} -> {now}")).into_owned()
        };
        let _ = writeln!(text, "  {}{fits}", sheet.sheet);
        for change in &sheet.fields {
            let line = format!("{}: `{}` -> `{}`", change.field, change.before, change.now);
            let _ = writeln!(text, "    {}", shown(&line));
        }
    }
    rest(&mut text, all.changed.len());
    text
}

fn name(text: &mut String, what: &str, sheets: &[SheetId]) {
    if sheets.is_empty() {
        return;
    }
    let named = sheets.iter().take(NAMED);
    let named: Vec<String> = named.map(ToString::to_string).collect();
    let more = match sheets.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let count = counted(sheets.len(), "sheet");
    let _ = writeln!(text, "{count} {what}: {}{more}", named.join(", "));
}

fn rest(text: &mut String, count: usize) {
    if count > LISTED {
        let more = count - LISTED;
        let _ = writeln!(text, "  and {more} more; --json lists all");
    }
}
