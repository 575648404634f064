//! `headword proof`: the rules proved on a sample, with the client, before the bulk.

mod answers;
mod client;
mod markup;
mod pictures;
mod rehearsed;
mod stand;
mod strips;

use super::batch::Delivery;
use super::key::person;
use super::report::counted;
use super::{CommandError, Exit, Report};
use crate::delivery::Check;
use crate::job::Job;
use crate::journal::{Choice, Decision, JournalError, ProofApproved, QuestionAdded, Store};
use crate::review::{Gate, Proof, SAMPLE, changed, draw_proof};
use crate::value::{SheetId, SheetState, shown};
use jiff::{Timestamp, tz::TimeZone};
use serde_json::json;
use std::collections::{BTreeMap, HashSet};
use std::fmt::Write;
use std::num::NonZeroUsize;
use std::path::PathBuf;

/// Prove the rules on a sample, with the client, before the bulk
///
/// Draw a sample (--draw), key it with `headword key JOB --proof`, and see without an option how right the proposals of
/// these sheets are. Write the client's page (--page), read the form that comes back (--answers), and record the
/// approval (--approve). [proof] in job.toml says whether keying and delivering wait for it.
#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("step").args(["draw", "page", "answers", "approve"]))]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// Draw a random sample of the sheets read, of N sheets; 100 unless said otherwise
    #[arg(long, value_name = "N", num_args = 0..=1)]
    draw: Option<Option<NonZeroUsize>>,
    /// Decides which sheets are drawn; 1 unless said otherwise
    #[arg(long, value_name = "S", requires = "draw")]
    seed: Option<u64>,
    /// Ask the client about a sheet: its name or a part that no other has, `=`, the question
    #[arg(long, value_name = "SHEET=QUESTION")]
    ask: Vec<String>,
    /// Write the client's page there, and beside it the form to fill in, as a workbook and as CSV
    #[arg(long, value_name = "FILE.html")]
    page: Option<PathBuf>,
    /// On the page: open questions about any sheet, and nothing else
    #[arg(long, requires = "page")]
    questions: bool,
    /// Read the form that came back from the client
    #[arg(long, value_name = "FILE.csv")]
    answers: Option<PathBuf>,
    /// Record that the client approved, with rules, roster and naming as they are now
    #[arg(long, requires = "by")]
    approve: bool,
    /// Who approved, on the client's side
    #[arg(long, value_name = "NAME", requires = "approve")]
    by: Option<String>,
    /// Approve although something is open or wrong, or draw another sample, for this reason
    #[arg(long, value_name = "REASON", requires = "step", conflicts_with_all = ["page", "answers"])]
    despite: Option<String>,
    /// Who does this; the name that the system has for you unless said otherwise
    #[arg(long = "as", value_name = "NAME")]
    person: Option<String>,
}

impl Arguments {
    /// Whether something is written down, which wants a name.
    fn records(&self) -> bool {
        let steps = [
            self.draw.is_some(),
            self.page.is_some(),
            self.answers.is_some(),
            self.approve,
        ];
        steps.contains(&true) || !self.ask.is_empty()
    }
}

/// Things of one sort that are told one by one before the rest is only counted.
const LISTED: usize = 10;

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let mut job = Job::open(&arguments.job)?;
    if arguments.records() {
        // Before anything takes its time.
        person(arguments.person.as_deref())?;
    }
    let asked = ask(arguments, &mut job)?;
    let report = if let Some(count) = arguments.draw {
        draw(arguments, &mut job, count.map_or(SAMPLE, NonZeroUsize::get))
    } else if let Some(path) = &arguments.page {
        client::write(arguments, &mut job, path)
    } else if let Some(path) = &arguments.answers {
        answers::read(arguments, &mut job, path)
    } else if arguments.approve {
        approve(arguments, &mut job)
    } else if asked.is_empty() {
        stand::told(&job, &folder(arguments))
    } else {
        let text = format!(
            "`headword proof {} --page FILE.html --questions` puts all open questions on a page\n",
            folder(arguments)
        );
        Ok(Report::new(
            text,
            json!({ "asked": arguments.ask }),
            Exit::Done,
        ))
    }?;
    Ok(Report {
        text: asked + &report.text,
        ..report
    })
}

/// The job's folder as it was given, for messages.
fn folder(arguments: &Arguments) -> String {
    shown(&arguments.job.display().to_string()).into_owned()
}

fn proof_of<S: Store>(job: &Job<S>) -> Result<Proof, CommandError> {
    Ok(Proof::of(
        &job.store.decisions().map_err(CommandError::input)?,
    ))
}

