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
    /// large are, the fields of a sheet are not (see [`Clusters`]).
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

/// A share that was counted in clusters: characters or fields by the sheet. A bad strip spoils several fields at once, so
/// there is less news in them than in as many independent ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Clusters {
    pub all: Share,
    /// Clusters counted.
    pub count: u64,
    /// Sums over clusters of hits squared, hits by size, and size squared.
    products: [u64; 3],
}

impl Clusters {
    /// Counts one cluster; one of nothing is none.
    pub fn add(&mut self, Share { hits, of }: Share) {
        if of > 0 {
            self.all += Share { hits, of };
            self.count += 1;
            let products = [hits * hits, hits * of, of * of];
            for (sum, product) in self.products.iter_mut().zip(products) {
                *sum += product;
            }
        }
    }

    /// The interval of the share.
    ///
    /// The variance of the share between clusters says how many independent ones they are worth, never more than there
    /// are; the Clopper-Pearson interval is taken of so many.
    ///
    /// Source: Korn and Graubard, Survey Methodology 24 (1998), from memory, without their correction for few clusters;
    /// the variance is that of a ratio of cluster totals (Cochran, Sampling Techniques, chapter 6, from memory).
    pub fn interval(&self, confidence: f64) -> Interval {
        let Some(rate) = self.all.rate() else {
            return self.all.interval(confidence);
        };
        let [hits_squared, hits_by_size, size_squared] = self.products.map(|sum| sum as f64);
        let squares = hits_squared - 2.0 * rate * hits_by_size + rate * rate * size_squared;
        let (count, of) = (self.count as f64, self.all.of as f64);
        let variance = squares * count / ((count - 1.0) * of * of);
        let worth = rate * (1.0 - rate) / variance;
        if worth > 0.0 && worth < of {
            clopper_pearson_of(rate * worth, worth, confidence)
        } else {
            self.all.interval(confidence)
        }
    }
}

impl FromIterator<Share> for Clusters {
    fn from_iter<I: IntoIterator<Item = Share>>(clusters: I) -> Self {
        let mut all = Self::default();
        clusters.into_iter().for_each(|cluster| all.add(cluster));
        all
    }
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

    fn interval(clusters: impl IntoIterator<Item = Share>) -> Interval {
        clusters.into_iter().collect::<Clusters>().interval(0.95)
    }

    #[test]
    fn clusters_that_stand_and_fall_together_count_once() {
        let alone = clopper_pearson(10, 200, 0.95);
        let one_in_twenty =
            |size| (0..200).map(move |n| Share::new(size * u64::from(n % 20 == 0), size));
        // Ten in each, all or none of them: worth as much as the clusters themselves, but for one of 200 that goes to
        // the mean. One in each: the plain interval, but for the same.
        for size in [1, 10] {
            let found = interval(one_in_twenty(size));
            assert!((found.low - alone.low).abs() < 5e-4, "{found:?} {alone:?}");
            assert!(
                (found.high - alone.high).abs() < 5e-4,
                "{found:?} {alone:?}"
            );
        }
        // Spread more evenly than chance would: never taken for more than was counted.
        assert_eq!(
            interval([Share::new(1, 10); 50]),
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
            assert_eq!(interval(clusters), all.interval(0.95));
        }
    }
}
