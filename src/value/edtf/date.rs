//! One EDTF date: a year, perhaps with a month or part of the year, perhaps with a day.

use super::day::{Day, days_in_month};
use std::fmt;
use std::iter;
use std::ops::BitOr;

/// A date to the day, the month, the part of the year or the year; any digit may be left open, any component qualified.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct EdtfDate {
    pub(super) year: Component<Year>,
    /// 01 to 12, or a part of the year from 21 to 41, which has no day.
    pub(super) month: Option<Component<Digits<2>>>,
    pub(super) day: Option<Component<Digits<2>>>,
}

/// How far a component is to be trusted.
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
    /// A season, quarter, third or half of a year.
    PartOfYear,
    Month,
    Day,
    Second,
}

/// A year, month or day with what is written at its left and right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Component<T> {
    pub(super) value: T,
    /// Holds for this component alone.
    pub(super) before: Qualification,
    /// Holds for this component and all at its left.
    pub(super) after: Qualification,
}

/// Decimal digits, each `0` to `9` or `X` where it is left open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Digits<const N: usize>(pub(super) [u8; N]);

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Year {
    /// `1985`, `-1985`, `19XX`
    Four { negative: bool, digits: Digits<4> },
    /// `1950S2`: as many digits as are significant, counted from the first that is not zero.
    Significant { year: i64, digits: u8 },
    /// `Y170000002`, `Y-17E7`, `Y3388E2S3`
    Long {
        mantissa: i64,
        exponent: Option<u8>,
        significant: Option<u8>,
    },
}

/// First month and number of months of the parts of the year from code 21 on.
///
/// Quarters, thirds and halves follow from their names. The seasons are whole months, as meteorologists count them
/// (common practice), and those without a place are taken as northern ones, as PyPI edtf 5.0.2 takes them; it ends winter with
/// December, here winter goes on to the end of February of the next year.
const PARTS_OF_YEAR: [(i8, i8); 21] = [
    (3, 3),
    (6, 3),
    (9, 3),
    (12, 3),
    // Northern hemisphere.
    (3, 3),
    (6, 3),
    (9, 3),
    (12, 3),
    // Southern hemisphere.
    (9, 3),
    (12, 3),
    (3, 3),
    (6, 3),
    // Quarters.
    (1, 3),
    (4, 3),
    (7, 3),
    (10, 3),
    // Quadrimesters.
    (1, 4),
    (5, 4),
    (9, 4),
    // Semesters.
    (1, 6),
    (7, 6),
];
/// The code of the first of them.
const FIRST_PART: i64 = 21;

impl<const N: usize> Digits<N> {
    /// The digits of a number, the last `open` left open; none where it has more digits.
    fn of(number: i64, open: u8) -> Option<Self> {
        let text = format!("{number:0N$}");
        let known = N.checked_sub(open.into())?;
        let mut digits: [u8; N] = text.as_bytes().try_into().ok()?;
        digits[known..].fill(b'X');
        Some(Self(digits))
    }

    fn matches(self, number: i64) -> bool {
        let fits = |rest: i64, digit: u8| {
            let this = digit == b'X' || i64::from(digit - b'0') == rest % 10;
            this.then_some(rest / 10)
        };
        self.0
            .iter()
            .rev()
            .try_fold(number, |rest, &digit| fits(rest, digit))
            == Some(0)
    }

    /// Every number that it may be, rising or falling.
    fn numbers(self, falling: bool) -> impl Iterator<Item = i64> {
        let open = self.0.iter().filter(|&&digit| digit == b'X').count();
        let count = 10_i64.pow(open as u32);
        (0..count).map(move |nth| {
            let mut fill = if falling { count - 1 - nth } else { nth };
            let mut unit = 1;
            self.0.iter().rev().fold(0, |number, &digit| {
                let value = if digit == b'X' {
                    let last = fill % 10;
                    fill /= 10;
                    last
                } else {
                    i64::from(digit - b'0')
                };
                unit *= 10;
                number + value * unit / 10
            })
        })
    }

