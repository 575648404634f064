//! What the actions do to the fields and the sheet.

use super::desk::{Clerk, Done, Effect, PictureWishes, Snapshot};
use super::editor::Editor;
use super::field::{Field, Mark};
use super::pane::{Pane, Purpose, Reasons, RosterSearch};
use super::sheet::{DeskSheet, Knowledge, LikelyRows};
use super::work::{Question, Record, Wanted};
use crate::journal::{Act, KeyedSource, KeyedValue, Keying, Seen};
use crate::value::SheetKind;

impl Clerk {
    pub(super) fn change_text(
        &mut self,
        knowledge: &dyn Knowledge,
        change: impl FnOnce(&mut Editor) -> bool,
    ) {
        let at = (self.work.record, self.work.focus);
        let Some(field) = self.work.in_hand() else {
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
        let Some(field) = self.work.in_hand_mut() else {
            return;
        };
        field.editor = editor;
        if has_changed {
            field.source = KeyedSource::Typed;
            field.edited(knowledge);
            self.changed(knowledge);
        }
    }

    /// The field in hand has another value: the record is held against its other fields, and the roster has to be
    /// asked anew. Where nothing may be seen but the picture, it is not asked.
    pub(super) fn changed(&mut self, knowledge: &dyn Knowledge) {
        let is_held = self
            .in_hand()
            .is_some_and(|field| knowledge.holds(&field.plan.name));
        let shows_proposal = self.shows_proposal();
        let record = self.work.in_record_mut();
        record.compare(knowledge);
        if is_held && shows_proposal {
            record.wanted = Some(Wanted::Row);
        }
    }

    /// What has to be asked of the roster, if anything.
    pub fn question(&self) -> Option<Question> {
        let mut records = self.work.records.iter().enumerate();
        let (at, record) = records.find(|(_, record)| record.wanted.is_some())?;
        let values = record.values().into_iter();
        Some(Question {
            sheet: self.sheet.sheet.clone(),
            record: at,
            values: values.map(|(f, value)| (f.to_owned(), value)).collect(),
        })
    }

    /// Takes the roster's answer, unless the values are others by now.
    pub fn answer(&mut self, question: &Question, rows: LikelyRows) {
        if self.question().as_ref() == Some(question) {
            self.work.records[question.record].take_rows(rows);
        }
    }

    /// Asks the roster at once for what is still open.
    pub fn settle(&mut self, knowledge: &dyn Knowledge) {
        while let Some(question) = self.question() {
            self.answer(&question, question.ask(knowledge));
        }
    }

    /// Keeps what was begun on the sheet in hand and is not written yet.
    pub(super) fn keep_work(&mut self) {
        if !self.history.is_empty() {
            let work = (self.sheet.content_hash.clone(), self.work.clone());
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
            self.work = work;
            self.say("Here is what you had begun; Alt+U gives it up.");
        }
    }

    pub(super) fn mark(&mut self, mark: Mark, knowledge: &dyn Knowledge) {
        self.remember(None);
        if let Some(field) = self.work.in_hand_mut() {
            field.set_mark(mark);
        }
        self.changed(knowledge);
        self.go_to_next_open_field();
    }

    /// Takes a picture of the fields for an undo; typing on in the same field needs no second one.
    pub(super) fn remember(&mut self, typing_in: Option<(usize, usize)>) {
        let goes_on = |last: &Snapshot| typing_in.is_some() && last.typing_in == typing_in;
        if self.history.last().is_some_and(goes_on) {
            return;
        }
        self.history.push(Snapshot {
            work: self.work.clone(),
            typing_in,
        });
    }

    pub(super) fn undo(&mut self) -> Option<Effect> {
        if let Some(before) = self.history.pop() {
            self.work = before.work;
            return None;
        }
        match self.done.last() {
            Some(done) => {
                self.waits = true;
                Some(Effect::Undo(done.clone()))
            }
            None => {
                self.say("There is nothing of yours left to undo.");
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
            Purpose::Overrule => (self.plan.overrule_reasons.clone(), 0),
        };
        self.pane = Pane::Reasons(Reasons {
            purpose,
            listed,
            at,
            other: Editor::default(),
        });
    }

    pub(super) fn ask_to_overrule(&mut self) {
        let is_disputed = self.in_hand().is_some_and(|f| f.fault().is_some());
        match (is_disputed, self.plan.may_overrule) {
            (false, _) => self.say("Nothing speaks against this value."),
            (true, false) => {
                self.say("This job lets no value stand against a check; key it as it is, or put the sheet off.");
            }
            (true, true) => self.ask_reason(Purpose::Overrule),
        }
    }

    pub(super) fn with_reason(
        &mut self,
        reasons: Reasons,
        knowledge: &dyn Knowledge,
    ) -> Option<Effect> {
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
                if let Some(field) = self.work.in_hand_mut() {
                    field.overruled = Some(reason);
                    field.accepted = true;
                }
                self.changed(knowledge);
                self.go_to_next_open_field();
                return None;
            }
        };
        Some(self.append(act))
    }

