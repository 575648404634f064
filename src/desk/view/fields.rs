//! The list of fields.

use super::Scene;
use crate::desk::clerk::{Field, Pane};
use crate::desk::picture::Window;
use crate::proposal::Face;
use crate::value::shown;
use ratatui::Frame;
use ratatui::layout::{Position, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

/// Cells for names and for the words on how sure a value is.
const MOST_NAME: usize = 14;
const FACE: usize = 8;

pub fn draw(frame: &mut Frame, area: Rect, scene: &Scene) {
    let desk = scene.desk;
    let fields = desk.fields();
    let name_width = fields.iter().map(|f| f.plan.name.width()).max();
    let name_width = name_width.unwrap_or(0).min(MOST_NAME);
    let rows = usize::from(area.height);
    // The field in hand is always among those shown.
    let first = (desk.focus() + 1).saturating_sub(rows);
    for (row, (at, field)) in fields.iter().enumerate().skip(first).take(rows).enumerate() {
        let place = Rect::new(area.left(), area.top() + row as u16, area.width, 1);
        let is_in_hand = at == desk.focus();
        let width = usize::from(area.width);
        frame.render_widget(line(field, is_in_hand, name_width, width), place);
        if is_in_hand && *desk.pane() == Pane::Fields {
            let before = shown(&field.editor.before_cursor()).width();
            let x = 2 + name_width + 1 + before;
            let x = place.left() + (x as u16).min(place.width.saturating_sub(1));
            frame.set_cursor_position(Position::new(x, place.top()));
        }
    }
}

fn line(field: &Field, is_in_hand: bool, name_width: usize, width: usize) -> Line<'static> {
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let sign = if is_in_hand { "> " } else { "  " };
    let name: String = shown(&field.plan.name).chars().take(name_width).collect();
    let (value, room) = value(field, width.saturating_sub(name_width + 3 + FACE));
    let mut spans = vec![
        Span::styled(sign, bold),
        Span::styled(
            format!("{name:<name_width$} "),
            if is_in_hand { bold } else { Style::new() },
        ),
    ];
    spans.extend(value);
    let used = 2 + name_width + 1 + room;
    let notes = notes(field);
    let room = width.saturating_sub(used + 1);
    let notes: String = notes.chars().take(room).collect();
    let gap = width.saturating_sub(used + notes.width());
    // What is said of the value stands right behind it in wide windows, at the end in narrow ones.
    let gap = gap.min(34usize.saturating_sub(used.min(32)).max(2));
    spans.push(Span::raw(" ".repeat(gap)));
    spans.push(Span::raw(notes));
    Line::from(spans)
}

/// The value with its doubtful characters underlined, and the cells that it takes.
fn value(field: &Field, most: usize) -> (Vec<Span<'static>>, usize) {
    let doubtful = field.doubtful();
    let underlined = Style::new().add_modifier(Modifier::UNDERLINED | Modifier::BOLD);
    let (mut spans, mut used) = (Vec::new(), 0);
    for (at, c) in field.value().chars().enumerate() {
        let text = shown(&c.to_string()).into_owned();
        if used + text.width() > most {
            break;
        }
        used += text.width();
        let style = match doubtful.contains(&at) {
            true => underlined,
            false => Style::new(),
        };
        spans.push(Span::styled(text, style));
    }
    (spans, used)
}

fn notes(field: &Field) -> String {
    let face = match (field.accepted, field.face()) {
        (true, _) => "+ seen",
        (false, Face::Sure) => "= sure",
        (false, Face::Look) => "? look",
        (false, Face::Empty) => "_ empty",
    };
    let mut notes = vec![face.to_owned()];
    let source = field.source_word();
    if !source.is_empty() {
        notes.push(source.to_owned());
    }
    if let Some(objection) = &field.objection {
        match &field.overruled {
            None => notes.push(format!("! {objection}")),
            Some(reason) => notes.push(format!("kept: {}", shown(reason))),
        }
    }
    if field.differs()
        && let Some(row) = &field.as_roster
    {
        notes.push(format!("roster: {}", shown(row)));
    }
    notes.join(" · ")
}

/// A row of marks below a close-up: `^` under every character that the reader doubts.
pub fn marks_under(field: &Field, window: &Window, width: usize) -> String {
    let mut marks = vec![' '; width];
    for (_, bounds, probability) in &field.place.characters {
        let middle = f64::from(bounds.left + bounds.right) / 2.0;
        let column = window.column_of(middle).filter(|at| *at < width);
        if *probability < crate::desk::clerk::DOUBTFUL
            && let Some(column) = column
        {
            marks[column] = '^';
        }
    }
    marks.into_iter().collect()
}
