//! EDTF text in, values out.

use super::date::{Component, Digits, EdtfDate, Precision, Qualification, Year, digit_count};
use super::{Edtf, EdtfDateTime, End, Member, SetKind, Zone};
use crate::value::shown;
use jiff::civil::Time;
use thiserror::Error;

/// Why a text is no EDTF date, date-time, interval or set.
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

const MONTH: &str =
    "a month from 01 to 12, a part of the year from 21 to 41, or X for a digit left open";
const DAY: &str = "a day that the month has, such as 07, or X for a digit left open";
const SIGNIFICANT: &str = "how many of the year's digits are significant, such as 2";
const LONG_YEAR: &str =
    "a year of five to eighteen digits, such as Y17000 or Y17E7, or four digits without Y";
/// Years beyond this many digits are refused; the universe is 11 digits old.
const LONGEST_YEAR: u32 = 18;

pub fn parse(text: &str) -> Result<Edtf, EdtfError> {
    let mut cursor = Cursor { text, at: 0 };
    for (open, close, kind) in [('[', ']', SetKind::OneOf), ('{', '}', SetKind::AllOf)] {
        if cursor.eats(open) {
            let members = cursor.members(close)?;
            cursor.expect_finished()?;
            return Ok(Edtf::Set { kind, members });
        }
    }
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
        if self.eats_range() {
            Ok(End::Open)
        } else if self.rest().is_empty() || self.rest().starts_with('/') {
            Ok(End::Unknown)
        } else {
            self.date().map(End::Date)
        }
    }

    /// The members of a set, from behind its opening bracket to behind the closing one.
    fn members(&mut self, close: char) -> Result<Vec<Member>, EdtfError> {
        let mut members = Vec::new();
        loop {
            let member = self.member(members.is_empty())?;
            members.push(member);
            if self.eats(close) {
                return Ok(members);
            }
            if matches!(member, Member::From(_)) || !self.eats(',') {
                return Err(self.fault("a comma between members of the set or its closing bracket"));
            }
        }
    }

    fn member(&mut self, first: bool) -> Result<Member, EdtfError> {
        if first && self.eats_range() {
            return self.date().map(Member::UpTo);
        }
        let start = self.date()?;
        if !self.eats_range() {
            return Ok(Member::Date(start));
        }
        if self.rest().starts_with([',', ']', '}']) {
            return Ok(Member::From(start));
        }
        let before = self.at;
        let end = self.date()?;
        if start.precision() != end.precision() || start.earliest() > end.latest() {
            self.at = before;
            return Err(self.fault("a later date that names the same unit as the one before .."));
        }
        Ok(Member::Between(start, end))
    }

    fn eats_range(&mut self) -> bool {
        let found = self.rest().starts_with("..");
        self.at += if found { 2 } else { 0 };
        found
    }

    fn date(&mut self) -> Result<EdtfDate, EdtfError> {
        let year = self.component(Self::year)?;
        let mut date = EdtfDate {
            year,
            month: None,
            day: None,
        };
        if !year.value.is_four_digits() {
            return Ok(date);
        }
        for (unit, expected) in [(0, MONTH), (1, DAY)] {
            if !self.eats('-') {
                break;
            }
            let before = self.at;
            let component = Some(self.component(|cursor| cursor.digits_or_open(expected))?);
            if unit == 0 {
                date.month = component;
            } else {
                date.day = component;
            }
            if !date.exists() {
                self.at = before;
                return Err(self.fault(expected));
            }
        }
        Ok(date)
    }

    /// A component with the qualifications at its left and right.
    fn component<T>(
        &mut self,
        value: impl FnOnce(&mut Self) -> Result<T, EdtfError>,
    ) -> Result<Component<T>, EdtfError> {
        Ok(Component {
            before: self.qualification(),
            value: value(self)?,
            after: self.qualification(),
        })
    }

    fn year(&mut self) -> Result<Year, EdtfError> {
        const YEAR: &str = "a year of four digits, such as 1952, 195X or 19XX";
        if self.eats('Y') {
            return self.long_year();
        }
        let before = self.at;
        let negative = self.eats('-');
        let digits: Digits<4> = self.digits_or_open(YEAR)?;
        if negative && digits.0 == *b"0000" {
            self.at = before;
            return Err(self.fault("0000, for no year is before year 0 by nothing"));
        }
        if !self.eats('S') {
            return Ok(Year::Four { negative, digits });
        }
        let year = str::from_utf8(&digits.0)
            .ok()
            .and_then(|digits| digits.parse().ok());
        let year: i64 = year.ok_or_else(|| {
            self.at = before;
            self.fault("a year without open digits before S")
        })?;
        let year = if negative { -year } else { year };
        let digits = self.significant_digits(year)?;
        Ok(Year::Significant { year, digits })
    }

    /// What follows a Y.
    fn long_year(&mut self) -> Result<Year, EdtfError> {
        let before = self.at;
        let negative = self.eats('-');
        let mantissa = self.number().filter(|&mantissa| mantissa > 0);
        let exponent = if self.eats('E') {
            Some(self.number())
        } else {
            None
        };
        // An E without a number behind it spoils the year.
        let exponent_value = exponent.map_or(Some(0), |exponent| exponent);
        let year = mantissa
            .zip(exponent_value)
            .and_then(|(mantissa, exponent)| {
                let year = 10_i64
                    .checked_pow(exponent.try_into().ok()?)?
                    .checked_mul(mantissa)?;
                (5..=LONGEST_YEAR)
                    .contains(&digit_count(year))
                    .then_some((mantissa, exponent, year))
            });
        let Some((mantissa, exponent_value, year)) = year else {
            self.at = before;
            return Err(self.fault(LONG_YEAR));
        };
        let significant = if self.eats('S') {
            Some(self.significant_digits(year)?)
        } else {
            None
        };
        Ok(Year::Long {
            mantissa: if negative { -mantissa } else { mantissa },
            exponent: exponent.map(|_| exponent_value as u8),
            significant,
        })
    }

    /// At least one digit of the year and no more than it has.
    fn significant_digits(&mut self, year: i64) -> Result<u8, EdtfError> {
        let before = self.at;
        let count = self.number().and_then(|count| u8::try_from(count).ok());
        count
            .filter(|&count| count > 0 && u32::from(count) <= digit_count(year))
            .ok_or_else(|| {
                self.at = before;
                self.fault(SIGNIFICANT)
            })
    }

    /// A whole number without leading zeros.
    fn number(&mut self) -> Option<i64> {
        let rest = self.rest();
        let length = rest
            .find(|c: char| !c.is_ascii_digit())
            .unwrap_or(rest.len());
        let digits = &rest[..length];
        self.at += length;
        digits.parse().ok().filter(|_| !digits.starts_with('0'))
    }

    fn digits_or_open<const N: usize>(
        &mut self,
        expected: &'static str,
    ) -> Result<Digits<N>, EdtfError> {
        let digits = self
            .rest()
            .get(..N)
            .and_then(|digits| <[u8; N]>::try_from(digits.as_bytes()).ok())
            .filter(|digits| digits.iter().all(|&b| b.is_ascii_digit() || b == b'X'))
            .ok_or_else(|| self.fault(expected))?;
        self.at += N;
        Ok(Digits(digits))
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
        let day = date.earliest();
        let open = self.text[..self.at].contains('X');
        let known = !open && date.qualification() == Qualification::None;
        let Some(date) = day
            .date()
            .filter(|_| known && date.precision() == Precision::Day)
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
            date,
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
