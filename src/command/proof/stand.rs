//! Where a proof stands: the sample, how right its proposals are, what the client said, and what is still to be done.

use super::strips::{Strip, Strips, comparer, first_keying};
use super::{LISTED, day, is_done, makeup, proof_of};
use crate::command::batch::{Delivery, Scope};
use crate::command::report::counted;
use crate::command::{CommandError, Exit, Report};
use crate::delivery::Check;
use crate::desk::knowledge::JobKnowledge;
use crate::desk::rehearse::{KnownSheet, rehearse};
use crate::desk::session::{plan, seen};
use crate::figures::{Interval, Mean, Share, clopper_pearson_upper};
use crate::job::Job;
use crate::journal::{JournalError, KeyedValue, Keying, ProofItem, Store, UNREADABLE, Versions};
use crate::review::{Gate, LineStanding, Proof, Rehearsal, SheetLines, changed};
use crate::value::{Severity, SheetId, SheetKind, SheetState, shown};
use serde_json::json;
use std::collections::BTreeMap;
use std::fmt::Write;

/// Confidence of every interval.
const CONFIDENCE: f64 = 0.95;

/// What the client's lines come to now.
pub struct Stand {
    /// Sheets of the sample that nobody has keyed, put off or set aside.
    waiting: usize,
    /// Of the sample, and of the questions about other sheets.
    lines: Vec<(ProofItem, LineStanding)>,
    /// Whether a page with the sample was written.
    has_page: bool,
}

impl Stand {
    pub fn of<S: Store>(job: &Job<S>, proof: &Proof) -> Result<Self, CommandError> {
        Ok(Self::within(job, proof, &Delivery::of(job, Scope::Draft)?))
    }

    /// The same from all records of the job.
    pub fn within<S: Store>(job: &Job<S>, proof: &Proof, delivery: &Delivery) -> Self {
        let strips = Strips::of(job, delivery);
        let sample = strips.sample(proof);
        let waiting = sample.iter().filter(|strip| !is_done(strip.state)).count();
        // A sheet of the sample has its questions there already.
        let is_new = |strip: &Strip| !proof.sheets().contains(&strip.lines.sheet);
        let others = strips.questioned(proof).into_iter().filter(is_new);
        let [sample, others]: [Vec<SheetLines>; 2] = [
            sample.into_iter().map(|strip| strip.lines).collect(),
            others.map(|strip| strip.lines).collect(),
        ];
        let comparer = comparer(job);
        let mut lines = proof.standing(&sample, &comparer);
        // What comes up in the bulk keeps nobody from approving the proof before it was put to the client.
        let others = proof.standing(&others, &comparer).into_iter();
        lines.extend(others.filter(|(_, standing)| *standing != LineStanding::NotAsked));
        Self {
            waiting,
            lines,
            has_page: proof.pages[0] > 0,
        }
    }

    /// Lines that the client has not answered, or was not asked.
    pub fn open(&self) -> usize {
        self.lines
            .iter()
            .filter(|(_, standing)| standing.is_open())
            .count()
    }

    /// Values that the client called wrong and that stand.
    pub fn wrong(&self) -> usize {
        let is_wrong = |(_, standing): &&(ProofItem, _)| matches!(standing, LineStanding::Wrong(_));
        self.lines.iter().filter(is_wrong).count()
    }

    /// What keeps the client's approval from being recorded, in words.
    pub fn lacks(&self) -> Vec<String> {
        let mut lacks = Vec::new();
        if self.waiting > 0 {
            lacks.push(format!(
                "{} of the sample still to be keyed",
                counted(self.waiting, "sheet")
            ));
        }
        if !self.has_page {
            lacks.push("the client was shown no page yet".to_owned());
        }
        let mut listed = |what: &str, is_meant: &dyn Fn(&LineStanding) -> bool| {
            let meant = self.lines.iter().filter(|(_, standing)| is_meant(standing));
            let told: Vec<String> = meant.map(|(item, standing)| line(item, standing)).collect();
            if !told.is_empty() {
                lacks.push(format!("{what}: {}", told.len()));
            }
            let more = told.len().saturating_sub(LISTED);
            lacks.extend(
                told.into_iter()
                    .take(LISTED)
                    .map(|line| format!("  {line}")),
            );
            if more > 0 {
                lacks.push(format!("  and {more} more"));
            }
        };
        listed("wrong by the client, and standing", &|standing| {
            matches!(standing, LineStanding::Wrong(_))
        });
        listed("not answered", &|standing| *standing == LineStanding::Open);
        if self.has_page {
            listed(
                "not asked yet, or changed since; a new page asks",
                &|standing| *standing == LineStanding::NotAsked,
            );
        }
        lacks
    }

