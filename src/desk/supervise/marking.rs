//! A rule begun from an example: the pieces of one strip are marked and named.

use crate::desk::clerk::{Code, Editor, Key};
use crate::rules::Styles;
use crate::rules::example::{Example, Guess, Mark};
use std::ops::Range;

/// What came of a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    Stay,
    /// The pieces are marked: rules are wanted.
    Done,
    Back,
}

/// Names offered for fields that the rules do not have yet.
const COMMON: [&str; 7] = [
    "surname",
    "forenames",
    "number",
    "from",
    "to",
    "part",
    "parts",
];
/// Names that digits choose.
const CHOSEN: usize = 9;

#[derive(Debug, Clone)]
pub struct Marking {
    /// The sheet's place in the drawer.
    pub at: usize,
    pub example: Example,
    lines: Vec<Vec<char>>,
    line: usize,
    /// The piece in hand: runs of letters and digits, from the first to the one behind the last.
    runs: Range<usize>,
    /// Characters that the piece has more than its last run, or less.
    more: isize,
    /// The field's name as far as it is typed.
    pub name: Option<Editor>,
    /// Names of the rules' fields.
    known: Vec<String>,
    styles: Styles,
    message: Option<String>,
}

impl Marking {
    /// `known` are the fields that the rules have.
    pub fn new(at: usize, example: Example, known: Vec<String>, styles: Styles) -> Self {
        let mut lines: Vec<Vec<char>> =
            example.lines().map(|line| line.chars().collect()).collect();
        if lines.is_empty() {
            lines.push(Vec::new());
        }
        let line = lines.iter().position(|line| !runs(line).is_empty());
        Self {
            at,
            line: line.unwrap_or_default(),
            lines,
            runs: 0..1,
            more: 0,
            example,
            name: None,
            known,
            styles,
            message: None,
        }
    }

    /// Whether there is anything to be marked.
    pub fn is_empty(&self) -> bool {
        self.lines.iter().all(|line| runs(line).is_empty())
    }

    pub fn message(&self) -> Option<&str> {
        self.message.as_deref()
    }

    /// The piece in hand: its line, and its characters there.
    pub fn piece(&self) -> (usize, Range<usize>) {
        let line = &self.lines[self.line];
        let all = runs(line);
        let (Some(first), Some(last)) = (all.get(self.runs.start), all.get(self.runs.end - 1))
        else {
            return (self.line, 0..0);
        };
        let end = last.end.saturating_add_signed(self.more);
        (
            self.line,
            first.start..end.clamp(first.start + 1, line.len()),
        )
    }

    /// The mark that the piece in hand is, or is part of.
    pub fn mark_here(&self) -> Option<&Mark> {
        let (line, range) = self.piece();
        let mut marks = self.example.marks().iter();
        marks.find(|m| m.line == line && m.range.start < range.end && range.start < m.range.end)
    }

    /// The names to choose from, those that begin with what is typed; fields of the rules that are not marked yet first.
    pub fn names(&self) -> Vec<&str> {
        let typed = self.name.as_ref().map(Editor::text).unwrap_or_default();
        let here = self.mark_here();
        let is_marked = |name: &str| {
            let mut marks = self.example.marks().iter();
            marks.any(|mark| mark.field == name && Some(mark) != here)
        };
        let known = self.known.iter().map(String::as_str);
        let common = COMMON
            .into_iter()
            .filter(|name| !self.known.iter().any(|known| known == name));
        let names = known.chain(common);
        names
            .filter(|name| !is_marked(name) && name.starts_with(typed.as_str()))
            .take(CHOSEN)
            .collect()
    }

    /// Of which kinds a marked piece may be, the likeliest first; nothing where the rules say so already.
    pub fn kinds(&self, mark: &Mark) -> Vec<Guess> {
        let name = mark.field.split('#').next().unwrap_or_default();
        match self.known.iter().any(|known| known == name) {
            true => Vec::new(),
            false => {
                let range = mark.range.clone();
                self.example
                    .guesses(mark.line, range, &mark.field, &self.styles)
            }
        }
    }

    pub fn paste(&mut self, text: &str) {
        self.name
            .get_or_insert_with(Editor::default)
            .insert(&text.replace(char::is_whitespace, "-"));
    }

