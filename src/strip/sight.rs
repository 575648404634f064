//! A line and its surroundings as coarse cells: what is looked at for signs of amendment.

use super::Strip;
use super::clean::PAPER;
use super::ink::{Polarity, detail, histogram, percentile};
use crate::value::{Bounds, Point};
use image::{GrayImage, Luma};

/// Cells from the upper edge of a line's letters to the lower one: a typed stroke is about one cell wide.
const CORE_ROWS: usize = 8;
/// Rows of cells: the core, and four fifths of its height above and below.
pub const ROWS: usize = 21;
/// Ink, and the paper's tone.
pub const CHANNELS: usize = 2;
/// First row of the core.
const CORE_TOP: usize = (ROWS - CORE_ROWS) / 2;
/// Cells beyond the line's ends: room for a note as long as three letters.
pub const BESIDE: usize = 24;

/// A line's surroundings in reading order, upright and dark on light.
#[derive(Debug, Clone, PartialEq)]
pub struct Sight {
    /// Cells along the line.
    pub width: usize,
    /// Row by row, for each cell its ink (0 paper, 1 as dark as the line's own strokes) and its paper's tone beside
    /// that of the paper round it (in the same unit, positive where lighter).
    pub cells: Vec<f32>,
    /// Side of a cell, in pixels of the strip.
    pub cell: f64,
    /// Place of the first cell's corner, in pixels of the strip; may lie outside it.
    pub corner: Point,
}

/// The surroundings of each line of a strip, looked at on the source that it was cut from.
pub fn sights(source: &GrayImage, strip: &Strip) -> Vec<Sight> {
    let of_line = |line: &Bounds| sight(source, strip, *line);
    strip.lines.iter().filter_map(of_line).collect()
}

fn sight(source: &GrayImage, strip: &Strip, line: Bounds) -> Option<Sight> {
    let (top, bottom) = core(&strip.image, line)?;
    let cell = (bottom - top) / CORE_ROWS as f64;
    let corner = Point {
        x: f64::from(line.left) - BESIDE as f64 * cell,
        y: top - CORE_TOP as f64 * cell,
    };
    let width = (f64::from(line.width()) / cell).ceil() as usize + 2 * BESIDE;
    let grey = sampled(source, strip, corner, cell, width);
    Some(Sight {
        width,
        cells: channels(&grey),
        cell,
        corner,
    })
}

/// Upper and lower edge of a line's letters: the rows of pixels whose ink is not far below the fullest row's.
fn core(strip: &GrayImage, line: Bounds) -> Option<(f64, f64)> {
    /// Share of the fullest row's ink.
    const SHOULDER: f64 = 0.38;
    let rows: Vec<f64> = (line.top..line.bottom)
        .map(|y| {
            let start = (y * strip.width()) as usize;
            let row = &strip.as_raw()[start..start + strip.width() as usize];
            let row = &row[line.left as usize..line.right as usize];
            row.iter()
                .map(|&v| f64::from(PAPER.saturating_sub(v)))
                .sum()
        })
        .collect();
    let least = SHOULDER * rows.iter().copied().fold(0.0, f64::max);
    let first = rows.iter().position(|&ink| ink > least)?;
    let last = rows.iter().rposition(|&ink| ink > least)?;
    let top = f64::from(line.top);
    // A line of fewer rows than cells shows nothing.
    (last - first >= CORE_ROWS).then_some((top + first as f64, top + last as f64 + 1.0))
}

/// The mean grey of each cell, dark on light.
fn sampled(source: &GrayImage, strip: &Strip, corner: Point, cell: f64, width: usize) -> GrayImage {
    /// Pixels between samples, and most samples along a cell's side: more would add little but time.
    const APART: f64 = 1.5;
    const MOST: usize = 3;
    let [a, b, _, d] = strip.lay.corners.0;
    let (wide, high) = (
        f64::from(strip.image.width()),
        f64::from(strip.image.height()),
    );
    let right = ((b.x - a.x) / wide, (b.y - a.y) / wide);
    let down = ((d.x - a.x) / high, (d.y - a.y) / high);
    let samples = ((cell / APART).ceil() as usize).clamp(1, MOST);
    let step = cell / samples as f64;
    let limit = (
        i64::from(source.width()) - 1,
        i64::from(source.height()) - 1,
    );
    let raw = source.as_raw();
    let stride = source.width() as usize;
    let turn = if strip.lay.inverted { 255 } else { 0 };
    let mut sums = vec![0u32; width];
    let mut cells = GrayImage::new(width as u32, ROWS as u32);
    let area = (samples * samples) as u32;
    /// Fractions of a pixel in which places are counted.
    const ONE: f64 = 65536.0;
    for row in 0..ROWS {
        sums.fill(0);
        for within in 0..samples {
            let y = corner.y + ((row * samples + within) as f64 + 0.5) * step;
            let x = corner.x + 0.5 * step;
            let mut at = (
                ((a.x + right.0 * x + down.0 * y) * ONE) as i64,
                ((a.y + right.1 * x + down.1 * y) * ONE) as i64,
            );
            let steps = ((right.0 * step * ONE) as i64, (right.1 * step * ONE) as i64);
            for sum in &mut sums {
                for _ in 0..samples {
                    let (x, y) = (
                        (at.0 >> 16).clamp(0, limit.0),
                        (at.1 >> 16).clamp(0, limit.1),
                    );
                    *sum += u32::from(raw[y as usize * stride + x as usize]);
                    at = (at.0 + steps.0, at.1 + steps.1);
                }
            }
        }
        for (column, sum) in sums.iter().enumerate() {
            let grey = (sum + area / 2) / area;
            cells.put_pixel(column as u32, row as u32, Luma([grey as u8 ^ turn]));
        }
    }
    cells
}

