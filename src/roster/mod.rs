//! Fields in, ranked rows of the client's roster out, with an explicit "none of these".

use crate::value::Probability;
use serde::{Deserialize, Serialize};

/// What is known of a sheet when the roster is asked: per roster column, the values it may have with probabilities.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Query {
    pub columns: Vec<QueryColumn>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct QueryColumn {
    /// The roster's column.
    pub column: String,
    /// Values as typed with their probabilities, best first; may be empty (not on the strip).
    pub values: Vec<(String, Probability)>,
}

/// The rows that may be meant, best first, and how probable it is that none of them is.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Ranking {
    pub rows: Vec<RankedRow>,
    /// Probability that the person or thing is not in the roster; with the rows' it adds up to 1 at most.
    pub none: Probability,
}

/// A row that may be meant.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RankedRow {
    /// Index into the roster's rows.
    pub row: usize,
    pub probability: Probability,
    /// Per column; the weights and the prior add up to the row's log-odds weight.
    pub reasons: Vec<Reason>,
}

/// One column's part in a row's weight.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reason {
    pub column: String,
    /// Natural log of the likelihood ratio: this row against a person not in the roster.
    pub weight: f64,
    /// In words: "number agrees", "surname agrees but for one letter".
    pub words: String,
}
