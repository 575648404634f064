//! Statistics that several stations use. Pure functions of their arguments; none of them panics on odd input.

mod characters;
mod interval;
mod keystroke;
mod special;
mod summary;

pub use characters::{CharacterErrors, character_errors, character_errors_with_blanks_collapsed};
pub use interval::{Interval, clopper_pearson, clopper_pearson_upper, wilson};
pub use keystroke::{LOOK, Skill, seconds as keystroke_seconds};
pub use summary::{Mean, Quantiles};
