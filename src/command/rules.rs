//! `headword rules`: the supervisor's desk; and printed, what the rules do to the sheets, why, and what changed ones would
//! do.

mod compare;
mod desk;
mod example;
mod trial;
mod truth;
mod versions;

use super::key::PictureName;
use super::{CommandError, Exit, Report};
use crate::job::{Job, Seen};
use crate::journal::Store;
use crate::reading::{Line, Reading};
use crate::rules::any_fits;
use crate::strip::Lay;
use crate::value::{SheetId, shown};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::PathBuf;

/// Write the rules and see what they do to the sheets that were read
///
/// Without more, opens the supervisor's desk: the rule file in an editor, and beside it what every change does to all
/// sheets. What is written there is a draft; nothing is in use until it is published, which is journalled. The draft is
/// kept as it is written.
///
/// With --counts, prints how many sheets each rule fits. With --sheet or --text, says piece by piece why each rule fits
/// that strip or does not.
///
/// With --from-sheet and --mark, prints rules made from one strip whose pieces are marked; with --suggest, rules made from
/// sheets that were keyed and that no rule fits.
///
/// With --try, shows what a changed rule file would do, before it is put to use: copy a rule file out of the job's
/// folder, change the copy, and try it. Sheets, fields and checks are counted before and now, and every sheet that
/// would change is told with its values. Nothing is kept. Exits with 1 when a sheet would get worse: no rule fits it
/// any more, or a value whose check character held is gone; with --truth, when fewer of its fields are right.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// Print how many sheets each rule fits, and sheets that none does
    #[arg(long, conflicts_with_all = ["sheet", "text", "trial"])]
    counts: bool,
    /// List every version of the rules that was put to use: who, when, and what it changed
    #[arg(long, conflicts_with_all = ["counts", "sheet", "text", "trial"])]
    versions: bool,
    /// Make a draft of an earlier version, to be put to use at the desk; 0 is what stood before the first
    #[arg(long, value_name = "VERSION", conflicts_with_all = ["counts", "sheet", "text", "trial", "versions"])]
    bring_back: Option<u32>,
    /// Who puts rules to use; the name that the system has for you unless said otherwise
    #[arg(long = "as", value_name = "NAME")]
    person: Option<String>,
    /// What the picture is made of; what the terminal can show unless said otherwise
    #[arg(long, value_enum)]
    picture: Option<PictureName>,
    /// Explain the rules on this sheet
    #[arg(long, conflicts_with = "text")]
    sheet: Option<String>,
    /// Explain the rules on this text, as if a strip said it; "/" between lines
    #[arg(long)]
    text: Option<String>,
    /// Show what FILE would do in the place of the job's rule file of the same name; without FILE, what the job's own
    /// rule files would do, changed since `headword read` last applied them
    #[arg(long = "try", value_name = "FILE", num_args = 0..=1, conflicts_with_all = ["sheet", "text"])]
    trial: Option<Option<PathBuf>>,
    /// Start a rule from this sheet, of which pieces are marked
    #[arg(long, value_name = "SHEET", requires = "mark", conflicts_with_all = ["counts", "sheet", "text", "trial"])]
    from_sheet: Option<String>,
    /// A piece of the strip that is the value of a field, known or new: FIELD=TEXT; FIELD@2=TEXT where the text stands
    /// for the second time; FIELD:KIND=TEXT where the kind is not to be guessed
    #[arg(long, value_name = "FIELD=TEXT", requires = "from_sheet", value_parser = example::parse_mark)]
    mark: Vec<example::Mark>,
    /// Suggest rules from sheets that no rule fits, but that were keyed
    #[arg(long, conflicts_with_all = ["counts", "sheet", "text", "trial", "from_sheet"])]
    suggest: bool,
    /// What is really on the sheets, to count the fields that are right: a CSV file with a column `sheet` and columns
    /// named like fields, such as a demo's truth.csv
    #[arg(long, value_name = "CSV", requires = "trial")]
    truth: Option<PathBuf>,
}

