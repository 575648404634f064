//! Two keyings of one sheet side by side: record by record, field by field.

use super::same::Comparer;
use crate::journal::{KeyedRecord, KeyedValue, Keying};
use serde::{Deserialize, Serialize};
use std::fmt;

/// What of a sheet two keyings may differ in. Records are counted from 0, as they come out when both are laid together.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// What the sheet is; where that differs, its records are not compared.
    Kind,
    /// Whether there is such a record at all.
    Record(usize),
    Field(usize, String),
    /// The row of the roster that a record is linked to.
    Row(usize),
}

/// How two values stand to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Letter for letter.
    Same,
    /// They differ in what the job does not count.
    SameByJob,
    Different,
    /// Only one keying says something of it, as where a second keying is of chosen fields.
    KeyedOnce,
}

/// One place of two keyings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Compared {
    pub at: Place,
    /// What each says; none where it says nothing of the place. Kinds, rows and whole records are told as text.
    pub first: Option<KeyedValue>,
    pub second: Option<KeyedValue>,
    pub verdict: Verdict,
}

/// All places of two keyings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// Which record of the first and which of the second are the same record; one of them is there.
    pub pairs: Vec<[Option<usize>; 2]>,
    pub places: Vec<Compared>,
}

impl Comparison {
    /// Compares two keyings of one sheet.
    pub fn of(first: &Keying, second: &Keying, comparer: &Comparer) -> Self {
        let mut comparison = Self {
            pairs: Vec::new(),
            places: Vec::new(),
        };
        if first.kind != second.kind {
            let kind = |keying: &Keying| Some(KeyedValue::Text(keying.kind.to_string()));
            comparison.places.push(Compared {
                at: Place::Kind,
                first: kind(first),
                second: kind(second),
                verdict: Verdict::Different,
            });
            return comparison;
        }
        comparison.pairs = pair_up(&first.records, &second.records, comparer);
        for (n, [one, other]) in comparison.pairs.iter().enumerate() {
            let one = one.map(|at| &first.records[at]);
            let other = other.map(|at| &second.records[at]);
            match (one, other) {
                (Some(one), Some(other)) => {
                    comparison.places.extend(fields(n, one, other, comparer));
                    comparison.places.extend(row(n, one, other));
                }
                (one, other) => comparison.places.push(Compared {
                    at: Place::Record(n),
                    first: one.map(told),
                    second: other.map(told),
                    verdict: Verdict::Different,
                }),
            }
        }
        comparison
    }

    /// What somebody has to decide.
    pub fn disputes(&self) -> impl Iterator<Item = &Compared> {
        let places = self.places.iter();
        places.filter(|compared| compared.verdict == Verdict::Different)
    }

    pub fn is_agreed(&self) -> bool {
        self.disputes().next().is_none()
    }
}

fn fields<'a>(
    n: usize,
    one: &'a KeyedRecord,
    other: &'a KeyedRecord,
    comparer: &'a Comparer,
) -> impl Iterator<Item = Compared> + 'a {
    let value_in = |record: &'a KeyedRecord, name: &str| {
        let mut fields = record.fields.iter();
        fields.find(|field| field.field == name).map(|f| &f.value)
    };
    let only_in_other = other.fields.iter().map(|field| &field.field);
    let only_in_other = only_in_other.filter(move |name| value_in(one, name).is_none());
    let names = one
        .fields
        .iter()
        .map(|field| &field.field)
        .chain(only_in_other);
    names.map(move |name| {
        let (first, second) = (value_in(one, name), value_in(other, name));
        let verdict = match (first, second) {
            (Some(first), Some(second)) if comparer.is_compared(name) => {
                comparer.compare(name, first, second)
            }
            _ => Verdict::KeyedOnce,
        };
        Compared {
            at: Place::Field(n, name.clone()),
            first: first.cloned(),
            second: second.cloned(),
            verdict,
        }
    })
}

/// Two rows of the roster that differ. Who keyed from the picture alone linked none, which contradicts nothing.
fn row(n: usize, one: &KeyedRecord, other: &KeyedRecord) -> Option<Compared> {
    let (first, second) = (one.roster_key.as_ref()?, other.roster_key.as_ref()?);
    (first != second).then(|| Compared {
        at: Place::Row(n),
        first: Some(KeyedValue::Text(first.clone())),
        second: Some(KeyedValue::Text(second.clone())),
        verdict: Verdict::Different,
    })
}

/// A record in one line.
fn told(record: &KeyedRecord) -> KeyedValue {
    let values = record.fields.iter().filter_map(|field| match &field.value {
        KeyedValue::Text(text) => Some(text.as_str()),
        KeyedValue::NothingOnStrip | KeyedValue::CannotBeRead => None,
    });
    KeyedValue::Text(values.collect::<Vec<_>>().join(", "))
}

