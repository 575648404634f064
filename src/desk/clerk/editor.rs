//! A line of text under the cursor, in characters as people count them.

use super::key::{Code, Key};
use crate::value::is_obeyed;
use unicode_normalization::UnicodeNormalization;
use unicode_segmentation::UnicodeSegmentation;

/// Longest value that can be keyed, in characters; longer pastes are cut.
pub const LONGEST: usize = 500;

/// One line being edited; composed characters (NFC), nothing that a terminal obeys.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Editor {
    graphemes: Vec<String>,
    /// Graphemes before the cursor.
    cursor: usize,
    /// The whole text is marked: what is typed takes its place; moving in it or deleting from it begins to mend it.
    is_marked: bool,
}

impl Editor {
    /// With the cursor behind the text.
    pub fn new(text: &str) -> Self {
        let mut editor = Self::default();
        editor.insert(text);
        editor
    }

    /// The same, marked: the first letter that is typed takes its place.
    pub fn marked(text: &str) -> Self {
        let mut editor = Self::new(text);
        editor.is_marked = !editor.is_empty();
        editor
    }

    pub fn is_marked(&self) -> bool {
        self.is_marked
    }

    /// Puts the cursor before a grapheme, to mend the text there.
    pub fn go_to(&mut self, grapheme: usize) {
        self.cursor = grapheme.min(self.graphemes.len());
        self.is_marked = false;
    }

    pub fn graphemes(&self) -> &[String] {
        &self.graphemes
    }

    pub fn text(&self) -> String {
        self.graphemes.concat()
    }

    pub fn is_empty(&self) -> bool {
        self.graphemes.is_empty()
    }

    /// Graphemes before the cursor.
    pub fn cursor(&self) -> usize {
        self.cursor
    }

    /// The text before the cursor.
    pub fn before_cursor(&self) -> String {
        self.graphemes[..self.cursor].concat()
    }

    /// Puts text in at the cursor: line breaks and tabs become blanks, what a terminal would obey is left out.
    pub fn insert(&mut self, text: &str) {
        if std::mem::take(&mut self.is_marked) {
            *self = Self::default();
        }
        let plain: String = text
            .chars()
            .map(|c| {
                if matches!(c, '\n' | '\r' | '\t') {
                    ' '
                } else {
                    c
                }
            })
            .filter(|&c| !is_obeyed(c))
            .collect();
        let before = format!("{}{plain}", self.before_cursor());
        let after = self.graphemes[self.cursor..].concat();
        // A mark may join the character before it, so the whole is taken apart anew.
        let count = |text: &str| {
            let composed: String = text.nfc().collect();
            composed.graphemes(true).count()
        };
        let whole: String = format!("{before}{after}").nfc().collect();
        self.graphemes = whole.graphemes(true).map(str::to_owned).collect();
        self.cursor = count(&before).min(LONGEST);
        self.graphemes.truncate(LONGEST);
        self.cursor = self.cursor.min(self.graphemes.len());
    }

    /// Does what a key asks of a line of text; `false` where it asks nothing of one.
    pub fn press(&mut self, key: Key) -> bool {
        if let Some(c) = key.typed() {
            self.insert(&c.to_string());
            return true;
        }
        let was_marked = std::mem::take(&mut self.is_marked);
        match key {
            Key {
                code: Code::Char('u'),
                ctrl: true,
                ..
            } => *self = Self::default(),
            Key {
                ctrl: false,
                alt: false,
                code,
            } => match code {
                Code::Left => self.cursor = self.cursor.saturating_sub(1),
                Code::Right => self.cursor = (self.cursor + 1).min(self.graphemes.len()),
                Code::Home => self.cursor = 0,
                Code::End => self.cursor = self.graphemes.len(),
                Code::Backspace if self.cursor > 0 => {
                    self.cursor -= 1;
                    self.graphemes.remove(self.cursor);
                }
                Code::Delete if self.cursor < self.graphemes.len() => {
                    self.graphemes.remove(self.cursor);
                }
                Code::Backspace | Code::Delete => {}
                _ => return self.keep(was_marked),
            },
            _ => return self.keep(was_marked),
        }
        true
    }

    /// A key that asks nothing of a line leaves it as it was.
    fn keep(&mut self, was_marked: bool) -> bool {
        self.is_marked = was_marked;
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Types `keys` into `text` (`<` `>` move, `^` to the start, `$` to the end, `~` deletes back, `!` forward) and
    /// compares text and cursor.
    fn check(text: &str, keys: &str, expected: &str, cursor: usize) {
        let mut editor = Editor::new(text);
        for c in keys.chars() {
            let code = match c {
                '<' => Code::Left,
                '>' => Code::Right,
                '^' => Code::Home,
                '$' => Code::End,
                '~' => Code::Backspace,
                '!' => Code::Delete,
                c => Code::Char(c),
            };
            editor.press(Key::plain(code));
        }
        assert_eq!(
            (editor.text().as_str(), editor.cursor()),
            (expected, cursor)
        );
    }

    #[test]
    fn counts_characters_as_people_do() {
        check("DALTON", "<<X", "DALTXON", 5);
        check("e\u{301}", "", "é", 1);
        check("e", "\u{301}", "é", 1);
        check("Ye\u{323}\u{301}", "~", "Y", 1);
        check("字典", "<~", "典", 0);
        check("AB", "^!!!~~", "", 0);
        check("AB", "^>C$D", "ACBD", 4);
        check("", "<>~!^$", "", 0);
    }

    #[test]
    fn a_marked_text_gives_way_to_what_is_typed_and_is_mended_by_moving_in_it() {
        for (keys, expected) in [
            (&[Code::Char('X'), Code::Char('Y')][..], "XY"),
            (&[Code::Left, Code::Char('X')], "DALXE"),
            (&[Code::Backspace, Code::Char('Y')], "DALY"),
            (&[Code::End, Code::Char('Y')], "DALEY"),
            (&[Code::Enter, Code::Char('X')], "X"),
        ] {
            let mut editor = Editor::marked("DALE");
            assert!(editor.is_marked());
            for code in keys {
                editor.press(Key::plain(*code));
            }
            assert_eq!(editor.text(), expected, "{keys:?}");
        }
        let mut editor = Editor::marked("DALE");
        editor.go_to(1);
        editor.insert("X");
        assert_eq!(editor.text(), "DXALE");
        assert!(!Editor::marked("").is_marked());
    }

    #[test]
    fn keeps_out_what_a_terminal_would_obey_and_what_is_too_long() {
        let mut editor = Editor::new("A");
        editor.insert("\u{1b}[31m B\r\nC\u{202e}\u{7}");
        assert_eq!(editor.text(), "A[31m B  C");
        editor.insert(&"x".repeat(10_000));
        assert_eq!(editor.text().chars().count(), LONGEST);
        assert_eq!(editor.cursor(), LONGEST);
    }
}
