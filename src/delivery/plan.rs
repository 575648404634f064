//! What a job wants delivered: its names, its index, its checks.

use super::{CheckPlan, Column, IndexLayout, NamePattern, PartFields};
use crate::job::{JobSettings, fault_at};
use crate::rules::{Deliver, Faults, FieldSpec};
use toml::Spanned;

/// Read from the job file, checked against the fields of the rules.
#[derive(Debug, Clone, PartialEq)]
pub struct DeliveryPlan {
    pub naming: NamePattern,
    pub layout: IndexLayout,
    pub checks: CheckPlan,
}

impl DeliveryPlan {
    /// `text` is the job file's, for the places of faults.
    ///
    /// # Errors
    /// Every fault of the naming pattern, placed in the job file.
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
        let layout = layout(settings, &names, fields);
        Ok(Self {
            naming,
            checks: checks(settings, fields, &layout),
            layout,
        })
    }
}

/// What the job file says of a field goes before what the rule file says.
fn layout(settings: &JobSettings, names: &[&str], fields: &[FieldSpec]) -> IndexLayout {
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
    let columns = columns
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
        .collect();
    IndexLayout {
        columns,
        draft: false,
    }
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
