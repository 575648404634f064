//! A few sheets of a bench as a bench of their own: for trying rules on them that are not written yet.

use super::{Bench, Score};

/// What the rules make of one sheet.
#[derive(Debug, Clone, Copy)]
pub(in crate::rules) struct Weighed {
    /// Natural log of how much better than free text the rule explains the reading.
    pub score: f64,
    /// Keyed values that were taken, and those that were compared.
    pub right: usize,
    pub compared: usize,
}

impl Bench {
    /// These sheets, with all that is known of them by now.
    pub(in crate::rules) fn few(&self, sheets: &[usize]) -> Self {
        let of = |at: &usize| self.sheets[*at].clone();
        let scores = self.scores.iter().map(|(print, scores)| {
            let own: Vec<Score> = sheets.iter().map(|at| scores[*at]).collect();
            (*print, own)
        });
        let taken = self.taken.iter().map(|(print, taken)| {
            let own = sheets.iter().map(|at| taken[*at].clone()).collect();
            (*print, own)
        });
        let outcomes = |of: &[super::Outcome]| sheets.iter().map(|at| of[*at].clone()).collect();
        Self {
            sheets: sheets.iter().map(of).collect(),
            columns: self.columns.clone(),
            collection: self.collection.clone(),
            scores: scores.collect(),
            taken: taken.collect(),
            used: self.used.clone(),
            before: outcomes(&self.before),
            now: outcomes(&self.now),
            ..Self::default()
        }
    }

    /// The same sheets with nothing known of them: for rules tried one by one.
    pub(in crate::rules) fn few_bare(&self, sheets: &[usize]) -> Self {
        let mut few = Self {
            sheets: sheets.iter().map(|at| self.sheets[*at].clone()).collect(),
            columns: self.columns.clone(),
            collection: self.collection.clone(),
            ..Self::default()
        };
        few.now = vec![<_>::default(); few.sheets.len()];
        few.before = few.now.clone();
        few
    }

    /// How well the best rule fits a sheet; `None` where none does.
    pub(in crate::rules) fn weighed(&self, at: usize) -> Option<Weighed> {
        let taken = self.now[at].taken.as_ref()?;
        let (_, right, compared) = self.right(at);
        Some(Weighed {
            score: taken.score,
            right: right.count(),
            compared: compared.count(),
        })
    }

    /// What was keyed on a sheet, by field; that of the second record as `field#2`. Empty values are left out.
    pub(in crate::rules) fn keyed_on(&self, at: usize) -> Vec<(String, &str)> {
        let Some(keyed) = &self.sheets[at].keyed else {
            return Vec::new();
        };
        let columns = self.columns.iter().enumerate();
        let values = columns.filter_map(|(column, named)| {
            let value = keyed.value(column).filter(|value| !value.is_empty())?;
            Some((super::effect::name(&named.field, named.record), value))
        });
        values.collect()
    }
}
