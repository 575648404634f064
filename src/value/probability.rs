//! A probability that cannot leave 0 to 1.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A number from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(from = "f64", into = "f64")]
pub struct Probability(f64);

impl Probability {
    pub const ZERO: Self = Self(0.0);
    pub const ONE: Self = Self(1.0);

    /// Clamps to 0..=1; what is not a number counts as 0, so that a fault upstream never looks certain.
    pub fn new(value: f64) -> Self {
        if value.is_nan() {
            Self::ZERO
        } else {
            Self(value.clamp(0.0, 1.0))
        }
    }

    pub fn get(self) -> f64 {
        self.0
    }

    /// The probability of the opposite.
    #[expect(
        clippy::should_implement_trait,
        reason = "`!p` would read as a question about a boolean"
    )]
    pub fn not(self) -> Self {
        Self(1.0 - self.0)
    }

    /// The probability of both, when they are independent.
    pub fn and(self, other: Self) -> Self {
        Self(self.0 * other.0)
    }

    /// Natural log-odds; infinite at 0 and 1.
    pub fn log_odds(self) -> f64 {
        (self.0 / (1.0 - self.0)).ln()
    }
}

impl From<f64> for Probability {
    fn from(value: f64) -> Self {
        Self::new(value)
    }
}

impl From<Probability> for f64 {
    fn from(value: Probability) -> Self {
        value.0
    }
}

impl fmt::Display for Probability {
    /// Four decimals, never rounded up to certainty: .99996 prints as 0.9999.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 < 1.0 {
            write!(f, "{:.4}", self.0.min(0.9999))
        } else {
            write!(f, "1.0000")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stays_between_0_and_1_and_never_shows_a_false_certainty() {
        assert_eq!(Probability::new(f64::NAN), Probability::ZERO);
        assert_eq!(Probability::new(1.5), Probability::ONE);
        assert_eq!(Probability::new(0.99996).to_string(), "0.9999");
        assert_eq!(Probability::ONE.to_string(), "1.0000");
    }
}
