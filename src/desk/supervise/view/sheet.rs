//! The sheet in hand: its strip, and how the rules take it apart.

use super::{Scene, bold, cut, dim};
use crate::desk::picture::{Gaze, Subject, compose};
use crate::desk::view::{Picture, canvas_of, put_composed};
use crate::rules::{Difference, Explanation, Piece};
use crate::value::shown;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;
use ratatui::widgets::Paragraph;

pub fn picture(frame: &mut Frame, area: Rect, scene: &Scene) {
    let (Some(picture), Some(sheet), Some(reading)) = (scene.picture, scene.sheet, scene.reading)
    else {
        return;
    };
    if area.height == 0 {
        return;
    }
    let words = match (picture, scene.shape) {
        (_, None) => "Pictures are off: look at the film.",
        (Picture::Coming, _) => "The picture of the sheet is being made.",
        (Picture::None, _) => "There is no picture of this sheet: its image cannot be opened.",
        (Picture::There(image), Some(shape)) => {
            let wishes = scene.desk.wishes();
            let subject = Subject {
                sheet,
                image,
                whole: scene.whole,
                reading,
            };
            let gaze = Gaze {
                close: wishes.close,
                pan: wishes.pan,
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

/// The rule in hand and what its slots took; why the next one lost; what the draft changes; what was keyed instead.
pub fn taken_apart(frame: &mut Frame, area: Rect, scene: &Scene) {
    let mut rows: Vec<(String, Style)> = Vec::new();
    let desk = scene.desk;
    let (Some(sheet), Some(inspected)) = (scene.sheet, desk.inspected()) else {
        return;
    };
    let plain = Style::new();
    let text = inspected.text.join(" / ");
    rows.push((
        format!(" {}  {}", shown(sheet.as_str()), shown(&text)),
        bold(),
    ));
    if let Some((explanation, at, of)) = desk.explanation() {
        let numbered = match of {
            1 => String::new(),
            of => format!(" ({} of {of})", at + 1),
        };
        let rule = shown(&explanation.rule);
        let verdict = shown(&explanation.verdict);
        rows.push((format!(" `{rule}`{numbered} {verdict}"), plain));
        let slots = match is_of_use(explanation) {
            true => explanation.pieces.iter().map(piece).collect(),
            false => Vec::new(),
        };
        if !slots.is_empty() {
            rows.push((format!(" {}", slots.join(" · ")), plain));
        }
        if !explanation.tolerated.is_empty() && is_of_use(explanation) {
            let tolerated = shown(&explanation.tolerated.join("; ")).into_owned();
            rows.push((format!(" tolerated: {tolerated}"), plain));
        }
        if let Some(next) = inspected.explanations.get(at + 1) {
            let (rule, verdict) = (shown(&next.rule), shown(&next.verdict));
            rows.push((format!(" next `{rule}`: {verdict}"), dim()));
        }
    } else {
        rows.push((" There is no rule yet.".to_owned(), plain));
    }
    if let Some(looked) = &inspected.looked {
        rows.extend(changes(&looked.difference).map(|text| (text, plain)));
        for (field, keyed, taken) in &looked.unlike_keyed {
            let [field, keyed, taken] = [field, keyed, taken].map(|text| shown(text));
            let text = format!(" keyed {field} `{keyed}`, the rules take `{taken}`");
            rows.push((text, bold()));
        }
    }
    let width = usize::from(area.width);
    let mut y = area.y;
    for (text, style) in rows {
        for line in wrapped(&text, width) {
            if y == area.bottom() {
                return;
            }
            frame.render_widget(
                Line::styled(line, style),
                Rect::new(area.x, y, area.width, 1),
            );
            y += 1;
        }
    }
}

/// What a hopeless rule would have had to take explains nothing.
fn is_of_use(explanation: &Explanation) -> bool {
    explanation.score.is_some_and(|score| score > 0.0)
}

fn piece(piece: &Piece) -> String {
    let field = shown(&piece.field);
    let Some((value, probability, check)) = piece.values.first() else {
        return format!("{field} nothing");
    };
    let check = match check {
        Some(true) => ", check holds",
        Some(false) => ", check fails",
        None => "",
    };
    let read = match *value == piece.raw {
        true => String::new(),
        false => format!(", read as `{}`", shown(&piece.raw)),
    };
    format!("{field} `{}` ({probability:.2}{check}{read})", shown(value))
}

/// What the draft changes on the sheet, in words.
fn changes(difference: &Difference) -> impl Iterator<Item = String> {
    let rule = |rule: &Option<String>| match rule {
        Some(rule) => format!("`{}`", shown(rule)),
        None => "no rule".to_owned(),
    };
    let mut changed = Vec::new();
    if difference.rule_before != difference.rule_now {
        changed.push(format!(
            "{} instead of {}",
            rule(&difference.rule_now),
            rule(&difference.rule_before)
        ));
    }
    let fields = difference.fields.iter();
    changed.extend(fields.map(|field| {
        let [name, before, now] =
            [&field.field, &field.before, &field.now].map(|text| shown(text).into_owned());
        let before = match before.is_empty() {
            true => "nothing".to_owned(),
            false => format!("`{before}`"),
        };
        match now.is_empty() {
            true => format!("{name} nothing instead of {before}"),
            false => format!("{name} `{now}` instead of {before}"),
        }
    }));
    let changed = match changed.is_empty() {
        true => None,
        false => Some(format!(" the draft takes {}", changed.join(" · "))),
    };
    let worse = difference.worse.iter();
    let worse: Vec<String> = worse.map(|why| format!(" worse: {}", shown(why))).collect();
    changed.into_iter().chain(worse)
}

/// A text in lines that fit, broken between words; the lines behind the first stand further in.
pub(super) fn wrapped(text: &str, width: usize) -> Vec<String> {
    const INDENT: &str = "   ";
    let mut lines: Vec<String> = vec![String::new()];
    for word in text.split_inclusive(' ') {
        let line = lines.last_mut().expect("there is one");
        let joined = format!("{line}{word}");
        if unicode_width::UnicodeWidthStr::width(joined.trim_end()) <= width
            || line.trim().is_empty()
        {
            *line = cut(&joined, width.max(1));
        } else {
            lines.push(cut(&format!("{INDENT}{word}"), width.max(1)));
        }
    }
    lines
}
