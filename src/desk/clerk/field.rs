//! One field in hand.

use super::editor::Editor;
use super::places::{Place, places};
use super::sheet::{FieldPlace, Knowledge, PlannedField};
use crate::journal::{KeyedField, KeyedSource, KeyedValue, ProposedValue, UNREADABLE};
use crate::proposal::{Face, ProposedField};
use crate::value::{Bounds, Probability};

/// A field of one record as it stands on the desk.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    pub plan: PlannedField,
    pub editor: Editor,
    /// The person said so instead of a value.
    pub mark: Option<Mark>,
    pub source: KeyedSource,
    /// The proposal's word, whether it is shown or not.
    pub proposed: Option<ProposedValue>,
    /// Other values of the proposal, best first.
    pub alternatives: Vec<(String, Probability)>,
    /// Why it is proposed, in words.
    pub reasons: Vec<String>,
    /// What the linked row of the roster says.
    pub as_roster: Option<String>,
    /// The person has accepted it as it stands.
    pub accepted: bool,
    /// What speaks against the value.
    pub objection: Option<String>,
    /// What speaks against it beside the record's other values.
    pub contradiction: Option<String>,
    /// Why it is kept all the same.
    pub overruled: Option<String>,
    pub place: FieldPlace,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    NothingOnStrip,
    CannotBeRead,
}

impl Field {
    /// With the proposed value filled in where it may be seen.
    pub fn new(
        plan: &PlannedField,
        proposed: Option<&ProposedField>,
        place: FieldPlace,
        is_shown: bool,
    ) -> Self {
        let value = proposed.filter(|_| is_shown).map(|p| p.as_typed.as_str());
        let stands_there = !place.characters.is_empty() && !place.is_ditto;
        Self {
            plan: plan.clone(),
            editor: Editor::marked(value.unwrap_or_default()),
            mark: None,
            source: match value {
                Some(value) if !value.is_empty() && stands_there => KeyedSource::Proposal,
                Some(value) if !value.is_empty() => KeyedSource::Carried,
                _ => KeyedSource::Typed,
            },
            proposed: proposed.map(|p| ProposedValue {
                value: p.as_typed.clone(),
                probability: p.probability,
                face: p.face,
            }),
            alternatives: proposed.map_or_else(Vec::new, |p| p.alternatives.clone()),
            reasons: proposed.map_or_else(Vec::new, |p| {
                p.reasons
                    .iter()
                    .map(|because| because.words.clone())
                    .collect()
            }),
            as_roster: proposed
                .filter(|_| is_shown)
                .and_then(|p| p.as_roster.clone()),
            accepted: false,
            objection: None,
            contradiction: None,
            overruled: None,
            place,
        }
    }

    pub fn value(&self) -> String {
        self.editor.text()
    }

    pub fn is_blank(&self) -> bool {
        self.mark.is_none() && self.value().trim().is_empty()
    }

    /// Whether the proposed value stands there untouched.
    pub fn is_as_proposed(&self) -> bool {
        matches!(self.source, KeyedSource::Proposal | KeyedSource::Carried)
    }

    /// How much of a look it needs as it stands: the proposal's face while its value stands untouched.
    pub fn face(&self) -> Face {
        match &self.proposed {
            _ if self.is_blank() => Face::Empty,
            Some(proposed) if self.is_as_proposed() => proposed.face,
            _ => Face::Look,
        }
    }

    /// What speaks against it and nobody has overruled.
    pub fn fault(&self) -> Option<&str> {
        let fault = self.objection.as_ref().or(self.contradiction.as_ref());
        fault
            .filter(|_| self.overruled.is_none())
            .map(String::as_str)
    }

    /// Whether the clerk has to come by before the sheet can be accepted.
    pub fn needs_a_look(&self) -> bool {
        self.fault().is_some() || !(self.accepted || self.face() == Face::Sure)
    }

    /// Puts another value in.
    pub fn set(&mut self, value: &str, source: KeyedSource, knowledge: &dyn Knowledge) {
        self.editor = Editor::marked(value);
        self.source = source;
        self.edited(knowledge);
    }

    /// Judges what stands there now; an earlier acceptance was of another value.
    pub fn edited(&mut self, knowledge: &dyn Knowledge) {
        self.mark = None;
        self.accepted = false;
        self.overruled = None;
        self.judge(knowledge);
    }

