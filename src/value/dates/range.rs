//! From the ways to understand each date to one value: which reading holds, in which century, in which order.

use super::side::{Side, TypedYear, sides};
use super::tokens::{Kind, Number, Token};
use super::words::Sense;
use super::{DateStyle, Doubt, TypedDates};
use crate::value::{Edtf, EdtfDate, End};

/// Why tokens are no dates, the most telling reason last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Fault {
    NotUnderstood,
    NoSuchDay,
    OutOfOrder,
}

/// Last day of the longest months.
const LAST_DAY: i16 = 31;

type Dated = (EdtfDate, Option<Doubt>);

pub(super) fn read(tokens: &[Token], style: &DateStyle) -> Result<TypedDates, Fault> {
    if let [only] = tokens
        && only.has(Sense::Unknown)
    {
        let edtf = Edtf::Date(EdtfDate::new(0, 4, None, None).ok_or(Fault::NotUnderstood)?);
        return Ok(TypedDates { edtf, doubt: None });
    }
    if let Some((first, rest)) = tokens.split_first()
        && first.has(Sense::Fiscal)
    {
        return fiscal(rest, style);
    }
    let whole = |tokens: &[Token], style: &DateStyle| {
        let (date, doubt) = single(tokens, style)?;
        Ok(TypedDates {
            edtf: Edtf::Date(date),
            doubt,
        })
    };
    type Attempt = fn(&[Token], &DateStyle) -> Result<TypedDates, Fault>;
    // "1952-03" and "1952/53" are two years before they are a year and a month.
    let attempts: [Attempt; 3] = if year_and_figure(tokens) {
        [between, whole, open_ended]
    } else {
        [whole, open_ended, between]
    };
    let attempts = if three_figures(tokens) {
        &[whole as Attempt][..]
    } else {
        &attempts[..]
    };
    let mut fault = Fault::NotUnderstood;
    for attempt in attempts {
        match attempt(tokens, style) {
            Ok(dates) => return Ok(dates),
            Err(other) => fault = fault.max(other),
        }
    }
    Err(fault)
}

fn year_and_figure(tokens: &[Token]) -> bool {
    let digits = |token: &Token, count: u8| matches!(token.kind, Kind::Number(Number { digits, .. }) if digits == count);
    matches!(tokens, [year, sign, figure]
        if digits(year, 4) && (sign.is('-') || sign.is('/')) && digits(figure, 2))
}

/// Three figures with the same sign between them are one date and never a range, so that a day that the calendar does
/// not have is found.
fn three_figures(tokens: &[Token]) -> bool {
    let figure = |token: &Token| matches!(token.kind, Kind::Number(_));
    matches!(tokens, [a, first, b, second, c]
        if figure(a) && figure(b) && figure(c) && first.kind == second.kind)
}

/// One whole date.
fn single(tokens: &[Token], style: &DateStyle) -> Result<Dated, Fault> {
    let mut fault = Fault::NotUnderstood;
    for side in sides(tokens, style) {
        let Some(year) = side.year else { continue };
        let ((year, open_digits), doubt) = style.place(year);
        match dated(&side, year, open_digits) {
            Some(date) => return Ok((date, side.doubt.max(doubt))),
            None if side.day.is_some() && side.month.is_some() => fault = Fault::NoSuchDay,
            None => {}
        }
    }
    Err(fault)
}

/// A range with one date: everything up to it or from it on.
fn open_ended(tokens: &[Token], style: &DateStyle) -> Result<TypedDates, Fault> {
    let (first, behind) = tokens.split_first().ok_or(Fault::NotUnderstood)?;
    let (last, before) = tokens.split_last().ok_or(Fault::NotUnderstood)?;
    let has = |token: &Token, sense: Sense| token.has(sense);
    let from = has(first, Sense::From);
    let onward = has(last, Sense::Onward) || last.is('-');
    // What is at the other end, and whether the date is the range's last.
    let (date, other, is_last) = if has(first, Sense::UpTo) || first.is('-') {
        (behind, End::Open, true)
    } else if has(first, Sense::Before) {
        (behind, End::Unknown, true)
    } else if has(first, Sense::After) {
        (behind, End::Unknown, false)
    } else if onward {
        (
            &before[usize::from(from).min(before.len())..],
            End::Open,
            false,
        )
    } else if from {
        (behind, End::Open, false)
    } else {
        return Err(Fault::NotUnderstood);
    };
    let (date, doubt) = single(date, style)?;
    let (start, end) = if is_last {
        (other, End::Date(date))
    } else {
        (End::Date(date), other)
    };
    let edtf = Edtf::interval(start, end).ok_or(Fault::OutOfOrder)?;
    Ok(TypedDates { edtf, doubt })
}

