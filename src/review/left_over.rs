//! Errors that two keyings leave behind: both wrong, and wrong alike, so that nobody noticed.

use super::compare::{Comparison, Place, Verdict};
use super::errors::{FACES, face_place};
use super::same::Comparer;
use crate::figures::Recapture;
use crate::journal::{KeyedField, KeyedRecord, KeyedValue, Keying};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::ops::AddAssign;

/// Why the estimates are lower bounds, for reports.
pub const WHY_LOWER_BOUND: &str = "A lower bound: the estimate takes the two keyings to err independently of each other, \
    and all fields to be equally hard. Both people look at the same strip, and a character that is hard to read is hard \
    for both; then both are wrong alike more often than the estimate says.";

/// Fields by who keyed them right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct PairCounts {
    /// Both alike: right, but for the errors that are left over.
    pub both: u64,
    pub only_first: u64,
    pub only_second: u64,
    /// Neither, and each otherwise; a third value was settled.
    pub neither: u64,
}

impl AddAssign for PairCounts {
    fn add_assign(&mut self, other: Self) {
        self.both += other.both;
        self.only_first += other.only_first;
        self.only_second += other.only_second;
        self.neither += other.neither;
    }
}

impl PairCounts {
    fn count(&mut self, first: bool, second: bool) {
        match (first, second) {
            (true, true) => self.both += 1,
            (true, false) => self.only_first += 1,
            (false, true) => self.only_second += 1,
            (false, false) => self.neither += 1,
        }
    }

    /// Each keying as a search for the right values.
    fn as_searches(self) -> Recapture {
        Recapture {
            first: self.both + self.only_first,
            second: self.both + self.only_second,
            both: self.both,
        }
    }
}

/// What is known of errors that both keyings share.
///
/// Taken as two searches for the right values, the keyings tell by Lincoln and Petersen, and by Chapman, in how many
/// fields neither is right. Both take errors to be independent, which hard strips make them not: so errors of the one
/// keying in one field and of the other in another field of the same sheet are counted too, which nobody can make alike,
/// and say how often both err in the same one. Those of them in which the two differ were seen and settled; the rest is
/// left over.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LeftOver {
    /// By field and face, since errors are independent, if at all, among fields that are alike.
    pub strata: BTreeMap<(String, &'static str), PairCounts>,
    /// Proposals that were wrong, by who put them right.
    pub wrong_proposals: PairCounts,
    /// Sum over sheets of pairs of different fields, the one wrong in the first keying and the other in the second, each
    /// by the number of such pairs that come to one pair in the same field (its other fields); and of the squares of
    /// these weights.
    across: [f64; 2],
}

impl LeftOver {
    /// Counts a sheet whose truth is known.
    pub fn add(&mut self, first: &Keying, second: &Keying, truth: &Keying, comparer: &Comparer) {
        let ours = Comparison::of(first, truth, comparer);
        let theirs = Comparison::of(second, truth, comparer);
        let mut sheet = PairCounts::default();
        for (n, right) in truth.records.iter().enumerate() {
            let one = beside(&ours, first, n);
            let other = beside(&theirs, second, n);
            for field in &right.fields {
                let name = &field.field;
                let (Some(first), Some(second)) =
                    (is_right(&ours, one, name), is_right(&theirs, other, name))
                else {
                    continue;
                };
                let keyed = [one, other].into_iter().flatten();
                let keyed = keyed.filter_map(|(_, record)| named(record, name));
                let proposed = keyed.filter_map(|field| field.proposed.as_ref()).next();
                let face = FACES[face_place(proposed.map(|proposed| proposed.face))];
                let key = (name.clone(), face);
                self.strata.entry(key).or_default().count(first, second);
                sheet.count(first, second);
                let value = proposed.map(|p| KeyedValue::Text(p.value.clone()));
                let is_wrong = value.is_some_and(|value| {
                    comparer.compare(name, &value, &field.value) == Verdict::Different
                });
                if is_wrong {
                    self.wrong_proposals.count(first, second);
                }
            }
        }
        let PairCounts {
            both,
            only_first,
            only_second,
            neither,
        } = sheet;
        let wrong = [only_second + neither, only_first + neither];
        let others = (both + only_first + only_second + neither).saturating_sub(1);
        if others > 0 {
            let pairs = (wrong[0] * wrong[1] - neither) as f64;
            self.across[0] += pairs / others as f64;
            self.across[1] += pairs / (others * others) as f64;
        }
    }

    /// All fields together.
    pub fn all(&self) -> PairCounts {
        let mut all = PairCounts::default();
        self.strata.values().for_each(|counts| all += *counts);
        all
    }

    /// In how many fields neither keying is right, after Lincoln and Petersen, field by field and face by face; strata
    /// without a field that both keyed right add what Chapman's estimate says.
    pub fn lincoln_petersen(&self) -> f64 {
        let estimate = |counts: &PairCounts| {
            let searches = counts.as_searches();
            searches.missed().unwrap_or(searches.missed_chapman())
        };
        self.strata.values().map(estimate).sum()
    }

    /// The same over all fields at once, after Chapman, with its standard error.
    pub fn chapman(&self) -> (f64, f64) {
        let searches = self.all().as_searches();
        (searches.missed_chapman(), searches.chapman_standard_error())
    }

