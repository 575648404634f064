//! Which part of a strip goes where: the whole of it in bands, and one field close up.

use super::cells::{Cells, picture};
use super::compose::Canvas;
use crate::reading::Reading;
use crate::value::Bounds;
use image::GrayImage;
use image::imageops::crop_imm;

/// A cell is about twice as high as wide.
const ASPECT: f64 = 0.5;
/// Most bands that a strip is wrapped into.
const MOST_BANDS: u32 = 3;
/// What neighbouring bands both show, and what is left round the lines, in heights of a line.
const SHARED: f64 = 0.8;
const MARGIN: f64 = 0.35;
/// Cells a character in a close-up, if there is room: one more than legible, for digits.
const CLOSER: f64 = 1.0;
/// Bands may be drawn lower than they are by this factor if one more fits in by that.
const SQUEEZED: f64 = 1.25;
/// Cells a character beyond which nothing is gained.
const LARGEST: f64 = 8.0;
/// Times that a close-up is larger than the band above it.
const LARGER: f64 = 1.6;
/// Share of a close-up by which it moves on where a field is longer: the rest is seen in both.
const STEP: f64 = 0.75;

/// A stretch of the strip, from and to on it in pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Band {
    pub from: u32,
    pub to: u32,
    pub top: u32,
    pub bottom: u32,
    pub rows: u32,
}

/// A part of a picture in cells, and where it lies.
#[derive(Debug, Clone, PartialEq)]
pub struct Window {
    pub cells: Cells,
    /// What of the strip it shows.
    pub shows: Bounds,
}

/// Wraps a strip into a canvas: in as few bands as leave it legible, or as many as fit.
pub fn bands(strip: (u32, u32), reading: &Reading, canvas: Canvas) -> Vec<Band> {
    let (width, height) = strip;
    let Canvas {
        columns,
        rows,
        shape,
        greys,
    } = canvas;
    if width == 0 || height == 0 || columns == 0 || rows == 0 {
        return Vec::new();
    }
    let typed = typed_area(strip, reading);
    let pitch = pitch(reading).unwrap_or(f64::from(height) / 3.0);
    let characters = f64::from(typed.width()) / pitch.max(1.0);
    let needed = characters * shape.cells_a_character(greys);
    let rows_of = |count: u32| {
        let (each, _) = widths(typed, reading, count);
        let scale = f64::from(columns) / each;
        ((f64::from(typed.height()) * scale * ASPECT).ceil() as u32).max(1)
    };
    let wanted = ((needed / f64::from(columns)).ceil() as u32).clamp(1, MOST_BANDS);
    let count = (1..=wanted)
        .rev()
        .find(|count| f64::from(count * rows_of(*count)) <= f64::from(rows) * SQUEEZED)
        .unwrap_or(1);
    let (each, step) = widths(typed, reading, count);
    let band = |at: u32| {
        let from = (f64::from(typed.left) + f64::from(at) * step) as u32;
        Band {
            from,
            to: ((f64::from(from) + each).ceil() as u32).min(width),
            top: typed.top,
            bottom: typed.bottom,
            rows: rows_of(count).min((rows / count).max(1)),
        }
    };
    (0..count).map(band).collect()
}

impl Band {
    pub fn window(&self, strip: &GrayImage, canvas: Canvas) -> Window {
        let canvas = Canvas {
            rows: self.rows,
            ..canvas
        };
        let shows = Bounds::new(self.from, self.top, self.to, self.bottom);
        Window::new(strip, shows, canvas)
    }
}

/// What is to be seen close up.
#[derive(Debug, Clone, Copy)]
pub struct Aim {
    pub field: Bounds,
    /// The character under the cursor.
    pub cursor: Option<Bounds>,
    /// Steps of half a window to the right.
    pub pan: i32,
    /// Width of what a band shows above, in pixels; a close-up is larger than that.
    pub band: Option<u32>,
}

