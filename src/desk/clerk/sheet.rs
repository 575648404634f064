//! What the desk is given: the job's fields, one sheet, and whom to ask about values.

use crate::journal::{KeyedRecord, Keying, PassState};
use crate::proposal::Proposal;
use crate::reading::Reading;
use crate::value::{Bounds, Finding, Probability, SheetId};

/// What holds for all sheets of a job.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    pub fields: Vec<PlannedField>,
    pub hold_reasons: Vec<String>,
    pub set_aside_reasons: Vec<String>,
    /// Values may be kept against a check, with a reason: one of these, or another.
    pub may_overrule: bool,
    pub overrule_reasons: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PlannedField {
    pub name: String,
    pub required: bool,
}

/// One sheet as it comes to the desk. Its proposal stays as it is while the sheet is in hand.
#[derive(Debug, Clone, Default)]
pub struct DeskSheet {
    pub sheet: SheetId,
    /// Its place in the drawer, from 1, and how many sheets there are.
    pub place: usize,
    pub of: usize,
    pub pass: u8,
    pub state: PassState,
    pub content_hash: String,
    /// No strip was found on it.
    pub has_no_strip: bool,
    pub reading: Reading,
    pub findings: Vec<Finding>,
    pub proposal: Option<FrozenProposal>,
    /// What the pass lets the clerk see of it: filled in with suggestions, or the picture alone.
    pub sees_proposal: bool,
    /// It belongs to the random share that comes with nothing filled in.
    pub unfilled: bool,
    /// The sheet before it in the drawer, and what was keyed there.
    pub before: Option<(SheetId, Vec<KeyedRecord>)>,
    /// What was keyed when the sheet was last in hand, after an undoing.
    pub again: Option<Keying>,
}

impl DeskSheet {
    /// The proposal, where this pass shows it for this sheet.
    pub fn shown_proposal(&self) -> Option<&FrozenProposal> {
        let frozen = self.proposal.as_ref();
        frozen.filter(|_| self.sees_proposal && !self.unfilled)
    }
}

#[derive(Debug, Clone, Default)]
pub struct FrozenProposal {
    pub key: String,
    pub proposal: Proposal,
    pub places: Vec<FieldPlace>,
}

/// Where a rule took a field from.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FieldPlace {
    pub field: String,
    pub record: usize,
    /// The characters there as read, each with its box on the strip and how probable it is; none where the value does
    /// not stand on the strip.
    pub characters: Vec<(String, Bounds, f64)>,
    /// What stands there is a ditto mark.
    pub is_ditto: bool,
}

impl FieldPlace {
    /// Where it stands on the strip; none where no rule found it.
    pub fn bounds(&self) -> Option<Bounds> {
        let boxes = self.characters.iter().map(|(_, bounds, _)| *bounds);
        boxes.reduce(|a, b| a.union(&b))
    }
}

/// A row of the client's roster.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RosterRow {
    pub key: String,
    /// The fields that the roster holds and what it says there.
    pub fields: Vec<(String, String)>,
    /// All its columns.
    pub columns: Vec<(String, String)>,
}

impl RosterRow {
    /// What it says of a field that the roster holds.
    pub fn says(&self, field: &str) -> Option<&str> {
        let mut fields = self.fields.iter();
        let (_, value) = fields.find(|(name, _)| name == field)?;
        Some(value)
    }
}

/// Values of one record that cannot all be right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contradiction {
    pub fields: Vec<String>,
    pub words: String,
}

/// Rows of the roster that some values may mean, the likeliest first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LikelyRows {
    pub rows: Vec<(RosterRow, Probability)>,
    /// That the roster does not have it.
    pub none: Probability,
}

impl LikelyRows {
    /// The row that is meant, where one is more probable than none.
    pub fn meant(&self) -> Option<&RosterRow> {
        let (row, probability) = self.rows.first()?;
        (*probability > self.none).then_some(row)
    }
}

/// Whom the desk asks about values.
pub trait Knowledge {
    /// What speaks against a value, in words.
    fn objection(&self, field: &str, value: &str) -> Option<String>;

    /// What these values of one record, by field, break of the rules' checks over several fields.
    fn contradictions(&self, values: &[(&str, String)]) -> Vec<Contradiction>;

    /// Rows of the roster that hold all these words, the nearest first.
    fn search(&self, words: &str, most: usize) -> Vec<RosterRow>;

    /// The row of this key.
    fn row(&self, key: &str) -> Option<RosterRow>;

    /// Whether a column of the roster holds this field.
    fn holds(&self, field: &str) -> bool;

    /// The rows that may be meant by values of these fields.
    fn likely(&self, values: &[(&str, String)], most: usize) -> LikelyRows;
}
