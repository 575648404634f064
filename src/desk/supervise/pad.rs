//! A rule file being edited: the text, the cursor, and what was done, to be undone in steps that people think in.

use crate::desk::clerk::{Code, Key};
use crate::value::is_obeyed;
use ratatui_textarea::{CursorMove, TextArea};

/// Longest text that a pad takes, in bytes: a paste by mistake may be anything.
const LONGEST: usize = 2 << 20;
/// Most lines: the editor's own cursor counts no further than 65,535.
const MOST_LINES: usize = 60_000;
/// What a pasted tab becomes.
const TAB: &str = "    ";
/// Edits that can be undone one by one; what one typed before that stays.
const UNDONE: usize = 100_000;
/// Letters that are undone in one step at most.
const LONGEST_RUN: usize = 40;
/// Lines that a page key moves.
const PAGE: usize = 10;

/// What an edit was: edits of one sort that follow each other are undone together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sort {
    Letters,
    Blanks,
    Deletions,
    Alone,
}

#[derive(Debug, Clone)]
pub struct Pad {
    area: TextArea<'static>,
    /// Lines end in CR LF, as the file had it.
    has_returns: bool,
    /// Sorts of the steps that can be undone, with the edits that each is made of; and of those that were.
    done: Vec<(Sort, usize)>,
    undone: Vec<usize>,
    /// The next edit begins a step of its own.
    is_broken: bool,
}

impl Pad {
    pub fn new(text: &str) -> Self {
        let has_returns = has_returns(text);
        let text = match has_returns {
            true => text.replace("\r\n", "\n"),
            false => text.to_owned(),
        };
        let mut area = TextArea::new(text.split('\n').map(str::to_owned).collect());
        area.set_max_histories(UNDONE);
        Self {
            area,
            has_returns,
            done: Vec::new(),
            undone: Vec::new(),
            is_broken: true,
        }
    }

    pub fn text(&self) -> String {
        let end = if self.has_returns { "\r\n" } else { "\n" };
        self.area.lines().join(end)
    }

    pub fn lines(&self) -> &[String] {
        self.area.lines()
    }

    /// Line and character, from 0.
    pub fn cursor(&self) -> (usize, usize) {
        let cursor = self.area.cursor();
        (cursor.0, cursor.1)
    }

    pub fn go_to(&mut self, line: usize, character: usize) {
        self.is_broken = true;
        let place = |number: usize| u16::try_from(number).unwrap_or(u16::MAX);
        self.area
            .move_cursor(CursorMove::Jump(place(line), place(character)));
    }

    /// Takes a key that edits or moves; whether the text is another one now.
    pub fn press(&mut self, key: Key) -> bool {
        if let Some(letter) = key.typed() {
            if self.is_full(letter.len_utf8()) || is_obeyed(letter) {
                return false;
            }
            self.area.insert_char(letter);
            let sort = if letter.is_whitespace() {
                Sort::Blanks
            } else {
                Sort::Letters
            };
            return self.edited(sort);
        }
        if key.ctrl {
            let changed = match key.code {
                Code::Char('w') => self.area.delete_word(),
                Code::Char('k') => self.area.delete_line_by_end(),
                Code::Char('u') => self.area.delete_line_by_head(),
                Code::Home => {
                    self.go_to(0, 0);
                    false
                }
                Code::End => {
                    self.go_to(usize::MAX, usize::MAX);
                    false
                }
                _ => return false,
            };
            return changed && self.edited(Sort::Alone);
        }
        if key.alt {
            return false;
        }
        match key.code {
            Code::Enter => {
                self.open_line();
                self.edited(Sort::Alone)
            }
            Code::Backspace => self.area.delete_char() && self.edited(Sort::Deletions),
            Code::Delete => self.area.delete_next_char() && self.edited(Sort::Deletions),
            code => {
                self.step(code);
                false
            }
        }
    }

    /// Begins a line as far in as the one before.
    fn open_line(&mut self) {
        let (line, character) = self.cursor();
        let before: String = self.area.lines()[line].chars().take(character).collect();
        let indent: String = before.chars().take_while(|c| c.is_whitespace()).collect();
        self.area.insert_str(format!("\n{indent}"));
    }

    fn step(&mut self, code: Code) {
        let step = match code {
            Code::Left => CursorMove::Back,
            Code::Right => CursorMove::Forward,
            Code::Up => CursorMove::Up,
            Code::Down => CursorMove::Down,
            Code::Home => CursorMove::Head,
            Code::End => CursorMove::End,
            Code::PageUp | Code::PageDown => {
                let (line, character) = self.cursor();
                let line = match code {
                    Code::PageUp => line.saturating_sub(PAGE),
                    _ => line + PAGE,
                };
                return self.go_to(line, character);
            }
            _ => return,
        };
        self.is_broken = true;
        self.area.move_cursor(step);
    }

    /// Puts a text in at the cursor, as one step.
    pub fn paste(&mut self, text: &str) -> bool {
        let clean = text.replace("\r\n", "\n").replace('\r', "\n");
        let clean = clean.replace('\t', TAB);
        let clean: String = clean
            .chars()
            .filter(|&c| c == '\n' || !is_obeyed(c))
            .collect();
        !clean.is_empty()
            && !self.is_full(clean.len())
            && self.area.insert_str(clean)
            && self.edited(Sort::Alone)
    }