/// Two dates with a word or a sign between them.
fn between(tokens: &[Token], style: &DateStyle) -> Result<TypedDates, Fault> {
    let first = tokens.first().ok_or(Fault::NotUnderstood)?;
    let joined_by_and = first.has(Sense::Between);
    let led = joined_by_and || first.has(Sense::From);
    let tokens = &tokens[usize::from(led)..];
    let mut fault = Fault::NotUnderstood;
    for at in splits(tokens, joined_by_and) {
        let (left, right) = (sides(&tokens[..at], style), sides(&tokens[at + 1..], style));
        // Dates of the same precision belong together more likely than others.
        for same_precision in [true, false] {
            for (left, right) in left
                .iter()
                .flat_map(|left| right.iter().map(move |right| (left, right)))
            {
                let Some((left, right)) = completed(*left, *right) else {
                    continue;
                };
                if (left.precision() == right.precision()) != same_precision {
                    continue;
                }
                match interval(&left, &right, tokens[at].kind, style) {
                    Ok(dates) => return Ok(dates),
                    Err(other) => fault = fault.max(other),
                }
            }
        }
    }
    Err(fault)
}

/// Where the first date may end, the most telling places first.
fn splits(tokens: &[Token], joined_by_and: bool) -> Vec<usize> {
    let rank = |at: usize| {
        let token = &tokens[at];
        let blank_behind = tokens.get(at + 1).is_some_and(|next| next.spaced);
        if token.has(Sense::To) || joined_by_and && token.has(Sense::And) {
            Some(0)
        } else if token.is('-') && token.spaced && blank_behind {
            Some(1)
        } else if token.is('-') {
            Some(2)
        } else {
            token.is('/').then_some(3)
        }
    };
    let mut places: Vec<(i32, usize)> = (0..tokens.len())
        .filter_map(|at| Some((rank(at)?, at)))
        .collect();
    places.sort_unstable();
    places.into_iter().map(|(_, at)| at).collect()
}

/// Both dates with what one takes from the other: `JAN-MAR 1952`, `12-15 MAR 1950`, `MAR 12-15, 1950`, `1952 JAN-MAR`.
fn completed(mut left: Side, mut right: Side) -> Option<(Side, Side)> {
    let (left_day, right_day) = (left.day.is_some(), right.day.is_some());
    if left.month.is_none() && left_day {
        left.month = right.month.filter(|_| right_day);
    } else if right.month.is_none() && right_day {
        right.month = left.month.filter(|_| left_day);
    }
    if right.year.is_none() {
        right.year = left
            .year
            .filter(|_| left.year_first && right.month.is_some());
    } else if left.year.is_none() {
        left.year = right.year;
    }
    let whole = |side: &Side| side.year.is_some() && side.day.is_none_or(|_| side.month.is_some());
    (whole(&left) && whole(&right)).then_some((left, right))
}

fn interval(
    left: &Side,
    right: &Side,
    joint: Kind,
    style: &DateStyle,
) -> Result<TypedDates, Fault> {
    let (Some(first), Some(second)) = (left.year, right.year) else {
        return Err(Fault::NotUnderstood);
    };
    // Beside a month or a day, two figures alone are a year only where they can be nothing else.
    let lone = |side: &Side| match side.year {
        Some(TypedYear::Short { within, .. }) if side.month.is_none() => {
            within <= LAST_DAY || joint == Kind::Sign('/')
        }
        _ => false,
    };
    if left.precision() != right.precision() && (lone(left) || lone(right)) {
        return Err(Fault::NotUnderstood);
    }
    let mut doubt = left.doubt.max(right.doubt);
    let (mut first_year, first_doubt) = style.place(first);
    doubt = doubt.max(first_doubt);
    if let (TypedYear::Short { within, .. }, TypedYear::Full { year, .. }) = (first, second) {
        // The last year that ends so and is not after the second.
        first_year.0 = year - (year - within).rem_euclid(100);
    }
    let second_year = match second {
        TypedYear::Full { year, open_digits } => (year, open_digits),
        TypedYear::Short {
            within,
            open_digits,
        } => {
            // The first year that ends so and is not before the first.
            let year = first_year.0 + (within - first_year.0).rem_euclid(100);
            // A decade begins before the year that it is counted from.
            let year = if open_digits > 0 {
                first_year.0 / 100 * 100 + within
            } else {
                year
            };
            let years_alone = left.month.is_none() && right.month.is_none();
            if years_alone && matches!(first, TypedYear::Full { .. }) {
                doubt = doubt.max(second_year_doubt(first_year.0, within, joint));
            } else if year / 100 != first_year.0 / 100 {
                doubt = doubt.max(Some(Doubt::NextCentury));
            }
            (year, open_digits)
        }
    };
    let missing = |side: &Side| match side.day {
        Some(_) => Fault::NoSuchDay,
        None => Fault::NotUnderstood,
    };
    let start = dated(left, first_year.0, first_year.1).ok_or(missing(left))?;
    let end = dated(right, second_year.0, second_year.1).ok_or(missing(right))?;
    let one_school_year = joint == Kind::Sign('/')
        && left.month.is_none()
        && matches!(second, TypedYear::Short { open_digits: 0, .. })
        && second_year.0 == first_year.0 + 1
        && first_year.1 == 0;
    if one_school_year {
        let doubt = doubt.max(Some(Doubt::SchoolYear));
        let edtf = year_across(first_year.0, style).ok_or(Fault::NotUnderstood)?;
        return Ok(TypedDates { edtf, doubt });
    }
    let edtf = Edtf::interval(End::Date(start), End::Date(end)).ok_or(Fault::OutOfOrder)?;
    Ok(TypedDates { edtf, doubt })
}

