//! What lies over the desk: all keys, a sheet explained at length, a question.

use super::super::key::{BINDINGS, OTHERS};
use super::super::pane::Pane;
use super::sheet::wrapped;
use super::{Scene, bold, cut, reversed};
use crate::value::shown;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::Clear;

/// The first row of a page.
pub fn page_title(frame: &mut Frame, area: Rect, title: &str) {
    let width = usize::from(area.width);
    let title = format!("{:<width$}", cut(title, width));
    frame.render_widget(Line::styled(title, reversed()), Rect { height: 1, ..area });
}

fn page(frame: &mut Frame, area: Rect, title: &str, lines: &[String]) {
    let width = usize::from(area.width);
    page_title(frame, area, title);
    for (line, y) in lines.iter().zip(area.top() + 1..area.bottom()) {
        let place = Rect::new(area.x, y, area.width, 1);
        frame.render_widget(Line::raw(cut(line, width)), place);
    }
}

pub fn help(frame: &mut Frame, area: Rect, top: usize) {
    let bound = BINDINGS.iter().map(|(key, _, words)| (key.name(), *words));
    let others = OTHERS
        .iter()
        .map(|(keys, words)| ((*keys).to_owned(), *words));
    let lines: Vec<String> = bound
        .chain(others)
        .skip(top)
        .map(|(keys, words)| format!(" {keys:<16} {words}"))
        .collect();
    let title = " All keys. Letters type in the rules. Up and Down scroll; Esc goes back.";
    page(frame, area, title, &lines);
}

/// How many sheets each rule fits.
pub fn by_rule(frame: &mut Frame, area: Rect, top: usize, scene: &Scene) {
    let lines = scene.desk.figures().map(super::bench::by_rule);
    let mut lines = lines.unwrap_or_default();
    let last = lines.len().saturating_sub(1);
    lines.drain(..top.min(last));
    let title = " Sheets by the rule that fits them best. Esc goes back.";
    page(frame, area, title, &lines);
}

/// The sheet in hand explained by every rule that comes near.
pub fn explained(frame: &mut Frame, area: Rect, top: usize, scene: &Scene) {
    let mut lines = Vec::new();
    if let Some(inspected) = scene.desk.inspected() {
        for explanation in &inspected.explanations {
            let text = explanation.to_string();
            let text = text.lines().flat_map(|line| {
                let line = format!(" {line}");
                wrapped(&line, area.width.into())
            });
            lines.extend(text);
            lines.push(String::new());
        }
    }
    let last = lines.len().saturating_sub(1);
    lines.drain(..top.min(last));
    let sheet = scene.sheet.map(|sheet| shown(sheet.as_str()).into_owned());
    let title = format!(
        " {}. Up and Down scroll, Alt+N the next sheet; Esc goes back.",
        sheet.unwrap_or_default()
    );
    page(frame, area, &title, &lines);
}

/// Asks whether to go on, with what that means.
pub fn question(frame: &mut Frame, area: Rect, scene: &Scene) {
    let mut lines = Vec::new();
    match scene.desk.pane() {
        Pane::Publish => {
            lines.push("Put this draft to use? What it does to the sheets:".to_owned());
            if let Some(figures) = scene.desk.figures() {
                lines.extend(
                    figures
                        .in_words()
                        .into_iter()
                        .map(|words| format!("  {words}")),
                );
            }
            lines.push(
                "Sheets that wait are proposed anew; what was keyed stays as it is.".to_owned(),
            );
            let person = shown(scene.person);
            lines.push(format!(
                "Enter puts it to use, as decided by {person}. Esc goes back."
            ));
        }
        Pane::GiveUp => {
            lines.push("Give up what was written since the rules in use?".to_owned());
            lines.push("Alt+U can bring it back while you sit here.".to_owned());
            lines.push("Enter gives it up. Esc goes back.".to_owned());
        }
        _ => return,
    }
    let widest = usize::from(area.width).saturating_sub(4);
    let lines: Vec<String> = lines
        .iter()
        .flat_map(|line| wrapped(line, widest))
        .collect();
    let height = (lines.len() as u16 + 2).min(area.height);
    let longest = lines.iter().map(|line| line.chars().count()).max();
    let width = (longest.unwrap_or_default() as u16 + 4).min(area.width);
    let place = Rect::new(
        area.x + (area.width - width) / 2,
        area.y + (area.height - height) / 2,
        width,
        height,
    );
    frame.render_widget(Clear, place);
    for (at, y) in (place.y..place.bottom()).enumerate() {
        let text = at.checked_sub(1).and_then(|at| lines.get(at));
        let text = text.map_or("", String::as_str);
        let text = format!("  {text:<width$}", width = usize::from(width) - 2);
        let style = if at <= 1 { bold() } else { Default::default() };
        let row = Rect::new(place.x, y, width, 1);
        frame.render_widget(Line::styled(text, style.patch(reversed())), row);
    }
}
