//! Cells of a picture on the screen, and the colours of the desk.

use crate::desk::picture::Cells;
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Style};

/// How much colour there is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Theme {
    /// 256 colours, of which greys alone are used.
    #[default]
    Greys,
    /// NO_COLOR: the terminal's own two colours.
    Plain,
}

impl Theme {
    pub fn has_greys(self) -> bool {
        self == Self::Greys
    }
}

/// Puts the cells' rows from `top` on, as far as they fit; gives the first row below.
pub fn put(frame: &mut Frame, area: Rect, top: u16, cells: &Cells, theme: Theme) -> u16 {
    let place = Rect {
        y: top,
        height: area.bottom().saturating_sub(top),
        ..area
    };
    put_in(frame.buffer_mut(), place, cells, theme);
    (top + cells.len() as u16).min(area.bottom())
}

/// Puts cells into a screen's upper left corner.
pub fn put_cells(buffer: &mut Buffer, cells: &Cells, theme: Theme) {
    put_in(buffer, buffer.area, cells, theme);
}

fn put_in(buffer: &mut Buffer, place: Rect, cells: &Cells, theme: Theme) {
    for (row, line) in (place.top()..place.bottom()).zip(cells) {
        for (column, cell) in (place.left()..place.right()).zip(line) {
            let style = match theme {
                Theme::Greys => Style::new().fg(grey(cell.ink)).bg(grey(cell.paper)),
                Theme::Plain => Style::new(),
            };
            buffer[(column, row)].set_char(cell.symbol).set_style(style);
        }
    }
}

/// The nearest of the 24 greys of 256 colours, and black and white at their ends.
fn grey(level: u8) -> Color {
    match level {
        0..=3 => Color::Indexed(16),
        244..=255 => Color::Indexed(231),
        // 232 is grey 8, each further one 10 more.
        level => Color::Indexed(232 + ((u16::from(level).saturating_sub(3)) / 10).min(23) as u8),
    }
}
