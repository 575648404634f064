//! The state of the desk, and what every key does to it.

use super::editor::Editor;
use super::field::Mark;
use super::key::{Action, Key, action, suggestion};
use super::pane::{KINDS, Pane, Purpose, moved};
use super::sheet::{DeskSheet, Knowledge, Plan};
use super::work::Work;
use crate::desk::picture::Reversal;
use crate::journal::{Act, Keying, UNREADABLE};
use crate::value::SheetId;
use std::collections::HashMap;

/// An Enter within this time after the strip was drawn is not meant for it, in milliseconds.
pub const SETTLING: i64 = 250;
/// Enters closer together than this are a key held down, in milliseconds: keyboards repeat 10 to 40 times a second, and
/// nobody presses that fast on purpose.
pub const HELD_KEY: i64 = 120;

/// What the driver has to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Write this down, then call [`Clerk::written`] or [`Clerk::refused`].
    Append(Act),
    /// Undo this entry of one's own on that sheet, then open the sheet with what was keyed.
    Undo(Done),
    NextSheet,
    PreviousSheet,
    /// Open the sheet that this number or part of a name means, or say that there is none.
    Jump(String),
    /// Have the sheet in hand read again, its strip turned, mirrored or inverted against how it was read.
    ReadAgain(Reversal),
    Repaint,
    Suspend,
    Leave,
}

/// A sheet that was accepted, held or set aside in this sitting.
#[derive(Debug, Clone, PartialEq)]
pub struct Done {
    pub sheet: SheetId,
    pub entry: i64,
    /// What happened, in a word or two.
    pub words: String,
    pub keying: Option<Keying>,
}

impl Done {
    /// An entry that does something with a sheet.
    pub fn of(sheet: &SheetId, act: &Act, entry: i64) -> Option<Self> {
        let (words, keying) = match act {
            Act::Keyed(keying) => ("accepted".to_owned(), Some(keying.clone())),
            Act::Held { reason } => (format!("put off: {reason}"), None),
            Act::SetAside { reason } => (format!("set aside: {reason}"), None),
            Act::Noted { .. } | Act::Settled(_) | Act::Returned | Act::Undone { .. } => {
                return None;
            }
        };
        Some(Self {
            sheet: sheet.clone(),
            entry,
            words,
            keying,
        })
    }
}

/// How the picture is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PictureWishes {
    /// The whole sheet instead of its strip.
    pub whole: bool,
    pub close: bool,
    /// Steps to the right of where the field in hand begins, and down.
    pub pan: (i32, i32),
    pub reversal: Reversal,
}

/// The clerk's desk: pure, fed with keys and the time.
pub struct Clerk {
    pub(super) plan: Plan,
    pub(super) sheet: DeskSheet,
    pub(super) work: Work,
    pub(super) pane: Pane,
    pub(super) wishes: PictureWishes,
    pub(super) message: Option<String>,
    pub(super) done: Vec<Done>,
    /// Work on sheets that were left before they were accepted, with the hash of their image.
    pub(super) left: HashMap<SheetId, (String, Work)>,
    pub(super) history: Vec<Snapshot>,
    pub(super) drawn_at: Option<i64>,
    last_enter: Option<i64>,
    pub(super) keystrokes: u32,
    pub(super) has_seen_suggestions: bool,
    pub(super) last_reasons: [usize; 2],
    pub(super) waits: bool,
}

/// What an undo within the sheet goes back to.
#[derive(Clone)]
pub(super) struct Snapshot {
    pub(super) work: Work,
    /// The field that was typed in, so that a word is undone at once and not letter by letter.
    pub(super) typing_in: Option<(usize, usize)>,
}

impl Clerk {
    pub fn new(plan: Plan, sheet: DeskSheet, knowledge: &dyn Knowledge) -> Self {
        let mut desk = Self {
            plan,
            sheet: DeskSheet::default(),
            work: Work::default(),
            pane: Pane::Fields,
            wishes: PictureWishes::default(),
            message: None,
            done: Vec::new(),
            left: HashMap::new(),
            history: Vec::new(),
            drawn_at: None,
            last_enter: None,
            keystrokes: 0,
            has_seen_suggestions: false,
            last_reasons: [0; 2],
            waits: false,
        };
        desk.open(sheet, knowledge);
        desk
    }

    /// What the same person did before this sitting, the last one at the end: undo goes back to it too.
    pub fn recall(&mut self, done: Vec<Done>) {
        self.done.splice(0..0, done);
    }

