//! From the model's probability to one that may be shown.

use crate::value::Probability;
use serde::{Deserialize, Serialize};

/// A monotone map from the model's log-odds to those that are shown, and whether a reader's own opinion is enough.
///
/// The model's posteriors are over-confident wherever the world differs from the model. Until people have keyed
/// enough sheets to fit the map, the default is cautious.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    /// Shown log-odds = `slope` times the model's, plus `shift`.
    pub slope: f64,
    pub shift: f64,
    /// Never shown as more probable than this.
    pub ceiling: Probability,
    /// A value that nothing supports but the reader's own opinion may be *sure*.
    pub reader_suffices: bool,
}

/// Log-odds shrink by this factor unless fitted. Evidence: on FEBRL data set 4 the posteriors of a linkage model of this
/// sort that claimed .999 and more had 4 wrong in 4,955, where they claimed well below one; at .8 a claim of .99999 is
/// shown as .9999 and one of .999 as .996.
const CAUTIOUS_SLOPE: f64 = 0.8;
/// With no labelled sheets at all nothing is claimed beyond 1 wrong in 10,000.
const CAUTIOUS_CEILING: f64 = 0.9999;

impl Default for Calibration {
    fn default() -> Self {
        Self {
            slope: CAUTIOUS_SLOPE,
            shift: 0.0,
            ceiling: Probability::new(CAUTIOUS_CEILING),
            reader_suffices: false,
        }
    }
}

impl Calibration {
    /// The probability to show. Never more probable than the model says; order is kept.
    pub fn apply(&self, model: Probability) -> Probability {
        let shown = self.slope * model.log_odds() + self.shift;
        let shown = 1.0 / (1.0 + (-shown).exp());
        let shown = shown.min(model.get()).min(self.ceiling.get());
        Probability::new(shown)
    }
}