/// Ink and paper of each cell.
fn channels(grey: &GrayImage) -> Vec<f32> {
    /// Window over which the paper is followed, in cells: wider than a stroke, narrower than most pasted slips.
    const PAPER_WINDOW: usize = 7;
    /// Share of the core's cells that hold no stroke at full strength.
    const INK_SHARE: f64 = 0.92;
    /// Least contrast of ink, in grey levels; fainter lines count as that.
    const LEAST_CONTRAST: f32 = 8.0;
    /// Cells to either side over which the paper's tone is evened out.
    const AROUND: usize = 28;
    let width = grey.width() as usize;
    let strength = detail(grey, Polarity::DarkOnLight, PAPER_WINDOW);
    let core = CORE_TOP * width..(CORE_TOP + CORE_ROWS) * width;
    let counts = histogram(&strength.as_raw()[core]);
    let grain = f32::from(percentile(&counts, 0.4));
    let contrast = (f32::from(percentile(&counts, INK_SHARE)) - grain).max(LEAST_CONTRAST);
    let paper: Vec<f32> = grey
        .as_raw()
        .iter()
        .zip(strength.as_raw())
        .map(|(&grey, &strength)| f32::from(grey) + f32::from(strength))
        .collect();
    let columns: Vec<f32> = (0..width)
        .map(|x| {
            let rows = CORE_TOP..CORE_TOP + CORE_ROWS;
            rows.map(|y| paper[y * width + x]).sum::<f32>() / CORE_ROWS as f32
        })
        .collect();
    let around: Vec<f32> = (0..width)
        .map(|x| {
            let near = &columns[x.saturating_sub(AROUND)..(x + AROUND + 1).min(width)];
            near.iter().sum::<f32>() / near.len() as f32
        })
        .collect();
    let mut cells = Vec::with_capacity(paper.len() * CHANNELS);
    for (at, (&paper, &strength)) in paper.iter().zip(strength.as_raw()).enumerate() {
        cells.push(((f32::from(strength) - grain) / contrast).clamp(0.0, 1.5));
        cells.push(((paper - around[at % width]) / contrast).clamp(-1.0, 1.0));
    }
    cells
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strip::Lay;
    use crate::value::Quad;

    const WIDTH: u32 = 400;
    const HEIGHT: u32 = 60;

    /// Upright strokes 24 pixels high on paper, with a darker slip under some of them; and the strip cut from it.
    fn typed(inverted: bool) -> (GrayImage, Strip) {
        let on_stroke = |x: u32, y: u32| x % 20 < 4 && (18..42).contains(&y);
        let source = GrayImage::from_fn(WIDTH, HEIGHT, |x, y| {
            let slip = (200..280).contains(&x) && (12..48).contains(&y);
            let grey = match (on_stroke(x, y), slip) {
                (true, _) => 60,
                (false, true) => 180,
                (false, false) => 210,
            };
            Luma([if inverted { 255 - grey } else { grey }])
        });
        let image = GrayImage::from_fn(WIDTH, HEIGHT, |x, y| {
            Luma([if on_stroke(x, y) { 45 } else { PAPER }])
        });
        let (right, bottom) = (f64::from(WIDTH), f64::from(HEIGHT));
        let corners = [(0.0, 0.0), (right, 0.0), (right, bottom), (0.0, bottom)];
        let lay = Lay {
            corners: Quad(corners.map(|(x, y)| Point { x, y })),
            turned: 0,
            mirrored: false,
            inverted,
            skew: 0.0,
            band: None,
            facing_margin: 10.0,
        };
        let lines = vec![Bounds::new(0, 18, WIDTH, 42)];
        (source, Strip { image, lines, lay })
    }

    #[test]
    fn ink_and_tone_are_seen_whatever_the_polarity() {
        for inverted in [false, true] {
            let (source, strip) = typed(inverted);
            let sights = sights(&source, &strip);
            let [sight] = &sights[..] else {
                panic!("one line, {} seen", sights.len())
            };
            assert_eq!((sight.cell, sight.corner.y), (3.0, 0.0));
            // Ink and tone of the cell that holds a pixel of the strip's middle row.
            let at = |x: f64| {
                let column = ((x - sight.corner.x) / sight.cell) as usize;
                let cell = (ROWS / 2 * sight.width + column) * CHANNELS;
                (sight.cells[cell], sight.cells[cell + 1])
            };
            let ((stroke, _), (gap, plain), (_, slip)) = (at(101.0), at(110.0), at(250.0));
            assert!(
                stroke > 0.8 && gap < 0.1,
                "inverted {inverted}: {stroke}, {gap}"
            );
            assert!(plain > slip + 0.15, "inverted {inverted}: {plain}, {slip}");
        }
    }
}
