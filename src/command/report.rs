//! How a command ends: a report for people or programs, or a fault with its exit code.

use crate::value::{Finding, Severity, is_obeyed};
use serde::Serialize;
use std::fmt::{Display, Write as _};
use std::io::{self, Write};

/// The exit codes, the same for every command.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    Done = 0,
    /// Done, and something was found that somebody has to look at.
    Findings = 1,
    /// The input or the arguments are at fault.
    Input = 2,
    /// A fault of headword's own, or of the machine.
    OurFault = 3,
}

/// What a command has to say.
#[derive(Debug)]
pub struct Report {
    /// For people.
    pub text: String,
    /// For programs.
    pub json: serde_json::Value,
    pub exit: Exit,
}

impl Report {
    pub fn new(text: impl Into<String>, json: impl Serialize, exit: Exit) -> Self {
        let json = serde_json::to_value(json).expect("reports are plain data");
        Self {
            text: text.into(),
            json,
            exit,
        }
    }

    pub(super) fn print(&self, as_json: bool) -> Exit {
        let text = if as_json {
            serde_json::to_string_pretty(&self.json).expect("a JSON value prints")
        } else {
            self.text.trim_end().to_owned()
        };
        let text = harmless(&text, as_json);
        // A reader that went away (`| head`) is no fault.
        let _ = writeln!(io::stdout().lock(), "{text}");
        self.exit
    }
}

/// Why a command could not do its work.
#[derive(Debug, thiserror::Error)]
pub enum CommandError {
    #[error("{0}")]
    Input(String),
    #[error("{0}")]
    Ours(String),
}

impl CommandError {
    pub fn input(fault: impl Display) -> Self {
        Self::Input(fault.to_string())
    }

    pub fn ours(fault: impl Display) -> Self {
        Self::Ours(fault.to_string())
    }

    fn exit(&self) -> Exit {
        match self {
            Self::Input(_) => Exit::Input,
            Self::Ours(_) => Exit::OurFault,
        }
    }

    pub(super) fn print(&self, as_json: bool) -> Exit {
        let exit = self.exit();
        if as_json {
            let json = serde_json::json!({ "error": self.to_string(), "exit": exit as u8 });
            let _ = writeln!(
                io::stdout().lock(),
                "{}",
                harmless(&format!("{json:#}"), true)
            );
        }
        let _ = writeln!(
            io::stderr().lock(),
            "headword: {}",
            harmless(self.to_string().trim_end(), false)
        );
        exit
    }
}

/// Says what is wrong with the arguments, which may be file names that a terminal would obey.
pub(super) fn print_usage_fault(words: &str) -> Exit {
    let _ = writeln!(io::stderr().lock(), "{}", harmless(words.trim_end(), false));
    Exit::Input
}

/// Nothing that a terminal would obey goes out, whatever files and columns are called. JSON keeps what was there, as
/// escapes, which stand only in its strings.
fn harmless(text: &str, is_json: bool) -> String {
    let mut harmless = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\n' | '\t' => harmless.push(c),
            c if !is_obeyed(c) => harmless.push(c),
            c if is_json => c
                .encode_utf16(&mut [0; 2])
                .iter()
                .for_each(|unit| harmless.push_str(&format!("\\u{unit:04x}"))),
            _ => harmless.push(char::REPLACEMENT_CHARACTER),
        }
    }
    harmless
}

/// `1 record`, `2 records`.
pub(super) fn counted(count: usize, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

/// Things of one sort that are told one by one before the rest is only counted.
pub(super) const LISTED: usize = 10;

/// A line for each of the first, and how many more there are.
pub(super) fn list_some(text: &mut String, items: &[impl ToString]) {
    for item in items.iter().take(LISTED) {
        let _ = writeln!(text, "  {}", item.to_string());
    }
    if items.len() > LISTED {
        let _ = writeln!(text, "  and {} more", items.len() - LISTED);
    }
}

/// Rows of cells as lines, two blanks in, with every column as wide as its widest cell.
pub(super) fn columns(rows: &[Vec<String>]) -> String {
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let most = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..most).map(width).collect();
    let mut text = String::new();
    for row in rows {
        let cells = row
            .iter()
            .zip(&widths)
            .map(|(cell, width)| format!("{cell:width$}"));
        let line = cells.collect::<Vec<_>>().join("  ");
        text += &format!("  {}\n", line.trim_end());
    }
    text
}

/// Exit 1 when anything found needs a look; notes do not.
pub(super) fn exit_for<'a>(findings: impl IntoIterator<Item = &'a Finding>) -> Exit {
    let worst = findings.into_iter().map(|finding| finding.severity).max();
    if worst.is_some_and(|severity| severity > Severity::Note) {
        Exit::Findings
    } else {
        Exit::Done
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_terminal_obeys_never_goes_out() {
        let hostile = "a\u{1b}[31mb\u{202e}c\u{9b}d\u{e0041}\te\nf";
        assert_eq!(
            harmless(hostile, false),
            "a\u{fffd}[31mb\u{fffd}c\u{fffd}d\u{fffd}\te\nf"
        );
        let json = serde_json::to_string_pretty(&[hostile]).unwrap();
        let sent = harmless(&json, true);
        assert!(!sent.chars().any(|c| is_obeyed(c) && c != '\n'), "{sent}");
        assert_eq!(
            serde_json::from_str::<[String; 1]>(&sent).unwrap(),
            [hostile]
        );
    }
}