    /// The same by errors in different fields of a sheet, with its standard error. It allows for strips that are hard
    /// for both, not for characters that are.
    pub fn across_fields(&self) -> (f64, f64) {
        let [estimate, squares] = self.across;
        (estimate, squares.sqrt())
    }

    /// Fields left over at least, with the standard error: those in which neither is right by errors in different
    /// fields, less those where that was seen.
    pub fn fields(&self) -> (f64, f64) {
        let ((neither, error), seen) = (self.across_fields(), self.all().neither as f64);
        ((neither - seen).max(0.0), error.hypot(seen.sqrt()))
    }

    /// Whether more fields were seen in which neither is right than independent errors explain (beyond two standard
    /// deviations of a Poisson count): then the estimates that take them to be independent mean little.
    pub fn is_dependent(&self) -> bool {
        let (expected, seen) = (self.lincoln_petersen(), self.all().neither as f64);
        seen > expected + 2.0 * expected.max(1.0).sqrt()
    }

    /// Wrong proposals that both keyings left as they were, at least: those that neither put right, after Lincoln and
    /// Petersen, less those where that was seen. None where there is nothing to go by.
    pub fn wrong_proposals_left(&self) -> Option<f64> {
        let missed = self.wrong_proposals.as_searches().missed()?;
        Some((missed - self.wrong_proposals.neither as f64).max(0.0))
    }
}

/// The record of a keying that lies beside the truth's record `n`, with its number in the comparison.
fn beside<'a>(
    comparison: &Comparison,
    keying: &'a Keying,
    n: usize,
) -> Option<(usize, &'a KeyedRecord)> {
    let pairs = comparison.pairs.iter();
    let at = pairs.clone().position(|pair| pair[1] == Some(n))?;
    comparison.pairs[at][0].map(|ours| (at, &keying.records[ours]))
}

/// Whether a field of the truth was keyed right; none where it was not keyed in this pass at all. What belongs to a
/// record that was left out is wrong.
fn is_right(
    comparison: &Comparison,
    record: Option<(usize, &KeyedRecord)>,
    name: &str,
) -> Option<bool> {
    let Some((n, _)) = record else {
        return Some(false);
    };
    let at = |place: &Place| matches!(place, Place::Field(m, field) if *m == n && field == name);
    let compared = comparison.places.iter().find(|compared| at(&compared.at))?;
    match compared.verdict {
        Verdict::Same | Verdict::SameByJob => Some(true),
        Verdict::Different => Some(false),
        Verdict::KeyedOnce => None,
    }
}

fn named<'a>(record: &'a KeyedRecord, name: &str) -> Option<&'a KeyedField> {
    record.fields.iter().find(|field| field.field == name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::ProposedValue;
    use crate::proposal::Face;
    use crate::review::testing::{keying, keying_of};
    use crate::value::Probability;

    #[test]
    fn counts_who_was_right() {
        let mut left = LeftOver::default();
        let comparer = Comparer::default();
        let right = keying("PIER", "1");
        for (first, second) in [
            (keying("PIER", "1"), keying("PIER", "1")),
            (keying("PEER", "1"), keying("PIER", "7")),
            (keying("PEER", "1"), keying("PYER", "1")),
        ] {
            left.add(&first, &second, &right, &comparer);
        }
        left.add(&Keying::default(), &keying("PIER", "1"), &right, &comparer);
        left.add(&right, &right, &keying_of(&[("PIER", "1")]), &comparer);
        let counts = |both, only_first, only_second, neither| PairCounts {
            both,
            only_first,
            only_second,
            neither,
        };
        let of = |field: &str| left.strata[&(field.to_owned(), "not proposed")];
        assert_eq!(of("surname"), counts(2, 0, 2, 1));
        assert_eq!(of("number"), counts(3, 1, 1, 0));
        assert_eq!(left.all(), counts(5, 1, 3, 1));
        // 0 x 2 / 2 and 1 x 1 / 3, by hand.
        assert!((left.lincoln_petersen() - 1.0 / 3.0).abs() < 1e-12);
        assert!((left.chapman().0 - 1.0 * 3.0 / 6.0).abs() < 1e-12);
        // The second sheet alone has errors in different fields: one pair, of two fields.
        assert_eq!(left.across_fields(), (1.0, 1.0));
        assert_eq!(left.fields(), (0.0, 2.0_f64.sqrt()));
    }

    #[test]
    fn wrong_proposals_are_searched_for_by_both() {
        let with = |surname: &str, proposed: &str| {
            let mut keying = keying(surname, "1");
            keying.records[0].fields[0].proposed = Some(ProposedValue {
                value: proposed.to_owned(),
                probability: Probability::ONE,
                face: Face::Sure,
            });
            keying
        };
        let mut left = LeftOver::default();
        let right = keying("PIER", "1");
        let comparer = Comparer::default();
        for (first, second, times) in [
            ("PIER", "PIER", 8),
            ("PEER", "PIER", 2),
            ("PIER", "PEER", 4),
        ] {
            for _ in 0..times {
                let (first, second) = (with(first, "PEER"), with(second, "PEER"));
                left.add(&first, &second, &right, &comparer);
            }
        }
        left.add(
            &with("PIER", "PIER"),
            &with("PIER", "PIER"),
            &right,
            &comparer,
        );
        assert_eq!(left.wrong_proposals_left(), Some(1.0));
        assert_eq!(left.strata[&("surname".to_owned(), "sure")].both, 9);
        assert!(!left.is_dependent());
    }
}
