//! What may lie over the fields: lists, searches, a note. Each takes the letters itself and gives way to Esc.

use super::editor::Editor;
use super::key::{BINDINGS, Code, Key};
use super::sheet::{Knowledge, RosterRow};
use crate::value::SheetKind;

#[derive(Debug, Clone, PartialEq, Default)]
pub enum Pane {
    /// Nothing: the fields have the keys.
    #[default]
    Fields,
    Reasons(Reasons),
    Roster(RosterSearch),
    Jump(Editor),
    Note(Editor),
    /// The kind of sheet under the cursor, as an index into [`KINDS`].
    Kind(usize),
    /// Why the field in hand is proposed.
    Why,
    /// The first binding that is shown.
    Help(usize),
}

/// The kinds of sheet in the order in which the pane lists them.
pub const KINDS: [SheetKind; 6] = [
    SheetKind::Record,
    SheetKind::Divider,
    SheetKind::Target,
    SheetKind::CrossReference,
    SheetKind::RepeatScan,
    SheetKind::Blank,
];

/// A reason is asked for: one of a list, or another that is typed.
#[derive(Debug, Clone, PartialEq)]
pub struct Reasons {
    pub purpose: Purpose,
    pub listed: Vec<String>,
    pub at: usize,
    pub other: Editor,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    Hold,
    SetAside,
    Overrule,
}

impl Reasons {
    /// The reason as it stands.
    pub fn reason(&self) -> Option<String> {
        let typed = self.other.text().trim().to_owned();
        if typed.is_empty() {
            return self.listed.get(self.at).cloned();
        }
        Some(typed)
    }
}

/// Rows that a roster search shows: as many as there are digits.
const MOST_ROWS: usize = 9;

#[derive(Debug, Clone, PartialEq, Default)]
pub struct RosterSearch {
    pub words: Editor,
    pub rows: Vec<RosterRow>,
    pub at: usize,
}

impl RosterSearch {
    /// Finds the rows that hold the words as they stand now.
    pub fn look(&mut self, knowledge: &dyn Knowledge) {
        self.rows = knowledge.search(&self.words.text(), MOST_ROWS);
        self.at = 0;
    }
}

/// Moves through a list of `count`; `false` where the key is none for a list.
pub fn moved(at: &mut usize, count: usize, key: Key) -> bool {
    let last = count.saturating_sub(1);
    *at = match key.code {
        Code::Up | Code::BackTab => at.saturating_sub(1),
        Code::Down | Code::Tab => (*at + 1).min(last),
        Code::PageUp => at.saturating_sub(10),
        Code::PageDown => (*at + 10).min(last),
        _ => return false,
    };
    true
}

/// Lines of the help pane.
pub fn help_lines() -> Vec<(String, &'static str)> {
    let bound = BINDINGS.iter().map(|(key, _, words)| (key.name(), *words));
    bound
        .chain([(
            "Alt+1 to Alt+9".to_owned(),
            "take the suggestion of that number",
        )])
        .collect()
}
