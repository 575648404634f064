//! Keys and what they do: one table, from which the help pane is drawn too.

/// A key as pressed, whatever terminal it came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Key {
    pub code: Code,
    pub ctrl: bool,
    pub alt: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Code {
    Char(char),
    Enter,
    Tab,
    BackTab,
    Esc,
    Backspace,
    Delete,
    Left,
    Right,
    Up,
    Down,
    Home,
    End,
    PageUp,
    PageDown,
}

impl Key {
    pub const fn plain(code: Code) -> Self {
        Self {
            code,
            ctrl: false,
            alt: false,
        }
    }

    pub const fn ctrl(c: char) -> Self {
        Self {
            code: Code::Char(c),
            ctrl: true,
            alt: false,
        }
    }

    pub const fn alt(code: Code) -> Self {
        Self {
            code,
            ctrl: false,
            alt: true,
        }
    }

    /// The letter that it types, if it types one.
    pub fn typed(self) -> Option<char> {
        match self.code {
            Code::Char(c) if !self.ctrl && !self.alt => Some(c),
            _ => None,
        }
    }

    /// As people write it: `Alt+2`, `Ctrl+D`, `Enter`.
    pub fn name(self) -> String {
        let code = match self.code {
            Code::Char(c) => c.to_uppercase().to_string(),
            Code::BackTab => "Shift+Tab".to_owned(),
            Code::PageUp => "Page up".to_owned(),
            Code::PageDown => "Page down".to_owned(),
            other => format!("{other:?}"),
        };
        match (self.ctrl, self.alt) {
            (true, _) => format!("Ctrl+{code}"),
            (_, true) => format!("Alt+{code}"),
            _ => code,
        }
    }
}

/// What a clerk can ask for. Letters, digits and the keys that move the cursor go to the field in hand instead.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Action {
    Accept,
    AcceptFilled,
    Doubtful,
    NextField,
    PreviousField,
    Step,
    Ditto,
    DittoAll,
    NothingOnStrip,
    CannotBeRead,
    UnreadableCharacter,
    Overrule,
    Roster,
    Why,
    AddRecord,
    NextRecord,
    DropRecord,
    Kind,
    Hold,
    SetAside,
    Note,
    Undo,
    NextSheet,
    PreviousSheet,
    Jump,
    Zoom,
    WholeSheet,
    PanLeft,
    PanRight,
    PanUp,
    PanDown,
    Turn,
    Mirror,
    Invert,
    ReadAgain,
    Repaint,
    Help,
    Suspend,
    Leave,
}

