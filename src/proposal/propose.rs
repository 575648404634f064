//! The proposal itself: links the sheet, settles every field, says why.

use super::doubts::Doubts;
use super::faces::{Circumstances, face};
use super::join::{self, Value, Way, finite};
use super::{
    Because, Evidence, FieldPlan, Link, Proposal, ProposedField, ProposedRecord, RosterPlan, before,
};
use crate::rules::{ANY_RULE, Extracted, Extraction, Source};
use crate::value::{Probability, Severity, SheetKind};

/// Other values shown beside the proposed one, and how probable they must be.
const ALTERNATIVES: usize = 5;
const LEAST_ALTERNATIVE: f64 = 1e-4;

/// Makes the proposal for one sheet: for each record that the best rule finds on it.
pub fn propose(evidence: &Evidence) -> Proposal {
    // Almost every sheet has one record, and then nothing has to be told apart.
    if evidence
        .extractions
        .iter()
        .all(|extraction| extraction.records() == 1)
    {
        return propose_record(evidence);
    }
    let best = evidence.extractions.first();
    let records = best.map_or(1, Extraction::records);
    let of_record = |record: usize| -> Vec<Extraction> {
        let extractions = evidence.extractions.iter();
        let extractions = extractions.filter(|extraction| extraction.records() > record);
        extractions
            .map(|extraction| extraction.of_record(record))
            .collect()
    };
    let mut proposal = propose_record(&Evidence {
        extractions: &of_record(0),
        ..*evidence
    });
    for record in 1..records {
        let other = propose_record(&Evidence {
            extractions: &of_record(record),
            ..*evidence
        });
        proposal.findings.extend(other.findings);
        proposal.more.push(ProposedRecord {
            fields: other.fields,
            link: other.link,
            not_in_roster: other.not_in_roster,
        });
    }
    proposal
}

fn propose_record(evidence: &Evidence) -> Proposal {
    let mut ways = join::ways(evidence);
    // More probably of no rule's layout: a clerk is better off with nothing filled in than with pieces of something else.
    if ways.iter().map(|way| way.weight).sum::<f64>() < ANY_RULE {
        ways.clear();
    }
    let (rows, none) = join::rows(&ways);
    let link = evidence
        .roster
        .zip(rows.first())
        .filter(|(_, (_, probability))| *probability > none)
        .map(|(plan, &(row, probability))| Link {
            row,
            key: plan.roster.key(row).to_owned(),
            probability: evidence.calibration.apply(finite(probability)),
        });
    let values: Vec<(Vec<Value>, &FieldPlan)> = evidence
        .fields
        .iter()
        .map(|plan| (join::values(&ways, &plan.name), plan))
        .collect();
    let doubts = Doubts::new(evidence, &ways, link.as_ref(), &values);
    let not_in_roster = Probability::new(none);
    let settled = values
        .iter()
        .map(|(values, plan)| settle(evidence, &ways, link.as_ref(), &doubts, plan, values));
    let mut fields: Vec<ProposedField> = settled.collect();
    let best = ways.first().map(|way| way.extraction);
    let looks_blank = || evidence.findings.iter().any(|f| f.code == "blank-strip");
    let kind = match best {
        Some(extraction) => extraction.sheet,
        None if looks_blank() => SheetKind::Blank,
        None => SheetKind::Record,
    };
    let taken_over = before::complete(&mut fields, evidence, best);
    let mut findings =
        doubts.findings(evidence, &ways, kind, link.as_ref(), not_in_roster, &fields);
    findings.extend(taken_over);
    Proposal {
        rule: best.map(|extraction| extraction.rule.clone()),
        kind,
        fields,
        link,
        not_in_roster,
        findings,
        more: Vec::new(),
    }
}

/// One field: its value, probability, face and reasons.
fn settle(
    evidence: &Evidence,
    ways: &[Way],
    link: Option<&Link>,
    doubts: &Doubts,
    plan: &FieldPlan,
    values: &[Value],
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
        row_says_so: field
            .as_roster
            .as_deref()
            .is_some_and(|row| says_as_much(row, &value.value)),
        read_whole: ways
            .first()
            .is_none_or(|way| reads_whole(way, &plan.name, &value.value)),
        reader_suffices: evidence.calibration.reader_suffices,
        certain_of_rule: extracted(ways, &plan.name)
            .is_some_and(|extracted| extracted.source == Source::Constant),
        doubt: value.doubt.as_deref(),
        contradicted: doubts.contradicts(&plan.name),
        row_contested: doubts.contest.is_some(),
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

/// Word for word what the row says, but for case, the width of gaps, and initials for whole words.
fn says_as_much(row: &str, typed: &str) -> bool {
    let words = |text: &str| -> Vec<String> {
        text.to_uppercase()
            .split_whitespace()
            .map(str::to_owned)
            .collect()
    };
    let (row, typed) = (words(row), words(typed));
    let is_initial =
        |typed: &str, word: &str| typed.chars().count() == 1 && word.starts_with(typed);
    row.len() == typed.len()
        && row
            .iter()
            .zip(&typed)
            .all(|(word, typed)| word == typed || is_initial(typed, word))
}

/// Whether as many letters and digits were read as the value has. A typist who doubled or dropped a digit leaves a
/// number that reads well and is not the one that the check character and the roster make of it.
fn reads_whole(way: &Way, field: &str, value: &str) -> bool {
    let characters = |text: &str| text.chars().filter(|c| c.is_alphanumeric()).count();
    let mut fields = way.extraction.fields.iter();
    let extracted = fields.find(|extracted| extracted.field == field);
    extracted.is_some_and(|extracted| characters(&extracted.raw) == characters(value))
}

/// What the best rule took out for a field.
fn extracted<'a>(ways: &'a [Way], field: &str) -> Option<&'a Extracted> {
    let mut fields = ways.first()?.extraction.fields.iter();
    fields.find(|extracted| extracted.field == field)
}

/// What the linked row says of the value itself, then of the other columns.
fn roster_words(plan: &RosterPlan, ways: &[Way], link: &Link, column: &str, value: &str) -> String {
    let own = plan.roster.explain(link.row, column, value);
    let others = join::ranked(ways, link.row).map_or(&[][..], |ranked| &ranked.reasons);
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
