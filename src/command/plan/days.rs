//! Working days on the calendar.

use crate::figures::Estimate;
use jiff::ToSpan;
use jiff::civil::{Date, Weekday};
use serde::{Serialize, Serializer};

/// More working days than this are not followed on the calendar.
const MOST_DAYS: f64 = 50_000.0;

/// When the work is done, Monday to Friday.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Calendar {
    /// The first working day.
    #[serde(serialize_with = "as_text")]
    pub first: Date,
    /// The last one.
    #[serde(serialize_with = "as_text")]
    pub done: Date,
    /// The last one if it goes fast, and if it goes slowly.
    #[serde(serialize_with = "as_text")]
    pub earliest: Date,
    #[serde(serialize_with = "as_text")]
    pub latest: Date,
}

fn as_text<S: Serializer>(date: &Date, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(date)
}

/// None where the calendar ends before the work does.
pub fn calendar(start: Date, days: Estimate) -> Option<Calendar> {
    Some(Calendar {
        first: working_day(start, 1.0)?,
        done: working_day(start, days.value)?,
        earliest: working_day(start, days.low)?,
        latest: working_day(start, days.high)?,
    })
}

/// The day on which so many working days from `start` on are over; any part of a day takes one.
fn working_day(start: Date, days: f64) -> Option<Date> {
    if days > MOST_DAYS {
        return None;
    }
    let mut left = (days.ceil() as u64).max(1);
    let mut day = start;
    loop {
        let is_working = !matches!(day.weekday(), Weekday::Saturday | Weekday::Sunday);
        left -= u64::from(is_working);
        if left == 0 {
            return Some(day);
        }
        day = day.checked_add(1.day()).ok()?;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn weekends_are_left_out() {
        // 1 December 2026 is a Tuesday.
        let tuesday = date(2026, 12, 1);
        for (start, days, done) in [
            (tuesday, 0.0, tuesday),
            (tuesday, 0.2, tuesday),
            (tuesday, 1.0, tuesday),
            (tuesday, 4.0, date(2026, 12, 4)),
            (tuesday, 4.01, date(2026, 12, 7)),
            (date(2026, 12, 5), 1.0, date(2026, 12, 7)),
            (tuesday, 23.0, date(2026, 12, 31)),
        ] {
            assert_eq!(working_day(start, days), Some(done), "{days}");
        }
        assert_eq!(working_day(Date::MAX, 9.0), None);
        let found = calendar(date(2026, 12, 5), Estimate::between(1.0, 3.0)).unwrap();
        assert_eq!(found.first, date(2026, 12, 7));
        assert_eq!(found.latest, date(2026, 12, 9));
        assert_eq!(calendar(tuesday, Estimate::between(1.0, 1e9)), None);
    }
}
