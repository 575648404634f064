//! One date as typed, perhaps without its year, month or day: everything that it may be.

use super::tokens::{Kind, Number, Token};
use super::words::Sense;
use super::{DateOrder, DateStyle, Doubt};
use crate::value::Qualification;

/// One way to understand a date. What is missing is taken from the other date of the range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Side {
    pub(super) year: Option<TypedYear>,
    /// 1 to 12, or an EDTF part of the year from 21 to 41.
    pub(super) month: Option<i8>,
    pub(super) day: Option<i8>,
    pub(super) qualification: Qualification,
    pub(super) doubt: Option<Doubt>,
    /// The year was typed before the month, so that the other date may do without it.
    pub(super) year_first: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum TypedYear {
    Full {
        year: i16,
        open_digits: u8,
    },
    /// The last two digits.
    Short {
        within: i16,
        open_digits: u8,
    },
}

/// What a date is made of: figures and names in their order, each with the sign before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Item {
    what: What,
    /// `-`, `/`, `.`, `,`, a blank, or `\0` for nothing.
    joint: char,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum What {
    /// One or two digits: a day, a month or a short year.
    Figure(Number),
    Year(TypedYear),
    /// Ten years, or a hundred.
    Decade(TypedYear, Option<Doubt>),
    Month(i8),
    Part(i8),
}

/// First EDTF code of the quarters and of the halves of a year.
const FIRST_QUARTER: i8 = 33;
const FIRST_HALF: i8 = 40;
const WINTER: i8 = 24;

/// Every way to understand the tokens as one date, the most likely first.
pub(super) fn sides(tokens: &[Token], style: &DateStyle) -> Vec<Side> {
    let about = tokens.first().is_some_and(|token| token.has(Sense::About));
    let tokens = &tokens[usize::from(about)..];
    let uncertain = tokens.last().is_some_and(|token| token.is('?'));
    let tokens = &tokens[..tokens.len() - usize::from(uncertain)];
    let qualification = match (uncertain, about) {
        (false, false) => Qualification::None,
        (true, false) => Qualification::Uncertain,
        (false, true) => Qualification::Approximate,
        (true, true) => Qualification::UncertainAndApproximate,
    };
    let Some(items) = items(tokens) else {
        return Vec::new();
    };
    let mut sides = meanings(&items, style);
    for side in &mut sides {
        side.qualification = qualification;
    }
    sides
}

/// Puts figures and names together with what only stands between or behind them.
fn items(tokens: &[Token]) -> Option<Vec<Item>> {
    let mut items: Vec<Item> = Vec::new();
    let mut joint = '\0';
    let mut rest = tokens;
    while let Some((token, mut after)) = rest.split_first() {
        if token.spaced && joint == '\0' {
            joint = ' ';
        }
        let follows = |sense: Sense| after.first().is_some_and(|next| next.has(sense));
        let glued = after.first().is_some_and(|next| !next.spaced);
        let what = match token.kind {
            Kind::Sign(sign @ ('-' | '/' | '.' | ',')) => {
                // A full stop may close an abbreviation before another sign; two other signs are a mistake.
                if !matches!(joint, '\0' | ' ' | '.') || items.is_empty() {
                    return None;
                }
                joint = sign;
                rest = after;
                continue;
            }
            Kind::Sign('\'') => {
                let year = after.first()?;
                let Kind::Number(number @ Number { digits: 2, .. }) = year.kind else {
                    return None;
                };
                after = &after[1..];
                let open_digits = number.open;
                let short = TypedYear::Short {
                    within: number.value,
                    open_digits,
                };
                if year.spaced {
                    return None;
                }
                What::Year(short)
            }
            Kind::Sign(_) => return None,
            Kind::Number(number) if number.day().is_some() && follows(Sense::Ordinal) && glued => {
                after = &after[1..];
                What::Figure(number)
            }
            Kind::Number(number) if number.digits % 2 == 0 && follows(Sense::Decade) && glued => {
                after = &after[1..];
                decade(number)?
            }
            Kind::Number(number @ Number { digits: 4, .. }) => What::Year(TypedYear::Full {
                year: number.value,
                open_digits: number.open,
            }),
            Kind::Number(number @ Number { digits: 1 | 2, .. }) => What::Figure(number),
            Kind::Number(_) => return None,
            Kind::Word(senses) => {
                let numbered = [
                    (Sense::Quarter, FIRST_QUARTER, 4),
                    (Sense::Half, FIRST_HALF, 2),
                ];
                let numbered = numbered.into_iter().find(|&(sense, ..)| senses.has(sense));
                if let Some(month) = senses.month() {
                    What::Month(month)
                } else if let Some(season) = senses.season() {
                    What::Part(season)
                } else if let Some((_, first, count)) = numbered {
                    let part = |number: Number| {
                        let within = number.digits == 1 && (1..=count).contains(&number.value);
                        within.then(|| What::Part(first + number.value as i8 - 1))
                    };
                    // The figure stands before the word or behind it.
                    let before = items.last().copied().and_then(|item| match item.what {
                        What::Figure(number) if matches!(joint, '\0' | ' ' | '.') => part(number),
                        _ => None,
                    });
                    match (before, after.first().map(|next| next.kind)) {
                        (Some(part), _) => {
                            joint = items.pop()?.joint;
                            part
                        }
                        (None, Some(Kind::Number(number))) => {
                            after = &after[1..];
                            part(number)?
                        }
                        _ => return None,
                    }
                } else if senses.has(Sense::Decades) && items.is_empty() {
                    let (Kind::Number(number), behind) = after
                        .split_first()
                        .map(|(next, behind)| (next.kind, behind))?
                    else {
                        return None;
                    };
                    after = behind;
                    decade(number)?
                } else if senses.has(Sense::Of) && !items.is_empty() {
                    joint = ' ';
                    rest = after;
                    continue;
                } else {
                    return None;
                }
            }
        };
        items.push(Item { what, joint });
        joint = '\0';
        rest = after;
    }
    // Only a full stop may end a date, behind an abbreviated month or the figures of a day or a month.
    let last = items.last()?;
    let closes = matches!(last.what, What::Figure(_) | What::Month(_));
    let ends_well = joint == '\0' || joint == '.' && closes;
    (ends_well && items.len() <= 3).then_some(items)
}