/// What of the strip shows a field close up, and in how many rows: all of it where that fits, else the part in which the
/// cursor stands; of its line and no other.
pub fn close_up(
    (width, height): (u32, u32),
    reading: &Reading,
    aim: Aim,
    canvas: Canvas,
) -> (Bounds, u32) {
    let (columns, rows) = (f64::from(canvas.columns), f64::from(canvas.rows));
    let field = aim.field;
    let line = f64::from(field.height()).max(4.0);
    let pitch = pitch(reading).unwrap_or(line * 0.6).max(1.0);
    let legible = canvas.shape.cells_a_character(canvas.greys) + CLOSER;
    let above = aim
        .band
        .map_or(0.0, |band| columns / f64::from(band.max(1)) * pitch);
    let down = (line * (1.0 + 2.0 * MARGIN)).min(f64::from(height).max(1.0));
    // As large as leaves room for all of the field, within reason.
    let fitting = columns * pitch / (f64::from(field.width()) + 2.0 * pitch);
    let wanted = legible.max(above * LARGER).max(fitting.min(LARGEST));
    // Cells a pixel across; half as many down.
    let scale = (wanted / pitch).min(rows / down / ASPECT);
    let across = (columns / scale).min(f64::from(width).max(1.0));
    let fits = f64::from(field.width()) + 2.0 * pitch <= across;
    let start = if fits {
        f64::from(field.left + field.right) / 2.0 - across / 2.0
    } else {
        let first = f64::from(field.left) - pitch;
        let at = aim
            .cursor
            .map_or(0.0, |c| f64::from(c.left) - f64::from(field.left));
        // Whole steps, so that the picture stays while the cursor moves within it.
        first + (at / (across * STEP)).floor().max(0.0) * across * STEP
    };
    let most_left = (f64::from(width) - across).max(0.0);
    let left = (start + f64::from(aim.pan) * across / 2.0).clamp(0.0, most_left);
    let middle = f64::from(field.top + field.bottom) / 2.0;
    let shows = Bounds::new(
        left as u32,
        (middle - down / 2.0).max(0.0) as u32,
        ((left + across).ceil() as u32).min(width),
        ((middle + down / 2.0).ceil() as u32).min(height),
    );
    // A strip that is narrower than the canvas is drawn across all of it.
    let scale = columns / f64::from(shows.width().max(1));
    let wanted = (f64::from(shows.height()) * scale * ASPECT).round() as u32;
    (shows, wanted.clamp(1, canvas.rows.max(1)))
}

impl Window {
    pub fn new(strip: &GrayImage, shows: Bounds, canvas: Canvas) -> Self {
        let (width, height) = (shows.width(), shows.height());
        let part = crop_imm(strip, shows.left, shows.top, width, height).to_image();
        Self {
            cells: picture(
                &part,
                canvas.columns,
                canvas.rows,
                canvas.shape,
                canvas.greys,
            ),
            shows,
        }
    }

    /// The column of the close-up in which a place of the strip lies, if it is seen.
    pub fn column_of(&self, x: f64) -> Option<usize> {
        let columns = self.cells.first()?.len() as f64;
        let share = (x - f64::from(self.shows.left)) / f64::from(self.shows.width().max(1));
        (0.0..1.0)
            .contains(&share)
            .then_some((share * columns) as usize)
    }
}

/// Where the lines lie, with a margin; the whole strip where none was read.
fn typed_area((width, height): (u32, u32), reading: &Reading) -> Bounds {
    let lines = reading.lines.iter().map(|line| line.bounds);
    let area = lines.reduce(|a, b| Bounds {
        left: a.left.min(b.left),
        top: a.top.min(b.top),
        right: a.right.max(b.right),
        bottom: a.bottom.max(b.bottom),
    });
    let Some(area) = area.filter(|area| area.width() > 0 && area.height() > 0) else {
        return Bounds::new(0, 0, width, height);
    };
    let margin = (line_height(reading) * MARGIN) as u32;
    Bounds::new(
        area.left.saturating_sub(margin),
        area.top.saturating_sub(margin),
        (area.right + margin).min(width),
        (area.bottom + margin).min(height),
    )
}

fn line_height(reading: &Reading) -> f64 {
    let heights = reading.lines.iter().map(|line| line.bounds.height());
    f64::from(heights.max().unwrap_or(0))
}

/// Median distance of neighbouring characters, in pixels.
fn pitch(reading: &Reading) -> Option<f64> {
    let mut steps: Vec<u32> = reading
        .lines
        .iter()
        .flat_map(|line| line.positions.windows(2))
        .map(|pair| pair[1].bounds.left.saturating_sub(pair[0].bounds.left))
        .filter(|&step| step > 0)
        .collect();
    steps.sort_unstable();
    steps.get(steps.len() / 2).map(|&step| f64::from(step))
}

