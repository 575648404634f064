//! The proposal itself: links the sheet, settles every field, says why.

use super::faces::{Circumstances, LINK_SURE, face};
use super::join::{self, Value, Way, finite};
use super::{Because, Evidence, FieldPlan, Link, Proposal, ProposedField, RosterPlan};
use crate::roster::{ColumnKind, Query, RankedRow};
use crate::value::{Finding, Probability, Severity, Station, shown};

/// Other values shown beside the proposed one, and how probable they must be.
const ALTERNATIVES: usize = 5;
const LEAST_ALTERNATIVE: f64 = 1e-4;
/// From here on "not in the roster" is said aloud.
const NOT_IN_ROSTER: f64 = 0.5;
/// Number and name contradict each other when each alone points to another row with this probability.
const CONTEST: f64 = 0.5;

/// Makes the proposal for one sheet.
pub fn propose(evidence: &Evidence) -> Proposal {
    let ways = join::ways(evidence);
    let (rows, none) = join::rows(&ways);
    let mut findings = Vec::new();
    let mut warn = |code: &str, text: String| {
        findings.push(Finding::new(
            Severity::Warning,
            Station::Proposal,
            code,
            text,
        ));
    };
    if ways.is_empty() {
        let text = "expected a line that fits one of the rules, found none; key the sheet, or write a rule for its layout";
        warn("no-rule-fits", text.to_owned());
    }
    let link = evidence
        .roster
        .zip(rows.first())
        .filter(|(_, (_, probability))| *probability > none)
        .map(|(plan, &(row, probability))| Link {
            row,
            key: plan.roster.key(row).to_owned(),
            probability: evidence.calibration.apply(finite(probability)),
        });
    let contest = link
        .as_ref()
        .and_then(|link| contest(evidence.roster.as_ref()?, &ways, link.row));
    if let (Some(plan), Some((a, b))) = (&evidence.roster, contest) {
        let (a, b) = (plan.roster.key(a), plan.roster.key(b));
        let text = format!(
            "number and name should point to one roster row; the number points to {}, the name to {}; look which was typed wrong",
            shown(a),
            shown(b)
        );
        warn("roster-contest", text);
    }
    match &link {
        Some(link) if link.probability.get() < LINK_SURE => {
            let text = format!(
                "the roster row {} is meant with probability {} only; choose the row",
                shown(&link.key),
                link.probability
            );
            warn("roster-link-doubtful", text);
        }
        None if evidence.roster.is_some() && none >= NOT_IN_ROSTER => {
            let text = format!(
                "expected a roster row for what the strip says, found none (probability {}); check number and name, or leave it unlinked",
                Probability::new(none)
            );
            warn("not-in-roster", text);
        }
        _ => {}
    }
    let best: Vec<(Vec<Value>, &FieldPlan)> = evidence
        .fields
        .iter()
        .map(|plan| (join::values(&ways, &plan.name), plan))
        .collect();
    let contradictions = contradictions(&best);
    for (low, high) in &contradictions {
        let text = format!("{low} should not be above {high}; look at both");
        warn("fields-contradict", text);
    }
    for (values, plan) in &best {
        let is_empty = values.first().is_none_or(|value| value.value.is_empty());
        if plan.required && is_empty && !ways.is_empty() {
            let text = format!(
                "{} has to be given, and nothing was found on the strip; key it, or say that it is not there",
                plan.name
            );
            warn("required-field-empty", text);
        }
    }
    let fields = best.into_iter().map(|(values, plan)| {
        let contradicted = contradictions
            .iter()
            .any(|(low, high)| *low == plan.name || *high == plan.name);
        settle(
            evidence,
            &ways,
            link.as_ref(),
            contest.is_some(),
            contradicted,
            plan,
            values,
        )
    });
    Proposal {
        rule: ways.first().map(|way| way.extraction.rule.clone()),
        fields: fields.collect(),
        not_in_roster: Probability::new(if evidence.roster.is_some() { none } else { 0.0 }),
        link,
        findings,
    }
}