/// What may be wrong about the two digits behind a whole year.
fn second_year_doubt(first: i16, within: i16, joint: Kind) -> Option<Doubt> {
    let month = (1..=12).contains(&within) && matches!(joint, Kind::Sign(_));
    let next_century = within < first % 100;
    if month {
        Some(Doubt::SecondYearOrMonth)
    } else {
        next_century.then_some(Doubt::NextCentury)
    }
}

/// What follows the words for a school or fiscal year: one year, two with a sign between, or a range of such years.
fn fiscal(tokens: &[Token], style: &DateStyle) -> Result<TypedDates, Fault> {
    if let Ok((date, doubt)) = single(tokens, style) {
        let year = date.earliest().year as i16;
        let whole = date == EdtfDate::new(year, 0, None, None).ok_or(Fault::NotUnderstood)?;
        if !whole || year == 0 {
            return Err(Fault::NotUnderstood);
        }
        if style.fiscal_year_begins == Some(1) {
            return Ok(TypedDates {
                edtf: Edtf::Date(date),
                doubt,
            });
        }
        let edtf = year_across(year - 1, style).ok_or(Fault::NotUnderstood)?;
        return Ok(TypedDates {
            edtf,
            doubt: doubt.max(Some(Doubt::FiscalYear)),
        });
    }
    let mut dates = between(tokens, style)?;
    if let Edtf::Interval {
        start: End::Date(start),
        end: End::Date(end),
    } = &dates.edtf
        && end.earliest().year == start.earliest().year + 1
        && [start, end].iter().all(|date| **date == whole_year(date))
    {
        let year = start.earliest().year as i16;
        dates.edtf = year_across(year, style).ok_or(Fault::NotUnderstood)?;
    }
    dates.doubt = dates.doubt.max(Some(Doubt::FiscalYear));
    Ok(dates)
}

fn whole_year(date: &EdtfDate) -> EdtfDate {
    EdtfDate::new(date.earliest().year as i16, 0, None, None).unwrap_or(*date)
}

/// The twelve months that begin in a year and end in the next; both years where nobody said when they begin.
fn year_across(first: i16, style: &DateStyle) -> Option<Edtf> {
    let months = style.fiscal_year_begins.filter(|&month| month > 1);
    let (start, end) = (months, months.map(|month| month - 1));
    Edtf::interval(
        End::Date(EdtfDate::new(first, 0, start, None)?),
        End::Date(EdtfDate::new(first + 1, 0, end, None)?),
    )
}

fn dated(side: &Side, year: i16, open_digits: u8) -> Option<EdtfDate> {
    let date = EdtfDate::new(year, open_digits, side.month, side.day)?;
    Some(date.qualified(side.qualification))
}

impl Side {
    /// Whether it names a month and a day.
    fn precision(&self) -> (bool, bool) {
        (self.month.is_some(), self.day.is_some())
    }
}

impl DateStyle {
    /// The year that was typed and how many of its digits are open, and the doubt that two digits leave.
    fn place(&self, year: TypedYear) -> ((i16, u8), Option<Doubt>) {
        match year {
            TypedYear::Full { year, open_digits } => ((year, open_digits), None),
            TypedYear::Short {
                within,
                open_digits,
            } => {
                let year = self.window + (within - self.window).rem_euclid(100);
                ((year, open_digits), Some(Doubt::TwoDigitYear))
            }
        }
    }
}
