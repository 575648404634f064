//! The reviewer's desk drawn in cells: the strip first and large, then the two values side by side.

use super::bulk::Bulk;
use super::case::{Side, value_text};
use super::key::BINDINGS;
use super::reviewer::{Pane, Reviewer};
use crate::desk::clerk::{Editor, Knowledge};
use crate::desk::picture::{Gaze, Memo, Shape, Subject, compose};
use crate::desk::view::{Picture, Theme, canvas_of, is_too_small, put_composed};
use crate::journal::KeyedValue;
use crate::review::{Compared, Place, Run, Take, marked};
use crate::value::shown;
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Position, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

/// Rows below the picture for the difference in hand: its title, both values, what was decided, what speaks against that.
const DISPUTE: usize = 4;

/// All that is drawn beside the desk itself.
pub struct Scene<'a> {
    pub desk: &'a Reviewer,
    pub picture: Picture<'a>,
    pub shape: Option<Shape>,
    pub memo: &'a Memo,
    pub theme: Theme,
    pub knowledge: &'a dyn Knowledge,
    /// Sheets settled in this job, and who sits here.
    pub settled: usize,
    pub person: &'a str,
}

/// Draws the desk; places the terminal's own cursor where letters go.
pub fn draw(frame: &mut Frame, scene: &Scene) {
    let area = frame.area();
    if is_too_small(frame) {
        return;
    }
    match scene.desk.pane() {
        Pane::Help(top) => return draw_help(frame, area, *top),
        Pane::Bulk(bulk) => return draw_bulk(frame, area, bulk, scene),
        Pane::Disputes | Pane::Reason { .. } => {}
    }
    let disputes = scene.desk.case().disputes();
    let listed = if disputes.len() > 1 {
        disputes.len()
    } else {
        0
    };
    let asked = scene
        .desk
        .in_hand()
        .map_or(0, |d| asked_for(scene, d).len());
    let lower = ((DISPUTE + listed + asked) as u16).min(area.height / 2);
    let [status, picture, lower, message, keys] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Min(0),
        Constraint::Length(lower),
        Constraint::Length(1),
        Constraint::Length(1),
    ])
    .areas(area);
    let case = scene.desk.case();
    let left = format!(" {} · {} in dispute", case.sheet, case.of);
    let right = format!("{} settled · {} ", scene.settled, shown(scene.person));
    let room = usize::from(area.width);
    let gap = room.saturating_sub(left.width() + right.width());
    let text = format!("{left}{}{right}", " ".repeat(gap));
    let reversed = Style::new().add_modifier(Modifier::REVERSED);
    frame.render_widget(Paragraph::new(text).style(reversed), status);
    draw_picture(frame, picture, scene);
    draw_dispute(frame, lower, scene);
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let noticed = case
        .findings
        .first()
        .map(|f| format!("Noticed: {}", f.message));
    let words = scene.desk.message().map(str::to_owned).or(noticed);
    let words = words.or_else(|| {
        let done = scene.desk.done().last()?;
        Some(format!("Before: {}", done.words))
    });
    let words = words.unwrap_or_default();
    frame.render_widget(Line::styled(format!(" {}", shown(&words)), bold), message);
    let next = match (scene.desk.pane(), scene.desk.is_ready()) {
        (Pane::Reason { .. }, _) => "Enter takes it · Esc goes back",
        (_, true) => "Enter settles the sheet",
        (_, false) => "Left or Right takes that value · letters type another",
    };
    let text = format!(" {next} · Alt+X unreadable · Alt+U undo · Ctrl+O put off · Alt+H all keys");
    let dim = Style::new().add_modifier(Modifier::DIM);
    frame.render_widget(Line::styled(text, dim), keys);
}

fn draw_picture(frame: &mut Frame, area: Rect, scene: &Scene) {
    let words = match (scene.picture, scene.shape) {
        (_, None) => "Pictures are off: look at the film.",
        (Picture::Coming, _) => "The picture of the sheet is being made.",
        (Picture::None, _) => "There is no picture of this sheet: its image cannot be opened.",
        (Picture::There(image), Some(shape)) => {
            let case = scene.desk.case();
            let wishes = scene.desk.wishes();
            let subject = Subject {
                sheet: &case.sheet,
                image,
                whole: wishes.whole,
                reading: &case.reading,
            };
            let in_hand = scene.desk.in_hand();
            let gaze = Gaze {
                close: wishes.close,
                pan: wishes.pan,
                field: in_hand.and_then(|compared| case.bounds(&compared.at)),
                ..Gaze::default()
            };
            let canvas = canvas_of(area, shape, scene.theme);
            let composed = compose(scene.memo, subject, canvas, gaze);
            put_composed(frame, area, &composed, scene.theme);
            return;
        }
    };
    frame.render_widget(Paragraph::new(words).wrap(Default::default()), area);
}

