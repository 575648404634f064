//! What a sheet takes over from those before it in the drawer, and what follows from its other values.

use super::{Because, Evidence, Face, FieldPlan, Proposal, ProposedField};
use crate::rules::{Carry, Extraction, Key, Source};
use crate::value::{
    Finding, Probability, Severity, SheetId, SheetKind, Station, comparison_form, sha256_parts,
    shown,
};
use serde::{Deserialize, Serialize};

/// The sheets that a later one may take values from. Blank sheets, targets and sheets that no rule fits are passed over.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Before {
    /// The last divider.
    pub divider: Option<EarlierSheet>,
    /// The last record, where no divider stands between.
    pub record: Option<EarlierSheet>,
}

/// What an earlier sheet says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EarlierSheet {
    pub sheet: SheetId,
    pub values: Vec<(String, String, Probability, Face)>,
}

impl Before {
    /// Goes on by a sheet: what the next one has before it.
    pub fn pass(&mut self, sheet: &SheetId, proposal: &Proposal) {
        if proposal.rule.is_none() {
            return;
        }
        let values = proposal.fields.iter().map(|field| {
            let value = field.as_typed.clone();
            (field.field.clone(), value, field.probability, field.face)
        });
        let earlier = || EarlierSheet {
            sheet: sheet.clone(),
            values: values.collect(),
        };
        match proposal.kind {
            SheetKind::Divider => {
                *self = Self {
                    divider: Some(earlier()),
                    record: None,
                };
            }
            SheetKind::Record => self.record = Some(earlier()),
            _ => {}
        }
    }

    /// A hash of everything that a proposal may take from here.
    pub fn key(&self) -> String {
        let of = |sheet: &Option<EarlierSheet>| {
            let sheet = sheet.iter();
            let values = sheet
                .flat_map(|s| &s.values)
                .map(|(field, value, probability, face)| {
                    format!("{field}={value} {:.4} {face:?};", probability.get())
                });
            values.collect::<String>()
        };
        sha256_parts([of(&self.divider), of(&self.record)])
    }

    fn of(&self, carry: Carry) -> Option<&EarlierSheet> {
        match carry {
            Carry::Divider => self.divider.as_ref(),
            Carry::SheetBefore => self.record.as_ref(),
        }
    }
}

impl EarlierSheet {
    fn value(&self, field: &str) -> Option<(&str, Probability, Face)> {
        let mut values = self.values.iter();
        let (_, value, probability, face) = values.find(|(name, ..)| name == field)?;
        (!value.is_empty()).then_some((value, *probability, *face))
    }
}

