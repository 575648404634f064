//! A total told from a sample of pieces by what goes with it: sheets by inches of drawer.

use super::estimate::Estimate;
use super::special::student_deviate;

/// A piece of the whole that was both measured and counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// What is known of the whole, too: inches.
    pub measured: f64,
    /// What is wanted of the whole: sheets.
    pub counted: f64,
}

/// A total estimated as (all counted / all measured) times the measure of the whole.
///
/// Source: Cochran, Sampling Techniques (3rd edition, 1977), chapter 6, from memory; checked against an example of
/// Scheaffer, Mendenhall and Ott, Elementary Survey Sampling.
#[derive(Debug, Clone, PartialEq)]
pub struct RatioEstimate {
    pub pieces: usize,
    /// Counted over measured.
    pub ratio: f64,
    pub total: f64,
    /// Of the total; none of a single piece, which says nothing of how pieces differ.
    pub standard_error: Option<f64>,
    /// The share of the whole that was measured.
    pub sampled: f64,
    /// At most so many standard errors the estimate is off on average, since it is a quotient: the coefficient of
    /// variation of the mean measure, 0 for pieces of one length.
    pub bias: f64,
    /// All that was counted: there is no less.
    counted: f64,
}

impl RatioEstimate {
    /// From pieces drawn at random out of a whole of measure `whole`. `population` is the number of pieces that there
    /// are; where nobody knows it, the whole is taken to fall into pieces as long as those measured on average.
    /// `rounding` is the variance that a count has by itself, as where a piece ends within a sheet.
    ///
    /// None where there is no piece, nothing was counted, or a number is none or out of range.
    ///
    /// ```
    /// use headword::figures::{Piece, RatioEstimate};
    /// let pieces = [98.0, 104.0, 101.0].map(|counted| Piece { measured: 1.0, counted });
    /// let sheets = RatioEstimate::of(&pieces, 200.0, None, 0.0).unwrap();
    /// assert_eq!((sheets.ratio, sheets.total), (101.0, 20_200.0));
    /// ```
    pub fn of(
        pieces: &[Piece],
        whole: f64,
        population: Option<f64>,
        rounding: f64,
    ) -> Option<Self> {
        let count = pieces.len() as f64;
        let measured: f64 = pieces.iter().map(|piece| piece.measured).sum();
        let counted: f64 = pieces.iter().map(|piece| piece.counted).sum();
        let sound = |piece: &Piece| {
            piece.measured > 0.0 && piece.counted >= 0.0 && (piece.measured + piece.counted) < 1e15
        };
        if !(pieces.iter().all(sound) && counted > 0.0 && whole > 0.0 && whole < 1e15) {
            return None;
        }
        let ratio = counted / measured;
        let population = population.unwrap_or(whole * count / measured);
        let sampled = (count / population).clamp(0.0, 1.0);
        let spread = |of: &dyn Fn(&Piece) -> f64| {
            let squares: f64 = pieces.iter().map(|piece| of(piece).powi(2)).sum();
            squares / (count - 1.0)
        };
        let mean = measured / count;
        let has_spread = pieces.len() > 1;
        let standard_error = has_spread.then(|| {
            let residual = spread(&|piece| piece.counted - ratio * piece.measured);
            population * ((1.0 - sampled) * residual.max(rounding) / count).sqrt()
        });
        let varies = if has_spread {
            spread(&|piece| piece.measured - mean)
        } else {
            0.0
        };
        Some(Self {
            pieces: pieces.len(),
            ratio,
            total: ratio * whole,
            standard_error,
            sampled,
            bias: ((1.0 - sampled) * varies / count).sqrt() / mean,
            counted,
        })
    }

    /// The total between its limits, by Student's distribution with one degree of freedom fewer than pieces. None of a
    /// single piece.
    pub fn interval(&self, confidence: f64) -> Option<Estimate> {
        let error = self.standard_error?;
        // Of pieces that are the whole, without an error, no deviate may make one.
        let reach = if error > 0.0 {
            error * student_deviate(confidence, self.pieces as f64 - 1.0)
        } else {
            0.0
        };
        let low = (self.total - reach).max(self.counted);
        Some(Estimate::new(self.total, low, self.total + reach))
    }