/// A row of an area, counted from its top; none below its end.
fn row(area: Rect, at: u16) -> Option<Rect> {
    (at < area.height).then(|| Rect::new(area.x, area.y + at, area.width, 1))
}

fn draw_dispute(frame: &mut Frame, area: Rect, scene: &Scene) {
    let desk = scene.desk;
    let (case, disputes) = (desk.case(), desk.case().disputes());
    let Some(compared) = desk.in_hand() else {
        return;
    };
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let title = format!(
        " {} ({} of {})",
        case.about(&compared.at),
        desk.at() + 1,
        disputes.len()
    );
    let mut at = 0;
    let mut put = |frame: &mut Frame, line: Line| {
        if let Some(place) = row(area, at) {
            frame.render_widget(line, place);
        }
        at += 1;
    };
    put(frame, Line::styled(title, bold));
    put(frame, sides(desk, compared, usize::from(area.width)));
    let own = match desk.pane() {
        Pane::Reason { set_aside, words } => {
            let label = match set_aside {
                true => " Why is this sheet set aside? ",
                false => " Why is this sheet put off? ",
            };
            Some((label, words))
        }
        _ if !desk.own.is_empty() => Some((" Another value: ", &desk.own)),
        _ => None,
    };
    match own {
        Some((label, editor)) => {
            put(
                frame,
                Line::raw(format!("{label}{}", shown(&editor.text()))),
            );
            place_cursor(frame, area, 2, label, editor);
            if let Place::Field(_, field) = &compared.at
                && let Some(words) = scene.knowledge.objection(field, &editor.text())
                && *desk.pane() == Pane::Disputes
            {
                put(frame, Line::raw(format!("   ! {}", shown(&words))));
            }
        }
        None => {
            let decided = desk
                .decided(desk.at())
                .map(|take| taken(desk, compared, take));
            put(
                frame,
                Line::raw(decided.map_or(String::new(), |words| format!(" Decided: {words}"))),
            );
        }
    }
    for line in asked_for(scene, compared) {
        put(frame, Line::raw(line));
    }
    if disputes.len() > 1 {
        for (number, other) in disputes.iter().enumerate() {
            let sign = if number == desk.at() { '>' } else { ' ' };
            let words = match desk.decided(number) {
                Some(take) => taken(desk, other, take),
                None => "open".to_owned(),
            };
            let text = format!("{sign} {}: {words}", case.about(&other.at));
            put(frame, Line::raw(text));
        }
    }
}

fn place_cursor(frame: &mut Frame, area: Rect, at: u16, label: &str, editor: &Editor) {
    let before = label.width() + shown(&editor.before_cursor()).width();
    if let Some(place) = row(area, at) {
        let x = (before as u16).min(place.width.saturating_sub(1));
        frame.set_cursor_position(Position::new(place.x + x, place.y));
    }
}

/// What was decided, in words that do not tell who keyed what.
fn taken(desk: &Reviewer, compared: &Compared, take: &Take) -> String {
    let text = match take {
        Take::First => value_text(compared.first.as_ref()),
        Take::Second => value_text(compared.second.as_ref()),
        Take::Value(value) => value_text(Some(value)),
        Take::Row(row) => row.clone().unwrap_or_else(|| "no row".to_owned()),
        Take::Kind(kind) => kind.to_string(),
    };
    let side = match take {
        Take::First => Some(desk.case().side_of_first(&compared.at)),
        Take::Second => Some(match desk.case().side_of_first(&compared.at) {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        }),
        _ => None,
    };
    let from = match side {
        Some(Side::Left) => "left: ",
        Some(Side::Right) => "right: ",
        None => "another: ",
    };
    format!("{from}{}", shown(&text))
}

/// Both values, what differs underlined and bold.
fn sides(desk: &Reviewer, compared: &Compared, width: usize) -> Line<'static> {
    let [first, second] = [&compared.first, &compared.second].map(|v| value_text(v.as_ref()));
    let both_text = [&compared.first, &compared.second]
        .iter()
        .all(|value| matches!(value, Some(KeyedValue::Text(_))));
    let whole = |text: &str| {
        vec![Run {
            text: text.to_owned(),
            differs: false,
        }]
    };
    let runs = match both_text {
        true => marked(&first, &second),
        false => [whole(&first), whole(&second)],
    };
    let [first, second] = runs;
    let (left, right) = match desk.case().side_of_first(&compared.at) {
        Side::Left => (first, second),
        Side::Right => (second, first),
    };
    let half = width / 2;
    let mut spans = vec![Span::raw(" Left  ")];
    let used = 7 + put_runs(&mut spans, &left, half.saturating_sub(9));
    spans.push(Span::raw(" ".repeat(half.saturating_sub(used))));
    spans.push(Span::raw("Right  "));
    put_runs(&mut spans, &right, half.saturating_sub(8));
    Line::from(spans)
}