    pub fn press(&mut self, key: Key) -> Step {
        self.message = None;
        if self.name.is_some() {
            self.press_in_name(key);
            return Step::Stay;
        }
        match key.code {
            Code::Esc => return Step::Back,
            Code::Enter => return Step::Done,
            Code::Right => self.go(1),
            Code::Left => self.go(-1),
            Code::Down => self.go_to_line(1),
            Code::Up => self.go_to_line(-1),
            Code::Tab => self.take_next_kind(),
            Code::Backspace | Code::Delete => self.unmark(),
            Code::Char(_) if key.typed().is_none() => {}
            Code::Char('.' | '+') => self.reshape(|marking| marking.extend(1)),
            Code::Char(',' | '-') => self.reshape(|marking| marking.extend(-1)),
            Code::Char('>') => self.reshape(|marking| marking.more += 1),
            Code::Char('<') => self.reshape(|marking| marking.more -= 1),
            Code::Char(digit @ '1'..='9') => {
                let at = digit as usize - '1' as usize;
                match self.names().get(at).map(|name| (*name).to_owned()) {
                    Some(name) => self.mark(&name),
                    None => self.message = Some(format!("There is no name {digit}.")),
                }
            }
            Code::Char(letter) if letter.is_alphabetic() => {
                self.name = Some(Editor::new(&letter.to_string()));
            }
            Code::Char(' ') => self.name = Some(Editor::default()),
            _ => {}
        }
        Step::Stay
    }

    fn press_in_name(&mut self, key: Key) {
        let Some(editor) = &mut self.name else {
            return;
        };
        match key.code {
            Code::Esc => self.name = None,
            Code::Enter => {
                let typed = editor.text();
                // What is typed completes to the one name that begins so.
                let name = match self.names().as_slice() {
                    [only] => (*only).to_owned(),
                    _ => typed,
                };
                self.mark(&name);
            }
            _ if key.typed() == Some(' ') => editor.insert("-"),
            _ => {
                editor.press(key);
                if editor.is_empty() {
                    self.name = None;
                }
            }
        }
    }

    fn mark(&mut self, name: &str) {
        let (line, range) = self.piece();
        match self.example.mark(line, range, name) {
            Ok(()) => {
                self.name = None;
                self.go(1);
            }
            Err(fault) => self.message = Some(fault.to_string()),
        }
    }

    fn unmark(&mut self) {
        match self.mark_here().map(|mark| mark.field.clone()) {
            Some(field) => self.example.unmark(&field),
            None => self.message = Some("Nothing is marked here.".to_owned()),
        }
    }

    /// The next of the kinds that the marked piece in hand, or the one marked last, may be of.
    fn take_next_kind(&mut self) {
        let marks = self.example.marks();
        let (line, range) = self.piece();
        let before = |mark: &&Mark| (mark.line, mark.range.start) <= (line, range.start);
        let Some(mark) = marks.iter().rev().find(before).or(marks.first()).cloned() else {
            self.message = Some("Nothing is marked yet.".to_owned());
            return;
        };
        let kinds: Vec<_> = self.kinds(&mark).iter().map(|guess| guess.kind).collect();
        let Some(first) = kinds.first() else {
            self.message = Some(format!("The rules say what kind `{}` is.", mark.field));
            return;
        };
        let chosen = mark.kind.unwrap_or(*first);
        let at = kinds.iter().position(|kind| *kind == chosen);
        let next = kinds[(at.unwrap_or_default() + 1) % kinds.len()];
        self.example.choose(&mark.field, next);
    }

    /// To the next run, over the line's end.
    fn go(&mut self, by: isize) {
        let count = runs(&self.lines[self.line]).len();
        let here = match by {
            1 => self.runs.end,
            _ => self.runs.start.wrapping_sub(1),
        };
        match here < count {
            true => self.runs = here..here + 1,
            false => {
                let line = self.line;
                self.go_to_line(by);
                if self.line != line && by < 0 {
                    let last = runs(&self.lines[self.line]).len() - 1;
                    self.runs = last..last + 1;
                }
            }
        }
        self.more = 0;
    }

    fn go_to_line(&mut self, by: isize) {
        let mut line = self.line;
        while let Some(next) = line
            .checked_add_signed(by)
            .filter(|at| *at < self.lines.len())
        {
            line = next;
            if !runs(&self.lines[line]).is_empty() {
                self.line = line;
                self.runs = 0..1;
                self.more = 0;
                return;
            }
        }
    }

