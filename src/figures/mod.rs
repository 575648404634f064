//! Statistics that several stations use. Pure functions of their arguments; none of them panics on odd input.

mod agreement;
mod characters;
mod estimate;
mod interval;
mod keystroke;
mod operating;
mod ratio;
mod recapture;
mod sampling;
mod sampling_tables;
mod share;
mod special;
mod summary;

pub use agreement::{Agreement, krippendorffs_alpha};
pub use characters::{CharacterErrors, character_errors, character_errors_with_blanks_collapsed};
pub use estimate::Estimate;
pub use interval::{Interval, clopper_pearson, clopper_pearson_upper, wilson};
pub use keystroke::{LOOK, Skill, seconds as keystroke_seconds};
pub use operating::{
    CountInterval, binomial_at_most, hypergeometric_at_most, lot_interval, quality_accepted_with,
};
pub use ratio::{Piece, RatioEstimate};
pub use recapture::Recapture;
pub use sampling::{
    AcceptableQuality, Inspection, InspectionLevel, SamplingError, SamplingPlan, next_inspection,
};
pub use share::{Clusters, Share};
pub use summary::{Mean, Quantiles, Spread};
