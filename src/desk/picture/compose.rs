//! A sheet's picture put together: its strip in bands, and the field in hand close up below.

use super::band::{Aim, Window, bands, close_up};
use super::cells::picture;
use super::memo::{Memo, Reversal, View};
use super::shape::Shape;
use crate::reading::Reading;
use crate::value::{Bounds, SheetId};
use image::imageops;
use image::{GrayImage, imageops::crop_imm};
use std::borrow::Cow;
use std::cell::LazyCell;
use std::sync::Arc;

/// Rows that a close-up gets at least, its marks included.
const CLOSE_UP: u32 = 5;
/// Times that a whole sheet is enlarged when it is looked at closely.
const CLOSER: u32 = 3;

/// What a picture is drawn on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Canvas {
    pub columns: u32,
    pub rows: u32,
    pub shape: Shape,
    /// 256 colours; else the terminal's own two.
    pub greys: bool,
}

/// What is drawn.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    pub sheet: &'a SheetId,
    /// Its strip, or all of it.
    pub image: &'a GrayImage,
    pub whole: bool,
    pub reading: &'a Reading,
}

/// How it is looked at.
#[derive(Debug, Clone, Copy, Default)]
pub struct Gaze {
    pub close: bool,
    /// Steps of half a window to the right, and down.
    pub pan: (i32, i32),
    pub reversal: Reversal,
    /// Where the field in hand stands on the strip, and the character under the cursor.
    pub field: Option<Bounds>,
    pub cursor: Option<Bounds>,
}

/// The cells, from the top.
#[derive(Debug, Clone)]
pub struct Composed {
    pub bands: Arc<Vec<Window>>,
    pub window: Option<Arc<Window>>,
}

/// Puts a picture together from what the memo has; what it does not have is made.
pub fn compose(memo: &Memo, subject: Subject, canvas: Canvas, gaze: Gaze) -> Composed {
    let reversal = gaze.reversal;
    let view = |canvas: Canvas| View {
        sheet: subject.sheet.clone(),
        whole: subject.whole,
        reversal,
        canvas,
    };
    let image = LazyCell::new(|| reversed(subject.image, reversal));
    if subject.whole {
        let size = subject.image.dimensions();
        let shows = whole_place(size, canvas, gaze);
        let window = memo.window(&view(canvas), shows, || fitted(&image, shows, canvas));
        return Composed {
            bands: Arc::default(),
            window: Some(window),
        };
    }
    // After a turn the boxes no longer lie where they were read.
    let has_moved = reversal.turned || reversal.mirrored;
    let unread = Reading::default();
    let reading = if has_moved { &unread } else { subject.reading };
    let field = gaze.field.filter(|_| !has_moved);
    let size = subject.image.dimensions();
    let shows_field = field.is_some() && canvas.rows >= 2 * CLOSE_UP + 2;
    let mut left = canvas.rows;
    let mut composed = Composed {
        bands: Arc::default(),
        window: None,
    };
    if !gaze.close {
        let rows = canvas.rows - if shows_field { CLOSE_UP } else { 0 };
        let canvas = Canvas { rows, ..canvas };
        composed.bands = memo.bands(&view(canvas), || {
            bands(size, reading, canvas)
                .iter()
                .map(|band| band.window(&image, canvas))
                .collect()
        });
        left -= composed
            .bands
            .iter()
            .map(|band| band.cells.len() as u32)
            .sum::<u32>();
    }
    if gaze.close || shows_field {
        let whole = Bounds::new(0, 0, size.0, size.1);
        let aim = Aim {
            field: field.unwrap_or(whole),
            cursor: gaze.cursor,
            pan: gaze.pan.0,
            band: composed.bands.first().map(|band| band.shows.width()),
        };
        // The last row is for the marks under doubtful characters.
        let room = Canvas {
            rows: left.saturating_sub(1).max(1),
            ..canvas
        };
        let (shows, rows) = close_up(size, reading, aim, room);
        // One that is no larger than the band above shows nothing more.
        if aim.band.is_some_and(|band| shows.width() >= band) {
            return composed;
        }
        let canvas = Canvas { rows, ..canvas };
        let window = memo.window(&view(canvas), shows, || Window::new(&image, shows, canvas));
        composed.window = Some(window);
    }
    composed
}

/// Makes ahead what the desk shows of a sheet when it comes, and when its fields are gone through.
pub fn paint_ahead(memo: &Memo, subject: Subject, canvas: Canvas, fields: &[Option<Bounds>]) {
    for field in fields {
        let gaze = Gaze {
            field: *field,
            ..Gaze::default()
        };
        compose(memo, subject, canvas, gaze);
    }
}

fn reversed(image: &GrayImage, reversal: Reversal) -> Cow<'_, GrayImage> {
    let mut image = Cow::Borrowed(image);
    if reversal.turned {
        imageops::rotate180_in_place(image.to_mut());
    }
    if reversal.mirrored {
        imageops::flip_horizontal_in_place(image.to_mut());
    }
    if reversal.inverted {
        imageops::invert(image.to_mut());
    }
    image
}

/// The part of a whole sheet that is looked at: all of it, or a window that is moved by halves of itself.
fn whole_place((width, height): (u32, u32), canvas: Canvas, gaze: Gaze) -> Bounds {
    if !gaze.close {
        return Bounds::new(0, 0, width, height);
    }
    let (across, down) = ((width / CLOSER).max(1), (height / CLOSER).max(1));
    // As wide as the canvas lets it be.
    let wanted = f64::from(down) * f64::from(canvas.columns) / f64::from(canvas.rows.max(1)) / 2.0;
    let across = (wanted as u32).clamp(across, width.max(1));
    let at = |pan: i32, window: u32, all: u32| {
        let at = i64::from(pan) * i64::from(window) / 2;
        at.clamp(0, i64::from(all - window.min(all))) as u32
    };
    let (left, top) = (at(gaze.pan.0, across, width), at(gaze.pan.1, down, height));
    Bounds::new(
        left,
        top,
        (left + across).min(width),
        (top + down).min(height),
    )
}