/// `1950S`, `50S`, `ANNÉES 50`; `1900S` may be ten years or a hundred.
fn decade(number: Number) -> Option<What> {
    if number.open > 0 || number.value % 10 != 0 {
        return None;
    }
    match number.digits {
        2 => Some(What::Decade(
            TypedYear::Short {
                within: number.value,
                open_digits: 1,
            },
            None,
        )),
        4 if number.value % 100 == 0 => Some(What::Decade(
            TypedYear::Full {
                year: number.value,
                open_digits: 2,
            },
            Some(Doubt::DecadeOrCentury),
        )),
        4 => Some(What::Decade(
            TypedYear::Full {
                year: number.value,
                open_digits: 1,
            },
            None,
        )),
        _ => None,
    }
}

fn meanings(items: &[Item], style: &DateStyle) -> Vec<Side> {
    use What::{Decade, Figure, Month, Part, Year};
    let whats: Vec<What> = items.iter().map(|item| item.what).collect();
    let joint = |index: usize| items[index].joint;
    match whats[..] {
        [Year(year)] => vec![side().year(year)],
        [Decade(year, doubt)] => vec![side().year(year).doubt(doubt)],
        [Figure(n)] => [
            n.short_year().map(|year| side().year(year)),
            n.day().map(|d| side().day(d)),
        ]
        .into_iter()
        .flatten()
        .collect(),
        [Month(m) | Part(m)] => vec![side().month(m)],
        [Month(m), Year(year)] | [Part(m), Year(year)] => {
            vec![side().month(m).year(year).winter()]
        }
        [Year(year), Month(m)] | [Year(year), Part(m)] => {
            vec![side().month(m).year(year).winter().year_first()]
        }
        // A winter of two years is named by the one that it begins in.
        [Part(WINTER), Year(year), Figure(next)]
            if matches!(joint(2), '-' | '/') && year.is_before(next) =>
        {
            vec![side().month(WINTER).year(year)]
        }
        [Part(WINTER), Figure(first), Figure(next)]
            if matches!(joint(2), '-' | '/') && next.value == (first.value + 1) % 100 =>
        {
            from_year(first, side().month(WINTER))
        }
        [Part(m), Figure(y)] => from_year(y, side().month(m).winter()),
        // A figure that is no day of a month may still be a year, and the other way round.
        [Month(m), Figure(n)] => {
            let mut sides = from_year(n, side().month(m));
            sides.extend(n.day().map(|day| side().month(m).day(day)));
            sides
        }
        [Figure(n), Month(m)] => n
            .day()
            .map(|day| side().month(m).day(day))
            .into_iter()
            .collect(),
        [Figure(d), Month(m), Year(year)] | [Month(m), Figure(d), Year(year)] => d
            .day()
            .map(|day| side().day(day).month(m).year(year))
            .into_iter()
            .collect(),
        [Figure(d), Month(m), Figure(y)] | [Month(m), Figure(d), Figure(y)] => d
            .day()
            .map(|day| from_year(y, side().day(day).month(m)))
            .unwrap_or_default(),
        [Year(year), Month(m), Figure(d)] => d
            .day()
            .map(|day| side().day(day).month(m).year(year).year_first())
            .into_iter()
            .collect(),
        [Figure(a), Figure(b), last]
            if joint(1) == joint(2) && matches!(joint(1), '-' | '/' | '.') =>
        {
            numeric(a, b, last, style)
        }
        [Year(year), Figure(m), Figure(d)]
            if joint(1) == joint(2) && matches!(joint(1), '-' | '/' | '.') =>
        {
            let known = m.month().zip(d.day());
            known
                .map(|(m, d)| side().day(d).month(m).year(year).year_first())
                .into_iter()
                .collect()
        }
        [Figure(m), Year(year)] if matches!(joint(1), '-' | '/' | '.') => {
            let doubt = (joint(1) == '-' && m.digits == 2).then_some(Doubt::MonthOrYear);
            m.month()
                .map(|m| side().month(m).year(year).doubt(doubt))
                .into_iter()
                .collect()
        }
        // The end of "MAR 12-15, 1950".
        [Figure(d), Year(year)] if matches!(joint(1), ',' | ' ') => d
            .day()
            .map(|day| side().day(day).year(year))
            .into_iter()
            .collect(),
        [Year(year), Figure(m)] if matches!(joint(1), '-' | '/' | '.') && m.digits == 2 => m
            .month()
            .map(|m| side().month(m).year(year))
            .into_iter()
            .collect(),
        [Figure(a), Figure(b)] if matches!(joint(1), '-' | '/' | '.') => {
            two_figures(a, b, joint(1), style)
        }
        _ => Vec::new(),
    }
}

