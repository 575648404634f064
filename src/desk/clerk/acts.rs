//! What the actions do to the fields and the sheet.

use super::desk::{Clerk, Done, Effect, PictureWishes, Snapshot};
use super::editor::Editor;
use super::field::{Field, Mark};
use super::pane::{Pane, Purpose, Reasons, RosterSearch};
use super::sheet::{DeskSheet, Knowledge};
use crate::journal::{Act, KeyedRecord, KeyedSource, KeyedValue, Keying, Seen};
use crate::value::SheetKind;

/// Rows that a roster search shows.
pub(super) const MOST_ROWS: usize = 9;

impl Clerk {
    pub(super) fn change_text(
        &mut self,
        knowledge: &dyn Knowledge,
        change: impl FnOnce(&mut Editor) -> bool,
    ) {
        let at = (self.record, self.focus);
        let Some(field) = self.records[at.0].get(at.1) else {
            return;
        };
        let mut editor = field.editor.clone();
        if !change(&mut editor) {
            return;
        }
        let has_changed = editor.text() != field.editor.text() || field.mark.is_some();
        if has_changed {
            self.remember(Some(at));
        }
        let field = &mut self.records[at.0][at.1];
        field.editor = editor;
        if has_changed {
            field.source = KeyedSource::Typed;
            field.edited(knowledge);
            self.relink(knowledge);
        }
    }

    /// Another value may mean another row of the roster, or none: the old one would go into the index unseen. A row
    /// that the person chose stays; where nothing may be seen but the picture, none is looked up.
    pub(super) fn relink(&mut self, knowledge: &dyn Knowledge) {
        let held = self
            .in_hand()
            .is_some_and(|f| knowledge.holds(&f.plan.name));
        if !held || self.picked[self.record] || !self.shows_proposal() {
            return;
        }
        let fields = self.fields().iter().filter(|field| !field.is_blank());
        let fields = fields.filter(|field| field.mark.is_none());
        let values: Vec<(&str, String)> = fields
            .map(|field| (field.plan.name.as_str(), field.value()))
            .collect();
        let row = knowledge.likeliest(&values);
        for field in &mut self.records[self.record] {
            let says = row.as_ref().and_then(|row| row.says(&field.plan.name));
            field.as_roster = says.map(str::to_owned);
        }
        self.rows[self.record] = row;
    }

    fn snapshot(&self, typing_in: Option<(usize, usize)>) -> Snapshot {
        Snapshot {
            records: self.records.clone(),
            rows: self.rows.clone(),
            picked: self.picked.clone(),
            record: self.record,
            focus: self.focus,
            kind: self.kind,
            typing_in,
        }
    }

    fn go_back_to(&mut self, snapshot: Snapshot) {
        self.records = snapshot.records;
        self.rows = snapshot.rows;
        self.picked = snapshot.picked;
        self.record = snapshot.record;
        self.focus = snapshot.focus;
        self.kind = snapshot.kind;
    }

    /// Keeps what was begun on the sheet in hand and is not written yet.
    pub(super) fn keep_work(&mut self) {
        if !self.history.is_empty() {
            let work = (self.sheet.content_hash.clone(), self.snapshot(None));
            self.left.insert(self.sheet.sheet.clone(), work);
        }
    }

    /// Goes on with what was begun on the sheet in hand, unless its image is another one now. Undo gives it up.
    pub(super) fn take_up_work(&mut self) {
        let Some((hash, work)) = self.left.remove(&self.sheet.sheet) else {
            return;
        };
        if hash == self.sheet.content_hash {
            self.remember(None);
            self.go_back_to(work);
            self.say("Here is what you had begun; Alt+U gives it up.");
        }
    }

    pub(super) fn mark(&mut self, mark: Mark) {
        self.remember(None);
        if let Some(field) = self.in_hand_mut() {
            field.set_mark(mark);
        }
        self.go_to_next_open_field();
    }

