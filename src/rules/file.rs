//! Rule files: TOML in; fields, rules and sheet checks out, or every fault at once.

use super::fault::{FaultList, Faults, all_of, did_you_mean, quoted};
use super::field;
use super::kind::{FieldSpec, Key, LookUp, Styles};
use super::rule::{self, Rule};
use super::section::{Section, document, inside};
use super::sense::SheetCheck;
use super::table::{self, LookUpTable};
use std::sync::Arc;
use toml::de::{DeTable, DeValue};

/// Rules of one book at most: every one is tried on every sheet.
const MAX_RULES: usize = 500;
/// Fields of one book at most.
const MAX_FIELDS: usize = 100;
/// Look-up tables of one book at most.
const MAX_TABLES: usize = 50;
/// Sheet checks of one book at most.
const MAX_CHECKS: usize = 100;
/// Size of all rules' automata together; each unit takes about 24 bytes.
const MAX_SIZE: usize = 4_000_000;
/// Largest rule file in bytes.
const MAX_FILE: usize = 1 << 20;

/// Everything that the files say.
#[derive(Debug, Default)]
pub(super) struct Contents {
    pub fields: Vec<FieldSpec>,
    pub rules: Vec<Rule>,
    pub checks: Vec<SheetCheck>,
    /// Of all rules' automata.
    size: usize,
    /// Sections seen, those at fault as well: each costs time.
    fields_seen: usize,
    rules_seen: usize,
    checks_seen: usize,
}

/// Reads files, given as (name, text); fields and tables of one may be used in another.
pub(super) fn read(files: &[(&str, &str)], styles: &Styles) -> Result<Contents, Faults> {
    read_beside(files, styles, Contents::default())
}

/// The same, where more is known already.
pub(super) fn read_beside(
    files: &[(&str, &str)],
    styles: &Styles,
    mut contents: Contents,
) -> Result<Contents, Faults> {
    let mut documents: Vec<Document> = files
        .iter()
        .map(|&(name, text)| Document::new(name, text))
        .collect();
    let (mut tables, mut tables_seen) = (Vec::new(), 0);
    for document in &mut documents {
        document.tables(&mut tables, &mut tables_seen);
    }
    for document in &mut documents {
        document.fields(&mut contents, &tables, styles);
    }
    for document in &mut documents {
        document.look_ups(&contents.fields);
    }
    let shared: Vec<Arc<FieldSpec>> = contents.fields.iter().cloned().map(Arc::new).collect();
    for document in &mut documents {
        document.rules(&mut contents, &shared);
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
    match all_of(documents.into_iter().map(|document| document.faults)) {
        Some(faults) => Err(faults),
        None => Ok(contents),
    }
}

struct Document<'a> {
    text: &'a str,
    table: DeTable<'a>,
    faults: FaultList<'a>,
    has_rules: bool,
}

/// The keys of a check.
pub(super) const CHECK_KEYS: [&str; 1] = ["that"];
/// The sections of a rule file.
pub(super) const SECTIONS: [&str; 4] = ["field", "rule", "check", "table"];

