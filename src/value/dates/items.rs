//! What one date is made of: its figures and names in their order, with what stands between them.

use super::Doubt;
use super::side::TypedYear;
use super::tokens::{Kind, Number, Token};
use super::words::{Sense, Senses};

/// A figure or a name, with the joint before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Item {
    pub(super) what: What,
    pub(super) joint: Joint,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum What {
    /// One or two digits: a day, a month or a short year.
    Figure(Number),
    Year(TypedYear),
    /// Ten years, or a hundred.
    Decade(TypedYear, Option<Doubt>),
    Month(i8),
    /// A part of the year by its EDTF code.
    Part(i8),
}

/// What stands between two items.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Joint {
    Nothing,
    Blank,
    /// The word, as in `1ST HALF OF 1952`.
    Of,
    /// `-`, `/`, `.` or `,`, with blanks or without.
    Sign(char),
}

/// A day, a month and a year; more belongs to two dates.
const MOST: usize = 3;
/// The words that need a figure from 1 to so many beside them, and the EDTF code of the first such part of the year.
const NUMBERED: [(Sense, i16, i8); 2] = [(Sense::Quarter, 4, 33), (Sense::Half, 2, 40)];

/// Puts figures and names together with what only stands between or behind them, and says whether a full stop closes
/// the last; none where the tokens are not one date.
pub(super) fn items(tokens: &[Token]) -> Option<(Vec<Item>, bool)> {
    let mut items: Vec<Item> = Vec::new();
    let mut joint = Joint::Nothing;
    let mut rest = tokens;
    while let Some((token, after)) = rest.split_first() {
        if token.spaced && joint == Joint::Nothing {
            joint = Joint::Blank;
        }
        rest = after;
        if let Some(next) = as_joint(token, joint) {
            if items.is_empty() {
                return None;
            }
            joint = next?;
            continue;
        }
        // "2Q", "2ND QUARTER", "2. QUARTAL": the figure stands before the word.
        if let (Kind::Word(senses), Some(figure)) = (token.kind, items.last().copied())
            && let Some(part) = part(senses, figure.what)
            && matches!(joint, Joint::Nothing | Joint::Blank | Joint::Sign('.'))
        {
            items.pop();
            items.push(Item {
                what: part,
                joint: figure.joint,
            });
        } else {
            let (what, after) = what(token, after)?;
            items.push(Item { what, joint });
            rest = after;
        }
        joint = Joint::Nothing;
    }
    // Only a full stop may end a date, behind an abbreviated month or the figures of a day or a month.
    let stopped = joint == Joint::Sign('.');
    let closes = matches!(items.last()?.what, What::Figure(_) | What::Month(_));
    let ends_well = joint == Joint::Nothing || stopped && closes;
    (ends_well && items.len() <= MOST).then_some((items, stopped))
}

/// The joint that a token makes of the one so far; nothing where the token is none, none inside where two of them are
/// a mistake. A full stop may close an abbreviation before another sign.
fn as_joint(token: &Token, so_far: Joint) -> Option<Option<Joint>> {
    let next = match token.kind {
        Kind::Sign(sign @ ('-' | '/' | '.' | ',')) => Joint::Sign(sign),
        Kind::Word(senses) if senses.has(Sense::Of) => Joint::Of,
        _ => return None,
    };
    let fits = match so_far {
        Joint::Nothing | Joint::Blank => true,
        Joint::Sign('.') => next != so_far,
        Joint::Of | Joint::Sign(_) => false,
    };
    Some(fits.then_some(next))
}

/// The figure or name that begins with the token, and the tokens behind it.
fn what<'a>(token: &Token, after: &'a [Token]) -> Option<(What, &'a [Token])> {
    let next = after.split_first();
    let number_next = next.and_then(|(next, behind)| match next.kind {
        Kind::Number(number) => Some((number, next.spaced, behind)),
        _ => None,
    });
    // What belongs to a figure stands right behind it.
    let suffix = |sense: Sense| {
        let (_, behind) = next.filter(|(next, _)| next.has(sense) && !next.spaced)?;
        Some(behind)
    };
    match token.kind {
        Kind::Number(number) => {
            if let (Some(_), Some(behind)) = (number.day(), suffix(Sense::Ordinal)) {
                return Some((What::Figure(number), behind));
            }
            if let (2 | 4, Some(behind)) = (number.digits, suffix(Sense::Decade)) {
                return Some((decade(number)?, behind));
            }
            let what = match number.digits {
                1 | 2 => What::Figure(number),
                4 => What::Year(TypedYear::Full {
                    year: number.value,
                    open_digits: number.open,
                }),
                _ => return None,
            };
            Some((what, after))
        }
        Kind::Sign('\'') => {
            let (number, spaced, behind) = number_next?;
            let year = number.short_year().filter(|_| !spaced)?;
            Some((What::Year(year), behind))
        }
        Kind::Sign(_) => None,
        Kind::Word(senses) => {
            if let Some(month) = senses.month() {
                return Some((What::Month(month), after));
            }
            if let Some(season) = senses.season() {
                return Some((What::Part(season), after));
            }
            let (number, _, behind) = number_next?;
            let what = if senses.has(Sense::Decades) {
                decade(number)?
            } else {
                part(senses, What::Figure(number))?
            };
            Some((what, behind))
        }
    }
}

/// The quarter or half that a word and the figure beside it name.
fn part(senses: Senses, figure: What) -> Option<What> {
    let What::Figure(number) = figure else {
        return None;
    };
    let (_, count, first) = NUMBERED
        .into_iter()
        .find(|&(sense, ..)| senses.has(sense))?;
    let within = number.digits == 1 && (1..=count).contains(&number.value);
    within.then(|| What::Part(first + number.value as i8 - 1))
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