    /// The number, where no digit is left open.
    fn known(self) -> Option<i64> {
        self.0.iter().try_fold(0, |number, &digit| {
            (digit != b'X').then(|| number * 10 + i64::from(digit - b'0'))
        })
    }
}

impl<const N: usize> fmt::Display for Digits<N> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0
            .iter()
            .try_for_each(|&digit| write!(f, "{}", char::from(digit)))
    }
}

/// The first month and the number of months of a part of the year.
pub(super) fn part_of_year(code: Digits<2>) -> Option<(i8, i8)> {
    let place = usize::try_from(code.known()? - FIRST_PART).ok()?;
    PARTS_OF_YEAR.get(place).copied()
}

impl Year {
    pub(super) fn is_four_digits(self) -> bool {
        matches!(self, Self::Four { .. })
    }

    /// Every year that it may mean, of those that are not of four digits only the last or the first; the last first
    /// where `falling`.
    fn years(self, falling: bool) -> Box<dyn Iterator<Item = i64>> {
        match self {
            Self::Four {
                negative: false,
                digits,
            } => Box::new(digits.numbers(falling)),
            Self::Four {
                negative: true,
                digits,
            } => Box::new(digits.numbers(!falling).map(|year| -year)),
            Self::Significant { year, digits } => {
                Box::new(iter::once(edge(year, Some(digits), falling)))
            }
            Self::Long {
                mantissa,
                exponent,
                significant,
            } => {
                let year = mantissa * 10_i64.pow(exponent.unwrap_or(0).into());
                Box::new(iter::once(edge(year, significant, falling)))
            }
        }
    }
}

/// The first or the last year that has the same significant digits.
fn edge(year: i64, significant: Option<u8>, last: bool) -> i64 {
    let Some(significant) = significant else {
        return year;
    };
    let unit = 10_i64.pow(digit_count(year).saturating_sub(significant.into()));
    let nearest_zero = year / unit * unit;
    let farthest = nearest_zero + year.signum() * (unit - 1);
    if last == (year > 0) {
        farthest
    } else {
        nearest_zero
    }
}

pub(super) fn digit_count(number: i64) -> u32 {
    number
        .unsigned_abs()
        .checked_ilog10()
        .map_or(1, |log| log + 1)
}

impl fmt::Display for Year {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Four { negative, digits } => {
                write!(f, "{}{digits}", if negative { "-" } else { "" })
            }
            Self::Significant { year, digits } => {
                let sign = if year < 0 { "-" } else { "" };
                write!(f, "{sign}{:04}S{digits}", year.abs())
            }
            Self::Long {
                mantissa,
                exponent,
                significant,
            } => {
                write!(f, "Y{mantissa}")?;
                exponent.map_or(Ok(()), |exponent| write!(f, "E{exponent}"))?;
                significant.map_or(Ok(()), |digits| write!(f, "S{digits}"))
            }
        }
    }
}

impl<T> Component<T> {
    fn plain(value: T) -> Self {
        Self {
            value,
            before: Qualification::None,
            after: Qualification::None,
        }
    }
}

impl<T: fmt::Display> fmt::Display for Component<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}{}", self.before, self.value, self.after)
    }
}

impl EdtfDate {
    /// A date of the years 0 to 9999; none where the calendar has no such date.
    ///
    /// The last `open_digits` of the year (0 to 4) are left open. The month is 1 to 12, or a season or other part of
    /// the year from 21 to 41, which has no day.
    pub fn new(year: i16, open_digits: u8, month: Option<i8>, day: Option<i8>) -> Option<Self> {
        let two = |number: i8| Digits::of(number.into(), 0).map(Component::plain);
        let optional =
            |number: Option<i8>| number.map_or(Some(None), |number| two(number).map(Some));
        if year < 0 || day.is_some() && month.is_none() {
            return None;
        }
        let date = Self {
            year: Component::plain(Year::Four {
                negative: false,
                digits: Digits::of(year.into(), open_digits)?,
            }),
            month: optional(month)?,
            day: optional(day)?,
        };
        date.exists().then_some(date)
    }

