//! Cells: what a picture is on a terminal.

use super::mode::Mode;
use image::GrayImage;

/// One cell of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cell {
    pub glyph: char,
    /// Grey of the glyph's dots and of what is behind them, 0 black to 255 white, of those that 256-colour terminals
    /// have; of no meaning in pictures of one bit.
    pub ink: u8,
    pub ground: u8,
    /// Not part of the picture: a mark put on it.
    pub is_mark: bool,
}

impl Cell {
    pub const BLANK: Self = Self {
        glyph: ' ',
        ink: 0,
        ground: 255,
        is_mark: false,
    };

    /// Points from below at a character that the reader doubts.
    pub const DOUBT: Self = Self {
        glyph: '^',
        ink: 0,
        ground: 255,
        is_mark: true,
    };
}

/// A picture in rows of cells, all of one width.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Cells {
    pub rows: Vec<Vec<Cell>>,
    /// The greys count; otherwise the terminal's own two colours are to be used.
    pub has_greys: bool,
}

impl Cells {
    pub fn width(&self) -> usize {
        self.rows.first().map_or(0, Vec::len)
    }

    pub fn height(&self) -> usize {
        self.rows.len()
    }

    /// Cells of dots: `dots` has as many pixels as the cells have dots, `threshold` tells ink from ground in one bit.
    pub(super) fn of_dots(dots: &GrayImage, mode: Mode, threshold: u8) -> Self {
        let (across, down) = mode.glyphs.dots();
        let row = |y: u32| {
            let cell = |x: u32| {
                let mut values = [255; 8];
                let count = (across * down) as usize;
                for (at, value) in (0..).zip(&mut values[..count]) {
                    *value = dots
                        .get_pixel(x * across + at % across, y * down + at / across)
                        .0[0];
                }
                match mode.has_greys {
                    true => in_two_greys(&values[..count], mode),
                    false => in_one_bit(&values[..count], mode, threshold),
                }
            };
            (0..dots.width() / across).map(cell).collect()
        };
        Self {
            rows: (0..dots.height() / down).map(row).collect(),
            has_greys: mode.has_greys,
        }
    }

    /// Puts a mark at a cell; rows are added where it lies below the picture.
    pub(super) fn mark(&mut self, column: usize, row: usize) {
        let width = self.width();
        while self.rows.len() <= row {
            self.rows.push(vec![Cell::BLANK; width]);
        }
        if let Some(cell) = self.rows[row].get_mut(column) {
            *cell = Cell::DOUBT;
        }
    }

    /// The share of a row's cells between two columns that show anything.
    pub(super) fn ink_in(&self, row: usize, columns: std::ops::Range<usize>) -> usize {
        let Some(row) = self.rows.get(row) else {
            return 0;
        };
        let end = columns.end.min(row.len());
        let cells = row.get(columns.start.min(end)..end).unwrap_or_default();
        cells
            .iter()
            .filter(|cell| cell.glyph != ' ' && cell.glyph != '\u{2800}')
            .count()
    }
}

fn bits(values: &[u8], is_ink: impl Fn(u8) -> bool) -> u8 {
    let set = values.iter().zip(0..).filter(|(value, _)| is_ink(**value));
    set.fold(0, |bits, (_, at)| bits | 1 << at)
}

fn in_one_bit(values: &[u8], mode: Mode, threshold: u8) -> Cell {
    Cell {
        glyph: mode.glyphs.glyph(bits(values, |value| value <= threshold)),
        ..Cell::BLANK
    }
}

