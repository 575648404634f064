//! What is wrong with a rule file: every fault with its place, what belongs there, what stands there, what to write.

use crate::value::shown;
use serde::Serialize;
use std::collections::HashSet;
use std::fmt;

/// One fault of a rule file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, thiserror::Error)]
pub struct Fault {
    /// The file's name as it was given.
    pub file: String,
    /// Counted from 1.
    pub line: usize,
    /// Characters from the start of the line, counted from 1.
    pub column: usize,
    pub expected: String,
    pub found: String,
    /// What to write or do, as an imperative sentence.
    pub advice: String,
}

impl Fault {
    /// A fault at a byte offset of the file's text.
    pub fn at(
        file: &str,
        text: &str,
        offset: usize,
        expected: &str,
        found: &str,
        advice: &str,
    ) -> Self {
        let (line, column) = FaultList::new(file, text).place(offset);
        Self {
            file: file.to_owned(),
            line,
            column,
            expected: expected.to_owned(),
            found: found.to_owned(),
            advice: advice.to_owned(),
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!(
            "{}:{}:{}: expected {}, found {}. {}.",
            self.file, self.line, self.column, self.expected, self.found, self.advice
        );
        f.write_str(&shown(&text))
    }
}

/// Every fault of one or more rule files, in the order of the files and lines. Never empty.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, thiserror::Error)]
pub struct Faults {
    pub faults: Vec<Fault>,
    /// Faults beyond [`FAULTS_SHOWN`], counted only.
    pub more: usize,
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, fault) in self.faults.iter().enumerate() {
            if at > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{fault}")?;
        }
        if self.more > 0 {
            write!(f, "\n... and {} more faults", self.more)?;
        }
        Ok(())
    }
}

/// Faults listed one by one; nobody repairs more than this in one go.
pub const FAULTS_SHOWN: usize = 100;

/// Longest piece of the file repeated in a message, in characters.
const FOUND_SHOWN: usize = 40;
/// Longest part of a message, in characters; a list of known names may be long.
const PART_SHOWN: usize = 600;
/// Faults of one file kept until the first of them are chosen; beyond, they are counted only.
const FAULTS_KEPT: usize = 10_000;
/// Words longer than this, in bytes, are no slip of another one.
const LONGEST_SLIP: usize = 60;

/// Gathers the faults of one file. A fault at a line that is not even TOML hides the ones that follow from it.
pub(crate) struct FaultList<'a> {
    file: &'a str,
    text: &'a str,
    /// Byte offsets at which the lines begin.
    line_starts: Vec<usize>,
    faults: Vec<Found>,
    more: usize,
    broken_lines: HashSet<usize>,
}

/// A fault whose column nobody counted yet: to count it takes as long as its line is.
struct Found {
    offset: usize,
    expected: String,
    found: String,
    advice: String,
}

impl<'a> FaultList<'a> {
    pub fn new(file: &'a str, text: &'a str) -> Self {
        Self {
            file,
            text,
            line_starts: std::iter::once(0)
                .chain(text.match_indices('\n').map(|(at, _)| at + 1))
                .collect(),
            faults: Vec::new(),
            more: 0,
            broken_lines: HashSet::new(),
        }
    }

    /// Records a fault at a byte offset of the file's text.
    pub fn add(
        &mut self,
        offset: usize,
        expected: impl Into<String>,
        found: impl Into<String>,
        advice: impl Into<String>,
    ) {
        if self.broken_lines.contains(&self.line(offset)) {
            return;
        }
        if self.faults.len() >= FAULTS_KEPT {
            self.more += 1;
            return;
        }
        self.faults.push(Found {
            offset,
            expected: shortened(expected.into(), PART_SHOWN),
            found: shortened(found.into(), PART_SHOWN),
            advice: shortened(advice.into(), PART_SHOWN),
        });
    }

    /// Records a word that is none of those known.
    pub fn add_unknown(&mut self, offset: usize, what: &str, word: &str, known: &[&str]) {
        let advice = match did_you_mean(word, known.iter().copied()) {
            Some(near) => format!("Write \"{near}\""),
            None => "Write one of them".to_owned(),
        };
        let expected = format!("{what}: {}", listed(known));
        self.add(offset, expected, quoted(word), advice);
    }

