//! A table of a rule file: its keys read as what they should be, or faulted.

use super::fault::{FaultList, did_you_mean, listed, quoted};
use serde::de::DeserializeOwned;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue, ValueDeserializer};

/// Lines of one rule at most; a header strip has two or three.
const MAX_LINES: usize = 8;
/// Longest name of a field, rule or table, in bytes: names stand in messages, lists and headings.
const MAX_NAME: usize = 100;

/// A file as TOML: what of it could be read, with a fault for every line that is none. Beyond `largest` bytes nothing is
/// read.
pub(crate) fn document<'a>(
    name: &'a str,
    text: &'a str,
    what: &str,
    largest: usize,
) -> (DeTable<'a>, FaultList<'a>) {
    if text.len() > largest {
        let mut faults = FaultList::new(name, "");
        faults.add(
            0,
            format!("a {what} of at most {largest} bytes"),
            format!("{} bytes", text.len()),
            "Split it, or check that it is the right file",
        );
        faults.hide_the_rest();
        return (DeTable::new(), faults);
    }
    let mut faults = FaultList::new(name, text);
    let (parsed, errors) = DeTable::parse_recoverable(text);
    for error in errors {
        let expected = format!("TOML ({})", error.message().trim().replace('\n', "; "));
        match error.span() {
            Some(span) => faults.add_broken(
                span.start,
                expected,
                "Correct this line; the rest of the file was checked as far as possible",
            ),
            // Keys nested without end are the one fault that TOML does not place.
            None => {
                let found = "something else, at a place that is not known";
                let advice = "Look for keys with many dots in them, and take them apart";
                faults.add(0, expected, found, advice);
                faults.hide_the_rest();
            }
        }
    }
    (parsed.into_inner(), faults)
}

/// A table of the file with its place and the keys it may have.
pub(crate) struct Section<'a, 'b> {
    pub what: &'static str,
    pub table: &'b DeTable<'a>,
    pub span: Range<usize>,
}

impl<'a, 'b> Section<'a, 'b> {
    pub fn get(&self, key: &str) -> Option<(Range<usize>, &'b Spanned<DeValue<'a>>)> {
        self.table
            .get_key_value(key)
            .map(|(known, value)| (known.span(), value))
    }

    /// Faults every key that does not belong here.
    pub fn keys(&self, faults: &mut FaultList, known: &[&str]) {
        for (key, _) in self.table {
            let name = key.get_ref().as_ref();
            if !known.contains(&name) {
                let advice = match did_you_mean(name, known.iter().copied()) {
                    Some(near) => format!("Write `{near}`"),
                    None => "Leave it out".to_owned(),
                };
                faults.add(
                    key.span().start,
                    format!("one of the keys of a {}: {}", self.what, listed(known)),
                    quoted(name),
                    advice,
                );
            }
        }
    }

    pub fn text(&self, faults: &mut FaultList, key: &str) -> Option<(String, Range<usize>)> {
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

    pub fn required_text(
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

    /// The name of what the section declares.
    pub fn name(&self, faults: &mut FaultList, example: &str) -> Option<(String, Range<usize>)> {
        let (name, span) = self.required_text(faults, "name", example)?;
        if name.len() > MAX_NAME {
            faults.add(
                span.start,
                format!("a name of at most {MAX_NAME} bytes"),
                format!("{} bytes, {}", name.len(), quoted(&name)),
                "Shorten it",
            );
        }
        Some((name, span))
    }

    pub fn number(&self, faults: &mut FaultList, key: &str, most: u32) -> Option<u32> {
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

    pub fn flag(&self, faults: &mut FaultList, key: &str) -> bool {
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

    /// A value of a type of ours that reads itself.
    pub fn value<T: DeserializeOwned>(&self, faults: &mut FaultList, key: &str) -> Option<T> {
        let (_, value) = self.get(key)?;
        match T::deserialize(ValueDeserializer::from(value.clone())) {
            Ok(read) => Some(read),
            Err(error) => {
                let at = error.span().map_or(value.span().start, |span| span.start);
                faults.add(
                    at,
                    format!("a value of `{key}` ({})", error.message().trim()),
                    faults.standing_at(at),
                    "Correct it; the reference of the rule language shows each key",
                );
                None
            }
        }
    }

    /// A table within this one.
    pub fn table(
        &self,
        faults: &mut FaultList,
        key: &str,
        what: &'static str,
    ) -> Option<Section<'a, 'b>> {
        let (_, value) = self.get(key)?;
        match value.get_ref() {
            DeValue::Table(table) => Some(Section {
                what,
                table,
                span: value.span(),
            }),
            other => {
                let advice = format!("Write {key} = {{ name = \"...\" }}");
                faults.add(value.span().start, "a table", other.type_str(), advice);
                None
            }
        }
    }

    /// Its keys, where they are the user's to choose, in the order of the file.
    pub fn names(&self) -> Vec<(String, Range<usize>)> {
        let keys = self.table.iter();
        let mut names: Vec<_> = keys
            .map(|(key, _)| (key.get_ref().to_string(), key.span()))
            .collect();
        names.sort_by_key(|(_, span)| span.start);
        names
    }

    /// A text, or a list of texts.
    pub fn one_or_more(&self, faults: &mut FaultList, key: &str) -> Vec<(String, Range<usize>)> {
        match self.get(key).map(|(_, value)| value.get_ref()) {
            Some(DeValue::Array(_)) => self.texts(faults, key),
            Some(_) => self.text(faults, key).into_iter().collect(),
            None => Vec::new(),
        }
    }

    /// A list of texts.
    pub fn texts(&self, faults: &mut FaultList, key: &str) -> Vec<(String, Range<usize>)> {
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
    pub fn lines(&self, faults: &mut FaultList) -> Vec<(String, Range<usize>)> {
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

/// The place of a byte offset of a text's value in the file, where the text stands there as it is (no escapes);
/// otherwise the text's own place.
pub(crate) fn inside(file: &str, span: &Range<usize>, value: &str, offset: usize) -> usize {
    let written = file.get(span.clone()).unwrap_or("");
    match written.find(value) {
        Some(quotes) => span.start + quotes + offset,
        None => span.start,
    }
}
