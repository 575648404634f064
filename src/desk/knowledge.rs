//! What a job's rules and roster say of a value.

use super::clerk::{Knowledge, RosterRow};
use crate::job::Proposer;
use crate::roster::{Query, QueryColumn};
use crate::value::{Probability, comparison_form};

/// The rules and the roster of a job, ready for a search at every letter.
pub struct JobKnowledge<'a> {
    proposer: &'a Proposer,
    /// Every row's cells in the form in which words are compared, and an own copy of its key.
    rows: Vec<String>,
}

impl<'a> JobKnowledge<'a> {
    pub fn new(proposer: &'a Proposer) -> Self {
        let rows = proposer.roster().map_or_else(Vec::new, |roster| {
            let columns = roster.columns();
            let row = |row: usize| {
                let cells = columns.iter().filter_map(|column| roster.cell(row, column));
                cells.map(comparison_form).collect::<Vec<_>>().join(" ")
            };
            (0..roster.len()).map(row).collect()
        });
        Self { proposer, rows }
    }

    fn roster_row(&self, row: usize) -> Option<RosterRow> {
        let roster = self.proposer.roster()?;
        let cell = |column: &String| roster.cell(row, column).unwrap_or_default().to_owned();
        Some(RosterRow {
            key: roster.key(row).to_owned(),
            fields: self
                .proposer
                .roster_columns()
                .iter()
                .map(|(field, column)| (field.clone(), cell(column)))
                .collect(),
            columns: roster
                .columns()
                .iter()
                .map(|column| (column.clone(), cell(column)))
                .collect(),
        })
    }
}

impl Knowledge for JobKnowledge<'_> {
    fn objection(&self, field: &str, value: &str) -> Option<String> {
        self.proposer.rules().objection(field, value)
    }

    /// Rows that hold every word, at the beginning of one of theirs first.
    fn search(&self, words: &str, most: usize) -> Vec<RosterRow> {
        let wanted = comparison_form(words);
        let wanted: Vec<&str> = wanted.split_whitespace().collect();
        if wanted.is_empty() {
            return Vec::new();
        }
        let holds = |row: &&String| wanted.iter().all(|word| row.contains(word));
        let begins = |row: &String| {
            wanted.iter().all(|word| {
                let mut own = row.split_whitespace();
                own.any(|own| own.starts_with(word))
            })
        };
        let (mut first, mut later) = (Vec::new(), Vec::new());
        for (at, _) in self.rows.iter().enumerate().filter(|(_, row)| holds(row)) {
            match begins(&self.rows[at]) {
                true => first.push(at),
                false => later.push(at),
            }
            if first.len() == most {
                break;
            }
        }
        let found = first.into_iter().chain(later).take(most);
        found.filter_map(|at| self.roster_row(at)).collect()
    }

    fn holds(&self, field: &str) -> bool {
        let mut columns = self.proposer.roster_columns().iter();
        columns.any(|(held, _)| held == field)
    }

    fn likeliest(&self, values: &[(&str, String)]) -> Option<RosterRow> {
        let plan = self.proposer.roster_plan()?;
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
            return None;
        }
        let ranking = plan.roster.rank(&query, plan.prior, 1);
        let best = ranking.rows.first()?;
        (best.probability > ranking.none).then(|| self.roster_row(best.row))?
    }

    fn row(&self, key: &str) -> Option<RosterRow> {
        let roster = self.proposer.roster()?;
        let at = (0..roster.len()).find(|&row| roster.key(row) == key)?;
        self.roster_row(at)
    }
}
