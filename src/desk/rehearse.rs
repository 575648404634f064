//! An ideal clerk at the real desk: knows what is on every strip, makes no mistakes, and takes the cheapest keys.
//!
//! What it counts is the least that the desk asks of anybody, and which wrong values a clerk who trusts the faces would
//! let through: fields that are *sure* are not looked at. A capital counts as one key, as with the lock on.

use super::clerk::{
    Action, BINDINGS, Clerk, Code, DeskSheet, Editor, Effect, Key, Knowledge, Pane, Plan,
    Suggestion,
};
use crate::journal::{Act, KeyedRecord, KeyedValue};
use crate::proposal::Face;
use crate::value::{SheetId, SheetKind};
use std::collections::HashMap;
use unicode_segmentation::UnicodeSegmentation;

/// What is on one strip.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct KnownSheet {
    pub kind: SheetKind,
    /// Value by field; a field that is not on the strip is missing or empty.
    pub values: HashMap<String, String>,
}

/// What one sheet took, and what went wrong on it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rehearsed {
    pub sheet: SheetId,
    /// Keys pressed, and with Ctrl and Alt counted as keys.
    pub keystrokes: usize,
    pub keys: usize,
    /// Fields stopped at, and the sheet itself.
    pub looks: usize,
    /// Accepted values that are not what is on the strip: (field, accepted, on the strip, face of the proposal).
    pub wrong: Vec<(String, String, String, Face)>,
    /// Fields by the face that was proposed, sure, look, empty; and those of them of which the proposal was wrong.
    pub faces: [usize; 3],
    pub misproposed: [usize; 3],
    /// It came with nothing filled in.
    pub unfilled: bool,
    /// The sheet was not accepted: what stood in the way.
    pub stuck: Option<String>,
    /// What was keyed, for the sheet behind it.
    pub records: Vec<KeyedRecord>,
}

/// Keys that a sheet may take before the clerk gives up; what takes more is a fault of the desk.
const MOST_KEYS: usize = 2_000;

/// Keys one sheet.
pub fn rehearse(
    plan: &Plan,
    sheet: DeskSheet,
    known: &KnownSheet,
    knowledge: &dyn Knowledge,
) -> Rehearsed {
    let id = sheet.sheet.clone();
    let mut clerk = Ideal {
        desk: Clerk::new(plan.clone(), sheet, knowledge),
        known,
        knowledge,
        now: 1_000,
        done: Rehearsed {
            sheet: id,
            ..Rehearsed::default()
        },
        records: None,
    };
    clerk.desk.drawn(0);
    clerk.key();
    clerk.count();
    clerk.done
}

struct Ideal<'a> {
    desk: Clerk,
    known: &'a KnownSheet,
    knowledge: &'a dyn Knowledge,
    now: i64,
    done: Rehearsed,
    records: Option<Vec<KeyedRecord>>,
}