/// Whether the bulk may go on, with what to do about it where it may not.
pub(super) fn gate<S: Store>(job: &Job<S>, folder: &str) -> Result<Gate, CommandError> {
    let gate = proof_of(job)?.gate(job.settings.proof.bulk, &job.versions());
    Ok(match gate {
        Gate::Open => Gate::Open,
        Gate::Warned(why) => Gate::Warned(format!("{why}; see `headword proof {folder}`")),
        Gate::Refused(why) => Gate::Refused(format!(
            "{why}, and [proof] of its job.toml refuses the bulk until then; `headword proof {folder}` says what is \
             still to be done"
        )),
    })
}

/// What a check of the batch has to say of the client's answers and approval.
pub(super) fn checks<S: Store>(
    job: &Job<S>,
    delivery: &Delivery,
    folder: &str,
) -> Result<Vec<Check>, CommandError> {
    let proof = proof_of(job)?;
    let stand = stand::Stand::within(job, &proof, delivery);
    Ok(stand.checks(&gate(job, folder)?))
}

fn decide<S: Store>(
    arguments: &Arguments,
    job: &mut Job<S>,
    choice: Choice,
) -> Result<(), CommandError> {
    let by = person(arguments.person.as_deref())?;
    let decision = Decision::new(&by, Timestamp::now().as_millisecond(), choice);
    job.store.decide(&decision).map_err(CommandError::input)?;
    Ok(())
}

/// A day, by the clock of this machine.
fn day(at: i64) -> String {
    match Timestamp::from_millisecond(at) {
        Ok(at) => at
            .to_zoned_datetime(TimeZone::system())
            .strftime("%Y-%m-%d")
            .to_string(),
        Err(_) => "an unknown day".to_owned(),
    }
}

/// Records the questions of the command line; says what was recorded.
fn ask<S: Store>(arguments: &Arguments, job: &mut Job<S>) -> Result<String, CommandError> {
    let mut sheets: Vec<SheetId> = Vec::new();
    if !arguments.ask.is_empty() {
        let overview = job.store.overview().map_err(CommandError::input)?;
        sheets.extend(overview.into_iter().map(|status| status.record.sheet));
    }
    let mut questions = Vec::new();
    for text in &arguments.ask {
        let (sheet, question) = text.split_once('=').unwrap_or((text, ""));
        if question.trim().is_empty() {
            return Err(CommandError::input(format!(
                "--ask: expected a sheet, `=` and a question, found {}; write --ask 'jacket-00003=Is this one person?'",
                shown(text)
            )));
        }
        questions.push(QuestionAdded {
            sheet: super::history::find(&sheets, sheet.trim()).map_err(CommandError::Input)?,
            question: question.trim().to_owned(),
            ..QuestionAdded::default()
        });
    }
    let mut told = String::new();
    for question in questions {
        let _ = writeln!(
            told,
            "to be asked about {}: {}",
            question.sheet,
            shown(&question.question)
        );
        decide(arguments, job, Choice::QuestionAdded(question))?;
    }
    Ok(told)
}

/// Draws the sample.
fn draw<S: Store>(
    arguments: &Arguments,
    job: &mut Job<S>,
    count: usize,
) -> Result<Report, CommandError> {
    let proof = proof_of(job)?;
    let (sheets, seen) = drawable(job)?;
    if sheets.is_empty() {
        let folder = folder(arguments);
        return Err(CommandError::input(match seen {
            0 => format!(
                "expected sheets that were read, found none in the journal; run `headword read {folder}` first"
            ),
            seen => format!(
                "expected sheets that nobody has keyed in sight of a proposal, found none: {} were; key them in the \
                 inspection instead, `headword key {folder} --inspect`",
                counted(seen, "sheet")
            ),
        }));
    }
    let mut drawn = draw_proof(&sheets, count, arguments.seed.unwrap_or(1));
    let before = proof.sample.as_ref().map(|(before, made)| (before, made));
    if let Some((before, made)) = before {
        if before.sheets == drawn.sheets {
            let text = format!(
                "these {} are the sample already, drawn on {} by {}\n",
                counted(drawn.sheets.len(), "sheet"),
                day(made.at),
                shown(&made.by)
            );
            return Ok(Report::new(text, &drawn, Exit::Done));
        }
        if arguments.despite.is_none() {
            return Err(CommandError::input(format!(
                "a sample of {} with the seed {} was drawn on {} by {}; drawing until one looks well proves nothing: key \
                 that one, or say why another is needed with --despite REASON",
                counted(before.sheets.len(), "sheet"),
                before.seed,
                day(made.at),
                shown(&made.by)
            )));
        }
    }
    drawn.despite.clone_from(&arguments.despite);
    let mut text = format!(
        "{} of {} drawn with the seed {}\n",
        counted(drawn.sheets.len(), "sheet"),
        drawn.of,
        drawn.seed
    );
    if drawn.sheets.len() < count {
        let _ = writeln!(text, "there are no more: {count} were asked for");
    }
    if seen > 0 {
        let _ = writeln!(
            text,
            "{} could not be drawn: keyed in sight of a proposal",
            counted(seen, "sheet")
        );
    }
    text += &makeup(job, &drawn.sheets)?;
    let _ = writeln!(text, "next: `headword key {} --proof`", folder(arguments));
    let report = Report::new(text, &drawn, Exit::Done);
    decide(arguments, job, Choice::ProofDrawn(drawn))?;
    Ok(report)
}