    /// Records that a line is not TOML: at most one fault for each line.
    pub fn add_broken(&mut self, offset: usize, expected: String, advice: &str) {
        let line = self.line(offset);
        if !self.broken_lines.contains(&line) {
            self.add(offset, expected, self.standing_at(offset), advice);
            self.broken_lines.insert(line);
        }
    }

    /// Hides whatever follows from the file's first fault, as where nothing of it was read.
    pub fn hide_the_rest(&mut self) {
        self.broken_lines.insert(1);
    }

    /// Whether lines are no TOML, so that what is missing may stand there.
    pub fn is_broken(&self) -> bool {
        !self.broken_lines.is_empty()
    }

    /// What stands at an offset, for `found`: up to the end of the line, in quotes.
    pub fn standing_at(&self, offset: usize) -> String {
        let rest = self.text.get(offset..).unwrap_or("");
        // As much of it as is shown, and no more, however long the line is.
        let most = rest.char_indices().nth(FOUND_SHOWN + 1);
        let shown = &rest[..most.map_or(rest.len(), |(at, _)| at)];
        match shown.lines().next().map(str::trim_end) {
            None => "the end of the file".to_owned(),
            Some("") => "the end of the line".to_owned(),
            Some(line) => quoted(line),
        }
    }

    /// The line of a byte offset, from 1.
    fn line(&self, offset: usize) -> usize {
        self.line_starts.partition_point(|&start| start <= offset)
    }

    /// Line and column of a byte offset, both from 1.
    fn place(&self, offset: usize) -> (usize, usize) {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let line = self.line(offset);
        let before = &self.text[self.line_starts[line - 1]..offset];
        (line, before.chars().count() + 1)
    }

    /// The first faults in the order of the file, as many as are ever shown; and how many more there are.
    pub fn into_faults(mut self) -> (Vec<Fault>, usize) {
        self.faults.sort_by_key(|fault| fault.offset);
        let more = self.more + self.faults.len().saturating_sub(FAULTS_SHOWN);
        self.faults.truncate(FAULTS_SHOWN);
        let faults = std::mem::take(&mut self.faults).into_iter();
        let placed = faults.map(|fault| {
            let (line, column) = self.place(fault.offset);
            Fault {
                file: self.file.to_owned(),
                line,
                column,
                expected: fault.expected,
                found: fault.found,
                advice: fault.advice,
            }
        });
        (placed.collect(), more)
    }
}

/// The faults of several files, in their order, the first of them one by one.
pub(crate) fn all_of<'a>(lists: impl IntoIterator<Item = FaultList<'a>>) -> Option<Faults> {
    let (mut faults, mut more) = (Vec::new(), 0);
    for list in lists {
        let (listed, further) = list.into_faults();
        faults.extend(listed);
        more += further;
    }
    more += faults.len().saturating_sub(FAULTS_SHOWN);
    faults.truncate(FAULTS_SHOWN);
    (!faults.is_empty()).then_some(Faults { faults, more })
}

/// A text of at most so many characters.
fn shortened(mut text: String, most: usize) -> String {
    if let Some((at, _)) = text.char_indices().nth(most) {
        text.truncate(at);
        text.push('…');
    }
    text
}

/// Names with commas between them, not many more than a message shows.
pub(crate) fn listed(names: &[&str]) -> String {
    let mut list = String::new();
    for name in names {
        if list.len() > PART_SHOWN {
            break;
        }
        if !list.is_empty() {
            list.push_str(", ");
        }
        list.extend(name.chars().take(PART_SHOWN));
    }
    list
}

/// A piece of the file in quotes, shortened.
pub(crate) fn quoted(text: &str) -> String {
    let mut short: String = text.chars().take(FOUND_SHOWN).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    format!("`{short}`")
}

/// The nearest known word to one that is not known, as the start of an advice: `write `pattern``.
pub(crate) fn did_you_mean<'a>(
    word: &str,
    known: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    /// Similarity below which two words are not a slip of each other; Jaro-Winkler, 0 to 1.
    const SLIP: f64 = 0.75;
    if word.len() > LONGEST_SLIP {
        return None;
    }
    known
        .into_iter()
        .filter(|candidate| candidate.len() <= LONGEST_SLIP)
        .map(|candidate| {
            let near = strsim::jaro_winkler(&word.to_lowercase(), &candidate.to_lowercase());
            (near, candidate)
        })
        .filter(|&(near, _)| near >= SLIP)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}
