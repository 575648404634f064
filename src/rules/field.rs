//! `[[field]]`: a field's declaration read, or faulted.

use super::fault::{FaultList, did_you_mean, quoted};
use super::kind::{FieldKind, FieldSpec, NUMBERS, YEARS};
use super::pattern;
use super::section::{Section, inside};
use crate::value::CheckScheme;

/// Reads one `[[field]]`; `None` where it has no name. A field with other faults is still declared, so that the rules
/// that name it are not faulted for it.
pub(super) fn read(section: &Section, faults: &mut FaultList, text: &str) -> Option<FieldSpec> {
    let keys = [
        "name", "kind", "pattern", "check", "required", "min", "max", "words",
    ];
    section.keys(faults, &keys);
    let name = section.required_text(faults, "name", "name = \"number\"");
    let kind = field_kind(section, faults).unwrap_or(FieldKind::Text);
    let check = check_scheme(section, faults, kind);
    let pattern = section
        .text(faults, "pattern")
        .and_then(|(pattern, span)| match pattern::parse(&pattern) {
            Ok(_) => Some(pattern),
            Err(fault) => {
                let at = inside(text, &span, &pattern, fault.offset);
                faults.add(at, fault.expected, fault.found, fault.advice);
                None
            }
        });
    let words: Vec<String> = section
        .texts(faults, "words")
        .into_iter()
        .map(|(word, _)| word)
        .collect();
    if kind == FieldKind::Choice
        && section.get("words").is_none()
        && section.get("pattern").is_none()
    {
        faults.add(
            section.span.start,
            "the key `words` in a field of kind `choice`",
            "none",
            "Add words = [\"CLERK\", \"PILOT\"]",
        );
    }
    let window = window(section, faults, kind);
    let (name, span) = name?;
    let plain = |c: char| c.is_alphanumeric() || c == '_' || c == '-';
    if !name.chars().all(plain) {
        faults.add(
            span.start,
            "a name of letters, digits, `_` and `-`",
            quoted(&name),
            "Rename the field; the index may show another heading",
        );
    }
    Some(FieldSpec {
        name,
        kind,
        required: section.flag(faults, "required"),
        check,
        pattern,
        window,
        words,
    })
}

fn field_kind(section: &Section, faults: &mut FaultList) -> Option<FieldKind> {
    let names = FieldKind::ALL.map(FieldKind::name);
    let (kind, span) = section.required_text(faults, "kind", "kind = \"code\"")?;
    let known = FieldKind::ALL.into_iter().find(|k| k.name() == kind);
    if known.is_none() {
        let advice = match did_you_mean(&kind, names) {
            Some(near) => format!("Write \"{near}\""),
            None => "Write \"text\" if none of them is right".to_owned(),
        };
        let expected = format!("a kind: {}", names.join(", "));
        faults.add(span.start, expected, quoted(&kind), advice);
    }
    known
}

fn check_scheme(section: &Section, faults: &mut FaultList, kind: FieldKind) -> Option<CheckScheme> {
    let (check, span) = section.text(faults, "check")?;
    let names = CheckScheme::ALL.map(|scheme| scheme.name());
    if kind != FieldKind::Code && section.get("kind").is_some() {
        faults.add(
            span.start,
            "a check only in a field of kind `code`",
            format!("one in a field of kind `{}`", kind.name()),
            "Write kind = \"code\", or leave the check out",
        );
    }
    let known = CheckScheme::ALL.into_iter().find(|s| s.name() == check);
    if known.is_none() {
        let advice = match did_you_mean(&check, names) {
            Some(near) => format!("Write \"{near}\""),
            None => "Leave it out if the code's check character follows another scheme".to_owned(),
        };
        let expected = format!("a check: {}", names.join(", "));
        faults.add(span.start, expected, quoted(&check), advice);
    }
    known
}

/// Smallest and largest number or year.
fn window(section: &Section, faults: &mut FaultList, kind: FieldKind) -> (u32, u32) {
    /// Years have four digits; numbers up to nine fit the arithmetic.
    const MAX_YEAR: u32 = 9_999;
    const MAX_NUMBER: u32 = 99_999_999;
    let (usual, most) = match kind {
        FieldKind::Year | FieldKind::DateRange => (YEARS, MAX_YEAR),
        _ => (NUMBERS, MAX_NUMBER),
    };
    let is_number = matches!(
        kind,
        FieldKind::Year | FieldKind::DateRange | FieldKind::Number
    );
    if !is_number && section.get("kind").is_some() {
        for key in ["min", "max"] {
            if let Some((span, _)) = section.get(key) {
                faults.add(
                    span.start,
                    format!("`{key}` only in fields of kind `number`, `year` or `date-range`"),
                    format!("one in a field of kind `{}`", kind.name()),
                    "Leave it out, or use a pattern with a repetition like `{1,3}`",
                );
            }
        }
        return usual;
    }
    let min = section.number(faults, "min", most).unwrap_or(usual.0);
    let max = section
        .number(faults, "max", most)
        .unwrap_or(usual.1.max(min));
    if min > max {
        let at = section.get("max").or(section.get("min"));
        faults.add(
            at.map_or(section.span.start, |(span, _)| span.start),
            "`min` not above `max`",
            format!("min {min}, max {max}"),
            "Exchange the two, or correct one",
        );
        return usual;
    }
    (min, max)
}
