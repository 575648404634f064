//! A rule begun from an example: the strip marked, and the rules to choose from.

use super::super::marking::Marking;
use super::super::pane::Offers;
use super::pages::page_title;
use super::sheet::{picture, wrapped};
use super::{Scene, bold, cut, dim, draw_message, reversed};
use crate::rules::example::Candidate;
use crate::value::shown;
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Position, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

/// Rows of the strip's picture.
const PICTURE: u16 = 8;

pub fn marking(frame: &mut Frame, area: Rect, scene: &Scene) {
    let Some(marking) = scene.desk.marking() else {
        return;
    };
    let picture_rows = if area.height >= 20 { PICTURE } else { 0 };
    let [title, strip, lower, message, keys] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(picture_rows),
        Constraint::Min(0),
        Constraint::Length(2),
        Constraint::Length(2),
    ])
    .areas(area);
    page_title(
        frame,
        title,
        " What is where on this strip? Choose a piece, type the name of its field.",
    );
    picture(frame, strip, scene);
    let mut rows = strip_lines(marking, usize::from(lower.width));
    let cursor = rows.iter().position(|(_, cursor)| cursor.is_some());
    rows.push((Line::raw(""), None));
    rows.extend(rows_of_marks(marking).into_iter().map(|line| (line, None)));
    rows.push((Line::raw(""), None));
    let name_row = rows.len();
    rows.push(name_line(marking));
    let width = usize::from(lower.width);
    let names = marking.names();
    let names = names.iter().enumerate();
    let names: Vec<String> = names
        .map(|(at, name)| format!("{} {name}", at + 1))
        .collect();
    for line in wrapped(&format!(" {}", names.join("  ")), width) {
        rows.push((Line::raw(line), None));
    }
    let top = cursor.map_or(0, |row| row.saturating_sub(usize::from(lower.height) / 2));
    let visible = rows.into_iter().enumerate().skip(top);
    for ((row, (line, cursor)), y) in visible.zip(lower.y..lower.bottom()) {
        frame.render_widget(line, Rect::new(lower.x, y, lower.width, 1));
        // Letters go to the name where one is typed, else they begin one: the cursor shows the piece.
        let is_here = match marking.name {
            Some(_) => row == name_row,
            None => row != name_row,
        };
        if let Some(column) = cursor.filter(|_| is_here) {
            let x = lower.x + column.min(lower.width.saturating_sub(1));
            frame.set_cursor_position(Position::new(x, y));
        }
    }
    draw_message(frame, message, scene);
    let help = [
        " Arrows: piece · . , a word more, less · > < a character · Delete unmarks it",
        " Letters or a digit name it · Tab other kind · Enter makes rules · Esc goes back",
    ];
    for (text, y) in help.into_iter().zip(keys.y..keys.bottom()) {
        let place = Rect::new(keys.x, y, keys.width, 1);
        frame.render_widget(Line::styled(cut(text, width), dim()), place);
    }
}

/// A line, and the column of a cursor on it.
type Row = (Line<'static>, Option<u16>);

/// The strip's lines: the piece in hand reversed, marked ones underlined.
fn strip_lines(marking: &Marking, width: usize) -> Vec<Row> {
    let (here, piece) = marking.piece();
    let mut rows = Vec::new();
    for (at, line) in marking.example.lines().enumerate() {
        // A long line is moved so far that the piece in hand is on the screen.
        let until: String = line.chars().take(piece.end).collect();
        let hidden = match at == here {
            true => shown(&until)
                .width()
                .saturating_sub(width.saturating_sub(2)),
            false => 0,
        };
        let sign = if hidden > 0 { "<" } else { " " };
        let mut spans = vec![Span::raw(sign)];
        let (mut column, mut cursor, mut left) = (1, None, 0);
        for (number, letter) in line.chars().enumerate() {
            if left < hidden {
                left += shown(letter.encode_utf8(&mut [0; 4])).width();
                continue;
            }
            let is_in_hand = at == here && piece.contains(&number);
            let mut marks = marking.example.marks().iter();
            let is_marked = marks.any(|m| m.line == at && m.range.contains(&number));
            let style = match (is_in_hand, is_marked) {
                (true, _) => reversed(),
                (false, true) => Style::new().add_modifier(Modifier::UNDERLINED | Modifier::BOLD),
                (false, false) => Style::new(),
            };
            if at == here && number == piece.start {
                cursor = Some(column as u16);
            }
            let text = shown(letter.encode_utf8(&mut [0; 4])).into_owned();
            column += text.width();
            spans.push(Span::styled(text, style));
        }
        rows.push((Line::from(spans), cursor));
    }
    rows
}

/// What is marked, and of which kind it is taken to be.
fn rows_of_marks(marking: &Marking) -> Vec<Line<'static>> {
    let here = marking.mark_here();
    let marks = marking.example.marks().iter();
    let line = marks.map(|mark| {
        let kinds = marking.kinds(mark);
        let guessed = mark.kind.map_or_else(
            || kinds.first().map(|guess| (guess.kind, guess.why.clone())),
            |kind| Some((kind, "chosen".to_owned())),
        );
        let kind = match guessed {
            None => "as the rules have it".to_owned(),
            Some((kind, why)) => format!("{} ({why})", kind.name()),
        };
        let piece = marking.example.piece(&mark.field);
        let sign = if here == Some(mark) { '>' } else { ' ' };
        let text = format!(
            "{sign}{:<14} `{}`  {kind}",
            shown(&mark.field),
            shown(&piece)
        );
        Line::raw(text)
    });
    let lines: Vec<Line> = line.collect();
    match lines.is_empty() {
        true => vec![Line::styled(" Nothing is marked yet.", dim())],
        false => lines,
    }
}

