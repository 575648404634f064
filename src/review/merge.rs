//! Two keyings and what was decided between them, made one.

use super::compare::{Comparison, Place, about};
use crate::journal::{KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying, Taken};
use crate::value::SheetKind;
use thiserror::Error;

/// What somebody decided about one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    pub at: Place,
    pub take: Take,
}

#[derive(Debug, Clone, PartialEq)]
pub enum Take {
    /// What the first keying says: that there is no such record, too.
    First,
    Second,
    /// Neither: this value, of a field.
    Value(KeyedValue),
    /// Neither: this row of the roster, or none.
    Row(Option<String>),
    /// Neither: the sheet is of this kind and gives no records.
    Kind(SheetKind),
}

/// A sheet's values once two keyings agree or are settled.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Merged {
    pub kind: SheetKind,
    pub records: Vec<KeyedRecord>,
    /// What was in dispute, in words, and whose value was taken.
    pub decided: Vec<(String, Taken)>,
}

impl Merged {
    /// As a keying, to lay others beside.
    pub fn into_keying(self) -> Keying {
        Keying {
            kind: self.kind,
            records: self.records,
            ..Keying::default()
        }
    }
}

/// Why two keyings cannot be made one yet.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Undecided {
    #[error(
        "{place}: expected a decision between the two keyings, found none; take one of them or type a third value"
    )]
    Open { place: String },
    #[error(
        "{place}: expected a value of the same sort as what is in dispute, found another; decide it anew"
    )]
    WrongSort { place: String },
}

impl Take {
    fn taken(&self) -> Taken {
        match self {
            Self::First => Taken::First,
            Self::Second => Taken::Second,
            Self::Value(_) | Self::Row(_) | Self::Kind(_) => Taken::Third,
        }
    }
}

/// Makes two keyings one: what they agree on as the first wrote it, the rest as decided. Of two decisions about a place
/// the later counts.
///
/// A record keeps its row of the roster only while no value that the row stands on was decided against who linked it;
/// then it has none, and has to be linked anew.
///
/// # Errors
/// The first place in dispute that nothing was decided about.
pub fn merge(
    first: &Keying,
    second: &Keying,
    comparison: &Comparison,
    decisions: &[Decision],
) -> Result<Merged, Undecided> {
    let decided = |at: &Place| {
        let mut decisions = decisions.iter().rev();
        decisions
            .find(|decision| decision.at == *at)
            .map(|d| &d.take)
    };
    let records = comparison.pairs.len();
    let mut merged = Merged::default();
    for compared in comparison.disputes() {
        let place = about(&compared.at, records);
        let Some(take) = decided(&compared.at) else {
            return Err(Undecided::Open { place });
        };
        let fits = match take {
            Take::First | Take::Second => true,
            Take::Value(_) => matches!(compared.at, Place::Field(..)),
            Take::Row(_) => matches!(compared.at, Place::Row(_)),
            Take::Kind(_) => compared.at == Place::Kind,
        };
        if !fits {
            return Err(Undecided::WrongSort { place });
        }
        merged.decided.push((place, take.taken()));
    }
    let is_open = |at: &Place| comparison.disputes().any(|compared| compared.at == *at);
    if is_open(&Place::Kind) {
        let whole = match decided(&Place::Kind) {
            Some(Take::Kind(kind)) => (*kind, Vec::new()),
            Some(Take::Second) => (second.kind, second.records.clone()),
            _ => (first.kind, first.records.clone()),
        };
        (merged.kind, merged.records) = whole;
        return Ok(merged);
    }
    merged.kind = first.kind;
    for (n, [one, other]) in comparison.pairs.iter().enumerate() {
        let one = one.map(|at| &first.records[at]);
        let other = other.map(|at| &second.records[at]);
        match (one, other) {
            (Some(one), Some(other)) => {
                let take = |at: Place| is_open(&at).then(|| decided(&at)).flatten();
                merged.records.push(merge_record(n, one, other, take));
            }
            (one, other) => {
                let taken = match decided(&Place::Record(n)) {
                    Some(Take::Second) => other,
                    _ => one,
                };
                merged.records.extend(taken.cloned());
            }
        }
    }
    Ok(merged)
}

