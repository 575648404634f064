//! A figure with the limits it lies between, and what becomes of the limits when figures are multiplied and added.
//!
//! Limits are multiplied and added as intervals are: wherever the true figures lie between theirs, the result lies
//! between its own. That asks for no distribution, so that limits from a sample and limits that somebody named can be
//! mixed; it takes the figures to err together, so that the result is rather too wide than too narrow.

use serde::{Deserialize, Serialize};

/// A figure and its limits; `low <= value <= high`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    pub value: f64,
    pub low: f64,
    pub high: f64,
}

impl Estimate {
    /// One that is known.
    pub fn exact(value: f64) -> Self {
        Self::new(value, value, value)
    }

    /// Of what somebody says lies between two limits, the middle stands for the figure.
    pub fn between(low: f64, high: f64) -> Self {
        Self::new(f64::midpoint(low, high), low, high)
    }

    /// Limits on the wrong side of the figure move to it.
    pub fn new(value: f64, low: f64, high: f64) -> Self {
        Self {
            value,
            low: low.min(value),
            high: high.max(value),
        }
    }

    pub fn is_exact(&self) -> bool {
        self.low == self.high
    }

    /// The product of two figures that are not below zero.
    ///
    /// ```
    /// use headword::figures::Estimate;
    /// let seconds = Estimate::new(1_000.0, 900.0, 1_200.0).times(Estimate::between(8.0, 14.0));
    /// assert_eq!((seconds.low, seconds.value, seconds.high), (7_200.0, 11_000.0, 16_800.0));
    /// ```
    pub fn times(self, other: Self) -> Self {
        Self::new(
            self.value * other.value,
            self.low * other.low,
            self.high * other.high,
        )
    }

    /// A figure not below zero, divided by one above zero.
    pub fn over(self, other: Self) -> Self {
        Self::new(
            self.value / other.value,
            self.low / other.high,
            self.high / other.low,
        )
    }

    pub fn plus(self, other: Self) -> Self {
        Self::new(
            self.value + other.value,
            self.low + other.low,
            self.high + other.high,
        )
    }

    /// What is left when a known part is gone; nothing at least.
    pub fn less(self, gone: f64) -> Self {
        let left = |value: f64| (value - gone).max(0.0);
        Self::new(left(self.value), left(self.low), left(self.high))
    }

    /// So many times as much.
    pub fn scaled(self, factor: f64) -> Self {
        self.times(Self::exact(factor))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    #[test]
    fn whatever_lies_between_limits_stays_between_them() {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let mut draw = || {
            let (low, width) = (
                random.random_range(0.01..1e6),
                random.random_range(0.0..1e6),
            );
            let mut between = || low + width * random.random_range(0.0..1.0);
            (Estimate::new(between(), low, low + width), between())
        };
        for _ in 0..2_000 {
            let ((one, x), (other, y), (_, gone)) = (draw(), draw(), draw());
            for (found, truth) in [
                (one.times(other), x * y),
                (one.over(other), x / y),
                (one.plus(other), x + y),
                (one.less(gone), (x - gone).max(0.0)),
            ] {
                let slack = 1e-9 * truth;
                assert!(found.low <= found.value && found.value <= found.high);
                assert!(
                    found.low <= truth + slack && truth <= found.high + slack,
                    "{found:?} {truth}"
                );
            }
        }
    }

    #[test]
    fn a_limit_on_the_wrong_side_moves() {
        let found = Estimate::new(5.0, 6.0, 4.0);
        assert_eq!(found, Estimate::exact(5.0));
        assert!(found.is_exact() && !Estimate::between(1.0, 2.0).is_exact());
    }
}
