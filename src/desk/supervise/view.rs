//! The supervisor's desk drawn in cells: the rules, what they do to all sheets, and one sheet looked at closely.

mod bench;
mod example;
mod layout;
mod pages;
mod sheet;
mod text;

use super::pane::{Focus, Pane};
use super::supervisor::Supervisor;
use crate::desk::picture::{Memo, Shape};
use crate::desk::view::{Picture, Theme, is_too_small};
use crate::reading::Reading;
use crate::value::{SheetId, shown};
use layout::places;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::Paragraph;
use sheet::wrapped;
use unicode_width::UnicodeWidthStr;

/// All that is drawn beside the desk itself.
pub struct Scene<'a> {
    pub desk: &'a Supervisor,
    /// The job's title, and who sits here.
    pub title: &'a str,
    pub person: &'a str,
    /// The sheet in hand.
    pub sheet: Option<&'a SheetId>,
    pub picture: Option<Picture<'a>>,
    pub reading: Option<&'a Reading>,
    /// All of the sheet is shown, not its strip.
    pub whole: bool,
    /// Name and text of the sheet at a place of the drawer.
    pub text_of: &'a dyn Fn(usize) -> (&'a str, &'a str),
    pub shape: Option<Shape>,
    pub memo: &'a Memo,
    pub theme: Theme,
}

/// Draws the desk; places the terminal's own cursor where letters go.
pub fn draw(frame: &mut Frame, scene: &Scene) {
    let area = frame.area();
    if is_too_small(frame) {
        return;
    }
    match scene.desk.pane() {
        Pane::Help(top) => return pages::help(frame, area, *top),
        Pane::Explained(top) => return pages::explained(frame, area, *top, scene),
        Pane::ByRule(top) => return pages::by_rule(frame, area, *top, scene),
        Pane::Marking => return example::marking(frame, area, scene),
        Pane::Offers(offers) => return example::offers(frame, area, offers, scene),
        Pane::None | Pane::Publish | Pane::GiveUp => {}
    }
    let message = message_of(scene);
    let rows = wrapped(&message, area.width.into()).len();
    let places = places(area, scene.desk.focus(), rows as u16);
    draw_status(frame, places.status, scene);
    text::draw(frame, places.rules, scene);
    bench::figures(frame, places.figures, scene);
    bench::trays(frame, places.trays, scene);
    bench::list(frame, places.list, scene);
    sheet::picture(frame, places.picture, scene);
    sheet::taken_apart(frame, places.sheet, scene);
    draw_message(frame, places.message, scene);
    draw_keys(frame, places.keys, scene);
    if matches!(scene.desk.pane(), Pane::Publish | Pane::GiveUp) {
        pages::question(frame, area, scene);
    }
}

pub(super) fn bold() -> Style {
    Style::new().add_modifier(Modifier::BOLD)
}

pub(super) fn dim() -> Style {
    Style::new().add_modifier(Modifier::DIM)
}

pub(super) fn reversed() -> Style {
    Style::new().add_modifier(Modifier::REVERSED)
}

/// The first characters of a text that fit into so many cells.
pub(super) fn cut(text: &str, width: usize) -> String {
    let mut cut = String::new();
    for letter in text.chars() {
        cut.push(letter);
        if cut.width() > width {
            cut.pop();
            break;
        }
    }
    cut
}

fn draw_status(frame: &mut Frame, area: Rect, scene: &Scene) {
    let desk = scene.desk;
    let state = match (desk.draft().is_changed(), desk.faults().len()) {
        (false, 0) => "rules in use".to_owned(),
        (false, _) => "the rules in use are at fault".to_owned(),
        (true, 0) => "draft, not in use".to_owned(),
        (_, 1) => "draft with 1 fault".to_owned(),
        (_, faults) => format!("draft with {faults} faults"),
    };
    let left = format!(" {} · {state}", shown(scene.title));
    let right = format!("{} ", shown(scene.person));
    let room = usize::from(area.width);
    let left = cut(&left, room.saturating_sub(right.width()));
    let gap = room.saturating_sub(left.width() + right.width());
    let text = format!("{left}{}{right}", " ".repeat(gap));
    frame.render_widget(Paragraph::new(text).style(reversed()), area);
}

/// What there is to say: a message, else what is wrong with the draft.
fn message_of(scene: &Scene) -> String {
    let desk = scene.desk;
    let here = desk.file().0;
    let fault = desk.faults().first().map(|fault| {
        let file = match fault.file == here {
            true => String::new(),
            false => format!("{}, ", fault.file),
        };
        format!(
            "{file}line {}: expected {}, found {}. {}.",
            fault.line, fault.expected, fault.found, fault.advice
        )
    });
    let working = || {
        let words = match desk.figures() {
            None => "The readings are being put on the bench.",
            Some(figures) if figures.effect.sheets == 0 => {
                "No sheet was read yet: run headword read, then open this desk again."
            }
            Some(_) => return None,
        };
        Some(words.to_owned())
    };
    let words = desk.message().map(str::to_owned).or(fault).or_else(working);
    format!(" {}", shown(&words.unwrap_or_default()))
}

fn draw_message(frame: &mut Frame, area: Rect, scene: &Scene) {
    let lines = wrapped(&message_of(scene), area.width.into());
    for (line, y) in lines.into_iter().zip(area.y..area.bottom()) {
        let place = Rect::new(area.x, y, area.width, 1);
        frame.render_widget(Line::styled(line, bold()), place);
    }
}

fn draw_keys(frame: &mut Frame, area: Rect, scene: &Scene) {
    let text = match (scene.desk.pane(), scene.desk.focus()) {
        (Pane::Publish | Pane::GiveUp, _) => " Enter does it · Esc goes back",
        (_, Focus::Rules) => {
            " Tab sheets · Alt+N next sheet · Alt+G fault · Alt+P put to use · Alt+H keys"
        }
        (_, Focus::Sheets) => {
            " Tab rules · Enter explain · Left/Right other rule · Alt+E example · Alt+H keys"
        }
    };
    frame.render_widget(Line::styled(text, dim()), area);
}