/// One field: its value, probability, face and reasons.
fn settle(
    evidence: &Evidence,
    ways: &[Way],
    link: Option<&Link>,
    row_contested: bool,
    contradicted: bool,
    plan: &FieldPlan,
    values: Vec<Value>,
) -> ProposedField {
    let column = evidence
        .roster
        .and_then(|roster| Some((roster, roster.column(&plan.name)?)));
    let as_roster = column.zip(link).and_then(|((roster, column), link)| {
        roster.roster.cell(link.row, column).map(str::to_owned)
    });
    let mut field = ProposedField {
        field: plan.name.clone(),
        as_typed: String::new(),
        as_roster,
        probability: Probability::ZERO,
        face: super::Face::Empty,
        alternatives: Vec::new(),
        reasons: Vec::new(),
    };
    let Some((value, others)) = values.split_first() else {
        return field;
    };
    let calibrated = evidence.calibration.apply(finite(value.joined));
    let around = Circumstances {
        strip_warned: evidence
            .findings
            .iter()
            .any(|finding| finding.severity >= Severity::Warning),
        rule_probability: ways.first().map_or(0.0, |way| way.weight),
        link: column.and(link).map(|link| link.probability.get()),
        agreement: column.zip(link).and_then(|((plan, column), link)| {
            plan.roster.agreement(link.row, column, &value.value)
        }),
        reader_suffices: evidence.calibration.reader_suffices,
        contradicted,
        row_contested,
    };
    let (face, against) = face(value, calibrated, &around);
    field.as_typed = value.value.clone();
    field.probability = calibrated;
    field.face = face;
    field.alternatives = others
        .iter()
        .filter(|other| other.joined >= LEAST_ALTERNATIVE)
        .take(ALTERNATIVES)
        .map(|other| {
            (
                other.value.clone(),
                evidence.calibration.apply(finite(other.joined)),
            )
        })
        .collect();
    let roster_words = column.zip(link).map_or_else(
        || "the roster".to_owned(),
        |((plan, column), link)| roster_words(&plan, ways, link, column, &value.value),
    );
    field.reasons = reasons(value, calibrated, roster_words);
    let weightless = |words: &str| Because {
        weight: 0.0,
        words: format!("has to be looked at: {words}"),
    };
    field.reasons.extend(against.into_iter().map(weightless));
    field
}

/// What the linked row says of the value itself, then of the other columns.
fn roster_words(plan: &RosterPlan, ways: &[Way], link: &Link, column: &str, value: &str) -> String {
    let own = plan.roster.explain(link.row, column, value);
    let others = ranked(ways, link.row).map_or(&[][..], |ranked| &ranked.reasons);
    let others = others
        .iter()
        .filter(|reason| !reason.column.is_empty() && reason.column != column)
        .map(|reason| reason.words.clone());
    let all: Vec<String> = own.into_iter().chain(others).collect();
    format!("roster row {}: {}", link.key, all.join("; "))
}

/// Each step's part in the log-odds; together they give those of the probability shown.
fn reasons(value: &Value, calibrated: Probability, roster_words: String) -> Vec<Because> {
    let read = finite(value.read).log_odds();
    let ruled = finite(value.ruled).log_odds();
    let joined = finite(value.joined).log_odds();
    if value.value.is_empty() {
        return vec![Because {
            weight: calibrated.log_odds(),
            words: "no rule took anything out".to_owned(),
        }];
    }
    let reader = match (value.offered, value.check_holds) {
        (false, _) => "a few misreadings from what was read".to_owned(),
        (true, Some(true)) => "read so, and its check character fits".to_owned(),
        (true, Some(false)) => "read so, but its check character does not fit".to_owned(),
        (true, None) => "read so".to_owned(),
    };
    let steps = [
        (read, reader),
        (
            ruled - read,
            "how well the rule fits, and other rules".to_owned(),
        ),
        (joined - ruled, roster_words),
        (
            calibrated.log_odds() - joined,
            "put cautiously, as calibrated".to_owned(),
        ),
    ];
    // Steps that change nothing are not worth a line.
    const NOTHING: f64 = 1e-9;
    let steps = steps
        .into_iter()
        .filter(|(weight, _)| weight.abs() > NOTHING);
    steps
        .map(|(weight, words)| Because { weight, words })
        .collect()
}

/// The row as the most probable way that knows it ranks it.
fn ranked<'a>(ways: &'a [Way], row: usize) -> Option<&'a RankedRow> {
    ways.iter()
        .filter_map(|way| way.ranking.as_ref())
        .find_map(|ranking| ranking.rows.iter().find(|ranked| ranked.row == row))
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
    let objects = ranked(ways, linked)?
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
