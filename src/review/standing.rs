//! Where a sheet stands with all its keyings and its settlement.

use super::compare::Comparison;
use super::merge::{Merged, merge};
use super::same::Comparer;
use crate::journal::{Act, Entry, Keying, SETTLEMENT_PASS, Settlement, replay};
use crate::value::SheetState;
use serde::{Deserialize, Serialize};

/// Whether two keyings count as double keying.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Doubleness {
    /// At least one saw neither the proposal nor suggestions.
    Double,
    /// Both saw them: two confirmations of the same proposal, reported apart.
    TwoConfirmations,
    /// One person did both.
    SamePerson,
}

/// A sheet with what was keyed and settled and still counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Reviewed<'a> {
    pub state: SheetState,
    pub first: Option<(&'a Entry, &'a Keying)>,
    pub second: Option<(&'a Entry, &'a Keying)>,
    /// None too where a keying was undone or made anew since: the dispute is open again.
    pub settlement: Option<(&'a Entry, &'a Settlement)>,
    /// Of the two keyings, where there are two.
    pub comparison: Option<Comparison>,
}

impl<'a> Reviewed<'a> {
    /// From all entries of one sheet, in the order of their numbers. `first` and `second` are the passes that are
    /// compared: 1 and 2, or for an inspection the last keying and the one behind it.
    pub fn of(history: &'a [Entry], [first, second]: [u8; 2], comparer: &Comparer) -> Self {
        let standing = |pass: u8| {
            let entries = history.iter().filter(move |entry| entry.pass == pass);
            let state = replay(entries.clone());
            let number = state.entry;
            (
                state.state,
                entries.rev().find(|entry| Some(entry.number) == number),
            )
        };
        let keying = |entry: Option<&'a Entry>| match entry.map(|entry| (entry, &entry.act)) {
            Some((entry, Act::Keyed(keying))) => Some((entry, keying)),
            _ => None,
        };
        let (first_state, first) = standing(first);
        let (second_state, second) = standing(second);
        let (settled_state, settlement) = standing(SETTLEMENT_PASS);
        let (first, second) = (keying(first), keying(second));
        let comparison = match (first, second) {
            (Some((_, first)), Some((_, second))) => Some(Comparison::of(first, second, comparer)),
            _ => None,
        };
        let numbers = first
            .zip(second)
            .map(|((one, _), (other, _))| [one.number, other.number]);
        let settlement = match settlement.map(|entry| (entry, &entry.act)) {
            Some((entry, Act::Settled(settlement))) if Some(settlement.of) == numbers => {
                Some((entry, settlement))
            }
            _ => None,
        };
        // Whoever put the sheet off or set it aside has the last word, the reviewer first.
        let put_off = [settled_state, first_state, second_state]
            .into_iter()
            .find(|state| matches!(state, SheetState::Held | SheetState::SetAside));
        let state = match (put_off, settlement, &comparison, first) {
            (Some(state), ..) => state,
            (_, Some(_), ..) => SheetState::Settled,
            (_, _, Some(comparison), _) if comparison.is_agreed() => SheetState::KeyedTwice,
            (_, _, Some(_), _) => SheetState::InDispute,
            (.., Some(_)) => SheetState::Keyed,
            (.., None) => SheetState::Waiting,
        };
        Self {
            state,
            first,
            second,
            settlement,
            comparison,
        }
    }

    /// What the two keyings count as; none where there are not two.
    pub fn counts_as(&self) -> Option<Doubleness> {
        let ((one, first), (other, second)) = self.first.zip(self.second)?;
        let is_blind = |keying: &Keying| !keying.seen.proposal && !keying.seen.suggestions;
        Some(if one.by == other.by {
            Doubleness::SamePerson
        } else if is_blind(first) || is_blind(second) {
            Doubleness::Double
        } else {
            Doubleness::TwoConfirmations
        })
    }

    /// Whether this person may settle the sheet: not who keyed it.
    pub fn may_settle(&self, by: &str) -> bool {
        let keyed = [self.first, self.second];
        keyed.into_iter().flatten().all(|(entry, _)| entry.by != by)
    }

    /// What both keyings agree on, or what was settled: the truth that keyings are judged by. None while there is no
    /// second keying, or while something is in dispute.
    pub fn truth(&self) -> Option<Merged> {
        let ((_, first), (_, second)) = self.first.zip(self.second)?;
        if let Some((_, settlement)) = self.settlement {
            return Some(Merged {
                kind: settlement.kind,
                records: settlement.records.clone(),
                decided: settlement.decided.clone(),
            });
        }
        merge(first, second, self.comparison.as_ref()?, &[]).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::{Seen, Taken};
    use crate::review::testing::{entry, keying};

    fn keyed(number: i64, by: &str, pass: u8, surname: &str) -> Entry {
        entry(number, by, pass, Act::Keyed(keying(surname, "1")))
    }

    fn settled(number: i64, of: [i64; 2]) -> Entry {
        let settlement = Settlement {
            of,
            records: keying("PIER", "1").records,
            decided: vec![("surname".to_owned(), Taken::First)],
            ..Settlement::default()
        };
        entry(number, "rio", SETTLEMENT_PASS, Act::Settled(settlement))
    }

    fn check(history: &[Entry], state: SheetState, truth: Option<&str>) {
        let comparer = Comparer::default();
        let reviewed = Reviewed::of(history, [1, 2], &comparer);
        assert_eq!(reviewed.state, state, "{history:?}");
        let found = reviewed.truth().map(|merged| merged.records);
        assert_eq!(found, truth.map(|surname| keying(surname, "1").records));
    }

    #[test]
    fn states_follow_from_the_entries() {
        let (mia, kim) = (keyed(1, "mia", 1, "PIER"), keyed(2, "kim", 2, "PEER"));
        check(&[], SheetState::Waiting, None);
        check(std::slice::from_ref(&mia), SheetState::Keyed, None);
        check(
            &[mia.clone(), keyed(2, "kim", 2, "PIER")],
            SheetState::KeyedTwice,
            Some("PIER"),
        );
        check(&[mia.clone(), kim.clone()], SheetState::InDispute, None);
        let both = [mia.clone(), kim.clone()];
        let with = |more: &[Entry]| [&both[..], more].concat();
        check(
            &with(&[settled(3, [1, 2])]),
            SheetState::Settled,
            Some("PIER"),
        );
        // A keying made anew opens the dispute again.
        let undone = entry(4, "kim", 2, Act::Undone { entry: 2 });
        let anew = with(&[settled(3, [1, 2]), undone, keyed(5, "kim", 2, "PYER")]);
        check(&anew, SheetState::InDispute, None);
        let withdrawn = entry(4, "rio", SETTLEMENT_PASS, Act::Undone { entry: 3 });
        check(
            &with(&[settled(3, [1, 2]), withdrawn]),
            SheetState::InDispute,
            None,
        );
        let reason = "look at the film".to_owned();
        let held = entry(3, "rio", SETTLEMENT_PASS, Act::Held { reason });
        check(&with(&[held]), SheetState::Held, None);
    }

    #[test]
    fn two_confirmations_are_no_double_keying() {
        let seen = |proposal, suggestions| Seen {
            proposal,
            suggestions,
            ..Seen::default()
        };
        for (first, second, by, counts) in [
            ((true, true), (false, false), "kim", Doubleness::Double),
            ((false, false), (true, false), "kim", Doubleness::Double),
            (
                (true, false),
                (false, true),
                "kim",
                Doubleness::TwoConfirmations,
            ),
            (
                (false, false),
                (false, false),
                "mia",
                Doubleness::SamePerson,
            ),
        ] {
            let with = |seen| {
                Act::Keyed(Keying {
                    seen,
                    ..keying("PIER", "1")
                })
            };
            let history = [
                entry(1, "mia", 1, with(seen(first.0, first.1))),
                entry(2, by, 2, with(seen(second.0, second.1))),
            ];
            let comparer = Comparer::default();
            let reviewed = Reviewed::of(&history, [1, 2], &comparer);
            assert_eq!(reviewed.counts_as(), Some(counts));
            assert!(!reviewed.may_settle("mia") && reviewed.may_settle("rio"));
            assert_eq!(reviewed.may_settle("kim"), by != "kim");
        }
    }
}
