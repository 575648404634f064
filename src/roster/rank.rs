//! The search: every row's weight, and the probabilities that follow from them.

use super::compare::{Column, Compared};
use super::slips::Slips;
use super::{Prior, Query, RankedRow, Ranking, Reason};
use crate::value::Probability;

/// Rows that cannot come within this factor of the best row's likelihood are not looked at closely: a thousand such
/// rows together have less than a ten-thousandth of its probability.
const NEGLIGIBLE: f64 = 1e-7;

/// Nobody's roster is known to be complete to more than one in a billion.
const LEAST_NONE: f64 = 1e-9;

/// Columns asked about together, with the alternatives for their values.
struct Group<'a> {
    columns: Vec<&'a Column>,
    /// Share of each alternative in the reading under "not in the roster", and each column's comparison.
    alternatives: Vec<(f64, Vec<Compared>)>,
}

impl<'a> Group<'a> {
    /// `None` where nothing was read.
    fn new(columns: Vec<&'a Column>, values: Vec<(Vec<&str>, Probability)>) -> Option<Self> {
        let mut alternatives: Vec<(f64, Vec<Compared>)> = values
            .into_iter()
            .filter(|(_, probability)| probability.get() > 0.0)
            .map(|(values, probability)| {
                let compared: Vec<_> = columns
                    .iter()
                    .zip(values)
                    .map(|(column, value)| column.compare(value, Slips::TypedAndRead))
                    .collect();
                let lift: f64 = compared.iter().map(|c| c.ln_lift).sum();
                (probability.get().ln() + lift, compared)
            })
            .collect();
        // A reader weighs values without knowing people; people not in the roster have probable names more often.
        let top = alternatives
            .iter()
            .map(|(ln, _)| *ln)
            .fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = alternatives.iter().map(|(ln, _)| (ln - top).exp()).sum();
        for (share, _) in &mut alternatives {
            *share = (*share - top).exp() / sum;
        }
        (!alternatives.is_empty()).then_some(Self {
            columns,
            alternatives,
        })
    }

    /// P(read | row) / P(read | not in the roster); `bound` takes the largest value possible for slow columns.
    fn ratio(&self, row: usize, bound: bool) -> f64 {
        self.alternatives
            .iter()
            .map(|(share, compared)| {
                let ratios = self.columns.iter().zip(compared).map(|(column, compared)| {
                    if bound && !column.is_quick() {
                        compared.best
                    } else {
                        column.ratio(compared, row)
                    }
                });
                share * ratios.product::<f64>()
            })
            .sum()
    }

    /// The group's part in a row's weight, column by column, told by the alternative that explains most.
    fn reasons(&self, row: usize) -> Vec<Reason> {
        let told = |(share, compared): &(f64, Vec<Compared>)| {
            let pairs = self.columns.iter().zip(compared);
            let product: f64 = pairs.map(|(column, c)| column.ratio(c, row)).product();
            share * product
        };
        let Some((_, compared)) = self
            .alternatives
            .iter()
            .max_by(|a, b| told(a).total_cmp(&told(b)))
        else {
            return Vec::new();
        };
        let mut reasons: Vec<Reason> = self
            .columns
            .iter()
            .zip(compared)
            .map(|(column, compared)| {
                let (ratio, words) = column.explain(compared, row);
                Reason {
                    column: column.name().to_owned(),
                    weight: ratio.ln(),
                    words,
                }
            })
            .collect();
        // What the other alternatives add or take is shared out evenly.
        let told: f64 = reasons.iter().map(|reason| reason.weight).sum();
        let rest = (self.ratio(row, false).ln() - told) / reasons.len() as f64;
        reasons.iter_mut().for_each(|reason| reason.weight += rest);
        reasons
    }
}

pub fn rank(asked: &[Column], rows: usize, query: &Query, prior: Prior, limit: usize) -> Ranking {
    let groups = groups(asked, query);
    let in_roster = prior.in_roster.get();
    if rows == 0 || in_roster == 0.0 {
        return Ranking {
            rows: Vec::new(),
            none: Probability::ONE,
            evidence: 0.0,
        };
    }
    let likelihood = |row: usize, bound: bool| -> f64 {
        groups.iter().map(|group| group.ratio(row, bound)).product()
    };
    let bounds: Vec<f64> = (0..rows).map(|row| likelihood(row, true)).collect();
    // The most promising row first: what it really has shows how much of the rest can be left alone.
    let first = (0..rows).max_by(|&a, &b| bounds[a].total_cmp(&bounds[b]));
    let mut best = first.map_or(0.0, |row| likelihood(row, false));
    let mut close: Vec<(usize, f64)> = Vec::new();
    for (row, &bound) in bounds.iter().enumerate() {
        if bound >= best * NEGLIGIBLE {
            let found = likelihood(row, false);
            best = best.max(found);
            close.push((row, found));
        }
    }
    let each = in_roster / rows as f64;
    // Log-odds stay finite even where the job says that nobody is missing.
    let none = (1.0 - in_roster).max(LEAST_NONE);
    let total = none + each * close.iter().map(|(_, found)| found).sum::<f64>();
    close.retain(|(_, found)| *found >= best * NEGLIGIBLE);
    close.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    close.truncate(limit);
    let start = Reason {
        column: String::new(),
        weight: (each / none).ln(),
        words: format!("one of {rows} rows, before anything was read"),
    };
    let ranked = close.into_iter().map(|(row, found)| RankedRow {
        row,
        probability: Probability::new(each * found / total),
        reasons: std::iter::once(start.clone())
            .chain(groups.iter().flat_map(|group| group.reasons(row)))
            .collect(),
    });
    Ranking {
        rows: ranked.collect(),
        none: Probability::new(none / total),
        evidence: total.ln(),
    }
}

/// The query's columns that the roster is asked about; others say nothing.
fn groups<'a>(asked: &'a [Column], query: &Query) -> Vec<Group<'a>> {
    let find = |name: &str| asked.iter().find(|column| column.name() == name);
    let single = query.columns.iter().filter_map(|column| {
        let values = column.values.iter();
        let values = values.map(|(value, p)| (vec![value.as_str()], *p));
        Group::new(vec![find(&column.column)?], values.collect())
    });
    let joint = query.joint.iter().filter_map(|joint| {
        let known: Vec<(usize, &Column)> = joint
            .columns
            .iter()
            .enumerate()
            .filter_map(|(at, name)| Some((at, find(name)?)))
            .collect();
        let values = joint.values.iter().map(|(values, p)| {
            let pick = |(at, _): &(usize, _)| values.get(*at).map_or("", String::as_str);
            (known.iter().map(pick).collect(), *p)
        });
        let values = values.collect();
        let columns: Vec<_> = known.iter().map(|(_, column)| *column).collect();
        (!columns.is_empty()).then(|| Group::new(columns, values))?
    });
    single.chain(joint).collect()
}
