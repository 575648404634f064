//! Dates as the index writes them: EDTF (ISO 8601-2), level 0 and what typed strips need of level 1.
//!
//! Level 0: calendar dates, date-times, intervals. Of level 1: qualification of a whole date (`1950?`, `1950~`,
//! `1950%`), digits left open from the right (`195X`, `1985-XX`), and intervals that are open (`..`) or unknown at one
//! end. Seasons, years of more than four digits or before year 0, and level 2 are refused with words.
//!
//! Source: Library of Congress, Extended Date/Time Format Specification, 4 February 2019.

mod parse;

use jiff::civil::{Date, Time};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

pub use parse::EdtfError;

/// An EDTF value. Parsing and printing agree: `text.parse::<Edtf>()` prints as `text`.
///
/// ```
/// use headword::value::Edtf;
/// let served: Edtf = "1952/1961-11".parse()?;
/// assert_eq!(served.earliest().unwrap().to_string(), "1952-01-01");
/// assert_eq!(served.latest().unwrap().to_string(), "1961-11-30");
/// # Ok::<(), headword::value::EdtfError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Edtf {
    Date(EdtfDate),
    DateTime(EdtfDateTime),
    /// Never ends before it begins, and at least one end is a date.
    Interval {
        start: End,
        end: End,
    },
}

/// One end of an interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum End {
    Date(EdtfDate),
    /// `..`: there is none.
    Open,
    /// Nothing written: there is one, nobody knows which.
    Unknown,
}

/// A date to the day, the month or the year. What is not known is left open from the right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct EdtfDate {
    pub(super) year: i16,
    /// How many of the year's last digits are left open: 0 to 2. They are zero in `year`.
    pub(super) open_digits: u8,
    pub(super) month: Option<Unit>,
    pub(super) day: Option<Unit>,
    pub qualification: Qualification,
}

/// A month or a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    Known(i8),
    /// `XX`
    Unspecified,
}

/// How far a whole date is to be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Qualification {
    #[default]
    None,
    /// `?`
    Uncertain,
    /// `~`
    Approximate,
    /// `%`
    UncertainAndApproximate,
}

/// The smallest unit that a date names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Precision {
    Year,
    Month,
    Day,
}

/// A calendar date with the time of day, to the second.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct EdtfDateTime {
    pub date: Date,
    pub time: Time,
    pub zone: Zone,
}

/// Where the clock of a date-time stood.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Zone {
    Local,
    /// `Z`
    Utc,
    /// Ahead of UTC (behind, when negative), written in hours alone.
    Hours(i8),
    /// Ahead of UTC (behind, when negative), in minutes, written in hours and minutes.
    Minutes(i16),
}

impl Edtf {
    /// The first day it may mean; none where the start is open or unknown.
    pub fn earliest(&self) -> Option<Date> {
        match self {
            Self::Date(date) => Some(date.earliest()),
            Self::DateTime(moment) => Some(moment.date),
            Self::Interval { start, .. } => start.date().map(|date| date.earliest()),
        }
    }

    /// The last day it may mean; none where the end is open or unknown.
    pub fn latest(&self) -> Option<Date> {
        match self {
            Self::Date(date) => Some(date.latest()),
            Self::DateTime(moment) => Some(moment.date),
            Self::Interval { end, .. } => end.date().map(|date| date.latest()),
        }
    }

    /// An interval; none where it would end before it begins or where neither end is a date.
    pub fn interval(start: End, end: End) -> Option<Self> {
        let in_order = match (start.date(), end.date()) {
            (Some(start), Some(end)) => start.earliest() <= end.latest(),
            (None, None) => false,
            _ => true,
        };
        in_order.then_some(Self::Interval { start, end })
    }
}

impl End {
    pub fn date(&self) -> Option<EdtfDate> {
        match self {
            Self::Date(date) => Some(*date),
            Self::Open | Self::Unknown => None,
        }
    }
}

