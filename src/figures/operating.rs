//! The operating characteristic of a sampling plan: with which probability a lot of a given quality is accepted.

use super::interval::clopper_pearson_upper;
use super::special::incomplete_beta;
use serde::{Deserialize, Serialize};

/// Numbers of bad sheets in one lot, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct CountInterval {
    pub low: u64,
    pub high: u64,
}

/// The probability of at most `hits` in `trials` when each is one with the probability `share` (binomial): a lot
/// drawn from a process of that quality, or one so large that the sample does not matter to it.
///
/// ```
/// let accepted = headword::figures::binomial_at_most(3, 125, 0.02);
/// assert_eq!((accepted * 1e4).round(), 7587.0);
/// ```
pub fn binomial_at_most(hits: u64, trials: u64, share: f64) -> f64 {
    if share.is_nan() {
        return f64::NAN;
    }
    match trials.saturating_sub(hits) {
        0 => 1.0,
        misses => incomplete_beta(1.0 - share, misses as f64, hits as f64 + 1.0),
    }
}

/// The probability of at most `hits` bad ones in a sample of `sample` from a lot of `lot` that holds `bad` bad ones
/// (hypergeometric, exact up to rounding). What exceeds the lot counts as the whole lot.
pub fn hypergeometric_at_most(hits: u64, sample: u64, bad: u64, lot: u64) -> f64 {
    let (sample, bad) = (sample.min(lot), bad.min(lot));
    let (good, left) = (lot - bad, lot - sample);
    let least = sample.saturating_sub(good);
    if hits < least {
        return 0.0;
    }
    if hits >= sample.min(bad) {
        return 1.0;
    }
    // The fewest bad ones possible: none of the sample is bad, or none of what is left is good.
    let (drawn, from) = match least {
        0 => (sample, good),
        _ => (left, bad),
    };
    // Of two ways to draw `drawn` from `from` in `lot`, the one with fewer factors.
    let (drawn, from) = match lot - from < drawn {
        true => (lot - from, lot - drawn),
        false => (drawn, from),
    };
    let mut log = (0..drawn)
        .map(|n| ((from - n) as f64 / (lot - n) as f64).ln())
        .sum::<f64>();
    let mut sum = 0.0;
    for k in least..=hits {
        sum += log.exp();
        let more = (bad - k) as f64 * (sample - k) as f64;
        let fewer = (k + 1) as f64 * ((good + k + 1) as f64 - sample as f64);
        log += (more / fewer).ln();
    }
    f64::min(sum, 1.0)
}

/// The share of bad sheets in a process whose lots are accepted with this probability: at .95 what the bureau may rely
/// on, at .10 what the client may (the *rejectable* or *limiting* quality). Binomial.
///
/// ```
/// let limiting = headword::figures::quality_accepted_with(0.10, 3, 125);
/// assert_eq!((limiting * 1e5).round(), 5266.0);
/// ```
pub fn quality_accepted_with(probability: f64, acceptance_number: u64, sample: u64) -> f64 {
    clopper_pearson_upper(acceptance_number, sample, 1.0 - probability)
}

/// How many bad sheets one lot of `lot` may hold, given `found` in a sample of `sample` of it.
///
/// Exact: each end leaves less than half of 1 - `confidence` beyond what was found (hypergeometric), so it covers the
/// true number with at least that probability. With the whole lot inspected it is the number found.
///
/// Source: inversion of the two one-sided tests, as Clopper and Pearson do for a share; for finite populations Konijn
/// (1973) and Buonaccorsi (1987), from memory.
///
/// ```
/// let bad = headword::figures::lot_interval(0, 125, 2_000, 0.95);
/// assert_eq!((bad.low, bad.high), (0, 56));
/// ```
pub fn lot_interval(found: u64, sample: u64, lot: u64, confidence: f64) -> CountInterval {
    let sample = sample.min(lot);
    let found = found.min(sample);
    let tail = (1.0 - confidence.clamp(0.0, 1.0)) / 2.0;
    let most = lot - (sample - found);
    // As many as found, or more, are likely enough; as few, or fewer, are. The latter holds for `found` bad ones always.
    let enough =
        |bad| found == 0 || 1.0 - hypergeometric_at_most(found - 1, sample, bad, lot) > tail;
    let few = |bad| hypergeometric_at_most(found, sample, bad, lot) > tail;
    CountInterval {
        low: first(found, most, enough),
        high: first(found, most + 1, |bad| !few(bad)) - 1,
    }
}

