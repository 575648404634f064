//! What is known of the work that is to be planned.

use crate::figures::{Estimate, Piece, Share, Skill};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// How many sheets there are.
#[derive(Debug, Clone, PartialEq)]
pub enum Sheets {
    /// Counted in pieces of drawer; the whole in inches.
    Drawers {
        pieces: Vec<Piece>,
        whole: Estimate,
    },
    Given(Estimate),
    /// In the job.
    Job(usize),
}

/// How many of the sheets one keying is of.
#[derive(Debug, Clone, PartialEq)]
pub enum Part {
    All,
    Given(Estimate),
    /// As of the job's sheets: so many of so many.
    AsInJob(Share),
    /// Sheets counted in the job's journal: those that wait, and those that were put off and come back.
    Left {
        waiting: usize,
        held: usize,
    },
}

/// Seconds a sheet.
#[derive(Debug, Clone, PartialEq)]
pub enum Rate {
    /// Of the sheets keyed so far, by person.
    Measured(BTreeMap<String, Vec<f64>>),
    Given(Estimate),
    Keystrokes {
        keys: Estimate,
        looks: Estimate,
        skill: Skill,
    },
}

/// One round of keying to be planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Keying {
    pub name: &'static str,
    pub part: Part,
    /// Sheets done already, where `part` does not leave them out.
    pub done: usize,
    /// None where nobody knows it.
    pub rate: Option<Rate>,
    /// Why the rate of another keying stands here, if it does.
    pub borrowed: Option<&'static str>,
}

/// What is known of the work.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Of all measured figures together.
    pub confidence: f64,
    pub sheets: Sheets,
    /// Sheets that are in the job: there are no fewer.
    pub least: usize,
    pub keyings: Vec<Keying>,
    pub clerks: Option<u32>,
    pub hours_a_day: Option<Estimate>,
    pub start: Option<Date>,
    pub price_a_sheet: Option<Estimate>,
    pub price_an_hour: Option<Estimate>,
    pub currency: Option<String>,
}
