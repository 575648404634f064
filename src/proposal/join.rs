//! Rules, reader and roster joined: for each field the probabilities of its values, with and without the roster.

use super::{Evidence, RosterPlan};
use crate::roster::{Agreement, Query, QueryColumn, RankedRow, Ranking};
use crate::rules::{Extracted, Extraction, Source};
use crate::value::Probability;

/// Extractions less probable than this are left out.
const LEAST_EXTRACTION: f64 = 1e-3;
/// At most so many ways are weighed: each asks the roster.
const MOST_WAYS: usize = 4;
/// Rows asked of the roster for an extraction; the rest count as "not in the roster" when values are weighed.
const ROWS: usize = 8;
/// Rows less probable than this do not bring values of their own.
const LEAST_ROW: f64 = 0.01;
/// A character misread to one particular other without the reader even offering what was typed: this part of the
/// reader's doubt of its best value, since where it doubts much it reads badly, within limits that keep a reader from
/// being taken for perfect or for worthless.
const UNOFFERED_OF_DOUBT: f64 = 0.1;
const UNOFFERED: std::ops::RangeInclusive<f64> = 1e-5..=1e-2;
/// A row's value may be what was typed if at most half of its characters were misread: one more is another value.
fn most_misreadings(value: &str) -> usize {
    value.chars().count() / 2
}

/// Candidates less probable than this are not asked of the roster.
const LEAST_CANDIDATE: f64 = 1e-3;

/// One extraction with what the roster makes of it.
pub struct Way<'a> {
    pub extraction: &'a Extraction,
    /// Probability after the roster was asked.
    pub weight: f64,
    pub ranking: Option<Ranking>,
    values: Vec<Weighed>,
}

/// One field's value within one extraction.
#[derive(Debug, Clone)]
struct Weighed {
    field: String,
    value: String,
    /// By the reader alone.
    read: f64,
    /// With the roster.
    joined: f64,
    check_holds: Option<bool>,
    doubt: Option<String>,
    offered: bool,
}

/// A value that a field may have, over all extractions.
#[derive(Debug, Clone, Default)]
pub struct Value {
    pub value: String,
    /// By the reader alone, given the best extraction that has the value.
    pub read: f64,
    /// By reader and rules.
    pub ruled: f64,
    /// By reader, rules and roster.
    pub joined: f64,
    pub check_holds: Option<bool>,
    /// Why it may mean something else than it seems to.
    pub doubt: Option<String>,
    /// The reader offered it; else it was put forward by the roster.
    pub offered: bool,
}

/// The ways to cut the strip into fields, most probable first.
pub fn ways<'a>(evidence: &Evidence<'a>) -> Vec<Way<'a>> {
    let mut ways: Vec<Way> = evidence
        .extractions
        .iter()
        .filter(|extraction| extraction.probability.get() >= LEAST_EXTRACTION)
        .take(MOST_WAYS)
        .map(|extraction| {
            let ranking = evidence.roster.map(|plan| {
                plan.roster
                    .rank(&query(&plan, extraction), plan.prior, ROWS)
            });
            let lift = ranking.as_ref().map_or(0.0, |ranking| ranking.evidence);
            Way {
                extraction,
                weight: extraction.probability.get().ln() + lift,
                values: weigh(evidence, extraction, ranking.as_ref()),
                ranking,
            }
        })
        .collect();
    // What no rule explains keeps its share.
    let fitting: f64 = evidence
        .extractions
        .iter()
        .map(|extraction| extraction.probability.get())
        .sum();
    let top = ways.iter().map(|way| way.weight).fold(0.0, f64::max);
    let rest = (1.0 - fitting).max(0.0) * (-top).exp();
    let sum: f64 = rest + ways.iter().map(|way| (way.weight - top).exp()).sum::<f64>();
    for way in &mut ways {
        way.weight = (way.weight - top).exp() / sum;
    }
    ways.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    ways
}

