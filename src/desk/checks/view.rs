//! The list drawn in cells: findings on top, what the one in hand says and which of its sheets is meant below.

use super::list::CheckList;
use crate::desk::view::is_too_small;
use crate::value::{Severity, shown};
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::{Paragraph, Wrap};
use unicode_width::UnicodeWidthStr;

/// Rows for what a finding says, its sheet among them.
const WORDS: u16 = 6;

/// All that is drawn.
#[derive(Debug, Clone, Copy)]
pub struct Scene<'a> {
    pub list: &'a CheckList,
    /// The job's title.
    pub title: &'a str,
}

/// Draws the list.
pub fn draw(frame: &mut Frame, scene: &Scene) {
    let area = frame.area();
    if is_too_small(frame) {
        return;
    }
    let [status, rows, words, message, keys] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Min(0),
        Constraint::Length(WORDS.min(area.height / 2)),
        Constraint::Length(1),
        Constraint::Length(1),
    ])
    .areas(area);
    let list = scene.list;
    let counts = [Severity::Fault, Severity::Warning, Severity::Note].map(|severity| {
        let count = list.count(severity);
        let many = if count == 1 { "" } else { "s" };
        format!("{count} {severity}{many}")
    });
    let left = format!(" {}", counts.join(", "));
    let right = format!("{} ", shown(scene.title));
    let gap = usize::from(area.width).saturating_sub(left.width() + right.width());
    let reversed = Style::new().add_modifier(Modifier::REVERSED);
    let text = format!("{left}{}{right}", " ".repeat(gap));
    frame.render_widget(Paragraph::new(text).style(reversed), status);
    draw_rows(frame, rows, list);
    draw_words(frame, words, list);
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let said = format!(" {}", shown(list.message().unwrap_or_default()));
    frame.render_widget(Line::styled(said, bold), message);
    let dim = Style::new().add_modifier(Modifier::DIM);
    let text = " Enter opens the sheet · arrows choose · R checks again · Q leaves";
    frame.render_widget(Line::styled(text, dim), keys);
}

fn draw_rows(frame: &mut Frame, area: Rect, list: &CheckList) {
    if list.checks().is_empty() {
        let words = " Nothing stands between this batch and its delivery.";
        frame.render_widget(Line::raw(words), area);
        return;
    }
    let codes = list.checks().iter().map(|check| check.code.len());
    let width = codes.max().unwrap_or_default();
    let rows = usize::from(area.height);
    // The one in hand stays on the screen, with what is behind it where there is room.
    let top = (list.at() + 1 + rows / 3)
        .min(list.checks().len())
        .saturating_sub(rows);
    for (row, check) in list.checks().iter().enumerate().skip(top).take(rows) {
        let is_in_hand = row == list.at();
        let sign = if is_in_hand { '>' } else { ' ' };
        let sheets = match &check.sheets[..] {
            [] => "the batch".to_owned(),
            [one] => shown(one.as_str()).into_owned(),
            [first, rest @ ..] => format!("{} and {} more", shown(first.as_str()), rest.len()),
        };
        let severity = check.severity.to_string();
        let text = format!("{sign} {severity:<8} {:<width$}  {sheets}", check.code);
        let style = match is_in_hand {
            true => Style::new().add_modifier(Modifier::BOLD),
            false => Style::new(),
        };
        let place = Rect::new(area.x, area.y + (row - top) as u16, area.width, 1);
        frame.render_widget(Line::styled(text, style), place);
    }
}

fn draw_words(frame: &mut Frame, area: Rect, list: &CheckList) {
    let Some(check) = list.in_hand() else { return };
    let [rule, words, sheet] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Min(0),
        Constraint::Length(1),
    ])
    .areas(area);
    let dim = Style::new().add_modifier(Modifier::DIM);
    frame.render_widget(Line::styled("─".repeat(usize::from(rule.width)), dim), rule);
    let inner = Rect {
        x: words.x + 1,
        width: words.width.saturating_sub(2),
        ..words
    };
    let text = shown(&check.message).into_owned();
    frame.render_widget(Paragraph::new(text).wrap(Wrap::default()), inner);
    if let Some((at, name)) = list.sheet() {
        let text = format!(
            " Sheet {} of {}: {}",
            at + 1,
            check.sheets.len(),
            shown(name.as_str())
        );
        let bold = Style::new().add_modifier(Modifier::BOLD);
        frame.render_widget(Line::styled(text, bold), sheet);
    }
}
