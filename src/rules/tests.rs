//! The room as a whole: readings through rule files.

mod faults;
mod fits;
mod kinds;
mod noise;

use super::{Around, Explanation, Extraction, RuleBook};
use crate::reading::{Line, Reading};

/// The starter rules.
fn personnel() -> RuleBook {
    book(include_str!("../../rules/personnel.toml"))
}

fn book(text: &str) -> RuleBook {
    RuleBook::parse("rules.toml", text).unwrap_or_else(|faults| panic!("{faults}"))
}

fn extract(book: &RuleBook, reading: &Reading) -> Vec<Extraction> {
    book.extract(reading, &Around::default())
}

fn explain(book: &RuleBook, reading: &Reading, rule: &str) -> Option<Explanation> {
    book.explain(reading, &Around::default(), rule)
}

/// A reading whose reader claims `certainty` for every character.
fn reading(text: &str, certainty: f64) -> Reading {
    let lines = text.lines().map(|line| Line::certain(line, certainty));
    Reading {
        lines: lines.collect(),
    }
}

/// The best value of a field; empty where there is none.
fn value<'a>(extraction: &'a Extraction, field: &str) -> &'a str {
    let found = extraction.fields.iter().find(|f| f.field == field);
    found.map_or("", |f| f.candidates[0].value.as_str())
}
