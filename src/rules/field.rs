//! `[[field]]`: a field's declaration read, or faulted.

use super::fault::{FaultList, did_you_mean, quoted};
use super::kind::{Carry, Deliver, FieldKind, FieldSpec, Key, LookUp, Styles};
use super::pattern;
use super::section::{Section, inside};
use super::table::LookUpTable;
use super::writing::Writing;
use crate::value::CheckScheme;
use toml::de::DeValue;

/// The keys of a field.
pub(super) const KEYS: [&str; 18] = [
    "name", "kind", "pattern", "check", "required", "min", "max", "words", "write", "default",
    "ditto", "carry", "look_up", "by", "deliver", "dates", "decimal", "filing",
];
/// Those of them that a rule may say anew for its own slots.
pub(super) const OVERRIDES: [&str; 6] = ["pattern", "check", "min", "max", "words", "ditto"];
/// Where a value may be carried from, and what the index may give of a field, with their names in rule files.
pub(super) const CARRIES: [(&str, Carry); 2] = [
    ("divider", Carry::Divider),
    ("sheet before", Carry::SheetBefore),
];
pub(super) const DELIVERS: [(&str, Deliver); 3] = [
    ("as typed", Deliver::AsTyped),
    ("as roster", Deliver::AsRoster),
    ("both", Deliver::Both),
];

/// Reads one `[[field]]`; `None` where it has no name. A field with other faults is still declared, so that the rules
/// that name it are not faulted for it.
pub(super) fn read(
    section: &Section,
    faults: &mut FaultList,
    text: &str,
    tables: &[LookUpTable],
    styles: &Styles,
) -> Option<FieldSpec> {
    section.keys(faults, &KEYS);
    let name = section.name(faults, "name = \"number\"");
    let kind = field_kind(section, faults).unwrap_or(FieldKind::Text);
    if kind == FieldKind::Choice
        && section.get("words").is_none()
        && section.get("pattern").is_none()
        && section.get("look_up").is_none()
    {
        faults.add(
            section.span.start,
            "the key `words` in a field of kind `choice`",
            "none",
            "Add words = [\"CLERK\", \"PILOT\"]",
        );
    }
    let mut spec = overridden_keys(section, faults, text, &FieldSpec::new("", kind));
    spec.styles = own_styles(section, faults, kind, styles);
    spec.required = section.flag(faults, "required");
    spec.write = writings(section, faults);
    spec.default = section.text(faults, "default").map(|(value, _)| value);
    spec.carry = one_of(
        section,
        faults,
        "carry",
        "where a value is carried from",
        &CARRIES,
    );
    spec.deliver = one_of(
        section,
        faults,
        "deliver",
        "what the index gives",
        &DELIVERS,
    );
    spec.look_up = look_up(section, faults, tables);
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
    spec.name = name;
    Some(spec)
}

/// A field as a rule says it anew.
pub(super) fn overridden(
    section: &Section,
    faults: &mut FaultList,
    text: &str,
    usual: &FieldSpec,
) -> FieldSpec {
    section.keys(faults, &OVERRIDES);
    overridden_keys(section, faults, text, usual)
}

/// The keys that a rule may say anew, those that are not there as in `usual`.
fn overridden_keys(
    section: &Section,
    faults: &mut FaultList,
    text: &str,
    usual: &FieldSpec,
) -> FieldSpec {
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
    FieldSpec {
        check: check_scheme(section, faults, usual.kind).or(usual.check.clone()),
        pattern: pattern.or(usual.pattern.clone()),
        window: window(section, faults, usual),
        words: if words.is_empty() {
            usual.words.clone()
        } else {
            words
        },
        ditto: if section.get("ditto").is_some() {
            section.flag(faults, "ditto")
        } else {
            usual.ditto
        },
        ..usual.clone()
    }
}

/// One of a few named things.
fn one_of<T: Copy>(
    section: &Section,
    faults: &mut FaultList,
    key: &str,
    what: &str,
    known: &[(&str, T)],
) -> Option<T> {
    let (word, span) = section.text(faults, key)?;
    let found = known.iter().find(|(name, _)| *name == word);
    if found.is_none() {
        let names: Vec<&str> = known.iter().map(|(name, _)| *name).collect();
        faults.add_unknown(span.start, what, &word, &names);
    }
    found.map(|(_, value)| *value)
}

/// How values of the field are typed, where it says otherwise than the job.
fn own_styles(
    section: &Section,
    faults: &mut FaultList,
    kind: FieldKind,
    usual: &Styles,
) -> Styles {
    const DATES: &[FieldKind] = &[FieldKind::Date, FieldKind::DateRange];
    for (key, kinds) in [
        ("dates", DATES),
        ("decimal", &[FieldKind::Amount]),
        ("filing", &[FieldKind::Range]),
    ] {
        if let Some((span, _)) = section.get(key)
            && !kinds.contains(&kind)
        {
            let names: Vec<String> = kinds.iter().map(|k| format!("`{}`", k.name())).collect();
            faults.add(
                span.start,
                format!("`{key}` only in fields of kind {}", names.join(" or ")),
                format!("one in a field of kind `{}`", kind.name()),
                "Leave it out, or correct the kind",
            );
        }
    }
    styles(section, faults, usual)
}

