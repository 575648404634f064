//! What two searches missed, from what each found and what both did (capture-recapture).

use serde::{Deserialize, Serialize};

/// What two independent searches of the same things found.
///
/// Both estimates suppose that the searches know nothing of each other and that all things are equally easy to find.
/// Where hard things are hard for both, they are too low.
///
/// Source: Lincoln and Petersen's estimate, used for what two proofreaders missed by Pólya, American Mathematical
/// Monthly 83 (1976); Chapman's (1951) and its variance by Seber (1970), from memory, checked against worked examples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Recapture {
    /// Found by the first, whether the second found it or not.
    pub first: u64,
    /// Found by the second.
    pub second: u64,
    /// Found by both; never more than either found.
    pub both: u64,
}

impl Recapture {
    /// How many there are in all, after Lincoln and Petersen; none where nothing was found twice.
    ///
    /// ```
    /// let searches = headword::figures::Recapture { first: 50, second: 60, both: 10 };
    /// assert_eq!(searches.lincoln_petersen(), Some(300.0));
    /// ```
    pub fn lincoln_petersen(&self) -> Option<f64> {
        let both = self.both as f64;
        (self.both > 0).then(|| self.first as f64 * self.second as f64 / both)
    }

    /// How many there are in all, after Chapman: nearly without bias, and finite where nothing was found twice.
    pub fn chapman(&self) -> f64 {
        let [first, second, both] = self.numbers();
        (first + 1.0) * (second + 1.0) / (both + 1.0) - 1.0
    }

    /// The standard error of Chapman's estimate.
    pub fn chapman_standard_error(&self) -> f64 {
        let [first, second, both] = self.numbers();
        let once = (first - both) * (second - both);
        let variance =
            (first + 1.0) * (second + 1.0) * once / ((both + 1.0).powi(2) * (both + 2.0));
        variance.sqrt()
    }

    /// How many neither found, after Lincoln and Petersen.
    pub fn missed(&self) -> Option<f64> {
        let [first, second, both] = self.numbers();
        (self.both > 0).then(|| (first - both) * (second - both) / both)
    }

    /// How many neither found, after Chapman.
    pub fn missed_chapman(&self) -> f64 {
        let [first, second, both] = self.numbers();
        // Chapman's total less what was found, worked out, since a difference of large numbers loses digits.
        (first - both) * (second - both) / (both + 1.0)
    }

    /// As numbers to reckon with; more found by both than by either counts as found by both.
    fn numbers(&self) -> [f64; 3] {
        let both = self.both.min(self.first).min(self.second);
        [self.first as f64, self.second as f64, both as f64]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked examples, each row with its source and with what was only recomputed.
    const EXAMPLES: &str =
        include_str!("../../tests/data/published/capture_recapture_examples.csv");

    #[test]
    fn agrees_with_every_published_example() {
        let mut rows = 0;
        for row in csv::Reader::from_reader(EXAMPLES.as_bytes()).records() {
            let row = row.unwrap();
            let count = |column: usize| row[column].parse::<u64>().unwrap();
            let searches = Recapture {
                first: count(0),
                second: count(1),
                both: count(2),
            };
            let found = [
                searches.lincoln_petersen().unwrap(),
                searches.chapman(),
                searches.missed().unwrap(),
            ];
            for (found, published) in found.into_iter().zip(row.iter().skip(3)) {
                let digits = published.split_once('.').map_or(0, |(_, d)| d.len() as i32);
                let tolerance = 0.5 * 10_f64.powi(-digits) + 1e-9;
                let published: f64 = published.parse().unwrap();
                assert!((found - published).abs() <= tolerance, "{found} in {row:?}");
            }
            let rest = searches.chapman() - (count(0) + count(1) - count(2)) as f64;
            assert!((rest - searches.missed_chapman()).abs() < 1e-9);
            rows += 1;
        }
        assert_eq!(rows, 6);
        // The same page gives the standard error of its example: 65.46.
        let searches = Recapture {
            first: 50,
            second: 60,
            both: 10,
        };
        assert!((searches.chapman_standard_error() - 65.46).abs() < 0.005);
    }

    #[test]
    fn nothing_found_twice_leaves_only_chapmans() {
        let searches = Recapture {
            first: 4,
            second: 3,
            both: 0,
        };
        assert_eq!(searches.lincoln_petersen(), None);
        assert_eq!(searches.missed(), None);
        assert_eq!(
            (searches.chapman(), searches.missed_chapman()),
            (19.0, 12.0)
        );
        assert_eq!(Recapture::default().chapman(), 0.0);
        let odd = Recapture {
            first: 1,
            second: 2,
            both: 9,
        };
        assert_eq!(
            (odd.missed(), odd.chapman_standard_error()),
            (Some(0.0), 0.0)
        );
    }
}