    /// The bound on the error of estimation as textbooks give it: two standard errors.
    pub fn bound(&self) -> Option<f64> {
        self.standard_error.map(|error| 2.0 * error)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    /// Twelve trees of 250: basal area and volume; see tests/data/published.
    const TREES: &str = include_str!("../../tests/data/published/ratio_estimator_example.csv");

    fn trees() -> Vec<Piece> {
        let mut rows = csv::Reader::from_reader(TREES.as_bytes());
        rows.records()
            .map(|row| {
                let row = row.unwrap();
                Piece {
                    measured: row[1].parse().unwrap(),
                    counted: row[2].parse().unwrap(),
                }
            })
            .collect()
    }

    /// The ratio, the total and its bound as the example's solution has them.
    #[test]
    fn agrees_with_the_textbook() {
        let trees = trees();
        assert_eq!(trees.len(), 12);
        let found = RatioEstimate::of(&trees, 75.0, Some(250.0), 0.0).unwrap();
        assert!((found.ratio - 21.194).abs() < 5e-4, "{found:?}");
        assert!((found.total - 1589.55).abs() < 5e-3, "{found:?}");
        assert!(
            (found.bound().unwrap() - 186.32).abs() < 5e-3,
            "{:?}",
            found.bound()
        );
        // Student's deviate for 11 degrees of freedom is 2.201 (standard tables, from memory), so that the interval is
        // a tenth wider than the bound.
        let interval = found.interval(0.95).unwrap();
        let reach = 186.32 / 2.0 * 2.201;
        assert!(
            (interval.high - found.total - reach).abs() < 0.05,
            "{interval:?}"
        );
    }

    fn of(pieces: &[(f64, f64)], whole: f64, rounding: f64) -> Option<RatioEstimate> {
        let piece = |&(measured, counted): &(f64, f64)| Piece { measured, counted };
        let pieces: Vec<Piece> = pieces.iter().map(piece).collect();
        RatioEstimate::of(&pieces, whole, None, rounding)
    }

    #[test]
    fn single_whole_and_senseless_pieces() {
        let single = of(&[(1.0, 98.0)], 200.0, 0.0).unwrap();
        assert_eq!((single.total, single.bound()), (19_600.0, None));
        assert_eq!(single.interval(0.95), None);
        // All of it measured: nothing is estimated.
        let whole = of(&[(1.0, 98.0), (2.0, 150.0)], 3.0, 1.0).unwrap();
        let interval = whole.interval(0.95).unwrap();
        assert!((interval.low - 248.0).abs() < 1e-9 && (interval.high - 248.0).abs() < 1e-9);
        // Counts that agree are not taken to be without error.
        let alike = [(1.0, 98.0); 2];
        assert_eq!(of(&alike, 200.0, 0.0).unwrap().bound(), Some(0.0));
        assert!(of(&alike, 200.0, 0.25).unwrap().bound().unwrap() > 100.0);
        assert_eq!(of(&alike, 200.0, 0.0).unwrap().bias, 0.0);
        for senseless in [
            &[][..],
            &[(0.0, 98.0)],
            &[(1.0, 0.0), (1.0, 0.0)],
            &[(1.0, -1.0)],
            &[(f64::NAN, 1.0)],
            &[(1.0, f64::INFINITY)],
        ] {
            assert_eq!(of(senseless, 200.0, 0.0), None, "{senseless:?}");
        }
        assert_eq!(of(&[(1.0, 98.0)], f64::NAN, 0.0), None);
        assert_eq!(of(&[(1.0, 98.0)], 0.0, 0.0), None);
    }

    #[test]
    fn totals_grow_with_the_whole_and_lie_in_their_intervals() {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(2);
        for _ in 0..500 {
            let count = random.random_range(2..9);
            let mut piece = || {
                (
                    random.random_range(0.2..4.0),
                    random.random_range(0.0..500.0_f64).ceil() + 1.0,
                )
            };
            let pieces: Vec<(f64, f64)> = (0..count).map(|_| piece()).collect();
            let whole = random.random_range(40.0..2_000.0);
            let found = of(&pieces, whole, 0.0).unwrap();
            let larger = of(&pieces, whole * random.random_range(1.01..3.0), 0.0).unwrap();
            assert!(larger.total > found.total && larger.bound() >= found.bound());
            let (narrow, wide) = (found.interval(0.9).unwrap(), found.interval(0.99).unwrap());
            let counted: f64 = pieces.iter().map(|(_, counted)| counted).sum();
            for interval in [narrow, wide] {
                assert!(interval.low <= found.total && found.total <= interval.high);
                assert!(interval.low >= counted);
            }
            assert!(wide.high >= narrow.high && wide.low <= narrow.low);
            // The same in centimetres.
            let metric: Vec<_> = pieces
                .iter()
                .map(|(inches, n)| (inches * 2.54, *n))
                .collect();
            let metric = of(&metric, whole * 2.54, 0.0).unwrap();
            assert!((metric.total / found.total - 1.0).abs() < 1e-9);
            assert!((metric.bound().unwrap() - found.bound().unwrap()).abs() < 1e-6 * found.total);
        }
    }

    /// Of drawers filled at random, nine and a half in ten lie in their intervals.
    #[test]
    fn the_interval_holds_as_often_as_it_says() {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(3);
        let (mut held, rounds) = (0, 2_000);
        for _ in 0..rounds {
            let mut inch = || (1.0, (random.random_range(85.0..110.0_f64)).round());
            let drawer: Vec<(f64, f64)> = (0..60).map(|_| inch()).collect();
            let truth: f64 = drawer.iter().map(|(_, counted)| counted).sum();
            // The drawer is random, so that any four of its inches are drawn at random.
            let interval = of(&drawer[..4], 60.0, 0.0).unwrap().interval(0.95).unwrap();
            held += i32::from(interval.low <= truth && truth <= interval.high);
        }
        let share = f64::from(held) / f64::from(rounds);
        // Standard deviation .005.
        assert!((share - 0.95).abs() < 0.02, "{share}");
    }
}