/// How values are typed by the keys of styles, those that are not there as in `usual`.
pub(crate) fn styles(section: &Section, faults: &mut FaultList, usual: &Styles) -> Styles {
    Styles {
        dates: section
            .value(faults, "dates")
            .unwrap_or_else(|| usual.dates.clone()),
        decimal: section.value(faults, "decimal").or(usual.decimal),
        filing: section.value(faults, "filing").unwrap_or(usual.filing),
    }
}

fn writings(section: &Section, faults: &mut FaultList) -> Vec<Writing> {
    let words = section.one_or_more(faults, "write");
    let parsed = words.into_iter().filter_map(|(word, span)| {
        let writing = Writing::parse(&word);
        if writing.is_none() {
            let names: Vec<&str> = Writing::names().collect();
            faults.add_unknown(span.start, "a way to write", &word, &names);
        }
        writing
    });
    parsed.collect()
}

/// `look_up = "departments"` with `by = "code"` or `by = "band"`.
fn look_up(section: &Section, faults: &mut FaultList, tables: &[LookUpTable]) -> Option<LookUp> {
    let (Some((table, span)), by) = (section.text(faults, "look_up"), section.text(faults, "by"))
    else {
        if let Some((span, _)) = section.get("by") {
            faults.add(
                span.start,
                "`look_up` beside `by`",
                "`by` alone",
                "Add look_up with the name of a [[table]], or leave `by` out",
            );
        }
        return None;
    };
    let Some((by, _)) = by else {
        faults.add(
            span.start,
            "`by` beside `look_up`",
            "`look_up` alone",
            "Add by = \"band\", or by with the name of the field whose value is looked up",
        );
        return None;
    };
    let Some(found) = tables.iter().find(|known| known.name == table) else {
        let names: Vec<&str> = tables.iter().map(|table| table.name.as_str()).collect();
        faults.add_unknown(span.start, "the name of a [[table]]", &table, &names);
        return None;
    };
    Some(LookUp {
        by: match by.as_str() {
            "band" => Key::Band,
            _ => Key::Field(by),
        },
        rows: found.rows.clone(),
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

/// `check = "luhn"`, or one of the client's own: `check = { weights = [2, 3, 4], modulus = 11, characters = "..." }`.
fn check_scheme(section: &Section, faults: &mut FaultList, kind: FieldKind) -> Option<CheckScheme> {
    let (_, value) = section.get("check")?;
    if kind != FieldKind::Code {
        faults.add(
            value.span().start,
            "a check only in a field of kind `code`",
            format!("one in a field of kind `{}`", kind.name()),
            "Write kind = \"code\", or leave the check out",
        );
    }
    if matches!(value.get_ref(), DeValue::Table(_)) {
        return section.value(faults, "check").map(CheckScheme::Weighted);
    }
    let (check, span) = section.text(faults, "check")?;
    let known = CheckScheme::ALL.into_iter().find(|s| s.name() == check);
    if known.is_none() {
        let names: Vec<&str> = CheckScheme::ALL.iter().map(CheckScheme::name).collect();
        let advice = match did_you_mean(&check, names.iter().copied()) {
            Some(near) => format!("Write \"{near}\""),
            None => "Leave it out if the code's check character follows another scheme, or define it by weights: \
                     check = { weights = [2, 3, 4, 5, 6, 7], modulus = 11, characters = \"0123456789X\" }"
                .to_owned(),
        };
        let expected = format!("a check: {}", names.join(", "));
        faults.add(span.start, expected, quoted(&check), advice);
    }
    known
}

/// Smallest and largest number or year.
fn window(section: &Section, faults: &mut FaultList, field: &FieldSpec) -> (u32, u32) {
    /// Years have four digits; numbers up to nine fit the arithmetic.
    const MAX_YEAR: u32 = 9_999;
    const MAX_NUMBER: u32 = 99_999_999;
    let (kind, usual) = (field.kind, field.window);
    let most = match kind {
        FieldKind::Year => MAX_YEAR,
        _ => MAX_NUMBER,
    };
    let is_number = matches!(kind, FieldKind::Year | FieldKind::Number);
    if !is_number && section.get("kind").is_some() {
        for key in ["min", "max"] {
            if let Some((span, _)) = section.get(key) {
                faults.add(
                    span.start,
                    format!("`{key}` only in fields of kind `number` or `year`"),
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
