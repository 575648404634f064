//! Line templates: `{surname}, {forenames}   <NO. | NUMBER> {number} [{from}-{to}]`: known characters, blanks, slots,
//! what may be missing in square brackets, one of several in angle brackets.
//!
//! A slot is a field's name in braces; `{name#2}` belongs to the strip's second record, `{name, ...}` takes several
//! values with commas between them.

use super::fault::did_you_mean;
use super::kind::FieldKind;
use super::pattern::Expr;
use super::slot::{Place, Slot};

/// A piece of a template.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Piece {
    Literal(char),
    /// Any number of blanks.
    Blank,
    /// Where one line of the template ends and the next begins.
    Break,
    /// Index into the rule's slots.
    Slot(usize),
    /// May be missing as a whole.
    Optional(Vec<Piece>),
    /// One of them.
    Choice(Vec<Vec<Piece>>),
    /// A regular expression of the user's, with slots for its named groups.
    Pattern(Expr),
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

/// Most records on one strip.
const MAX_RECORDS: usize = 4;

/// Reads one line of a template; slots already taken in this rule are in `slots`, new ones are added.
pub(super) fn parse(
    line: &str,
    fields: &[&str],
    slots: &mut Vec<Place>,
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
        taken: slots.iter().map(Place::of).collect(),
        slots,
        optional: false,
        faults: Vec::new(),
    };
    let (pieces, _) = parser.pieces(0, None);
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
    slots: &'a mut Vec<Place>,
    /// Field and record of every slot that comes before on the strip; those of other alternatives do not.
    taken: Vec<(usize, usize)>,
    /// What is read now stands in brackets.
    optional: bool,
    faults: Vec<TemplateFault>,
}

/// A bracket that was opened: where, and what closes it.
#[derive(Clone, Copy)]
struct Opened {
    at: usize,
    closing: char,
}