    pub(super) fn accept(&mut self, now: i64, knowledge: &dyn Knowledge) -> Option<Effect> {
        if self.ready() {
            // The row goes into the index with the values that it belongs to.
            self.settle(knowledge);
            let keying = self.keying(now);
            return Some(self.append(Act::Keyed(keying)));
        }
        let may_overrule = self.plan.may_overrule;
        let needs_values = self.work.kind == SheetKind::Record;
        let field = self.work.in_hand_mut()?;
        let name = field.plan.name.clone();
        if let Some(fault) = field.fault() {
            let remedy = match may_overrule {
                true => "mend it, or keep it with Alt+O",
                false => "mend it, or put the sheet off with Ctrl+O",
            };
            let words = format!("{name}: {fault}; {remedy}.");
            self.say(words);
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
        let frozen = self.sheet.proposal.as_ref();
        let taken = self.drawn_at.map_or(0, |drawn| now - drawn);
        Keying {
            kind: self.work.kind,
            records: self.work.keyed(),
            seen: Seen {
                proposal: self.shows_proposal(),
                suggestions: self.has_seen_suggestions,
                proposal_key: frozen.map(|frozen| frozen.key.clone()),
                content_hash: self.sheet.content_hash.clone(),
                unfilled: self.sheet.unfilled,
            },
            keystrokes: self.keystrokes,
            milliseconds: taken.max(0).unsigned_abs(),
            ..Keying::default()
        }
    }

    /// Accepts all that is filled in and undisputed, of all records; where that leaves nothing to look at, the sheet too.
    pub(super) fn accept_filled(&mut self, now: i64, knowledge: &dyn Knowledge) -> Option<Effect> {
        self.remember(None);
        let records = self.work.records.iter_mut();
        for field in records.flat_map(|record| &mut record.fields) {
            field.accepted |= !field.is_blank() && field.fault().is_none();
        }
        if self.ready() {
            return self.accept(now, knowledge);
        }
        self.go_to_next_open_field();
        None
    }

    /// What ditto refers to: the record before on this sheet, or else the first one of the sheet before; with its name.
    fn before(&self) -> Result<(String, Vec<(String, String)>), String> {
        if let Some(at) = self.work.record.checked_sub(1) {
            let fields = self.work.records[at].fields.iter();
            let fields = fields.filter(|field| field.mark.is_none() && !field.is_blank());
            let values = fields.map(|field| (field.plan.name.clone(), field.value()));
            return Ok((format!("record {}", at + 1), values.collect()));
        }
        let Some((sheet, records)) = &self.sheet.before else {
            return Err("Nothing was keyed on the sheet before.".to_owned());
        };
        let fields = records.first().into_iter().flat_map(|r| &r.fields);
        let values = fields.filter_map(|field| match &field.value {
            KeyedValue::Text(value) => Some((field.field.clone(), value.clone())),
            _ => None,
        });
        Ok((sheet.to_string(), values.collect()))
    }

    pub(super) fn ditto(&mut self, knowledge: &dyn Knowledge) {
        let focus = self.work.focus;
        self.take_before(knowledge, |at, _| at == focus);
    }

    pub(super) fn ditto_all(&mut self, knowledge: &dyn Knowledge) {
        self.take_before(knowledge, |_, field| field.needs_a_look());
    }

    /// Fills the fields of the record in hand that are wanted and that the one before has.
    fn take_before(
        &mut self,
        knowledge: &dyn Knowledge,
        is_wanted: impl Fn(usize, &Field) -> bool,
    ) {
        let (from, values) = match self.before() {
            Ok(before) => before,
            Err(words) => return self.say(words),
        };
        let fields = self.fields().iter().enumerate();
        let wanted: Vec<(usize, &str)> = fields
            .filter(|(at, field)| is_wanted(*at, field))
            .map(|(at, field)| (at, field.plan.name.as_str()))
            .collect();
        let value = |name: &str| values.iter().find(|(known, _)| known == name);
        let taken: Vec<(usize, &str, &str)> = wanted
            .iter()
            .filter_map(|(at, name)| Some((*at, *name, value(name)?.1.as_str())))
            .collect();
        let names = |names: Vec<&str>| names.join(", ");
        if taken.is_empty() {
            let lacking = names(wanted.iter().map(|(_, name)| *name).collect());
            return self.say(format!("{from} has no {lacking}."));
        }
        let words = names(taken.iter().map(|(_, name, _)| *name).collect());
        let taken: Vec<(usize, String)> = taken
            .into_iter()
            .map(|(at, _, value)| (at, value.to_owned()))
            .collect();
        self.remember(None);
        for (at, value) in taken {
            self.work.focus = at;
            if let Some(field) = self.work.in_hand_mut() {
                field.set(&value, KeyedSource::Ditto, knowledge);
                field.accepted = true;
            }
            self.changed(knowledge);
        }
        self.say(format!("{words} as on {from}."));
        self.go_to_next_open_field();
    }

    pub(super) fn open_roster(&mut self, knowledge: &dyn Knowledge) {
        self.has_seen_suggestions = true;
        let words = self.in_hand().map(Field::value).unwrap_or_default();
        let mut search = RosterSearch {
            words: Editor::marked(&words),
            ..RosterSearch::default()
        };
        search.look(knowledge);
        self.pane = Pane::Roster(search);
    }

    pub(super) fn add_record(&mut self) {
        self.remember(None);
        let unread = DeskSheet::default();
        let at = self.work.records.len();
        self.work.records.push(Record::new(&self.plan, &unread, at));
        (self.work.record, self.work.focus) = (at, 0);
    }

    pub(super) fn next_record(&mut self) {
        self.work.record = (self.work.record + 1) % self.work.records.len();
        self.work.focus = 0;
    }

    /// Takes the record in hand off the sheet; undo brings it back.
    pub(super) fn drop_record(&mut self) {
        if self.work.records.len() == 1 {
            self.say("A sheet has one record at least; Ctrl+K says that it is no record at all.");
            return;
        }
        self.remember(None);
        let at = self.work.record;
        self.work.records.remove(at);
        self.work.record = at.saturating_sub(1);
        self.work.focus = 0;
        self.say(format!(
            "Record {} is off the sheet; Alt+U brings it back.",
            at + 1
        ));
    }

    /// One step back: from a record that was added and holds nothing, from another look at the picture.
    pub(super) fn step_back(&mut self) {
        if self.work.record > 0 && self.work.in_record().is_blank() {
            self.drop_record();
            self.message = None;
        }
        self.wishes = PictureWishes {
            whole: self.sheet.has_no_strip,
            ..PictureWishes::default()
        };
    }

    pub(super) fn go_to_doubtful(&mut self) {
        let found = self.work.in_hand_mut().is_some_and(Field::go_to_doubtful);
        if !found {
            self.say("No character of this field is doubtful.");
        }
    }

    pub(super) fn read_again(&mut self) -> Option<Effect> {
        if self.sheet.has_no_strip {
            self.say("There is no strip to read again; key what you see, or set the sheet aside.");
            return None;
        }
        if self.wishes.reversal == Default::default() {
            self.say("It was read as it stands; turn (Alt+T), mirror (Alt+M) or invert (Alt+I) it first.");
            return None;
        }
        self.say("The sheet is being read again; go on meanwhile, or wait.");
        Some(Effect::ReadAgain(self.wishes.reversal))
    }
}