    /// Takes another sheet in hand. Until [`Self::drawn`] is called no Enter counts for it.
    /// What was begun on the sheet in hand is kept, and comes back with it.
    pub fn open(&mut self, sheet: DeskSheet, knowledge: &dyn Knowledge) {
        self.keep_work();
        self.work = Work::new(&self.plan, &sheet, knowledge);
        self.wishes = PictureWishes {
            // Where no strip was found, the sheet itself is all there is to be seen.
            whole: sheet.has_no_strip,
            ..PictureWishes::default()
        };
        self.sheet = sheet;
        self.pane = Pane::Fields;
        self.history.clear();
        self.drawn_at = None;
        self.keystrokes = 0;
        self.has_seen_suggestions = false;
        self.waits = false;
        self.go_to_next_open_field();
        self.take_up_work();
    }

    /// The sheet in hand was read again: what nobody touched takes the new proposal, the rest stays; undo goes back.
    pub fn read_anew(&mut self, sheet: DeskSheet, knowledge: &dyn Knowledge) {
        self.remember(None);
        self.work.take_reading(&self.plan, &sheet, knowledge);
        self.wishes = PictureWishes {
            whole: sheet.has_no_strip,
            ..PictureWishes::default()
        };
        self.sheet = sheet;
        self.drawn_at = None;
        self.say("The sheet was read again; Alt+U gives the new reading up.");
        self.go_to_next_open_field();
    }

    /// The strip is on the screen since this moment.
    pub fn drawn(&mut self, now: i64) {
        self.drawn_at.get_or_insert(now);
    }

    /// The last effect was carried out under this entry's number.
    pub fn written(&mut self, entry: i64, act: &Act) {
        self.waits = false;
        if let Act::Noted { .. } = act {
            self.message = Some("The note is kept.".to_owned());
            return;
        }
        if let Some(done) = Done::of(&self.sheet.sheet, act, entry) {
            self.history.clear();
            self.done.push(done);
        }
    }

    /// The last effect could not be carried out; everything is as it was.
    pub fn refused(&mut self, words: impl Into<String>) {
        self.waits = false;
        self.message = Some(words.into());
    }

    pub fn say(&mut self, words: impl Into<String>) {
        self.message = Some(words.into());
    }

    /// Text from the clipboard: goes where letters go, and never accepts anything.
    pub fn paste(&mut self, text: &str, knowledge: &dyn Knowledge) {
        self.keystrokes += 1;
        match &mut self.pane {
            Pane::Fields => self.change_text(knowledge, |editor| {
                editor.insert(text);
                true
            }),
            Pane::Reasons(reasons) => reasons.other.insert(text),
            Pane::Jump(editor) | Pane::Note(editor) => editor.insert(text),
            Pane::Roster(search) => {
                search.words.insert(text);
                search.look(knowledge);
            }
            Pane::Kind(_) | Pane::Why | Pane::Help(_) => {}
        }
    }

    /// What a key does at this time, in milliseconds of any clock that only goes forward.
    pub fn press(&mut self, key: Key, now: i64, knowledge: &dyn Knowledge) -> Option<Effect> {
        let asked = action(key);
        if matches!(asked, Some(Action::Accept | Action::AcceptFilled)) {
            let before = self.last_enter.replace(now);
            let settled = self.drawn_at.is_some_and(|drawn| now - drawn >= SETTLING);
            if !settled {
                return None;
            }
            let is_held = before.is_some_and(|before| (0..HELD_KEY).contains(&(now - before)));
            if is_held && self.pane == Pane::Fields {
                return None;
            }
        }
        if self.waits {
            return None;
        }
        // They were on the screen when the key was pressed.
        self.has_seen_suggestions |= self.drawn_at.is_some() && !self.suggestions().is_empty();
        self.keystrokes += 1;
        self.message = None;
        match asked {
            Some(Action::Suspend) => return Some(Effect::Suspend),
            Some(Action::Repaint) => return Some(Effect::Repaint),
            Some(Action::Leave) => return Some(Effect::Leave),
            Some(Action::Help) => {
                self.pane = Pane::Help(0);
                return None;
            }
            _ => {}
        }
        match self.pane {
            Pane::Fields => self.on_fields(key, asked, now, knowledge),
            _ => self.on_pane(key, asked, knowledge),
        }
    }