/// A part of the picture in as many cells as keep its shape; a cell is twice as high as wide.
fn fitted(image: &GrayImage, shows: Bounds, canvas: Canvas) -> Window {
    let (width, height) = (f64::from(shows.width()), f64::from(shows.height()));
    let scale = (f64::from(canvas.columns) / width).min(2.0 * f64::from(canvas.rows) / height);
    let cells = |length: f64, most: u32| (length.round() as u32).clamp(1, most.max(1));
    let (columns, rows) = (
        cells(width * scale, canvas.columns),
        cells(height * scale / 2.0, canvas.rows),
    );
    let part = crop_imm(image, shows.left, shows.top, shows.width(), shows.height()).to_image();
    Window {
        cells: picture(&part, columns, rows, canvas.shape, canvas.greys),
        shows,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Line;
    use image::Luma;

    const CANVAS: Canvas = Canvas {
        columns: 80,
        rows: 12,
        shape: Shape::Sextant,
        greys: true,
    };

    fn strip() -> (SheetId, GrayImage, Reading) {
        let reading = Reading {
            lines: vec![Line::certain(&"X".repeat(60), 1.0)],
        };
        let image = GrayImage::from_fn(1_210, 50, |x, _| Luma([(x % 200) as u8]));
        (SheetId::new("1.png"), image, reading)
    }

    #[test]
    fn bands_and_the_field_in_hand_share_the_rows() {
        let (sheet, image, reading) = strip();
        let subject = Subject {
            sheet: &sheet,
            image: &image,
            whole: false,
            reading: &reading,
        };
        let rows = |canvas, gaze| {
            let composed = compose(&Memo::default(), subject, canvas, gaze);
            let bands = composed.bands.iter().map(|b| b.cells.len()).sum::<usize>();
            (
                bands,
                composed.window.map_or(0, |window| window.cells.len()),
            )
        };
        let field = Gaze {
            field: Some(Bounds::new(400, 0, 560, 40)),
            ..Gaze::default()
        };
        let (bands, window) = rows(CANVAS, field);
        assert!(bands > 0 && window >= 4 && bands + window < 12);
        assert_eq!(rows(CANVAS, Gaze::default()).1, 0);
        let low = Canvas { rows: 6, ..CANVAS };
        assert_eq!(rows(low, field).1, 0);
        let close = Gaze {
            close: true,
            ..field
        };
        assert_eq!(rows(low, close), (0, 5));
    }

    #[test]
    fn a_close_up_that_would_be_no_larger_is_left_out() {
        let reading = Reading {
            lines: vec![Line::certain(&"X".repeat(10), 1.0)],
        };
        let (sheet, image) = (SheetId::new("1.png"), GrayImage::new(210, 50));
        let subject = Subject {
            sheet: &sheet,
            image: &image,
            whole: false,
            reading: &reading,
        };
        let gaze = Gaze {
            field: Some(Bounds::new(20, 0, 80, 40)),
            ..Gaze::default()
        };
        let window = |columns| {
            let canvas = Canvas { columns, ..CANVAS };
            compose(&Memo::default(), subject, canvas, gaze).window
        };
        assert!(window(200).is_none());
        assert!(window(24).is_some());
    }

    #[test]
    fn what_is_painted_ahead_need_not_be_made_again() {
        let (sheet, image, reading) = strip();
        let subject = Subject {
            sheet: &sheet,
            image: &image,
            whole: false,
            reading: &reading,
        };
        let memo = Memo::default();
        let field = Some(Bounds::new(400, 0, 560, 40));
        paint_ahead(&memo, subject, CANVAS, &[None, field]);
        let gaze = Gaze {
            field,
            ..Gaze::default()
        };
        let blank = GrayImage::new(1_210, 50);
        let unpainted = Subject {
            image: &blank,
            ..subject
        };
        let drawn = compose(&memo, unpainted, CANVAS, gaze);
        let own = compose(&Memo::default(), subject, CANVAS, gaze);
        assert_eq!(drawn.bands, own.bands);
        assert_eq!(drawn.window, own.window);
    }

    #[test]
    fn a_whole_sheet_keeps_its_shape_and_can_be_walked_over() {
        let (sheet, _, reading) = strip();
        let image = GrayImage::new(900, 600);
        let subject = Subject {
            sheet: &sheet,
            image: &image,
            whole: true,
            reading: &reading,
        };
        let look = |close, pan| {
            let gaze = Gaze {
                close,
                pan,
                ..Gaze::default()
            };
            let composed = compose(&Memo::default(), subject, CANVAS, gaze);
            composed.window.expect("it is shown")
        };
        let all = look(false, (0, 0));
        assert_eq!((all.cells.len(), all.cells[0].len()), (12, 36));
        let part = look(true, (0, 0));
        assert_eq!((part.shows.left, part.shows.top), (0, 0));
        assert!(part.cells[0].len() > 70, "{:?}", part.shows);
        let corner = look(true, (99, 99));
        assert_eq!((corner.shows.right, corner.shows.bottom), (900, 600));
        assert_eq!(look(true, (-5, -5)).shows, part.shows);
    }
}
