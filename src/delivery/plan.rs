//! What a job wants delivered: its names, its index, its checks.

use super::{CheckPlan, Column, IndexLayout, NamePattern, PartFields};
use crate::job::{JobSettings, fault_at};
use crate::rules::{Deliver, Fault, Faults, FieldKind, FieldSpec};
use crate::value::DateStyle;
use toml::Spanned;

/// Read from the job file, checked against the fields of the rules.
#[derive(Debug, Clone, PartialEq)]
pub struct DeliveryPlan {
    pub naming: NamePattern,
    pub layout: IndexLayout,
    /// What was read on the strips goes along.
    pub full_text: bool,
    pub checks: CheckPlan,
}

impl DeliveryPlan {
    /// `text` is the job file's, for the places of faults.
    ///
    /// # Errors
    /// Every fault of the naming pattern, fields of it that say something of a person where the job refuses those, and
    /// fields that are no dates and are to be given in EDTF, each placed in the job file.
    pub fn new(settings: &JobSettings, text: &str, fields: &[FieldSpec]) -> Result<Self, Faults> {
        let names: Vec<&str> = fields.iter().map(|field| field.name.as_str()).collect();
        let pattern = &settings.naming.pattern;
        let naming = NamePattern::parse(pattern.get_ref(), &names).map_err(|faults| Faults {
            faults: faults
                .into_iter()
                .map(|fault| {
                    // One for the quotation mark; right for every pattern without escapes, and those have none.
                    let at = pattern.span().start + 1;
                    let before = pattern.get_ref().chars().take(fault.column - 1);
                    let at = at + before.map(char::len_utf8).sum::<usize>();
                    fault_at(text, at, &fault.expected, &fault.found, &fault.advice)
                })
                .collect(),
            more: 0,
        })?;
        let mut faults = match settings.naming.personal {
            true => Vec::new(),
            false => personal(pattern, text, &naming, fields),
        };
        let edtf = dates(settings, text, fields).unwrap_or_else(|undated| {
            faults.extend(undated);
            Vec::new()
        });
        if !faults.is_empty() {
            return Err(Faults { faults, more: 0 });
        }
        let layout = IndexLayout {
            columns: columns(settings, &names, fields),
            edtf,
            draft: false,
        };
        Ok(Self {
            naming,
            checks: checks(settings, fields, &layout),
            layout,
            full_text: settings.index.full_text,
        })
    }
}

/// The fields of a pattern that say something of a person, each as a fault.
fn personal(
    pattern: &Spanned<String>,
    text: &str,
    naming: &NamePattern,
    fields: &[FieldSpec],
) -> Vec<Fault> {
    let (said, others): (Vec<&FieldSpec>, Vec<&FieldSpec>) =
        fields.iter().partition(|field| field.kind.is_personal());
    let others: Vec<String> = others
        .iter()
        .map(|field| format!("{{{}}}", field.name))
        .chain(["{sheet}, the name of its image".to_owned()])
        .collect();
    let named = naming.fields();
    let named = named.filter_map(|name| said.iter().find(|field| field.name == name));
    named
        .map(|field| {
            let at = pattern.get_ref().find(&format!("{{{}", field.name));
            fault_at(
                text,
                // One for each quotation mark and brace.
                pattern.span().start + 2 + at.unwrap_or_default(),
                "no field that says something of a person, since the job has personal = \"refused\"",
                &format!("`{}` of the kind {}", field.name, field.kind.name()),
                &format!("Write {}", others.join(" or ")),
            )
        })
        .collect()
}

/// The fields to be given in EDTF, with the styles in which their dates are typed.
fn dates(
    settings: &JobSettings,
    text: &str,
    fields: &[FieldSpec],
) -> Result<Vec<(String, DateStyle)>, Vec<Fault>> {
    let is_dated = |field: &&FieldSpec| {
        matches!(
            field.kind,
            FieldKind::Year | FieldKind::Date | FieldKind::DateRange
        )
    };
    let columns = &settings.index.columns;
    let is_delivered = |field: &&FieldSpec| {
        columns.is_empty() || columns.iter().any(|column| *column.get_ref() == field.name)
    };
    let dated = fields.iter().filter(is_dated).filter(is_delivered);
    let dated: Vec<&FieldSpec> = dated.collect();
    let mut faults = Vec::new();
    let mut found = Vec::new();
    for asked in &settings.index.edtf {
        match dated.iter().find(|field| field.name == *asked.get_ref()) {
            Some(field) => found.push((field.name.clone(), field.styles.dates.clone())),
            None => {
                let names: Vec<&str> = dated.iter().map(|field| field.name.as_str()).collect();
                faults.push(fault_at(
                    text,
                    asked.span().start,
                    "a field of the index of the kind year, date or date-range",
                    &format!("`{}`", asked.get_ref()),
                    &match names.is_empty() {
                        true => "Leave it out: no date is delivered".to_owned(),
                        false => format!("Write one of {}", names.join(", ")),
                    },
                ));
            }
        }
    }
    match faults.is_empty() {
        true => Ok(found),
        false => Err(faults),
    }
}

/// What the job file says of a field goes before what the rule file says.
fn columns(settings: &JobSettings, names: &[&str], fields: &[FieldSpec]) -> Vec<Column> {
    let index = &settings.index;
    let has = |list: &[Spanned<String>], field: &str| list.iter().any(|f| f.get_ref() == field);
    let columns: Vec<&str> = if index.columns.is_empty() {
        names.to_vec()
    } else {
        index
            .columns
            .iter()
            .map(|field| field.get_ref().as_str())
            .collect()
    };
    columns
        .into_iter()
        .map(|field| Column {
            field: field.to_owned(),
            deliver: if has(&index.both, field) {
                Deliver::Both
            } else if has(&index.as_roster, field) {
                Deliver::AsRoster
            } else if has(&index.as_typed, field) {
                Deliver::AsTyped
            } else {
                let spec = fields.iter().find(|spec| spec.name == field);
                spec.and_then(|spec| spec.deliver).unwrap_or_default()
            },
        })
        .collect()
}

fn checks(settings: &JobSettings, fields: &[FieldSpec], layout: &IndexLayout) -> CheckPlan {
    let required = fields.iter().filter(|field| field.required);
    let checked = fields
        .iter()
        .filter_map(|field| Some((field.name.clone(), field.check.clone()?)));
    let from_roster = layout
        .columns
        .iter()
        .filter(|column| column.deliver != Deliver::AsTyped);
    CheckPlan {
        from_roster: from_roster.map(|column| column.field.clone()).collect(),
        required: required.map(|field| field.name.clone()).collect(),
        check_characters: checked.collect(),
        parts: settings.parts.as_ref().map(|parts| PartFields {
            key: parts
                .of
                .iter()
                .map(|field| field.get_ref().clone())
                .collect(),
            part: parts.part.get_ref().clone(),
            parts: parts.parts.get_ref().clone(),
        }),
    }
}
