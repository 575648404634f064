//! Where a proof stands: the sample, how right its proposals are, what the client said, and what is still to be done.

use super::rehearsed::Rehearsed;
use super::strips::{Strip, Strips, comparer};
use super::{LISTED, day, is_done, makeup, proof_of};
use crate::command::batch::{Delivery, Scope};
use crate::command::report::counted;
use crate::command::{CommandError, Exit, Report};
use crate::delivery::Check;
use crate::job::Job;
use crate::journal::{ProofItem, Store, Versions};
use crate::review::{Gate, LineStanding, Proof, SheetLines, changed};
use crate::value::{Severity, SheetId, shown};
use serde_json::json;
use std::fmt::Write;

/// What the client's lines come to now.
pub struct Stand {
    /// Sheets of the sample that nobody has keyed, put off or set aside.
    waiting: usize,
    /// Sheets of the sample whose images are gone.
    gone: usize,
    /// Of the sample, and of the questions about other sheets.
    lines: Vec<(ProofItem, LineStanding)>,
    has_sample: bool,
    /// Whether a page with the sample was written.
    has_page: bool,
    /// What changed since the last page with the sample, in words; none where nothing did.
    changed_since_page: Option<String>,
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
        let versions = job.versions();
        let comparer = comparer(job);
        let mut lines = proof.standing(&sample, &comparer);
        // What comes up in the bulk keeps nobody from approving the proof before it was put to the client.
        let others = proof.standing(&others, &comparer).into_iter();
        lines.extend(others.filter(|(_, standing)| *standing != LineStanding::NotAsked));
        Self {
            waiting,
            gone: proof.sheets().len() - sample.len(),
            lines,
            has_sample: proof.sample.is_some(),
            has_page: proof.pages[0] > 0,
            changed_since_page: proof
                .shown
                .as_ref()
                .filter(|shown| **shown != versions)
                .map(|shown| changed(shown, &versions)),
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

    fn first_wrong(&self) -> String {
        let mut lines = self.lines.iter();
        let wrong = lines.find(|(_, standing)| matches!(standing, LineStanding::Wrong(_)));
        wrong.map_or_else(String::new, |(item, _)| item.sheet.to_string())
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
        if self.has_sample && !self.has_page {
            lacks.push("the client was shown no page yet".to_owned());
        }
        if let Some(changed) = &self.changed_since_page {
            lacks.push(format!(
                "the page was of other {changed} than now; write a new page"
            ));
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
    if stand.gone > 0 {
        let _ = writeln!(
            text,
            "  {} of the sample gone: the images are not there any more",
            counted(stand.gone, "sheet")
        );
    }
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
        "is_mended": rehearsed.is_mended,
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
        (0, _) if stand.changed_since_page.is_some() => {
            format!("`headword proof {folder} --page FILE.html`, for what changed since")
        }
        (0, 0) => format!("`headword proof {folder} --approve --by NAME`"),
        (0, _) => format!(
            "`headword proof {folder} --answers FILE.csv`, once the client has sent it back"
        ),
        (wrong, _) => format!(
            "{} to be put right: `headword key {folder} --proof --sheet {}`, or the rules, the roster, the naming",
            counted(wrong, "value"),
            stand.first_wrong()
        ),
    }
}
