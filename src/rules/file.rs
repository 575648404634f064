//! Rule files: TOML in; fields, rules and sheet checks out, or every fault at once.

use super::automaton::Automaton;
use super::fault::{FAULTS_SHOWN, FaultList, Faults, did_you_mean, quoted};
use super::kind::FieldSpec;
use super::section::{Section, inside};
use super::sense::SheetCheck;
use super::template::{self, Piece};
use super::{Rule, field};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// Rules of one book at most: every one is tried on every sheet.
const MAX_RULES: usize = 500;
/// Fields of one book at most.
const MAX_FIELDS: usize = 100;
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
            let spec = field::read(&section, faults, self.text);
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
                    slot_lines: pieces
                        .split(|piece| *piece == Piece::Break)
                        .map(|line| slots(line).len())
                        .collect(),
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
