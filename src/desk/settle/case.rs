//! A sheet in dispute as it comes to the desk.

use crate::desk::clerk::FrozenProposal;
use crate::journal::{KeyedValue, Keying};
use crate::reading::Reading;
use crate::review::{Compared, Comparison, Place, about};
use crate::value::{Bounds, Finding, SheetId, sha256_parts};

/// One of the two keyings. Who made it is not known here, so that it cannot be shown.
#[derive(Debug, Clone, Default)]
pub struct Keyed {
    pub entry: i64,
    pub keying: Keying,
}

/// Where a value stands on the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    Left,
    Right,
}

/// One sheet that two people keyed differently.
#[derive(Debug, Clone)]
pub struct Case {
    pub sheet: SheetId,
    /// How many sheets are in dispute, this one among them.
    pub of: usize,
    pub first: Keyed,
    pub second: Keyed,
    pub comparison: Comparison,
    /// Decides on which side the first keying stands.
    pub seed: u64,
    pub has_no_strip: bool,
    pub reading: Reading,
    pub findings: Vec<Finding>,
    pub proposal: Option<FrozenProposal>,
    /// The last entry of its settlement that made or unmade a state.
    pub last: Option<i64>,
}

impl Case {
    /// What has to be decided.
    pub fn disputes(&self) -> Vec<&Compared> {
        let disputes = self.comparison.disputes();
        disputes.filter(|d| !self.follows(&d.at)).collect()
    }

    /// Whether a place follows from others in dispute: which row of the roster is meant follows from the values.
    pub fn follows(&self, at: &Place) -> bool {
        let Place::Row(record) = at else {
            return false;
        };
        let is_of_record = |other: &Place| matches!(other, Place::Field(of, _) if of == record);
        let mut disputes = self.comparison.disputes();
        disputes.any(|dispute| is_of_record(&dispute.at))
    }

    /// A place in words.
    pub fn about(&self, at: &Place) -> String {
        about(at, self.comparison.pairs.len())
    }

    /// The side on which the first keying stands: drawn for every place anew, so that no side gains trust.
    pub fn side_of_first(&self, at: &Place) -> Side {
        let drawn = sha256_parts([
            &self.seed.to_string(),
            self.sheet.as_str(),
            &format!("{at:?}"),
        ]);
        match drawn.as_bytes()[0].is_multiple_of(2) {
            true => Side::Left,
            false => Side::Right,
        }
    }

    /// Where on the strip a place was read; none where no rule found it.
    pub fn bounds(&self, at: &Place) -> Option<Bounds> {
        let Place::Field(record, field) = at else {
            return None;
        };
        let [first, _] = *self.comparison.pairs.get(*record)?;
        let record = first.unwrap_or(*record);
        let places = &self.proposal.as_ref()?.places;
        let mut places = places.iter();
        let place = places.find(|place| (&place.field, place.record) == (field, record))?;
        place.bounds()
    }
}

/// A keyed value as it is shown.
pub fn value_text(value: Option<&KeyedValue>) -> String {
    match value {
        Some(KeyedValue::Text(text)) => text.clone(),
        Some(KeyedValue::NothingOnStrip) => "(nothing on the strip)".to_owned(),
        Some(KeyedValue::CannotBeRead) => "(cannot be read)".to_owned(),
        None => "(nothing keyed)".to_owned(),
    }
}
