//! A line's picture as the net was trained on it.

use image::imageops::{self, FilterType};
use image::{GrayImage, Luma};

/// Height of the net's picture in pixels.
pub(super) const HEIGHT: u32 = 40;

/// Height in pixels that the line fills; the rest is paper above and below. Lower is faster: the line gets shorter too.
/// On tuning seeds 104 and 106 (400 sheets) 24, 27, 30 and 34 read 71.5, 73.3, 72.3 and 72.7 % of the found strips exactly,
/// in 13.7, 15.2, 16.7 and 18.2 ms a line.
const INNER: u32 = 27;

/// Paper to the left and right of the line, in pixels.
const SIDE: u32 = 8;

/// Pixels that one of the net's columns covers.
const COLUMN: u32 = 4;

/// Widest line in pixels, once scaled; longer ones are squeezed.
const MAX_WIDTH: u32 = 8_000;

/// Share of pixels darker than the line's black and than its paper, and the least range of grey levels between them:
/// as in `training/draw.py`.
const BLACK: f64 = 0.02;
const PAPER: f64 = 0.9;
const LEAST_RANGE: f32 = 40.0;

/// Black about 0, paper about 1, row after row.
pub(super) struct Picture {
    pub pixels: Vec<f32>,
    pub width: usize,
    /// Pixels of the line for one of the net's columns.
    scale: f64,
    line_width: u32,
}

impl Picture {
    /// Where one of the net's columns begins on the line, in pixels.
    pub fn to_line(&self, column: f64) -> u32 {
        let x = (column * f64::from(COLUMN) - f64::from(SIDE)) * self.scale;
        x.round().clamp(0.0, self.line_width.into()) as u32
    }
}

/// Scales a line of at least one pixel and stretches its contrast.
pub(super) fn prepare(line: &GrayImage) -> Picture {
    let width = f64::from(line.width()) * f64::from(INNER) / f64::from(line.height());
    let width = (width.round() as u32).clamp(1, MAX_WIDTH);
    let scaled = imageops::resize(line, width, INNER, FilterType::Triangle);
    let paper = level(&scaled, PAPER);
    let whole = (width + 2 * SIDE).next_multiple_of(2 * COLUMN);
    let mut picture = GrayImage::from_pixel(whole, HEIGHT, Luma([paper]));
    let top = i64::from((HEIGHT - INNER) / 2);
    imageops::replace(&mut picture, &scaled, i64::from(SIDE), top);
    let paper = f32::from(level(&picture, PAPER));
    let black = f32::from(level(&picture, BLACK)).min(paper - LEAST_RANGE);
    let pixels = picture
        .as_raw()
        .iter()
        .map(|&grey| ((f32::from(grey) - black) / (paper - black)).clamp(-0.5, 1.5))
        .collect();
    Picture {
        pixels,
        width: whole as usize,
        scale: f64::from(line.width()) / f64::from(width),
        line_width: line.width(),
    }
}

/// The grey level below which this share of the pixels lies.
fn level(picture: &GrayImage, share: f64) -> u8 {
    let mut counts = [0usize; 256];
    for &grey in picture.as_raw() {
        counts[usize::from(grey)] += 1;
    }
    let mut left = (share * (picture.as_raw().len() as f64 - 1.0)) as usize;
    for (grey, count) in (0..=255u8).zip(counts) {
        if count > left {
            return grey;
        }
        left -= count;
    }
    255
}
