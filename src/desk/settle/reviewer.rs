//! The state of the reviewer's desk, and what every key does to it.

use super::bulk::{Bulk, BulkChoice};
use super::case::{Case, Side};
use super::key::{Action, action};
use super::verdict::settle;
use crate::desk::clerk::{Editor, HELD_KEY, Key, Knowledge, PictureWishes, SETTLING};
use crate::journal::{KeyedValue, Settlement};
use crate::review::{Compared, Decision, HarmlessGroup, Place, Take};
use crate::value::SheetId;

/// What the driver has to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Write this down, then call [`Reviewer::written`] or [`Reviewer::refused`].
    Settle(Box<Settlement>),
    PutOff {
        reason: String,
        set_aside: bool,
    },
    /// Undo these settlements of one's own, the last first.
    Undo(Done),
    /// Gather the harmless differences and open them with [`Reviewer::open_bulk`].
    GatherHarmless,
    /// Take this form of the group's difference on these sheets.
    SettleGroup {
        group: HarmlessGroup,
        form: usize,
        sheets: Vec<SheetId>,
    },
    NextSheet,
    PreviousSheet,
    Repaint,
    Suspend,
    Leave,
}

/// Something that was done in this sitting: one sheet, or many in one go.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Done {
    /// Sheets with the numbers of their entries.
    pub entries: Vec<(SheetId, i64)>,
    pub words: String,
}

/// What lies over the differences.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Pane {
    #[default]
    Disputes,
    /// Asks for a reason to put the sheet off, or to set it aside.
    Reason {
        set_aside: bool,
        words: Editor,
    },
    Bulk(Bulk),
    Help(usize),
}

/// The reviewer's desk: pure, fed with keys and the time.
pub struct Reviewer {
    case: Case,
    /// For each difference what was decided.
    decided: Vec<Option<Take>>,
    at: usize,
    /// A value of the reviewer's own.
    pub(super) own: Editor,
    pane: Pane,
    wishes: PictureWishes,
    shows_proposal: bool,
    shows_roster: bool,
    message: Option<String>,
    history: Vec<(Vec<Option<Take>>, usize)>,
    done: Vec<Done>,
    drawn_at: Option<i64>,
    last_press: Option<(Key, i64)>,
    keystrokes: u32,
    waits: bool,
}

impl Reviewer {
    pub fn new(case: Case) -> Self {
        let mut desk = Self {
            decided: Vec::new(),
            case: case.clone(),
            at: 0,
            own: Editor::default(),
            pane: Pane::Disputes,
            wishes: PictureWishes::default(),
            shows_proposal: false,
            shows_roster: false,
            message: None,
            history: Vec::new(),
            done: Vec::new(),
            drawn_at: None,
            last_press: None,
            keystrokes: 0,
            waits: false,
        };
        desk.open(case);
        desk
    }

    /// Takes another sheet in hand.
    pub fn open(&mut self, case: Case) {
        self.decided = vec![None; case.disputes().len()];
        self.wishes = PictureWishes {
            whole: case.has_no_strip,
            ..PictureWishes::default()
        };
        self.case = case;
        self.at = 0;
        self.own = Editor::default();
        self.pane = Pane::Disputes;
        self.shows_proposal = false;
        self.shows_roster = false;
        self.history.clear();
        self.drawn_at = None;
        self.keystrokes = 0;
        self.waits = false;
    }

    pub fn case(&self) -> &Case {
        &self.case
    }

    pub fn pane(&self) -> &Pane {
        &self.pane
    }

    pub fn wishes(&self) -> PictureWishes {
        self.wishes
    }

    pub fn message(&self) -> Option<&str> {
        self.message.as_deref()
    }

    pub fn done(&self) -> &[Done] {
        &self.done
    }

    pub fn shows_proposal(&self) -> bool {
        self.shows_proposal
    }

    pub fn shows_roster(&self) -> bool {
        self.shows_roster
    }

    /// Index of the difference in hand.
    pub fn at(&self) -> usize {
        self.at
    }

    pub fn in_hand(&self) -> Option<&Compared> {
        self.case.disputes().get(self.at).copied()
    }

    /// What was decided of a difference.
    pub fn decided(&self, at: usize) -> Option<&Take> {
        self.decided.get(at)?.as_ref()
    }

    /// Whether the next Enter settles the sheet.
    pub fn is_ready(&self) -> bool {
        self.own.is_empty() && self.decided.iter().all(Option::is_some)
    }

    /// The strip is on the screen since this moment.
    pub fn drawn(&mut self, now: i64) {
        self.drawn_at.get_or_insert(now);
    }

    pub fn say(&mut self, words: impl Into<String>) {
        self.message = Some(words.into());
    }

    /// The last effect was carried out.
    pub fn written(&mut self, done: Done) {
        self.waits = false;
        self.history.clear();
        self.done.push(done);
    }

