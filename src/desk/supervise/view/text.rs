//! The rule file in the editor, its faults marked.

use super::super::pane::Focus;
use super::{Scene, bold, cut, dim};
use crate::value::shown;
use ratatui::Frame;
use ratatui::layout::{Position, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

pub fn draw(frame: &mut Frame, area: Rect, scene: &Scene) {
    if area.height == 0 {
        return;
    }
    let desk = scene.desk;
    let (name, at, of) = desk.file();
    let numbered = match of {
        1 => String::new(),
        of => format!(" ({} of {of})", at + 1),
    };
    let is_here = desk.focus() == Focus::Rules;
    let sign = if is_here { '>' } else { ' ' };
    let title = format!("{sign}{}{numbered}", shown(name));
    let style = if is_here { bold() } else { dim() };
    let titled = area.height > 2;
    if titled {
        let place = Rect { height: 1, ..area };
        frame.render_widget(Line::styled(cut(&title, area.width.into()), style), place);
    }
    let area = Rect {
        y: area.y + u16::from(titled),
        height: area.height - u16::from(titled),
        ..area
    };
    let pad = desk.pad();
    let (line, character) = pad.cursor();
    let height = usize::from(area.height);
    // The cursor's line stands in the middle, but for the file's two ends.
    let lines = pad.lines();
    let top = line
        .saturating_sub(height / 2)
        .min(lines.len().saturating_sub(height));
    let digits = lines.len().to_string().len();
    let gutter = digits + 2;
    let room = usize::from(area.width).saturating_sub(gutter + 1).max(1);
    let before_cursor: String = lines[line].chars().take(character).collect();
    let column = shown(&before_cursor).width();
    let from = column.saturating_sub(room.saturating_sub(1));
    for (row, number) in (area.y..area.bottom()).zip(top..lines.len()) {
        let faults = desk.faults_here().filter(|f| f.line == number + 1);
        let columns: Vec<usize> = faults.map(|fault| fault.column.max(1) - 1).collect();
        let sign = if columns.is_empty() { ' ' } else { '!' };
        let mut spans = vec![Span::styled(
            format!("{:>digits$}{sign} ", number + 1),
            if columns.is_empty() { dim() } else { bold() },
        )];
        // Only the cursor's line is moved, so that the others can be read from their start.
        let from = if number == line { from } else { 0 };
        spans.extend(marked(&lines[number], &columns, from, room));
        let place = Rect::new(area.x, row, area.width, 1);
        frame.render_widget(Line::from(spans), place);
    }
    if is_here && line >= top {
        let x = area.x + (gutter + column - from) as u16;
        let y = area.y + (line - top) as u16;
        frame.set_cursor_position(Position::new(x.min(area.right().saturating_sub(1)), y));
    }
}

/// A line from a column on, what stands where a fault is underlined to the end of its word.
fn marked(line: &str, faults: &[usize], from: usize, room: usize) -> Vec<Span<'static>> {
    let mark = Style::new().add_modifier(Modifier::UNDERLINED | Modifier::BOLD);
    let is_comment = line.trim_start().starts_with('#');
    let plain = if is_comment { dim() } else { Style::new() };
    let mut spans: Vec<(String, bool)> = Vec::new();
    let (mut skipped, mut used) = (0, 0);
    let mut is_faulty = false;
    for (at, letter) in line.chars().enumerate() {
        is_faulty = faults.contains(&at) || is_faulty && !letter.is_whitespace();
        let text = shown(letter.encode_utf8(&mut [0; 4])).into_owned();
        let width = text.width();
        if skipped < from {
            skipped += width;
            continue;
        }
        if used + width > room {
            break;
        }
        used += width;
        match spans.last_mut() {
            Some((run, faulty)) if *faulty == is_faulty => run.push_str(&text),
            _ => spans.push((text, is_faulty)),
        }
    }
    let spans = spans.into_iter();
    let style = |faulty| if faulty { mark } else { plain };
    spans
        .map(|(text, faulty)| Span::styled(text, style(faulty)))
        .collect()
}
