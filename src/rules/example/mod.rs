//! Starting a rule from an example: pieces marked in one strip in, rules to choose from out.
//!
//! - [`Example`]: a reading's text and what somebody marked in it.
//! - `guess`: the kinds that a piece may be of; `shape`: the patterns and check characters of codes.
//! - `layout`: the strip with its marks as the draft of a rule; `draft`: the draft as the text of a rule file.
//! - `evidence`: the other readings that no rule fits, of which a few are looked at.
//! - `search`: drafts compiled and fitted to these; `learn` and `vary`: other kinds, patterns, words and layouts that the
//!   readings speak for.
//! - `candidates`: what is found, counted with all rules; those that explain most come first.
//! - `find`: where a keyed value stands on a strip, misread or in another style; `suggest`: rules from keyed sheets.
//!
//! ```
//! use headword::reading::{Line, Reading};
//! use headword::rules::example::{Example, RuleFiles, add, candidates};
//! use headword::rules::{Bench, Styles};
//!
//! let lines = vec![Line::certain("HARGREAVES, MARY ANN   NO. 4418", 0.97)];
//! let mut example = Example::new(&Reading { lines });
//! for (field, text) in [("surname", "HARGREAVES"), ("forenames", "MARY ANN"), ("number", "4418")] {
//!     let (line, range) = example.find(text, 1).expect("it is there");
//!     example.mark(line, range, field)?;
//! }
//! let files = RuleFiles { files: &[("names.toml", "")], edited: 0, styles: &Styles::default() };
//! let best = &candidates(&example, &files, &Bench::default())?[0];
//! assert!(best.fragment.contains("line = \"{surname}, {forenames} NO. {number}\""));
//! let text = add("# Our rules.\n", &best.fragment);
//! assert!(text.starts_with("# Our rules.\n\n[[field]]\nname = \"surname\""));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod candidates;
mod draft;
mod evidence;
mod find;
mod guess;
mod layout;
mod learn;
mod search;
mod shape;
mod suggest;
#[cfg(test)]
mod tests;
mod vary;

pub use candidates::{Candidate, ExampleError, RuleFiles, candidates};
pub use draft::add;
pub use evidence::groups;
pub use find::Found;
pub use guess::Guess;
pub use suggest::{Suggestion, suggest};

use super::kind::{FieldKind, Styles};
use crate::reading::Reading;
use std::ops::Range;
use thiserror::Error;

/// Records on one strip at most, as in templates.
const MAX_RECORDS: usize = 4;

/// A strip's text and the pieces marked in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Example {
    lines: Vec<Vec<char>>,
    marks: Vec<Mark>,
}

/// A piece of a line that is the value of a field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// From 0.
    pub line: usize,
    /// Characters of the line, without blanks at its ends.
    pub range: Range<usize>,
    /// The field's name; `surname#2` belongs to the strip's second record.
    pub field: String,
    /// What somebody chose; else it is guessed, or as the rule book has it.
    pub kind: Option<FieldKind>,
    /// How the index writes it, by the name of rule files, where its value was keyed so.
    pub write: Option<String>,
}

/// Why a piece cannot be marked.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum MarkError {
    #[error(
        "line {line}, characters {from} to {to}: expected a piece of the strip's text, found none; mark characters that \
         are not blank"
    )]
    NothingThere { line: usize, from: usize, to: usize },
    #[error("`{piece}`: a part of it is marked as `{field}`; unmark that first, or mark beside it")]
    Overlaps { piece: String, field: String },
    #[error(
        "field `{0}`: expected a name of letters, digits, `_` and `-`, with #2 behind it for the strip's second record; \
         rename it"
    )]
    Name(String),
}

impl Example {
    /// A reading without marks: of each position the best alternative counts.
    pub fn new(reading: &Reading) -> Self {
        Self::of_text(&reading.text())
    }

    /// The same of a text with line breaks.
    pub fn of_text(text: &str) -> Self {
        Self {
            lines: text.lines().map(|line| line.chars().collect()).collect(),
            marks: Vec::new(),
        }
    }

    /// The strip's lines.
    pub fn lines(&self) -> impl Iterator<Item = String> {
        self.lines.iter().map(|line| line.iter().collect())
    }

    /// What is marked, in the order of the strip.
    pub fn marks(&self) -> &[Mark] {
        &self.marks
    }

