//! How long sheets took, from times that were measured.

use crate::figures::{Estimate, Quantiles, Spread};
use serde::Serialize;
use std::collections::BTreeMap;

/// Fewer sheets than this give an interval that skewed times may spoil.
pub const FEW: u64 = 30;

/// Seconds after which a sheet was more likely left lying than keyed (our own choice: thirty times what a sheet takes).
/// Such times are left out, as the hours that a clerk has at the keys hold no pauses either.
const PAUSE: f64 = 300.0;

/// Times that were measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Times {
    pub sheets: u64,
    pub mean: f64,
    pub median: f64,
    pub people: usize,
    /// Smallest and largest mean of one person.
    pub means_of_people: [f64; 2],
    /// Sheets left out since they took longer than five minutes, and what the mean would be with them.
    pub pauses: usize,
    pub mean_with_pauses: Option<f64>,
    /// Of the mean of the sheets to come, where the same people key them in the same shares; none of a single sheet.
    #[serde(skip)]
    pub limits: Option<Estimate>,
    pub by_person: BTreeMap<String, PersonTimes>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PersonTimes {
    pub sheets: u64,
    pub median: f64,
    pub mean: f64,
    /// Of the mean of so many sheets to come, keyed by this person; none of a single sheet.
    pub limits: Option<Estimate>,
}

impl Times {
    /// Of the seconds that each sheet took, by person; the limits are those of the mean of so many `further` sheets. None
    /// where nobody keyed.
    pub fn of(people: &BTreeMap<String, Vec<f64>>, further: f64, confidence: f64) -> Option<Self> {
        let keyed = |seconds: &Vec<f64>| -> Vec<f64> {
            seconds
                .iter()
                .copied()
                .filter(|seconds| *seconds <= PAUSE)
                .collect()
        };
        let by_person: BTreeMap<String, PersonTimes> = people
            .iter()
            .filter_map(|(person, seconds)| {
                let seconds = keyed(seconds);
                let spread = Spread::of(&seconds)?;
                let times = PersonTimes {
                    sheets: spread.count,
                    mean: spread.mean,
                    limits: spread.of_further(further, confidence),
                    median: Quantiles::of(seconds).at(0.5)?,
                };
                Some((person.clone(), times))
            })
            .collect();
        let with_pauses: Vec<f64> = people.values().flatten().copied().collect();
        let all = keyed(&with_pauses);
        let spread = Spread::of(&all)?;
        let pauses = with_pauses.len() - all.len();
        let with_pauses = Spread::of(&with_pauses).filter(|_| pauses > 0);
        let means = || by_person.values().map(|times| times.mean);
        Some(Self {
            sheets: spread.count,
            mean: spread.mean,
            median: Quantiles::of(all).at(0.5)?,
            people: by_person.len(),
            means_of_people: [
                means().fold(f64::MAX, f64::min),
                means().fold(0.0, f64::max),
            ],
            pauses,
            mean_with_pauses: with_pauses.map(|spread| spread.mean),
            limits: spread.of_further(further, confidence),
            by_person,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_told_altogether_by_person_and_without_pauses() {
        let people = BTreeMap::from([
            ("kim".to_owned(), vec![6.0, 8.0, 10.0]),
            ("mia".to_owned(), vec![900.0, 4.0, 2.0, 6.0]),
            ("rio".to_owned(), vec![]),
        ]);
        let times = Times::of(&people, 1e9, 0.95).unwrap();
        assert_eq!((times.sheets, times.people, times.pauses), (6, 2, 1));
        assert_eq!((times.mean, times.median), (6.0, 6.0));
        assert_eq!(times.means_of_people, [4.0, 8.0]);
        assert_eq!(times.mean_with_pauses, Some(936.0 / 7.0));
        assert_eq!(times.by_person["mia"].median, 4.0);
        // Student's deviate for two degrees of freedom is 4.303 (standard tables, from memory).
        let kim = times.by_person["kim"].limits.unwrap();
        assert!(
            (kim.high - 8.0 - 4.303 * 2.0 / 3.0_f64.sqrt()).abs() < 1e-3,
            "{kim:?}"
        );
        assert_eq!(Times::of(&BTreeMap::new(), 1.0, 0.95), None);
        let one = BTreeMap::from([("kim".to_owned(), vec![6.0])]);
        assert_eq!(Times::of(&one, 1.0, 0.95).unwrap().limits, None);
    }
}