    fn in_hand_mut(&mut self) -> Option<&mut Field> {
        self.records[self.record].get_mut(self.focus)
    }

    /// Takes a picture of the fields for an undo; typing on in the same field needs no second one.
    pub(super) fn remember(&mut self, typing_in: Option<(usize, usize)>) {
        let goes_on = |last: &Snapshot| typing_in.is_some() && last.typing_in == typing_in;
        if self.history.last().is_some_and(goes_on) {
            return;
        }
        let snapshot = self.snapshot(typing_in);
        self.history.push(snapshot);
    }

    pub(super) fn undo(&mut self) -> Option<Effect> {
        if let Some(before) = self.history.pop() {
            self.go_back_to(before);
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

    /// The undoing of the last sheet was written; its sheet comes next.
    pub fn undone(&mut self) -> Option<Done> {
        self.waits = false;
        self.done.pop()
    }

    pub(super) fn append(&mut self, act: Act) -> Effect {
        self.waits = true;
        Effect::Append(act)
    }

    pub(super) fn ask_reason(&mut self, purpose: Purpose) {
        let (listed, at) = match purpose {
            Purpose::Hold => (self.plan.hold_reasons.clone(), self.last_reasons[0]),
            Purpose::SetAside => (self.plan.set_aside_reasons.clone(), self.last_reasons[1]),
            Purpose::Overrule => (Vec::new(), 0),
        };
        self.pane = Pane::Reasons(Reasons {
            purpose,
            listed,
            at,
            other: Editor::default(),
        });
    }

    pub(super) fn ask_to_overrule(&mut self) {
        let is_disputed = self.in_hand().is_some_and(|f| f.objection.is_some());
        match (is_disputed, self.plan.may_overrule) {
            (false, _) => self.say("Nothing speaks against this value."),
            (true, false) => {
                self.say("This job lets no value stand against a check; key it as it is, or put the sheet off.");
            }
            (true, true) => self.ask_reason(Purpose::Overrule),
        }
    }

    pub(super) fn with_reason(&mut self, reasons: Reasons) -> Option<Effect> {
        let Some(reason) = reasons.reason() else {
            self.say("Write a reason, or press Esc.");
            self.pane = Pane::Reasons(reasons);
            return None;
        };
        let act = match reasons.purpose {
            Purpose::Hold => {
                self.last_reasons[0] = reasons.at;
                Act::Held { reason }
            }
            Purpose::SetAside => {
                self.last_reasons[1] = reasons.at;
                Act::SetAside { reason }
            }
            Purpose::Overrule => {
                self.remember(None);
                if let Some(field) = self.in_hand_mut() {
                    field.overruled = Some(reason);
                    field.accepted = true;
                }
                self.go_to_next_open_field();
                return None;
            }
        };
        Some(self.append(act))
    }

    pub(super) fn accept(&mut self, now: i64) -> Option<Effect> {
        if self.ready() {
            let keying = self.keying(now);
            return Some(self.append(Act::Keyed(keying)));
        }
        let may_overrule = self.plan.may_overrule;
        let needs_values = self.kind == SheetKind::Record;
        let field = self.in_hand_mut()?;
        let name = field.plan.name.clone();
        if let Some(objection) = field
            .objection
            .clone()
            .filter(|_| field.overruled.is_none())
        {
            let remedy = match may_overrule {
                true => "mend it, or keep it with Alt+O",
                false => "mend it, or put the sheet off with Ctrl+O",
            };
            self.say(format!("{name}: {objection}; {remedy}."));
            return None;
        }
        if field.is_blank() && field.plan.required && needs_values {
            self.say(format!(
                "{name} is needed: key it, or Alt+0 for nothing on the strip, Alt+X if it cannot be read."
            ));
            return None;
        }
        if field.is_blank() {
            field.set_mark(Mark::NothingOnStrip);
        }
        field.accepted = true;
        self.go_to_next_open_field();
        None
    }

    fn keying(&self, now: i64) -> Keying {
        let records = match self.kind {
            SheetKind::Record | SheetKind::Divider => self.keyed_records(),
            _ => Vec::new(),
        };
        let frozen = self.sheet.proposal.as_ref();
        Keying {
            kind: self.kind,
            records,
            seen: Seen {
                proposal: self.shows_proposal(),
                suggestions: self.has_seen_suggestions,
                proposal_key: frozen.map(|frozen| frozen.key.clone()),
                content_hash: self.sheet.content_hash.clone(),
                unfilled: self.sheet.unfilled,
            },
            keystrokes: self.keystrokes,
            milliseconds: self
                .drawn_at
                .map_or(0, |drawn| (now - drawn).max(0).unsigned_abs()),
            ..Keying::default()
        }
    }

    pub(super) fn keyed_records(&self) -> Vec<KeyedRecord> {
        let records = self.records.iter().zip(&self.rows);
        records
            .map(|(fields, row)| KeyedRecord {
                fields: fields.iter().map(Field::keyed).collect(),
                roster_key: row.as_ref().map(|row| row.key.clone()),
            })
            .collect()
    }

    /// Accepts all that is filled in and undisputed, of all records; the sheet itself takes an Enter of its own.
    pub(super) fn accept_filled(&mut self) {
        self.remember(None);
        for field in self.records.iter_mut().flatten() {
            field.accepted |= !field.is_blank() && field.objection.is_none();
        }
        self.go_to_next_open_field();
    }

    pub(super) fn ditto(&mut self, knowledge: &dyn Knowledge) {
        let Some(name) = self.in_hand().map(|field| field.plan.name.clone()) else {
            return;
        };
        let Some((sheet, records)) = &self.sheet.before else {
            self.say("Nothing was keyed on the sheet before.");
            return;
        };
        let fields = records
            .first()
            .into_iter()
            .flat_map(|record| &record.fields);
        let value = fields
            .filter(|field| field.field == name)
            .find_map(|field| match &field.value {
                KeyedValue::Text(value) => Some(value.clone()),
                _ => None,
            });
        let sheet = sheet.clone();
        let Some(value) = value else {
            self.say(format!("{sheet} has no {name}."));
            return;
        };
        self.remember(None);
        if let Some(field) = self.in_hand_mut() {
            field.set(&value, KeyedSource::Ditto, knowledge);
            field.accepted = true;
        }
        self.relink(knowledge);
        self.say(format!("{name} as on {sheet}."));
        self.go_to_next_open_field();
    }

    pub(super) fn open_roster(&mut self, knowledge: &dyn Knowledge) {
        self.has_seen_suggestions = true;
        let words = self.in_hand().map(Field::value).unwrap_or_default();
        let rows = knowledge.search(&words, MOST_ROWS);
        self.pane = Pane::Roster(RosterSearch {
            words: Editor::new(&words),
            rows,
            at: 0,
        });
    }

    pub(super) fn add_record(&mut self) {
        self.remember(None);
        let empty = DeskSheet {
            sheet: self.sheet.sheet.clone(),
            ..DeskSheet::default()
        };
        self.records
            .push(self.fields_of(&empty, self.records.len()));
        self.rows.push(None);
        self.picked.push(false);
        self.record = self.records.len() - 1;
        self.focus = 0;
    }

    pub(super) fn next_record(&mut self) {
        self.record = (self.record + 1) % self.records.len();
        self.focus = 0;
    }

    /// An empty record that was added is given up; nothing that holds a value ever is.
    pub(super) fn step_back(&mut self) {
        let is_empty = self.records[self.record].iter().all(Field::is_blank);
        if self.record > 0 && is_empty {
            self.remember(None);
            self.records.remove(self.record);
            self.rows.remove(self.record);
            self.picked.remove(self.record);
            self.record -= 1;
        }
        self.wishes = PictureWishes::default();
    }
}
