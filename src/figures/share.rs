//! A counted share, and how sure it is where what was counted hangs together.

use super::interval::{Interval, clopper_pearson, clopper_pearson_of};
use serde::{Deserialize, Serialize};
use std::iter::Sum;
use std::ops::{Add, AddAssign};

/// So many of so many.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub struct Share {
    pub hits: u64,
    pub of: u64,
}

impl Share {
    pub fn new(hits: u64, of: u64) -> Self {
        Self { hits, of }
    }

    /// Counts one more.
    pub fn count(&mut self, hit: bool) {
        self.hits += u64::from(hit);
        self.of += 1;
    }

    /// From 0 to 1; none where nothing was counted.
    pub fn rate(self) -> Option<f64> {
        (self.of > 0).then(|| self.hits as f64 / self.of as f64)
    }

    /// Hits in a thousand; none where nothing was counted.
    ///
    /// ```
    /// let disagreements = headword::figures::Share::new(3, 2_000);
    /// assert_eq!(disagreements.per_thousand(), Some(1.5));
    /// ```
    pub fn per_thousand(self) -> Option<f64> {
        self.rate().map(|rate| rate * 1_000.0)
    }

    /// Its Clopper-Pearson interval, which holds where what was counted is independent of each other: sheets by and
    /// large are, the fields of a sheet are not (see [`clustered_interval`]).
    pub fn interval(self, confidence: f64) -> Interval {
        clopper_pearson(self.hits, self.of, confidence)
    }
}

impl Add for Share {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self::new(self.hits + other.hits, self.of + other.of)
    }
}

impl AddAssign for Share {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sum for Share {
    fn sum<I: Iterator<Item = Self>>(shares: I) -> Self {
        shares.fold(Self::default(), Add::add)
    }
}

/// The interval of a share that was counted in clusters: characters or fields by the sheet. A bad strip spoils several
/// fields at once, so there is less news in them than in as many independent ones.
///
/// The variance of the share between clusters says how many independent ones they are worth, never more than there are;
/// the Clopper-Pearson interval is taken of so many.
///
/// Source: Korn and Graubard, Survey Methodology 24 (1998), from memory, without their correction for few clusters; the
/// variance is that of a ratio of cluster totals (Cochran, Sampling Techniques, chapter 6, from memory).
pub fn clustered_interval(clusters: &[Share], confidence: f64) -> Interval {
    let all: Share = clusters.iter().copied().sum();
    let (Some(rate), count) = (all.rate(), clusters.len() as f64) else {
        return all.interval(confidence);
    };
    let apart = |cluster: &Share| (cluster.hits as f64 - rate * cluster.of as f64).powi(2);
    let squares: f64 = clusters.iter().map(apart).sum();
    let variance = squares * count / ((count - 1.0) * (all.of as f64).powi(2));
    let worth = rate * (1.0 - rate) / variance;
    if worth.is_nan() || worth >= all.of as f64 {
        return all.interval(confidence);
    }
    clopper_pearson_of(rate * worth, worth, confidence)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_and_rates() {
        let mut share = Share::default();
        assert_eq!((share.rate(), share.per_thousand()), (None, None));
        share.count(true);
        share.count(false);
        share += Share::new(1, 6);
        assert_eq!((share, share.rate()), (Share::new(2, 8), Some(0.25)));
        assert_eq!(share.interval(0.95), clopper_pearson(2, 8, 0.95));
    }

    #[test]
    fn clusters_that_stand_and_fall_together_count_once() {
        // Ten in each cluster, all or none of them: worth about as much as the clusters themselves.
        let whole: Vec<Share> = (0..200)
            .map(|n| Share::new(10 * u64::from(n % 20 == 0), 10))
            .collect();
        let (clustered, alone) = (
            clustered_interval(&whole, 0.95),
            clopper_pearson(10, 200, 0.95),
        );
        assert!(
            (clustered.low - alone.low).abs() < 3e-4,
            "{clustered:?} {alone:?}"
        );
        assert!(
            (clustered.high - alone.high).abs() < 1e-3,
            "{clustered:?} {alone:?}"
        );
        // One in each: the plain interval.
        let single: Vec<Share> = (0..200)
            .map(|n| Share::new(u64::from(n % 20 == 0), 1))
            .collect();
        let plain = clustered_interval(&single, 0.95);
        assert!((plain.low - alone.low).abs() < 3e-4 && (plain.high - alone.high).abs() < 1e-3);
        // Spread more evenly than chance would: never taken for more than was counted.
        let even = vec![Share::new(1, 10); 50];
        assert_eq!(
            clustered_interval(&even, 0.95),
            clopper_pearson(50, 500, 0.95)
        );
    }

    #[test]
    fn nothing_wrong_and_single_clusters_have_the_plain_interval() {
        for clusters in [
            vec![],
            vec![Share::new(3, 10)],
            vec![Share::new(0, 5); 7],
            vec![Share::new(5, 5); 2],
        ] {
            let all: Share = clusters.iter().copied().sum();
            assert_eq!(clustered_interval(&clusters, 0.9), all.interval(0.9));
        }
    }
}
