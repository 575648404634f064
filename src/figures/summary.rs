//! Many measurements in few numbers.

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
