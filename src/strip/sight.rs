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
