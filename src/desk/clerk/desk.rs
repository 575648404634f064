//! The state of the desk, and what every key does to it.

use super::acts::MOST_ROWS;
use super::editor::Editor;
use super::field::{Field, Mark};
use super::key::{Action, Key, action, suggestion};
use super::pane::{KINDS, Pane, Purpose, moved};
use super::sheet::{DeskSheet, FieldPlace, Knowledge, Plan, RosterRow};
use crate::journal::{Act, Keying, UNREADABLE};
use crate::value::{SheetId, SheetKind};
use std::collections::HashMap;

/// An Enter within this time after the strip was drawn is not meant for it, in milliseconds.
pub(super) const SETTLING: i64 = 250;
/// Enters closer together than this are a key held down, in milliseconds: keyboards repeat 10 to 40 times a second, and
/// nobody presses that fast on purpose.
pub(super) const HELD_KEY: i64 = 120;

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

/// How the picture is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PictureWishes {
    pub close: bool,
    /// Steps to the right of where the field in hand begins.
    pub pan: i32,
    pub turned: bool,
    pub mirrored: bool,
    pub inverted: bool,
}

/// The clerk's desk: pure, fed with keys and the time.
pub struct Clerk {
    pub(super) plan: Plan,
    pub(super) sheet: DeskSheet,
    pub(super) records: Vec<Vec<Field>>,
    pub(super) rows: Vec<Option<RosterRow>>,
    /// Of each record: the person chose its row, and it stays whatever is typed.
    pub(super) picked: Vec<bool>,
    pub(super) record: usize,
    pub(super) focus: usize,
    pub(super) kind: SheetKind,
    pub(super) pane: Pane,
    pub(super) wishes: PictureWishes,
    pub(super) message: Option<String>,
    pub(super) done: Vec<Done>,
    /// Work on sheets that were left before they were accepted, with the hash of their image.
    pub(super) left: HashMap<SheetId, (String, Snapshot)>,
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
    pub(super) records: Vec<Vec<Field>>,
    pub(super) rows: Vec<Option<RosterRow>>,
    pub(super) picked: Vec<bool>,
    pub(super) record: usize,
    pub(super) focus: usize,
    pub(super) kind: SheetKind,
    /// The field that was typed in, so that a word is undone at once and not letter by letter.
    pub(super) typing_in: Option<(usize, usize)>,
}

