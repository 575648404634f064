//! How many sheets there are.

use super::estimate::{Drawers, Figure, Notes, Source, figure};
use super::question::{Question, Sheets};
use crate::figures::{Estimate, RatioEstimate};

/// Sheets an inch: without envelopes, and with them. One laboratory library's counting rule of 1996, read second-hand;
/// it agrees with common practice, for which there is no source.
pub const RULE_OF_THUMB: [f64; 2] = [100.0, 50.0];

/// Variance of a count of sheets in a measured length, since it begins and ends within a sheet: twice that of a number
/// spread evenly over one.
const ROUNDING: f64 = 2.0 / 12.0;

/// Share of a standard error from which it is told that pieces of different length put the estimate off.
const NOTABLE_BIAS: f64 = 0.1;

const THUMB_WORDS: &str = "100 sheets to the inch without envelopes, 50 with them: common practice, no standard; thicker jackets give fewer \
     still.";

/// Pieces up to which the limits are much wider than the textbook's bound.
const FEW_PIECES: usize = 3;

impl Question {
    /// The sheets, and the textbook's figures where they were counted in pieces of drawer.
    pub(super) fn sheets(&self, confidence: f64, notes: &mut Notes) -> (Figure, Option<Drawers>) {
        let least = self.least as f64;
        let at_least = |found: Estimate| {
            Estimate::new(found.value.max(least), found.low.max(least), found.high)
        };
        let (pieces, whole) = match &self.sheets {
            Sheets::Job(count) => {
                let how = "counted in the job".to_owned();
                return (
                    figure(Estimate::exact(*count as f64), Source::Measured, how),
                    None,
                );
            }
            Sheets::Given(given) => {
                let how = "as given".to_owned();
                return (figure(at_least(*given), Source::Given, how), None);
            }
            Sheets::Drawers { pieces, whole } => (pieces, *whole),
        };
        let [most, fewest] = RULE_OF_THUMB;
        let thumb = Estimate::new(most, fewest, most);
        let rounding = if pieces.len() > 1 { ROUNDING } else { 0.0 };
        let of = |inches: f64| RatioEstimate::of(pieces, inches, None, rounding);
        let Some(middle) = of(whole.value) else {
            notes.assume(Source::CommonPractice, THUMB_WORDS);
            notes.assume(
                Source::CommonPractice,
                "Nothing was counted, so there is no interval from data. Count two inches or more in different drawers: \
                 --counted 98/1in --counted 103/1in.",
            );
            let how =
                format!("{most} sheets an inch of drawer, {fewest} in envelopes: common practice");
            let found = at_least(whole.times(thumb));
            return (figure(found, Source::CommonPractice, how), None);
        };
        let drawers = Drawers {
            pieces: middle.pieces,
            sheets_an_inch: middle.ratio,
            inches: whole,
            share_measured: middle.sampled,
            standard_error: middle.standard_error,
            bound: middle.bound(),
            bias: middle.bias,
        };
        let limits = [whole.low, whole.high].map(|inches| of(inches)?.interval(confidence));
        let (found, from, how) = match limits {
            [Some(low), Some(high)] => {
                notes.assume(
                    Source::Given,
                    "The counted pieces were taken at random over all drawers, envelopes and jackets like the rest, and \
                     pressed together like the rest.",
                );
                if middle.pieces <= FEW_PIECES {
                    notes.assume(
                        Source::Measured,
                        format!(
                            "{} counted pieces say little of how pieces differ, so that the limits are far wider than the \
                             textbook's bound; every further piece narrows them.",
                            middle.pieces
                        ),
                    );
                }
                if middle.bias > NOTABLE_BIAS {
                    notes.assume(
                        Source::Measured,
                        format!(
                            "The counted pieces differ in length, so that the estimate is off by up to {:.2} standard \
                             errors on average; pieces of one length have no such error.",
                            middle.bias
                        ),
                    );
                }
                let how = format!(
                    "{:.1} sheets an inch in {} counted pieces, {:.1} % of the drawers",
                    middle.ratio,
                    middle.pieces,
                    100.0 * middle.sampled
                );
                let found = Estimate::new(middle.total, low.low, high.high);
                (found, Source::Measured, how)
            }
            _ => {
                notes.assume(Source::CommonPractice, THUMB_WORDS);
                notes.assume(
                    Source::CommonPractice,
                    "A single piece was counted, which does not say how pieces differ: there is no interval from data, and \
                     the limits are those of common practice. Count a second piece in another drawer: another --counted.",
                );
                let how = format!(
                    "{:.1} sheets an inch in the one counted piece; limits by common practice, {fewest} to {most} an inch",
                    middle.ratio
                );
                let limits = whole.times(thumb);
                let counted = whole.scaled(middle.ratio);
                let found = Estimate::new(
                    middle.total,
                    limits.low.min(counted.low),
                    limits.high.max(counted.high),
                );
                (found, Source::CommonPractice, how)
            }
        };
        if !whole.is_exact() {
            notes.assume(
                Source::Given,
                "The length of all drawers lies between the ends that were given.",
            );
        }
        (figure(at_least(found), from, how), Some(drawers))
    }
}
