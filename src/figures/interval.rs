//! Between which limits a share lies, given what was counted.

use super::special::{inverse_incomplete_beta, normal_deviate};
use serde::{Deserialize, Serialize};

/// The confidence closest to certainty that is computed; beyond it the limits say nothing.
const MOST_CONFIDENCE: f64 = 1.0 - 1e-12;

/// Limits of a share, both from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    pub low: f64,
    pub high: f64,
}

impl Interval {
    /// What is known before anything is counted.
    const ALL: Self = Self {
        low: 0.0,
        high: 1.0,
    };
}

/// The Clopper-Pearson ("exact") interval of a share of which `hits` of `trials` were counted.
///
/// It covers the true share with at least the probability `confidence` (0 to 1), whatever the share is. With no trials
/// it is 0 to 1. More hits than trials count as all.
///
/// Source: Clopper and Pearson, Biometrika 26 (1934), by way of the beta distribution's quantiles.
///
/// ```
/// // Nothing wrong in 20: the "rule of three" is a little hasty.
/// let interval = headword::figures::clopper_pearson(0, 20, 0.95);
/// assert_eq!((interval.low, (interval.high * 1e4).round()), (0.0, 1684.0));
/// ```
pub fn clopper_pearson(hits: u64, trials: u64, confidence: f64) -> Interval {
    clopper_pearson_of(hits.min(trials) as f64, trials as f64, confidence)
}

/// The same for counts that are no whole numbers, as of trials that are worth fewer.
pub(super) fn clopper_pearson_of(hits: f64, trials: f64, confidence: f64) -> Interval {
    let tail = (1.0 - bounded(confidence)) / 2.0;
    Interval {
        low: lower(hits, trials, tail),
        high: upper(hits, trials, tail),
    }
}

/// The one-sided Clopper-Pearson limit: with the probability `confidence` at least, the true share is not higher.
pub fn clopper_pearson_upper(hits: u64, trials: u64, confidence: f64) -> f64 {
    upper(
        hits.min(trials) as f64,
        trials as f64,
        1.0 - bounded(confidence),
    )
}

/// The Wilson score interval of a share of which `hits` of `trials` were counted: shorter than Clopper-Pearson's and
/// right on average, not always.
///
/// Source: Wilson, Journal of the American Statistical Association 22 (1927); without continuity correction.
pub fn wilson(hits: u64, trials: u64, confidence: f64) -> Interval {
    if trials == 0 {
        return Interval::ALL;
    }
    let (hits, n) = (hits.min(trials) as f64, trials as f64);
    let z = normal_deviate(bounded(confidence));
    let centre = hits + z * z / 2.0;
    let spread = z * (hits * (n - hits) / n + z * z / 4.0).sqrt();
    let limit = |value: f64| (value / (n + z * z)).clamp(0.0, 1.0);
    Interval {
        // Rounding must not lift the limit off the end where the formula is exact.
        low: if hits == 0.0 {
            0.0
        } else {
            limit(centre - spread)
        },
        high: if hits == n {
            1.0
        } else {
            limit(centre + spread)
        },
    }
}

/// The share at which as many hits or more have the probability `tail`.
fn lower(hits: f64, trials: f64, tail: f64) -> f64 {
    if hits <= 0.0 {
        return 0.0;
    }
    inverse_incomplete_beta(tail, hits, trials - hits + 1.0)
}

/// The share at which as few hits or fewer have the probability `tail`.
fn upper(hits: f64, trials: f64, tail: f64) -> f64 {
    let misses = trials - hits;
    if misses <= 0.0 {
        return 1.0;
    }
    1.0 - inverse_incomplete_beta(tail, misses, hits + 1.0)
}

