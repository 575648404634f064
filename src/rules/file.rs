//! Rule files: TOML in; fields, rules and sheet checks out, or every fault at once.

use super::automaton::Automaton;
use super::fault::{FAULTS_SHOWN, FaultList, Faults, did_you_mean, quoted};
use super::kind::{FieldKind, FieldSpec, NUMBERS, YEARS};
use super::sense::SheetCheck;
use super::template::{self, Piece};
use super::{Rule, pattern};
use crate::value::CheckScheme;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Rules of one book at most: every one is tried on every sheet.
const MAX_RULES: usize = 500;
/// Fields of one book at most.
const MAX_FIELDS: usize = 100;
/// Lines of one rule at most; a header strip has two or three.
const MAX_LINES: usize = 8;
/// Largest rule file in bytes.
const MAX_FILE: usize = 1 << 20;

/// Everything that the files say.
#[derive(Debug, Default)]
pub(super) struct Contents {
    pub fields: Vec<FieldSpec>,
    pub rules: Vec<Rule>,
    pub checks: Vec<SheetCheck>,
}

/// Reads files, given as (name, text); fields of one may be used in rules of another.
pub(super) fn read(files: &[(&str, &str)]) -> Result<Contents, Faults> {
    let mut documents: Vec<Document> = files
        .iter()
        .map(|&(name, text)| Document::new(name, text))
        .collect();
    let mut contents = Contents::default();
    for document in &mut documents {
        document.fields(&mut contents.fields);
    }
    for document in &mut documents {
        document.rules(&mut contents);
        document.checks(&mut contents);
    }
    if contents.rules.is_empty()
        && let Some(last) = documents.last_mut().filter(|d| !d.has_rules)
    {
        let end = last.text.len();
        last.faults.add(
            end,
            "at least one [[rule]]",
            "none",
            "Add [[rule]] with a name and a line, as line = \"{surname}, {forenames}\"",
        );
    }
    let mut faults: Vec<_> = documents
        .into_iter()
        .flat_map(|document| document.faults.into_faults())
        .collect();
    if faults.is_empty() {
        return Ok(contents);
    }
    let more = faults.len().saturating_sub(FAULTS_SHOWN);
    faults.truncate(FAULTS_SHOWN);
    Err(Faults { faults, more })
}

struct Document<'a> {
    text: &'a str,
    table: DeTable<'a>,
    faults: FaultList<'a>,
    has_rules: bool,
}

/// A table of the file with its place and the keys it may have.
struct Section<'a, 'b> {
    what: &'static str,
    table: &'b DeTable<'a>,
    span: Range<usize>,
}

const SECTIONS: [&str; 3] = ["field", "rule", "check"];

impl<'a> Document<'a> {
    fn new(name: &'a str, text: &'a str) -> Self {
        let mut faults = FaultList::new(name, text);
        let mut table = DeTable::new();
        if text.len() > MAX_FILE {
            faults.add(
                0,
                format!("a rule file of at most {MAX_FILE} bytes"),
                format!("{} bytes", text.len()),
                "Split it, or check that it is the right file",
            );
        } else {
            let (parsed, errors) = DeTable::parse_recoverable(text);
            for error in errors {
                let offset = error.span().map_or(0, |span| span.start);
                faults.add_broken(
                    offset,
                    format!("TOML ({})", error.message().trim().replace('\n', "; ")),
                    faults.standing_at(offset),
                    "Correct this line; the rest of the file was checked as far as possible",
                );
            }
            table = parsed.into_inner();
        }
        for (key, _) in &table {
            let name = key.get_ref().as_ref();
            if !SECTIONS.contains(&name) {
                let advice = match did_you_mean(name, SECTIONS) {
                    Some(near) => format!("Write [[{near}]]"),
                    None => "Leave it out, or put it below one of these".to_owned(),
                };
                faults.add(
                    key.span().start,
                    "[[field]], [[rule]] or [[check]]",
                    quoted(name),
                    advice,
                );
            }
        }
        let has_rules = table.iter().any(|(key, _)| key.get_ref() == "rule");
        Self {
            text,
            table,
            faults,
            has_rules,
        }
    }