    /// The last effect could not be carried out; everything is as it was.
    pub fn refused(&mut self, words: impl Into<String>) {
        self.waits = false;
        self.say(words);
    }

    /// The undoing of what was done last was written.
    pub fn undone(&mut self) {
        self.waits = false;
        self.done.pop();
    }

    pub fn open_bulk(&mut self, groups: Vec<HarmlessGroup>) {
        if groups.is_empty() {
            self.say("No difference in dispute is harmless.");
        } else {
            self.pane = Pane::Bulk(Bulk::new(groups));
        }
    }

    /// Text from the clipboard: goes where letters go, and never settles anything.
    pub fn paste(&mut self, text: &str) {
        self.keystrokes += 1;
        let takes_text = self.takes_text();
        match &mut self.pane {
            Pane::Disputes if takes_text => self.own.insert(text),
            Pane::Reason { words, .. } => words.insert(text),
            _ => {}
        }
    }

    fn takes_text(&self) -> bool {
        let in_hand = self.in_hand();
        in_hand.is_some_and(|compared| matches!(compared.at, Place::Field(..)))
    }

    /// What a key does at this time, in milliseconds of any clock that only goes forward.
    pub fn press(&mut self, key: Key, now: i64, knowledge: &dyn Knowledge) -> Option<Effect> {
        let asked = action(key);
        if matches!(
            asked,
            Some(Action::Accept | Action::TakeLeft | Action::TakeRight)
        ) {
            let before = self.last_press.replace((key, now));
            let is_seen = self.drawn_at.is_some_and(|drawn| now - drawn >= SETTLING);
            let is_held = before.is_some_and(|(same, at)| same == key && now - at < HELD_KEY);
            let moves_a_cursor = asked != Some(Action::Accept) && !self.own.is_empty();
            if !is_seen || is_held && !moves_a_cursor {
                return None;
            }
        }
        if self.waits {
            return None;
        }
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
            Pane::Disputes => self.on_disputes(key, asked, now, knowledge),
            _ => self.on_pane(key, asked),
        }
    }

    fn on_disputes(
        &mut self,
        key: Key,
        asked: Option<Action>,
        now: i64,
        knowledge: &dyn Knowledge,
    ) -> Option<Effect> {
        let types = !self.own.is_empty();
        match asked {
            // In a text that was begun the arrows move the cursor.
            Some(Action::TakeLeft | Action::TakeRight) if types => {
                self.own.press(key);
            }
            Some(Action::TakeLeft) => self.take_side(Side::Left),
            Some(Action::TakeRight) => self.take_side(Side::Right),
            Some(Action::Accept) => return self.accept(now, knowledge),
            Some(Action::NothingOnStrip) => self.take_value(KeyedValue::NothingOnStrip),
            Some(Action::CannotBeRead) => self.take_value(KeyedValue::CannotBeRead),
            Some(Action::NextDispute) => self.step(1),
            Some(Action::PreviousDispute) => self.step(-1),
            Some(Action::Step) => {
                self.own = Editor::default();
                self.wishes.close = false;
                self.wishes.whole = self.case.has_no_strip;
            }
            Some(Action::Hold) => self.ask_reason(false, ""),
            Some(Action::SetAside) => self.ask_reason(true, ""),
            Some(Action::Rescan) => self.ask_reason(false, "scan again"),
            Some(Action::Proposal) => self.shows_proposal = true,
            Some(Action::Roster) => self.shows_roster = true,
            Some(Action::Bulk) => return Some(Effect::GatherHarmless),
            Some(Action::Undo) => return self.undo(),
            Some(Action::NextSheet) => return Some(Effect::NextSheet),
            Some(Action::PreviousSheet) => return Some(Effect::PreviousSheet),
            Some(Action::Zoom) => {
                self.wishes.close ^= true;
                self.wishes.pan = (0, 0);
            }
            Some(Action::WholeSheet) => {
                self.wishes.whole = !self.wishes.whole || self.case.has_no_strip;
                self.wishes.pan = (0, 0);
            }
            Some(Action::PanLeft) => self.wishes.pan.0 -= 1,
            Some(Action::PanRight) => self.wishes.pan.0 += 1,
            Some(Action::PanUp) => self.wishes.pan.1 -= 1,
            Some(Action::PanDown) => self.wishes.pan.1 += 1,
            Some(Action::Repaint | Action::Help | Action::Suspend | Action::Leave) => {}
            None if self.takes_text() => {
                self.own.press(key);
            }
            None if key.typed().is_some() => {
                self.say("Here only the left or the right can be taken; Esc and Ctrl+O remain.");
            }
            None => {}
        }
        None
    }

    fn on_pane(&mut self, key: Key, asked: Option<Action>) -> Option<Effect> {
        let accepts = asked == Some(Action::Accept);
        match std::mem::take(&mut self.pane) {
            Pane::Disputes => {}
            Pane::Reason { .. } if asked == Some(Action::Step) => {}
            Pane::Reason {
                set_aside,
                mut words,
            } => {
                let reason = words.text().trim().to_owned();
                if accepts && !reason.is_empty() {
                    self.waits = true;
                    return Some(Effect::PutOff { reason, set_aside });
                }
                if accepts {
                    self.say("Write a reason, or press Esc.");
                }
                words.press(key);
                self.pane = Pane::Reason { set_aside, words };
            }
            Pane::Bulk(mut bulk) => {
                if asked == Some(Action::Step) {
                    // From a group back to the list, from the list back to the sheet.
                    if bulk.chosen.take().is_some() {
                        self.pane = Pane::Bulk(bulk);
                    }
                    return None;
                }
                if accepts {
                    return self.accept_bulk(bulk);
                }
                bulk.press(key);
                self.pane = Pane::Bulk(bulk);
            }
            Pane::Help(mut top) => {
                if crate::desk::clerk::moved(&mut top, super::key::BINDINGS.len(), key) {
                    self.pane = Pane::Help(top);
                }
            }
        }
        None
    }

    fn accept_bulk(&mut self, mut bulk: Bulk) -> Option<Effect> {
        if bulk.chosen.is_none() {
            bulk.chosen = Some(BulkChoice::default());
            self.pane = Pane::Bulk(bulk);
            return None;
        }
        let confirmed = bulk.confirmed().zip(bulk.group().cloned());
        let Some(((form, sheets), group)) = confirmed else {
            self.say("Choose the form that counts, with the left or the right arrow.");
            self.pane = Pane::Bulk(bulk);
            return None;
        };
        self.waits = true;
        Some(Effect::SettleGroup {
            group,
            form,
            sheets,
        })
    }

    fn ask_reason(&mut self, set_aside: bool, words: &str) {
        let words = Editor::new(words);
        self.pane = Pane::Reason { set_aside, words };
    }

    fn take_side(&mut self, side: Side) {
        let Some(compared) = self.in_hand() else {
            return;
        };
        let first = self.case.side_of_first(&compared.at);
        self.take(if side == first {
            Take::First
        } else {
            Take::Second
        });
    }

    fn take_value(&mut self, value: KeyedValue) {
        if self.takes_text() {
            self.take(Take::Value(value));
        } else {
            self.say("Here only the left or the right can be taken.");
        }
    }

    fn take(&mut self, take: Take) {
        if self.decided.is_empty() {
            return;
        }
        self.history.push((self.decided.clone(), self.at));
        self.decided[self.at] = Some(take);
        self.own = Editor::default();
        let count = self.decided.len();
        let open = (0..count)
            .map(|step| (self.at + step) % count)
            .find(|at| self.decided[*at].is_none());
        self.at = open.unwrap_or(self.at);
        self.wishes.pan = (0, 0);
    }

    fn step(&mut self, by: isize) {
        let count = self.decided.len().max(1) as isize;
        self.at = (self.at as isize + by).rem_euclid(count) as usize;
        self.own = Editor::default();
        self.wishes.pan = (0, 0);
    }

    fn undo(&mut self) -> Option<Effect> {
        if let Some((decided, at)) = self.history.pop() {
            (self.decided, self.at) = (decided, at);
            self.own = Editor::default();
            return None;
        }
        match self.done.last() {
            Some(done) => {
                self.waits = true;
                Some(Effect::Undo(done.clone()))
            }
            None => {
                self.say("There is nothing of this sitting left to undo.");
                None
            }
        }
    }

    fn accept(&mut self, now: i64, knowledge: &dyn Knowledge) -> Option<Effect> {
        if !self.own.is_empty() {
            let text = self.own.text().trim().to_owned();
            self.take(Take::Value(KeyedValue::Text(text)));
            return None;
        }
        match self.settlement(now, knowledge) {
            Ok(settlement) => {
                self.waits = true;
                Some(Effect::Settle(Box::new(settlement)))
            }
            Err(words) => {
                self.say(words);
                None
            }
        }
    }

    fn settlement(&self, now: i64, knowledge: &dyn Knowledge) -> Result<Settlement, String> {
        let disputes = self.case.disputes().into_iter().zip(&self.decided);
        let decisions: Vec<Decision> = disputes
            .filter_map(|(compared, take)| {
                let at = compared.at.clone();
                take.clone().map(|take| Decision { at, take })
            })
            .collect();
        let settlement = settle(&self.case, &decisions, knowledge)?;
        Ok(Settlement {
            saw_proposal: self.shows_proposal,
            saw_roster: self.shows_roster,
            keystrokes: self.keystrokes,
            milliseconds: self
                .drawn_at
                .map_or(0, |drawn| (now - drawn).max(0).unsigned_abs()),
            ..settlement
        })
    }
}
