//! What about a sheet contradicts itself, and the findings that say so.

use super::faces::LINK_SURE;
use super::join::{self, Value, Way};
use super::{Evidence, FieldPlan, Link, ProposedField, RosterPlan};
use crate::roster::{ColumnKind, Query};
use crate::value::{Finding, Probability, Severity, SheetKind, Station, shown};

/// From here on "not in the roster" is said aloud.
const NOT_IN_ROSTER: f64 = 0.5;
/// Number and name contradict each other when each alone points to another row with this probability.
const CONTEST: f64 = 0.5;

/// Contradictions on one sheet.
pub struct Doubts<'a> {
    /// The rows that number and name point to, where they differ.
    pub contest: Option<(usize, usize)>,
    /// Pairs of fields of which the first stands above the second against the plan.
    contradictions: Vec<(&'a str, &'a str)>,
}

impl<'a> Doubts<'a> {
    pub fn new(
        evidence: &Evidence,
        ways: &[Way],
        link: Option<&Link>,
        fields: &[(Vec<Value>, &'a FieldPlan)],
    ) -> Self {
        let contest = link
            .zip(evidence.roster.as_ref())
            .and_then(|(link, plan)| contest(plan, ways, link.row));
        Self {
            contest,
            contradictions: contradictions(fields),
        }
    }

    /// Whether a field is at odds with another.
    pub fn contradicts(&self, field: &str) -> bool {
        let mut pairs = self.contradictions.iter();
        pairs.any(|(low, high)| *low == field || *high == field)
    }

    /// What somebody should be told.
    pub fn findings(
        &self,
        evidence: &Evidence,
        ways: &[Way],
        kind: SheetKind,
        link: Option<&Link>,
        not_in_roster: Probability,
        fields: &[ProposedField],
    ) -> Vec<Finding> {
        let mut findings = Vec::new();
        let mut warn = |code: &str, text: String| {
            let severity = Severity::Warning;
            findings.push(Finding::new(severity, Station::Proposal, code, text));
        };
        if ways.is_empty() {
            let text = "expected a line that fits one of the rules, found none; key the sheet, or write a rule for its layout";
            warn("no-rule-fits", text.to_owned());
        }
        if kind != SheetKind::Record {
            return findings;
        }
        if let Some((plan, (number, name))) = evidence.roster.zip(self.contest) {
            let (number, name) = (plan.roster.key(number), plan.roster.key(name));
            let text = format!(
                "number and name should point to one roster row; the number points to {}, the name to {}; look which was typed wrong",
                shown(number),
                shown(name)
            );
            warn("roster-contest", text);
        }
        match link {
            Some(link) if link.probability.get() < LINK_SURE => {
                let (key, probability) = (shown(&link.key), link.probability);
                let text = format!(
                    "the roster row {key} is meant with probability {probability} only; choose the row"
                );
                warn("roster-link-doubtful", text);
            }
            None if not_in_roster.get() >= NOT_IN_ROSTER => {
                let text = format!(
                    "expected a roster row for what the strip says, found none (probability {not_in_roster}); check number and name, or leave it unlinked"
                );
                warn("not-in-roster", text);
            }
            _ => {}
        }
        for (low, high) in &self.contradictions {
            let text = format!("{low} should not be above {high}; look at both");
            warn("fields-contradict", text);
        }
        for (field, plan) in fields.iter().zip(evidence.fields) {
            if plan.required && field.as_typed.is_empty() && !ways.is_empty() {
                let text = format!(
                    "{} has to be given, and nothing was found on the strip; key it, or say that it is not there",
                    plan.name
                );
                warn("required-field-empty", text);
            }
        }
        findings
    }
}

/// The rows that the number alone and the name alone point to, where they differ.
fn contest(plan: &RosterPlan, ways: &[Way], linked: usize) -> Option<(usize, usize)> {
    let query = join::query(plan, ways.first()?.extraction);
    let alone = |wanted: &[ColumnKind]| {
        let kind = |column: &str| plan.roster.kind(column);
        let columns = query.columns.iter();
        let columns =
            columns.filter(|c| kind(&c.column).is_some_and(|kind| wanted.contains(&kind)));
        let query = Query {
            columns: columns.cloned().collect(),
            joint: Vec::new(),
        };
        let ranking = plan.roster.rank(&query, plan.prior, 1);
        let first = ranking.rows.into_iter().next()?;
        (first.probability.get() >= CONTEST).then_some(first.row)
    };
    let number = alone(&[ColumnKind::Code])?;
    let name = || alone(&[ColumnKind::Surname, ColumnKind::Forenames]);
    // A number that points to the linked row, and agrees with it, settles it unless the name objects.
    let objects = join::ranked(ways, linked)?
        .reasons
        .iter()
        .any(|reason| reason.weight < 0.0);
    if number == linked && !objects {
        return None;
    }
    name()
        .filter(|&name| name != number)
        .map(|name| (number, name))
}

/// Pairs of fields of which the first stands above the second against the plan.
fn contradictions<'a>(fields: &[(Vec<Value>, &'a FieldPlan)]) -> Vec<(&'a str, &'a str)> {
    let number = |name: &str| -> Option<u64> {
        let (values, _) = fields.iter().find(|(_, plan)| plan.name == name)?;
        let value = &values.first()?.value;
        let digits = value
            .split(|c: char| !c.is_ascii_digit())
            .find(|run| !run.is_empty());
        digits?.parse().ok()
    };
    let pairs = fields
        .iter()
        .filter_map(|(_, plan)| Some((plan.name.as_str(), plan.not_above.as_deref()?)));
    pairs
        .filter(|(low, high)| {
            number(low)
                .zip(number(high))
                .is_some_and(|(low, high)| low > high)
        })
        .collect()
}
