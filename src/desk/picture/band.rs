//! The whole strip, in as many bands as it takes for its type to be legible.

use super::cell::{Cell, Cells};
use super::mode::Mode;
use super::portrait::Portrait;
use super::prepare::{Levels, resized};
use image::{GrayImage, Luma, imageops};

/// A strip laid out in bands.
#[derive(Debug, Clone, PartialEq)]
pub struct Banded {
    /// Top to bottom: the strip's left part first. All at one scale.
    pub bands: Vec<Cells>,
    /// Cells that a typed character has across.
    pub cells_a_character: f64,
    /// That is enough to read it in this mode.
    pub is_legible: bool,
}

impl Banded {
    pub fn height(&self) -> usize {
        self.bands.iter().map(Cells::height).sum()
    }
}

/// More cells than these a character do not make it easier to read, and take rows from the rest of the screen.
pub(super) const MOST_CELLS: f64 = 8.0;

/// Most bands that the eye follows.
const MOST_BANDS: usize = 4;

/// Lays the strip out for a width, in at most so many rows; `marked` puts a mark below every doubtful character.
///
/// The fewest bands in which the type is legible are taken, else as many as there is room for. Bands end between
/// characters.
pub fn bands(
    portrait: &Portrait,
    mode: Mode,
    columns: u16,
    most_rows: u16,
    marked: bool,
) -> Banded {
    let (columns, most_rows) = (usize::from(columns.max(1)), usize::from(most_rows.max(1)));
    let layouts = (1..=MOST_BANDS).map(|count| Layout::new(portrait, columns, count, marked));
    let mut best: Option<Layout> = None;
    for layout in layouts {
        if layout.rows_in_all() > most_rows {
            break;
        }
        let is_legible = layout.cells_a_character(portrait) >= mode.cells_a_character();
        let is_better = best.as_ref().is_none_or(|best| layout.cell < best.cell);
        if is_better {
            best = Some(layout);
        }
        if is_legible {
            break;
        }
    }
    best.unwrap_or_else(|| Layout::flat(portrait, columns, most_rows, marked))
        .draw(portrait, mode, columns, marked)
}

/// Where the bands begin and end, and how large a cell is.
struct Layout {
    /// Width of a cell on the strip, in pixels; its height is twice that.
    cell: f64,
    /// Left and right of each band on the strip, in pixels.
    spans: Vec<(f64, f64)>,
    rows: usize,
}

impl Layout {
    fn new(portrait: &Portrait, columns: usize, count: usize, marked: bool) -> Self {
        /// By how much cells grow until the bands hold everything, since they end where a character does.
        const GROWTH: f64 = 1.02;
        let area = portrait.type_area;
        let width = f64::from(area.width().max(1));
        let smallest = portrait.pitch / MOST_CELLS;
        let mut cell = (width / (columns * count) as f64).max(smallest);
        loop {
            if let Some(spans) = spans(portrait, cell * columns as f64, count) {
                let rows = rows(portrait, cell, marked);
                return Self { cell, spans, rows };
            }
            cell *= GROWTH;
        }
    }

    /// One band, as wide as the rows allow.
    fn flat(portrait: &Portrait, columns: usize, most_rows: usize, marked: bool) -> Self {
        const GROWTH: f64 = 1.05;
        let mut layout = Self::new(portrait, columns, 1, marked);
        while layout.rows > most_rows {
            layout.cell *= GROWTH;
            layout.rows = rows(portrait, layout.cell, marked);
        }
        layout
    }

    fn rows_in_all(&self) -> usize {
        self.rows * self.spans.len()
    }

    fn cells_a_character(&self, portrait: &Portrait) -> f64 {
        portrait.pitch / self.cell
    }

