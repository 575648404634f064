//! All evidence about a sheet in, one proposal out: for every field a value, its probability, its face, its reasons.
//!
//! [`propose`] joins three opinions on what a field says: the reader's (its candidates, through a rule), the rules'
//! (which of them is the right one), and the roster's (which row is meant, and what that row would make a typist
//! type). The roster weighs what the strip may say and never overwrites it; what the row itself says is kept beside.
//! The result is calibrated, and only then given a face.

mod before;
mod calibration;
mod doubts;
mod evidence;
mod faces;
mod join;
mod propose;
#[cfg(test)]
mod tests;

pub use before::{Before, EarlierSheet};
pub use calibration::Calibration;
pub use evidence::{Evidence, FieldPlan, RosterPlan, Scorer};
pub use faces::SURE;
pub use propose::propose;

use crate::value::{Finding, Probability, SheetKind};
use serde::{Deserialize, Serialize};

/// What a clerk is offered for one sheet. A pure function of reading, rules, roster and calibration.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Proposal {
    /// The rule that fits best, if any does.
    pub rule: Option<String>,
    /// What that rule takes the sheet for.
    #[serde(default)]
    pub kind: SheetKind,
    /// Every field of the rule file, in its order.
    pub fields: Vec<ProposedField>,
    /// The roster row that the sheet is linked to, if one is more probable than "not in the roster".
    pub link: Option<Link>,
    /// Probability that the roster does not hold what the strip names; 0 where the job has no roster.
    pub not_in_roster: Probability,
    pub findings: Vec<Finding>,
    /// The records after the first, where the strip names several.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub more: Vec<ProposedRecord>,
}

/// Another record of the same sheet.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ProposedRecord {
    pub fields: Vec<ProposedField>,
    pub link: Option<Link>,
    pub not_in_roster: Probability,
}

/// The roster row behind a proposal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Link {
    /// Index into the roster's rows.
    pub row: usize,
    /// The row's key (the job names the column).
    pub key: String,
    pub probability: Probability,
}

/// One field as proposed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProposedField {
    pub field: String,
    /// What the strip is believed to say; empty where there is nothing to propose.
    pub as_typed: String,
    /// What the linked roster row says, for fields that the roster holds.
    pub as_roster: Option<String>,
    /// That `as_typed` is what stands on the strip.
    pub probability: Probability,
    pub face: Face,
    /// Other values, best first.
    pub alternatives: Vec<(String, Probability)>,
    /// Why, in words; the weights (natural log-odds) add up to the probability's log-odds.
    pub reasons: Vec<Because>,
}

/// One reason for a proposed value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Because {
    pub weight: f64,
    pub words: String,
}

/// How much of a look a proposed value needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Face {
    /// Expected to be wrong less than once in 2,000.
    Sure,
    /// Has to be looked at.
    Look,
    /// Nothing to propose.
    #[default]
    Empty,
}
