//! What is decided with the client: a sample drawn, values and questions put to the client, answers, approval.

use super::record::Extra;
use crate::value::SheetId;
use serde::{Deserialize, Serialize};

/// Sheets drawn at random, on which the rules are proved before the bulk.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ProofDrawn {
    pub seed: u64,
    /// Sheets that could be drawn, and SHA-256 over their names in drawer order: with the seed, they give the sample.
    pub of: usize,
    pub of_hash: String,
    /// In drawer order.
    pub sheets: Vec<SheetId>,
    /// Why another sample was drawn although there was one.
    pub despite: Option<String>,
    #[serde(flatten)]
    pub extra: Extra,
}

/// What the client is asked of one sheet by the supervisor.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct QuestionAdded {
    pub sheet: SheetId,
    pub question: String,
    #[serde(flatten)]
    pub extra: Extra,
}

/// Rules, roster and naming as they were: hashes, equal where they are the same.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Versions {
    pub rules: String,
    /// Empty where the job has no roster.
    pub roster: String,
    pub naming: String,
}

/// A page of values and questions, written for the client.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct PageWritten {
    pub versions: Versions,
    /// It has the sample, and not open questions alone.
    pub is_proof: bool,
    /// All of the page, in its order. One that stood on an earlier page, word for word, has kept its number.
    pub items: Vec<Numbered>,
    /// SHA-256 of the form as CSV and as a workbook; empty of pages that were written before this was kept.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub forms: Vec<String>,
    #[serde(flatten)]
    pub extra: Extra,
}

/// One line of the client's form. Numbers count over all pages of a job, so that a number alone says what was answered.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Numbered {
    pub number: u32,
    #[serde(flatten)]
    pub item: ProofItem,
}

/// A value that the client is to confirm, or a question.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub struct ProofItem {
    pub sheet: SheetId,
    /// What of the sheet, in words for the client: a field, the file name, the whole sheet.
    pub about: String,
    pub value: String,
    /// Empty where the value is to be confirmed.
    pub question: String,
    /// Numbers of the values that a yes to this one confirms.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub covers: Vec<u32>,
}

impl ProofItem {
    /// A value to be confirmed.
    pub fn is_value(&self) -> bool {
        self.question.is_empty()
    }

    /// A question that wants words; the line about all values of a sheet wants a yes or a no.
    pub fn is_question(&self) -> bool {
        !self.question.is_empty() && self.covers.is_empty()
    }
}

/// Answers that came back from the client in one file.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct AnswersRead {
    pub file: String,
    /// SHA-256 of the file.
    pub content_hash: String,
    pub answers: Vec<ClientAnswer>,
    #[serde(flatten)]
    pub extra: Extra,
}

/// The client's answer to one line of the form.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct ClientAnswer {
    pub number: u32,
    /// Whether the value is right; none for questions.
    pub is_right: Option<bool>,
    /// In the client's words.
    pub words: String,
    /// What is right instead; empty where the client did not say.
    pub correct: String,
}

/// The client approved the proof.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ProofApproved {
    /// Who approved, on the client's side.
    pub client: String,
    pub versions: Versions,
    /// Why it counts although something was open or wrong, and what that was.
    pub despite: Option<String>,
    pub open: usize,
    pub wrong: usize,
    #[serde(flatten)]
    pub extra: Extra,
}