    /// What a check of the batch has to say of it.
    pub fn checks(&self, gate: &Gate) -> Vec<Check> {
        let mut checks = Vec::new();
        let mut add = |severity, code, message: &str, is_meant: &dyn Fn(&LineStanding) -> bool| {
            let meant = self.lines.iter().filter(|(_, standing)| is_meant(standing));
            let mut sheets: Vec<SheetId> = meant.map(|(item, _)| item.sheet.clone()).collect();
            sheets.dedup();
            if !sheets.is_empty() {
                checks.push(Check {
                    severity,
                    code,
                    sheets,
                    message: message.to_owned(),
                });
            }
        };
        add(
            Severity::Warning,
            "client-says-wrong",
            "the client says that a value is wrong, and it stands; correct it (`headword history` tells what was said)",
            &|standing| matches!(standing, LineStanding::Wrong(_)),
        );
        add(
            Severity::Note,
            "client-asked",
            "the client has not answered yet",
            &|standing| *standing == LineStanding::Open,
        );
        add(
            Severity::Note,
            "client-answered",
            "the client answered a question; key by the answer (`headword history` tells it, and the desk)",
            &|standing| matches!(standing, LineStanding::Answered(_)),
        );
        if let Gate::Warned(why) | Gate::Refused(why) = gate {
            checks.push(Check {
                severity: Severity::Warning,
                code: "client-approval",
                sheets: Vec::new(),
                message: why.clone(),
            });
        }
        checks
    }

    fn count(&self, is_meant: impl Fn(&LineStanding) -> bool) -> usize {
        self.lines
            .iter()
            .filter(|(_, standing)| is_meant(standing))
            .count()
    }
}

/// A line of the form in a few words.
fn line(item: &ProofItem, standing: &LineStanding) -> String {
    let what = match (item.question.is_empty(), item.about.is_empty()) {
        (true, _) => format!("{}: {}", item.about, item.value),
        (false, true) => item.question.clone(),
        (false, false) => format!("{}: {}", item.about, item.question),
    };
    let right = match standing {
        LineStanding::Wrong(correct) if correct.is_empty() => ", not said what is right".to_owned(),
        LineStanding::Wrong(correct) => format!(", right is {correct}"),
        _ => String::new(),
    };
    shown(&format!("{} {what}{right}", item.sheet)).into_owned()
}

/// The state of the proof.
pub fn told<S: Store>(job: &Job<S>, folder: &str) -> Result<Report, CommandError> {
    let proof = proof_of(job)?;
    let Some((drawn, made)) = &proof.sample else {
        let mut text = format!(
            "{}\nno sample is drawn yet\nnext: `headword proof {folder} --draw`\n",
            shown(&job.settings.title)
        );
        if !proof.questions.is_empty() {
            text += &format!(
                "open questions go on a page of their own: `headword proof {folder} --page FILE.html --questions`\n"
            );
        }
        return Ok(Report::new(text, json!({ "sample": null }), Exit::Done));
    };
    let mut text = format!(
        "{}\nsample: {} of {}, seed {}, drawn on {} by {}",
        shown(&job.settings.title),
        drawn.sheets.len(),
        counted(drawn.of, "sheet"),
        drawn.seed,
        day(made.at),
        shown(&made.by)
    );
    if proof.draws > 1 {
        let why = drawn.despite.as_deref().unwrap_or("no reason given");
        let _ = write!(text, "; draw number {}: {}", proof.draws, shown(why));
    }
    text.push('\n');
    text += &makeup(job, &drawn.sheets)?;
    let rehearsed = Rehearsed::of(job, &proof).map_err(CommandError::input)?;
    text += &rehearsed.told();
    let stand = Stand::of(job, &proof)?;
    let versions = job.versions();
    text += &said(&proof, &stand, &versions);
    let _ = writeln!(
        text,
        "next: {}",
        next(&proof, &stand, &rehearsed, &versions, folder)
    );
    let exit = match stand.wrong() + rehearsed.rehearsal.by_face[0].hits as usize {
        0 => Exit::Done,
        _ => Exit::Findings,
    };
    let json = json!({
        "sample": drawn,
        "states": rehearsed.states,
        "rehearsal": rehearsed.rehearsal,
        "keystrokes_a_sheet": rehearsed.keystrokes.value(),
        "confirmed": stand.count(|standing| *standing == LineStanding::Right),
        "answered": stand.count(|standing| matches!(standing, LineStanding::Answered(_))),
        "wrong": stand.wrong(),
        "open": stand.open(),
        "approval": proof.approval.as_ref().map(|(approved, _)| approved),
        "versions": versions,
    });
    Ok(Report::new(text, json, exit))
}