impl EdtfDate {
    /// A year from 0 to 9999 of which the last `open_digits` (0 to 2) are left open; none outside that.
    pub fn in_year(year: i16, open_digits: u8) -> Option<Self> {
        let valid = (0..=9999).contains(&year) && open_digits <= 2;
        valid.then(|| Self {
            year: year - year % 10_i16.pow(open_digits.into()),
            open_digits,
            month: None,
            day: None,
            qualification: Qualification::None,
        })
    }

    pub fn qualified(self, qualification: Qualification) -> Self {
        Self {
            qualification,
            ..self
        }
    }

    /// Year 0 to 9999; where digits are left open, the first year meant.
    pub fn year(&self) -> i16 {
        self.year
    }

    pub fn month(&self) -> Option<Unit> {
        self.month
    }

    pub fn day(&self) -> Option<Unit> {
        self.day
    }

    pub fn precision(&self) -> Precision {
        match (self.month, self.day) {
            (None, _) => Precision::Year,
            (_, None) => Precision::Month,
            _ => Precision::Day,
        }
    }

    /// The first day it may mean; a qualification moves nothing.
    pub fn earliest(&self) -> Date {
        let unit = |unit: Option<Unit>| match unit {
            Some(Unit::Known(value)) => value,
            _ => 1,
        };
        Date::constant(self.year, unit(self.month), unit(self.day))
    }

    /// The last day it may mean; a qualification moves nothing.
    pub fn latest(&self) -> Date {
        let year = self.year + 10_i16.pow(self.open_digits.into()) - 1;
        let month = match self.month {
            Some(Unit::Known(month)) => month,
            _ => 12,
        };
        match self.day {
            Some(Unit::Known(day)) => Date::constant(year, month, day),
            _ => Date::constant(year, month, 1).last_of_month(),
        }
    }
}

impl fmt::Display for Edtf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Date(date) => date.fmt(f),
            Self::DateTime(moment) => moment.fmt(f),
            Self::Interval { start, end } => write!(f, "{start}/{end}"),
        }
    }
}

impl fmt::Display for End {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Date(date) => date.fmt(f),
            Self::Open => f.write_str(".."),
            Self::Unknown => Ok(()),
        }
    }
}

impl fmt::Display for EdtfDate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let open = usize::from(self.open_digits);
        let year = format!("{:04}", self.year);
        write!(f, "{}{}", &year[..4 - open], "X".repeat(open))?;
        for unit in [self.month, self.day].into_iter().flatten() {
            match unit {
                Unit::Known(value) => write!(f, "-{value:02}")?,
                Unit::Unspecified => f.write_str("-XX")?,
            }
        }
        f.write_str(match self.qualification {
            Qualification::None => "",
            Qualification::Uncertain => "?",
            Qualification::Approximate => "~",
            Qualification::UncertainAndApproximate => "%",
        })
    }
}

impl fmt::Display for EdtfDateTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (date, time) = (self.date, self.time);
        write!(
            f,
            "{:04}-{:02}-{:02}",
            date.year(),
            date.month(),
            date.day()
        )?;
        write!(
            f,
            "T{:02}:{:02}:{:02}",
            time.hour(),
            time.minute(),
            time.second()
        )?;
        match self.zone {
            Zone::Local => Ok(()),
            Zone::Utc => f.write_str("Z"),
            Zone::Hours(hours) => write!(f, "{hours:+03}"),
            Zone::Minutes(minutes) => {
                let sign = if minutes < 0 { '-' } else { '+' };
                write!(
                    f,
                    "{sign}{:02}:{:02}",
                    minutes.abs() / 60,
                    minutes.abs() % 60
                )
            }
        }
    }
}

impl FromStr for Edtf {
    type Err = EdtfError;

    fn from_str(text: &str) -> Result<Self, EdtfError> {
        parse::parse(text)
    }
}

impl TryFrom<String> for Edtf {
    type Error = EdtfError;

    fn try_from(text: String) -> Result<Self, EdtfError> {
        text.parse()
    }
}

impl From<Edtf> for String {
    fn from(value: Edtf) -> Self {
        value.to_string()
    }
}

#[cfg(test)]
mod tests;
