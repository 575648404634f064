//! A pattern's text in, its parts or all its faults out.

use super::{LONGEST_EXTENSION, NamePattern, Part, SHEET, Step, WIDEST_NUMBER};
use crate::delivery::portable::{LONGEST_NAME, is_portable_character};
use crate::value::shown;
use thiserror::Error;

/// Characters that a pattern may have. Own choice: far more than names that people can still read need, and few enough
/// that the fixed text never fills a name.
const LONGEST_PATTERN: usize = 200;

/// What is wrong at one place of a pattern.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("file name pattern, column {column}: expected {expected}, found {found}; {advice}")]
pub struct PatternFault {
    /// In characters, from 1.
    pub column: usize,
    pub expected: String,
    pub found: String,
    /// What to write instead.
    pub advice: String,
}

pub fn parse(text: &str, fields: &[&str]) -> Result<NamePattern, Vec<PatternFault>> {
    let mut parser = Parser {
        characters: text.chars().collect(),
        at: 0,
        fields,
        faults: Vec::new(),
    };
    let mut parts = parser.parts(None);
    parser.expect_whole(&parts);
    if parser.faults.is_empty() {
        let extension = take_extension(&mut parts);
        Ok(NamePattern { parts, extension })
    } else {
        parser.faults.sort_by_key(|fault| fault.column);
        Err(parser.faults)
    }
}

/// Cuts `.tif` off a pattern's closing text.
fn take_extension(parts: &mut Vec<Part>) -> String {
    let Some(Part::Text(text)) = parts.last_mut() else {
        return String::new();
    };
    let Some(at) = text
        .rfind('.')
        .filter(|at| text.len() - at - 1 <= LONGEST_EXTENSION)
    else {
        return String::new();
    };
    let extension = text.split_off(at);
    if text.is_empty() {
        parts.pop();
    }
    extension
}

struct Parser<'a> {
    characters: Vec<char>,
    at: usize,
    fields: &'a [&'a str],
    faults: Vec<PatternFault>,
}

impl Parser<'_> {
    /// Reads to the end, or to the bracket that closes the group opened at column index `group`.
    fn parts(&mut self, group: Option<usize>) -> Vec<Part> {
        let mut parts = Vec::new();
        while let Some(&c) = self.characters.get(self.at) {
            let here = self.at;
            self.at += 1;
            match c {
                '{' => parts.extend(self.field(here)),
                '[' if group.is_none() => {
                    let inner = self.parts(Some(here));
                    if !inner.iter().any(|part| matches!(part, Part::Field { .. })) {
                        self.fault(
                            here,
                            "a field in the brackets",
                            "none",
                            "write a field between [ and ], or leave out the brackets",
                        );
                    }
                    parts.push(Part::Group(inner));
                }
                ']' if group.is_some() => return parts,
                '[' => self.fault(
                    here,
                    "no brackets within brackets",
                    "[",
                    "close the first bracket before it",
                ),
                ']' => self.fault(
                    here,
                    "a [ before this ]",
                    "]",
                    "write the [ that it closes, or leave it out",
                ),
                '}' => self.fault(here, "a { before this }", "}", "write {field}"),
                c if is_portable_character(c) => match parts.last_mut() {
                    Some(Part::Text(text)) => text.push(c),
                    _ => parts.push(Part::Text(c.to_string())),
                },
                c => self.fault(
                    here,
                    "letters A-Z and a-z, digits, _ - or .",
                    &c.to_string(),
                    "write _ in its place; other characters are not safe in file names everywhere",
                ),
            }
        }
        if let Some(opened) = group {
            self.fault(
                opened,
                "a ] that closes this [",
                "the end",
                "write ] after the part that may be left out",
            );
        }
        parts
    }

    /// Reads on behind a brace.
    fn field(&mut self, opened: usize) -> Option<Part> {
        let length = self.characters[self.at..]
            .iter()
            .position(|c| matches!(c, '}' | '{' | '[' | ']'));
        let Some(length) = length.filter(|length| self.characters[self.at + length] == '}') else {
            self.fault(opened, "a } that closes this {", "none", "write {field}");
            return None;
        };
        let inside: String = self.characters[self.at..self.at + length].iter().collect();
        let mut column = self.at;
        self.at += length + 1;
        let mut pieces = inside.split(':');
        let field = pieces.next().unwrap_or_default();
        if !self.fields.contains(&field) && field != SHEET {
            let advice = self.known_fields(field);
            self.fault(
                column,
                "the name of a field",
                &format!("{field:?}"),
                &advice,
            );
        }
        column += field.chars().count() + 1;
        let mut steps = Vec::new();
        for word in pieces {
            match read_step(word) {
                Some(step) => steps.push(step),
                None => self.fault(
                    column,
                    "upper, lower, roster, 0, 0 and a width up to 20, or a number of characters",
                    &format!("{word:?}"),
                    "write for example {surname:upper} or {part:0}",
                ),
            }
            column += word.chars().count() + 1;
        }
        let field = field.to_owned();
        Some(Part::Field { field, steps })
    }

    /// Advice on a field's name that is not known.
    fn known_fields(&self, field: &str) -> String {
        let similar = self
            .fields
            .iter()
            .map(|known| (strsim::osa_distance(known, field), known))
            .min()
            .filter(|(distance, known)| *distance <= known.chars().count() / 3 + 1);
        match similar {
            Some((_, known)) => format!("write {{{known}}}"),
            None => format!("the fields of this job are: {}", self.fields.join(", ")),
        }
    }

    /// Rules for the pattern as a whole.
    fn expect_whole(&mut self, parts: &[Part]) {
        let length = self.characters.len();
        let has_field = parts.iter().any(|part| !matches!(part, Part::Text(_)));
        if self.faults.is_empty() && !has_field {
            self.fault(
                0,
                "at least one field",
                "none",
                "write for example {number}; all sheets would have one name",
            );
        }
        if length > LONGEST_PATTERN {
            let expected = format!("at most {LONGEST_PATTERN} characters");
            self.fault(
                LONGEST_PATTERN,
                &expected,
                &length.to_string(),
                "shorten the pattern",
            );
        }
        if let Some(&first) = self.characters.first().filter(|c| matches!(c, '-' | '.')) {
            self.fault(
                0,
                "a letter, a digit, _ or a field at the start",
                &first.to_string(),
                "leave it out; names that begin so are options or hidden files",
            );
        }
        if self.characters.last() == Some(&'.') {
            self.fault(
                length - 1,
                "something behind the last full stop",
                "the end",
                "write an extension such as .tif, or leave out the full stop",
            );
        }
    }

    fn fault(&mut self, at: usize, expected: &str, found: &str, advice: &str) {
        let found: String = shown(found).chars().take(40).collect();
        self.faults.push(PatternFault {
            column: at + 1,
            expected: expected.to_owned(),
            found,
            advice: advice.to_owned(),
        });
    }
}