/// Day, month and year in figures, in the style's order where that is a date, else in the order that is.
fn numeric(a: Number, b: Number, last: What, style: &DateStyle) -> Vec<Side> {
    let (year, figure) = match last {
        What::Year(year) => (Some(year), None),
        What::Figure(figure) => (figure.short_year(), Some(figure)),
        _ => return Vec::new(),
    };
    let day_month = a.day().zip(b.month());
    let month_day = b.day().zip(a.month());
    let ordered = match style.order {
        DateOrder::DayMonth => [day_month, month_day],
        DateOrder::MonthDay => [month_day, day_month],
    };
    let doubt = (day_month.is_some() && month_day.is_some() && a.value != b.value)
        .then_some(Doubt::DayOrMonth);
    if let (Some(year), Some((day, month))) = (year, ordered.into_iter().flatten().next()) {
        return vec![side().day(day).month(month).year(year).doubt(doubt)];
    }
    // "52-03-12": only a year can come first.
    let year_first = a
        .short_year()
        .zip(b.month())
        .zip(figure.and_then(Number::day));
    let year_first =
        year_first.map(|((year, month), day)| side().day(day).month(month).year(year).year_first());
    year_first.into_iter().collect()
}

/// `03/52`: a month and a year, or, before another date that has a year, a day and a month.
fn two_figures(a: Number, b: Number, joint: char, style: &DateStyle) -> Vec<Side> {
    // Two figures of two digits may be two years as well.
    let years = a.digits == 2 && b.value > a.value && (joint == '-' || b.value == a.value + 1);
    let doubt = years.then_some(Doubt::MonthOrYear);
    let mut sides: Vec<Side> = a
        .month()
        .map(|month| from_year(b, side().month(month).doubt(doubt)))
        .unwrap_or_default();
    let both = [(a, b), (b, a)].map(|(day, month)| day.day().zip(month.month()));
    let doubt =
        (both[0].is_some() && both[1].is_some() && a.value != b.value).then_some(Doubt::DayOrMonth);
    let ordered = match style.order {
        DateOrder::DayMonth => both[0].or(both[1]),
        DateOrder::MonthDay => both[1].or(both[0]),
    };
    sides.extend(ordered.map(|(day, month)| side().day(day).month(month).doubt(doubt)));
    sides
}

fn from_year(figure: Number, side: Side) -> Vec<Side> {
    figure
        .short_year()
        .map(|year| side.year(year))
        .into_iter()
        .collect()
}

fn side() -> Side {
    Side {
        year: None,
        month: None,
        day: None,
        qualification: Qualification::None,
        doubt: None,
        year_first: false,
    }
}

impl Side {
    fn year(self, year: TypedYear) -> Self {
        Self {
            year: Some(year),
            ..self
        }
    }

    fn month(self, month: i8) -> Self {
        Self {
            month: Some(month),
            ..self
        }
    }

    fn day(self, day: i8) -> Self {
        Self {
            day: Some(day),
            ..self
        }
    }

    fn year_first(self) -> Self {
        Self {
            year_first: true,
            ..self
        }
    }

    fn doubt(self, doubt: Option<Doubt>) -> Self {
        Self {
            doubt: self.doubt.max(doubt),
            ..self
        }
    }

    /// A winter with one year may begin or end in it.
    fn winter(self) -> Self {
        let doubt = (self.month == Some(WINTER)).then_some(Doubt::Winter);
        self.doubt(doubt)
    }
}

impl TypedYear {
    /// Whether a figure of two digits ends the year after this one.
    fn is_before(self, next: Number) -> bool {
        let year = match self {
            Self::Full { year, .. } => year,
            Self::Short { within, .. } => within,
        };
        next.digits == 2 && next.value == (year + 1) % 100
    }
}

impl Number {
    fn day(self) -> Option<i8> {
        (1..=31).contains(&self.value).then_some(self.value as i8)
    }

    fn month(self) -> Option<i8> {
        (1..=12).contains(&self.value).then_some(self.value as i8)
    }

    /// Two digits as the end of a year.
    pub(super) fn short_year(self) -> Option<TypedYear> {
        (self.digits == 2).then_some(TypedYear::Short {
            within: self.value,
            open_digits: 0,
        })
    }
}
