//! How far two people, or more, agree beyond what chance alone would make them.
//!
//! For coded fields, which hold one of a few values. In free text two people hardly ever agree by chance, so that these
//! figures say no more there than the share of fields in which they agree.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Agreement of two people on the same things.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Agreement {
    /// Things that both gave a value.
    pub count: u64,
    /// The share of them on which they agree.
    pub observed: f64,
    /// The share on which two people would agree by chance who use each value as often as these do.
    pub expected: f64,
}

impl Agreement {
    /// Of pairs of values, the first person's and the second's; none where there are no pairs.
    pub fn of<T: Ord>(pairs: impl IntoIterator<Item = (T, T)>) -> Option<Self> {
        let (mut first, mut second) = (BTreeMap::new(), BTreeMap::new());
        let (mut count, mut same) = (0_u64, 0_u64);
        for (one, other) in pairs {
            count += 1;
            same += u64::from(one == other);
            *first.entry(one).or_insert(0_u64) += 1;
            *second.entry(other).or_insert(0_u64) += 1;
        }
        if count == 0 {
            return None;
        }
        let n = count as f64;
        let by_chance = first.iter().map(|(value, times)| {
            let others = second.get(value).copied().unwrap_or(0);
            (*times as f64 / n) * (others as f64 / n)
        });
        Some(Self {
            count,
            observed: same as f64 / n,
            expected: by_chance.sum(),
        })
    }

    /// Cohen's kappa: 1 for full agreement, 0 for what chance would give. None where both gave everything one value,
    /// since chance explains all of it then.
    ///
    /// Source: Cohen, Educational and Psychological Measurement 20 (1960), from memory; checked against the examples of
    /// Artstein and Poesio, Computational Linguistics 34 (2008).
    ///
    /// ```
    /// use headword::figures::Agreement;
    /// let agreement = Agreement::of([("a", "a"), ("a", "b"), ("b", "b"), ("b", "b")]).unwrap();
    /// assert_eq!(agreement.cohens_kappa(), Some(0.5));
    /// ```
    pub fn cohens_kappa(&self) -> Option<f64> {
        (self.expected < 1.0).then(|| (self.observed - self.expected) / (1.0 - self.expected))
    }
}

/// Krippendorff's alpha for nominal values, of any number of people, not all of whom need have seen every thing: 1 for
/// full agreement, 0 for what chance would give. None where nothing can be compared, or where there is one value only.
///
/// Source: Krippendorff, Content Analysis (4th edition, 2019), by way of published data and values.
pub fn krippendorffs_alpha<T: Ord>(things: impl IntoIterator<Item = Vec<T>>) -> Option<f64> {
    let mut times: BTreeMap<T, f64> = BTreeMap::new();
    let mut disagreeing = 0.0;
    for values in things {
        // A thing that one person saw says nothing of agreement.
        if values.len() < 2 {
            continue;
        }
        let weight = 1.0 / (values.len() - 1) as f64;
        let pairs = values.iter().enumerate();
        let differing =
            pairs.flat_map(|(n, one)| values[n + 1..].iter().filter(move |v| *v != one));
        disagreeing += 2.0 * weight * differing.count() as f64;
        for value in values {
            *times.entry(value).or_insert(0.0) += 1.0;
        }
    }
    let all: f64 = times.values().sum();
    let by_chance: f64 = times.values().map(|n| n * (all - n)).sum::<f64>() / (all - 1.0);
    (by_chance > 0.0).then(|| 1.0 - disagreeing / by_chance)
}

#[cfg(test)]
mod tests {
    use super::*;

    const EXAMPLES: &str = include_str!("../../tests/data/published/agreement_examples.csv");
    const CANONICAL: &str = include_str!("../../tests/data/published/krippendorff_canonical.csv");

    /// The matrix that ends a row's description, `[[20,20],[10,50]]`, as pairs of categories.
    fn pairs(data: &str) -> Vec<(usize, usize)> {
        let start = data.rfind("[[").unwrap();
        let end = data.rfind("]]").unwrap() + 2;
        let matrix: Vec<Vec<usize>> = serde_json::from_str(&data[start..end]).unwrap();
        let cells = matrix.into_iter().enumerate().flat_map(|(row, cells)| {
            let cells = cells.into_iter().enumerate();
            cells.flat_map(move |(column, times)| vec![(row, column); times])
        });
        cells.collect()
    }

    /// Two or more observers' values, one text an observer, as the values of each thing.
    fn things(observers: &[&str]) -> Vec<Vec<char>> {
        let length = observers[0].chars().count();
        let value = |observer: &&str, n| observer.chars().nth(n).unwrap();
        (0..length)
            .map(|n| {
                observers
                    .iter()
                    .map(|observer| value(observer, n))
                    .collect()
            })
            .collect()
    }

    /// The ordinal, interval and ratio alphas of the table are left out: values of fields are names without an order. So
    /// is the example whose data the table does not have.
    #[test]
    fn agrees_with_the_published_examples() {
        let (mut kappas, mut alphas) = (0, 0);
        for row in csv::Reader::from_reader(EXAMPLES.as_bytes()).records() {
            let row = row.unwrap();
            let digits = row[2].split_once('.').unwrap().1.len() as i32;
            let found = match (&row[0], &row[1]) {
                ("Cohen kappa", data) => {
                    kappas += 1;
                    Agreement::of(pairs(data)).unwrap().cohens_kappa()
                }
                ("Krippendorff alpha nominal", data) => {
                    let things = if data.contains("canonical") {
                        canonical()
                    } else if let Some((_, values)) = data.split_once(": ") {
                        things(&values.split(" / ").collect::<Vec<_>>())
                    } else {
                        continue;
                    };
                    alphas += 1;
                    krippendorffs_alpha(things)
                }
                _ => continue,
            };
            let off = (found.unwrap() - row[2].parse::<f64>().unwrap()).abs();
            assert!(
                off <= 0.5 * 10_f64.powi(-digits) + 1e-9,
                "{found:?} in {row:?}"
            );
        }
        assert_eq!((kappas, alphas), (4, 3));
    }

    /// Krippendorff's own matrix: four observers, twelve things, gaps.
    fn canonical() -> Vec<Vec<char>> {
        let mut things = vec![Vec::new(); 12];
        for row in csv::Reader::from_reader(CANONICAL.as_bytes()).records() {
            for (thing, value) in things.iter_mut().zip(row.unwrap().iter().skip(1)) {
                thing.extend(value.chars());
            }
        }
        things
    }

    #[test]
    fn without_disagreement_by_chance_there_is_no_figure() {
        assert_eq!(Agreement::of(Vec::<(u8, u8)>::new()), None);
        let same = Agreement::of([(1, 1), (1, 1)]).unwrap();
        assert_eq!((same.observed, same.cohens_kappa()), (1.0, None));
        assert_eq!(krippendorffs_alpha(Vec::<Vec<u8>>::new()), None);
        assert_eq!(krippendorffs_alpha([vec![1], vec![2]]), None);
        assert_eq!(krippendorffs_alpha([vec![1, 1], vec![1, 1]]), None);
        assert_eq!(krippendorffs_alpha([vec![1, 1], vec![2, 2]]), Some(1.0));
    }
}
