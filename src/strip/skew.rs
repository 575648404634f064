//! How a sheet leans.

use image::GrayImage;

/// Steepest lean that is looked for, as a slope: 7 degrees.
const STEEPEST: f64 = 0.123;
/// Slopes tried first, then between: a tenth of a degree in the end.
const COARSE_STEP: f64 = 0.007;
const FINE_STEP: f64 = 0.00175;

/// The slopes that the picture's level structure may have, the likeliest first: positive where it falls to the right.
///
/// The edges that run along a sheet (its own, a band's, rules, frames, rows of type) are sharpest in the row sums of
/// the vertical gradient when the rows lean as they do. Grain has no such direction. A second slope is given where
/// something else is nearly as sharp: the end of the scanner's bed, say, beside a sheet laid askew.
pub fn slopes(image: &GrayImage) -> Vec<f64> {
    /// Coarse steps by which two slopes must differ.
    const APART: usize = 3;
    /// Sharpness of the second slope, as a share of the first's.
    const NEARLY: f64 = 0.25;
    let coarse = Gradient::of(image, 8);
    let tries = (STEEPEST / COARSE_STEP) as i32;
    let tried: Vec<(f64, f64)> = (-tries..=tries)
        .map(|i| f64::from(i) * COARSE_STEP)
        .map(|slope| (coarse.sharpness(slope), slope))
        .collect();
    let peak = |apart_from: Option<usize>| {
        (0..tried.len())
            .filter(|&at| apart_from.is_none_or(|first| at.abs_diff(first) >= APART))
            .max_by(|&a, &b| tried[a].0.total_cmp(&tried[b].0))
    };
    let first = peak(None);
    let second = peak(first).filter(|&at| first.is_some_and(|f| tried[at].0 > NEARLY * tried[f].0));
    let fine = Gradient::of(image, 4);
    let refined = |at: usize| {
        (-4..=4)
            .map(|i| tried[at].1 + f64::from(i) * FINE_STEP)
            .map(|slope| (fine.sharpness(slope), slope))
            .fold((f64::NEG_INFINITY, 0.0), |best, try_| {
                if try_.0 > best.0 { try_ } else { best }
            })
            .1
    };
    first.into_iter().chain(second).map(refined).collect()
}

/// Vertical gradients, summed over strips of neighbouring columns; strip after strip.
struct Gradient {
    sums: Vec<i16>,
    height: usize,
    columns: usize,
}

impl Gradient {
    fn of(image: &GrayImage, columns: usize) -> Self {
        let (width, height) = (image.width() as usize, image.height() as usize);
        let strips = (width / columns).max(1);
        let mut sums = vec![0i16; strips * height];
        let raw = image.as_raw();
        for y in 2..height {
            let (above, here) = (&raw[(y - 2) * width..][..width], &raw[y * width..][..width]);
            let pairs = above.chunks(columns).zip(here.chunks(columns)).take(strips);
            for (strip, (above, here)) in pairs.enumerate() {
                let sum = |cells: &[u8]| cells.iter().map(|&v| i16::from(v)).sum::<i16>();
                sums[strip * height + y] = sum(here) - sum(above);
            }
        }
        Self {
            sums,
            height,
            columns,
        }
    }

    /// Sum of squares of the row sums of the picture levelled by a slope.
    fn sharpness(&self, slope: f64) -> f64 {
        let mut profile = vec![0i32; self.height];
        for (strip, sums) in self.sums.chunks_exact(self.height).enumerate() {
            let drop = (slope * ((strip * self.columns) as f64)).round() as isize;
            // Row y of the level picture is row y + drop here.
            let (from, into) = (drop.max(0) as usize, (-drop).max(0) as usize);
            let count = self.height.saturating_sub(from.max(into));
            if count > 0 {
                let cells = &sums[from..from + count];
                for (total, &cell) in profile[into..into + count].iter_mut().zip(cells) {
                    *total += i32::from(cell);
                }
            }
        }
        profile.iter().map(|&sum| f64::from(sum).powi(2)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strip::cut::{Placement, cut};
    use crate::value::Point;
    use image::Luma;

    #[test]
    fn the_lean_of_drawn_rules_is_measured_and_undone() {
        for degrees in [-5.0f64, -1.3, 0.0, 0.4, 2.0, 6.0] {
            let slope_drawn = degrees.to_radians().tan();
            let image = GrayImage::from_fn(700, 500, |x, y| {
                let along = f64::from(y) - f64::from(x) * slope_drawn;
                let grain = (x * 31 + y * 17) % 23;
                Luma([if along.rem_euclid(90.0) < 3.0 {
                    40
                } else {
                    200 + grain as u8
                }])
            });
            let found = slopes(&image)[0];
            assert!(
                (found.atan().to_degrees() - degrees).abs() < 0.11,
                "{degrees}: {found}"
            );
            let centre = Point { x: 349.5, y: 249.5 };
            let level = cut(
                &image,
                Placement::about(centre, found.atan(), 700, 500),
                200,
            );
            let left = slopes(&level)[0];
            assert!(left.abs() < 0.004, "{degrees}: {left} left");
        }
    }

    /// A real scanned page, turned by known angles: found at least as well as by the PyPI package deskew 1.6.1, whose
    /// answers lie beside the page; see the README there.
    #[test]
    fn the_lean_of_a_scanned_page_is_found_as_well_as_by_deskew() {
        let folder = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/tests/data/published/leptonica/"
        );
        let page = image::open(format!("{folder}lucasta.150.jpg"))
            .expect("the page lies there")
            .into_luma8();
        let (width, height) = page.dimensions();
        let centre = Point {
            x: f64::from(width) / 2.0,
            y: f64::from(height) / 2.0,
        };
        let mut table = csv::Reader::from_path(format!("{folder}deskew_angles.csv")).unwrap();
        let (mut own_errors, mut others_errors) = (Vec::new(), Vec::new());
        for row in table.deserialize() {
            let (degrees, deskew): (f64, f64) = row.unwrap();
            let turn = Placement::about(centre, -degrees.to_radians(), width, height);
            let found = slopes(&cut(&page, turn, 240))[0].atan().to_degrees();
            assert!((found - degrees).abs() < 0.1, "{degrees}: {found}");
            own_errors.push((found - degrees).abs());
            others_errors.push((deskew - degrees).abs());
        }
        let mean = |errors: &[f64]| errors.iter().sum::<f64>() / errors.len() as f64;
        assert!(
            mean(&own_errors) <= mean(&others_errors) + 0.01,
            "{own_errors:?} {others_errors:?}"
        );
    }
}