impl<'a> Document<'a> {
    fn new(name: &'a str, text: &'a str) -> Self {
        let (table, mut faults) = document(name, text, "rule file", MAX_FILE);
        for (key, _) in &table {
            let name = key.get_ref().as_ref();
            if !SECTIONS.contains(&name) {
                let advice = match did_you_mean(name, SECTIONS) {
                    Some(near) => format!("Write [[{near}]]"),
                    None => "Leave it out, or put it below one of these".to_owned(),
                };
                faults.add(
                    key.span().start,
                    "[[field]], [[rule]], [[check]] or [[table]]",
                    quoted(name),
                    advice,
                );
            }
        }
        // Of a file that could not be read nobody knows.
        let has_rules = table.contains_key("rule") || (table.is_empty() && faults.is_broken());
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

    fn fields(&mut self, contents: &mut Contents, tables: &[LookUpTable], styles: &Styles) {
        let faults = &mut self.faults;
        let fields = &mut contents.fields;
        for section in Self::sections(&self.table, faults, "field") {
            contents.fields_seen += 1;
            if contents.fields_seen > MAX_FIELDS {
                let expected = format!("at most {MAX_FIELDS} fields");
                faults.add(section.span.start, expected, "more", "Leave some out");
                return;
            }
            let spec = field::read(&section, faults, self.text, tables, styles);
            let Some(spec) = spec else { continue };
            if fields.iter().any(|known| known.name == spec.name) {
                twice(&section, faults, &spec.name);
            } else {
                fields.push(spec);
            }
        }
    }

    /// Faults the fields that are looked up by one that is not there, or by each other in a circle.
    fn look_ups(&mut self, fields: &[FieldSpec]) {
        let faults = &mut self.faults;
        let of = |name: &str| fields.iter().find(|field| field.name == name);
        let key = |field: &FieldSpec| match &field.look_up {
            Some(LookUp {
                by: Key::Field(by), ..
            }) => Some(by.clone()),
            _ => None,
        };
        // What is wrong with the sections themselves has been said.
        let mut said = FaultList::new("", "");
        for section in Self::sections(&self.table, &mut said, "field") {
            let Some((_, by)) = section.get("by") else {
                continue;
            };
            let own = section
                .get("name")
                .and_then(|(_, name)| name.get_ref().as_str());
            let Some(field) = own.and_then(of) else {
                continue;
            };
            let at = by.span().start;
            let mut next = key(field);
            let mut passed = 0;
            while let Some(name) = next {
                let Some(by) = of(&name) else {
                    let names: Vec<&str> = fields.iter().map(|f| f.name.as_str()).collect();
                    faults.add_unknown(at, "`band` or the name of a field", &name, &names);
                    break;
                };
                passed += 1;
                if passed > fields.len() {
                    faults.add(
                        at,
                        "a field that is read from the strip in the end",
                        "fields that are looked up by each other in a circle",
                        "Break the circle: one of them has to stand on the strip",
                    );
                    break;
                }
                next = key(by);
            }
        }
    }

    fn tables(&mut self, tables: &mut Vec<LookUpTable>, seen: &mut usize) {
        let faults = &mut self.faults;
        for section in Self::sections(&self.table, faults, "table") {
            *seen += 1;
            if *seen > MAX_TABLES {
                let advice = "Leave out tables that no field is looked up in";
                let expected = format!("at most {MAX_TABLES} tables");
                faults.add(section.span.start, expected, "more", advice);
                return;
            }
            let Some(table) = table::read(&section, faults) else {
                continue;
            };
            if tables.iter().any(|known| known.name == table.name) {
                twice(&section, faults, &table.name);
            } else {
                tables.push(table);
            }
        }
    }

    fn rules(&mut self, contents: &mut Contents, fields: &[Arc<FieldSpec>]) {
        let faults = &mut self.faults;
        for section in Self::sections(&self.table, faults, "rule") {
            let start = section.span.start;
            contents.rules_seen += 1;
            if contents.rules_seen > MAX_RULES {
                faults.add(
                    start,
                    format!("at most {MAX_RULES} rules"),
                    "more",
                    "Leave out rules that no sheet fits; what may be missing can stand in square brackets",
                );
                return;
            }
            let Some(rule) = rule::read(&section, faults, self.text, fields) else {
                continue;
            };
            let mut known = contents.rules.iter();
            if known.any(|known| known.name == rule.name) {
                twice(&section, faults, &rule.name);
                continue;
            }
            contents.size += rule.automaton.size();
            if contents.size > MAX_SIZE {
                faults.add(
                    start,
                    "rules that can be tried on every sheet in good time",
                    "rules that are too large together",
                    "Leave out rules, or shorten the patterns of their fields",
                );
                return;
            }
            contents.rules.push(rule);
        }
    }

    fn checks(&mut self, contents: &mut Contents) {
        let faults = &mut self.faults;
        for section in Self::sections(&self.table, faults, "check") {
            contents.checks_seen += 1;
            if contents.checks_seen > MAX_CHECKS {
                let expected = format!("at most {MAX_CHECKS} checks");
                faults.add(section.span.start, expected, "more", "Leave some out");
                return;
            }
            section.keys(faults, &CHECK_KEYS);
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

/// Records a name that something before has too.
fn twice(section: &Section, faults: &mut FaultList, name: &str) {
    let at = section
        .get("name")
        .map_or(section.span.start, |(_, value)| value.span().start);
    faults.add(
        at,
        format!("a name of its own for each {}", section.what),
        format!("`{name}` a second time"),
        "Give one of the two another name, or leave it out",
    );
}
