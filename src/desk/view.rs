//! The clerk's desk drawn in cells.
//!
//! From the top: where we are; the strip, in bands where it is long; the field in hand close up; the fields; what Alt and
//! a digit put in; the last message, or what was noticed; the keys. States are a sign and a word, never a colour alone.

mod fields;
mod layout;
mod panes;
mod paper;
#[cfg(test)]
mod tests;

pub use paper::{Theme, put_cells};

use super::clerk::{Clerk, Pane};
use super::picture::{Canvas, Composed, Gaze, Memo, Shape, Subject, compose};
use crate::journal::Tally;
use crate::value::{SheetKind, shown};
use image::GrayImage;
pub use layout::LEAST;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::{Clear, Paragraph};
use unicode_width::UnicodeWidthStr;

/// All that is drawn beside the desk itself.
pub struct Scene<'a> {
    pub desk: &'a Clerk,
    pub picture: Picture<'a>,
    /// What pictures are made of; none where the person wants no pictures.
    pub shape: Option<Shape>,
    /// Pictures of this and other sheets that were drawn before, or painted ahead.
    pub memo: &'a Memo,
    pub theme: Theme,
    pub tally: Tally,
    pub person: &'a str,
}

/// The strip with its light evened out, or the whole sheet where that is asked for.
#[derive(Debug, Clone, Copy)]
pub enum Picture<'a> {
    Coming,
    /// It could not be made.
    None,
    There(&'a GrayImage),
}

/// Whether the screen is too small for any desk; then it says so.
pub fn is_too_small(frame: &mut Frame) -> bool {
    let area = frame.area();
    if area.width >= LEAST.0 && area.height >= LEAST.1 {
        return false;
    }
    let words = format!(
        "This window has {} x {} cells; the desk needs {} x {}. Make it larger.",
        area.width, area.height, LEAST.0, LEAST.1
    );
    frame.render_widget(Paragraph::new(words).wrap(Default::default()), area);
    true
}

/// Draws the desk; places the terminal's own cursor where letters go.
pub fn draw(frame: &mut Frame, scene: &Scene) {
    let area = frame.area();
    if is_too_small(frame) {
        return;
    }
    let desk = scene.desk;
    if let Pane::Help(top) = desk.pane() {
        panes::help(frame, area, *top);
        return;
    }
    let places = layout::places(area, desk.fields().len() as u16);
    draw_status(frame, places.status, scene);
    draw_picture(frame, places.picture, scene);
    match desk.pane() {
        Pane::Fields => {
            fields::draw(frame, places.fields, scene);
            panes::suggestions(frame, places.suggestions, scene);
            panes::done(frame, places.done, scene);
        }
        pane => {
            let (fields, place) = layout::with_pane(&places, panes::rows(scene));
            frame.render_widget(Clear, fields);
            frame.render_widget(Clear, place);
            fields::draw(frame, fields, scene);
            panes::draw(frame, place, pane, scene);
        }
    }
    draw_message(frame, places.message, scene);
    draw_keys(frame, places.keys, scene);
}

/// What the pictures of sheets with so many fields are drawn on, on a screen of this size.
pub fn canvas(screen: (u16, u16), fields: usize, shape: Shape, theme: Theme) -> Canvas {
    let area = Rect::new(0, 0, screen.0, screen.1);
    canvas_of(layout::places(area, fields as u16).picture, shape, theme)
}

pub fn canvas_of(area: Rect, shape: Shape, theme: Theme) -> Canvas {
    Canvas {
        columns: u32::from(area.width),
        rows: u32::from(area.height),
        shape,
        greys: theme.has_greys(),
    }
}

fn draw_status(frame: &mut Frame, area: Rect, scene: &Scene) {
    let sheet = scene.desk.sheet();
    let Tally {
        keyed,
        held,
        set_aside,
        ..
    } = scene.tally;
    let pass = match sheet.pass {
        0 | 1 => String::new(),
        pass => format!(" · keying {pass}"),
    };
    let record = match scene.desk.record() {
        (_, 1) => String::new(),
        (at, of) => format!(" · record {} of {of}", at + 1),
    };
    let kind = match scene.desk.kind() {
        SheetKind::Record => String::new(),
        kind => format!(" · {kind}"),
    };
    let blind = match scene.desk.shows_proposal() {
        true => "",
        false => " · nothing filled in",
    };
    let left = format!(
        " {} {} of {}{pass}{record}{kind}{blind}",
        sheet.sheet, sheet.place, sheet.of
    );
    let right = format!(
        "{keyed} keyed · {held} put off · {set_aside} aside · {} ",
        shown(scene.person)
    );
    let room = usize::from(area.width);
    let gap = room.saturating_sub(left.width() + right.width());
    let text = match gap {
        0 => left,
        gap => format!("{left}{}{right}", " ".repeat(gap)),
    };
    let style = Style::new().add_modifier(Modifier::REVERSED);
    frame.render_widget(Paragraph::new(format!("{text:<room$}")).style(style), area);
}

