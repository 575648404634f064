//! A field close up.

use super::band::MOST_CELLS;
use super::cell::{Cell, Cells};
use super::mode::Mode;
use super::portrait::Portrait;
use super::prepare::{Levels, resized};
use crate::value::Bounds;

/// A close picture, with a row below it for its marks.
#[derive(Debug, Clone, PartialEq)]
pub struct Close {
    pub cells: Cells,
    /// The field goes on beyond the picture's left or right edge.
    pub more_left: bool,
    pub more_right: bool,
}

/// Shows `focus` close up in so many columns and rows, the last row being for marks: `^` below characters that the
/// reader doubts, `|` below the one at the cursor. A field too long for the width is shown about the cursor; `pan`
/// moves the picture by characters to the right and by half lines down; each step of `zoom` makes it twice as large.
pub fn window(
    portrait: &Portrait,
    mode: Mode,
    (columns, rows): (u16, u16),
    focus: Bounds,
    cursor: Option<Bounds>,
    pan: (i32, i32),
    zoom: u8,
) -> Close {
    /// Height of the picture by that of the type.
    const ROOM: f64 = 1.2;
    /// Characters left before the edge.
    const EDGE: f64 = 1.0;
    let (columns, picture_rows) = (u32::from(columns.max(1)), u32::from(rows.max(2)) - 1);
    // A field over several lines is shown by the line at the cursor.
    let line = cursor.unwrap_or(focus);
    let type_height = f64::from(line.height().max(1));
    let fitting =
        (type_height * ROOM / f64::from(picture_rows) / 2.0).max(portrait.pitch / MOST_CELLS);
    let cell = fitting / f64::from(1u32 << zoom.min(4));
    let (width, height) = (
        f64::from(columns) * cell,
        f64::from(picture_rows) * 2.0 * cell,
    );
    let room = EDGE * portrait.pitch;
    let (first, last) = (f64::from(focus.left) - room, f64::from(focus.right) + room);
    let middle = |bounds: Bounds| f64::from(bounds.left + bounds.right) / 2.0;
    let left = match last - first <= width {
        true => (first + last - width) / 2.0,
        false => (middle(cursor.unwrap_or(focus)) - width / 2.0).clamp(first, last - width),
    };
    let left = left + f64::from(pan.0) * portrait.pitch;
    let left = left.clamp(
        -width / 2.0,
        f64::from(portrait.image.width()) - width / 2.0,
    );
    let down = f64::from(pan.1) * type_height / 2.0;
    let top = f64::from(line.top) + (type_height - height) / 2.0 + down;

    let (across, down) = mode.glyphs.dots();
    let pixels = |length: f64| length.round() as u32;
    let part = portrait.part(left as i64, top as i64, pixels(width), pixels(height));
    let mut part = resized(&part, columns * across, picture_rows * down);
    Levels::of(&part).stretch(&mut part);
    let threshold = imageproc::contrast::otsu_level(&part);
    let mut cells = Cells::of_dots(&part, mode, threshold);

    let column = |bounds: Bounds| {
        let at = (middle(bounds) - left) / cell;
        (0.0..f64::from(columns))
            .contains(&at)
            .then_some(at as usize)
    };
    let in_view = |b: &Bounds| f64::from(b.top) < top + height && top < f64::from(b.bottom);
    let marks = picture_rows as usize;
    cells.rows.push(vec![Cell::BLANK; columns as usize]);
    let doubtful = portrait.characters.iter().filter(|c| c.is_doubtful);
    for bounds in doubtful.map(|c| c.bounds).filter(in_view) {
        if let Some(at) = column(bounds) {
            cells.mark(at, marks);
        }
    }
    if let Some(at) = cursor.and_then(column) {
        cells.rows[marks][at] = Cell {
            glyph: '|',
            ..Cell::DOUBT
        };
    }
    Close {
        cells,
        more_left: f64::from(focus.left) < left,
        more_right: f64::from(focus.right) > left + width,
    }
}

#[cfg(test)]
mod tests {
    use super::super::mode::Glyphs;
    use super::super::portrait::Shown;
    use super::*;
    use image::{GrayImage, Luma};

    fn typed() -> Portrait {
        let image = GrayImage::from_fn(2000, 100, |x, y| {
            let is_ink = x % 20 < 4 && (35..65).contains(&y);
            Luma([if is_ink { 30 } else { 220 }])
        });
        let characters = (0..100).map(|at| Shown {
            bounds: Bounds::new(at * 20, 30, at * 20 + 16, 70),
            is_doubtful: at == 42,
        });
        Portrait::new(&image, characters.collect())
    }

    fn marks(close: &Close) -> Vec<(usize, char)> {
        let row = close.cells.rows.last().expect("a row of marks");
        let cells = row.iter().enumerate().filter(|(_, cell)| cell.is_mark);
        cells.map(|(at, cell)| (at, cell.glyph)).collect()
    }

    #[test]
    fn a_field_is_shown_whole_with_its_marks() {
        let mode = Mode::new(Glyphs::Sextants, true);
        let focus = Bounds::new(40 * 20, 30, 50 * 20, 70);
        let cursor = Bounds::new(45 * 20, 30, 45 * 20 + 16, 70);
        let close = window(&typed(), mode, (78, 5), focus, Some(cursor), (0, 0), 0);
        assert_eq!((close.cells.width(), close.cells.height()), (78, 5));
        assert_eq!((close.more_left, close.more_right), (false, false));
        let [(doubt, '^'), (at, '|')] = marks(&close)[..] else {
            panic!("{:?}", marks(&close))
        };
        // Three characters apart, at 6 pixels a cell.
        assert_eq!(at - doubt, 10);
    }

    #[test]
    fn a_long_field_follows_the_cursor_and_the_pan() {
        let mode = Mode::new(Glyphs::Sextants, true);
        let focus = Bounds::new(0, 30, 2000, 70);
        let at = |character: u32| Bounds::new(character * 20, 30, character * 20 + 16, 70);
        let check = |cursor: u32, pan: i32, more_left: bool, more_right: bool| {
            let close = window(
                &typed(),
                mode,
                (78, 5),
                focus,
                Some(at(cursor)),
                (pan, 0),
                0,
            );
            assert_eq!(
                (close.more_left, close.more_right),
                (more_left, more_right),
                "{cursor} {pan}"
            );
        };
        check(0, 0, false, true);
        check(50, 0, true, true);
        check(99, 0, true, false);
        check(0, 30, true, true);
        check(0, -500, false, true);
    }

    #[test]
    fn no_size_does_harm() {
        let mode = Mode::new(Glyphs::HalfBlocks, false);
        for size in [(0, 0), (1, 1), (500, 2), (3, 60)] {
            let close = window(&typed(), mode, size, Bounds::default(), None, (0, 9), 9);
            assert_eq!(close.cells.width(), usize::from(size.0.max(1)));
        }
    }
}