fn put_runs(spans: &mut Vec<Span<'static>>, runs: &[Run], most: usize) -> usize {
    let differs = Style::new().add_modifier(Modifier::UNDERLINED | Modifier::BOLD);
    let mut used = 0;
    for run in runs {
        let text: String = shown(&run.text)
            .chars()
            .take(most - used.min(most))
            .collect();
        used += text.width();
        let style = if run.differs { differs } else { Style::new() };
        spans.push(Span::styled(text, style));
    }
    used
}

/// The proposal and the rows of the roster, where somebody asked to see them.
fn asked_for(scene: &Scene, compared: &Compared) -> Vec<String> {
    let (desk, case) = (scene.desk, scene.desk.case());
    let mut lines = Vec::new();
    if desk.shows_proposal() {
        let proposal = case.proposal.as_ref().map(|frozen| &frozen.proposal);
        let field = match &compared.at {
            Place::Field(record, field) => proposal.and_then(|p| {
                let fields = match record {
                    0 => Some(&p.fields),
                    at => p.more.get(at - 1).map(|more| &more.fields),
                };
                fields?.iter().find(|f| f.field == *field)
            }),
            _ => None,
        };
        lines.push(match field.filter(|field| !field.as_typed.is_empty()) {
            Some(field) => format!(
                " Proposed: {} {:.0} %",
                shown(&field.as_typed),
                100.0 * field.probability.get()
            ),
            None => " Proposed: nothing".to_owned(),
        });
    }
    if desk.shows_roster() {
        let records = [&case.first, &case.second].into_iter();
        let records = records.flat_map(|keyed| &keyed.keying.records);
        let mut keys: Vec<&String> = records.filter_map(|r| r.roster_key.as_ref()).collect();
        keys.sort();
        keys.dedup();
        let rows = keys.into_iter().filter_map(|key| scene.knowledge.row(key));
        let rows = rows.map(|row| {
            let cells = row.columns.iter().map(|(_, cell)| shown(cell).into_owned());
            format!(" Roster: {}", cells.collect::<Vec<_>>().join(" · "))
        });
        lines.extend(rows);
        if !lines.iter().any(|line| line.starts_with(" Roster")) {
            lines.push(" Roster: no row is linked".to_owned());
        }
    }
    lines
}

fn draw_help(frame: &mut Frame, area: Rect, top: usize) {
    let bold = Style::new().add_modifier(Modifier::REVERSED);
    let title = " All keys. Letters and digits always type. Esc goes back.";
    frame.render_widget(Line::styled(title, bold), Rect { height: 1, ..area });
    for ((key, _, words), y) in BINDINGS.iter().skip(top).zip(area.top() + 1..area.bottom()) {
        let place = Rect::new(area.x, y, area.width, 1);
        frame.render_widget(Line::raw(format!(" {:<15} {words}", key.name())), place);
    }
}

fn draw_bulk(frame: &mut Frame, area: Rect, bulk: &Bulk, scene: &Scene) {
    let mut lines = Vec::new();
    let at;
    match (&bulk.chosen, bulk.group()) {
        (Some(chosen), Some(group)) => {
            let form = match chosen.form {
                None => "none chosen yet".to_owned(),
                Some(form) => shown(&group.forms[form]).into_owned(),
            };
            lines.push(format!(
                " {}: Left counts `{}`, Right counts `{}`; counts: {form}. Delete leaves a sheet out, Enter settles the rest.",
                group.field,
                shown(&group.forms[0]),
                shown(&group.forms[1])
            ));
            at = chosen.at + 1;
            for (number, member) in group.members.iter().enumerate() {
                let (one, other) = match member.in_order {
                    true => (&member.first, &member.second),
                    false => (&member.second, &member.first),
                };
                let sign = if chosen.out.contains(&number) {
                    "left out"
                } else {
                    ""
                };
                lines.push(format!(
                    " {}  {}  |  {}  {sign}",
                    member.sheet,
                    shown(one),
                    shown(other)
                ));
            }
        }
        _ => {
            lines.push(
                " The same harmless difference on several sheets. Enter looks through one."
                    .to_owned(),
            );
            at = bulk.at + 1;
            for group in &bulk.groups {
                lines.push(format!(
                    " {}: {:?}, `{}` or `{}`, {} sheets",
                    group.field,
                    group.sort,
                    shown(&group.forms[0]),
                    shown(&group.forms[1]),
                    group.members.len()
                ));
            }
        }
    }
    if let Some(message) = scene.desk.message() {
        lines[0] = format!(" {message}");
    }
    let rows = usize::from(area.height);
    let first = (at + 1).saturating_sub(rows);
    for (y, (number, line)) in lines.iter().enumerate().skip(first).take(rows).enumerate() {
        let style = match number == at {
            true => Style::new().add_modifier(Modifier::REVERSED),
            false => Style::new(),
        };
        let place = Rect::new(area.x, area.y + y as u16, area.width, 1);
        frame.render_widget(Paragraph::new(line.as_str()).style(style), place);
    }
}