/// Which records belong together: in their order, so that as few fields as possible differ. A record that only one has
/// costs as much as one in which half of the fields differ, so that one left out does not put the rest out of step.
fn pair_up(
    first: &[KeyedRecord],
    second: &[KeyedRecord],
    comparer: &Comparer,
) -> Vec<[Option<usize>; 2]> {
    if let ([_], [_]) = (first, second) {
        return vec![[Some(0), Some(0)]];
    }
    let differing = |one: usize, other: usize| {
        let compared = fields(0, &first[one], &second[other], comparer);
        compared
            .filter(|compared| compared.verdict == Verdict::Different)
            .count()
    };
    // Twice the differing fields, so that half of a record's fields is a whole number.
    let alone = |record: &KeyedRecord| record.fields.len().max(1);
    let width = second.len() + 1;
    let mut cost = vec![0; (first.len() + 1) * width];
    let at = |one: usize, other: usize| one * width + other;
    for one in (0..=first.len()).rev() {
        for other in (0..=second.len()).rev() {
            let ways = [
                (one < first.len() && other < second.len())
                    .then(|| 2 * differing(one, other) + cost[at(one + 1, other + 1)]),
                (one < first.len()).then(|| alone(&first[one]) + cost[at(one + 1, other)]),
                (other < second.len()).then(|| alone(&second[other]) + cost[at(one, other + 1)]),
            ];
            cost[at(one, other)] = ways.into_iter().flatten().min().unwrap_or(0);
        }
    }
    let (mut one, mut other) = (0, 0);
    let mut pairs = Vec::new();
    while one < first.len() || other < second.len() {
        let now = cost[at(one, other)];
        let both = one < first.len() && other < second.len();
        if both && now == 2 * differing(one, other) + cost[at(one + 1, other + 1)] {
            pairs.push([Some(one), Some(other)]);
            (one, other) = (one + 1, other + 1);
        } else if one < first.len() && now == alone(&first[one]) + cost[at(one + 1, other)] {
            pairs.push([Some(one), None]);
            one += 1;
        } else {
            pairs.push([None, Some(other)]);
            other += 1;
        }
    }
    pairs
}

/// A place in words: `record 2, surname`; the record is left out where a sheet has only one.
pub fn about(at: &Place, records: usize) -> String {
    match at {
        Place::Field(_, field) if records < 2 => field.clone(),
        Place::Row(_) if records < 2 => "roster row".to_owned(),
        at => at.to_string(),
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Kind => f.write_str("kind of sheet"),
            Self::Record(n) => write!(f, "record {}", n + 1),
            Self::Field(n, field) => write!(f, "record {}, {field}", n + 1),
            Self::Row(n) => write!(f, "record {}, roster row", n + 1),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::review::testing::{keying, keying_of, linked};
    use crate::value::SheetKind;

    /// The disputes of two keyings, in words.
    fn check(first: &Keying, second: &Keying, disputes: &[&str]) {
        let comparison = Comparison::of(first, second, &Comparer::default());
        let found: Vec<String> = comparison
            .disputes()
            .map(|compared| about(&compared.at, comparison.pairs.len()))
            .collect();
        assert_eq!(found, disputes);
        assert_eq!(comparison.is_agreed(), disputes.is_empty());
    }

    #[test]
    fn disputes_are_found_field_by_field() {
        check(&keying("PIER", "1"), &keying("Pier ", "1"), &[]);
        check(
            &keying("PIER", "1"),
            &keying("PEER", "7"),
            &["surname", "number"],
        );
        check(&linked("PIER", "a"), &linked("PIER", "b"), &["roster row"]);
        check(&linked("PIER", "a"), &keying("PIER", "1"), &[]);
        let divider = Keying {
            kind: SheetKind::Divider,
            ..keying("PIER", "1")
        };
        check(&divider, &keying("PEER", "1"), &["kind of sheet"]);
        check(&Keying::default(), &Keying::default(), &[]);
    }

    #[test]
    fn a_record_left_out_does_not_put_the_others_out_of_step() {
        let three = keying_of(&[("PIER", "1"), ("QUAY", "2"), ("DOCK", "3")]);
        let two = keying_of(&[("QUAY", "2"), ("DOCK", "8")]);
        check(&three, &two, &["record 1", "record 3, number"]);
        check(&two, &three, &["record 1", "record 3, number"]);
        check(
            &three,
            &Keying::default(),
            &["record 1", "record 2", "record 3"],
        );
    }

    #[test]
    fn fields_keyed_once_are_no_dispute() {
        let mut short = keying("PIER", "1");
        short.records[0].fields.pop();
        check(&keying("PIER", "1"), &short, &[]);
        let comparison = Comparison::of(&short, &keying("PIER", "1"), &Comparer::default());
        assert_eq!(comparison.places[1].verdict, Verdict::KeyedOnce);
    }
}
