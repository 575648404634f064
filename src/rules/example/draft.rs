//! A rule that is being thought of: its layout and the fields it needs, and the rule-file text that says so.

use crate::rules::kind::FieldKind;
use std::fmt::Write;

/// A rule before it is written.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Draft {
    pub name: String,
    pub lines: Vec<Vec<Part>>,
    pub fields: Vec<Field>,
}

/// A part of a layout.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Part {
    Blank,
    /// What stands there as it is.
    Literal(String),
    /// Index into the draft's fields.
    Slot(usize),
    /// May be missing.
    Optional(Vec<Part>),
}

/// A field as the draft needs it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Field {
    /// As in the rule file.
    pub name: String,
    /// Which record of the strip it belongs to, from 0.
    pub record: usize,
    /// Whether the rule book has it already: then only what the rule says anew of it is written.
    pub is_known: bool,
    pub kind: FieldKind,
    pub pattern: Option<String>,
    /// The name of a check scheme.
    pub check: Option<&'static str>,
    pub words: Vec<String>,
    pub max: Option<u32>,
    /// Dates have the month before the day.
    pub month_first: bool,
    /// How the index writes it, by the names of rule files.
    pub write: Option<String>,
}

impl Field {
    pub fn new(name: &str, record: usize, kind: FieldKind) -> Self {
        Self {
            name: name.to_owned(),
            record,
            is_known: false,
            kind,
            pattern: None,
            check: None,
            words: Vec::new(),
            max: None,
            month_first: false,
            write: None,
        }
    }

    /// As templates name it.
    pub fn slot(&self) -> String {
        match self.record {
            0 => self.name.clone(),
            record => format!("{}#{}", self.name, record + 1),
        }
    }

    /// What a declaration says beside name and kind: key and value as TOML.
    fn keys(&self) -> Vec<(&'static str, String)> {
        let mut keys = Vec::new();
        if let Some(pattern) = &self.pattern {
            keys.push(("pattern", literal(pattern)));
        }
        if let Some(check) = self.check {
            keys.push(("check", quoted(check)));
        }
        if let Some(max) = self.max {
            keys.push(("max", max.to_string()));
        }
        if !self.words.is_empty() {
            let words: Vec<String> = self.words.iter().map(|word| quoted(word)).collect();
            keys.push(("words", format!("[{}]", words.join(", "))));
        }
        keys
    }
}

impl Draft {
    /// The rule-file text: the fields that are new, then the rule.
    pub fn fragment(&self) -> String {
        let mut text = String::new();
        for (at, field) in self.fields.iter().enumerate() {
            let is_first = !self.fields[..at].iter().any(|f| f.name == field.name);
            if field.is_known || !is_first {
                continue;
            }
            let _ = write!(
                text,
                "[[field]]\nname = {}\nkind = {}\n",
                quoted(&field.name),
                quoted(field.kind.name())
            );
            for (key, value) in field.keys() {
                let _ = writeln!(text, "{key} = {value}");
            }
            if field.month_first {
                text += "dates = { order = \"month-day\" }\n";
            }
            if let Some(write) = &field.write {
                let _ = writeln!(text, "write = {}", quoted(write));
            }
            text.push('\n');
        }
        let _ = writeln!(text, "[[rule]]\nname = {}", quoted(&self.name));
        let lines: Vec<String> = self.templates().iter().map(|line| quoted(line)).collect();
        let _ = match lines.as_slice() {
            [line] => writeln!(text, "line = {line}"),
            lines => writeln!(text, "lines = [{}]", lines.join(", ")),
        };
        let anew = self.fields.iter().filter(|field| field.is_known);
        let anew: Vec<String> = anew
            .filter(|field| !field.keys().is_empty())
            .map(|field| {
                let keys: Vec<String> = field
                    .keys()
                    .into_iter()
                    .map(|(key, value)| format!("{key} = {value}"))
                    .collect();
                format!("{} = {{ {} }}", key(&field.name), keys.join(", "))
            })
            .collect();
        if !anew.is_empty() {
            let _ = writeln!(text, "field = {{ {} }}", anew.join(", "));
        }
        text
    }

    /// The lines of the template.
    pub fn templates(&self) -> Vec<String> {
        let lines = self.lines.iter();
        lines
            .map(|parts| self.template(parts).trim().to_owned())
            .collect()
    }

    fn template(&self, parts: &[Part]) -> String {
        let mut text = String::new();
        for part in parts {
            match part {
                Part::Blank => text.push(' '),
                Part::Literal(literal) => text += &escaped(literal),
                Part::Slot(field) => {
                    let _ = write!(text, "{{{}}}", self.fields[*field].slot());
                }
                Part::Optional(parts) => {
                    let _ = write!(text, "[{}]", self.template(parts));
                }
            }
        }
        text
    }
}

/// A text with the characters doubled that mean something in templates.
fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in text.chars() {
        if matches!(c, '{' | '}' | '[' | ']' | '<' | '>' | '|') {
            escaped.push(c);
        }
        escaped.push(c);
    }
    escaped
}