impl Clerk {
    pub fn new(plan: Plan, sheet: DeskSheet, knowledge: &dyn Knowledge) -> Self {
        let mut desk = Self {
            plan,
            sheet: DeskSheet::default(),
            records: Vec::new(),
            rows: Vec::new(),
            picked: Vec::new(),
            record: 0,
            focus: 0,
            kind: SheetKind::Record,
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

    /// Takes another sheet in hand. Until [`Self::drawn`] is called no Enter counts for it.
    /// What was begun on the sheet in hand is kept, and comes back with it.
    pub fn open(&mut self, sheet: DeskSheet, knowledge: &dyn Knowledge) {
        self.keep_work();
        let is_shown = sheet.sees_proposal && !sheet.unfilled;
        let proposal = sheet.proposal.as_ref().map(|frozen| &frozen.proposal);
        let count = 1 + proposal.filter(|_| is_shown).map_or(0, |p| p.more.len());
        self.records = (0..count).map(|at| self.fields_of(&sheet, at)).collect();
        let link = |at: usize| {
            let proposal = proposal.filter(|_| is_shown)?;
            let link = match at {
                0 => proposal.link.as_ref(),
                at => proposal.more.get(at - 1)?.link.as_ref(),
            };
            knowledge.row(&link?.key)
        };
        self.rows = (0..count).map(link).collect();
        self.picked = vec![false; count];
        self.kind = match proposal {
            Some(proposal) if is_shown => proposal.kind,
            _ => SheetKind::Record,
        };
        if let Some(again) = &sheet.again {
            self.kind = again.kind;
            self.take_up(&sheet, again, knowledge);
        }
        for field in self.records.iter_mut().flatten() {
            field.judge(knowledge);
        }
        self.sheet = sheet;
        self.record = 0;
        self.focus = 0;
        self.pane = Pane::Fields;
        self.wishes = PictureWishes::default();
        self.history.clear();
        self.drawn_at = None;
        self.keystrokes = 0;
        self.has_seen_suggestions = false;
        self.waits = false;
        self.go_to_next_open_field();
        self.take_up_work();
    }

    pub(super) fn fields_of(&self, sheet: &DeskSheet, record: usize) -> Vec<Field> {
        let is_shown = sheet.sees_proposal && !sheet.unfilled;
        let frozen = sheet.proposal.as_ref();
        let proposed = frozen.map(|frozen| match record {
            0 => frozen.proposal.fields.as_slice(),
            at => frozen
                .proposal
                .more
                .get(at - 1)
                .map_or(&[][..], |more| more.fields.as_slice()),
        });
        let field = |plan: &super::PlannedField| {
            let proposed = proposed.and_then(|all| all.iter().find(|p| p.field == plan.name));
            let mut places = frozen.into_iter().flat_map(|frozen| &frozen.places);
            let place = places
                .find(|place| place.field == plan.name && place.record == record)
                .filter(|_| is_shown)
                .cloned();
            let nowhere = || FieldPlace {
                field: plan.name.clone(),
                record,
                characters: Vec::new(),
            };
            Field::new(plan, proposed, place.unwrap_or_else(nowhere), is_shown)
        };
        self.plan.fields.iter().map(field).collect()
    }

    fn take_up(&mut self, sheet: &DeskSheet, again: &Keying, knowledge: &dyn Knowledge) {
        while self.records.len() < again.records.len() {
            let more = self.fields_of(sheet, self.records.len());
            self.records.push(more);
            self.rows.push(None);
            self.picked.push(false);
        }
        for (at, record) in again.records.iter().enumerate() {
            let key = record.roster_key.as_deref();
            self.rows[at] = key.and_then(|key| knowledge.row(key));
            self.picked[at] = self.rows[at].is_some();
            for keyed in &record.fields {
                let fields = self.records[at].iter_mut();
                for field in fields.filter(|field| field.plan.name == keyed.field) {
                    field.take_up(keyed);
                }
            }
        }
    }

    /// The strip is on the screen since this moment.
    pub fn drawn(&mut self, now: i64) {
        self.drawn_at.get_or_insert(now);
    }

    /// The last effect was carried out under this entry's number.
    pub fn written(&mut self, entry: i64, act: &Act) {
        self.waits = false;
        let (words, keying) = match act {
            Act::Keyed(keying) => ("accepted".to_owned(), Some(keying.clone())),
            Act::Held { reason } => (format!("put off: {reason}"), None),
            Act::SetAside { reason } => (format!("set aside: {reason}"), None),
            Act::Noted { .. } => {
                self.message = Some("The note is kept.".to_owned());
                return;
            }
            Act::Settled(_) | Act::Returned | Act::Undone { .. } => return,
        };
        self.history.clear();
        self.done.push(Done {
            sheet: self.sheet.sheet.clone(),
            entry,
            words,
            keying,
        });
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
                search.rows = knowledge.search(&search.words.text(), MOST_ROWS);
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
            Action::Accept => return self.accept(now),
            Action::AcceptFilled => self.accept_filled(),
            Action::NextField => self.move_focus(1),
            Action::PreviousField => self.move_focus(-1),
            Action::Step => self.step_back(),
            Action::Ditto => self.ditto(knowledge),
            Action::NothingOnStrip => self.mark(Mark::NothingOnStrip),
            Action::CannotBeRead => self.mark(Mark::CannotBeRead),
            Action::UnreadableCharacter => self.change_text(knowledge, |editor| {
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
            Action::Kind => {
                let at = KINDS.iter().position(|kind| *kind == self.kind);
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
                self.wishes.pan = 0;
            }
            Action::PanLeft => self.wishes.pan -= 1,
            Action::PanRight => self.wishes.pan += 1,
            Action::Turn => self.wishes.turned = !self.wishes.turned,
            Action::Mirror => self.wishes.mirrored = !self.wishes.mirrored,
            Action::Invert => self.wishes.inverted = !self.wishes.inverted,
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
                if accepts {
                    return self.with_reason(reasons);
                }
                if !moved(&mut reasons.at, reasons.listed.len(), key) {
                    reasons.other.press(key);
                }
                self.pane = Pane::Reasons(reasons);
            }
            Pane::Roster(mut search) => {
                let picked = match suggestion(key) {
                    Some(number) => search.rows.get(number - 1).cloned(),
                    None if accepts => search.rows.get(search.at).cloned(),
                    None => None,
                };
                if let Some(row) = picked {
                    self.link(row, knowledge);
                    return None;
                }
                if !moved(&mut search.at, search.rows.len(), key) && search.words.press(key) {
                    search.rows = knowledge.search(&search.words.text(), MOST_ROWS);
                    search.at = 0;
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
                if accepts {
                    self.remember(None);
                    self.kind = KINDS[at];
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
