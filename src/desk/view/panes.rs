//! What lies below the fields: suggestions, or a pane that asks for something.

use super::Scene;
use crate::desk::clerk::{Editor, KINDS, Pane, Purpose, RosterRow, Suggestion, help_lines};
use crate::value::shown;
use ratatui::Frame;
use ratatui::layout::{Position, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

/// Rows that the pane in hand wants.
pub fn rows(scene: &Scene) -> u16 {
    let rows = match scene.desk.pane() {
        Pane::Fields | Pane::Help(_) => 0,
        Pane::Reasons(reasons) => reasons.listed.len() + 2,
        Pane::Roster(search) => search.rows.len().max(1) + 1,
        Pane::Jump(_) | Pane::Note(_) => 1,
        Pane::Kind(_) => KINDS.len() + 1,
        Pane::Why => why_lines(scene).len(),
    };
    rows as u16
}

/// Several short ones in a row, as many as fit.
pub fn suggestions(frame: &mut Frame, area: Rect, scene: &Scene) {
    let width = usize::from(area.width);
    let mut lines: Vec<String> = Vec::new();
    for (suggestion, number) in scene.desk.suggestions().iter().zip(1..) {
        let text = format!(" Alt+{number} {}", suggestion_text(suggestion));
        match lines.last_mut() {
            Some(last) if last.width() + 2 + text.width() <= width => {
                last.push_str("  ");
                last.push_str(&text);
            }
            _ => lines.extend(broken(&text, width)),
        }
    }
    put(frame, area, &lines, None);
}

/// A long line broken between the cells of a row.
fn broken(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for piece in text.split_inclusive(" · ") {
        let last = lines.last_mut().expect("there is one from the start");
        if last.is_empty() || last.width() + piece.trim_end().width() <= width {
            last.push_str(piece);
        } else {
            lines.push(format!("       {piece}"));
        }
    }
    lines
}

fn suggestion_text(suggestion: &Suggestion) -> String {
    match suggestion {
        Suggestion::Value(value, probability) => {
            format!("{} {:.0} %", shown(value), 100.0 * probability.get())
        }
        Suggestion::AsRoster(value) => format!("{} as in the roster", shown(value)),
        Suggestion::Linked(row) => format!("linked: {}", row_text(row)),
        Suggestion::Row(row, probability) => {
            format!("{:.0} %: {}", 100.0 * probability.get(), row_text(row))
        }
    }
}

/// The sheets done last, the last one first.
pub fn done(frame: &mut Frame, area: Rect, scene: &Scene) {
    let done = scene.desk.done().iter().rev();
    if done.len() == 0 {
        return;
    }
    let lines = done.map(|done| format!(" {} {}", done.sheet, shown(&done.words)));
    let lines: Vec<String> = [" Done last:".to_owned()]
        .into_iter()
        .chain(lines)
        .collect();
    let style = Style::new().add_modifier(Modifier::DIM);
    for (line, y) in lines.into_iter().zip(area.top()..area.bottom()) {
        let place = Rect::new(area.left(), y, area.width, 1);
        frame.render_widget(Line::styled(line, style), place);
    }
}

fn row_text(row: &RosterRow) -> String {
    let cells = row.columns.iter().filter(|(_, cell)| !cell.is_empty());
    let cells: Vec<String> = cells.map(|(_, cell)| shown(cell).into_owned()).collect();
    cells.join(" · ")
}

pub fn draw(frame: &mut Frame, area: Rect, pane: &Pane, scene: &Scene) {
    match pane {
        Pane::Fields | Pane::Help(_) => {}
        Pane::Reasons(reasons) => {
            let asked = match reasons.purpose {
                Purpose::Hold => "Why is this sheet put off?",
                Purpose::SetAside => "Why is this sheet set aside?",
                Purpose::Overrule => "Why does this value stand against the check?",
            };
            let mut lines = vec![format!(" {asked}")];
            let listed = reasons.listed.iter().zip(1..);
            lines.extend(listed.map(|(reason, n)| format!(" Alt+{n}  {}", shown(reason))));
            let at = reasons.other.is_empty().then_some(reasons.at + 1);
            lines.push(String::new());
            let row = lines.len() - 1;
            put(
                frame,
                area,
                &lines,
                at.filter(|_| !reasons.listed.is_empty()),
            );
            edit(frame, area, row, " Another reason: ", &reasons.other);
        }
        Pane::Roster(search) => {
            let mut lines = vec![String::new()];
            lines.extend(
                search
                    .rows
                    .iter()
                    .zip(1..)
                    .map(|(row, number)| format!(" Alt+{number}  {}", row_text(row))),
            );
            if search.rows.is_empty() {
                lines.push(" No row of the roster has these words.".to_owned());
            }
            let at = (!search.rows.is_empty()).then_some(search.at + 1);
            put(frame, area, &lines, at);
            edit(frame, area, 0, " In the roster: ", &search.words);
        }
        Pane::Jump(editor) => edit(
            frame,
            area,
            0,
            " Go to sheet (number, or part of its name): ",
            editor,
        ),
        Pane::Note(editor) => edit(frame, area, 0, " Note: ", editor),
        Pane::Kind(at) => {
            let mut lines = vec![" What is this sheet?".to_owned()];
            let kinds = KINDS.iter().zip(1..);
            lines.extend(kinds.map(|(kind, n)| format!(" Alt+{n}  {kind}")));
            put(frame, area, &lines, Some(at + 1));
        }
        Pane::Why => put(frame, area, &why_lines(scene), None),
    }
}

/// Why the field in hand is proposed, and all that was noticed on the sheet.
fn why_lines(scene: &Scene) -> Vec<String> {
    /// Lines of each sort at most.
    const MOST: usize = 7;
    let field = scene.desk.in_hand().filter(|_| scene.desk.shows_proposal());
    let mut lines = vec![match field.map(|field| (field, &field.proposed)) {
        None => " Nothing is proposed for this sheet.".to_owned(),
        Some((field, None)) => format!(" {}: nothing is proposed.", field.plan.name),
        Some((field, Some(proposed))) => format!(
            " {}: proposed {} with {:.1} %, because",
            field.plan.name,
            shown(&proposed.value),
            100.0 * proposed.probability.get()
        ),
    }];
    let reasons = field.into_iter().flat_map(|field| &field.reasons);
    lines.extend(
        reasons
            .take(MOST)
            .map(|words| format!("   {}", shown(words))),
    );
    let findings = scene.desk.sheet().findings.iter().take(MOST);
    lines.extend(findings.map(|finding| format!(" Noticed: {}", shown(&finding.message))));
    lines
}

pub fn help(frame: &mut Frame, area: Rect, top: usize) {
    let lines: Vec<String> = help_lines()
        .into_iter()
        .skip(top)
        .map(|(key, words)| format!(" {key:<15} {words}"))
        .collect();
    let mut all = vec![" All keys. Letters and digits always type. Esc goes back.".to_owned()];
    all.extend(lines);
    put(frame, area, &all, Some(0));
}

/// Lines from the top, one of them standing out; the last one shown follows it where there is too little room.
fn put(frame: &mut Frame, area: Rect, lines: &[String], at: Option<usize>) {
    let rows = usize::from(area.height);
    let first = at.map_or(0, |at| (at + 1).saturating_sub(rows));
    for (row, (number, line)) in lines.iter().enumerate().skip(first).take(rows).enumerate() {
        let style = match at == Some(number) {
            true => Style::new().add_modifier(Modifier::REVERSED),
            false => Style::new(),
        };
        let place = Rect::new(area.left(), area.top() + row as u16, area.width, 1);
        frame.render_widget(Paragraph::new(line.as_str()).style(style), place);
    }
}

/// A line that is typed in, with the terminal's cursor in it.
fn edit(frame: &mut Frame, area: Rect, row: usize, label: &str, editor: &Editor) {
    if row >= usize::from(area.height) {
        return;
    }
    let place = Rect::new(area.left(), area.top() + row as u16, area.width, 1);
    let text = format!("{label}{}", shown(&editor.text()));
    frame.render_widget(Line::raw(text), place);
    let before = label.width() + shown(&editor.before_cursor()).width();
    let x = place.left() + (before as u16).min(place.width.saturating_sub(1));
    frame.set_cursor_position(Position::new(x, place.top()));
}