impl Ideal<'_> {
    fn press(&mut self, key: Key) {
        self.now += 500;
        self.done.keystrokes += 1;
        self.done.keys += 1 + usize::from(key.ctrl) + usize::from(key.alt);
        let effect = self.desk.press(key, self.now, self.knowledge);
        self.desk.settle(self.knowledge);
        if let Some(Effect::Append(Act::Keyed(keying))) = effect {
            self.records = Some(keying.records);
        }
    }

    fn act(&mut self, action: Action) {
        let bound = BINDINGS.iter().find(|(_, bound, _)| *bound == action);
        if let Some((key, ..)) = bound {
            self.press(*key);
        }
    }

    fn key(&mut self) {
        self.done.looks = 1;
        if self.known.kind != self.desk.kind() {
            self.choose_kind();
        }
        let mut before = None;
        while self.records.is_none() {
            if self.done.keystrokes > MOST_KEYS {
                self.done.stuck = self.desk.message().map(str::to_owned);
                return;
            }
            if self.desk.ready() || self.known.kind != SheetKind::Record {
                self.act(Action::Accept);
                continue;
            }
            if self.is_right_at_a_glance() {
                self.act(Action::AcceptFilled);
                continue;
            }
            let at = (self.desk.record(), self.desk.focus());
            // Coming back to a field means that Enter did not take it.
            let again = before == Some(at);
            if !again {
                self.done.looks += 1;
            }
            before = Some(at);
            self.field(again);
        }
    }

    /// Whether one key accepts all that is filled in, rightly, and saves another one by that. Each field costs a look.
    fn is_right_at_a_glance(&mut self) -> bool {
        let fields = self.desk.fields().iter();
        let (blank, filled): (Vec<_>, Vec<_>) = fields
            .filter(|field| field.needs_a_look())
            .partition(|field| field.is_blank());
        let is_right = filled.iter().all(|field| {
            let wanted = self.known.values.get(&field.plan.name);
            field.fault().is_none() && wanted.is_some_and(|w| is_same(&field.value(), w))
        });
        let saves_a_key = filled.len() > 1 || filled.len() == 1 && blank.is_empty();
        let is_worth_it = is_right && saves_a_key && self.desk.record().1 == 1;
        self.done.looks += if is_worth_it { filled.len() } else { 0 };
        is_worth_it
    }

    fn choose_kind(&mut self) {
        self.act(Action::Kind);
        let wanted = super::clerk::KINDS
            .iter()
            .position(|kind| *kind == self.known.kind);
        let at = super::clerk::KINDS
            .iter()
            .position(|kind| *kind == self.desk.kind());
        let (wanted, at) = (wanted.unwrap_or_default(), at.unwrap_or_default());
        let code = if wanted > at { Code::Down } else { Code::Up };
        for _ in 0..wanted.abs_diff(at) {
            self.press(Key::plain(code));
        }
        self.act(Action::Accept);
    }

    /// Makes the field in hand right and accepts it.
    fn field(&mut self, again: bool) {
        let Some(field) = self.desk.in_hand() else {
            return;
        };
        let wanted = self
            .known
            .values
            .get(&field.plan.name)
            .cloned()
            .unwrap_or_default();
        let is_right = is_same(&field.value(), &wanted);
        if again && is_right && field.fault().is_some() {
            // The strip itself breaks the rule.
            self.act(Action::Overrule);
            let offered = matches!(self.desk.pane(), Pane::Reasons(r) if !r.listed.is_empty());
            if offered {
                return self.press(Key::alt(Code::Char('1')));
            }
            for c in "as typed".chars() {
                self.press(Key::plain(Code::Char(c)));
            }
            return self.act(Action::Accept);
        }
        if wanted.is_empty() {
            let is_needed = field.plan.required || !field.is_blank();
            return self.act(if is_needed {
                Action::NothingOnStrip
            } else {
                Action::Accept
            });
        }
        if is_right {
            return self.act(Action::Accept);
        }
        let offered = self.desk.suggestions().into_iter().zip('1'..='9');
        let mut taken = offered.filter_map(|(suggestion, digit)| match suggestion {
            Suggestion::Value(value, _) | Suggestion::AsRoster(value) => {
                is_same(&value, &wanted).then_some(digit)
            }
            Suggestion::Linked(_) | Suggestion::Row(..) => None,
        });
        if let Some(digit) = taken.next() {
            return self.press(Key::alt(Code::Char(digit)));
        }
        if self.before_says(&wanted) {
            return self.act(Action::Ditto);
        }
        let stands = self.desk.in_hand().map(|field| field.editor.clone());
        for key in cheapest(&stands.unwrap_or_default(), &wanted) {
            self.press(key);
        }
        self.act(Action::Accept);
    }

    fn before_says(&self, wanted: &str) -> bool {
        let name = self.desk.in_hand().map(|field| field.plan.name.as_str());
        let record = self
            .desk
            .sheet()
            .before
            .as_ref()
            .and_then(|(_, records)| records.first());
        let mut fields = record.into_iter().flat_map(|record| &record.fields);
        fields.any(|field| {
            Some(field.field.as_str()) == name
                && matches!(&field.value, KeyedValue::Text(value) if value == wanted)
        })
    }

    fn count(&mut self) {
        let frozen = self.desk.sheet().proposal.as_ref();
        for proposed in frozen.iter().flat_map(|frozen| &frozen.proposal.fields) {
            let at = match proposed.face {
                Face::Sure => 0,
                Face::Look => 1,
                Face::Empty => 2,
            };
            self.done.faces[at] += 1;
            let wanted = self.known.values.get(&proposed.field);
            let wanted = wanted.map_or("", String::as_str);
            if !is_same(&proposed.as_typed, wanted) {
                self.done.misproposed[at] += 1;
            }
        }
        self.done.unfilled = !self.desk.shows_proposal();
        let Some(records) = self.records.take() else {
            return;
        };
        for field in records
            .first()
            .into_iter()
            .flat_map(|record| &record.fields)
        {
            let accepted = match &field.value {
                KeyedValue::Text(value) => value.clone(),
                _ => String::new(),
            };
            let wanted = self
                .known
                .values
                .get(&field.field)
                .cloned()
                .unwrap_or_default();
            if !is_same(&accepted, &wanted) {
                let face = field.proposed.as_ref().map_or(Face::Empty, |p| p.face);
                self.done
                    .wrong
                    .push((field.field.clone(), accepted, wanted, face));
            }
        }
        self.done.records = records;
    }
}