fn read_step(word: &str) -> Option<Step> {
    match word {
        "upper" => Some(Step::Upper),
        "lower" => Some(Step::Lower),
        "roster" => Some(Step::Roster),
        "0" => Some(Step::Zeros(None)),
        _ if !word.bytes().all(|b| b.is_ascii_digit()) => None,
        _ => match word.strip_prefix('0') {
            Some(width) => {
                let width = width.parse().ok();
                let width = width.filter(|width| (1..=WIDEST_NUMBER).contains(width));
                width.map(|width| Step::Zeros(Some(width)))
            }
            None => {
                let most = word.parse().ok();
                let most = most.filter(|most| (1..=LONGEST_NAME).contains(most));
                most.map(Step::Most)
            }
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIELDS: [&str; 4] = ["number", "surname", "part", "parts"];

    #[test]
    fn takes_a_pattern_apart() {
        let pattern = NamePattern::parse(
            "{number:12}_{surname:roster:upper}[_{part:0}of{parts:03}].tif",
            &FIELDS,
        )
        .unwrap();
        assert_eq!(pattern.extension, ".tif");
        let fields: Vec<_> = pattern.stepped_fields().collect();
        assert_eq!(
            fields,
            [
                ("number", [Step::Most(12)].as_slice()),
                ("surname", &[Step::Roster, Step::Upper]),
                ("part", &[Step::Zeros(None)]),
                ("parts", &[Step::Zeros(Some(3))]),
            ]
        );
        assert_eq!(
            NamePattern::parse("v1.0-{number}", &FIELDS)
                .unwrap()
                .extension,
            ""
        );
    }

    #[test]
    fn gives_every_fault_with_its_column() {
        for (pattern, columns, words) in [
            ("{numbr}", vec![2], "write {number}"),
            (
                "{xyzzyx}",
                vec![2],
                "the fields of this job are: number, surname, part, parts",
            ),
            (
                "{number:uper}/{surname",
                vec![9, 14, 15],
                "upper, lower, roster",
            ),
            ("{number}[_{part}", vec![9], "a ] that closes this ["),
            ("{number}[_x]", vec![9], "a field in the brackets"),
            (
                "{number}[[{part}]]",
                vec![10, 18],
                "no brackets within brackets",
            ),
            ("{number}]}", vec![9, 10], "a [ before this ]"),
            ("{number} {surname}", vec![9], "write _ in its place"),
            ("{number:099}", vec![9], "a width up to 20"),
            ("{number:0x}", vec![9], "a width up to 20"),
            ("{number:999}", vec![9], "a number of characters"),
            ("", vec![1], "at least one field"),
            ("sheet", vec![1], "at least one field"),
            ("-{number}.", vec![1, 10], "a letter, a digit"),
            ("{number}\u{1b}[0m", vec![9, 10], "\u{fffd}"),
            ("{}", vec![2], "the name of a field"),
        ] {
            let faults = NamePattern::parse(pattern, &FIELDS).unwrap_err();
            let found: Vec<_> = faults.iter().map(|fault| fault.column).collect();
            let told: String = faults.iter().map(|fault| format!("{fault}\n")).collect();
            assert!(
                told.contains(words) && !told.contains('\u{1b}'),
                "{pattern:?}: {told}"
            );
            assert_eq!(&found[..columns.len()], columns, "{pattern:?}: {told}");
        }
        assert!(
            NamePattern::parse(&format!("{{number}}{}", "x".repeat(1_000_000)), &FIELDS).is_err()
        );
    }
}
