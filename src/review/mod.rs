//! Two keyings of a sheet in, agreed or in dispute out; how often keyings are wrong; samples of a lot, and their verdict.
//!
//! [`Comparer`] says what counts as the same value, [`Comparison`] lays two keyings side by side, [`Reviewed`] is where
//! a sheet stands with all its keyings and its settlement. What was agreed or settled is then the truth that
//! [`Errors`] judges keyings by, and [`LeftOver`] asks what both may have missed. [`Lot`] draws a sample and judges it.
//! No clock, terminal or database.

mod compare;
mod errors;
mod harmless;
mod inspect;
mod left_over;
mod marks;
mod merge;
mod proof;
mod report;
mod same;
mod standing;
#[cfg(test)]
mod testing;
mod twice;

pub use compare::{Compared, Comparison, Place, Verdict, about};
pub use errors::{Breakdown, Errors, Judged, JudgedField};
pub use harmless::{Harmless, HarmlessGroup, Member, harmless_groups};
pub use inspect::{Curve, Lot, NO_PROMISE, Ruling, Verdict as LotVerdict, judge};
pub use left_over::{LeftOver, PairCounts, WHY_LOWER_BOUND};
pub use marks::{Run, marked};
pub use merge::{Decision, Merged, Take, Undecided, merge};
pub use proof::{
    ANSWERS_COLUMNS, FILE_NAME, Gate, LineStanding, Made, Misread, Proof, ReadAnswers, Rehearsal,
    SAMPLE, SheetLines, WHOLE_SHEET, changed, draw_proof, earlier_answer, form_rows, read_answers,
};
pub use report::{
    CalibrationPoint, CodedAgreement, Disagreements, ErrorReport, FacesReport, JobReport,
    LeftOverReport, PassReport, Rate, SamplingReport, SheetFacts,
};
pub use same::Comparer;
pub use standing::{Doubleness, Reviewed};
pub use twice::{Chosen, second_keying};