/// Fills what the strip leaves open: ditto marks and carried values, then looked-up ones, then defaults. Returns what
/// somebody should be told.
pub fn complete(
    fields: &mut [ProposedField],
    evidence: &Evidence,
    extraction: Option<&Extraction>,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut warn = |code: &str, text: String| {
        findings.push(Finding::new(
            Severity::Warning,
            Station::Proposal,
            code,
            text,
        ));
    };
    for (at, plan) in evidence.fields.iter().enumerate() {
        let is_ditto = extraction.is_some_and(|extraction| {
            let mut taken = extraction.fields.iter();
            taken.any(|taken| taken.field == plan.name && taken.source == Source::Ditto)
        });
        let from = match (is_ditto, fields[at].as_typed.is_empty(), plan.carry) {
            (true, ..) => Carry::SheetBefore,
            (false, true, Some(carry)) => carry,
            _ => continue,
        };
        let earlier = evidence.before.of(from);
        match earlier.and_then(|sheet| Some((sheet, sheet.value(&plan.name)?))) {
            Some((sheet, (value, probability, _))) => {
                let mark = match is_ditto {
                    true => fields[at].probability.get(),
                    false => 1.0,
                };
                let words = match is_ditto {
                    true => format!("ditto: as on {}", sheet.sheet),
                    false => format!("carried from {}", sheet.sheet),
                };
                let probability = Probability::new(probability.get() * mark);
                take(&mut fields[at], value, probability, words);
            }
            None if is_ditto => {
                fields[at].as_typed = String::new();
                fields[at].face = Face::Empty;
                warn(
                    "nothing-to-repeat",
                    format!(
                        "{} has a ditto mark, and no record before this sheet gives it; key what is meant",
                        plan.name
                    ),
                );
            }
            None => {}
        }
    }
    // A table's value may be the key of another: as often as there are tables to ask.
    let plans = evidence.fields.iter();
    for _ in plans.filter(|plan| plan.look_up.is_some()) {
        let before = fields.to_vec();
        for (at, plan) in evidence.fields.iter().enumerate() {
            if fields[at].as_typed.is_empty() {
                look_up(&mut fields[at], plan, &before, evidence.band);
            }
        }
        if before == fields {
            break;
        }
    }
    for (field, plan) in fields.iter_mut().zip(evidence.fields) {
        let Some(default) = plan.default.as_ref().filter(|_| field.as_typed.is_empty()) else {
            continue;
        };
        let nothing = field.probability;
        take(
            field,
            default,
            nothing,
            "nothing on the strip: the rules' default".to_owned(),
        );
    }
    for (field, plan) in fields.iter().zip(evidence.fields) {
        if let Some((table, key)) = missing(field, plan, fields, evidence.band) {
            warn(
                "not-in-table",
                format!(
                    "{} is looked up by {table}, and the table has no row for `{}`; add the row, or key the value",
                    plan.name,
                    shown(&key)
                ),
            );
        }
    }
    findings
}

/// Gives a field a value that does not stand on the strip: it has to be looked at.
fn take(field: &mut ProposedField, value: &str, probability: Probability, words: String) {
    field.as_typed = value.to_owned();
    field.probability = probability;
    field.face = Face::Look;
    field.alternatives.clear();
    field.reasons = vec![Because {
        weight: probability.log_odds(),
        words,
    }];
}

/// Probability that a band's colour is the one that was measured: film and lamps shift colours.
const BAND_KNOWN: f64 = 0.95;

/// The key that a field is looked up by, what it is called, its probability and face.
fn key<'a>(
    plan: &FieldPlan,
    fields: &'a [ProposedField],
    band: &'a str,
) -> Option<(&'a str, &'a str, Probability, Face)> {
    match &plan.look_up.as_ref()?.by {
        Key::Band => Some((
            "the band's colour",
            band,
            Probability::new(BAND_KNOWN),
            Face::Look,
        )),
        Key::Field(name) => {
            let mut fields = fields.iter();
            let field = fields.find(|field| field.field == *name)?;
            (!field.as_typed.is_empty()).then_some((
                &field.field,
                &field.as_typed,
                field.probability,
                field.face,
            ))
        }
    }
}

fn row<'a>(plan: &'a FieldPlan, key: &str) -> Option<&'a str> {
    let form = comparison_form(key);
    let mut rows = plan.look_up.as_ref()?.rows.iter();
    let (_, value) = rows.find(|(known, _)| *known == form)?;
    Some(value)
}

fn look_up(field: &mut ProposedField, plan: &FieldPlan, fields: &[ProposedField], band: &str) {
    let Some((by, key, probability, face)) = key(plan, fields, band) else {
        return;
    };
    if let Some(value) = row(plan, key) {
        take(field, value, probability, format!("looked up by {by}"));
        field.face = face;
    }
}

/// The key of a look-up that its table does not have, and what it is called.
fn missing(
    field: &ProposedField,
    plan: &FieldPlan,
    fields: &[ProposedField],
    band: &str,
) -> Option<(String, String)> {
    let (by, key, ..) = key(plan, fields, band).filter(|_| field.as_typed.is_empty())?;
    row(plan, key)
        .is_none()
        .then(|| (by.to_owned(), key.to_owned()))
}
