//! Many measurements in few numbers.

use super::estimate::Estimate;
use super::special::student_deviate;
use serde::{Deserialize, Serialize};

/// A mean that knows of how many values it is.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Mean {
    pub count: u64,
    sum: f64,
}

impl Mean {
    pub fn add(&mut self, value: f64) {
        self.count += 1;
        self.sum += value;
    }

    /// None where nothing was added.
    pub fn value(&self) -> Option<f64> {
        (self.count > 0).then(|| self.sum / self.count as f64)
    }
}

impl FromIterator<f64> for Mean {
    fn from_iter<I: IntoIterator<Item = f64>>(values: I) -> Self {
        let mut mean = Self::default();
        values.into_iter().for_each(|value| mean.add(value));
        mean
    }
}

/// A mean of values that differ, and how far it can be trusted for further values like them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spread {
    pub count: u64,
    pub mean: f64,
    /// Of single values; none of a single one.
    pub standard_deviation: Option<f64>,
}

impl Spread {
    /// None where there are no values.
    pub fn of(values: &[f64]) -> Option<Self> {
        let count = values.len() as f64;
        let mean = values.iter().copied().collect::<Mean>().value()?;
        let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
        Some(Self {
            count: values.len() as u64,
            mean,
            standard_deviation: (values.len() > 1).then(|| (squares / (count - 1.0)).sqrt()),
        })
    }

    /// Between which limits the mean of `further` values will lie, where values are independent and none is below
    /// zero: by Student's distribution, which is right on average for skewed values once there are some dozens. None
    /// of a single value.
    pub fn of_further(&self, further: f64, confidence: f64) -> Option<Estimate> {
        let deviation = self.standard_deviation?;
        let error = deviation * (1.0 / self.count as f64 + 1.0 / further.max(1.0)).sqrt();
        let reach = match error > 0.0 {
            true => error * student_deviate(confidence, self.count as f64 - 1.0),
            false => 0.0,
        };
        Some(Estimate::new(
            self.mean,
            (self.mean - reach).max(0.0),
            self.mean + reach,
        ))
    }
}

/// Values in order, to be asked for quantiles.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Quantiles(Vec<f64>);

impl Quantiles {
    /// Values that are no numbers are left out.
    pub fn of(values: impl IntoIterator<Item = f64>) -> Self {
        let mut sorted: Vec<f64> = values.into_iter().filter(|value| !value.is_nan()).collect();
        sorted.sort_by(f64::total_cmp);
        Self(sorted)
    }

    pub fn count(&self) -> usize {
        self.0.len()
    }

    /// The value below which `share` (0 to 1) of the values lie, between two values by a straight line. None where
    /// there are no values or the share is no number.
    ///
    /// Source: definition 7 of Hyndman and Fan, The American Statistician 50 (1996), from memory.
    ///
    /// ```
    /// use headword::figures::Quantiles;
    /// let milliseconds = Quantiles::of([4.0, 1.0, 3.0, 2.0]);
    /// assert_eq!(milliseconds.at(0.5), Some(2.5));
    /// ```
    pub fn at(&self, share: f64) -> Option<f64> {
        let last = self.0.len().checked_sub(1)?;
        if share.is_nan() {
            return None;
        }
        let place = share.clamp(0.0, 1.0) * last as f64;
        let (below, above) = (place.floor() as usize, place.ceil() as usize);
        let (low, high) = (self.0[below], self.0[above]);
        // Not by a sum of products alone: between two infinite values that would be no number.
        Some(if low == high {
            low
        } else {
            low + (high - low) * (place - place.floor())
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn further_values_lie_about_the_mean() {
        assert_eq!(Spread::of(&[]), None);
        let one = Spread::of(&[3.0]).unwrap();
        assert_eq!((one.mean, one.of_further(10.0, 0.95)), (3.0, None));
        let spread = Spread::of(&[1.0, 2.0, 6.0]).unwrap();
        assert_eq!(spread.standard_deviation, Some(7.0_f64.sqrt()));
        // 4.303 is Student's deviate for two degrees of freedom (standard tables, from memory).
        let endless = spread.of_further(1e12, 0.95).unwrap();
        assert!((endless.high - 3.0 - 4.303 * (7.0_f64 / 3.0).sqrt()).abs() < 1e-2);
        assert_eq!(endless.low, 0.0);
        let few = spread.of_further(1.0, 0.95).unwrap();
        assert!((few.high - 3.0 - 4.303 * (28.0_f64 / 3.0).sqrt()).abs() < 1e-2);
        let even = Spread::of(&[2.0; 5]).unwrap().of_further(9.0, 0.95);
        assert_eq!(even, Some(Estimate::exact(2.0)));
    }

    #[test]
    fn means_and_quantiles() {
        let mean: Mean = [1.0, 2.0, 6.0].into_iter().collect();
        assert_eq!((mean.count, mean.value()), (3, Some(3.0)));
        assert_eq!(Mean::default().value(), None);

        let quantiles = Quantiles::of([10.0, f64::NAN, 30.0, 20.0]);
        assert_eq!(quantiles.count(), 3);
        for (share, value) in [
            (-1.0, 10.0),
            (0.0, 10.0),
            (0.25, 15.0),
            (0.5, 20.0),
            (0.9, 28.0),
            (1.0, 30.0),
            (9.0, 30.0),
        ] {
            assert_eq!(quantiles.at(share), Some(value), "{share}");
        }
        assert_eq!(quantiles.at(f64::NAN), None);
        assert_eq!(Quantiles::of([]).at(0.5), None);
        assert_eq!(
            Quantiles::of([f64::INFINITY; 2]).at(0.5),
            Some(f64::INFINITY)
        );
    }
}