/// A confidence that can be computed; what is no number counts as the highest, so that a fault upstream never narrows
/// an interval.
fn bounded(confidence: f64) -> f64 {
    if confidence.is_nan() {
        MOST_CONFIDENCE
    } else {
        confidence.clamp(0.0, MOST_CONFIDENCE)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published limits, each row with its source and with what was only recomputed.
    const EXAMPLES: &str =
        include_str!("../../tests/data/published/binomial_interval_examples.csv");

    #[test]
    fn agrees_with_every_published_limit() {
        let mut rows = 0;
        for record in csv::Reader::from_reader(EXAMPLES.as_bytes()).records() {
            let record = record.unwrap();
            let (hits, trials) = (record[0].parse().unwrap(), record[1].parse().unwrap());
            let confidence = record[2].parse::<f64>().unwrap() / 100.0;
            let interval = match &record[3] {
                "Clopper-Pearson" => clopper_pearson(hits, trials, confidence),
                "Wilson" => wilson(hits, trials, confidence),
                other => panic!("unknown method {other}"),
            };
            for (found, published) in [(interval.low, &record[4]), (interval.high, &record[5])] {
                let (number, digits) = as_published(published);
                // Within half a unit of the last digit given.
                let tolerance = 0.5 * 10_f64.powi(-digits) + 1e-12;
                assert!((found - number).abs() <= tolerance, "{found} in {record:?}");
            }
            rows += 1;
        }
        assert_eq!(rows, 12);
    }

    /// The number and how many decimals it was given with. The table drops closing zeros, so that four stand for
    /// `0.401` where the row beside it has four; three are taken where the source printed three.
    fn as_published(text: &str) -> (f64, i32) {
        let (mantissa, exponent) = text.split_once('e').unwrap_or((text, "0"));
        let decimals = mantissa
            .split_once('.')
            .map_or(0, |(_, decimals)| decimals.len());
        let exponent: i32 = exponent.parse().unwrap();
        (text.parse().unwrap(), (decimals as i32 - exponent).max(3))
    }

    /// By definition, a limit of the exact interval leaves just the tail's probability beyond what was counted. Added
    /// up here term by term.
    #[test]
    fn exact_limits_leave_the_tail() {
        let at_most = |hits: i32, n: i32, share: f64| -> f64 {
            let mut choose = 1.0;
            (0..=hits)
                .map(|k| {
                    let term = choose * share.powi(k) * (1.0 - share).powi(n - k);
                    choose *= f64::from(n - k) / f64::from(k + 1);
                    term
                })
                .sum()
        };
        for (hits, n) in [(1, 3), (2, 50), (25, 50), (49, 50), (7, 400)] {
            let interval = clopper_pearson(hits as u64, n as u64, 0.9);
            assert!(
                (at_most(hits, n, interval.high) - 0.05).abs() < 1e-9,
                "{hits} of {n}"
            );
            assert!(
                (1.0 - at_most(hits - 1, n, interval.low) - 0.05).abs() < 1e-9,
                "{hits} of {n}"
            );
            let one_sided = clopper_pearson_upper(hits as u64, n as u64, 0.95);
            assert!((one_sided - interval.high).abs() < 1e-12);
        }
    }

    #[test]
    fn odd_input_gives_wide_limits_and_never_a_panic() {
        for method in [clopper_pearson, wilson] {
            assert_eq!(method(0, 0, 0.95), Interval::ALL);
            assert_eq!(method(9, 3, 0.95), method(3, 3, 0.95));
            assert_eq!(method(0, 10, 0.95).low, 0.0);
            assert_eq!(method(10, 10, 0.95).high, 1.0);
            assert!(method(1, 10, f64::NAN).high > method(1, 10, 0.999).high);
            for confidence in [f64::NAN, -1.0, 0.0, 1.0, 2.0, f64::INFINITY] {
                for (hits, trials) in [
                    (0, 1),
                    (1, 2),
                    (3, 1_000_000_000),
                    (500_000_000, 1_000_000_000),
                ] {
                    let interval = method(hits, trials, confidence);
                    let share = hits as f64 / trials as f64;
                    assert!(
                        interval.low <= share + 1e-9 && share <= interval.high + 1e-9,
                        "{interval:?} {hits} {trials}"
                    );
                    assert!(interval.low >= 0.0 && interval.high <= 1.0);
                }
            }
        }
    }
}