/// Width of each of so many bands, and the step from one to the next, in pixels.
fn widths(typed: Bounds, reading: &Reading, count: u32) -> (f64, f64) {
    let all = f64::from(typed.width()).max(1.0);
    let shared = if count > 1 {
        line_height(reading) * SHARED
    } else {
        0.0
    };
    let each = ((all + shared * f64::from(count - 1)) / f64::from(count)).min(all);
    (each, (each - shared).max(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::picture::Shape;
    use crate::reading::Line;

    fn canvas(columns: u32, rows: u32, shape: Shape) -> Canvas {
        Canvas {
            columns,
            rows,
            shape,
            greys: true,
        }
    }

    /// Lines of so many characters, 20 pixels wide and 40 high each, below each other.
    fn reading(lengths: &[usize]) -> Reading {
        let lines = lengths.iter().zip(0..).map(|(&length, at)| {
            let mut line = Line::certain(&"X".repeat(length), 1.0);
            line.bounds.top += at * 50;
            line.bounds.bottom += at * 50;
            line
        });
        Reading {
            lines: lines.collect(),
        }
    }

    fn count(lengths: &[usize], columns: u32, rows: u32) -> (usize, u32) {
        let reading = reading(lengths);
        let width = 20 * *lengths.iter().max().unwrap() as u32 + 10;
        let strip = (width, 50 * lengths.len() as u32);
        let bands = bands(strip, &reading, canvas(columns, rows, Shape::Sextant));
        let last = bands.last().unwrap();
        assert!(last.to >= width - 24, "the end is shown: {bands:?}");
        assert!(bands.windows(2).all(|pair| pair[1].from < pair[0].to));
        let used: u32 = bands.iter().map(|band| band.rows).sum();
        assert!(used <= rows, "{bands:?}");
        (bands.len(), used)
    }

    #[test]
    fn a_strip_is_wrapped_until_it_is_legible_or_the_rows_run_out() {
        assert_eq!(count(&[20], 80, 12).0, 1);
        assert_eq!(count(&[40, 30], 80, 20).0, 2);
        assert_eq!(count(&[40, 30], 200, 16).0, 1);
        assert_eq!(count(&[60], 80, 30).0, 3);
        assert_eq!(count(&[60, 60, 60], 80, 6).0, 1);
        let none = bands((300, 40), &Reading::default(), canvas(80, 10, Shape::Half));
        assert_eq!(none.len(), 1);
        assert!(bands((0, 0), &Reading::default(), canvas(80, 10, Shape::Half)).is_empty());
    }

    #[test]
    fn a_close_up_shows_the_field_and_can_be_moved() {
        let reading = reading(&[60]);
        let strip = GrayImage::new(1_210, 50);
        let field = Bounds::new(400, 0, 560, 40);
        let canvas = canvas(78, 5, Shape::Sextant);
        let look = |pan| {
            let aim = Aim {
                field,
                cursor: None,
                pan,
                band: None,
            };
            close_up(strip.dimensions(), &reading, aim, canvas)
        };
        let (shows, rows) = look(0);
        assert!(shows.left <= 400 && shows.right >= 560, "{shows:?}");
        assert!((4..=5).contains(&rows), "{rows}");
        let seen = Window::new(&strip, shows, Canvas { rows, ..canvas });
        assert_eq!(seen.cells[0].len(), 78);
        assert!(look(1).0.left > shows.left);
        assert_eq!(look(-99).0.left, 0);
        assert!(seen.column_of(480.0).is_some_and(|c| c.abs_diff(39) < 4));
        assert_eq!(seen.column_of(1_200.0), None);
    }

    #[test]
    fn a_close_up_shows_one_line_and_larger_than_the_band_above() {
        let reading = reading(&[30, 30]);
        let strip = (610, 100);
        let look = |band, rows| {
            let aim = Aim {
                field: Bounds::new(100, 50, 200, 90),
                cursor: None,
                pan: 0,
                band,
            };
            close_up(strip, &reading, aim, canvas(200, rows, Shape::Sextant))
        };
        let (shows, rows) = look(Some(610), 20);
        assert!(shows.top >= 36 && shows.bottom == 100, "{shows:?}");
        assert!(f64::from(shows.width()) <= 610.0 / 1.59, "{shows:?}");
        assert!(rows <= 20 && rows > 8, "{rows}");
        // Fewer rows show it smaller, and all of its height.
        let (low, rows) = look(Some(610), 6);
        assert!(low.height() == shows.height() && low.width() > shows.width());
        assert!(rows <= 6);
    }

    #[test]
    fn a_close_up_of_a_long_field_follows_the_cursor() {
        let reading = reading(&[60]);
        let field = Bounds::new(20, 0, 1_180, 40);
        let look = |cursor: Option<u32>| {
            let cursor = cursor.map(|at| Bounds::new(20 * at, 0, 20 * at + 20, 40));
            let aim = Aim {
                field,
                cursor,
                pan: 0,
                band: None,
            };
            let canvas = canvas(78, 5, Shape::Sextant);
            close_up((1_210, 50), &reading, aim, canvas).0
        };
        assert_eq!(look(None), look(Some(1)));
        for at in 1..59 {
            let shows = look(Some(at));
            assert!(
                shows.left <= 20 * at && shows.right >= 20 * at + 20,
                "{at}: {shows:?}"
            );
        }
        let seen: std::collections::BTreeSet<u32> = (1..59).map(|at| look(Some(at)).left).collect();
        assert!((2..10).contains(&seen.len()), "{seen:?}");
    }
}