    /// The tables under `[[what]]`.
    fn sections<'b>(
        table: &'b DeTable<'a>,
        faults: &mut FaultList,
        what: &'static str,
    ) -> Vec<Section<'a, 'b>> {
        let Some((key, value)) = table.iter().find(|(key, _)| key.get_ref() == what) else {
            return Vec::new();
        };
        let DeValue::Array(array) = value.get_ref() else {
            faults.add(
                key.span().start,
                format!("[[{what}]], once for each {what}"),
                value.get_ref().type_str(),
                format!("Write [[{what}]] in double brackets"),
            );
            return Vec::new();
        };
        let mut sections = Vec::new();
        for item in array.iter() {
            match item.get_ref() {
                DeValue::Table(table) => sections.push(Section {
                    what,
                    table,
                    span: item.span(),
                }),
                other => faults.add(
                    item.span().start,
                    format!("a table for each {what}"),
                    other.type_str(),
                    format!("Write [[{what}]] and its keys on lines of their own"),
                ),
            }
        }
        sections
    }

    fn fields(&mut self, fields: &mut Vec<FieldSpec>) {
        let faults = &mut self.faults;
        for section in Self::sections(&self.table, faults, "field") {
            let start = section.span.start;
            if fields.len() >= MAX_FIELDS {
                faults.add(
                    start,
                    format!("at most {MAX_FIELDS} fields"),
                    "more",
                    "Leave some out",
                );
                return;
            }
            // A field with a fault is still declared, so that the rules that name it are not faulted for it.
            let spec = field(&section, faults, self.text);
            let Some(spec) = spec else { continue };
            if fields.iter().any(|known| known.name == spec.name) {
                let at = section.get("name").map_or(start, |(_, v)| v.span().start);
                faults.add(
                    at,
                    "a name of its own for each field",
                    format!("`{}` a second time", spec.name),
                    "Give one of the two another name, or leave it out",
                );
            } else {
                fields.push(spec);
            }
        }
    }

    fn rules(&mut self, contents: &mut Contents) {
        let names: Vec<String> = contents.fields.iter().map(|f| f.name.clone()).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let faults = &mut self.faults;
        for section in Self::sections(&self.table, faults, "rule") {
            let start = section.span.start;
            if contents.rules.len() >= MAX_RULES {
                faults.add(
                    start,
                    format!("at most {MAX_RULES} rules"),
                    "more",
                    "Leave out rules that no sheet fits; what may be missing can stand in square brackets",
                );
                return;
            }
            section.keys(faults, &["name", "line", "lines"]);
            let name = section.required_text(faults, "name", "name = \"name, number, years\"");
            let lines = section.lines(faults);
            let Some(pieces) = pieces(&lines, &names, faults, self.text) else {
                continue;
            };
            let Some((name, name_span)) = name else {
                continue;
            };
            if contents.rules.iter().any(|rule| rule.name == name) {
                faults.add(
                    name_span.start,
                    "a name of its own for each rule",
                    format!("`{name}` a second time"),
                    "Give one of the two another name",
                );
                continue;
            }
            match Automaton::new(&pieces, &contents.fields) {
                Ok(automaton) => contents.rules.push(Rule {
                    name,
                    slots: slots(&pieces),
                    template: lines.into_iter().map(|(line, _)| line).collect(),
                    automaton,
                }),
                Err(_) => faults.add(
                    lines.first().map_or(start, |(_, span)| span.start),
                    "a rule that can be tried on every sheet in good time",
                    "one whose patterns are too large together",
                    "Lower the repetition counts or shorten the choices of its fields",
                ),
            }
        }
    }

    fn checks(&mut self, contents: &mut Contents) {
        let faults = &mut self.faults;
        for section in Self::sections(&self.table, faults, "check") {
            section.keys(faults, &["that"]);
            let Some((that, span)) =
                section.required_text(faults, "that", "that = \"part <= parts\"")
            else {
                continue;
            };
            match SheetCheck::parse(&that, &contents.fields) {
                Ok(check) => contents.checks.push(check),
                Err((offset, expected, found, advice)) => {
                    faults.add(
                        inside(self.text, &span, &that, offset),
                        expected,
                        found,
                        advice,
                    );
                }
            }
        }
    }
}

impl<'a, 'b> Section<'a, 'b> {
    fn get(&self, key: &str) -> Option<(Range<usize>, &'b Spanned<DeValue<'a>>)> {
        self.table
            .iter()
            .find(|(known, _)| known.get_ref() == key)
            .map(|(known, value)| (known.span(), value))
    }

    /// Faults every key that does not belong here.
    fn keys(&self, faults: &mut FaultList, known: &[&str]) {
        for (key, _) in self.table {
            let name = key.get_ref().as_ref();
            if !known.contains(&name) {
                let advice = match did_you_mean(name, known.iter().copied()) {
                    Some(near) => format!("Write `{near}`"),
                    None => "Leave it out".to_owned(),
                };
                faults.add(
                    key.span().start,
                    format!("one of the keys of a {}: {}", self.what, known.join(", ")),
                    quoted(name),
                    advice,
                );
            }
        }
    }

    fn text(&self, faults: &mut FaultList, key: &str) -> Option<(String, Range<usize>)> {
        let (_, value) = self.get(key)?;
        match value.get_ref() {
            DeValue::String(text) => Some((text.to_string(), value.span())),
            other => {
                let advice = format!("Write {key} = \"...\"");
                faults.add(
                    value.span().start,
                    "text in quotes",
                    other.type_str(),
                    advice,
                );
                None
            }
        }
    }

    fn required_text(
        &self,
        faults: &mut FaultList,
        key: &str,
        example: &str,
    ) -> Option<(String, Range<usize>)> {
        if self.get(key).is_none() {
            faults.add(
                self.span.start,
                format!("the key `{key}` in every {}", self.what),
                "none",
                format!("Add {example}"),
            );
            return None;
        }
        let (text, span) = self.text(faults, key)?;
        if text.trim().is_empty() {
            faults.add(
                span.start,
                format!("a {key}"),
                "empty text",
                format!("Write {example}"),
            );
            return None;
        }
        Some((text, span))
    }

