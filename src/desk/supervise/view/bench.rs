//! What the draft does to all sheets: the figures, the trays and the sheets in one of them.

use super::super::figures::{Figures, Tray, Wanted};
use super::super::pane::Focus;
use super::{Scene, bold, cut, dim, reversed};
use crate::rules::Pair;
use crate::value::{shown, thousands};
use ratatui::Frame;
use ratatui::layout::{Position, Rect};
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

/// From this height on, the figures stand one below the other.
const TABLE: u16 = 5;

pub fn figures(frame: &mut Frame, area: Rect, scene: &Scene) {
    let Some(figures) = scene.desk.figures() else {
        return;
    };
    let lines = match area.height >= TABLE {
        true => table(figures, scene, usize::from(area.width)),
        false => in_two_lines(figures, scene),
    };
    for (line, y) in lines.into_iter().zip(area.y..area.bottom()) {
        frame.render_widget(line, Rect::new(area.x, y, area.width, 1));
    }
}

fn number(number: usize) -> String {
    thousands(&number.to_string())
}

fn table(figures: &Figures, scene: &Scene, width: usize) -> Vec<Line<'static>> {
    let head = format!(" {:<21}{:>8}{:>8}", "", "in use", "draft");
    let mut lines = vec![Line::styled(head, dim())];
    let rows = figures.lines().into_iter();
    // What the job has none of needs no row.
    let rows = rows.filter(|(_, pair, _)| (pair.before, pair.now) != (0, 0));
    lines.extend(rows.map(|(what, pair, wanted)| {
        let text = format!(
            " {what:<21}{:>8}{:>8}",
            number(pair.before),
            number(pair.now)
        );
        let moved = moved(pair, wanted);
        let style = if moved.is_empty() {
            Style::new()
        } else {
            bold()
        };
        Line::styled(cut(&format!("{text}  {moved}"), width), style)
    }));
    let [changed, progress] = changed_and_progress(figures, scene);
    lines.push(Line::raw(cut(&format!(" {changed}"), width)));
    lines.push(Line::styled(cut(&format!(" {progress}"), width), dim()));
    lines
}

/// How far a figure moved, and whether for the worse: by a word, not by a colour.
fn moved(pair: Pair, wanted: Wanted) -> String {
    let sign = if pair.now > pair.before { '+' } else { '-' };
    let by = number(pair.now.abs_diff(pair.before));
    match (pair.now == pair.before, wanted.is_better(pair)) {
        (true, _) => String::new(),
        (_, Some(true)) => format!("{sign}{by} better"),
        (_, Some(false)) => format!("{sign}{by} worse"),
        (_, None) => format!("{sign}{by}"),
    }
}

/// Sheets by the rule that fits them best, for a page of its own.
pub fn by_rule(figures: &Figures) -> Vec<String> {
    let rules = figures.effect.rules.iter();
    let widest = rules.clone().map(|(name, _)| name.width()).max();
    let widest = widest.unwrap_or_default().max(10);
    let mut lines = vec![format!(" {:<widest$}{:>9}{:>9}", "", "in use", "draft")];
    lines.extend(rules.map(|(name, pair)| {
        let name = shown(name);
        let (before, now) = (number(pair.before), number(pair.now));
        let moved = moved(*pair, Wanted::Neither);
        format!(" {name:<widest$}{before:>9}{now:>9}  {moved}")
    }));
    lines
}

fn in_two_lines(figures: &Figures, scene: &Scene) -> Vec<Line<'static>> {
    let effect = &figures.effect;
    let short = |pair: Pair| match pair.before == pair.now {
        true => number(pair.now),
        false => format!("{}>{}", number(pair.before), number(pair.now)),
    };
    let mut first = vec![
        format!(
            "fitted {} of {}",
            short(figures.fitted()),
            number(effect.sheets)
        ),
        format!("several {}", short(effect.fitted_by_several)),
        format!("fields {}", short(effect.fields_filled)),
        format!("broken {}", short(effect.checks_broken)),
    ];
    if let Some(keyed) = effect.keyed {
        let of = number(keyed.values);
        first.push(format!("as keyed {} of {of}", short(keyed.right)));
    }
    let [changed, progress] = changed_and_progress(figures, scene);
    vec![
        Line::raw(format!(" {}", first.join(" · "))),
        Line::raw(format!(" {changed} · {progress}")),
    ]
}