    /// Puts a text in the place of all of it, as one step.
    pub fn replace(&mut self, text: &str) -> bool {
        // The editor cannot mark, and so not exchange, more than that.
        if text == self.text() || self.area.lines().len() > MOST_LINES {
            return false;
        }
        // The library takes returns out of what it inserts.
        self.has_returns = has_returns(text);
        let (line, character) = self.cursor();
        self.area.select_all();
        let mut edits = usize::from(self.area.cut());
        if !text.is_empty() {
            edits += usize::from(self.area.insert_str(text));
        }
        self.done.push((Sort::Alone, edits));
        self.undone.clear();
        self.go_to(line, character);
        true
    }

    fn is_full(&self, more: usize) -> bool {
        let held: usize = self.area.lines().iter().map(|line| line.len() + 1).sum();
        held + more > LONGEST || self.area.lines().len() > MOST_LINES
    }

    fn edited(&mut self, sort: Sort) -> bool {
        self.undone.clear();
        match self.done.last_mut() {
            // A word and the blanks behind it are one step.
            Some((last, edits))
                if !self.is_broken
                    && *edits < LONGEST_RUN
                    && (*last == sort && sort != Sort::Alone
                        || (*last, sort) == (Sort::Letters, Sort::Blanks)) =>
            {
                *edits += 1;
                *last = sort;
            }
            _ => self.done.push((sort, 1)),
        }
        self.is_broken = false;
        true
    }

    /// Takes the last step back; whether there was one.
    pub fn undo(&mut self) -> bool {
        let Some((_, edits)) = self.done.pop() else {
            return false;
        };
        (0..edits).for_each(|_| {
            self.area.undo();
        });
        self.undone.push(edits);
        self.is_broken = true;
        true
    }

    /// Does the step again that was taken back last.
    pub fn redo(&mut self) -> bool {
        let Some(edits) = self.undone.pop() else {
            return false;
        };
        (0..edits).for_each(|_| {
            self.area.redo();
        });
        self.done.push((Sort::Alone, edits));
        self.is_broken = true;
        true
    }
}

/// Whether every line of a text of several ends in CR LF.
fn has_returns(text: &str) -> bool {
    let ends = text.matches('\n').count();
    ends > 0 && ends == text.matches("\r\n").count()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(pad: &mut Pad, text: &str) {
        for letter in text.chars() {
            let code = match letter {
                '\n' => Code::Enter,
                letter => Code::Char(letter),
            };
            assert!(pad.press(Key::plain(code)));
        }
    }

    #[test]
    fn words_are_undone_one_by_one_and_done_again() {
        let mut pad = Pad::new("# Ω");
        pad.go_to(0, 9);
        typed(&mut pad, "\nline = 1");
        let steps = ["# Ω\nline = ", "# Ω\nline ", "# Ω\n", "# Ω"];
        for text in steps {
            assert!(pad.undo());
            assert_eq!(pad.text(), text);
        }
        assert!(!pad.undo());
        for text in steps.iter().rev().skip(1) {
            assert!(pad.redo());
            assert_eq!(pad.text(), *text);
        }
        // A new edit ends what could be done again.
        typed(&mut pad, "x");
        assert!(!pad.redo());
    }

    #[test]
    fn a_move_begins_a_step_and_a_line_begins_as_far_in_as_the_one_before() {
        let mut pad = Pad::new("");
        typed(&mut pad, "  a\nb");
        assert_eq!(pad.text(), "  a\n  b");
        pad.press(Key::plain(Code::Left));
        typed(&mut pad, "c");
        assert_eq!(pad.text(), "  a\n  cb");
        pad.undo();
        assert_eq!(pad.text(), "  a\n  b");
        pad.press(Key::plain(Code::Backspace));
        pad.press(Key::plain(Code::Backspace));
        pad.press(Key::plain(Code::Backspace));
        assert_eq!(pad.text(), "  ab");
        pad.undo();
        assert_eq!(pad.text(), "  a\n  b");
    }

    #[test]
    fn lines_end_as_they_did_in_the_file() {
        let mut pad = Pad::new("one\r\ntwo\r\n");
        assert_eq!(pad.lines(), ["one", "two", ""]);
        assert_eq!(pad.text(), "one\r\ntwo\r\n");
        pad.go_to(0, 3);
        typed(&mut pad, "!\n");
        assert_eq!(pad.text(), "one!\r\n\r\ntwo\r\n");
        pad.replace("three\r\n");
        assert_eq!(pad.text(), "three\r\n");
        // Neither one nor the other: as it is.
        let mixed = "one\r\ntwo\n";
        assert_eq!(Pad::new(mixed).text(), mixed);
    }

    #[test]
    fn what_a_terminal_obeys_stays_out_and_a_whole_text_is_one_step() {
        let mut pad = Pad::new("one\ntwo");
        assert!(pad.paste("a\r\nb\u{1b}[31m\u{202e}"));
        assert_eq!(pad.text(), "a\nb[31mone\ntwo");
        assert!(pad.replace("three\n"));
        assert!(!pad.replace("three\n"));
        assert!(pad.undo());
        assert_eq!(pad.text(), "a\nb[31mone\ntwo");
        assert!(pad.undo());
        assert_eq!(pad.text(), "one\ntwo");
        assert!(!pad.paste(&"x".repeat(LONGEST)));
        assert!(!pad.paste(""));
    }
}