    /// The whole date qualified, in place of any qualification before.
    pub fn qualified(mut self, qualification: Qualification) -> Self {
        self.year = Component::plain(self.year.value);
        self.month = self.month.map(|month| Component::plain(month.value));
        self.day = self.day.map(|day| Component::plain(day.value));
        let last = match (&mut self.day, &mut self.month) {
            (Some(last), _) | (None, Some(last)) => &mut last.after,
            (None, None) => &mut self.year.after,
        };
        *last = qualification;
        self
    }

    /// Everything that is uncertain or approximate about any of its components.
    pub fn qualification(&self) -> Qualification {
        let of = |component: Option<Component<Digits<2>>>| {
            component.map_or(Qualification::None, |c| c.before | c.after)
        };
        self.year.before | self.year.after | of(self.month) | of(self.day)
    }

    pub fn precision(&self) -> Precision {
        match (self.month, self.day) {
            (None, _) => Precision::Year,
            (_, Some(_)) => Precision::Day,
            (Some(month), None) if part_of_year(month.value).is_some() => Precision::PartOfYear,
            _ => Precision::Month,
        }
    }

    /// The first day it may mean; a qualification moves nothing.
    pub fn earliest(&self) -> Day {
        self.extreme(false).expect("a date that exists")
    }

    /// The last day it may mean; a qualification moves nothing.
    pub fn latest(&self) -> Day {
        self.extreme(true).expect("a date that exists")
    }

    /// Whether the calendar has a day that it may mean.
    pub(super) fn exists(&self) -> bool {
        self.extreme(false).is_some()
    }

    /// The first or the last day it may mean, found by trying the open digits in their order.
    fn extreme(&self, last: bool) -> Option<Day> {
        let mut years = self.year.value.years(last);
        years.find_map(|year| self.extreme_in_year(year, last))
    }

    fn extreme_in_year(&self, year: i64, last: bool) -> Option<Day> {
        if let Some((month, count)) = self.month.and_then(|month| part_of_year(month.value)) {
            let months = i64::from(month) + if last { i64::from(count) - 2 } else { -1 };
            let (year, month) = (year + months / 12, (months % 12 + 1) as i8);
            let edge = if last {
                Day::end_of_month(year, month)
            } else {
                Day {
                    year,
                    month,
                    day: 1,
                }
            };
            return self.day.is_none().then_some(edge);
        }
        let fits = |component: Option<Component<Digits<2>>>, n: i8| {
            component.is_none_or(|component| component.value.matches(n.into()))
        };
        let in_order =
            |highest: i8| (1..=highest).map(move |n| if last { highest + 1 - n } else { n });
        in_order(12)
            .filter(|&month| fits(self.month, month))
            .find_map(|month| {
                let day = in_order(days_in_month(year, month)).find(|&day| fits(self.day, day))?;
                Some(Day { year, month, day })
            })
    }
}

impl fmt::Display for EdtfDate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.year.fmt(f)?;
        for component in [self.month, self.day].into_iter().flatten() {
            write!(f, "-{component}")?;
        }
        Ok(())
    }
}

impl fmt::Display for Qualification {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::None => "",
            Self::Uncertain => "?",
            Self::Approximate => "~",
            Self::UncertainAndApproximate => "%",
        })
    }
}

/// Both together.
impl BitOr for Qualification {
    type Output = Self;

    fn bitor(self, other: Self) -> Self {
        match (self, other) {
            (Self::None, other) => other,
            (this, Self::None) => this,
            (this, other) if this == other => this,
            _ => Self::UncertainAndApproximate,
        }
    }
}