    /// Makes the piece in hand longer or shorter; where it is a marked one, the mark goes with it.
    fn reshape(&mut self, change: impl FnOnce(&mut Self)) {
        let (line, range) = self.piece();
        let marked = self.mark_here().cloned();
        let marked = marked.filter(|mark| (mark.line, &mark.range) == (line, &range));
        let more = self.more;
        change(self);
        if self.piece() == (line, range) {
            self.more = more;
            return;
        }
        let Some(Mark { field, kind, .. }) = marked else {
            return;
        };
        let (line, range) = self.piece();
        match self.example.mark(line, range, &field) {
            Ok(()) => {
                if let Some(kind) = kind {
                    self.example.choose(&field, kind);
                }
            }
            Err(fault) => self.message = Some(fault.to_string()),
        }
    }

    fn extend(&mut self, by: isize) {
        let count = runs(&self.lines[self.line]).len();
        let end = self.runs.end.saturating_add_signed(by);
        if end > self.runs.start && end <= count {
            self.runs.end = end;
            self.more = 0;
        }
    }
}

/// The runs of letters and digits in a line: what a piece is made of. Characters of no use but to be seen stand alone.
fn runs(line: &[char]) -> Vec<Range<usize>> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for (at, letter) in line.iter().enumerate() {
        if letter.is_alphanumeric() {
            match runs.last_mut() {
                Some(run) if run.end == at => run.end += 1,
                _ => runs.push(at..at + 1),
            }
        }
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marking(text: &str) -> Marking {
        let example = Example::of_text(text);
        let known = vec!["surname".to_owned(), "sheet".to_owned()];
        Marking::new(0, example, known, Styles::default())
    }

    fn typed(marking: &mut Marking, keys: &str) {
        for key in keys.chars() {
            let code = match key {
                '\n' => Code::Enter,
                '→' => Code::Right,
                '←' => Code::Left,
                '↓' => Code::Down,
                '⌫' => Code::Backspace,
                '⇥' => Code::Tab,
                letter => Code::Char(letter),
            };
            assert_eq!(marking.press(Key::plain(code)), Step::Stay);
        }
    }

    fn marks(marking: &Marking) -> Vec<(String, String)> {
        let marks = marking.example.marks().iter();
        marks
            .map(|mark| (mark.field.clone(), marking.example.piece(&mark.field)))
            .collect()
    }

    fn check(text: &str, keys: &str, expected: &[(&str, &str)]) {
        let mut marking = marking(text);
        typed(&mut marking, keys);
        let expected: Vec<_> = expected
            .iter()
            .map(|(a, b)| ((*a).to_owned(), (*b).to_owned()))
            .collect();
        assert_eq!(marks(&marking), expected, "{keys}");
    }

    #[test]
    fn pieces_are_chosen_by_words_and_named_by_a_letter_or_a_digit() {
        let text = "QUAYLE, MARY ANN   204517-4\n1931-58";
        // `su` completes to the one name that begins so.
        check(text, "su\n", &[("surname", "QUAYLE")]);
        // 1 is the first name that is left.
        check(text, "1", &[("surname", "QUAYLE")]);
        let all = "su\n.forenames\n.number\nfrom\nto\n";
        let expected = [
            ("surname", "QUAYLE"),
            ("forenames", "MARY ANN"),
            ("number", "204517-4"),
            ("from", "1931"),
            ("to", "58"),
        ];
        check(text, all, &expected);
        // Back over the line's end, and a piece that gives a run back.
        check(text, "↓←.,x\n", &[("x", "4")]);
        check(text, "su\n←⌫", &[]);
        // A marked piece that is made longer takes its mark along.
        check(text, "→forenames\n←.", &[("forenames", "MARY ANN")]);
    }

    #[test]
    fn a_piece_may_end_within_a_word() {
        check("AB4517X", "<code\n", &[("code", "AB4517")]);
        check("AB4517X", "<<<<<<<<<<<<code\n", &[("code", "A")]);
    }

    #[test]
    fn kinds_are_chosen_in_turn_where_the_rules_do_not_say() {
        let mut marking = marking("QUAYLE 1931");
        typed(&mut marking, "su\n⇥");
        assert!(marking.message().unwrap().contains("The rules say"));
        typed(&mut marking, "begun\n");
        let first = marking.kinds(&marking.example.marks()[1])[0].kind;
        typed(&mut marking, "⇥");
        assert_ne!(marking.example.marks()[1].kind, Some(first));
    }

    #[test]
    fn an_empty_strip_has_nothing_to_mark_and_breaks_nothing() {
        for text in ["", " \n ", "---"] {
            let mut marking = marking(text);
            assert!(marking.is_empty(), "{text:?}");
            typed(&mut marking, "→←.,<>↓su\n⇥⌫1");
            assert_eq!(marks(&marking), [], "{text:?}");
        }
    }
}
