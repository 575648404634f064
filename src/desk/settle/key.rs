//! The reviewer's keys: one table, from which the help is drawn too.

use crate::desk::clerk::{Code, Key, bound};

/// What a reviewer can ask for; letters go into a value of his or her own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Action {
    TakeLeft,
    TakeRight,
    Accept,
    NextDispute,
    PreviousDispute,
    Step,
    NothingOnStrip,
    CannotBeRead,
    Hold,
    SetAside,
    Rescan,
    Proposal,
    Roster,
    Bulk,
    Undo,
    NextSheet,
    PreviousSheet,
    Zoom,
    WholeSheet,
    PanLeft,
    PanRight,
    PanUp,
    PanDown,
    Repaint,
    Help,
    Suspend,
    Leave,
}

/// Every binding, in the order in which the help shows them.
pub const BINDINGS: &[(Key, Action, &str)] = &[
    (
        Key::plain(Code::Left),
        Action::TakeLeft,
        "the value on the left is on the strip",
    ),
    (
        Key::plain(Code::Right),
        Action::TakeRight,
        "the value on the right is on the strip",
    ),
    (
        Key::plain(Code::Enter),
        Action::Accept,
        "take what you typed; when all is decided, settle the sheet",
    ),
    (
        Key::ctrl('j'),
        Action::Accept,
        "the same, from the number pad of some terminals",
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
        Key::plain(Code::Tab),
        Action::NextDispute,
        "next difference",
    ),
    (Key::plain(Code::Down), Action::NextDispute, "the same"),
    (
        Key::plain(Code::BackTab),
        Action::PreviousDispute,
        "difference before",
    ),
    (Key::plain(Code::Up), Action::PreviousDispute, "the same"),
    (
        Key::plain(Code::Esc),
        Action::Step,
        "one step back; nothing is lost",
    ),
    (
        Key::ctrl('p'),
        Action::Proposal,
        "show what the program proposed; this is written down",
    ),
    (
        Key::ctrl('f'),
        Action::Roster,
        "show the roster's rows of both; this is written down",
    ),
    (
        Key::alt(Code::Char('b')),
        Action::Bulk,
        "the same harmless difference on many sheets, settled together",
    ),
    (
        Key::ctrl('o'),
        Action::Hold,
        "put the sheet off, with a reason; it comes back",
    ),
    (
        Key::ctrl('x'),
        Action::SetAside,
        "set the sheet aside, with a reason",
    ),
    (
        Key::ctrl('r'),
        Action::Rescan,
        "ask for another scan of the sheet",
    ),
    (
        Key::alt(Code::Char('u')),
        Action::Undo,
        "undo, also sheets that were settled",
    ),
    (
        Key::plain(Code::PageDown),
        Action::NextSheet,
        "leave this sheet in dispute and go to the next",
    ),
    (
        Key::plain(Code::PageUp),
        Action::PreviousSheet,
        "go back to the sheet in dispute before",
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
        "stop; everything settled is kept",
    ),
];

/// What a key asks for; none where it goes to the editor or means nothing.
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