impl Parser<'_> {
    /// Reads up to the end, or up to what closes the bracket; says which character ended it.
    fn pieces(&mut self, depth: usize, opened: Option<Opened>) -> (Vec<Piece>, Option<char>) {
        let mut pieces: Vec<Piece> = Vec::new();
        let in_choice = opened.is_some_and(|opened| opened.closing == '>');
        while let Some((at, c)) = self.rest.next() {
            match c {
                '{' | '}' | '[' | ']' | '<' | '>' | '|'
                    if self.rest.next_if(|&(_, next)| next == c).is_some() =>
                {
                    pieces.push(Piece::Literal(c));
                }
                '{' => pieces.extend(self.slot(at)),
                '[' | '<' if depth >= MAX_NESTING => {
                    let expected = format!("brackets at most {MAX_NESTING} deep");
                    let found = format!("`{c}`");
                    self.add(at, &expected, &found, "Split the rule into several rules");
                    self.rest.by_ref().for_each(drop);
                }
                '[' => {
                    let opened = Opened { at, closing: ']' };
                    let before = std::mem::replace(&mut self.optional, true);
                    pieces.push(Piece::Optional(self.pieces(depth + 1, Some(opened)).0));
                    self.optional = before;
                }
                '<' => pieces.push(self.choice(depth, at)),
                '|' if in_choice => return (pieces, Some(c)),
                c if opened.is_some_and(|opened| opened.closing == c) => return (pieces, Some(c)),
                '}' | ']' | '>' => {
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
        if let Some(Opened { at, closing }) = opened {
            let expected = format!("`{closing}` further on");
            self.add(at, &expected, "the end of the line", "Close the bracket");
        }
        (pieces, None)
    }

    /// Reads `<one | other>` behind its first bracket.
    fn choice(&mut self, depth: usize, at: usize) -> Piece {
        let opened = Opened { at, closing: '>' };
        let before = self.taken.clone();
        let optional = std::mem::replace(&mut self.optional, true);
        let mut taken = Vec::new();
        let mut ways = Vec::new();
        loop {
            self.taken.clone_from(&before);
            let faults = self.faults.len();
            let (way, ended) = self.pieces(depth + 1, Some(opened));
            taken.append(&mut self.taken);
            if !way.iter().any(stands_for_something) && self.faults.len() == faults {
                self.add(
                    at,
                    "something to read in every alternative",
                    "an empty one",
                    "Leave it out, or put what may be missing into [square brackets]",
                );
            }
            ways.push(trimmed(way));
            if ended != Some('|') {
                break;
            }
        }
        self.taken = taken;
        self.optional = optional;
        Piece::Choice(ways)
    }

    /// Reads a slot behind its brace: `name`, `name#2`, `name, ...`.
    fn slot(&mut self, at: usize) -> Option<Piece> {
        let start = at + 1;
        let end = self.line[start..].find(['}', '{', '[', ']', '<', '>']);
        let end = start + end.unwrap_or(self.line.len() - start);
        let inside = &self.line[start..end];
        while self.rest.next_if(|&(next, _)| next < end).is_some() {}
        if self.rest.next_if(|&(_, next)| next == '}').is_none() {
            let name = inside.split_whitespace().next().unwrap_or_default();
            self.add(
                at,
                "a field's name and `}`",
                &format!("`{{{name}` without its end"),
                "Close the brace; names have no blanks; write `{{` for the character itself",
            );
            return None;
        }
        let is_name = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '#');
        let inside = inside.trim();
        let (name, more) = inside.split_at(inside.find(|c| !is_name(c)).unwrap_or(inside.len()));
        let between = match more.strip_suffix("...") {
            Some(between) => Some(between.trim().to_owned()),
            None if more.is_empty() => None,
            None => {
                self.add(
                    start,
                    "the name of a field",
                    &format!("`{inside}`"),
                    "Write the name alone, or `{name, ...}` for several values with commas between them",
                );
                return None;
            }
        };
        let (name, record) = match name.split_once('#') {
            None => (name, 1),
            Some((name, number)) => match number.parse() {
                Ok(record) if (1..=MAX_RECORDS).contains(&record) => (name, record),
                _ => {
                    self.add(
                        start,
                        &format!("the number of a record behind `#`, 1 to {MAX_RECORDS}"),
                        &format!("`{number}`"),
                        &format!("Write {{{name}#2}} for the second record of the strip"),
                    );
                    return None;
                }
            },
        };
        let Some(field) = self.fields.iter().position(|&field| field == name) else {
            let advice = match did_you_mean(name, self.fields.iter().copied()) {
                Some(near) => format!("Write `{{{near}}}`, or declare the field with [[field]]"),
                None => format!("Declare it: [[field]] with name = \"{name}\" and a kind"),
            };
            self.add(start, "the name of a field", &format!("`{name}`"), &advice);
            return None;
        };
        let place = Place {
            field,
            record: record - 1,
            between,
            may_be_missing: self.optional,
        };
        if self.taken.contains(&place.of()) {
            self.add(
                start,
                "every field once in a rule",
                &format!("`{inside}` a second time"),
                "Write {name#2} for the strip's second record, {name, ...} for several values in a row, or declare \
                 another field and hold both together by a [[check]]",
            );
            return None;
        }
        self.taken.push(place.of());
        self.slots.push(place);
        Some(Piece::Slot(self.slots.len() - 1))
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
    matches!(
        piece,
        Piece::Literal(_) | Piece::Slot(_) | Piece::Choice(_) | Piece::Pattern(_)
    )
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
pub(super) fn closes_range(before: &[Piece], slot: &Slot, slots: &[Slot]) -> bool {
    let mut between = String::new();
    for piece in before.iter().rev() {
        match piece {
            Piece::Blank => {}
            Piece::Literal(c) => between.insert(0, c.to_ascii_uppercase()),
            Piece::Slot(other) => {
                return slot.spec.kind == FieldKind::Year
                    && slots[*other].spec.kind == FieldKind::Year
                    && matches!(between.as_str(), "-" | "–" | "/" | "TO");
            }
            Piece::Break | Piece::Optional(_) | Piece::Choice(_) | Piece::Pattern(_) => {
                return false;
            }
        }
    }
    false
}
