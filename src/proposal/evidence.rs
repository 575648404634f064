//! What a proposal is made from.

use super::{Before, Calibration};
use crate::reading::Reading;
use crate::roster::{Prior, Roster};
use crate::rules::{Carry, Extraction, FieldSpec, LookUp};
use crate::value::Finding;

/// Natural log of P(picture of a line | text), up to a constant of the line: (index into `Reading::lines`, text).
pub type Scorer<'a> = dyn Fn(usize, &str) -> f64 + 'a;

/// Everything known about one sheet.
#[derive(Clone, Copy)]
pub struct Evidence<'a> {
    /// What the strip's finding and reading noticed.
    pub findings: &'a [Finding],
    pub reading: &'a Reading,
    /// What the rules took out, best first; the probabilities add up to at most 1.
    pub extractions: &'a [Extraction],
    /// Every field of the rule file, in its order.
    pub fields: &'a [FieldPlan],
    pub roster: Option<RosterPlan<'a>>,
    pub calibration: Calibration,
    /// What the sheets before it in the drawer say.
    pub before: &'a Before,
    /// The colour of the strip's band, as one of [`crate::rules::BAND_COLOURS`].
    pub band: &'a str,
    /// Where the reader can tell how probable its picture is.
    pub scorer: Option<&'a Scorer<'a>>,
}

/// What a proposal has to know of a field.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FieldPlan {
    pub name: String,
    /// An index row without it is incomplete.
    pub required: bool,
    /// A field whose number or year this one's must not exceed: part for part n of m, first year for last year.
    pub not_above: Option<String>,
    /// Where its value comes from when the strip does not say it.
    pub default: Option<String>,
    pub carry: Option<Carry>,
    pub look_up: Option<LookUp>,
}

impl FieldPlan {
    /// What a rule file says of the field; `not_above` is what its checks say.
    pub fn new(spec: &FieldSpec, not_above: Option<&str>) -> Self {
        Self {
            name: spec.name.clone(),
            required: spec.required,
            not_above: not_above.map(str::to_owned),
            default: spec.default.clone(),
            carry: spec.carry,
            look_up: spec.look_up.clone(),
        }
    }
}

/// The client's roster, and which fields its columns hold.
#[derive(Debug, Clone, Copy)]
pub struct RosterPlan<'a> {
    pub roster: &'a Roster,
    /// (field, column).
    pub columns: &'a [(String, String)],
    pub prior: Prior,
}

impl<'a> RosterPlan<'a> {
    /// The column that holds a field.
    pub fn column(&self, field: &str) -> Option<&'a str> {
        self.columns
            .iter()
            .find(|(name, _)| name == field)
            .map(|(_, column)| column.as_str())
    }
}