/// The sheets that can be keyed blind or were, in drawer order; and how many were keyed in sight of a proposal.
fn drawable<S: Store>(job: &Job<S>) -> Result<(Vec<SheetId>, usize), CommandError> {
    let fault = |fault: JournalError| CommandError::input(fault);
    let overview = job.store.overview().map_err(fault)?.into_iter();
    let read: HashSet<SheetId> = overview
        .filter(|status| status.reading_key.is_some())
        .map(|status| status.record.sheet)
        .collect();
    let (mut sheets, mut seen) = (Vec::new(), 0);
    for (sheet, state) in job.store.states(1).map_err(fault)? {
        let is_blind = match state.entry {
            Some(_) => strips::is_keyed_blind(&job.store, &sheet).map_err(fault)?,
            None => None,
        };
        match is_blind {
            _ if !read.contains(&sheet) => {}
            Some(false) => seen += 1,
            Some(true) | None => sheets.push(sheet),
        }
    }
    Ok((sheets, seen))
}

/// How many sheets of a sample each folder and each rule has.
fn makeup<S: Store>(job: &Job<S>, sheets: &[SheetId]) -> Result<String, CommandError> {
    let [mut folders, mut rules] = [(); 2].map(|()| BTreeMap::<String, usize>::new());
    for sheet in sheets {
        let folder = sheet
            .as_str()
            .rsplit_once('/')
            .map_or("no folder", |(folder, _)| folder);
        *folders.entry(folder.to_owned()).or_default() += 1;
        let proposal = job.store.proposal(sheet).map_err(CommandError::input)?;
        let rule = proposal.and_then(|record| record.proposal.rule);
        *rules
            .entry(rule.unwrap_or_else(|| "no rule fits".to_owned()))
            .or_default() += 1;
    }
    let listed = |counts: BTreeMap<String, usize>| {
        let counts = counts
            .into_iter()
            .map(|(name, count)| format!("{} {count}", shown(&name)));
        counts.collect::<Vec<_>>().join("; ")
    };
    Ok(format!(
        "  by folder: {}\n  by rule: {}\n",
        listed(folders),
        listed(rules)
    ))
}

/// Records the client's approval.
fn approve<S: Store>(arguments: &Arguments, job: &mut Job<S>) -> Result<Report, CommandError> {
    let folder = folder(arguments);
    let client = arguments.by.as_deref().unwrap_or_default().trim();
    if client.is_empty() {
        return Err(CommandError::input(
            "--by: expected the name of who approved on the client's side, found none; write --by 'J. Doe'",
        ));
    }
    let proof = proof_of(job)?;
    if proof.sheets().is_empty() {
        return Err(CommandError::input(format!(
            "expected a sample that the client could approve, found none; run `headword proof {folder} --draw` first"
        )));
    }
    let stand = stand::Stand::of(job, &proof)?;
    let lacks = stand.lacks();
    if !lacks.is_empty() && arguments.despite.is_none() {
        let mut text = String::from("the approval was not recorded:\n");
        for line in &lacks {
            let _ = writeln!(text, "  {line}");
        }
        let _ = write!(
            text,
            "mend that, or say with --despite REASON why it counts all the same; `headword proof {folder}` says more"
        );
        return Err(CommandError::Input(text));
    }
    let versions = job.versions();
    let before = proof
        .approval
        .as_ref()
        .map(|(approved, _)| &approved.versions);
    let mut text = format!(
        "{} approved, recorded with rules {:.12}, roster {}, naming {:.12}\n",
        shown(client),
        versions.rules,
        match versions.roster.as_str() {
            "" => "none",
            hash => &hash[..12],
        },
        versions.naming
    );
    if let Some(before) = before.filter(|before| **before != versions) {
        let _ = writeln!(
            text,
            "changed since the approval before: {}",
            changed(before, &versions)
        );
    }
    for line in &lacks {
        let _ = writeln!(text, "all the same: {line}");
    }
    let approved = ProofApproved {
        client: client.to_owned(),
        versions,
        despite: arguments.despite.clone(),
        open: stand.open(),
        wrong: stand.wrong(),
        ..ProofApproved::default()
    };
    let report = Report::new(text, &approved, Exit::Done);
    decide(arguments, job, Choice::ProofApproved(approved))?;
    Ok(report)
}

/// Whether a sheet of the sample needs nobody's keys any more.
fn is_done(state: SheetState) -> bool {
    state != SheetState::Waiting
}