/// The fewest keys that make a text of what stands there, with the cursor at its end: written anew, or mended from either
/// end.
fn cheapest(stands: &Editor, wanted: &str) -> Vec<Key> {
    let from: Vec<&str> = stands.graphemes().iter().map(String::as_str).collect();
    let to: Vec<&str> = wanted.graphemes(true).collect();
    let shorter = from.len().min(to.len());
    let same =
        |pairs: &mut dyn Iterator<Item = (&&str, &&str)>| pairs.take_while(|(a, b)| a == b).count();
    let start = same(&mut from.iter().zip(&to));
    let end = same(&mut from.iter().rev().zip(to.iter().rev())).min(shorter - start);
    let (gone, new) = (from.len() - start - end, &to[start..to.len() - end]);
    let typed = |text: &[&str]| -> Vec<Key> {
        let characters = text.iter().flat_map(|text| text.chars());
        characters.map(|c| Key::plain(Code::Char(c))).collect()
    };
    let times = |code: Code, count: usize| vec![Key::plain(code); count];
    let is_bare = from.is_empty() || stands.is_marked();
    let anew = [
        if is_bare {
            vec![]
        } else {
            vec![Key::ctrl('u')]
        },
        typed(&to),
    ]
    .concat();
    // Without a move or a deletion the first letter would take the place of a marked text.
    let stay = if end + gone == 0 && is_bare { 1 } else { 0 };
    let from_end = [
        times(Code::End, stay),
        times(Code::Left, end),
        times(Code::Backspace, gone),
        typed(new),
    ]
    .concat();
    let from_start = [
        times(Code::Home, 1),
        times(Code::Right, start),
        times(Code::Delete, gone),
        typed(new),
    ]
    .concat();
    let ways = [from_end, from_start, anew].into_iter();
    ways.min_by_key(Vec::len).unwrap_or_default()
}

fn is_same(a: &str, b: &str) -> bool {
    a.trim().to_uppercase() == b.trim().to_uppercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_mended_with_the_fewest_keys() {
        for (stands, is_marked, wanted, keys) in [
            ("", false, "AB", 2),
            ("QUAYIE", true, "QUAYLE", 3),
            ("QUAYLE", true, "QUAYLES", 2),
            ("QUAYLE", false, "QUAYLES", 1),
            ("XUAYLE", true, "QUAYLE", 3),
            ("HARGREAVES", true, "ORME", 4),
            ("HARGREAVES", false, "ORME", 5),
            ("QUAYLE", true, "QUAY", 2),
            ("AA", true, "A", 1),
        ] {
            let mut editor = if is_marked {
                Editor::marked(stands)
            } else {
                Editor::new(stands)
            };
            let pressed = cheapest(&editor, wanted);
            assert_eq!(pressed.len(), keys, "{stands} {wanted}: {pressed:?}");
            for key in pressed {
                editor.press(key);
            }
            assert_eq!(editor.text(), wanted);
        }
    }
}
