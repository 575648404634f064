//! What an edit does to all sheets, as the desk shows it.

use crate::rules::{Bench, Effect, Group, Pair};
use std::time::Duration;

/// Sheets that belong together, in the order in which the desk offers them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tray {
    Of(Group),
    All,
}

impl Tray {
    /// Each with its words, short enough that all of them stand in one row of a small screen.
    pub const ALL: [(Self, &str); 7] = [
        (Self::Of(Group::FittedByNone), "no rule"),
        (Self::Of(Group::FittedBySeveral), "several"),
        (Self::Of(Group::Changed), "changed"),
        (Self::Of(Group::Worse), "worse"),
        (Self::Of(Group::FailingACheck), "check fails"),
        (Self::Of(Group::DisagreeingWithKeyed), "not as keyed"),
        (Self::All, "all"),
    ];

    fn place(self) -> usize {
        let all = Self::ALL.iter();
        all.map(|(tray, _)| *tray)
            .position(|tray| tray == self)
            .unwrap_or_default()
    }
}

/// The figures of one faultless text.
#[derive(Debug, Clone, Default)]
pub struct Figures {
    pub effect: Effect,
    /// Places of the sheets in the drawer, by tray.
    trays: [Vec<u32>; Tray::ALL.len()],
    /// Places of the keyed sheets on which the draft, and not the rules in use, disagrees with what was keyed.
    pub newly_unlike_keyed: Vec<u32>,
    /// From the edit to these figures; or, where they are of no edit, from the opening of the desk.
    pub took: Duration,
    pub is_of_edit: bool,
}

impl Figures {
    pub fn of(bench: &Bench, took: Duration, is_of_edit: bool) -> Self {
        let places = |tray: Tray| -> Vec<u32> {
            match tray {
                Tray::Of(group) => bench.group(group).into_iter().map(|at| at as u32).collect(),
                Tray::All => (0..bench.len() as u32).collect(),
            }
        };
        Self {
            effect: bench.effect(),
            newly_unlike_keyed: bench
                .newly_unlike_keyed()
                .into_iter()
                .map(|at| at as u32)
                .collect(),
            trays: Tray::ALL.map(|(tray, _)| places(tray)),
            took,
            is_of_edit,
        }
    }

    pub fn tray(&self, tray: Tray) -> &[u32] {
        &self.trays[tray.place()]
    }

    pub fn is_complete(&self) -> bool {
        self.effect.done == self.effect.sheets
    }

    /// Sheets that some rule fits.
    pub fn fitted(&self) -> Pair {
        let Effect {
            sheets,
            fitted_by_none: none,
            ..
        } = self.effect;
        Pair {
            before: sheets - none.before,
            now: sheets - none.now,
        }
    }

    /// Lines of figures: what is counted, before and now, and whether more of it is better.
    pub fn lines(&self) -> Vec<(&'static str, Pair, Wanted)> {
        let effect = &self.effect;
        let mut lines = vec![
            ("sheets fitted", self.fitted(), Wanted::More),
            (
                "by several rules",
                effect.fitted_by_several,
                Wanted::Neither,
            ),
            ("fields filled", effect.fields_filled, Wanted::More),
            ("checks kept", effect.checks_kept, Wanted::More),
            ("checks broken", effect.checks_broken, Wanted::Fewer),
            (
                "check characters hold",
                effect.check_characters_holding,
                Wanted::More,
            ),
            (
                "check characters fail",
                effect.check_characters_failing,
                Wanted::Fewer,
            ),
        ];
        if let Some(keyed) = effect.keyed {
            lines.push(("values as keyed", keyed.right, Wanted::More));
        }
        lines
    }

    /// What the edit does, in the words that a publication keeps.
    pub fn in_words(&self) -> Vec<String> {
        let lines = self.lines().into_iter();
        let words = lines.map(|(what, pair, _)| match pair.before == pair.now {
            true => format!("{what}: {}, as before", pair.now),
            false => format!("{what}: {} before, {} now", pair.before, pair.now),
        });
        let mut words: Vec<String> = words.collect();
        if let Some(keyed) = self.effect.keyed {
            words.push(format!(
                "compared with {} keyed values of {} sheets",
                keyed.values, keyed.sheets
            ));
        }
        let Effect {
            sheets,
            changed,
            better,
            worse,
            ..
        } = self.effect;
        words.push(match self.effect.keyed {
            Some(_) => format!(
                "of {sheets} sheets {changed} changed, {better} for the better, {worse} for the worse"
            ),
            None => format!("of {sheets} sheets {changed} changed, {worse} for the worse"),
        });
        words
    }
}

/// Which way a figure should move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    More,
    Fewer,
    Neither,
}

impl Wanted {
    /// Whether a change is for the better; `None` where nothing can be said.
    pub fn is_better(self, pair: Pair) -> Option<bool> {
        let more = match pair.now.cmp(&pair.before) {
            std::cmp::Ordering::Equal => return None,
            order => order == std::cmp::Ordering::Greater,
        };
        match self {
            Self::More => Some(more),
            Self::Fewer => Some(!more),
            Self::Neither => None,
        }
    }
}
