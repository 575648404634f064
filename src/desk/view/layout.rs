//! Where everything lies on the screen.
//!
//! The picture's place depends on the screen and on how many fields there are, and on nothing that changes while a sheet
//! is keyed: what is looked at stays where it is, and pictures can be painted ahead.

use ratatui::layout::{Constraint, Layout, Rect};

/// Smallest screen that the desk is drawn on.
pub const LEAST: (u16, u16) = (40, 10);
/// From this size on, suggestions and the last sheets stand beside the fields instead of below.
const WIDE: (u16, u16) = (110, 24);
/// Rows of a wide screen's lower half at least, and of its picture at most, if that is more than half of it: a strip of
/// three lines and a field close up need no more.
const LEAST_LOWER: u16 = 8;
const MOST_PICTURE: u16 = 20;
/// Part of a wide screen that the fields get, in percent.
const FIELDS_SHARE: u16 = 52;
/// Rows of the sheets done last.
const DONE: u16 = 5;
/// Rows above and below the rest: where we are; the message and the keys.
const OTHERS: u16 = 3;

/// The parts of the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Places {
    pub status: Rect,
    pub picture: Rect,
    pub fields: Rect,
    /// What Alt and a digit put in.
    pub suggestions: Rect,
    /// The sheets done last; nothing where there is no room.
    pub done: Rect,
    /// A pane that asks for something lies over this and, where it needs more, over what is above.
    pub lower: Rect,
    pub message: Rect,
    pub keys: Rect,
}

/// The places on a screen for so many fields.
pub fn places(area: Rect, fields: u16) -> Places {
    let is_wide = area.width >= WIDE.0 && area.height >= WIDE.1;
    let fields = fields.max(1);
    let below = match area.height {
        _ if is_wide => 0,
        0..15 => 0,
        15..20 => 1,
        20..30 => 2,
        _ => 5,
    };
    let least_picture = if area.height >= 18 { 6 } else { 0 };
    let room = area.height.saturating_sub(OTHERS + below + least_picture);
    let rows = fields.min(room.max(1));
    let lower = match is_wide {
        true => {
            let left = area.height - OTHERS;
            let picture = MOST_PICTURE.max(area.height / 2);
            left.saturating_sub(picture).max(rows).max(LEAST_LOWER)
        }
        false => rows + below,
    };
    let [status, picture, lower, message, keys] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Min(0),
        Constraint::Length(lower),
        Constraint::Length(1),
        Constraint::Length(1),
    ])
    .areas(area);
    let nothing = Rect::new(lower.x, lower.bottom(), 0, 0);
    let (fields, suggestions, done) = if is_wide {
        let share = lower.width * FIELDS_SHARE / 100;
        let right = Rect::new(
            lower.x + share + 1,
            lower.y,
            lower.width - share - 1,
            lower.height,
        );
        let [suggestions, done] =
            Layout::vertical([Constraint::Min(5), Constraint::Max(DONE)]).areas(right);
        (
            Rect {
                width: share,
                ..lower
            },
            suggestions,
            done,
        )
    } else {
        let [fields, suggestions] =
            Layout::vertical([Constraint::Length(rows), Constraint::Min(0)]).areas(lower);
        (fields, suggestions, nothing)
    };
    Places {
        status,
        picture,
        fields,
        suggestions,
        done,
        lower,
        message,
        keys,
    }
}

/// The place of a pane of so many rows: at the bottom of the lower half, and as far up from there as it needs. The fields
/// move up with it, over the picture.
pub fn with_pane(places: &Places, rows: u16) -> (Rect, Rect) {
    let top = places.picture.y;
    let bottom = places.lower.bottom();
    let rows = rows.min(bottom.saturating_sub(top));
    let pane = Rect {
        y: bottom - rows,
        height: rows,
        ..places.lower
    };
    let wanted = places.fields.height.min(pane.y.saturating_sub(top));
    let fields = Rect {
        y: (pane.y - wanted).min(places.fields.y),
        height: wanted,
        width: places.lower.width,
        ..places.fields
    };
    (fields, pane)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_size_has_room_for_what_matters_and_nothing_overlaps() {
        for width in [40, 80, 109, 110, 120, 200] {
            for height in 10..=60 {
                for fields in [1, 7, 30] {
                    let area = Rect::new(0, 0, width, height);
                    let places = places(area, fields);
                    let size = format!("{width}x{height}, {fields}: {places:?}");
                    assert!(places.fields.height >= 1, "{size}");
                    assert_eq!(places.message.bottom() + 1, height, "{size}");
                    assert!(places.picture.bottom() <= places.lower.y, "{size}");
                    assert!(height < 18 || places.picture.height >= 6, "{size}");
                    assert!(!places.fields.intersects(places.suggestions), "{size}");
                    for rows in [1, 4, 8, 40] {
                        let (fields, pane) = with_pane(&places, rows);
                        assert!(pane.bottom() == places.lower.bottom(), "{size}");
                        assert!(fields.bottom() <= pane.y, "{size} {fields:?} {pane:?}");
                        assert!(fields.y >= places.picture.y, "{size}");
                    }
                }
            }
        }
    }
}