    fn draw(&self, portrait: &Portrait, mode: Mode, columns: usize, marked: bool) -> Banded {
        let area = portrait.type_area;
        let (across, down) = mode.glyphs.dots();
        let dots = |pixels: f64| (pixels / self.cell * f64::from(across)).round() as u32;
        // One picture at the size of the dots, from which all bands are cut, so that they match.
        let rows = rows(portrait, self.cell, false) as u32;
        let height = (f64::from(rows) * 2.0 * self.cell).round() as u32;
        let whole = portrait.part(area.left.into(), area.top.into(), area.width(), height);
        let mut whole = resized(&whole, dots(area.width().into()), rows * down);
        let levels = Levels::of(&whole);
        levels.stretch(&mut whole);
        let threshold = imageproc::contrast::otsu_level(&whole);
        let left = f64::from(area.left);
        let band = |&(from, to): &(f64, f64)| {
            let start = dots(from - left).min(whole.width() - 1);
            let end = dots(to - left).clamp(start + 1, whole.width());
            let width = (end - start).min(columns as u32 * across);
            let piece = imageops::crop_imm(&whole, start, 0, width, whole.height());
            let mut padded =
                GrayImage::from_pixel(columns as u32 * across, rows * down, Luma([255]));
            imageops::replace(&mut padded, &*piece, 0, 0);
            let mut cells = Cells::of_dots(&padded, mode, threshold);
            if marked {
                self.mark(portrait, (from, to), &mut cells);
            }
            let width = cells.width();
            cells.rows.resize(self.rows, vec![Cell::BLANK; width]);
            cells
        };
        let cells_a_character = self.cells_a_character(portrait);
        Banded {
            bands: self.spans.iter().map(band).collect(),
            cells_a_character,
            is_legible: cells_a_character >= mode.cells_a_character(),
        }
    }

    fn mark(&self, portrait: &Portrait, (from, to): (f64, f64), cells: &mut Cells) {
        let top = f64::from(portrait.type_area.top);
        for character in portrait.characters.iter().filter(|c| c.is_doubtful) {
            let bounds = character.bounds;
            let middle = f64::from(bounds.left + bounds.right) / 2.0;
            if (from..to).contains(&middle) {
                let column = ((middle - from) / self.cell) as usize;
                let row = ((f64::from(bounds.bottom) - top) / (2.0 * self.cell)) as usize;
                let near = column.saturating_sub(1)..column + 2;
                // Where the next line comes close, the emptier of two rows.
                let row = match cells.ink_in(row, near.clone()) > cells.ink_in(row + 1, near) {
                    true if row + 1 < self.rows => row + 1,
                    _ => row,
                };
                cells.mark(column, row);
            }
        }
    }
}

/// Rows of a band whose cells are so wide.
fn rows(portrait: &Portrait, cell: f64, marked: bool) -> usize {
    let area = portrait.type_area;
    let picture = (f64::from(area.height().max(1)) / (2.0 * cell)).ceil() as usize;
    let doubtful = portrait
        .characters
        .iter()
        .filter(|c| marked && c.is_doubtful);
    let below = doubtful.map(|c| c.bounds.bottom - area.top).max();
    let marks = below.map_or(0, |below| (f64::from(below) / (2.0 * cell)) as usize + 1);
    picture.max(marks).max(1)
}

/// Left and right of at most so many bands of at most this width; none where they do not reach the end.
fn spans(portrait: &Portrait, widest: f64, count: usize) -> Option<Vec<(f64, f64)>> {
    let (mut from, end) = (
        f64::from(portrait.type_area.left),
        f64::from(portrait.type_area.right),
    );
    let mut spans = Vec::new();
    while spans.len() < count {
        // Half a pixel is no reason for another band.
        if from + widest >= end - 0.5 {
            spans.push((from, end));
            return Some(spans);
        }
        let to = cut_before(portrait, from + widest);
        let to = if to > from { to } else { from + widest };
        spans.push((from, to));
        from = to;
    }
    None
}

/// The best place at or a little before `x` to cut the strip: through no character, and through no word if possible.
fn cut_before(portrait: &Portrait, x: f64) -> f64 {
    /// How far back, in characters.
    const BACK: f64 = 8.0;
    /// What a character cut through costs, in characters of width given up.
    const CHARACTER: f64 = 20.0;
    /// What a gap narrower than a blank costs.
    const WORD: f64 = 4.0;
    let steps = (BACK * 4.0) as u32;
    let candidates = (0..steps).map(|step| x - f64::from(step) * portrait.pitch / 4.0);
    let near = |at: f64, room: f64| {
        portrait.characters.iter().filter(move |c| {
            f64::from(c.bounds.left) < at + room && at - room < f64::from(c.bounds.right)
        })
    };
    let cost = |at: f64| {
        let cut = near(at, 0.0).count() as f64;
        let words = near(at, 0.5 * portrait.pitch).count() as f64;
        CHARACTER * cut + WORD * words + (x - at) / portrait.pitch
    };
    candidates
        .min_by(|&a, &b| cost(a).total_cmp(&cost(b)))
        .unwrap_or(x)
}