/// One record of two; `take` tells what was decided of a place in dispute.
fn merge_record<'a>(
    n: usize,
    one: &KeyedRecord,
    other: &KeyedRecord,
    take: impl Fn(Place) -> Option<&'a Take>,
) -> KeyedRecord {
    let in_other = |name: &str| other.fields.iter().find(|field| field.field == name);
    let mut fields: Vec<KeyedField> = Vec::new();
    // Whether each keying's row still has the values that it was linked by.
    let mut stands = [true, true];
    for field in &one.fields {
        let taken = match (
            take(Place::Field(n, field.field.clone())),
            in_other(&field.field),
        ) {
            (Some(Take::Second), Some(theirs)) => {
                stands[0] &= field.as_roster.is_none();
                theirs.clone()
            }
            (Some(Take::Value(value)), theirs) => {
                stands[0] &= field.as_roster.is_none();
                stands[1] &= theirs.is_none_or(|theirs| theirs.as_roster.is_none());
                KeyedField {
                    value: value.clone(),
                    source: KeyedSource::Typed,
                    overruled: None,
                    ..field.clone()
                }
            }
            (Some(_), Some(theirs)) => {
                stands[1] &= theirs.as_roster.is_none();
                field.clone()
            }
            _ => field.clone(),
        };
        fields.push(taken);
    }
    let known = |name: &str| one.fields.iter().any(|field| field.field == name);
    let more = other.fields.iter().filter(|field| !known(&field.field));
    fields.extend(more.cloned());
    // The row that was decided on, or the first that stands.
    let row = match take(Place::Row(n)) {
        Some(Take::Row(_)) => None,
        Some(Take::Second) => Some(other).filter(|_| stands[1]),
        Some(_) => Some(one).filter(|_| stands[0]),
        None => [(one, stands[0]), (other, stands[1])]
            .into_iter()
            .find(|(record, stands)| *stands && record.roster_key.is_some())
            .map(|(record, _)| record),
    };
    for field in &mut fields {
        let of_row = |row: &KeyedRecord| {
            let mut fields = row.fields.iter();
            fields
                .find(|other| other.field == field.field)?
                .as_roster
                .clone()
        };
        field.as_roster = row.and_then(of_row);
    }
    let roster_key = match take(Place::Row(n)) {
        Some(Take::Row(key)) => key.clone(),
        _ => row.and_then(|row| row.roster_key.clone()),
    };
    KeyedRecord { fields, roster_key }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::review::Comparer;
    use crate::review::testing::{keying, keying_of, linked};

    fn settled(
        first: &Keying,
        second: &Keying,
        decisions: &[(Place, Take)],
    ) -> Result<Merged, Undecided> {
        let comparison = Comparison::of(first, second, &Comparer::default());
        let decisions: Vec<Decision> = decisions
            .iter()
            .map(|(at, take)| Decision {
                at: at.clone(),
                take: take.clone(),
            })
            .collect();
        merge(first, second, &comparison, &decisions)
    }

    /// Every record's values and row, in one line.
    fn told(merged: &Merged) -> String {
        let records = merged.records.iter().map(|record| {
            let values = record.fields.iter().map(|field| match &field.value {
                KeyedValue::Text(text) => text.clone(),
                other => format!("{other:?}"),
            });
            let row = record.roster_key.as_deref().unwrap_or("-");
            format!("{} {row}", values.collect::<Vec<_>>().join(" "))
        });
        records.collect::<Vec<_>>().join("; ")
    }

    fn surname() -> Place {
        Place::Field(0, "surname".to_owned())
    }

    #[test]
    fn agreed_values_are_the_firsts_and_the_rest_is_decided() {
        let (pier, peer) = (keying("PIER", "1"), keying("PEER", "1"));
        assert_eq!(
            told(&settled(&keying("PIER", "1"), &keying("pier", "1"), &[]).unwrap()),
            "PIER 1 -"
        );
        let open = settled(&pier, &peer, &[]).unwrap_err();
        assert!(
            open.to_string().starts_with("surname: expected a decision"),
            "{open}"
        );
        let wrong = settled(&pier, &peer, &[(surname(), Take::Row(None))]);
        assert!(matches!(wrong, Err(Undecided::WrongSort { .. })));
        for (take, expected, taken) in [
            (Take::First, "PIER 1 -", Taken::First),
            (Take::Second, "PEER 1 -", Taken::Second),
            (
                Take::Value(KeyedValue::Text("PYER".into())),
                "PYER 1 -",
                Taken::Third,
            ),
            (
                Take::Value(KeyedValue::CannotBeRead),
                "CannotBeRead 1 -",
                Taken::Third,
            ),
        ] {
            // The later decision counts.
            let decisions = [(surname(), Take::First), (surname(), take)];
            let merged = settled(&pier, &peer, &decisions).unwrap();
            assert_eq!(told(&merged), expected);
            assert_eq!(merged.decided, [("surname".to_owned(), taken)]);
        }
    }

    #[test]
    fn a_row_stands_while_its_values_do() {
        let (pier, peer) = (linked("PIER", "a"), keying("PEER", "1"));
        let take = |take| settled(&pier, &peer, &[(surname(), take)]).unwrap();
        let first = take(Take::First);
        assert_eq!(told(&first), "PIER 1 a");
        assert_eq!(
            first.records[0].fields[0].as_roster.as_deref(),
            Some("PIER in a")
        );
        let second = take(Take::Second);
        assert_eq!(told(&second), "PEER 1 -");
        assert_eq!(second.records[0].fields[0].as_roster, None);
        assert_eq!(
            told(&take(Take::Value(KeyedValue::Text("PYER".into())))),
            "PYER 1 -"
        );
        let rows = |take| {
            let decisions = [(Place::Row(0), take)];
            told(&settled(&linked("PIER", "a"), &linked("PIER", "b"), &decisions).unwrap())
        };
        assert_eq!(rows(Take::Second), "PIER 1 b");
        assert_eq!(rows(Take::Row(Some("c".to_owned()))), "PIER 1 c");
        assert_eq!(rows(Take::Row(None)), "PIER 1 -");
    }

    #[test]
    fn whole_records_and_kinds_are_taken_or_left() {
        let (two, one) = (
            keying_of(&[("PIER", "1"), ("QUAY", "2")]),
            keying("QUAY", "2"),
        );
        let record = |take| told(&settled(&two, &one, &[(Place::Record(0), take)]).unwrap());
        assert_eq!(record(Take::First), "PIER 1 -; QUAY 2 -");
        assert_eq!(record(Take::Second), "QUAY 2 -");
        let blank = Keying {
            kind: SheetKind::Blank,
            ..Keying::default()
        };
        let kind = |take| settled(&two, &blank, &[(Place::Kind, take)]).unwrap();
        assert_eq!(kind(Take::First).records.len(), 2);
        assert_eq!(
            (kind(Take::Second).kind, kind(Take::Second).records.len()),
            (SheetKind::Blank, 0)
        );
        assert_eq!(kind(Take::Kind(SheetKind::Target)).kind, SheetKind::Target);
    }
}