fn draw_picture(frame: &mut Frame, area: Rect, scene: &Scene) {
    let desk = scene.desk;
    let text = desk.sheet().reading.text();
    let words = match (scene.picture, scene.shape) {
        (_, None) if !desk.shows_proposal() => {
            "Pictures are off, and what was read is not shown for this sheet: look at the film.".to_owned()
        }
        (_, None) if text.is_empty() => "Nothing was read on this sheet.".to_owned(),
        (_, None) => format!("Read on the strip:\n{}", shown_lines(&text)),
        (Picture::Coming, _) => "The picture of the sheet is being made.".to_owned(),
        (Picture::None, _) => {
            "There is no picture of this sheet: its image cannot be opened. Put it off with Ctrl+O, or set it aside \
             with Ctrl+X."
                .to_owned()
        }
        (Picture::There(image), Some(shape)) => {
            return draw_cells(frame, area, image, shape, scene);
        }
    };
    let words = Paragraph::new(words).wrap(Default::default());
    frame.render_widget(words, area);
}

/// Line by line harmless.
fn shown_lines(text: &str) -> String {
    let lines: Vec<_> = text.lines().map(shown).collect();
    lines.join("\n")
}

fn draw_cells(frame: &mut Frame, area: Rect, image: &GrayImage, shape: Shape, scene: &Scene) {
    let desk = scene.desk;
    let wishes = desk.wishes();
    let field = desk.in_hand();
    let subject = Subject {
        sheet: &desk.sheet().sheet,
        image,
        whole: wishes.whole,
        reading: &desk.sheet().reading,
    };
    let gaze = Gaze {
        close: wishes.close,
        pan: wishes.pan,
        reversal: wishes.reversal,
        field: field.and_then(|field| field.bounds()),
        cursor: field.and_then(|field| field.cursor_bounds()),
    };
    let composed = compose(
        scene.memo,
        subject,
        canvas_of(area, shape, scene.theme),
        gaze,
    );
    let top = put_composed(frame, area, &composed, scene.theme);
    let is_as_read = !(wishes.whole || wishes.reversal.turned || wishes.reversal.mirrored);
    if let (Some(field), Some(window)) = (field.filter(|_| is_as_read), composed.window)
        && top < area.bottom()
    {
        let marks = fields::marks_under(field, &window, usize::from(area.width));
        let row = Rect::new(area.left(), top, area.width, 1);
        frame.render_widget(Line::from(marks), row);
    }
}

/// Puts a picture on the screen; gives the first row below it.
pub fn put_composed(frame: &mut Frame, area: Rect, composed: &Composed, theme: Theme) -> u16 {
    let windows = composed.bands.iter();
    let windows = windows.chain(composed.window.as_deref());
    windows.fold(area.top(), |top, window| {
        paper::put(frame, area, top, &window.cells, theme)
    })
}

fn draw_message(frame: &mut Frame, area: Rect, scene: &Scene) {
    let desk = scene.desk;
    let findings = &desk.sheet().findings;
    let fault = desk.in_hand().and_then(|field| {
        let fault = field.fault()?;
        Some(format!("{}: {fault}", field.plan.name))
    });
    let text = match (desk.message().or(fault.as_deref()), findings.first()) {
        (Some(message), _) => message.to_owned(),
        (None, _) if desk.kind() == SheetKind::Blank && desk.ready() => {
            "This looks like a blank sheet: Enter accepts it as one, Ctrl+K says what else it is."
                .to_owned()
        }
        (None, Some(finding)) => {
            let more = match findings.len() - 1 {
                0 => String::new(),
                more => format!(" (and {more} more: Ctrl+P)"),
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
