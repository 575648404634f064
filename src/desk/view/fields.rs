//! The list of fields.

use super::Scene;
use crate::desk::clerk::{Field, Pane};
use crate::desk::picture::Window;
use crate::proposal::Face;
use crate::value::{Bounds, shown};
use ratatui::Frame;
use ratatui::layout::{Position, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

/// Cells for names and for the words on how sure a value is.
const MOST_NAME: usize = 14;
const FACE: usize = 8;
/// The column in which they begin.
const NOTES: usize = 34;

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
    let (value, room) = value(
        field,
        is_in_hand,
        width.saturating_sub(name_width + 3 + FACE),
    );
    let mut spans = vec![
        Span::styled(sign, bold),
        Span::styled(
            format!("{name:<name_width$} "),
            if is_in_hand { bold } else { Style::new() },
        ),
    ];
    spans.extend(value);
    let used = 2 + name_width + 1 + room;
    // What is said of the values stands in one column, as far as they let it.
    let gap = NOTES.saturating_sub(used).max(2);
    let mut notes = notes(field);
    while used + gap + notes.width() > width && notes.pop().is_some() {}
    spans.push(Span::raw(" ".repeat(gap)));
    spans.push(Span::raw(notes));
    Line::from(spans)
}

/// The value with its doubtful characters underlined, and the cells that it takes. A value that gives way to the first
/// letter typed is reversed while it is in hand.
fn value(field: &Field, is_in_hand: bool, most: usize) -> (Vec<Span<'static>>, usize) {
    let places = field.places();
    let is_doubtful = |at: usize| places.get(at).is_some_and(|place| place.is_doubtful);
    let usual = match is_in_hand && field.editor.is_marked() {
        true => Style::new().add_modifier(Modifier::REVERSED),
        false => Style::new(),
    };
    let underlined = usual.add_modifier(Modifier::UNDERLINED | Modifier::BOLD);
    let (mut spans, mut used) = (Vec::new(), 0);
    for (at, grapheme) in field.editor.graphemes().iter().enumerate() {
        let text = shown(grapheme).into_owned();
        if used + text.width() > most {
            break;
        }
        used += text.width();
        let style = if is_doubtful(at) { underlined } else { usual };
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
    let speaks_against = field.objection.as_ref().or(field.contradiction.as_ref());
    match (speaks_against, &field.overruled) {
        (Some(_), Some(reason)) => notes.push(format!("kept: {}", shown(reason))),
        (Some(words), None) => notes.push(format!("! {}", shown(words))),
        (None, _) => {}
    }
    if field.differs()
        && let Some(row) = &field.as_roster
    {
        notes.push(format!("roster: {}", shown(row)));
    }
    notes.join(" · ")
}

/// A row of marks below a close-up: `^` under every character that the reader doubts, `|` under the one at the cursor.
pub fn marks_under(field: &Field, window: &Window, width: usize) -> String {
    let mut marks = vec![' '; width];
    let column = |bounds: Bounds| {
        let middle = f64::from(bounds.left + bounds.right) / 2.0;
        window.column_of(middle).filter(|at| *at < width)
    };
    let places = field.places().into_iter();
    let doubtful = places.filter(|place| place.is_doubtful);
    for at in doubtful.filter_map(|place| place.bounds).filter_map(column) {
        marks[at] = '^';
    }
    if let Some(at) = field.cursor_bounds().and_then(column) {
        marks[at] = '|';
    }
    marks.into_iter().collect()
}
