//! A grey picture as cells.

use super::shape::Shape;
use image::imageops::{self, FilterType};
use image::{GrayImage, Luma};

/// One cell: a character in a dark grey on a light one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cell {
    pub symbol: char,
    pub ink: u8,
    pub paper: u8,
}

/// Rows of cells, top to bottom.
pub type Cells = Vec<Vec<Cell>>;

/// Share of pixels darker than what becomes black, and than what becomes white.
const BLACK: f64 = 0.01;
const WHITE: f64 = 0.6;
/// Share of the difference to its surroundings that sharpening adds, and how far these reach, in points.
const SHARPER: f32 = 0.7;
const REACH: f32 = 1.0;
/// Greys that lie closer together than this in a cell are one.
const LEAST_RANGE: u8 = 24;

/// Takes out the fall of light over a strip that is dark on light: each place is measured by the paper round it.
pub fn even_light(strip: &GrayImage) -> GrayImage {
    /// Width of the coarse picture that the paper is taken from.
    const COARSE: u32 = 48;
    let (width, height) = strip.dimensions();
    if width == 0 || height == 0 {
        return strip.clone();
    }
    let coarse = (
        COARSE.min(width),
        (COARSE * height / width).clamp(1, height),
    );
    let mut paper = GrayImage::new(coarse.0, coarse.1);
    for (x, y, grey) in paper.enumerate_pixels_mut() {
        let span = |at: u32, of: u32, size: u32| (at * size / of)..((at + 1) * size / of);
        let mut here: Vec<u8> = span(y, coarse.1, height)
            .flat_map(|y| span(x, coarse.0, width).map(move |x| strip.get_pixel(x, y)[0]))
            .collect();
        here.sort_unstable();
        // Type covers less than half of a place; its lighter half is paper.
        *grey = Luma([here.get(here.len() * 3 / 4).copied().unwrap_or(255)]);
    }
    let paper = imageops::resize(
        &imageops::blur(&paper, 2.0),
        width,
        height,
        FilterType::Triangle,
    );
    let mut even = strip.clone();
    for (grey, paper) in even.iter_mut().zip(paper.iter()) {
        let share = f32::from(*grey) / f32::from(*paper).max(32.0);
        *grey = (share * 235.0).min(255.0) as u8;
    }
    even
}

/// A picture scaled to so many cells; of one bit where there are no greys.
pub fn picture(image: &GrayImage, columns: u32, rows: u32, shape: Shape, greys: bool) -> Cells {
    if columns == 0 || rows == 0 || image.width() == 0 || image.height() == 0 {
        return Vec::new();
    }
    let (across, down) = shape.points();
    let scaled = imageops::resize(image, columns * across, rows * down, FilterType::Lanczos3);
    let points = stretched(&sharpened(&scaled));
    let greys = greys && shape != Shape::Braille;
    let row = |row: u32| {
        let cell = |column: u32| {
            let at = |n: u32| {
                let (x, y) = (column * across + n % across, row * down + n / across);
                points.get_pixel(x, y)[0]
            };
            let values: Vec<u8> = (0..across * down).map(at).collect();
            if greys {
                two_greys(&values, shape)
            } else {
                one_bit(&values, shape)
            }
        };
        (0..columns).map(cell).collect()
    };
    (0..rows).map(row).collect()
}

fn sharpened(image: &GrayImage) -> GrayImage {
    let soft = imageops::blur(image, REACH);
    let mut sharp = image.clone();
    for (grey, soft) in sharp.iter_mut().zip(soft.iter()) {
        let (own, soft) = (f32::from(*grey), f32::from(*soft));
        *grey = (own + SHARPER * (own - soft)).clamp(0.0, 255.0) as u8;
    }
    sharp
}

fn stretched(image: &GrayImage) -> GrayImage {
    let mut ranked: Vec<u8> = image.as_raw().clone();
    ranked.sort_unstable();
    let level = |share: f64| ranked[(share * (ranked.len() - 1) as f64) as usize];
    let (black, white) = (f32::from(level(BLACK)), f32::from(level(WHITE)));
    let range = (white - black).max(f32::from(LEAST_RANGE));
    let mut out = image.clone();
    for grey in out.iter_mut() {
        *grey = ((f32::from(*grey) - (white - range)) / range * 255.0).clamp(0.0, 255.0) as u8;
    }
    out
}

