//! The pattern of a job's file names.
//!
//! ```text
//! {number}_{surname:upper}[_{part:0}of{parts:0}].tif
//! ```
//!
//! - `{field}` stands for what the strip says in that field.
//! - After a colon follows what is done with it, several times if need be: `upper`, `lower`; `roster` (the linked
//!   roster row's value where there is one); `0` (leading zeros, to the width of the batch's widest number in that
//!   field); `04` (leading zeros, to four digits); `12` (its first twelve characters, once they may stand in a name).
//! - `{sheet}` stands for the name of the sheet's image without its ending, unless a field is called so.
//! - `[...]` is left out where one of its fields is empty.
//! - All else stands for itself: letters, digits, `_`, `-` and `.`.

mod parse;

pub use parse::PatternFault;

use super::Record;
use super::pairing::stem;
use super::portable::{NOTHING, portable_value};
use std::collections::HashMap;

/// Leading zeros go to this many digits at most, so that one absurd value cannot fill every name with zeros.
const WIDEST_NUMBER: usize = 20;

/// Stands in a pattern for the name of the sheet's image.
const SHEET: &str = "sheet";

/// Characters of an extension, without its full stop.
pub(super) const LONGEST_EXTENSION: usize = 10;

/// A pattern that was understood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamePattern {
    parts: Vec<Part>,
    /// With its full stop; empty where the pattern has none.
    pub(super) extension: String,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Part {
    Text(String),
    Field {
        field: String,
        steps: Vec<Step>,
    },
    /// Left out where one of its fields is empty; holds no group.
    Group(Vec<Part>),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Step {
    Upper,
    Lower,
    Roster,
    /// To this many digits, or to the batch's widest.
    Zeros(Option<usize>),
    /// Its first characters.
    Most(usize),
}

/// A piece of a name.
pub(super) struct Piece {
    pub text: String,
    /// The field and the value before it was made portable; none for the pattern's own text.
    pub value: Option<(String, String)>,
}

/// For each field of the pattern, the digits of the batch's widest number.
pub(super) type Widths = HashMap<String, usize>;

impl NamePattern {
    /// Reads a pattern for records with these fields; gives every fault at once.
    pub fn parse(text: &str, fields: &[&str]) -> Result<Self, Vec<PatternFault>> {
        parse::parse(text, fields)
    }

    pub(super) fn widths<'a>(&self, records: impl Iterator<Item = &'a Record>) -> Widths {
        let mut widths = Widths::new();
        for record in records {
            let zeroed = self
                .stepped_fields()
                .filter(|(_, steps)| steps.contains(&Step::Zeros(None)));
            for (field, steps) in zeroed {
                let width = leading_digits(&stepped(record, field, steps, &Widths::new()));
                let widest = widths.entry(field.to_owned()).or_default();
                *widest = width.min(WIDEST_NUMBER).max(*widest);
            }
        }
        widths
    }

    /// The pieces of a record's name, the extension not among them.
    pub(super) fn pieces(&self, record: &Record, widths: &Widths) -> Vec<Piece> {
        let mut pieces = Vec::new();
        push_pieces(&self.parts, record, widths, &mut pieces);
        pieces
    }

    /// The fields that it names.
    pub(super) fn fields(&self) -> impl Iterator<Item = &str> {
        self.stepped_fields().map(|(field, _)| field)
    }

    fn stepped_fields(&self) -> impl Iterator<Item = (&str, &[Step])> {
        self.parts
            .iter()
            .flat_map(|part| match part {
                Part::Group(parts) => parts.as_slice(),
                single => std::slice::from_ref(single),
            })
            .filter_map(|part| match part {
                Part::Field { field, steps } => Some((field.as_str(), steps.as_slice())),
                _ => None,
            })
    }
}

fn push_pieces(parts: &[Part], record: &Record, widths: &Widths, pieces: &mut Vec<Piece>) {
    for part in parts {
        match part {
            Part::Text(text) => pieces.push(Piece {
                text: text.clone(),
                value: None,
            }),
            Part::Field { field, steps } => {
                let value = stepped(record, field, steps, widths);
                let mut portable = portable_value(&value);
                for step in steps {
                    if let Step::Most(most) = step {
                        portable.truncate(*most);
                        portable.truncate(portable.trim_end_matches('_').len());
                    }
                }
                pieces.push(Piece {
                    text: if portable.is_empty() {
                        NOTHING.to_owned()
                    } else {
                        portable
                    },
                    value: Some((field.clone(), value)),
                });
            }
            Part::Group(inner) => {
                let complete = inner.iter().all(|part| match part {
                    Part::Field { field, steps } => {
                        !stepped(record, field, steps, widths).trim().is_empty()
                    }
                    _ => true,
                });
                if complete {
                    push_pieces(inner, record, widths, pieces);
                }
            }
        }
    }
}

/// A field's value with everything done to it that its steps say.
fn stepped(record: &Record, field: &str, steps: &[Step], widths: &Widths) -> String {
    let value = if field == SHEET && record.value(SHEET).is_none() {
        stem(record.sheet.as_str())
    } else if steps.contains(&Step::Roster) {
        record.as_roster_or_typed(field)
    } else {
        record.as_typed(field)
    };
    let mut value = value.to_owned();
    for step in steps {
        match step {
            Step::Upper => value = value.to_uppercase(),
            Step::Lower => value = value.to_lowercase(),
            Step::Roster | Step::Most(_) => {}
            Step::Zeros(width) => {
                let width = width.unwrap_or_else(|| widths.get(field).copied().unwrap_or_default());
                let number = value.trim_start();
                let digits = leading_digits(number);
                if digits > 0 {
                    value = format!("{}{number}", "0".repeat(width.saturating_sub(digits)));
                }
            }
        }
    }
    value
}

fn leading_digits(text: &str) -> usize {
    let text = text.trim_start();
    text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len()
}