    /// Marks a piece, `range` in characters of the line, as a field's value. A piece marked before as the same field is
    /// so no more.
    ///
    /// # Errors
    /// There is nothing but blanks; a part belongs to another field; a name that no field can have.
    pub fn mark(&mut self, line: usize, range: Range<usize>, field: &str) -> Result<(), MarkError> {
        if named(field).is_none() {
            return Err(MarkError::Name(field.to_owned()));
        }
        let nothing = MarkError::NothingThere {
            line: line + 1,
            from: range.start.saturating_add(1),
            to: range.end,
        };
        let range = self.trimmed(line, range).ok_or(nothing)?;
        let overlaps = |mark: &&Mark| {
            mark.line == line
                && mark.range.start < range.end
                && range.start < mark.range.end
                && mark.field != field
        };
        if let Some(other) = self.marks.iter().find(overlaps) {
            return Err(MarkError::Overlaps {
                piece: self.lines[line][range].iter().collect(),
                field: other.field.clone(),
            });
        }
        self.marks.retain(|mark| mark.field != field);
        self.marks.push(Mark {
            line,
            range,
            field: field.to_owned(),
            kind: None,
            write: None,
        });
        self.marks.sort_by_key(|mark| (mark.line, mark.range.start));
        Ok(())
    }

    /// Takes a mark back.
    pub fn unmark(&mut self, field: &str) {
        self.marks.retain(|mark| mark.field != field);
    }

    /// Says of what kind a marked field is, instead of a guess.
    pub fn choose(&mut self, field: &str, kind: FieldKind) {
        let mut marks = self.marks.iter_mut();
        if let Some(mark) = marks.find(|mark| mark.field == field) {
            mark.kind = Some(kind);
        }
    }

    /// The kinds that a piece may be of, the likeliest first; empty where nothing is there.
    pub fn guesses(
        &self,
        line: usize,
        range: Range<usize>,
        field: &str,
        styles: &Styles,
    ) -> Vec<Guess> {
        match self.trimmed(line, range) {
            Some(range) => {
                let piece: String = self.lines[line][range].iter().collect();
                guess::guesses(&piece, field, styles)
            }
            None => Vec::new(),
        }
    }

    /// Where a text stands for the nth time (from 1), in any case; whole words before parts of words.
    pub fn find(&self, text: &str, nth: usize) -> Option<(usize, Range<usize>)> {
        let upper = |c: char| c.to_uppercase().next().unwrap_or(c);
        let text: Vec<char> = text.trim().chars().map(upper).collect();
        if text.is_empty() || nth == 0 {
            return None;
        }
        let mut whole = Vec::new();
        let mut parts = Vec::new();
        for (at, line) in self.lines.iter().enumerate() {
            for (start, window) in line.windows(text.len()).enumerate() {
                if !window.iter().zip(&text).all(|(a, b)| upper(*a) == *b) {
                    continue;
                }
                let end = start + text.len();
                let goes_on = |c: Option<&char>| c.is_some_and(|c| c.is_alphanumeric());
                let before = start.checked_sub(1).and_then(|at| line.get(at));
                match goes_on(before) || goes_on(line.get(end)) {
                    true => parts.push((at, start..end)),
                    false => whole.push((at, start..end)),
                }
            }
        }
        whole.into_iter().chain(parts).nth(nth - 1)
    }

    /// What is marked as a field; empty where nothing is.
    pub fn piece(&self, field: &str) -> String {
        let mark = self.marks.iter().find(|mark| mark.field == field);
        mark.map_or(String::new(), |mark| self.text(mark))
    }

    fn text(&self, mark: &Mark) -> String {
        self.lines[mark.line][mark.range.clone()].iter().collect()
    }

    /// A range of a line without blanks at its ends; `None` where nothing is left, or there is no such place.
    fn trimmed(&self, line: usize, range: Range<usize>) -> Option<Range<usize>> {
        let characters = self.lines.get(line)?.get(range.clone())?;
        let is_visible = |c: &char| !c.is_whitespace() && !c.is_control();
        let first = characters.iter().position(is_visible)?;
        let last = characters.iter().rposition(is_visible)?;
        Some(range.start + first..range.start + last + 1)
    }
}

/// A marked field's name and its record, from 0; `None` where no field can be called so.
fn named(field: &str) -> Option<(&str, usize)> {
    let (name, record) = match field.split_once('#') {
        None => (field, 1),
        Some((name, record)) => (name, record.parse().ok()?),
    };
    let is_plain = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-');
    let is_valid = !name.is_empty() && name.chars().all(is_plain);
    (is_valid && (1..=MAX_RECORDS).contains(&record)).then(|| (name, record - 1))
}