#[cfg(test)]
mod tests {
    use super::super::mode::Glyphs;
    use super::super::portrait::Shown;
    use super::*;
    use crate::value::Bounds;

    /// Two lines of boxes for characters at a typewriter's 10 an inch and 6 lines an inch; every fifth is a blank.
    fn typed(characters: u32) -> Portrait {
        let width = 40 + characters * 20;
        let box_of = |line: u32, at: u32| {
            let (left, top) = (20 + at * 20, 20 + line * 34);
            Bounds::new(left + 2, top, left + 18, top + 26)
        };
        let all = (0..2).flat_map(|line| (0..characters).map(move |at| (line, at)));
        let boxes: Vec<Bounds> = all
            .filter(|(_, at)| at % 5 != 4)
            .map(|(line, at)| box_of(line, at))
            .collect();
        let mut image = GrayImage::from_pixel(width, 100, Luma([230]));
        for b in &boxes {
            for y in b.top + 4..b.bottom - 6 {
                (b.left..b.left + 4).for_each(|x| image.put_pixel(x, y, Luma([40])));
            }
        }
        let shown = boxes.into_iter().map(|bounds| Shown {
            bounds,
            is_doubtful: bounds.left == 22 && bounds.top > 50,
        });
        Portrait::new(&image, shown.collect())
    }

    #[test]
    fn as_many_bands_as_legible_type_needs() {
        let check = |characters, glyphs, columns, most_rows, count, is_legible| {
            let mode = Mode::new(glyphs, true);
            let banded = bands(&typed(characters), mode, columns, most_rows, true);
            let found = (banded.bands.len(), banded.is_legible);
            assert_eq!(
                found,
                (count, is_legible),
                "{characters} {glyphs:?} {columns}"
            );
            assert!(banded.height() <= usize::from(most_rows));
            assert!(
                banded
                    .bands
                    .iter()
                    .all(|band| band.width() == usize::from(columns))
            );
        };
        check(40, Glyphs::Sextants, 80, 16, 2, true);
        check(40, Glyphs::Sextants, 200, 20, 1, true);
        check(40, Glyphs::HalfBlocks, 80, 40, 3, true);
        check(60, Glyphs::Sextants, 120, 20, 2, true);
        // Too little room: what fits, and said so.
        check(90, Glyphs::Sextants, 80, 10, 2, false);
        check(40, Glyphs::Sextants, 80, 2, 1, false);
        check(1, Glyphs::Sextants, 1, 1, 1, false);
    }

    #[test]
    fn bands_end_between_words() {
        let portrait = typed(40);
        for count in 2..=3 {
            let layout = Layout::new(&portrait, 80, count, false);
            for (_, to) in &layout.spans[..layout.spans.len() - 1] {
                let at = ((to - 20.0) / 20.0) as u32;
                assert_eq!(at % 5, 4, "cut at {to}");
            }
        }
    }

    #[test]
    fn doubtful_characters_are_marked_below() {
        for has_colour in [true, false] {
            let mode = Mode::new(Glyphs::Sextants, has_colour);
            let banded = bands(&typed(40), mode, 80, 20, true);
            let marks = banded.bands.iter().map(|band| {
                let cells = band.rows.iter().flatten();
                cells.filter(|cell| cell.is_mark).count()
            });
            assert_eq!(marks.collect::<Vec<_>>(), [1, 0]);
        }
    }

    #[test]
    fn an_unread_strip_is_shown_all_the_same() {
        let image = GrayImage::from_pixel(2000, 180, Luma([200]));
        let portrait = Portrait::new(&image, Vec::new());
        let banded = bands(&portrait, Mode::new(Glyphs::Sextants, true), 80, 12, true);
        assert!(banded.height() <= 12);
        let cells = banded
            .bands
            .iter()
            .flat_map(|band| band.rows.iter().flatten());
        assert!(cells.into_iter().all(|cell| cell.glyph == ' '));
    }
}
