//! What a job's journal says of the work: how far it is, and how long sheets took.

use crate::command::CommandError;
use crate::command::batch::wants_second;
use crate::command::report_job::histories;
use crate::figures::Share;
use crate::job::{BatchSettings, Job, SecondKeying};
use crate::journal::{Act, Entry, JournalError, Store, replay};
use crate::review::Lot;
use crate::value::{SheetId, SheetState};
use std::collections::BTreeMap;

/// How far one keying is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PassWork {
    pub done: usize,
    pub waiting: usize,
    pub held: usize,
    /// Seconds of each sheet by the person who keyed it, all keyings of it added up, those taken back too.
    pub seconds: BTreeMap<String, Vec<f64>>,
}

/// How far a job is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Worked {
    pub sheets: usize,
    pub passes: u8,
    /// The first keying and the second.
    pub keyings: [PassWork; 2],
    /// The sheets that are keyed a second time, of all; none where all are.
    pub second: Option<Share>,
    pub inspection: PassWork,
    /// Sheets that there should be, where the job says so.
    pub expected: Option<usize>,
    /// How many sheets the job's quality plan would have inspected.
    pub sample: usize,
}

impl Worked {
    pub fn of<S: Store>(job: &Job<S>) -> Result<Self, CommandError> {
        Self::gathered(job).map_err(CommandError::input)
    }

    fn gathered<S: Store>(job: &Job<S>) -> Result<Self, JournalError> {
        let histories = histories(&job.store)?;
        let inspection = job.settings.keying.inspection();
        let mut worked = Self {
            passes: job.settings.keying.passes,
            expected: expected(&job.settings.batch),
            ..Self::default()
        };
        let mut sheets: Vec<SheetId> = Vec::new();
        let mut second = Share::default();
        for status in job.store.overview()? {
            let sheet = status.record.sheet;
            let history = histories.get(&sheet).map_or(&[][..], Vec::as_slice);
            let first = worked.keyings[0].add(history, 1, true);
            if worked.passes > 1 {
                let is_chosen = wants_second(job, &sheet)?;
                second.count(is_chosen);
                // What was set aside is not keyed again.
                worked.keyings[1].add(history, 2, is_chosen && first != SheetState::SetAside);
            }
            worked.inspection.add(history, inspection, false);
            sheets.push(sheet);
        }
        worked.sheets = sheets.len();
        worked.second = (job.settings.quality.second != SecondKeying::All).then_some(second);
        let lot = Lot::of_job(&job.settings.quality, &sheets);
        worked.sample = lot.map_or(0, |lot| lot.sample.len());
        Ok(worked)
    }
}

/// In all, or what the batches come to.
fn expected(batch: &BatchSettings) -> Option<usize> {
    let by_batch = || {
        batch
            .folders
            .values()
            .copied()
            .reduce(usize::saturating_add)
    };
    batch.sheets.or_else(by_batch)
}

impl PassWork {
    /// Counts a sheet, which is in this keying or was keyed in it all the same; gives where it stands.
    fn add(&mut self, history: &[Entry], pass: u8, is_wanted: bool) -> SheetState {
        let entries = || history.iter().filter(|entry| entry.pass == pass);
        let now = replay(entries());
        match now.state {
            SheetState::Waiting => self.waiting += usize::from(is_wanted),
            SheetState::Held => self.held += usize::from(is_wanted),
            _ => self.done += 1,
        }
        let seconds: f64 = entries()
            .filter_map(|entry| match &entry.act {
                Act::Keyed(keying) => Some(keying.milliseconds as f64 / 1_000.0),
                _ => None,
            })
            .sum();
        if let (SheetState::Keyed, Some(by), true) = (now.state, now.by, seconds > 0.0) {
            self.seconds.entry(by).or_default().push(seconds);
        }
        now.state
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::{Desk, FormatVersion, Keying};

    fn entry(number: i64, pass: u8, act: Act) -> Entry {
        Entry {
            format: FormatVersion::CURRENT,
            number,
            sheet: SheetId::new("1.png"),
            by: "mia".to_owned(),
            at: 0,
            pass,
            desk: Desk::Clerk,
            act,
            extra: BTreeMap::default(),
        }
    }

    #[test]
    fn a_sheets_time_is_that_of_all_its_keyings() {
        let keyed = |milliseconds| {
            Act::Keyed(Keying {
                milliseconds,
                ..Keying::default()
            })
        };
        let mut work = PassWork::default();
        let twice = [
            entry(1, 1, keyed(4_000)),
            entry(2, 1, Act::Undone { entry: 1 }),
            entry(3, 1, keyed(2_000)),
            entry(4, 2, keyed(50_000)),
        ];
        assert_eq!(work.add(&twice, 1, true), SheetState::Keyed);
        let taken_back = &twice[..2];
        assert_eq!(work.add(taken_back, 1, true), SheetState::Waiting);
        let reason = "later".to_owned();
        work.add(&[entry(1, 1, Act::Held { reason })], 1, true);
        work.add(&[], 1, false);
        let seconds = BTreeMap::from([("mia".to_owned(), vec![6.0])]);
        assert_eq!(
            work,
            PassWork {
                done: 1,
                waiting: 1,
                held: 1,
                seconds
            }
        );
    }
}
