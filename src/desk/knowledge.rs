//! What a job's rules and roster say of a value.

use super::clerk::{Contradiction, Knowledge, LikelyRows, RosterRow};
use crate::job::Proposer;
use crate::roster::{Query, QueryColumn};
use crate::value::Probability;

/// The rules and the roster of a job.
#[derive(Debug, Clone, Copy)]
pub struct JobKnowledge<'a> {
    proposer: &'a Proposer,
}

impl<'a> JobKnowledge<'a> {
    pub fn new(proposer: &'a Proposer) -> Self {
        Self { proposer }
    }

    /// Makes ready what a large roster takes a moment for.
    pub fn warm_up(&self) {
        if let Some(roster) = self.proposer.roster() {
            roster.search("a", 1);
            roster.row_of("");
        }
    }

    fn roster_row(&self, row: usize) -> Option<RosterRow> {
        let roster = self.proposer.roster()?;
        let cell = |column: &String| roster.cell(row, column).unwrap_or_default().to_owned();
        let fields = self.proposer.roster_columns().iter();
        let columns = roster.columns().iter();
        Some(RosterRow {
            key: roster.key(row).to_owned(),
            fields: fields
                .map(|(field, column)| (field.clone(), cell(column)))
                .collect(),
            columns: columns
                .map(|column| (column.clone(), cell(column)))
                .collect(),
        })
    }
}

impl Knowledge for JobKnowledge<'_> {
    fn objection(&self, field: &str, value: &str) -> Option<String> {
        self.proposer.rules().objection(field, value)
    }

    fn contradictions(&self, values: &[(&str, String)]) -> Vec<Contradiction> {
        let value_of = |name: &str| {
            let mut values = values.iter();
            let (_, value) = values.find(|(field, _)| *field == name)?;
            Some(value.as_str())
        };
        let broken = self.proposer.rules().broken_checks(value_of).into_iter();
        broken
            .map(|(check, fields)| Contradiction {
                fields: fields.into_iter().map(str::to_owned).collect(),
                words: format!("breaks the check {check}"),
            })
            .collect()
    }

    fn search(&self, words: &str, most: usize) -> Vec<RosterRow> {
        let roster = self.proposer.roster();
        let rows = roster.map_or_else(Vec::new, |roster| roster.search(words, most));
        rows.into_iter()
            .filter_map(|at| self.roster_row(at))
            .collect()
    }

    fn holds(&self, field: &str) -> bool {
        let mut columns = self.proposer.roster_columns().iter();
        columns.any(|(held, _)| held == field)
    }

    fn likely(&self, values: &[(&str, String)], most: usize) -> LikelyRows {
        let Some(plan) = self.proposer.roster_plan() else {
            return LikelyRows::default();
        };
        let columns = values.iter().filter_map(|(field, value)| {
            Some(QueryColumn {
                column: plan.column(field)?.to_owned(),
                values: vec![(value.clone(), Probability::ONE)],
            })
        });
        let query = Query {
            columns: columns.collect(),
            joint: Vec::new(),
        };
        if query.columns.is_empty() {
            return LikelyRows::default();
        }
        let ranking = plan.roster.rank(&query, plan.prior, most);
        let rows = ranking.rows.iter();
        LikelyRows {
            rows: rows
                .filter_map(|ranked| Some((self.roster_row(ranked.row)?, ranked.probability)))
                .collect(),
            none: ranking.none,
        }
    }

    fn row(&self, key: &str) -> Option<RosterRow> {
        self.roster_row(self.proposer.roster()?.row_of(key)?)
    }
}
