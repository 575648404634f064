//! Reading in, fields out, by rules that the user wrote.

use crate::value::Probability;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// What one rule took out of a reading. The fitting rules come best first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Extraction {
    /// The rule's name.
    pub rule: String,
    /// Natural log of how much better the rule explains the reading than free text would. Comparable between rules.
    pub score: f64,
    /// Probability that this rule is the right one among all rules and "none of them".
    pub probability: Probability,
    pub fields: Vec<Extracted>,
    /// What had to be tolerated to make it fit, in words ("a blank is missing after the comma").
    pub tolerated: Vec<String>,
}

/// One field as a rule took it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Extracted {
    /// The field's name in the rule file.
    pub field: String,
    /// Index into `Reading::lines`.
    pub line: usize,
    /// Positions on that line.
    pub positions: Range<usize>,
    /// Values as typed, best first, probabilities adding up to at most 1. Never empty.
    pub candidates: Vec<Candidate>,
    /// What the strip's best reading says there, before the field's kind corrected it.
    pub raw: String,
}

/// A value that a field may have.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Candidate {
    /// As typed on the strip, misread characters put right by the field's kind.
    pub value: String,
    pub probability: Probability,
    /// The check character, where the field has one: holds or not.
    pub check_holds: Option<bool>,
}