/// A TOML basic string.
fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => quoted.extend(['\\', c]),
            c if c.is_control() => {
                let _ = write!(quoted, "\\u{:04X}", c as u32);
            }
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}

/// A TOML literal string where that can say it, so that patterns need no second backslash.
fn literal(text: &str) -> String {
    match text.contains(|c: char| c == '\'' || c.is_control()) {
        true => quoted(text),
        false => format!("'{text}'"),
    }
}

/// A TOML key, quoted where it has to be.
fn key(name: &str) -> String {
    let is_bare = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-');
    match !name.is_empty() && name.chars().all(is_bare) {
        true => name.to_owned(),
        false => quoted(name),
    }
}

/// The text of a rule file with a fragment at its end, or before its checks and tables where these end it, so that rules
/// stay together. All else stays as it is, comments too.
pub fn add(book_text: &str, fragment: &str) -> String {
    let at = end_of_rules(book_text);
    let (before, behind) = book_text.split_at(at);
    let fragment = fragment.trim_end();
    let mut text = before.trim_end().to_owned();
    if !text.is_empty() {
        text += "\n\n";
    }
    text += fragment;
    text.push('\n');
    if !behind.trim().is_empty() {
        text.push('\n');
        text += behind.trim_start_matches(['\n', '\r']);
    }
    text
}

/// Where the checks and tables begin that end a rule file, with the comments above them; its end where none do.
fn end_of_rules(text: &str) -> usize {
    let Ok(table) = toml::de::DeTable::parse(text) else {
        return text.len();
    };
    let starts = |what: &str| -> Vec<usize> {
        let array = table
            .get_ref()
            .iter()
            .find(|(key, _)| key.get_ref() == what);
        let array = array.and_then(|(_, value)| value.get_ref().as_array());
        array
            .into_iter()
            .flat_map(|array| array.iter().map(|item| item.span().start))
            .collect()
    };
    let last = |what: &[&str]| what.iter().flat_map(|what| starts(what)).max();
    let Some(rules) = last(&["rule", "field"]) else {
        return text.len();
    };
    let others = ["check", "table"].iter().flat_map(|what| starts(what));
    let Some(next) = others.filter(|start| *start > rules).min() else {
        return text.len();
    };
    above_comments(text, next)
}

/// The start of the run of comment lines right above a place.
fn above_comments(text: &str, at: usize) -> usize {
    let mut start = text[..at].rfind('\n').map_or(0, |end| end + 1);
    while start > 0 {
        let line_before = text[..start - 1].rfind('\n').map_or(0, |end| end + 1);
        if !text[line_before..start].trim_start().starts_with('#') {
            break;
        }
        start = line_before;
    }
    start
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fragment_goes_behind_the_rules_and_leaves_all_else() {
        const NEW: &str = "[[rule]]\nname = \"new\"\nline = \"x {a}\"\n";
        for (book, expected) in [
            ("", NEW.to_owned()),
            ("# mine\n", format!("# mine\n\n{NEW}")),
            (
                "[[rule]]\nname = \"a\" # why\n",
                format!("[[rule]]\nname = \"a\" # why\n\n{NEW}"),
            ),
            (
                "[[rule]]\nname = \"a\"\n\n# parts\n# hold\n[[check]]\nthat = \"a <= b\"\n",
                format!(
                    "[[rule]]\nname = \"a\"\n\n{NEW}\n# parts\n# hold\n[[check]]\nthat = \"a <= b\"\n"
                ),
            ),
            (
                "[[check]]\nthat = \"a <= b\"\n[[rule]]\nname = \"a\"",
                format!("[[check]]\nthat = \"a <= b\"\n[[rule]]\nname = \"a\"\n\n{NEW}"),
            ),
            // What cannot be read as TOML is added to at its end.
            ("[[rule", format!("[[rule\n\n{NEW}")),
        ] {
            assert_eq!(add(book, NEW), expected, "{book:?}");
        }
    }

    #[test]
    fn what_means_something_in_toml_or_templates_is_escaped() {
        let mut draft = Draft {
            name: "a \"b\" \\".to_owned(),
            lines: vec![vec![
                Part::Literal("[A]|".to_owned()),
                Part::Blank,
                Part::Slot(0),
                Part::Optional(vec![Part::Blank, Part::Literal("<Y>".into())]),
            ]],
            fields: vec![Field::new("größe", 1, FieldKind::Code)],
        };
        draft.fields[0].pattern = Some("'\\d".to_owned());
        let written = draft.fragment();
        assert_eq!(
            written,
            "[[field]]\nname = \"größe\"\nkind = \"code\"\npattern = \"'\\\\d\"\n\n[[rule]]\n\
             name = \"a \\\"b\\\" \\\\\"\nline = \"[[A]]|| {größe#2}[ <<Y>>]\"\n"
        );
        draft.fields[0].is_known = true;
        assert!(
            draft
                .fragment()
                .ends_with("field = { \"größe\" = { pattern = \"'\\\\d\" } }\n")
        );
    }
}