fn changed_and_progress(figures: &Figures, scene: &Scene) -> [String; 2] {
    let effect = &figures.effect;
    let mut changed = match effect.changed {
        0 => "the draft changes no sheet".to_owned(),
        sheets if effect.keyed.is_some() => format!(
            "changed {}: {} better, {} worse",
            number(sheets),
            number(effect.better),
            number(effect.worse)
        ),
        sheets => format!("changed {}, {} worse", number(sheets), number(effect.worse)),
    };
    if let Some(linked) = scene.desk.background.linked
        && linked.of > 0
    {
        let far = match linked.done == linked.of {
            true => String::new(),
            false => format!(" ({} of {})", number(linked.done), number(linked.of)),
        };
        changed += &format!(" · on the roster {}>{}{far}", linked.before, linked.now);
    }
    let mut progress = match figures.is_complete() {
        true if figures.is_of_edit => format!("{} ms", figures.took.as_millis()),
        true => "all sheets seen".to_owned(),
        false => format!(
            "{} of {} sheets",
            number(effect.done),
            number(effect.sheets)
        ),
    };
    if scene.desk.is_faulty() {
        progress += ", of the text before its fault";
    }
    match scene.desk.background.renewed {
        Some((done, of)) if done < of => {
            progress += &format!(" · proposals {} of {}", number(done), number(of));
        }
        Some(_) => progress += " · proposals made anew",
        None => {}
    }
    [changed, progress]
}

/// The trays' names and how many sheets each holds; in one row, or in two where they have them.
pub fn trays(frame: &mut Frame, area: Rect, scene: &Scene) {
    let Some(figures) = scene.desk.figures() else {
        return;
    };
    let mut rows: Vec<Vec<Span>> = vec![vec![Span::raw(" ")]];
    let mut used = 1;
    for (at, (tray, words)) in Tray::ALL.into_iter().enumerate() {
        let sign = if tray == scene.desk.tray() { ">" } else { "" };
        let held = number(figures.tray(tray).len());
        let text = format!("{sign}{} {words}: {held}", at + 1);
        let gap = if used > 1 { " · " } else { "" };
        if used + text.width() + gap.width() > usize::from(area.width)
            && rows.len() < usize::from(area.height)
        {
            rows.push(vec![Span::raw(" ")]);
            used = 1;
        } else {
            rows.last_mut().expect("there is one").push(Span::raw(gap));
            used += gap.width();
        }
        used += text.width();
        let style = match tray == scene.desk.tray() {
            true => reversed(),
            false if figures.tray(tray).is_empty() => dim(),
            false => Style::new(),
        };
        rows.last_mut()
            .expect("there is one")
            .push(Span::styled(text, style));
    }
    for (row, y) in rows.into_iter().zip(area.y..area.bottom()) {
        frame.render_widget(Line::from(row), Rect::new(area.x, y, area.width, 1));
    }
}

pub fn list(frame: &mut Frame, area: Rect, scene: &Scene) {
    let desk = scene.desk;
    let sheets = desk.sheets();
    let row = desk.row();
    let height = usize::from(area.height);
    let top = row
        .unwrap_or_default()
        .saturating_sub(height / 2)
        .min(sheets.len().saturating_sub(height));
    let is_here = desk.focus() == Focus::Sheets;
    for (number, y) in (top..sheets.len()).zip(area.y..area.bottom()) {
        let (sheet, text) = (scene.text_of)(sheets[number] as usize);
        let text = if text.is_empty() {
            "(nothing was read)"
        } else {
            text
        };
        let sign = if Some(number) == row { '>' } else { ' ' };
        let line = format!("{sign}{}  {}", shown(sheet), shown(text));
        let style = match Some(number) == row {
            true if is_here => bold(),
            true => Style::new(),
            false => dim(),
        };
        let place = Rect::new(area.x, y, area.width, 1);
        frame.render_widget(Line::styled(cut(&line, area.width.into()), style), place);
        if is_here && Some(number) == row {
            frame.set_cursor_position(Position::new(area.x, y));
        }
    }
}
