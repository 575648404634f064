//! The supervisor's keys: one table, from which the help is drawn too.

use crate::desk::clerk::{Code, Key, bound};

/// What a supervisor can ask for; everything else goes to the text, or moves among the sheets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Action {
    SwitchSides,
    Tray(usize),
    NextSheet,
    PreviousSheet,
    NextFault,
    NextFile,
    ByRule,
    Example,
    Templates,
    Publish,
    GiveUp,
    Undo,
    Redo,
    Zoom,
    WholeSheet,
    PanLeft,
    PanRight,
    PanUp,
    PanDown,
    Step,
    Repaint,
    Help,
    Suspend,
    Leave,
}

/// Every binding, in the order in which the help shows them.
pub const BINDINGS: &[(Key, Action, &str)] = &[
    (
        Key::plain(Code::Tab),
        Action::SwitchSides,
        "from the rules to the sheets, or back",
    ),
    (Key::plain(Code::BackTab), Action::SwitchSides, "the same"),
    (
        Key::alt(Code::Char('1')),
        Action::Tray(0),
        "sheets that no rule fits",
    ),
    (
        Key::alt(Code::Char('2')),
        Action::Tray(1),
        "sheets that several rules fit",
    ),
    (
        Key::alt(Code::Char('3')),
        Action::Tray(2),
        "sheets that the draft changes, the worse first",
    ),
    (
        Key::alt(Code::Char('4')),
        Action::Tray(3),
        "sheets that the draft makes worse",
    ),
    (
        Key::alt(Code::Char('5')),
        Action::Tray(4),
        "sheets on which a check fails",
    ),
    (
        Key::alt(Code::Char('6')),
        Action::Tray(5),
        "sheets whose values are not as keyed",
    ),
    (Key::alt(Code::Char('7')), Action::Tray(6), "all sheets"),
    (
        Key::alt(Code::Char('n')),
        Action::NextSheet,
        "next sheet, also while you write",
    ),
    (
        Key::alt(Code::Char('b')),
        Action::PreviousSheet,
        "sheet before, also while you write",
    ),
    (
        Key::alt(Code::Char('c')),
        Action::ByRule,
        "how many sheets each rule fits",
    ),
    (
        Key::alt(Code::Char('g')),
        Action::NextFault,
        "go to the next fault of the rules",
    ),
    (
        Key::alt(Code::Char('f')),
        Action::NextFile,
        "the job's next rule file",
    ),
    (
        Key::alt(Code::Char('e')),
        Action::Example,
        "begin a rule with this sheet as its example",
    ),
    (
        Key::alt(Code::Char('t')),
        Action::Templates,
        "templates found in keyed sheets that no rule fits",
    ),
    (
        Key::alt(Code::Char('p')),
        Action::Publish,
        "put the draft to use; asks first",
    ),
    (
        Key::alt(Code::Char('d')),
        Action::GiveUp,
        "give the draft up; asks first",
    ),
    (Key::alt(Code::Char('u')), Action::Undo, "undo in the text"),
    (
        Key::alt(Code::Char('r')),
        Action::Redo,
        "do again what was undone",
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
        "move the picture to the left",
    ),
    (
        Key::alt(Code::Right),
        Action::PanRight,
        "move the picture to the right",
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
        Key::plain(Code::Esc),
        Action::Step,
        "one step back; nothing is lost",
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
        "stop; the draft is kept",
    ),
];

/// Keys that have no action of their own, for the help.
pub const OTHERS: &[(&str, &str)] = &[
    (
        "Up, Down, Enter",
        "among the sheets: choose one; explain it at length",
    ),
    (
        "Left, Right",
        "among the sheets: the next rule's view of the sheet",
    ),
    (
        "Home, End, Page",
        "in the text: the line's ends, ten lines; with Ctrl, the file's ends",
    ),
    (
        "Ctrl+W, K, U",
        "in the text: delete a word, the line's rest, the line's start",
    ),
];

/// What a key asks for; none where it goes to the text or means nothing.
pub fn action(key: Key) -> Option<Action> {
    bound(BINDINGS, key)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn every_key_means_one_thing_and_no_letter_is_taken() {
        let keys: HashSet<Key> = BINDINGS.iter().map(|(key, ..)| *key).collect();
        assert_eq!(keys.len(), BINDINGS.len());
        assert!(BINDINGS.iter().all(|(key, ..)| key.typed().is_none()));
    }
}
