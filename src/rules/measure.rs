//! What a value measures, for checks between fields: a number, or days and years.

use super::kind::{FieldKind, FieldSpec};
use crate::value::typed_years;
use jiff::civil::Date;

/// A value that can be compared by size.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Measure {
    Number(f64),
    /// A date or a range of dates; an end that is open or unknown is missing.
    Days {
        earliest: Option<Date>,
        latest: Option<Date>,
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
                let count = |date: Date| match unit {
                    Unit::Year => f64::from(date.year()),
                    Unit::Day => {
                        let day = f64::from(date.day_of_year());
                        f64::from(date.year()) * 366.0 + day
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
        FieldKind::DateRange => {
            let edtf = typed_years(value).ok()?.edtf;
            Some(Measure::Days {
                earliest: edtf.earliest(),
                latest: edtf.latest(),
            })
        }
        _ => value.trim().parse().ok().map(Measure::Number),
    }
}
