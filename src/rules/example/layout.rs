//! A strip with its marks as the draft of a rule: marked pieces become slots, the rest stays as it is.

use super::draft::{Draft, Field, Part};
use super::guess::guesses;
use super::{Example, named, shape};
use crate::rules::kind::{FieldKind, FieldSpec, Styles};

/// The draft as the strip has it. `fields`: those of the rule book; `taken`: the names of its rules.
pub(super) fn draft(
    example: &Example,
    fields: &[FieldSpec],
    taken: &[&str],
    styles: &Styles,
) -> Draft {
    let mut draft = Draft {
        name: name(example, taken),
        lines: Vec::new(),
        fields: Vec::new(),
    };
    for mark in &example.marks {
        let (name, record) = named(&mark.field).expect("marks have good names");
        let piece = example.text(mark);
        let field = match fields.iter().find(|field| field.name == name) {
            Some(known) => Field {
                is_known: true,
                ..Field::new(name, record, known.kind)
            },
            None => {
                let same = draft.fields.iter().find(|field| field.name == name);
                let kind = mark.kind.or(same.map(|field| field.kind));
                let kind = kind.unwrap_or_else(|| likeliest(&piece, name, styles));
                Field {
                    write: mark.write.clone(),
                    ..of_kind(Field::new(name, record, kind), &[piece])
                }
            }
        };
        draft.fields.push(field);
    }
    for (at, line) in example.lines.iter().enumerate() {
        let parts = parts(example, at, line);
        if parts.iter().any(|part| *part != Part::Blank) {
            draft.lines.push(parts);
        }
    }
    draft
}

/// The kind that a piece is most likely of. One of a choice is a text until its other words are known.
fn likeliest(piece: &str, name: &str, styles: &Styles) -> FieldKind {
    match guesses(piece, name, styles)[0].kind {
        FieldKind::Choice => FieldKind::Text,
        kind => kind,
    }
}

/// A field with what its kind wants to know beside: the pattern of a code, the words of a choice.
pub(super) fn of_kind(mut field: Field, values: &[String]) -> Field {
    match field.kind {
        FieldKind::Code => field.pattern = shape::pattern(values),
        FieldKind::Choice => {
            field.words = values.to_vec();
            field.words.sort();
            field.words.dedup();
        }
        _ => {}
    }
    field
}

/// A line's characters as parts; slots are counted over all lines.
fn parts(example: &Example, at: usize, line: &[char]) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut literal = String::new();
    let mut place = 0;
    let flush = |literal: &mut String, parts: &mut Vec<Part>| {
        if !literal.is_empty() {
            parts.push(Part::Literal(std::mem::take(literal)));
        }
    };
    while place < line.len() {
        let starts = |mark: &super::Mark| mark.line == at && mark.range.start == place;
        if let Some(slot) = example.marks.iter().position(starts) {
            flush(&mut literal, &mut parts);
            parts.push(Part::Slot(slot));
            place = example.marks[slot].range.end;
            continue;
        }
        let c = line[place];
        if c.is_whitespace() || c.is_control() {
            flush(&mut literal, &mut parts);
            if !parts.is_empty() && parts.last() != Some(&Part::Blank) {
                parts.push(Part::Blank);
            }
        } else {
            literal.push(c);
        }
        place += 1;
    }
    flush(&mut literal, &mut parts);
    if parts.last() == Some(&Part::Blank) {
        parts.pop();
    }
    parts
}

/// A name that no rule has yet, of the marked fields in their order; lines are told apart by `above`.
fn name(example: &Example, taken: &[&str]) -> String {
    let mut name = String::new();
    let mut line = None;
    for mark in &example.marks {
        match line {
            None => {}
            Some(before) if before == mark.line => name += ", ",
            Some(_) => name += " above ",
        }
        name += &mark.field;
        line = Some(mark.line);
    }
    let free = |name: &str| !taken.contains(&name);
    if free(&name) {
        return name;
    }
    let mut numbers = 2..;
    numbers
        .find_map(|number| {
            let numbered = format!("{name}, {number}");
            free(&numbered).then_some(numbered)
        })
        .expect("there are numbers enough")
}
