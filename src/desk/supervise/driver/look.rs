//! What the desk needs of single sheets: their readings, how the rules take one apart, its picture.

use super::{Ask, DeskError, Driver, Inspected, Supervisor};
use crate::journal::Store;
use crate::reading::Reading;
use crate::rules::Explanation;
use crate::strip::Lay;

/// Strips' texts that are remembered for the list.
const TEXTS: usize = 4_096;
/// Rules that a sheet is explained by: the one that fits, and those that come nearest.
const EXPLAINED: usize = 4;

/// What the desk shows of a sheet without opening its image.
pub(super) struct Seen {
    pub reading: Reading,
    pub lay: Option<Lay>,
    pub text: String,
}

impl Driver<'_> {
    /// Sees to it that everything is there, or ordered, that the screen will show.
    pub(super) fn prepare(&mut self, desk: &mut Supervisor) -> Result<(), DeskError> {
        let Some(at) = desk.in_hand() else {
            return Ok(());
        };
        if self.is_stale || desk.inspected().is_none() {
            self.is_stale = false;
            self.inspect(desk, at);
        }
        let sheets = desk.sheets();
        let row = desk.row().unwrap_or_default();
        let near = sheets.iter().skip(row.saturating_sub(60)).take(120);
        let near: Vec<usize> = near.map(|at| *at as usize).collect();
        for at in near.into_iter().chain([at]) {
            self.read(at)?;
        }
        let lay = self.readings.get(&at).and_then(|seen| seen.lay.as_ref());
        let lying = lay.filter(|_| !desk.wishes().whole).map(Into::into);
        self.pictures.want(&self.drawer[at], lying);
        Ok(())
    }

    /// Remembers a sheet's reading.
    pub(super) fn read(&mut self, at: usize) -> Result<(), DeskError> {
        if self.readings.contains_key(&at) {
            return Ok(());
        }
        if self.readings.len() > TEXTS {
            self.readings.clear();
        }
        if let Some(record) = self.job.store.reading(&self.drawer[at])? {
            let text = record.reading.text();
            let lines = text.lines().map(str::trim);
            let seen = Seen {
                text: lines.collect::<Vec<_>>().join(" / "),
                reading: record.reading,
                lay: record.lay,
            };
            self.readings.insert(at, seen);
        }
        Ok(())
    }

    /// Finds out what the rules make of a sheet.
    fn inspect(&mut self, desk: &mut Supervisor, at: usize) {
        if let Err(fault) = self.read(at) {
            return desk.say(fault.to_string());
        }
        let Some(seen) = self.readings.get(&at) else {
            return;
        };
        let around = self.job.proposer.around(seen.lay.as_ref());
        let of_rule = |rule| self.rules.explain(&seen.reading, &around, rule);
        let mut explanations: Vec<Explanation> = self.rules.rules().filter_map(of_rule).collect();
        let rank = |explanation: &Explanation| {
            let score = explanation.score.unwrap_or(f64::NEG_INFINITY);
            (explanation.chosen, score)
        };
        explanations.sort_by(|a, b| {
            let ((a_chosen, a_score), (b_chosen, b_score)) = (rank(a), rank(b));
            b_chosen.cmp(&a_chosen).then(b_score.total_cmp(&a_score))
        });
        explanations.truncate(EXPLAINED);
        let looked = desk.inspected().and_then(|known| known.looked.clone());
        desk.inspect(Inspected {
            at,
            text: seen.reading.text().lines().map(str::to_owned).collect(),
            explanations,
            looked,
        });
        self.engine.ask(Ask::Look(at));
    }
}