/// What an extraction says of the roster's columns. A ditto mark says nothing: it stands for what another strip says.
pub fn query(plan: &RosterPlan, extraction: &Extraction) -> Query {
    let fields = extraction.fields.iter();
    let fields = fields.filter(|field| field.source != Source::Ditto);
    let columns = fields.filter_map(|field| {
        let column = plan.column(&field.field)?.to_owned();
        let values = field.candidates.iter();
        let values = values.filter(|candidate| candidate.probability.get() >= LEAST_CANDIDATE);
        let values = values.map(|candidate| (candidate.value.clone(), candidate.probability));
        Some(QueryColumn {
            column,
            values: values.collect(),
        })
    });
    Query {
        columns: columns.collect(),
        joint: Vec::new(),
    }
}

fn weigh(evidence: &Evidence, extraction: &Extraction, ranking: Option<&Ranking>) -> Vec<Weighed> {
    let mut weighed = Vec::new();
    for field in &extraction.fields {
        let mut values: Vec<Weighed> = field
            .candidates
            .iter()
            .map(|candidate| Weighed {
                field: field.field.clone(),
                value: candidate.value.clone(),
                read: candidate.probability.get(),
                joined: candidate.probability.get(),
                check_holds: candidate.check_holds,
                doubt: candidate.doubt.clone(),
                offered: true,
            })
            .collect();
        if field.source != Source::Ditto
            && let (Some(plan), Some(ranking)) = (&evidence.roster, ranking)
            && let Some(column) = plan.column(&field.field)
        {
            put_forward(evidence, plan, column, field, ranking, &mut values);
            join(plan, column, ranking, &mut values);
        }
        weighed.extend(values);
    }
    weighed
}

/// Adds the values of probable rows that are few misreadings away from what was read.
fn put_forward(
    evidence: &Evidence,
    plan: &RosterPlan,
    column: &str,
    field: &Extracted,
    ranking: &Ranking,
    values: &mut Vec<Weighed>,
) {
    // A number that fits its check character was hardly misread into another that fits.
    let Some(best) = values.first().filter(|best| best.check_holds != Some(true)) else {
        return;
    };
    let best = best.clone();
    let rows = ranking.rows.iter();
    for row in rows.filter(|row| row.probability.get() >= LEAST_ROW) {
        let agrees = |value: &Weighed| {
            plan.roster.agreement(row.row, column, &value.value) == Some(Agreement::Full)
        };
        let Some(cell) = plan.roster.as_typed_like(row.row, column, &best.value) else {
            continue;
        };
        let cell = match best.value.chars().any(char::is_lowercase) {
            true => cell,
            false => cell.to_uppercase(),
        };
        let misreadings = strsim::osa_distance(&best.value, &cell);
        if values.iter().any(agrees) || misreadings > most_misreadings(&cell) {
            continue;
        }
        let against_best = evidence.scorer.and_then(|scorer| {
            let with = |value: &str| Some(scorer(field.line, &line_with(evidence, field, value)?));
            Some((with(&cell)? - with(&best.value)?).min(0.0).exp())
        });
        let a_character =
            ((1.0 - best.read) * UNOFFERED_OF_DOUBT).clamp(*UNOFFERED.start(), *UNOFFERED.end());
        let unoffered = a_character.powi(misreadings as i32);
        let read = best.read * against_best.map_or(unoffered, |odds| odds.min(unoffered.sqrt()));
        values.push(Weighed {
            value: cell,
            read,
            joined: read,
            check_holds: None,
            offered: false,
            ..best.clone()
        });
    }
}

/// A line's text with `value` in the place of a field.
fn line_with(evidence: &Evidence, field: &Extracted, value: &str) -> Option<String> {
    let line = evidence.reading.lines.get(field.line)?;
    let text = |positions: &[crate::reading::Position]| -> String {
        positions.iter().map(|position| position.best()).collect()
    };
    let before = line.positions.get(..field.positions.start)?;
    let after = line.positions.get(field.positions.end..)?;
    Some(text(before) + value + &text(after))
}