/// The two greys, and who has which, that leave least of the differences: sorted values parted at the best place.
fn two_greys(values: &[u8], shape: Shape) -> Cell {
    let mut sorted = values.to_vec();
    sorted.sort_unstable();
    let mean = |part: &[u8]| part.iter().map(|&v| f64::from(v)).sum::<f64>() / part.len() as f64;
    let spread = |part: &[u8]| {
        let mean = mean(part);
        part.iter()
            .map(|&v| (f64::from(v) - mean).powi(2))
            .sum::<f64>()
    };
    let is_even = sorted[sorted.len() - 1] - sorted[0] < LEAST_RANGE;
    if is_even {
        let grey = mean(&sorted).round() as u8;
        return Cell {
            symbol: ' ',
            ink: grey,
            paper: grey,
        };
    }
    let cost = |at: &usize| spread(&sorted[..*at]) + spread(&sorted[*at..]);
    let parted = (1..sorted.len())
        .min_by(|a, b| cost(a).total_cmp(&cost(b)))
        .unwrap_or(1);
    let (dark, light) = sorted.split_at(parted);
    let limit = dark[dark.len() - 1];
    let bits = bits(values, |value| value <= limit);
    Cell {
        symbol: shape.character(bits),
        ink: mean(dark).round() as u8,
        paper: mean(light).round() as u8,
    }
}

fn one_bit(values: &[u8], shape: Shape) -> Cell {
    Cell {
        symbol: shape.character(bits(values, |value| value < 128)),
        ink: 0,
        paper: 255,
    }
}

fn bits(values: &[u8], is_ink: impl Fn(u8) -> bool) -> u32 {
    let set = values
        .iter()
        .enumerate()
        .filter(|(_, value)| is_ink(**value));
    set.fold(0, |bits, (at, _)| bits | 1 << at)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ink in the left half.
    fn halved(width: u32, height: u32) -> GrayImage {
        GrayImage::from_fn(width, height, |x, _| {
            Luma([if x < width / 2 { 10 } else { 240 }])
        })
    }

    #[test]
    fn an_upright_edge_is_a_half_block() {
        for shape in [Shape::Sextant, Shape::Quadrant] {
            let cells = picture(&halved(30, 30), 3, 2, shape, true);
            assert_eq!((cells.len(), cells[0].len()), (2, 3));
            let row: String = cells[0].iter().map(|cell| cell.symbol).collect();
            assert_eq!(row, " ▌ ", "{shape:?}");
            assert!(cells[0][0].paper < 60 && cells[0][2].paper > 200);
            assert!(cells[0][1].ink < cells[0][1].paper);
        }
        let one = picture(&halved(30, 30), 3, 2, Shape::Sextant, false);
        let row: String = one[0].iter().map(|cell| cell.symbol).collect();
        assert_eq!(row, "█▌ ");
    }

    #[test]
    fn light_that_falls_off_is_evened_out() {
        let strip = GrayImage::from_fn(400, 60, |x, y| {
            let light = 250.0 - f64::from(x) * 0.4;
            let ink = (20..40).contains(&y) && x % 20 < 6;
            Luma([(if ink { light * 0.3 } else { light }) as u8])
        });
        let even = even_light(&strip);
        let paper = [10, 200, 390].map(|x| even.get_pixel(x, 5)[0]);
        assert!(
            paper.iter().all(|grey| grey.abs_diff(235) < 12),
            "{paper:?}"
        );
        let ink = [2, 202, 382].map(|x| even.get_pixel(x, 30)[0]);
        assert!(ink.iter().all(|&grey| grey < 110), "{ink:?}");
    }

    #[test]
    fn nothing_gives_no_cells_and_nothing_crashes() {
        assert!(picture(&GrayImage::new(0, 5), 4, 4, Shape::Half, true).is_empty());
        assert!(picture(&halved(3, 3), 0, 4, Shape::Half, true).is_empty());
        let tiny = picture(&halved(1, 1), 4, 4, Shape::Braille, true);
        assert_eq!((tiny.len(), tiny[0].len()), (4, 4));
        even_light(&GrayImage::new(1, 1));
        even_light(&GrayImage::new(3_000, 2));
        even_light(&GrayImage::new(2, 3_000));
    }
}
