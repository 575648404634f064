//! One column of the roster, prepared: what was typed against every value that occurs in it.

use super::fold;
use super::names::{self, Forenames};
use super::slips::Slips;
use super::whole::{self, Whole};
use super::{Agreement, ColumnKind};

/// Probability that what was read has nothing to do with what any person's field would hold: a wrong cut of the
/// line, a stain. Measured misreadings are bimodal, right or garbage, and this share keeps probabilities honest.
const GARBAGE: f64 = 0.01;
/// Garbage spells its characters evenly from about this many, and ends after about ten.
const GARBAGE_CHARACTERS: f64 = 32.0;
const GARBAGE_LENGTHS: f64 = 10.0;
/// Very long values are improbable beyond what floating point holds; no column's ratio is let go above `MOST`, so that a
/// product over many columns stays finite.
const LEAST: f64 = 1e-300;
const MOST: f64 = 1e30;

/// Probability that the strip says something else about the same person, by kind: a name changed by marriage, a
/// number given anew, a year of another file. Common practice, no source.
fn other_value(kind: ColumnKind) -> f64 {
    match kind {
        ColumnKind::Surname => 0.01,
        ColumnKind::Forenames => 0.01,
        ColumnKind::Code => 0.003,
        ColumnKind::Year => 0.03,
        ColumnKind::Text => 0.05,
    }
}

#[derive(Debug)]
pub struct Column {
    name: String,
    kind: ColumnKind,
    values: Values,
}

#[derive(Debug)]
enum Values {
    Whole(Whole),
    Forenames(Forenames),
}

/// What was typed, compared with all values of a column.
#[derive(Debug)]
pub struct Compared {
    typed: String,
    /// Natural log of P(typed | somebody not in the roster) / P(typed | garbage): how much more it looks like a value
    /// of this column than any string of its length does.
    pub ln_lift: f64,
    /// The largest ratio any row can have.
    pub best: f64,
    ratios: Ratios,
}

#[derive(Debug)]
enum Ratios {
    /// Nothing was typed: every row is as probable as before.
    Silent,
    Whole(whole::Compared),
    Forenames(names::Compared),
}

/// How garbage and other values soften a likelihood ratio.
#[derive(Debug, Clone, Copy)]
pub struct Softening {
    other: f64,
    /// P(typed | garbage) / P(typed | population).
    garbage: f64,
}

impl Softening {
    pub fn new(kind: ColumnKind, typed: &str, population: f64) -> Self {
        let length = typed.chars().count() as i32;
        let garbage = GARBAGE_CHARACTERS.powi(-length) / GARBAGE_LENGTHS;
        Self {
            other: other_value(kind),
            garbage: (garbage / population.max(LEAST)).max(LEAST),
        }
    }

    /// Natural log of P(typed | population or garbage) / P(typed | garbage).
    fn ln_lift(self) -> f64 {
        ((1.0 - GARBAGE) / self.garbage + GARBAGE).ln()
    }

    /// `ratio` = P(typed | row) / P(typed | population), both without garbage.
    pub fn soften(self, ratio: f64) -> f64 {
        let garbage = GARBAGE * self.garbage;
        let numerator = (1.0 - self.other - GARBAGE) * ratio + self.other + garbage;
        (numerator / (1.0 - GARBAGE + garbage)).min(MOST)
    }
}

impl Column {
    pub fn prepare<'a>(name: &str, kind: ColumnKind, cells: impl Iterator<Item = &'a str>) -> Self {
        let values = match kind {
            ColumnKind::Forenames => Values::Forenames(Forenames::prepare(cells)),
            _ => Values::Whole(Whole::prepare(kind, cells)),
        };
        Self {
            name: name.to_owned(),
            kind,
            values,
        }
    }

    pub fn name(&self) -> &str {
        &self.name
    }

    pub fn kind(&self) -> ColumnKind {
        self.kind
    }

    /// Whether a row's ratio is a mere look-up.
    pub fn is_quick(&self) -> bool {
        matches!(self.values, Values::Whole(_))
    }

    pub fn compare(&self, typed: &str, slips: Slips) -> Compared {
        let silent = Compared {
            typed: typed.to_owned(),
            ln_lift: 0.0,
            best: 1.0,
            ratios: Ratios::Silent,
        };
        let (softening, best, ratios) = match &self.values {
            Values::Whole(whole) => match whole.compare(self.kind, typed, slips) {
                Some(found) => (found.softening, found.best, Ratios::Whole(found)),
                None => return silent,
            },
            Values::Forenames(forenames) => match forenames.compare(typed, slips) {
                Some(found) => (found.softening, found.best, Ratios::Forenames(found)),
                None => return silent,
            },
        };
        Compared {
            ln_lift: softening.ln_lift(),
            best,
            ratios,
            ..silent
        }
    }

    /// Whether the row says anything in this column.
    pub fn has_value(&self, row: usize) -> bool {
        match &self.values {
            Values::Whole(whole) => whole.has_value(row),
            Values::Forenames(forenames) => forenames.has_value(row),
        }
    }

    /// P(typed | row) / P(typed | somebody not in the roster).
    pub fn ratio(&self, compared: &Compared, row: usize) -> f64 {
        match (&self.values, &compared.ratios) {
            (Values::Whole(whole), Ratios::Whole(ratios)) => whole.ratio(ratios, row),
            (Values::Forenames(forenames), Ratios::Forenames(ratios)) => {
                forenames.ratio(ratios, row)
            }
            _ => 1.0,
        }
    }

    /// How a value agrees with the row's, apart from any weight.
    pub fn agreement(&self, row: usize, value: &str) -> Agreement {
        match &self.values {
            Values::Whole(whole) => whole.agreement(self.kind, row, value),
            Values::Forenames(forenames) => forenames.agreement(row, value),
        }
    }

    /// The row's value, given as `cell`, in the form in which `value` was typed.
    pub fn as_typed_like(&self, row: usize, cell: &str, value: &str) -> Option<String> {
        match (&self.values, self.kind) {
            (Values::Forenames(forenames), _) => forenames.as_typed_like(row, value),
            (_, ColumnKind::Year) => {
                let is_plain = value.chars().all(char::is_alphanumeric) && value.len() >= 3;
                let year = fold::year(cell).filter(|_| is_plain)?;
                Some(format!("{year:04}"))
            }
            _ => Some(cell.to_owned()),
        }
    }

    /// The ratio, and the words for it.
    pub fn explain(&self, compared: &Compared, row: usize) -> (f64, String) {
        let ratio = self.ratio(compared, row);
        let name = &self.name;
        if matches!(compared.ratios, Ratios::Silent) {
            return (ratio, format!("{name} is not on the strip"));
        }
        let words = match &self.values {
            Values::Whole(whole) => whole.words(self.kind, name, &compared.typed, row, ratio),
            Values::Forenames(forenames) => forenames.words(name, &compared.typed, row, ratio),
        };
        (ratio, words)
    }
}