    fn number(&self, faults: &mut FaultList, key: &str, most: u32) -> Option<u32> {
        let (_, value) = self.get(key)?;
        let number = match value.get_ref() {
            DeValue::Integer(integer) => {
                i64::from_str_radix(integer.as_str(), integer.radix()).ok()
            }
            _ => None,
        };
        let fitting = number
            .and_then(|n| u32::try_from(n).ok())
            .filter(|&n| n <= most);
        if fitting.is_none() {
            faults.add(
                value.span().start,
                format!("a whole number from 0 to {most}"),
                faults.standing_at(value.span().start),
                format!("Write {key} = 99, without quotes"),
            );
        }
        fitting
    }

    fn flag(&self, faults: &mut FaultList, key: &str) -> bool {
        match self
            .get(key)
            .map(|(_, value)| (value.get_ref(), value.span()))
        {
            Some((DeValue::Boolean(flag), _)) => *flag,
            Some((other, span)) => {
                let advice = format!("Write {key} = true, without quotes");
                faults.add(span.start, "true or false", other.type_str(), advice);
                false
            }
            None => false,
        }
    }

    /// A list of texts.
    fn texts(&self, faults: &mut FaultList, key: &str) -> Vec<(String, Range<usize>)> {
        let Some((_, value)) = self.get(key) else {
            return Vec::new();
        };
        let advice = format!("Write {key} = [\"...\", \"...\"]");
        let DeValue::Array(items) = value.get_ref() else {
            let found = value.get_ref().type_str();
            faults.add(value.span().start, "a list of texts", found, advice);
            return Vec::new();
        };
        let mut texts = Vec::new();
        for item in items.iter() {
            match item.get_ref() {
                DeValue::String(text) => texts.push((text.to_string(), item.span())),
                other => faults.add(
                    item.span().start,
                    "text in quotes",
                    other.type_str(),
                    advice.clone(),
                ),
            }
        }
        if items.is_empty() {
            faults.add(
                value.span().start,
                "at least one text",
                "an empty list",
                advice,
            );
        }
        texts
    }

    /// The template: `line`, or `lines`, not both.
    fn lines(&self, faults: &mut FaultList) -> Vec<(String, Range<usize>)> {
        match (self.get("line"), self.get("lines")) {
            (Some(_), Some((span, _))) => {
                faults.add(
                    span.start,
                    "either `line` or `lines` in a rule",
                    "both",
                    "Keep `lines` for strips of several lines, `line` for one",
                );
                Vec::new()
            }
            (None, Some((span, _))) => {
                let lines = self.texts(faults, "lines");
                if lines.len() > MAX_LINES {
                    let expected = format!("at most {MAX_LINES} lines");
                    let found = format!("{} lines", lines.len());
                    faults.add(span.start, expected, found, "Leave lines out");
                    return Vec::new();
                }
                lines
            }
            _ => self
                .required_text(faults, "line", "line = \"{surname}, {forenames}\"")
                .into_iter()
                .collect(),
        }
    }
}

fn field(section: &Section, faults: &mut FaultList, text: &str) -> Option<FieldSpec> {
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
    let names = CheckScheme::ALL.map(CheckScheme::name);
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

/// The template of a rule: its lines with breaks between them.
fn pieces(
    lines: &[(String, Range<usize>)],
    fields: &[&str],
    faults: &mut FaultList,
    text: &str,
) -> Option<Vec<Piece>> {
    let mut taken = Vec::new();
    let mut pieces = Vec::new();
    let mut whole = !lines.is_empty();
    for (line, span) in lines {
        match template::parse(line, fields, &mut taken) {
            Ok(parsed) => {
                if !pieces.is_empty() {
                    pieces.push(Piece::Break);
                }
                pieces.extend(parsed);
            }
            Err(found) => {
                whole = false;
                for fault in found {
                    let at = inside(text, span, line, fault.offset);
                    faults.add(at, fault.expected, fault.found, fault.advice);
                }
            }
        }
    }
    if whole && taken.is_empty() {
        whole = false;
        faults.add(
            lines[0].1.start,
            "at least one slot in a rule",
            "none",
            "Write a field's name in braces where its value stands, as {number}",
        );
    }
    whole.then_some(pieces)
}

/// The fields that a rule takes, in the order of its template.
fn slots(pieces: &[Piece]) -> Vec<usize> {
    pieces
        .iter()
        .flat_map(|piece| match piece {
            Piece::Slot(field) => vec![*field],
            Piece::Optional(pieces) => slots(pieces),
            _ => Vec::new(),
        })
        .collect()
}

/// The place of a byte offset of a text's value in the file, where the text stands there as it is (no escapes);
/// otherwise the text's own place.
fn inside(file: &str, span: &Range<usize>, value: &str, offset: usize) -> usize {
    let written = file.get(span.clone()).unwrap_or("");
    match written.find(value) {
        Some(quotes) => span.start + quotes + offset,
        None => span.start,
    }
}