/// What the client said so far.
fn said(proof: &Proof, stand: &Stand, versions: &Versions) -> String {
    let mut text = String::new();
    if stand.has_page {
        let _ = writeln!(
            text,
            "client: {} confirmed, {} wrong and standing, {} answered, {} open",
            counted(
                stand.count(|standing| *standing == LineStanding::Right),
                "value"
            ),
            stand.wrong(),
            counted(
                stand.count(|standing| matches!(standing, LineStanding::Answered(_))),
                "question"
            ),
            stand.open()
        );
        for (item, standing) in stand.lines.iter().take_while(|_| stand.wrong() > 0) {
            if matches!(standing, LineStanding::Wrong(_)) {
                let _ = writeln!(text, "  wrong: {}", line(item, standing));
            }
        }
        for (item, standing) in &stand.lines {
            if let LineStanding::Answered(words) = standing {
                let _ = writeln!(
                    text,
                    "  answered: {} - {}",
                    line(item, standing),
                    shown(words)
                );
            }
        }
    }
    match &proof.approval {
        None => text.push_str("approval: none\n"),
        Some((approved, made)) => {
            let _ = write!(
                text,
                "approval: by {}, recorded on {} by {}",
                shown(&approved.client),
                day(made.at),
                shown(&made.by)
            );
            if let Some(reason) = &approved.despite {
                let _ = write!(
                    text,
                    ", despite {} open and {} wrong: {}",
                    approved.open,
                    approved.wrong,
                    shown(reason)
                );
            }
            if approved.versions != *versions {
                let what = changed(&approved.versions, versions);
                let _ = write!(text, "; stale: {what} changed since");
            }
            text.push('\n');
        }
    }
    text
}

/// What is to be done next.
fn next(
    proof: &Proof,
    stand: &Stand,
    rehearsed: &Rehearsed,
    versions: &Versions,
    folder: &str,
) -> String {
    let is_approved =
        matches!(&proof.approval, Some((approved, _)) if approved.versions == *versions);
    if is_approved {
        return "nothing: the bulk may go on".to_owned();
    }
    if stand.waiting > 0 {
        return format!(
            "`headword key {folder} --proof`: {} wait",
            counted(stand.waiting, "sheet")
        );
    }
    let not_asked = stand.count(|standing| *standing == LineStanding::NotAsked);
    if !stand.has_page || not_asked > 0 {
        let better = match rehearsed.rehearsal.misread.is_empty() {
            true => "",
            false => " (or better rules first: `headword rules`, then `headword read`)",
        };
        return format!("`headword proof {folder} --page FILE.html`{better}");
    }
    match (stand.wrong(), stand.open()) {
        (0, 0) => format!("`headword proof {folder} --approve --by NAME`"),
        (0, _) => format!(
            "`headword proof {folder} --answers FILE.csv`, once the client has sent it back"
        ),
        (wrong, _) => format!(
            "{} to be put right: `headword key {folder} --proof --sheet SHEET`, or the rules, the roster, the naming",
            counted(wrong, "value")
        ),
    }
}

/// The sample rehearsed: proposals beside what was keyed blind, and an ideal clerk's keys.
#[derive(Default)]
struct Rehearsed {
    states: BTreeMap<String, usize>,
    rehearsal: Rehearsal,
    /// Keyed, but in sight of the proposal: nothing is learnt from these.
    seen: usize,
    keystrokes: Mean,
    /// Keyed sheets that the ideal clerk was not given: several records, or characters that cannot be read.
    unrehearsed: usize,
}

impl Rehearsed {
    fn of<S: Store>(job: &Job<S>, proof: &Proof) -> Result<Self, JournalError> {
        let mut all = Self::default();
        let comparer = comparer(job);
        let plan = plan(&job.settings, &job.proposer, 1);
        let knowledge = JobKnowledge::new(&job.proposer);
        for sheet in proof.sheets() {
            let state = job.store.state(sheet, 1)?.state;
            *all.states.entry(state.to_string()).or_default() += 1;
            let keying = first_keying(&job.store, sheet)?.filter(|_| state == SheetState::Keyed);
            let (Some(keying), Some(record)) = (keying, job.store.sheet(sheet)?) else {
                continue;
            };
            if keying.seen.proposal || keying.seen.suggestions {
                all.seen += 1;
                continue;
            }
            let proposal = job.store.proposal(sheet)?;
            let proposed = proposal.as_ref().map(|record| &record.proposal);
            all.rehearsal.add(sheet, &keying, proposed, &comparer);
            let Some(known) = known(&keying) else {
                all.unrehearsed += 1;
                continue;
            };
            let reading = job.store.reading(sheet)?;
            let mut opened = seen(&job.settings, &record, 1, reading, proposal);
            // As most sheets of the bulk will come.
            opened.unfilled = false;
            let done = rehearse(&plan, opened, &known, &knowledge);
            match done.stuck {
                Some(_) => all.unrehearsed += 1,
                None => all.keystrokes.add(done.keystrokes as f64),
            }
        }
        Ok(all)
    }

