//! The clerk's desk drawn in cells.
//!
//! From the top: where we are; the strip, in bands where it is long; the field in hand close up; the fields; what Alt and
//! a digit put in; what was noticed; the last message. States are a sign and a word, never a colour alone.

mod fields;
mod panes;
mod paper;
#[cfg(test)]
mod tests;

pub use paper::Theme;

use super::clerk::{Clerk, Pane};
use super::picture::{Memo, Shape, View, bands, close_up};
use crate::journal::Tally;
use crate::reading::Reading;
use crate::value::{Bounds, shown};
use image::{GrayImage, imageops};
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::Paragraph;
use std::borrow::Cow;
use std::cell::LazyCell;

/// Smallest screen that the desk is drawn on.
const LEAST: (u16, u16) = (40, 10);
/// Rows that a close-up of the field in hand gets at least, its marks included, and at most beside the whole strip.
const CLOSE_UP: u16 = 5;
const MOST_CLOSE_UP: u16 = 8;

/// All that is drawn beside the desk itself.
pub struct Scene<'a> {
    pub desk: &'a Clerk,
    /// The strip, its light evened out; none where there is none, or none yet.
    pub strip: Option<&'a GrayImage>,
    /// Its picture is still being made.
    pub strip_is_coming: bool,
    pub shape: Shape,
    /// Pictures of this and other sheets that were drawn before.
    pub memo: &'a Memo,
    pub theme: Theme,
    pub tally: Tally,
    pub person: &'a str,
}

/// Draws the desk; places the terminal's own cursor where letters go.
pub fn draw(frame: &mut Frame, scene: &Scene) {
    let area = frame.area();
    if area.width < LEAST.0 || area.height < LEAST.1 {
        let words = format!(
            "This window has {} x {} cells; the desk needs {} x {}. Make it larger.",
            area.width, area.height, LEAST.0, LEAST.1
        );
        frame.render_widget(Paragraph::new(words).wrap(Default::default()), area);
        return;
    }
    if let Pane::Help(top) = scene.desk.pane() {
        panes::help(frame, area, *top);
        return;
    }
    let desk = scene.desk;
    let fields = desk.fields().len() as u16;
    let suggestions = desk.suggestions().len() as u16;
    // The fields come first, then what has to be said, then the picture takes what is left.
    let least_picture = if area.height >= 18 { 6 } else { 0 };
    let pane_rows = panes::rows(desk);
    let lower = (suggestions.min(4) + pane_rows).max(u16::from(area.height > 14));
    let for_fields = fields.min(area.height.saturating_sub(2 + least_picture + lower).max(1));
    let picture = area.height.saturating_sub(for_fields + lower + 3);
    let [status, strip, list, below, message, keys] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(picture),
        Constraint::Length(for_fields),
        Constraint::Length(lower),
        Constraint::Length(1),
        Constraint::Length(1),
    ])
    .areas(area);
    draw_status(frame, status, scene);
    draw_strip(frame, strip, scene);
    fields::draw(frame, list, scene);
    match desk.pane() {
        Pane::Fields => panes::suggestions(frame, below, scene),
        pane => panes::draw(frame, below, pane, scene),
    }
    draw_message(frame, message, scene);
    draw_keys(frame, keys, scene);
}

fn draw_status(frame: &mut Frame, area: Rect, scene: &Scene) {
    let sheet = scene.desk.sheet();
    let Tally {
        keyed,
        held,
        set_aside,
        ..
    } = scene.tally;
    let record = match scene.desk.record() {
        (_, 1) => String::new(),
        (at, of) => format!(" · record {} of {of}", at + 1),
    };
    let kind = match scene.desk.kind() {
        crate::value::SheetKind::Record => String::new(),
        kind => format!(" · {kind}"),
    };
    let blind = match scene.desk.shows_proposal() {
        true => "",
        false => " · nothing filled in",
    };
    let left = format!(
        " {} {} of {}{record}{kind}{blind}",
        sheet.sheet, sheet.place, sheet.of
    );
    let right = format!(
        "{keyed} keyed · {held} put off · {set_aside} aside · {} ",
        shown(scene.person)
    );
    let room = usize::from(area.width);
    let gap = room.saturating_sub(left.chars().count() + right.chars().count());
    let text = match gap {
        0 => left,
        gap => format!("{left}{}{right}", " ".repeat(gap)),
    };
    let style = Style::new().add_modifier(Modifier::REVERSED);
    frame.render_widget(Paragraph::new(format!("{text:<room$}")).style(style), area);
}

