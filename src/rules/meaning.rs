//! What a value means by its field's kind: whether it is one at all, what else it may mean, what it measures.

use super::kind::{FieldKind, FieldSpec};
use crate::value::{Amount, Day, Edtf, Part, Range, typed_dates};

/// What a text is, taken as a value of its field.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Meaning {
    /// `doubt`: why it may mean something else.
    Understood { doubt: Option<String> },
    /// It looks like a value of its kind and is none: 31 FEB 1950, a range that runs backwards.
    Impossible,
}

impl Meaning {
    const CLEAR: Self = Self::Understood { doubt: None };

    fn or_else_a(alternative: Option<String>) -> Self {
        Self::Understood {
            doubt: alternative.map(|other| format!("it may also mean {other}")),
        }
    }
}

/// What a field's value means.
pub(super) fn meaning(spec: &FieldSpec, value: &str) -> Meaning {
    match spec.kind {
        FieldKind::Date | FieldKind::DateRange => match typed_dates(value, &spec.styles.dates) {
            Ok(dates) => Meaning::Understood {
                doubt: dates.doubt.map(|doubt| doubt.to_string()),
            },
            Err(_) => Meaning::Impossible,
        },
        FieldKind::Part => match Part::read(value) {
            Ok(read) => Meaning::or_else_a(read.alternative.map(|part| part.to_string())),
            Err(_) => Meaning::Impossible,
        },
        FieldKind::Range => match Range::read(value, spec.styles.filing) {
            Ok(read) => Meaning::or_else_a(read.alternative.map(|range| range.to_string())),
            Err(_) => Meaning::Impossible,
        },
        FieldKind::Amount => match Amount::read(value, spec.styles.decimal) {
            Ok(read) => Meaning::or_else_a(read.alternative.map(|amount| amount.to_string())),
            Err(_) => Meaning::Impossible,
        },
        _ => Meaning::CLEAR,
    }
}

/// A value that can be compared by size.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Measure {
    Number(f64),
    /// A date or a range of dates; an end that is open or unknown is missing.
    Days {
        earliest: Option<Day>,
        latest: Option<Day>,
    },
}

/// What dates are counted in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Unit {
    Day,
    Year,
}

impl Measure {
    /// The least and the most that it may be.
    pub fn span(&self, unit: Unit) -> (f64, f64) {
        match *self {
            Self::Number(number) => (number, number),
            Self::Days { earliest, latest } => {
                // Days are compared, not counted: months of 31 keep the order.
                let count = |day: Day| match unit {
                    Unit::Year => day.year as f64,
                    Unit::Day => {
                        let months = day.year as f64 * 12.0 + f64::from(day.month);
                        months * 31.0 + f64::from(day.day)
                    }
                };
                (
                    earliest.map_or(f64::NEG_INFINITY, count),
                    latest.map_or(f64::INFINITY, count),
                )
            }
        }
    }
}

/// What a field's value measures; `None` where it is text.
pub(super) fn measure(spec: &FieldSpec, value: &str) -> Option<Measure> {
    match spec.kind {
        FieldKind::Date | FieldKind::DateRange => {
            let edtf: Edtf = typed_dates(value, &spec.styles.dates).ok()?.edtf;
            Some(Measure::Days {
                earliest: edtf.earliest(),
                latest: edtf.latest(),
            })
        }
        FieldKind::Amount => {
            let amount = Amount::read(value, spec.styles.decimal).ok()?.amount;
            let units = 10f64.powi(amount.decimals as i32);
            Some(Measure::Number(amount.digits as f64 / units))
        }
        FieldKind::Part => {
            let part = Part::read(value).ok()?.part;
            Some(Measure::Number(f64::from(part.first)))
        }
        _ => value.trim().parse().ok().map(Measure::Number),
    }
}
