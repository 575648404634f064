//! Dates as they are typed on strips and in fields, turned into EDTF.
//!
//! The styles are common practice of typists, filing clerks and librarians; no standard lists them. Where a style comes
//! from a rule, the code says which. Where two readings of a text are both possible, the style of the job decides, and
//! the value carries a [`Doubt`], so that nobody takes it for certain.
//!
//! | typed | means |
//! |---|---|
//! | `1952`, `'52`, `52` in a range | a year; two digits lie in the style's window |
//! | `195?`, `195X`, `195-`, `19--` | digits left open; the hyphens are librarians' (common practice after AACR2) |
//! | `1950S`, `50S` | ten years |
//! | `C. 1950`, `1950?` | approximate, uncertain |
//! | `12 MAR 1950`, `MAR. 12, 1950`, `1950-03-12`, `3/4/52` | a day |
//! | `MAR 1952`, `03/52`, `3.1952` | a month |
//! | `1Q 1952`, `Q1/52`, `SPRING 1952`, `WINTER 1952/53` | a quarter, a season |
//! | `1952-61`, `03/52 - 11/61`, `JAN 1952 TO DEC 1961`, `12-15 MAR 1950`, `JAN-MAR 1952` | a range |
//! | `TO 1959`, `1980-`, `FROM 1980`, `BEFORE 1959`, `AFTER 1980` | a range with one end |
//! | `1952/53`, `FY 1953` | a school or fiscal year |
//! | `N.D.`, `O.J.`, `S.D.` | a date that is not known |

mod items;
mod pattern;
mod range;
mod side;
mod tokens;
mod words;

use super::{Edtf, shown};
use serde::{Deserialize, Deserializer, Serialize, de};
use std::fmt;
use thiserror::Error;

pub use pattern::{Dates, dates_pattern};
pub use words::Language;

/// How dates are typed in a job or a field.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", default, deny_unknown_fields)]
pub struct DateStyle {
    pub order: DateOrder,
    /// First of the hundred years in which years of two digits lie, 0 to 9900.
    #[serde(deserialize_with = "window")]
    pub window: i16,
    pub languages: Vec<Language>,
    /// The month, 1 to 12, in which school or fiscal years begin; none where that is not known.
    #[serde(deserialize_with = "month", skip_serializing_if = "Option::is_none")]
    pub fiscal_year_begins: Option<i8>,
}

/// Which of two figures is the day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DateOrder {
    /// `3/4/52` is the third of April.
    #[default]
    DayMonth,
    /// `3/4/52` is the fourth of March.
    MonthDay,
}

/// English, the day first, years of two digits in the twentieth century, which most microfiche is about.
impl Default for DateStyle {
    fn default() -> Self {
        Self {
            order: DateOrder::DayMonth,
            window: 1900,
            languages: vec![Language::English],
            fiscal_year_begins: None,
        }
    }
}

/// A date or a range as typed, understood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TypedDates {
    pub edtf: Edtf,
    /// Why the text may also mean something else; such a value is never sure.
    pub doubt: Option<Doubt>,
}

/// Why a typed date may mean something else than what it was taken for, the weightiest last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Doubt {
    TwoDigitYear,
    Winter,
    NextCentury,
    FiscalYear,
    DecadeOrCentury,
    SchoolYear,
    SecondYearOrMonth,
    MonthOrYear,
    DayOrMonth,
}

/// Why a text was not understood as dates.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum DatesError {
    #[error(
        "dates {:?}: expected a date or a range, such as 1952, 1952-61, 12 MAR 1950, 03/52 - 11/61, TO 1959, 1980-, \
         C. 1950, 195? or N.D.; write years with four digits and months by name",
        shown(.0)
    )]
    NotUnderstood(String),
    #[error("dates {:?}: the calendar has no such day; look at the day and the month again", shown(.0))]
    NoSuchDay(String),
    #[error(
        "dates {:?}: the second date comes before the first; write the earlier date first, with the year in both",
        shown(.0)
    )]
    OutOfOrder(String),
}

/// Reads a date or a range in the styles that are typed on strips.
///
/// A second year of two digits lies in the century of the first, or in the next where it would come before it.
///
/// ```
/// use headword::value::{DateStyle, typed_dates};
/// let style = DateStyle::default();
/// for (typed, edtf) in [
///     ("1952-61", "1952/1961"),
///     ("MAR. 12, 1950", "1950-03-12"),
///     ("JAN-MAR 1952", "1952-01/1952-03"),
///     ("TO 1959", "../1959"),
///     ("C. 1950", "1950~"),
///     ("195?", "195X"),
///     ("N.D.", "XXXX"),
/// ] {
///     assert_eq!(typed_dates(typed, &style)?.edtf.to_string(), edtf);
/// }
/// assert!(typed_dates("3/4/1952", &style)?.doubt.is_some());
/// # Ok::<(), headword::value::DatesError>(())
/// ```
pub fn typed_dates(typed: &str, style: &DateStyle) -> Result<TypedDates, DatesError> {
    let quoted = || typed.chars().take(60).collect();
    let tokens = tokens::normalised(typed)
        .and_then(|text| tokens::tokens(&text, style))
        .ok_or_else(|| DatesError::NotUnderstood(quoted()))?;
    range::read(&tokens, style).map_err(|fault| match fault {
        range::Fault::NotUnderstood => DatesError::NotUnderstood(quoted()),
        range::Fault::NoSuchDay => DatesError::NoSuchDay(quoted()),
        range::Fault::OutOfOrder => DatesError::OutOfOrder(quoted()),
    })
}

/// One short sentence.
impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TwoDigitYear => "the century of a two-digit year was taken from the job",
            Self::Winter => "the winter may begin or end in that year",
            Self::NextCentury => "the second year was taken to lie in the next century",
            Self::FiscalYear => "a fiscal or school year may be named after either year it lies in",
            Self::DecadeOrCentury => "it may be ten years or a hundred",
            Self::SchoolYear => "it may be one school or fiscal year, or two calendar years",
            Self::SecondYearOrMonth => "the second number may be a year or a month",
            Self::MonthOrYear => "the first number may be a month or a year",
            Self::DayOrMonth => "day and month may be the other way round",
        })
    }
}

fn window<'de, D: Deserializer<'de>>(deserializer: D) -> Result<i16, D::Error> {
    let year = i16::deserialize(deserializer)?;
    let valid = (0..=9900).contains(&year);
    valid.then_some(year).ok_or_else(|| {
        de::Error::custom(format!(
            "window {year}: expected the first of a hundred years, from 0 to 9900, such as 1900"
        ))
    })
}

fn month<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<i8>, D::Error> {
    let month = Option::<i8>::deserialize(deserializer)?;
    match month {
        Some(month) if !(1..=12).contains(&month) => Err(de::Error::custom(format!(
            "fiscal-year-begins {month}: expected a month from 1 to 12, such as 7 for July"
        ))),
        month => Ok(month),
    }
}

#[cfg(test)]
mod tests;