    fn on_fields(
        &mut self,
        key: Key,
        asked: Option<Action>,
        now: i64,
        knowledge: &dyn Knowledge,
    ) -> Option<Effect> {
        if let Some(number) = suggestion(key) {
            self.take_suggestion(number, knowledge);
            return None;
        }
        let Some(asked) = asked else {
            self.change_text(knowledge, |editor| editor.press(key));
            return None;
        };
        match asked {
            Action::Accept => return self.accept(now, knowledge),
            Action::AcceptFilled => return self.accept_filled(now, knowledge),
            Action::Doubtful => self.go_to_doubtful(),
            Action::NextField => self.move_focus(1),
            Action::PreviousField => self.move_focus(-1),
            Action::Step => self.step_back(),
            Action::Ditto => self.ditto(knowledge),
            Action::DittoAll => self.ditto_all(knowledge),
            Action::NothingOnStrip => self.mark(Mark::NothingOnStrip, knowledge),
            Action::CannotBeRead => self.mark(Mark::CannotBeRead, knowledge),
            Action::UnreadableCharacter => self.change_text(knowledge, |editor| {
                editor.go_to(editor.cursor());
                editor.insert(&UNREADABLE.to_string());
                true
            }),
            Action::Overrule => self.ask_to_overrule(),
            Action::Roster => self.open_roster(knowledge),
            Action::Why => {
                self.has_seen_suggestions |= self.shows_proposal();
                self.pane = Pane::Why;
            }
            Action::AddRecord => self.add_record(),
            Action::NextRecord => self.next_record(),
            Action::DropRecord => self.drop_record(),
            Action::Kind => {
                let at = KINDS.iter().position(|kind| *kind == self.work.kind);
                self.pane = Pane::Kind(at.unwrap_or_default());
            }
            Action::Hold => self.ask_reason(Purpose::Hold),
            Action::SetAside => self.ask_reason(Purpose::SetAside),
            Action::Note => self.pane = Pane::Note(Editor::default()),
            Action::Undo => return self.undo(),
            Action::NextSheet => return Some(Effect::NextSheet),
            Action::PreviousSheet => return Some(Effect::PreviousSheet),
            Action::Jump => self.pane = Pane::Jump(Editor::default()),
            Action::Zoom => {
                self.wishes.close = !self.wishes.close;
                self.wishes.pan = (0, 0);
            }
            Action::WholeSheet => {
                self.wishes.whole = !self.wishes.whole || self.sheet.has_no_strip;
                self.wishes.pan = (0, 0);
            }
            Action::PanLeft => self.wishes.pan.0 -= 1,
            Action::PanRight => self.wishes.pan.0 += 1,
            Action::PanUp => self.wishes.pan.1 -= 1,
            Action::PanDown => self.wishes.pan.1 += 1,
            Action::Turn => self.wishes.reversal.turned ^= true,
            Action::Mirror => self.wishes.reversal.mirrored ^= true,
            Action::Invert => self.wishes.reversal.inverted ^= true,
            Action::ReadAgain => return self.read_again(),
            Action::Repaint | Action::Help | Action::Suspend | Action::Leave => {}
        }
        None
    }

    fn on_pane(
        &mut self,
        key: Key,
        asked: Option<Action>,
        knowledge: &dyn Knowledge,
    ) -> Option<Effect> {
        if asked == Some(Action::Step) {
            self.pane = Pane::Fields;
            return None;
        }
        let accepts = asked == Some(Action::Accept);
        match std::mem::take(&mut self.pane) {
            Pane::Reasons(mut reasons) => {
                if let Some(at) = chosen(key, reasons.listed.len()) {
                    reasons.at = at;
                    reasons.other = Editor::default();
                    return self.with_reason(reasons, knowledge);
                }
                if accepts {
                    return self.with_reason(reasons, knowledge);
                }
                if !moved(&mut reasons.at, reasons.listed.len(), key) {
                    reasons.other.press(key);
                }
                self.pane = Pane::Reasons(reasons);
            }
            Pane::Roster(mut search) => {
                let at = accepts.then_some(search.at);
                let picked = at.or(chosen(key, search.rows.len()));
                if let Some(row) = picked.and_then(|at| search.rows.get(at).cloned()) {
                    self.link(row, knowledge);
                    return None;
                }
                if !moved(&mut search.at, search.rows.len(), key) && search.words.press(key) {
                    search.look(knowledge);
                }
                self.pane = Pane::Roster(search);
            }
            Pane::Jump(mut editor) => {
                if accepts {
                    let wanted = editor.text();
                    return (!wanted.trim().is_empty()).then_some(Effect::Jump(wanted));
                }
                editor.press(key);
                self.pane = Pane::Jump(editor);
            }
            Pane::Note(mut editor) => {
                if accepts {
                    let note = editor.text();
                    return (!note.trim().is_empty()).then(|| self.append(Act::Noted { note }));
                }
                editor.press(key);
                self.pane = Pane::Note(editor);
            }
            Pane::Kind(mut at) => {
                let picked = accepts.then_some(at);
                if let Some(at) = picked.or(chosen(key, KINDS.len())) {
                    self.remember(None);
                    self.work.kind = KINDS[at];
                    return None;
                }
                moved(&mut at, KINDS.len(), key);
                self.pane = Pane::Kind(at);
            }
            Pane::Help(mut top) => {
                if moved(&mut top, super::pane::help_lines().len(), key) {
                    self.pane = Pane::Help(top);
                }
            }
            // Any key goes on.
            Pane::Why | Pane::Fields => {}
        }
        None
    }
}

/// The line of a list that Alt and a digit choose.
fn chosen(key: Key, lines: usize) -> Option<usize> {
    suggestion(key)
        .map(|number| number - 1)
        .filter(|at| *at < lines)
}