    fn told(&self) -> String {
        let states = self
            .states
            .iter()
            .map(|(state, count)| format!("{count} {state}"));
        let mut text = format!("keyed blind: {}\n", states.collect::<Vec<_>>().join(", "));
        let Rehearsal {
            sheets,
            fields,
            by_face: [sure, look, empty],
            by_field,
            unreadable,
            misjudged,
            unfitted,
            misread,
        } = &self.rehearsal;
        if self.seen > 0 {
            let _ = writeln!(
                text,
                "  {} keyed in sight of the proposal since: left out of what follows",
                counted(self.seen, "sheet")
            );
        }
        if sheets.of == 0 {
            return text;
        }
        let _ = writeln!(
            text,
            "proposed right, beside what was keyed (95 % intervals: exact for sheets; for fields as many independent ones \
             as those of {} are worth)\n  sheets with every field right: {}\n  fields right: {}",
            counted(sheets.of as usize, "sheet"),
            rate(*sheets, sheets.interval(CONFIDENCE)),
            rate(fields.all, fields.interval(CONFIDENCE))
        );
        let _ = writeln!(
            text,
            "  sure and wrong: {} of {}; with 95 % confidence at most {:.1} in 1,000",
            sure.hits,
            sure.of,
            1_000.0 * clopper_pearson_upper(sure.hits, sure.of, CONFIDENCE)
        );
        let _ = writeln!(
            text,
            "  to look at and wrong: {} of {}; proposed empty and not so: {} of {}",
            look.hits, look.of, empty.hits, empty.of
        );
        if let Some(keystrokes) = self.keystrokes.value() {
            let _ = writeln!(
                text,
                "  an ideal clerk takes {keystrokes:.2} keystrokes a sheet{}",
                match self.unrehearsed {
                    0 => String::new(),
                    left => format!(
                        "; {} left out (several records, or illegible)",
                        counted(left, "sheet")
                    ),
                }
            );
        }
        if *unreadable > 0 {
            let _ = writeln!(
                text,
                "  {} nobody could read: not compared",
                counted(*unreadable, "field")
            );
        }
        for (what, sheets) in [
            ("no rule fits", unfitted),
            ("another kind or number of records than proposed", misjudged),
        ] {
            if !sheets.is_empty() {
                let names: Vec<String> = sheets
                    .iter()
                    .take(LISTED)
                    .map(ToString::to_string)
                    .collect();
                let _ = writeln!(text, "  {what}: {} ({})", sheets.len(), names.join(", "));
            }
        }
        let mut worst: Vec<_> = by_field
            .iter()
            .filter(|(_, share)| share.hits < share.of)
            .collect();
        worst.sort_by_key(|(_, share)| std::cmp::Reverse(share.of - share.hits));
        let worst = worst
            .iter()
            .map(|(field, share)| format!("{} {}", shown(field), share.of - share.hits));
        if !misread.is_empty() {
            let _ = writeln!(
                text,
                "what still misses, by field: {}",
                worst.collect::<Vec<_>>().join(", ")
            );
        }
        for miss in misread.iter().take(LISTED) {
            let face = ["sure", "look", "empty"][miss.face as usize];
            let _ = writeln!(
                text,
                "  {} {} ({face}): proposed {}, keyed {}",
                miss.sheet,
                shown(&miss.field),
                or_nothing(&miss.proposed),
                or_nothing(&miss.keyed)
            );
        }
        if misread.len() > LISTED {
            let _ = writeln!(
                text,
                "  and {} more; --json has them all",
                misread.len() - LISTED
            );
        }
        text
    }
}

fn or_nothing(value: &str) -> String {
    match value.is_empty() {
        true => "nothing".to_owned(),
        false => shown(value).into_owned(),
    }
}

fn rate(share: Share, Interval { low, high }: Interval) -> String {
    format!(
        "{} of {}, {:.1} % ({:.1} to {:.1})",
        share.hits,
        share.of,
        100.0 * share.rate().unwrap_or_default(),
        100.0 * low,
        100.0 * high
    )
}

/// What was keyed as an answer for the ideal clerk; none where it is more than one record, or could not be read.
fn known(keying: &Keying) -> Option<KnownSheet> {
    let mut known = KnownSheet {
        kind: keying.kind,
        ..KnownSheet::default()
    };
    let record = match (&keying.records[..], keying.kind) {
        ([record], SheetKind::Record) => record,
        (_, SheetKind::Record) => return None,
        _ => return Some(known),
    };
    for field in &record.fields {
        let text = match &field.value {
            KeyedValue::Text(text) if !text.contains(UNREADABLE) => text.clone(),
            KeyedValue::NothingOnStrip => String::new(),
            _ => return None,
        };
        known.values.insert(field.field.clone(), text);
    }
    Some(known)
}
