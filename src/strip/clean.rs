//! Even paper, full contrast, dark on light.

use super::ink::{Polarity, histogram, percentile};
use image::GrayImage;

/// Grey value of paper on a cleaned strip.
pub const PAPER: u8 = 245;
/// Grey value that the darker half of the ink comes to lie at.
const INK: f64 = 45.0;
/// On a cleaned strip, darker than this is ink: half way between the two.
pub const INK_BELOW: u8 = 150;

/// The polarity of a piece that is mostly paper: ink is the side on which the grey values tail off further.
pub fn polarity(piece: &GrayImage) -> Polarity {
    let counts = histogram(piece.as_raw());
    let at = |share| i32::from(percentile(&counts, share));
    let paper = at(0.5);
    if paper - at(0.03) >= at(0.97) - paper {
        Polarity::DarkOnLight
    } else {
        Polarity::LightOnDark
    }
}

/// Turns light on dark round, evens the paper out, and stretches the contrast.
///
/// `letter` is the letter height in pixels: the paper's brightness is followed over areas somewhat larger.
pub fn clean(mut piece: GrayImage, polarity: Polarity, letter: f64) -> GrayImage {
    if polarity == Polarity::LightOnDark {
        image::imageops::invert(&mut piece);
    }
    flatten(&mut piece, (1.6 * letter).max(8.0) as usize);
    stretch(&mut piece);
    piece
}

/// Divides by the brightness of the paper, which is measured in squares and interpolated between them.
fn flatten(piece: &mut GrayImage, square: usize) {
    /// Share of a square's pixels darker than its paper: letters cover less than half.
    const PAPER_SHARE: f64 = 0.72;
    /// Least brightness of paper, as a share of the usual; what is darker is bed or picture and stays dark.
    const LEAST_PAPER: f32 = 0.55;
    let (width, height) = (piece.width() as usize, piece.height() as usize);
    let (across, down) = (width.div_ceil(square), height.div_ceil(square));
    let mut paper = vec![0f32; across * down];
    let raw = piece.as_raw();
    for (cell, value) in paper.iter_mut().enumerate() {
        let (left, top) = (cell % across * square, cell / across * square);
        let (right, bottom) = ((left + square).min(width), (top + square).min(height));
        let rows = (top..bottom).flat_map(|y| &raw[y * width + left..y * width + right]);
        *value = f32::from(percentile(&histogram(rows), PAPER_SHARE)).max(1.0);
    }
    let mut sorted = paper.clone();
    let middle = sorted.len() / 2;
    let usual = *sorted.select_nth_unstable_by(middle, f32::total_cmp).1;
    let paper = median_of_neighbours(&paper, across, down);
    let paper: Vec<f32> = paper
        .iter()
        .map(|paper| paper.max(LEAST_PAPER * usual))
        .collect();
    let mut columns = Vec::with_capacity(width);
    for x in 0..width {
        columns.push(between(x, square, across));
    }
    for (y, row) in piece.as_mut().chunks_exact_mut(width).enumerate() {
        let (upper, lower, down_share) = between(y, square, down);
        for (value, &(left, right, share)) in row.iter_mut().zip(&columns) {
            let above = paper[upper * across + left] * (1.0 - share)
                + paper[upper * across + right] * share;
            let below = paper[lower * across + left] * (1.0 - share)
                + paper[lower * across + right] * share;
            let here = above * (1.0 - down_share) + below * down_share;
            *value = (f32::from(*value) * f32::from(PAPER) / here).min(255.0) as u8;
        }
    }
}

/// The two squares whose centres a pixel lies between, and how far it is on its way to the second.
fn between(at: usize, square: usize, count: usize) -> (usize, usize, f32) {
    let place = ((at as f32 + 0.5) / square as f32 - 0.5).clamp(0.0, (count - 1) as f32);
    let first = place as usize;
    (first, (first + 1).min(count - 1), place - first as f32)
}

/// A square full of ink takes its paper from the squares around it.
fn median_of_neighbours(cells: &[f32], across: usize, down: usize) -> Vec<f32> {
    let mut near = Vec::with_capacity(9);
    (0..cells.len())
        .map(|cell| {
            let (x, y) = (cell % across, cell / across);
            near.clear();
            for ny in y.saturating_sub(1)..(y + 2).min(down) {
                near.extend_from_slice(
                    &cells[ny * across + x.saturating_sub(1)..ny * across + (x + 2).min(across)],
                );
            }
            let middle = near.len() / 2;
            *near.select_nth_unstable_by(middle, f32::total_cmp).1
        })
        .collect()
}

/// Spreads the grey values so that ink comes out dark, whatever the ribbon; noise-only pieces gain four times at most.
fn stretch(piece: &mut GrayImage) {
    const MOST: f64 = 4.0;
    let counts = histogram(piece.as_raw());
    let split = usize::from(imageproc::contrast::otsu_level(piece));
    let mut dark = [0u32; 256];
    dark[..=split].copy_from_slice(&counts[..=split]);
    let ink = f64::from(percentile(&dark, 0.5));
    let paper = f64::from(PAPER);
    let gain = ((paper - INK) / (paper - ink).max(1.0)).clamp(1.0, MOST);
    for value in piece.as_mut() {
        *value = (paper - (paper - f64::from(*value)) * gain).clamp(0.0, 255.0) as u8;
    }
}
