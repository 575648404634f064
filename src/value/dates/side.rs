//! One date as typed, perhaps without its year, month or day: everything that it may be.

use super::items::{Item, Joint, What, items};
use super::tokens::{Number, Token};
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

/// EDTF code of the season that lies in two years.
const WINTER: i8 = 24;
const DASH: Joint = Joint::Sign('-');

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
    let Some((items, stopped)) = items(tokens) else {
        return Vec::new();
    };
    let mut sides = meanings(&items, style);
    // Figures with a full stop behind them are a day or a month ("12.-15. MAR"), never a year.
    if stopped
        && matches!(
            items.last(),
            Some(Item {
                what: What::Figure(_),
                ..
            })
        )
    {
        sides.retain(|side| side.year.is_none());
    }
    for side in &mut sides {
        side.qualification = qualification;
    }
    sides
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
        [Month(m) | Part(m), Year(year)] => {
            vec![side().month(m).year(year).winter()]
        }
        [Year(year), Month(m) | Part(m)] if year.is_whole() => {
            vec![side().month(m).year(year).winter().year_first()]
        }
        // A winter of two years is named by the one that it begins in.
        [Part(WINTER), Year(year), Figure(next)]
            if matches!(joint(2), Joint::Sign('-' | '/')) && year.is_before(next) =>
        {
            vec![side().month(WINTER).year(year)]
        }
        [Part(WINTER), Figure(first), Figure(next)]
            if matches!(joint(2), Joint::Sign('-' | '/'))
                && next.value == (first.value + 1) % 100 =>
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
        [Year(year), Month(m), Figure(d)] if year.is_whole() => d
            .day()
            .map(|day| side().day(day).month(m).year(year).year_first())
            .into_iter()
            .collect(),
        [Figure(a), Figure(b), last] if joint(1) == joint(2) && between_figures(joint(1)) => {
            numeric(a, b, last, style)
        }
        [Year(year), Figure(m), Figure(d)] if joint(1) == joint(2) && between_figures(joint(1)) => {
            let known = m.month().zip(d.day());
            known
                .map(|(m, d)| side().day(d).month(m).year(year).year_first())
                .into_iter()
                .collect()
        }
        [Figure(m), Year(year)] if between_figures(joint(1)) => {
            let doubt = (joint(1) == DASH && m.digits == 2).then_some(Doubt::MonthOrYear);
            m.month()
                .map(|m| side().month(m).year(year).doubt(doubt))
                .into_iter()
                .collect()
        }
        // The end of "MAR 12-15, 1950".
        [Figure(d), Year(year)] if matches!(joint(1), Joint::Sign(',') | Joint::Blank) => d
            .day()
            .map(|day| side().day(day).year(year))
            .into_iter()
            .collect(),
        [Year(year), Figure(m)]
            if between_figures(joint(1)) && m.digits == 2 && year.is_whole() =>
        {
            m.month()
                .map(|m| side().month(m).year(year))
                .into_iter()
                .collect()
        }
        [Figure(a), Figure(b)] if between_figures(joint(1)) => two_figures(a, b, joint(1), style),
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
fn two_figures(a: Number, b: Number, joint: Joint, style: &DateStyle) -> Vec<Side> {
    // Two figures of two digits may be two years as well.
    let years = a.digits == 2 && b.value > a.value && (joint == DASH || b.value == a.value + 1);
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

fn between_figures(joint: Joint) -> bool {
    matches!(joint, Joint::Sign('-' | '/' | '.'))
}

impl TypedYear {
    /// Four digits, all known.
    fn is_whole(self) -> bool {
        matches!(self, Self::Full { open_digits: 0, .. })
    }

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
    pub(super) fn day(self) -> Option<i8> {
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