/// Every binding, in the order in which the help pane shows them. Suggestions are taken by Alt and their number.
pub const BINDINGS: &[(Key, Action, &str)] = &[
    (
        Key::plain(Code::Enter),
        Action::Accept,
        "accept this field, or the sheet when no field is left to look at",
    ),
    (
        Key::ctrl('j'),
        Action::Accept,
        "the same, from the number pad of some terminals",
    ),
    // No key with Alt: Esc and Enter that arrive together over a slow line look like one.
    (
        Key::ctrl('y'),
        Action::AcceptFilled,
        "accept all that is filled in, and the sheet if that is everything",
    ),
    (
        Key::alt(Code::Char('g')),
        Action::Doubtful,
        "go to the next character that is doubtful",
    ),
    (Key::plain(Code::Tab), Action::NextField, "next field"),
    (
        Key::plain(Code::Down),
        Action::NextField,
        "next field, or next line of a list",
    ),
    (
        Key::plain(Code::BackTab),
        Action::PreviousField,
        "field before",
    ),
    (
        Key::plain(Code::Up),
        Action::PreviousField,
        "field before, or line before in a list",
    ),
    (
        Key::plain(Code::Esc),
        Action::Step,
        "one step back; nothing is lost",
    ),
    (
        Key::ctrl('d'),
        Action::Ditto,
        "the same as on the sheet before, or in the record before",
    ),
    (
        Key::alt(Code::Char('d')),
        Action::DittoAll,
        "the same for all fields that are still to be looked at",
    ),
    (
        Key::alt(Code::Char('0')),
        Action::NothingOnStrip,
        "nothing on the strip for this field",
    ),
    (
        Key::alt(Code::Char('x')),
        Action::CannotBeRead,
        "this field cannot be read",
    ),
    (
        Key::alt(Code::Char('.')),
        Action::UnreadableCharacter,
        "one character here cannot be read",
    ),
    (
        Key::alt(Code::Char('o')),
        Action::Overrule,
        "keep the value although a check speaks against it, with a reason",
    ),
    (Key::ctrl('f'), Action::Roster, "search the roster"),
    (Key::ctrl('p'), Action::Why, "why this is proposed"),
    (
        Key::alt(Code::Char('n')),
        Action::AddRecord,
        "another record on the same sheet",
    ),
    (
        Key::alt(Code::Char('r')),
        Action::NextRecord,
        "go to the sheet's next record",
    ),
    (
        Key::alt(Code::Char('e')),
        Action::DropRecord,
        "take this record off the sheet",
    ),
    (Key::ctrl('k'), Action::Kind, "what kind of sheet this is"),
    (
        Key::ctrl('o'),
        Action::Hold,
        "put the sheet off, with a reason; it comes back",
    ),
    (
        Key::ctrl('x'),
        Action::SetAside,
        "set the sheet aside, with a reason; it goes to the exceptions",
    ),
    (Key::ctrl('t'), Action::Note, "write a note on the sheet"),
    (
        Key::alt(Code::Char('u')),
        Action::Undo,
        "undo, also the sheets accepted before",
    ),
    (
        Key::plain(Code::PageDown),
        Action::NextSheet,
        "leave this sheet waiting and go to the next",
    ),
    (
        Key::plain(Code::PageUp),
        Action::PreviousSheet,
        "go back to the sheet before",
    ),
    (
        Key::ctrl('g'),
        Action::Jump,
        "go to a sheet by its number or name",
    ),
    (
        Key::alt(Code::Char('z')),
        Action::Zoom,
        "closer, or back to the whole strip",
    ),
    (
        Key::alt(Code::Char('w')),
        Action::WholeSheet,
        "the whole sheet, or back to its strip",
    ),
    (
        Key::alt(Code::Left),
        Action::PanLeft,
        "move the close picture to the left",
    ),
    (
        Key::alt(Code::Right),
        Action::PanRight,
        "move the close picture to the right",
    ),
    (
        Key::alt(Code::Up),
        Action::PanUp,
        "move the picture of the whole sheet up",
    ),
    (
        Key::alt(Code::Down),
        Action::PanDown,
        "move the picture of the whole sheet down",
    ),
    (
        Key::alt(Code::Char('t')),
        Action::Turn,
        "turn the picture by half",
    ),
    (
        Key::alt(Code::Char('m')),
        Action::Mirror,
        "mirror the picture",
    ),
    (
        Key::alt(Code::Char('i')),
        Action::Invert,
        "exchange dark and light",
    ),
    (
        Key::alt(Code::Char('a')),
        Action::ReadAgain,
        "have the sheet read again as its picture stands now",
    ),
    (Key::ctrl('l'), Action::Repaint, "draw the screen again"),
    (Key::alt(Code::Char('h')), Action::Help, "all keys"),
    (
        Key::ctrl('z'),
        Action::Suspend,
        "leave for the shell; `fg` comes back",
    ),
    (
        Key::alt(Code::Char('q')),
        Action::Leave,
        "stop; everything accepted is kept",
    ),
];

/// What a key asks for; none where it goes to the editor or means nothing.
pub fn action(key: Key) -> Option<Action> {
    bound(BINDINGS, key)
}

/// What a key asks for by a desk's table.
pub fn bound<A: Copy>(bindings: &[(Key, A, &str)], key: Key) -> Option<A> {
    let mut bindings = bindings.iter();
    bindings.find_map(|(bound, action, _)| (*bound == key).then_some(*action))
}

/// The suggestion that Alt and a digit take, from 1.
pub fn suggestion(key: Key) -> Option<usize> {
    match key.code {
        Code::Char(c @ '1'..='9') if key.alt => c.to_digit(10).map(|digit| digit as usize),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn every_key_means_one_thing_and_no_letter_is_taken() {
        let keys: HashSet<Key> = BINDINGS.iter().map(|(key, ..)| *key).collect();
        assert_eq!(keys.len(), BINDINGS.len());
        for (key, _, words) in BINDINGS {
            assert!(key.typed().is_none(), "{} types", key.name());
            assert!(suggestion(*key).is_none(), "{}", key.name());
            assert!(!words.is_empty());
            // Terminals send these for Tab, Enter and Backspace, or stop at them; screen and tmux keep the last two.
            if key.ctrl {
                let Code::Char(c) = key.code else { continue };
                assert!(!"imhsqab".contains(c), "{}", key.name());
            }
        }
    }
}