/// How sure a reader is of its characters when a text is given instead of a strip.
const GIVEN_TEXT: f64 = 0.99;

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    if arguments.versions {
        return versions::list(&Job::open_for_rules(&arguments.job)?);
    }
    if let Some(version) = arguments.bring_back {
        return versions::bring_back(&Job::open_for_rules(&arguments.job)?, version);
    }
    let is_explained = arguments.sheet.is_some() || arguments.text.is_some();
    let is_started = arguments.from_sheet.is_some() || arguments.suggest;
    if !arguments.counts && !is_explained && !is_started && arguments.trial.is_none() {
        return desk::open(arguments);
    }
    // A rule can be started where there is none yet.
    let job = match is_started {
        true => Job::open_for_rules(&arguments.job)?,
        false => Job::open(&arguments.job)?,
    };
    if let Some(file) = &arguments.trial {
        return trial::run(&job, file.as_deref(), arguments.truth.as_deref());
    }
    if let Some(sheet) = &arguments.from_sheet {
        return example::run_example(&job, sheet, &arguments.mark);
    }
    if arguments.suggest {
        return example::run_suggest(&job);
    }
    if let Some(text) = &arguments.text {
        let lines = text
            .split('/')
            .map(|line| Line::certain(line.trim(), GIVEN_TEXT))
            .collect();
        return explain(&job, &Reading { lines }, None);
    }
    if let Some(sheet) = &arguments.sheet {
        let sheet = SheetId::new(sheet.as_str());
        let record = job
            .store
            .reading(&sheet)
            .map_err(CommandError::input)?
            .ok_or_else(|| {
                CommandError::Input(format!(
                    "{sheet}: expected a sheet that was read, found none of that name; \
                 write it as index.csv does, and run headword read first"
                ))
            })?;
        return explain(&job, &record.reading, record.lay.as_ref());
    }
    count(&job)
}

fn explain<S: Store>(
    job: &Job<S>,
    reading: &Reading,
    lay: Option<&Lay>,
) -> Result<Report, CommandError> {
    let rules = job.proposer.rules();
    let around = job.proposer.around(lay);
    let fits = rules.extract(reading, &around);
    let mut text = String::new();
    for line in reading.text().lines() {
        let _ = writeln!(text, "strip: {}", shown(line));
    }
    for name in rules.rules() {
        if let Some(explanation) = rules.explain(reading, &around, name) {
            let _ = writeln!(text, "\n{explanation}");
        }
    }
    let exit = if fits.is_empty() {
        Exit::Findings
    } else {
        Exit::Done
    };
    Ok(Report::new(text, &fits, exit))
}

#[derive(Debug, Default, Serialize)]
struct Counts {
    sheets: usize,
    /// Sheets by the rule that fits best.
    by_rule: BTreeMap<String, usize>,
    /// Sheets that more than one rule fits.
    several: usize,
    fitted_by_none: Vec<SheetId>,
}

/// Sheets that no rule fits, named before the rest is only counted.
const NAMED: usize = 10;

fn count<S: Store>(job: &Job<S>) -> Result<Report, CommandError> {
    let rules = job.proposer.rules();
    let mut counts = Counts::default();
    counts
        .by_rule
        .extend(rules.rules().map(|rule| (rule.to_owned(), 0)));
    for record in job.store.readings().map_err(CommandError::input)? {
        let record = record.map_err(CommandError::input)?;
        let fits = job.proposer.extract(&Seen::from(&record));
        counts.sheets += 1;
        counts.several += usize::from(fits.len() > 1);
        match fits.first().filter(|_| any_fits(&fits)) {
            Some(best) => *counts.by_rule.entry(best.rule.clone()).or_default() += 1,
            None => counts.fitted_by_none.push(record.sheet),
        }
    }
    let mut text = format!("{} sheets\n", counts.sheets);
    for (rule, sheets) in &counts.by_rule {
        let _ = writeln!(text, "{sheets:6}  {}", shown(rule));
    }
    let none = &counts.fitted_by_none;
    let _ = writeln!(text, "{:6}  fitted by no rule", none.len());
    for sheet in none.iter().take(NAMED) {
        let _ = writeln!(text, "        {sheet}");
    }
    if none.len() > NAMED {
        let _ = writeln!(text, "        and {} more", none.len() - NAMED);
    }
    let _ = writeln!(
        text,
        "{:6}  fitted by more than one (the best is counted above)",
        counts.several
    );
    let exit = if none.is_empty() {
        Exit::Done
    } else {
        Exit::Findings
    };
    Ok(Report::new(text, &counts, exit))
}
