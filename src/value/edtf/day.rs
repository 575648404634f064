//! Calendar days of any year that an EDTF value can name.

use jiff::civil::Date;
use std::fmt;

/// A day of the proleptic Gregorian calendar; days compare in the order of time.
///
/// EDTF names years far beyond the years -9999 to 9999 of a [`Date`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day {
    /// 0 is the year before year 1, as in ISO 8601.
    pub year: i64,
    /// 1 to 12.
    pub month: i8,
    /// 1 to 31.
    pub day: i8,
}

impl Day {
    /// The same day as a [`Date`]; none for years that a `Date` cannot hold.
    pub fn date(self) -> Option<Date> {
        Date::new(self.year.try_into().ok()?, self.month, self.day).ok()
    }

    /// The last day of a month.
    pub(super) fn end_of_month(year: i64, month: i8) -> Self {
        let day = days_in_month(year, month);
        Self { year, month, day }
    }
}

pub(super) fn days_in_month(year: i64, month: i8) -> i8 {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

impl From<Date> for Day {
    fn from(date: Date) -> Self {
        Self {
            year: date.year().into(),
            month: date.month(),
            day: date.day(),
        }
    }
}

/// `1952-03-12`, as EDTF writes it; beyond four digits `Y170000002-01-01`, which no EDTF value is.
impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.year.abs() > 9999 {
            f.write_str("Y")?;
        }
        let sign = if self.year < 0 { "-" } else { "" };
        write!(f, "{sign}{:04}", self.year.abs())?;
        write!(f, "-{:02}-{:02}", self.month, self.day)
    }
}
