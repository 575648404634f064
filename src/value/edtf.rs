//! Dates as the index writes them: EDTF (ISO 8601-2), levels 0, 1 and 2.
//!
//! Level 0: calendar dates, date-times, intervals. Level 1: years of more than four digits (`Y170000002`) and before
//! year 0, seasons, qualification of a whole date (`1950?`, `1950~`, `1950%`), digits left open from the right (`195X`,
//! `1985-XX`), intervals that are open (`..`) or unknown at one end. Level 2: exponential years, significant digits,
//! parts of the year, open digits and qualifications anywhere, sets.
//!
//! Source: Library of Congress, Extended Date/Time Format Specification, 4 February 2019.

mod date;
mod day;
mod parse;

use jiff::civil::{Date, Time};
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

pub use date::{EdtfDate, Precision, Qualification};
pub use day::Day;
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
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Edtf {
    Date(EdtfDate),
    DateTime(EdtfDateTime),
    /// Never ends before it begins, and at least one end is a date.
    Interval {
        start: End,
        end: End,
    },
    /// Never empty.
    Set {
        kind: SetKind,
        members: Vec<Member>,
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

/// Whether a set names alternatives or a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SetKind {
    /// `[1667,1668]`
    OneOf,
    /// `{1667,1668}`
    AllOf,
}

/// One member of a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Member {
    Date(EdtfDate),
    /// `1670..1672`: the same precision at both ends.
    Between(EdtfDate, EdtfDate),
    /// `..1672`, as the first member only.
    UpTo(EdtfDate),
    /// `1670..`, as the last member only.
    From(EdtfDate),
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
    pub fn earliest(&self) -> Option<Day> {
        match self {
            Self::Date(date) => Some(date.earliest()),
            Self::DateTime(moment) => Some(moment.date.into()),
            Self::Interval { start, .. } => start.date().map(|date| date.earliest()),
            Self::Set { members, .. } => {
                let starts: Option<Vec<Day>> = members.iter().map(Member::earliest).collect();
                starts?.into_iter().min()
            }
        }
    }

    /// The last day it may mean; none where the end is open or unknown.
    pub fn latest(&self) -> Option<Day> {
        match self {
            Self::Date(date) => Some(date.latest()),
            Self::DateTime(moment) => Some(moment.date.into()),
            Self::Interval { end, .. } => end.date().map(|date| date.latest()),
            Self::Set { members, .. } => {
                let ends: Option<Vec<Day>> = members.iter().map(Member::latest).collect();
                ends?.into_iter().max()
            }
        }
    }

    /// The unit that every date in it names; none where they differ, as the precision of such an interval is undefined.
    pub fn precision(&self) -> Option<Precision> {
        let dates: Vec<EdtfDate> = match self {
            Self::DateTime(_) => return Some(Precision::Second),
            Self::Date(date) => vec![*date],
            Self::Interval { start, end } => {
                [start.date(), end.date()].into_iter().flatten().collect()
            }
            Self::Set { members, .. } => members.iter().map(|member| member.dates().0).collect(),
        };
        let first = dates.first()?.precision();
        dates
            .iter()
            .all(|date| date.precision() == first)
            .then_some(first)
    }

    /// The order by first day, then by last day; what has no beginning comes first, what has no end last.
    ///
    /// Values that print differently may be equal in it, as `1950` and `1950~` are.
    pub fn chronological(&self, other: &Self) -> Ordering {
        let end = |value: &Self| (value.latest().is_none(), value.latest());
        self.earliest()
            .cmp(&other.earliest())
            .then_with(|| end(self).cmp(&end(other)))
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

impl Member {
    /// The dates at its ends; one date twice where it has only one.
    fn dates(&self) -> (EdtfDate, EdtfDate) {
        match *self {
            Self::Date(date) | Self::UpTo(date) | Self::From(date) => (date, date),
            Self::Between(first, last) => (first, last),
        }
    }

    fn earliest(&self) -> Option<Day> {
        (!matches!(self, Self::UpTo(_))).then(|| self.dates().0.earliest())
    }

    fn latest(&self) -> Option<Day> {
        (!matches!(self, Self::From(_))).then(|| self.dates().1.latest())
    }
}

impl fmt::Display for Edtf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Date(date) => date.fmt(f),
            Self::DateTime(moment) => moment.fmt(f),
            Self::Interval { start, end } => write!(f, "{start}/{end}"),
            Self::Set { kind, members } => {
                let (open, close) = match kind {
                    SetKind::OneOf => ('[', ']'),
                    SetKind::AllOf => ('{', '}'),
                };
                let members: Vec<String> = members.iter().map(Member::to_string).collect();
                write!(f, "{open}{}{close}", members.join(","))
            }
        }
    }
}

impl fmt::Display for Member {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Date(date) => date.fmt(f),
            Self::Between(first, last) => write!(f, "{first}..{last}"),
            Self::UpTo(date) => write!(f, "..{date}"),
            Self::From(date) => write!(f, "{date}.."),
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

impl fmt::Display for EdtfDateTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (date, time) = (Day::from(self.date), self.time);
        let (hour, minute, second) = (time.hour(), time.minute(), time.second());
        write!(f, "{date}T{hour:02}:{minute:02}:{second:02}")?;
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
