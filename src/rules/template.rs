//! Line templates: `{surname}, {forenames}   {number}`: known characters, blanks and slots; what stands in square
//! brackets may be missing.

use super::fault::did_you_mean;
use super::kind::{FieldKind, FieldSpec};

/// A piece of a template.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Piece {
    Literal(char),
    /// Any number of blanks.
    Blank,
    /// Where one line of the template ends and the next begins.
    Break,
    /// Index into the rule file's fields.
    Slot(usize),
    /// May be missing as a whole.
    Optional(Vec<Piece>),
}

/// A fault of a template, with a byte offset into it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct TemplateFault {
    pub offset: usize,
    pub expected: String,
    pub found: String,
    pub advice: String,
}

/// Deepest nesting of square brackets.
const MAX_NESTING: usize = 4;
/// Longest template line in bytes; no strip has room for more.
const MAX_LENGTH: usize = 500;

/// Reads one line of a template; slots already taken in this rule are in `taken`, new ones are added.
pub(super) fn parse(
    line: &str,
    fields: &[&str],
    taken: &mut Vec<usize>,
) -> Result<Vec<Piece>, Vec<TemplateFault>> {
    if line.len() > MAX_LENGTH {
        let expected = format!("a line of at most {MAX_LENGTH} bytes");
        let found = format!("{} bytes", line.len());
        return Err(vec![fault(0, &expected, &found, "Shorten it")]);
    }
    let mut parser = Parser {
        rest: line.char_indices().peekable(),
        line,
        fields,
        taken,
        faults: Vec::new(),
    };
    let pieces = parser.pieces(0, None);
    let (faults, empty) = (parser.faults, !pieces.iter().any(stands_for_something));
    if !faults.is_empty() {
        Err(faults)
    } else if empty {
        Err(vec![fault(
            0,
            "a line with at least one slot or word that is always there",
            "nothing that has to be there",
            "Write what the strip shows, as `{surname}, {forenames}`",
        )])
    } else {
        Ok(trimmed(pieces))
    }
}

struct Parser<'a> {
    rest: std::iter::Peekable<std::str::CharIndices<'a>>,
    line: &'a str,
    fields: &'a [&'a str],
    taken: &'a mut Vec<usize>,
    faults: Vec<TemplateFault>,
}

impl Parser<'_> {
    /// Reads up to the end, or up to the bracket that closes the one at `opened`.
    fn pieces(&mut self, depth: usize, opened: Option<usize>) -> Vec<Piece> {
        let mut pieces: Vec<Piece> = Vec::new();
        while let Some((at, c)) = self.rest.next() {
            match c {
                '{' | '}' | '[' | ']' if self.rest.next_if(|&(_, next)| next == c).is_some() => {
                    pieces.push(Piece::Literal(c));
                }
                '{' => pieces.extend(self.slot(at)),
                '[' if depth >= MAX_NESTING => {
                    let expected = format!("brackets at most {MAX_NESTING} deep");
                    self.add(at, &expected, "`[`", "Split the rule into several rules");
                    self.rest.by_ref().for_each(drop);
                }
                '[' => pieces.push(Piece::Optional(self.pieces(depth + 1, Some(at)))),
                ']' if opened.is_some() => return pieces,
                '}' | ']' => {
                    let found = format!("`{c}` alone");
                    let advice = format!("Write `{c}{c}` for the character itself");
                    self.add(
                        at,
                        "the character that it closes before it",
                        &found,
                        &advice,
                    );
                }
                c if c.is_whitespace() => {
                    if pieces.last() != Some(&Piece::Blank) {
                        pieces.push(Piece::Blank);
                    }
                }
                c => pieces.push(Piece::Literal(c)),
            }
        }
        if let Some(at) = opened {
            self.add(
                at,
                "`]` further on",
                "the end of the line",
                "Close the bracket",
            );
        }
        pieces
    }

    /// Reads a slot's name behind its brace.
    fn slot(&mut self, at: usize) -> Option<Piece> {
        let start = at + 1;
        let end = self.line[start..].find(['}', '{', '[', ']', ' ']);
        let end = start + end.unwrap_or(self.line.len() - start);
        let name = self.line[start..end].trim();
        while self.rest.next_if(|&(next, _)| next < end).is_some() {}
        if self.rest.next_if(|&(_, next)| next == '}').is_none() {
            self.add(
                at,
                "a field's name and `}`",
                &format!("`{{{name}` without its end"),
                "Close the brace; names have no blanks; write `{{` for the character itself",
            );
            return None;
        }
        match self.fields.iter().position(|&field| field == name) {
            None => {
                let advice = match did_you_mean(name, self.fields.iter().copied()) {
                    Some(near) => {
                        format!("Write `{{{near}}}`, or declare the field with [[field]]")
                    }
                    None => format!("Declare it: [[field]] with name = \"{name}\" and a kind"),
                };
                self.add(start, "the name of a field", &format!("`{name}`"), &advice);
                None
            }
            Some(field) if self.taken.contains(&field) => {
                self.add(
                    start,
                    "every field once in a rule",
                    &format!("`{name}` a second time"),
                    "Declare another field for the second place and hold both together by a [[check]]",
                );
                None
            }
            Some(field) => {
                self.taken.push(field);
                Some(Piece::Slot(field))
            }
        }
    }

    fn add(&mut self, offset: usize, expected: &str, found: &str, advice: &str) {
        self.faults.push(fault(offset, expected, found, advice));
    }
}

fn fault(offset: usize, expected: &str, found: &str, advice: &str) -> TemplateFault {
    TemplateFault {
        offset,
        expected: expected.to_owned(),
        found: found.to_owned(),
        advice: advice.to_owned(),
    }
}

fn stands_for_something(piece: &Piece) -> bool {
    matches!(piece, Piece::Literal(_) | Piece::Slot(_))
}

/// Without blanks at both ends.
fn trimmed(mut pieces: Vec<Piece>) -> Vec<Piece> {
    if pieces.last() == Some(&Piece::Blank) {
        pieces.pop();
    }
    if pieces.first() == Some(&Piece::Blank) {
        pieces.remove(0);
    }
    pieces
}

/// Whether a mark of the template stands before or behind a piece.
pub(super) fn beside_mark(pieces: &[Piece], at: usize) -> bool {
    let neighbours = [at.checked_sub(1), Some(at + 1)];
    neighbours
        .into_iter()
        .flatten()
        .any(|at| matches!(pieces.get(at), Some(Piece::Literal(c)) if !c.is_alphanumeric()))
}

/// Whether a year's slot ends a range: another year before it, and only blanks, a dash, a slash or TO between them.
pub(super) fn closes_range(before: &[Piece], spec: &FieldSpec, fields: &[FieldSpec]) -> bool {
    let mut between = String::new();
    for piece in before.iter().rev() {
        match piece {
            Piece::Blank => {}
            Piece::Literal(c) => between.insert(0, c.to_ascii_uppercase()),
            Piece::Slot(other) => {
                return spec.kind == FieldKind::Year
                    && fields[*other].kind == FieldKind::Year
                    && matches!(between.as_str(), "-" | "–" | "/" | "TO");
            }
            Piece::Break | Piece::Optional(_) => return false,
        }
    }
    false
}