    pub fn judge(&mut self, knowledge: &dyn Knowledge) {
        let value = self.value();
        // What cannot be read cannot be checked either.
        let judged = self.mark.is_none() && !value.contains(UNREADABLE);
        self.objection = judged
            .then(|| knowledge.objection(&self.plan.name, &value))
            .flatten();
    }

    /// Marks it as not there or not readable; the value is kept for an undoing only.
    pub fn set_mark(&mut self, mark: Mark) {
        self.editor = Editor::default();
        self.mark = Some(mark);
        self.source = KeyedSource::Typed;
        self.accepted = true;
        self.objection = None;
        self.contradiction = None;
        self.overruled = None;
    }

    /// Whether the roster says something else than the strip.
    pub fn differs(&self) -> bool {
        let differs = |row: &String| !row.eq_ignore_ascii_case(self.value().trim());
        self.mark.is_none() && self.as_roster.as_ref().is_some_and(differs)
    }

    /// For each of its characters where it was read and whether it is doubtful; nothing once somebody typed it.
    pub fn places(&self) -> Vec<Place> {
        if self.source != KeyedSource::Proposal {
            return Vec::new();
        }
        places(self.editor.graphemes(), &self.place.characters)
    }

    /// Puts the cursor before the next character that is doubtful, from the start on again; `false` where none is.
    pub fn go_to_doubtful(&mut self) -> bool {
        let places = self.places();
        let doubtful = |at: &usize| places[*at].is_doubtful;
        let from = match self.editor.is_marked() {
            true => 0,
            false => self.editor.cursor() + 1,
        };
        let behind = (from..places.len()).find(doubtful);
        let Some(at) = behind.or_else(|| (0..places.len()).find(doubtful)) else {
            return false;
        };
        self.editor.go_to(at);
        true
    }

    /// Where the character under the cursor was read; none while the whole value is marked, or where nothing was.
    pub fn cursor_bounds(&self) -> Option<Bounds> {
        let at = self.editor.cursor();
        if self.editor.is_marked() {
            return None;
        }
        let places = self.places();
        places.get(at).or(places.last())?.bounds
    }

    /// Where it stands on the strip; none where no rule found it.
    pub fn bounds(&self) -> Option<Bounds> {
        self.place.bounds()
    }

    pub fn keyed(&self) -> KeyedField {
        KeyedField {
            field: self.plan.name.clone(),
            value: match self.mark {
                Some(Mark::CannotBeRead) => KeyedValue::CannotBeRead,
                Some(Mark::NothingOnStrip) => KeyedValue::NothingOnStrip,
                None if self.is_blank() => KeyedValue::NothingOnStrip,
                None => KeyedValue::Text(self.value().trim().to_owned()),
            },
            as_roster: self.as_roster.clone(),
            source: self.source,
            proposed: self.proposed.clone(),
            overruled: self.overruled.clone().filter(|_| {
                let is_disputed = self.objection.is_some() || self.contradiction.is_some();
                is_disputed && self.mark.is_none()
            }),
        }
    }

    /// Takes up what was keyed before.
    pub fn take_up(&mut self, keyed: &KeyedField) {
        self.as_roster.clone_from(&keyed.as_roster);
        match &keyed.value {
            KeyedValue::Text(value) => {
                self.editor = Editor::new(value);
                self.mark = None;
                self.source = keyed.source;
            }
            KeyedValue::NothingOnStrip => self.set_mark(Mark::NothingOnStrip),
            KeyedValue::CannotBeRead => self.set_mark(Mark::CannotBeRead),
        }
        self.overruled.clone_from(&keyed.overruled);
        self.accepted = true;
    }

    /// Where its value came from, in a word.
    pub fn source_word(&self) -> &'static str {
        match (self.mark, self.source) {
            (Some(Mark::NothingOnStrip), _) => "nothing on the strip",
            (Some(Mark::CannotBeRead), _) => "cannot be read",
            _ if self.is_blank() => "",
            (_, KeyedSource::Proposal) => "read",
            (_, KeyedSource::Alternative) => "suggested",
            (_, KeyedSource::Typed) => "typed",
            (_, KeyedSource::Roster) => "roster",
            (_, KeyedSource::Ditto) => "sheet before",
            (_, KeyedSource::Carried) => "not on the strip",
        }
    }
}