/// The first number from `low` on for which a condition holds that holds from there on; `high` where it never does.
fn first(mut low: u64, mut high: u64, holds: impl Fn(u64) -> bool) -> u64 {
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    low
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published and computed points of operating characteristic curves, each row with its source and status.
    const POINTS: &str = include_str!("../../tests/data/published/oc_curve_points.csv");

    #[test]
    fn agrees_with_every_published_point() {
        let mut rows = 0;
        for row in csv::Reader::from_reader(POINTS.as_bytes()).records() {
            let row = row.unwrap();
            let number = |column: usize| row[column].parse::<f64>().unwrap();
            let (sample, acceptance) = (number(1) as u64, number(2) as u64);
            let (share, accepted) = (number(3), number(4));
            // The table of the handbook is rounded and agrees within .001, as its rows say; two rows are printed in
            // full; rows by the Poisson formula are its own approximation.
            let (found, tolerance) = if row[0].contains("Poisson") {
                (poisson_at_most(acceptance, sample as f64 * share), 1e-3)
            } else if row[0].starts_with("NIST") {
                (binomial_at_most(acceptance, sample, share), 1e-3)
            } else if row[0].starts_with("R package") {
                let digits = row[4].split_once('.').unwrap().1.len() as i32;
                let half = 0.5 * 10_f64.powi(-digits) + 1e-12;
                (binomial_at_most(acceptance, sample, share), half)
            } else {
                let found = quality_accepted_with(accepted, acceptance, sample);
                assert!((found - share).abs() < 5.1e-6, "{found} in {row:?}");
                (binomial_at_most(acceptance, sample, share), 1e-3)
            };
            assert!((found - accepted).abs() <= tolerance, "{found} in {row:?}");
            rows += 1;
        }
        assert_eq!(rows, 32);
    }

    fn poisson_at_most(hits: u64, mean: f64) -> f64 {
        let mut term = (-mean).exp();
        (0..=hits)
            .map(|k| {
                let now = term;
                term *= mean / (k + 1) as f64;
                now
            })
            .sum()
    }

    /// Pascal's triangle, exact below 2^53.
    fn choose(n: u64, k: u64) -> f64 {
        match k > n {
            true => 0.0,
            false => (0..k).fold(1.0, |c, i| (c * (n - i) as f64 / (i + 1) as f64).round()),
        }
    }

    #[test]
    fn the_hypergeometric_adds_up() {
        for lot in [1, 2, 5, 17, 30] {
            for sample in 0..=lot {
                for bad in 0..=lot {
                    let mut sum = 0.0;
                    for hits in 0..=sample {
                        if sample - hits <= lot - bad {
                            sum += choose(bad, hits) * choose(lot - bad, sample - hits)
                                / choose(lot, sample);
                        }
                        let found = hypergeometric_at_most(hits, sample, bad, lot);
                        assert!((found - sum).abs() < 1e-12, "{hits} {sample} {bad} {lot}");
                    }
                }
            }
        }
        // A lot that dwarfs its sample: the binomial.
        let large = hypergeometric_at_most(3, 125, 20_000_000, 1_000_000_000);
        assert!((large - binomial_at_most(3, 125, 0.02)).abs() < 1e-6);
        // Nothing over- or underflows.
        assert_eq!(hypergeometric_at_most(21, 2_000, 400_000, 500_000), 0.0);
        assert_eq!(hypergeometric_at_most(9, 5, 3, 4), 1.0);
        assert_eq!(hypergeometric_at_most(0, 0, 0, 0), 1.0);
    }

    /// By its definition, tried for every number of bad ones in small lots.
    #[test]
    fn a_lots_interval_covers_what_it_should() {
        for (sample, lot) in [(5, 20), (20, 20), (0, 9), (13, 50), (1, 1)] {
            for confidence in [0.8, 0.95] {
                for bad in 0..=lot {
                    let covered: f64 = (0..=sample)
                        .filter(|found| {
                            let limits = lot_interval(*found, sample, lot, confidence);
                            (limits.low..=limits.high).contains(&bad)
                        })
                        .map(|found| {
                            let below = match found {
                                0 => 0.0,
                                found => hypergeometric_at_most(found - 1, sample, bad, lot),
                            };
                            hypergeometric_at_most(found, sample, bad, lot) - below
                        })
                        .sum();
                    assert!(covered >= confidence - 1e-9, "{bad} of {lot}: {covered}");
                }
            }
        }
        let whole = lot_interval(7, 40, 40, 0.95);
        assert_eq!((whole.low, whole.high), (7, 7));
        let nothing = lot_interval(0, 0, 40, 0.95);
        assert_eq!((nothing.low, nothing.high), (0, 40));
    }
}