fn draw_strip(frame: &mut Frame, area: Rect, scene: &Scene) {
    let desk = scene.desk;
    let Some(strip) = scene.strip else {
        let words = match scene.strip_is_coming {
            true => " The picture of the strip is being made.",
            false => {
                " No strip was found on this sheet: look at the film, or set the sheet aside with Ctrl+X."
            }
        };
        frame.render_widget(Paragraph::new(words).wrap(Default::default()), area);
        return;
    };
    let wishes = desk.wishes();
    // Made only where a picture of it is not there yet.
    let changed = LazyCell::new(|| {
        let changed = changed(strip, wishes.turned, wishes.mirrored, wishes.inverted);
        changed.map_or(Cow::Borrowed(strip), Cow::Owned)
    });
    let (columns, greys) = (u32::from(area.width), scene.theme.has_greys());
    let view = |rows: u16| View {
        sheet: desk.sheet().sheet.clone(),
        size: (columns, u32::from(rows)),
        shape: scene.shape,
        greys,
        turned: wishes.turned,
        mirrored: wishes.mirrored,
        inverted: wishes.inverted,
    };
    // After a turn the boxes no longer lie where they were read.
    let has_moved = wishes.turned || wishes.mirrored;
    let unread = Reading::default();
    let reading = if has_moved {
        &unread
    } else {
        &desk.sheet().reading
    };
    let field = desk.in_hand().and_then(|field| field.bounds());
    let field = field.filter(|_| !has_moved);
    let whole = Bounds::new(0, 0, strip.width(), strip.height());
    let shows_field = field.is_some() && area.height >= 2 * CLOSE_UP + 2;
    let mut top = area.top();
    if !wishes.close {
        let rows = area.height - if shows_field { CLOSE_UP } else { 0 };
        let made = scene.memo.bands(view(rows), || {
            let size = (strip.width(), strip.height());
            bands(size, reading, columns, u32::from(rows), scene.shape, greys)
                .iter()
                .map(|band| band.cells(&changed, columns, scene.shape, greys))
                .collect()
        });
        for cells in made.iter() {
            top = paper::put(frame, area, top, cells, scene.theme);
        }
    }
    if wishes.close || shows_field {
        // What the bands leave, and the last row for the marks under doubtful characters.
        let left = (area.bottom() - top).saturating_sub(1).max(1);
        let rows = if wishes.close {
            left
        } else {
            left.min(MOST_CLOSE_UP)
        };
        let (field, pan) = (field.unwrap_or(whole), wishes.pan);
        let window = scene.memo.close_up(view(rows), field, pan, || {
            let size = (columns, u32::from(rows));
            close_up(&changed, reading, field, pan, size, scene.shape, greys)
        });
        top = paper::put(frame, area, top, &window.cells, scene.theme);
        if let Some(field) = desk.in_hand().filter(|_| !has_moved)
            && top < area.bottom()
        {
            let marks = fields::marks_under(field, &window, usize::from(area.width));
            let row = Rect::new(area.left(), top, area.width, 1);
            frame.render_widget(Line::from(marks), row);
        }
    }
}

fn changed(strip: &GrayImage, turned: bool, mirrored: bool, inverted: bool) -> Option<GrayImage> {
    if !(turned || mirrored || inverted) {
        return None;
    }
    let mut strip = strip.clone();
    if turned {
        imageops::rotate180_in_place(&mut strip);
    }
    if mirrored {
        imageops::flip_horizontal_in_place(&mut strip);
    }
    if inverted {
        imageops::invert(&mut strip);
    }
    Some(strip)
}

fn draw_message(frame: &mut Frame, area: Rect, scene: &Scene) {
    let desk = scene.desk;
    let findings = &desk.sheet().findings;
    let text = match (desk.message(), findings.first()) {
        (Some(message), _) => message.to_owned(),
        (None, Some(finding)) => {
            let more = match findings.len() - 1 {
                0 => String::new(),
                more => format!(" (and {more} more)"),
            };
            format!("Noticed: {}{more}", finding.message)
        }
        (None, None) => match desk.done().last() {
            Some(done) => format!("Before: {} {}", done.sheet, done.words),
            None => String::new(),
        },
    };
    let style = Style::new().add_modifier(Modifier::BOLD);
    frame.render_widget(Line::styled(format!(" {}", shown(&text)), style), area);
}

fn draw_keys(frame: &mut Frame, area: Rect, scene: &Scene) {
    let next = match (scene.desk.pane(), scene.desk.ready()) {
        (Pane::Fields, true) => "Enter accepts the sheet",
        (Pane::Fields, false) => "Enter accepts the field",
        _ => "Enter takes it · Esc goes back",
    };
    let text = format!(
        " {next} · Ctrl+D same as before · Alt+U undo · Ctrl+O put off · Ctrl+F roster · Alt+H all keys"
    );
    let style = Style::new().add_modifier(Modifier::DIM);
    frame.render_widget(Line::styled(text, style), area);
}