fn name_line(marking: &Marking) -> Row {
    const LABEL: &str = " Name: ";
    match &marking.name {
        Some(name) => {
            let column = LABEL.width() + shown(&name.before_cursor()).width();
            let text = format!("{LABEL}{}", shown(&name.text()));
            (Line::styled(text, bold()), Some(column as u16))
        }
        None => (Line::styled(" Names to choose from:", dim()), None),
    }
}

pub fn offers(frame: &mut Frame, area: Rect, offers: &Offers, scene: &Scene) {
    let [title, list, detail, message] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length((offers.candidates.len() as u16 + 1).min(area.height / 3)),
        Constraint::Min(0),
        Constraint::Length(2),
    ])
    .areas(area);
    page_title(
        frame,
        title,
        " Which rule? Up and Down choose, Enter puts it into the draft, Esc goes back.",
    );
    let width = usize::from(area.width);
    let top = offers
        .chosen
        .saturating_sub(usize::from(list.height).saturating_sub(2));
    for ((at, candidate), y) in offers
        .candidates
        .iter()
        .enumerate()
        .skip(top)
        .zip(list.y..list.bottom())
    {
        let is_chosen = at == offers.chosen;
        let sign = if is_chosen { '>' } else { ' ' };
        let text = format!("{sign}{}", summary(candidate));
        let style = if is_chosen { bold() } else { Style::new() };
        let place = Rect::new(list.x, y, list.width, 1);
        frame.render_widget(Line::styled(cut(&text, width), style), place);
        if is_chosen {
            frame.set_cursor_position(Position::new(list.x, y));
        }
    }
    let candidate = &offers.candidates[offers.chosen];
    let takes = candidate.takes.iter();
    let takes: Vec<String> = takes
        .map(|(field, value)| format!("{} `{}`", shown(field), shown(value)))
        .collect();
    let mut lines: Vec<(String, Style)> = candidate
        .fragment
        .lines()
        .flat_map(|line| wrapped(&format!("   {}", shown(line)), width))
        .map(|line| (line, bold()))
        .collect();
    lines.push((String::new(), Style::new()));
    let taken = format!(" It takes {}", takes.join(" · "));
    let considered = candidate.considered.iter().map(|words| format!(" {words}"));
    for text in std::iter::once(taken).chain(considered) {
        let text = shown(&text).into_owned();
        let parts = wrapped(&text, width).into_iter();
        lines.extend(parts.map(|line| (line, Style::new())));
    }
    for ((line, style), y) in lines.into_iter().zip(detail.y..detail.bottom()) {
        let place = Rect::new(detail.x, y, detail.width, 1);
        frame.render_widget(Line::styled(cut(&line, width), style), place);
    }
    draw_message(frame, message, scene);
}

fn summary(candidate: &Candidate) -> String {
    let counted = match candidate.of == candidate.unfitted {
        true => format!("{} of {} without a rule", candidate.fits, candidate.of),
        false => format!(
            "{} of {} looked at ({} are without a rule)",
            candidate.fits, candidate.of, candidate.unfitted
        ),
    };
    let mut text = format!("`{}` fits {counted}", shown(&candidate.name));
    if candidate.takes_over > 0 {
        text += &format!(", takes {} from other rules", candidate.takes_over);
    }
    let checked = candidate.checks_holding + candidate.checks_failing;
    if checked > 0 {
        text += &format!(", check holds on {} of {checked}", candidate.checks_holding);
    }
    if candidate.keyed > 0 {
        text += &format!(
            ", {} of {} values as keyed",
            candidate.keyed_right, candidate.keyed
        );
    }
    text
}