/// The two greys and the split between them that leave the least squared error: with grey values the best split is a
/// threshold, so all of them are tried.
fn in_two_greys(values: &[u8], mode: Mode) -> Cell {
    /// Differences within a cell up to this are grain, in grey levels: one step of the palette.
    const GRAIN: u8 = 10;
    let mut sorted = [0; 8];
    let sorted = &mut sorted[..values.len()];
    sorted.copy_from_slice(values);
    sorted.sort_unstable();
    let (darkest, lightest) = (sorted[0], sorted[sorted.len() - 1]);
    let mean = |part: &[u8]| {
        let sum: u32 = part.iter().map(|&value| u32::from(value)).sum();
        f64::from(sum) / part.len() as f64
    };
    if lightest - darkest <= GRAIN {
        return Cell {
            ground: nearest_of_palette(mean(sorted)),
            ..Cell::BLANK
        };
    }
    // The error is least where the means weighted by their numbers lie farthest apart.
    let split = |at: usize| {
        let (dark, light) = sorted.split_at(at);
        let gain =
            dark.len() as f64 * mean(dark).powi(2) + light.len() as f64 * mean(light).powi(2);
        (gain, at)
    };
    let (_, at) = (1..sorted.len())
        .map(split)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .expect("a cell has two dots at least");
    let (dark, light) = sorted.split_at(at);
    let last_dark = dark[dark.len() - 1];
    Cell {
        glyph: mode.glyphs.glyph(bits(values, |value| value <= last_dark)),
        ink: nearest_of_palette(mean(dark)),
        ground: nearest_of_palette(mean(light)),
        is_mark: false,
    }
}

/// The greys of a 256-colour palette: black (16), 24 steps from 8 to 238 (232 to 255), white (231).
const FIRST_STEP: f64 = 8.0;
const STEP: f64 = 10.0;
const LAST_STEP: f64 = 23.0;

fn nearest_of_palette(grey: f64) -> u8 {
    let step = FIRST_STEP + STEP * ((grey - FIRST_STEP) / STEP).round().clamp(0.0, LAST_STEP);
    let nearest = [0.0, step, 255.0]
        .into_iter()
        .min_by(|a, b| (a - grey).abs().total_cmp(&(b - grey).abs()));
    nearest.unwrap_or(grey) as u8
}

/// The colour's number in a 256-colour palette.
pub fn palette_index(grey: u8) -> u8 {
    match f64::from(nearest_of_palette(f64::from(grey))) {
        0.0 => 16,
        255.0 => 231,
        step => 232 + ((step - FIRST_STEP) / STEP) as u8,
    }
}

#[cfg(test)]
mod tests {
    use super::super::mode::Glyphs;
    use super::*;

    #[test]
    fn a_cell_takes_the_split_that_loses_least() {
        let mode = Mode::new(Glyphs::Sextants, true);
        let check = |values: [u8; 6], bits: u8, ink: u8, ground: u8| {
            let cell = in_two_greys(&values, mode);
            let expected = Cell {
                glyph: mode.glyphs.glyph(bits),
                ink,
                ground,
                is_mark: false,
            };
            assert_eq!(cell, expected, "{values:?}");
        };
        check([0, 255, 255, 0, 255, 255], 0b00_1001, 0, 255);
        check([0, 118, 118, 118, 255, 255], 0b00_1111, 88, 255);
        check([250, 255, 252, 255, 255, 255], 0, 0, 255);
        check([120, 120, 120, 120, 121, 122], 0, 0, 118);
        check([255, 255, 255, 255, 255, 0], 0b10_0000, 0, 255);
    }

    #[test]
    fn greys_are_those_of_the_palette() {
        for (grey, number) in [
            (0, 16),
            (3, 16),
            (5, 232),
            (8, 232),
            (128, 244),
            (238, 255),
            (250, 231),
            (255, 231),
        ] {
            assert_eq!(palette_index(grey), number, "{grey}");
        }
        assert!((0..=255).all(|grey| nearest_of_palette(f64::from(grey)).abs_diff(grey) <= 8));
    }

    #[test]
    fn one_bit_follows_the_threshold() {
        let mode = Mode::new(Glyphs::Quadrants, false);
        assert_eq!(in_one_bit(&[0, 90, 91, 255], mode, 90).glyph, '▀');
    }
}
