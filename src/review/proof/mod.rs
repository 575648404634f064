//! The proof: a sample drawn before the bulk, its values and questions put to the client, answers and approval.
//!
//! Everything follows from the journal's decisions ([`Proof::of`]) and from what a page would say now ([`SheetLines`]):
//! [`Proof::numbered`] numbers the lines of a page, [`Proof::standing`] says which of them are answered, open or wrong,
//! [`Proof::gate`] whether the bulk may go on. [`read_answers`] takes a form that came back, [`Rehearsal`] holds what is
//! proposed against what was keyed. No clock, terminal or database.

mod answers;
mod lines;
mod rehearsal;

pub use answers::{ReadAnswers, read_answers};
pub use lines::{
    ANSWERS_COLUMNS, FILE_NAME, LineStanding, SheetLines, WHOLE_SHEET, earlier_answer, form_rows,
};
pub use rehearsal::{Misread, Rehearsal};

use super::same::Comparer;
use super::twice::drawn;
use crate::job::Bulk;
use crate::journal::{
    Choice, ClientAnswer, Decision, Numbered, ProofApproved, ProofDrawn, ProofItem, QuestionAdded,
    Versions,
};
use crate::value::{SheetId, sha256_parts};
use std::collections::{BTreeMap, HashMap};

/// Sheets that are drawn unless stated otherwise (common practice, no source).
pub const SAMPLE: usize = 100;

/// A job's proof, as its decisions leave it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Proof {
    /// The sample that counts, who drew it and when, and how many were drawn before it.
    pub sample: Option<(ProofDrawn, Made)>,
    pub draws: usize,
    /// Whether rules were published since: what they get right of the sample says little of the other sheets then.
    pub is_mended: bool,
    pub questions: Vec<QuestionAdded>,
    /// Every line that was ever put to the client, by its number.
    pub asked: BTreeMap<u32, ProofItem>,
    /// Pages with the sample, and pages of questions alone.
    pub pages: [usize; 2],
    /// Of what the last page with the sample was.
    pub shown: Option<Versions>,
    /// The answer that counts to each line: the last.
    pub answers: BTreeMap<u32, ClientAnswer>,
    /// SHA-256 of the forms as they were written, of all pages.
    pub forms: Vec<String>,
    /// SHA-256 of the files that were read.
    pub files: Vec<String>,
    pub approval: Option<(ProofApproved, Made)>,
}

/// Who decided something, and when, in milliseconds since 1970-01-01 UTC.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Made {
    pub by: String,
    pub at: i64,
}

/// Whether the bulk may go on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Gate {
    Open,
    /// It may, and this is to be told.
    Warned(String),
    /// It may not, for this reason.
    Refused(String),
}

impl Proof {
    /// From all decisions of a job, in their order.
    pub fn of(decisions: &[Decision]) -> Self {
        let mut proof = Self::default();
        for decision in decisions {
            let made = || Made {
                by: decision.by.clone(),
                at: decision.at,
            };
            match &decision.choice {
                Choice::ProofDrawn(drawn) => {
                    proof.draws += 1;
                    proof.is_mended = false;
                    proof.sample = Some((drawn.clone(), made()));
                }
                Choice::RulesPublished(_) => proof.is_mended = proof.sample.is_some(),
                Choice::QuestionAdded(question) => proof.questions.push(question.clone()),
                Choice::PageWritten(page) => {
                    proof.pages[usize::from(!page.is_proof)] += 1;
                    if page.is_proof {
                        proof.shown = Some(page.versions.clone());
                    }
                    proof.forms.extend(page.forms.iter().cloned());
                    let lines = page.items.iter().cloned();
                    proof
                        .asked
                        .extend(lines.map(|line| (line.number, line.item)));
                }
                Choice::AnswersRead(read) => {
                    proof.files.push(read.content_hash.clone());
                    let answers = read.answers.iter().cloned();
                    proof
                        .answers
                        .extend(answers.map(|answer| (answer.number, answer)));
                }
                Choice::ProofApproved(approved) => {
                    proof.approval = Some((approved.clone(), made()))
                }
                _ => {}
            }
        }
        proof
    }

    /// The sheets of the sample; none where none was drawn.
    pub fn sheets(&self) -> &[SheetId] {
        self.sample.as_ref().map_or(&[], |(drawn, _)| &drawn.sheets)
    }

    /// What stands between the bulk and the client's approval.
    pub fn gate(&self, bulk: Bulk, now: &Versions) -> Gate {
        let lacks = match (&self.approval, bulk) {
            (_, Bulk::Free) => return Gate::Open,
            (Some((approved, _)), _) if approved.versions == *now => return Gate::Open,
            (Some((approved, made)), _) => format!(
                "the client's approval, by {}, was of other {} than now (recorded by {}); approve them again",
                approved.client,
                changed(&approved.versions, now),
                made.by
            ),
            (None, _) => "the client has not approved a proof of this job".to_owned(),
        };
        match bulk {
            Bulk::Warned => Gate::Warned(lacks),
            _ => Gate::Refused(lacks),
        }
    }

    /// The client's words to what was asked of a sheet, beside confirmed values: (what was asked, the answer).
    pub fn said_of(&self, sheet: &SheetId) -> Vec<(String, String)> {
        let asked = self.asked.iter().filter(|(_, item)| item.sheet == *sheet);
        let said = asked.filter_map(|(number, item)| {
            let answer = self.answers.get(number)?;
            match (item.question.is_empty(), answer.is_right) {
                (false, None) => Some((item.question.clone(), answer.words.clone())),
                (_, Some(false)) => {
                    let correct = match answer.correct.is_empty() {
                        true => "wrong",
                        false => &answer.correct,
                    };
                    let about = match item.covers.is_empty() {
                        true => format!("{}: {}", item.about, item.value),
                        false => item.about.clone(),
                    };
                    Some((about, correct.to_owned()))
                }
                _ => None,
            }
        });
        said.collect()
    }
}

/// Which of rules, roster and naming differ, in words.
pub fn changed(before: &Versions, now: &Versions) -> String {
    let pairs = [
        ("rules", &before.rules, &now.rules),
        ("roster", &before.roster, &now.roster),
        ("naming", &before.naming, &now.naming),
    ];
    let changed = pairs.iter().filter(|(_, before, now)| before != now);
    let names: Vec<&str> = changed.map(|(name, ..)| *name).collect();
    match names[..] {
        [] => "nothing".to_owned(),
        [ref first @ .., last] if !first.is_empty() => format!("{} and {last}", first.join(", ")),
        [.., last] => last.to_owned(),
    }
}

/// Draws a sample of these sheets, which are in drawer order: those with the lowest numbers that SHA-256 gives them for
/// this seed, so that anybody can draw it again.
pub fn draw_proof(sheets: &[SheetId], count: usize, seed: u64) -> ProofDrawn {
    let mut numbered: Vec<(f64, usize)> = (0..sheets.len())
        .map(|at| (drawn("proof", seed, &sheets[at]), at))
        .collect();
    numbered.sort_by(|one, other| one.0.total_cmp(&other.0).then(one.1.cmp(&other.1)));
    let mut places: Vec<usize> = numbered.into_iter().take(count).map(|(_, at)| at).collect();
    places.sort_unstable();
    ProofDrawn {
        seed,
        of: sheets.len(),
        of_hash: sha256_parts(sheets.iter().map(SheetId::as_str)),
        sheets: places.into_iter().map(|at| sheets[at].clone()).collect(),
        ..ProofDrawn::default()
    }
}

#[cfg(test)]
mod rehearsal_tests;
#[cfg(test)]
mod tests;
