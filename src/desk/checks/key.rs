//! The list's keys, in one table. Nothing is typed here, so letters are keys.

use crate::desk::clerk::{Code, Key};

/// What somebody at the list can ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Action {
    Next,
    Previous,
    NextPage,
    PreviousPage,
    First,
    Last,
    NextSheet,
    PreviousSheet,
    Open,
    CheckAgain,
    Repaint,
    Suspend,
    Leave,
}

/// Every binding; the last line of the screen tells of those that one needs.
pub const BINDINGS: &[(Key, Action)] = &[
    (Key::plain(Code::Down), Action::Next),
    (Key::plain(Code::Up), Action::Previous),
    (Key::plain(Code::PageDown), Action::NextPage),
    (Key::plain(Code::PageUp), Action::PreviousPage),
    (Key::plain(Code::Home), Action::First),
    (Key::plain(Code::End), Action::Last),
    (Key::plain(Code::Right), Action::NextSheet),
    (Key::plain(Code::Left), Action::PreviousSheet),
    (Key::plain(Code::Enter), Action::Open),
    (Key::ctrl('j'), Action::Open),
    (Key::plain(Code::Char('r')), Action::CheckAgain),
    (Key::ctrl('l'), Action::Repaint),
    (Key::ctrl('z'), Action::Suspend),
    (Key::plain(Code::Esc), Action::Leave),
    (Key::plain(Code::Char('q')), Action::Leave),
    (Key::alt(Code::Char('q')), Action::Leave),
];

/// What a key asks for; none where it means nothing.
pub fn action(key: Key) -> Option<Action> {
    let bound = BINDINGS.iter().find(|(bound, _)| *bound == key);
    bound.map(|(_, action)| *action)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn every_key_means_one_thing() {
        let keys: HashSet<Key> = BINDINGS.iter().map(|(key, _)| *key).collect();
        assert_eq!(keys.len(), BINDINGS.len());
    }
}
