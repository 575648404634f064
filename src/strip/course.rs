//! How typed lines run on a piece that should have them straight and level.

use super::cut::Bend;
use super::lines::Line;
use super::rows::median;

/// Slope and bend left over on a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// Positive where they fall to the right.
    pub slope: f64,
    pub bend: Bend,
}

impl Course {
    /// Whether straightening would be seen.
    pub fn is_worth_cutting_again(&self) -> bool {
        /// A twentieth of a degree.
        const LEAST_SLOPE: f64 = 0.0009;
        self.slope.abs() > LEAST_SLOPE || self.bend.curve != 0.0
    }
}

/// The course of the line with most letters; `None` for too few letters.
pub fn course(lines: &[Line]) -> Option<Course> {
    let line = lines.iter().max_by_key(|line| line.letters.len())?;
    let height = line.core.1 - line.core.0;
    let full: Vec<(f64, f64)> = line
        .letters
        .iter()
        .filter(|letter| (0.75..=1.35).contains(&(letter.height() / height)))
        .map(|letter| (letter.centre_x(), letter.centre_y()))
        .collect();
    if full.len() < 6 {
        return None;
    }
    // Theil-Sen: the median of the slopes of pairs half a line apart does not mind commas and broken letters.
    let half = full.len() / 2;
    let pairs = full.iter().zip(&full[half..]);
    let slope = median(pairs.map(|(a, b)| (b.1 - a.1) / (b.0 - a.0).max(1.0)));
    let (first, last) = (full[0].0, full[full.len() - 1].0);
    let middle = (first + last) / 2.0;
    let reach = (last - first) / 2.0;
    let level: Vec<(f64, f64)> = full
        .iter()
        .map(|&(x, y)| (x, y - slope * (x - middle)))
        .collect();
    let curve = sag(&level, height, middle, reach) / reach.max(1.0).powi(2);
    Some(Course {
        slope,
        bend: Bend { curve, middle },
    })
}

/// How much lower the ends of a line lie than its middle, in pixels, by the medians of its thirds; 0 where that is no
/// more than uneven letters bring about.
fn sag(letters: &[(f64, f64)], height: f64, middle: f64, reach: f64) -> f64 {
    /// Letters that a third has at least.
    const LEAST: usize = 5;
    /// Mean of u^2 over the outer thirds of -1..1, 13/27, less that over the inner third, 1/27.
    const LEVER: f64 = 12.0 / 27.0;
    /// Share of the letters' height from which a bow is seen.
    const LEAST_SAG: f64 = 0.08;
    /// Standard errors by which it must pass chance.
    const SURE: f64 = 2.5;
    let third = |from: f64, to: f64| {
        let within = letters.iter().filter(|(x, _)| {
            let u = (x - middle) / reach.max(1.0);
            (from..=to).contains(&u)
        });
        let heights: Vec<f64> = within.map(|&(_, y)| y).collect();
        let centre = median(heights.iter().copied());
        // The median's own error: 1.25 standard deviations, each 1.48 median deviations, over the root of the count.
        let spread = median(heights.iter().map(|y| (y - centre).abs()));
        let error = 1.25 * 1.48 * spread.max(0.5) / (heights.len() as f64).sqrt();
        (heights.len() >= LEAST).then_some((centre, error))
    };
    let thirds = [
        (-1.0, -1.0 / 3.0),
        (-1.0 / 3.0, 1.0 / 3.0),
        (1.0 / 3.0, 1.0),
    ];
    let [Some(left), Some(inner), Some(right)] = thirds.map(|(from, to)| third(from, to)) else {
        return 0.0;
    };
    let sag = ((left.0 + right.0) / 2.0 - inner.0) / LEVER;
    let error = (left.1.hypot(right.1) / 2.0).hypot(inner.1) / LEVER;
    let is_seen = sag.abs() > (SURE * error).max(LEAST_SAG * height);
    if is_seen { sag } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strip::ink::Component;
    use crate::value::Bounds;

    #[test]
    fn slope_and_bend_of_uneven_letters_are_measured() {
        for (slope, curve) in [(0.0, 0.0), (0.004, 0.0), (-0.003, 2e-5), (0.002, -1e-5)] {
            let letter = |at: u32| {
                let x = 40.0 + 30.0 * f64::from(at);
                let y = 60.0 + slope * x + curve * (x - 700.0).powi(2);
                // Every fifth is a comma, every seventh struck low.
                let height = if at % 5 == 4 { 8 } else { 26 };
                let top = (y - f64::from(height) / 2.0).round() as u32 + at % 7 / 6 * 2;
                Component {
                    bounds: Bounds::new(x as u32 - 8, top, x as u32 + 8, top + height),
                    area: 100,
                }
            };
            let line = Line {
                bounds: Bounds::new(0, 0, 1400, 120),
                core: (47.0, 73.0),
                expected: true,
                letters: (0..45).map(letter).collect(),
            };
            let found = course(&[line]).expect("there are letters enough");
            assert!(
                (found.slope - slope).abs() < 1.2e-3,
                "{slope}: {}",
                found.slope
            );
            let bend = found.bend;
            assert!((bend.curve - curve).abs() < 5e-6, "{curve}: {bend:?}");
            assert!((bend.middle - 700.0).abs() < 20.0, "{bend:?}");
            assert_eq!(
                found.is_worth_cutting_again(),
                slope != 0.0 || curve != 0.0,
                "{found:?}"
            );
        }
    }
}
