//! EDTF text in, values out.

use super::{Edtf, EdtfDate, EdtfDateTime, End, Qualification, Unit, Zone};
use crate::value::shown;
use jiff::civil::{Date, Time};
use thiserror::Error;

/// Why a text is no EDTF date, date-time or interval of level 0, nor of what is known of level 1.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error(
    "date {:?}, column {column}: expected {expected}, found {found}",
    shown(text)
)]
pub struct EdtfError {
    pub text: String,
    /// Counted in characters, from 1.
    pub column: usize,
    pub expected: &'static str,
    pub found: String,
}

const MONTH: &str = "a month from 01 to 12 or XX";
const DAY: &str = "a day that the month has, such as 07, or XX";

pub fn parse(text: &str) -> Result<Edtf, EdtfError> {
    let mut cursor = Cursor { text, at: 0 };
    let start = cursor.end_of_interval()?;
    if cursor.eats('/') {
        let end = cursor.end_of_interval()?;
        cursor.expect_finished()?;
        cursor.at = 0;
        return Edtf::interval(start, end).ok_or_else(|| {
            cursor.fault(
                "an interval with a date at one end at least that does not end before it begins",
            )
        });
    }
    let End::Date(date) = start else {
        return Err(cursor.fault(
            "a date, such as 1952, 1952-03 or 1952-03-12, or an interval, such as 1952/1961",
        ));
    };
    if cursor.eats('T') {
        let moment = cursor.time_of(date)?;
        cursor.expect_finished()?;
        return Ok(Edtf::DateTime(moment));
    }
    cursor.expect_finished()?;
    Ok(Edtf::Date(date))
}

struct Cursor<'a> {
    text: &'a str,
    /// In bytes.
    at: usize,
}

impl<'a> Cursor<'a> {
    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn eats(&mut self, c: char) -> bool {
        let found = self.rest().starts_with(c);
        if found {
            self.at += c.len_utf8();
        }
        found
    }

    /// Two digits from `low` to `high`.
    fn two_digits(&mut self, low: i8, high: i8, expected: &'static str) -> Result<i8, EdtfError> {
        let value = self
            .rest()
            .get(..2)
            .filter(|digits| digits.bytes().all(|b| b.is_ascii_digit()))
            .and_then(|digits| digits.parse().ok())
            .filter(|value| (low..=high).contains(value))
            .ok_or_else(|| self.fault(expected))?;
        self.at += 2;
        Ok(value)
    }

    fn end_of_interval(&mut self) -> Result<End, EdtfError> {
        if self.rest().starts_with("..") {
            self.at += 2;
            Ok(End::Open)
        } else if self.rest().is_empty() || self.rest().starts_with('/') {
            Ok(End::Unknown)
        } else {
            self.date().map(End::Date)
        }
    }

    fn date(&mut self) -> Result<EdtfDate, EdtfError> {
        let mut date = self.year()?;
        if self.eats('-') {
            if date.open_digits > 0 {
                return Err(self.fault("nothing after a year with open digits"));
            }
            date.month = Some(self.unit(12, MONTH)?);
        }
        if date.month.is_some() && self.eats('-') {
            let before = self.at;
            let day = self.unit(31, DAY)?;
            let exists = match (date.month, day) {
                (_, Unit::Unspecified) => true,
                (Some(Unit::Known(month)), Unit::Known(day)) => {
                    Date::new(date.year, month, day).is_ok()
                }
                _ => false,
            };
            if !exists {
                self.at = before;
                return Err(self.fault(DAY));
            }
            date.day = Some(day);
        }
        date.qualification = self.qualification();
        Ok(date)
    }

    /// Four digits; the last one or two may be `X`.
    fn year(&mut self) -> Result<EdtfDate, EdtfError> {
        const YEAR: &str = "a year of four digits, such as 1952, 195X or 19XX";
        let digits = self.rest().get(..4).ok_or_else(|| self.fault(YEAR))?;
        let known = digits.trim_end_matches('X');
        let year = Some(known)
            .filter(|known| known.len() >= 2 && known.bytes().all(|b| b.is_ascii_digit()))
            .and_then(|known| format!("{known:0<4}").parse().ok())
            .and_then(|year| EdtfDate::in_year(year, (4 - known.len()) as u8))
            .ok_or_else(|| self.fault(YEAR))?;
        self.at += 4;
        Ok(year)
    }

    fn unit(&mut self, high: i8, expected: &'static str) -> Result<Unit, EdtfError> {
        if self.rest().starts_with("XX") {
            self.at += 2;
            Ok(Unit::Unspecified)
        } else {
            self.two_digits(1, high, expected).map(Unit::Known)
        }
    }

    fn qualification(&mut self) -> Qualification {
        if self.eats('?') {
            Qualification::Uncertain
        } else if self.eats('~') {
            Qualification::Approximate
        } else if self.eats('%') {
            Qualification::UncertainAndApproximate
        } else {
            Qualification::None
        }
    }

    /// What follows the T after a date.
    fn time_of(&mut self, date: EdtfDate) -> Result<EdtfDateTime, EdtfError> {
        let (Some(Unit::Known(month)), Some(Unit::Known(day)), Qualification::None) =
            (date.month, date.day, date.qualification)
        else {
            self.at -= 1;
            return Err(self.fault("no time after a date that is not known to the day"));
        };
        let hour = self.two_digits(0, 23, "an hour from 00 to 23")?;
        self.colon()?;
        let minute = self.two_digits(0, 59, "minutes from 00 to 59")?;
        self.colon()?;
        let second = self.two_digits(0, 59, "seconds from 00 to 59")?;
        Ok(EdtfDateTime {
            date: Date::constant(date.year, month, day),
            time: Time::constant(hour, minute, second, 0),
            zone: self.zone()?,
        })
    }

    fn colon(&mut self) -> Result<(), EdtfError> {
        if self.eats(':') {
            Ok(())
        } else {
            Err(self.fault("a colon, as in 23:20:30"))
        }
    }

    fn zone(&mut self) -> Result<Zone, EdtfError> {
        let sign = if self.eats('Z') {
            return Ok(Zone::Utc);
        } else if self.eats('+') {
            1
        } else if self.eats('-') {
            -1
        } else {
            return Ok(Zone::Local);
        };
        let before = self.at;
        let hours = self.two_digits(0, 23, "the hours of the shift from UTC, such as 04")?;
        let zone = if self.eats(':') {
            let minutes =
                self.two_digits(0, 59, "the minutes of the shift from UTC, such as 30")?;
            Zone::Minutes(sign * (i16::from(hours) * 60 + i16::from(minutes)))
        } else {
            Zone::Hours(sign as i8 * hours)
        };
        if sign < 0 && matches!(zone, Zone::Minutes(0) | Zone::Hours(0)) {
            self.at = before;
            return Err(self.fault("Z or +00:00, for no time is behind UTC by nothing"));
        }
        Ok(zone)
    }

    fn expect_finished(&self) -> Result<(), EdtfError> {
        if self.rest().is_empty() {
            Ok(())
        } else {
            Err(self.fault("the end of the date"))
        }
    }

    fn fault(&self, expected: &'static str) -> EdtfError {
        let found: String = self.rest().chars().take(12).collect();
        EdtfError {
            text: self.text.chars().take(60).collect(),
            column: self.text[..self.at].chars().count() + 1,
            expected,
            found: if found.is_empty() {
                "the end".to_owned()
            } else {
                format!("{:?}", shown(&found))
            },
        }
    }
}