/// P(value) = sum over rows of P(row) P(value | row, reading), and likewise for "not in the roster", where the
/// reading alone decides.
fn join(plan: &RosterPlan, column: &str, ranking: &Ranking, values: &mut [Weighed]) {
    let rows: Vec<usize> = ranking.rows.iter().map(|row| row.row).collect();
    let texts: Vec<&str> = values.iter().map(|value| value.value.as_str()).collect();
    let Some(likelihoods) = plan.roster.likelihoods(column, &texts, &rows) else {
        return;
    };
    let read_sum: f64 = values.iter().map(|value| value.read).sum();
    let unread = (1.0 - read_sum).max(0.0);
    let known: f64 = ranking.rows.iter().map(|row| row.probability.get()).sum();
    let others = (1.0 - known).max(0.0);
    let mut joined: Vec<f64> = values
        .iter()
        .map(|value| others * value.read / read_sum.max(1.0))
        .collect();
    for (row, likelihoods) in ranking.rows.iter().zip(likelihoods) {
        let weights: Vec<f64> = values
            .iter()
            .zip(&likelihoods)
            .map(|(value, ln)| value.read * ln.exp())
            .collect();
        let sum = unread + weights.iter().sum::<f64>();
        if sum > 0.0 {
            for (slot, weight) in joined.iter_mut().zip(weights) {
                *slot += row.probability.get() * weight / sum;
            }
        }
    }
    for (value, joined) in values.iter_mut().zip(joined) {
        value.joined = joined;
    }
}

/// The values that a field may have over all ways, most probable first; a way without the field says "nothing".
pub fn values(ways: &[Way], field: &str) -> Vec<Value> {
    let mut values: Vec<Value> = Vec::new();
    let all: f64 = ways
        .iter()
        .map(|way| way.extraction.probability.get())
        .sum();
    let all = all.max(1.0);
    for way in ways {
        let of_field: Vec<_> = way.values.iter().filter(|v| v.field == field).collect();
        let nothing = Weighed {
            field: field.to_owned(),
            value: String::new(),
            read: 1.0,
            joined: 1.0,
            check_holds: None,
            doubt: None,
            offered: true,
        };
        let of_field = if of_field.is_empty() {
            vec![&nothing]
        } else {
            of_field
        };
        for found in of_field {
            let at = values.iter().position(|value| value.value == found.value);
            let at = at.unwrap_or_else(|| {
                values.push(Value {
                    value: found.value.clone(),
                    read: found.read,
                    check_holds: found.check_holds,
                    doubt: found.doubt.clone(),
                    offered: found.offered,
                    ..Value::default()
                });
                values.len() - 1
            });
            let slot = &mut values[at];
            slot.ruled += way.extraction.probability.get() / all * found.read;
            slot.joined += way.weight * found.joined;
            slot.offered |= found.offered;
        }
    }
    values.sort_by(|a, b| b.joined.total_cmp(&a.joined));
    values
}

/// Rows over all ways with their probabilities, most probable first, and that of "not in the roster".
pub fn rows(ways: &[Way]) -> (Vec<(usize, f64)>, f64) {
    let mut rows: Vec<(usize, f64)> = Vec::new();
    let mut none = 0.0;
    let sum: f64 = ways.iter().map(|way| way.weight).sum();
    for way in ways {
        let share = way.weight / sum.max(f64::MIN_POSITIVE);
        let Some(ranking) = &way.ranking else {
            continue;
        };
        none += share * ranking.none.get();
        for ranked in &ranking.rows {
            let probability = share * ranked.probability.get();
            match rows.iter_mut().find(|(row, _)| *row == ranked.row) {
                Some((_, sum)) => *sum += probability,
                None => rows.push((ranked.row, probability)),
            }
        }
    }
    rows.sort_by(|a, b| b.1.total_cmp(&a.1));
    (rows, none)
}

/// The row as the most probable way that knows it ranks it.
pub fn ranked<'a>(ways: &'a [Way], row: usize) -> Option<&'a RankedRow> {
    ways.iter()
        .filter_map(|way| way.ranking.as_ref())
        .find_map(|ranking| ranking.rows.iter().find(|ranked| ranked.row == row))
}

/// Never quite 0 or 1, so that log-odds stay finite: no model of ours knows more than this.
pub fn finite(probability: f64) -> Probability {
    const LEAST: f64 = 1e-9;
    Probability::new(probability.clamp(LEAST, 1.0 - LEAST))
}
