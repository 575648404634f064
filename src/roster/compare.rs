//! One column of the roster, prepared: what was typed against every value that occurs in it.

use super::fold::{self, Generation};
use super::names::{self, Forenames};
use super::slips::{Slips, Word};
use super::spelling::{CodeForm, Spelling};
use super::{Agreement, ColumnKind};
use std::collections::HashMap;

/// The row has no value in this column.
const NO_VALUE: u32 = u32::MAX;
/// Probability that what was read has nothing to do with what any person's field would hold: a wrong cut of the
/// line, a stain. Measured misreadings are bimodal, right or garbage, and this share keeps probabilities honest.
const GARBAGE: f64 = 0.01;
/// Garbage spells its characters evenly from about this many, and ends after about ten.
const GARBAGE_CHARACTERS: f64 = 32.0;
const GARBAGE_LENGTHS: f64 = 10.0;
/// A half of a double surname stands alone on the strip this often.
const HALF_ALONE: f64 = 0.03;
/// Both name a generation, and not the same one.
const GENERATION_DIFFERS: f64 = 0.02;
/// Only one of strip and roster names a generation.
const GENERATION_MISSING: f64 = 0.2;
/// Off by one (a record opened in December), and other digits misread or swapped, in years.
const YEAR_OFF_BY_ONE: f64 = 0.01;
const YEAR_DIGIT: f64 = 0.015;
const YEAR_SWAPPED: f64 = 0.003;
/// Years outside the roster's own spread evenly over about two centuries.
const YEAR_ELSEWHERE: f64 = 0.1 / 200.0;

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

/// Values compared as wholes: each distinct one once, and which one each row has.
#[derive(Debug)]
struct Whole {
    rows: Vec<u32>,
    distinct: Vec<Value>,
    /// Halves of double surnames with the value they belong to.
    halves: Vec<(Word, u32)>,
    population: Population,
    filled: f64,
}

#[derive(Debug, Clone)]
struct Value {
    /// As the file has it, where it first stands.
    raw: String,
    word: Word,
    generation: Option<Generation>,
    count: u32,
}

/// What people outside the roster would have here.
#[derive(Debug)]
enum Population {
    /// Known values as often as in the roster; the rest spelled alike. `unseen` is the rest's share (Good 1953:
    /// the share of values seen once).
    Names {
        spelling: Spelling,
        unseen: f64,
    },
    Codes(CodeForm),
    Years,
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
    /// By distinct value.
    Whole(Vec<f32>),
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
    fn new(kind: ColumnKind, typed: &str, population: f64) -> Self {
        let length = typed.chars().count() as i32;
        let garbage = GARBAGE_CHARACTERS.powi(-length) / GARBAGE_LENGTHS;
        Self {
            other: other_value(kind),
            garbage: garbage / population.max(f64::MIN_POSITIVE),
        }
    }

    /// Natural log of P(typed | population or garbage) / P(typed | garbage).
    fn ln_lift(self) -> f64 {
        ((1.0 - GARBAGE) / self.garbage + GARBAGE).ln()
    }

    /// `ratio` = P(typed | row) / P(typed | population), both without garbage.
    pub fn soften(self, ratio: f64) -> f64 {
        let garbage = GARBAGE * self.garbage;
        ((1.0 - self.other - GARBAGE) * ratio + self.other + garbage) / (1.0 - GARBAGE + garbage)
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
        match &self.values {
            Values::Whole(whole) => whole.compare(self.kind, typed, slips),
            Values::Forenames(forenames) => {
                let words = fold::words(typed);
                if words.is_empty() {
                    return Compared::silent(typed);
                }
                let mut compared = forenames.compare(&words, slips);
                let population = compared.ln_population.exp();
                let softening = Softening::new(self.kind, &words.concat(), population);
                compared.softening = Some(softening);
                Compared {
                    typed: typed.to_owned(),
                    ln_lift: softening.ln_lift(),
                    best: softening.soften(compared.best).max(1.0),
                    ratios: Ratios::Forenames(compared),
                }
            }
        }
    }

    /// Whether the row says anything in this column.
    pub fn has_value(&self, row: usize) -> bool {
        match &self.values {
            Values::Whole(whole) => whole.rows[row] != NO_VALUE,
            Values::Forenames(forenames) => forenames.has_value(row),
        }
    }

    /// P(typed | row) / P(typed | somebody not in the roster).
    pub fn ratio(&self, compared: &Compared, row: usize) -> f64 {
        match (&self.values, &compared.ratios) {
            (Values::Whole(whole), Ratios::Whole(ratios)) => match whole.rows[row] {
                NO_VALUE => 1.0,
                value => f64::from(ratios[value as usize]),
            },
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
            Values::Whole(whole) => whole.words(self.kind, name, compared, row, ratio),
            Values::Forenames(forenames) => forenames.words(name, &compared.typed, row, ratio),
        };
        (ratio, words)
    }
}

impl Compared {
    fn silent(typed: &str) -> Self {
        Self {
            typed: typed.to_owned(),
            ln_lift: 0.0,
            best: 1.0,
            ratios: Ratios::Silent,
        }
    }
}

impl Whole {
    fn prepare<'a>(kind: ColumnKind, cells: impl Iterator<Item = &'a str>) -> Self {
        let mut ids: HashMap<(String, Option<Generation>), u32> = HashMap::new();
        let mut whole = Self {
            rows: Vec::new(),
            distinct: Vec::new(),
            halves: Vec::new(),
            population: Population::Years,
            filled: 0.0,
        };
        for cell in cells {
            let (letters, generation, halves) = fold_for(kind, cell);
            if letters.is_empty() {
                whole.rows.push(NO_VALUE);
                continue;
            }
            whole.filled += 1.0;
            let fresh = whole.distinct.len() as u32;
            let id = *ids
                .entry((letters, generation))
                .or_insert_with_key(|(letters, _)| {
                    whole.distinct.push(Value {
                        raw: cell.to_owned(),
                        word: Word::new(letters.clone()),
                        generation,
                        count: 0,
                    });
                    fresh
                });
            if id == fresh {
                let halves = halves.into_iter().map(|half| (Word::new(half), id));
                whole.halves.extend(halves);
            }
            whole.distinct[id as usize].count += 1;
            whole.rows.push(id);
        }
        let texts = whole
            .distinct
            .iter()
            .map(|v| (v.word.text.as_str(), v.count));
        whole.population = match kind {
            ColumnKind::Year => Population::Years,
            ColumnKind::Code => Population::Codes(CodeForm::learn(texts)),
            _ => Population::Names {
                spelling: Spelling::learn(texts.clone().map(|(text, _)| text)),
                unseen: unseen(texts.map(|(_, count)| count)),
            },
        };
        whole
    }

    fn compare(&self, kind: ColumnKind, typed: &str, slips: Slips) -> Compared {
        let (letters, generation, _) = fold_for(kind, typed);
        if letters.is_empty() {
            return Compared::silent(typed);
        }
        let word = Word::new(letters);
        let edited = |edits: Option<usize>, word: &Word| {
            edits.map_or(0.0, |edits| slips.probability(edits, word.len()))
        };
        let misread = match &self.population {
            Population::Codes(form) => form.misread_share(&word.text),
            _ => 1.0,
        };
        let mut near: Vec<(u32, f64)> = Vec::new();
        for (value, id) in self.distinct.iter().zip(0..) {
            let probability = match kind {
                ColumnKind::Year => year_probability(&value.word.text, &word.text),
                ColumnKind::Code => match value.word.code_edits(&word) {
                    Some(0) => edited(Some(0), &value.word),
                    edits => misread * edited(edits, &value.word),
                },
                _ => edited(value.word.edits(&word), &value.word),
            };
            if probability > 0.0 {
                let same = generation_probability(value.generation, generation);
                near.push((id, probability * same));
            }
        }
        for (half, id) in &self.halves {
            let probability = edited(half.edits(&word), half);
            if probability > 0.0 {
                near.push((*id, probability * HALF_ALONE));
            }
        }
        let population = self.population(&word.text, &near);
        let softening = Softening::new(kind, &word.text, population);
        let far = softening.soften(0.0);
        let mut ratios = vec![far as f32; self.distinct.len()];
        let mut best = far.max(1.0);
        for (id, probability) in near {
            let ratio = softening.soften(probability / population);
            let slot = &mut ratios[id as usize];
            *slot = slot.max(ratio as f32);
            best = best.max(ratio);
        }
        Compared {
            typed: typed.to_owned(),
            ln_lift: softening.ln_lift(),
            best,
            ratios: Ratios::Whole(ratios),
        }
    }

    /// P(typed | somebody not in the roster).
    fn population(&self, typed: &str, near: &[(u32, f64)]) -> f64 {
        let known = || {
            near.iter()
                .map(|&(id, p)| f64::from(self.distinct[id as usize].count) * p)
                .sum::<f64>()
                / self.filled.max(1.0)
        };
        match &self.population {
            Population::Codes(form) => form.probability(typed),
            Population::Years => known() + YEAR_ELSEWHERE,
            Population::Names { spelling, unseen } => {
                (1.0 - unseen) * known() + unseen * spelling.probability(typed)
            }
        }
        .max(f64::MIN_POSITIVE)
    }

    fn agreement(&self, kind: ColumnKind, row: usize, value: &str) -> Agreement {
        let (letters, generation, _) = fold_for(kind, value);
        if letters.is_empty() || self.rows[row] == NO_VALUE {
            return Agreement::Silent;
        }
        let held = &self.distinct[self.rows[row] as usize];
        if letters == held.word.text && generation == held.generation {
            Agreement::Full
        } else {
            Agreement::NotFull
        }
    }

    fn words(
        &self,
        kind: ColumnKind,
        name: &str,
        compared: &Compared,
        row: usize,
        ratio: f64,
    ) -> String {
        let typed = &compared.typed;
        if self.rows[row] == NO_VALUE {
            return format!("the roster has no {name}");
        }
        let value = &self.distinct[self.rows[row] as usize];
        let (letters, generation, _) = fold_for(kind, typed);
        let both = format!("{typed} / {}", value.raw);
        if kind == ColumnKind::Year {
            return match year_relation(&value.word.text, &letters) {
                YearRelation::Same => format!("{name} agrees"),
                YearRelation::Off => format!("{name} is off by one: {both}"),
                YearRelation::Digit => format!("{name} agrees but for one digit: {both}"),
                YearRelation::Swapped => {
                    format!("{name} agrees but for two digits swapped: {both}")
                }
                YearRelation::Other => format!("{name} differs: {both}"),
            };
        }
        let names = matches!(kind, ColumnKind::Surname | ColumnKind::Text);
        let share = f64::from(value.count) / self.filled;
        let kind_of = if names {
            names::rarity(share, self.filled)
        } else {
            ""
        };
        let unit = if kind == ColumnKind::Code {
            "character"
        } else {
            "letter"
        };
        let word = Word::new(letters);
        let edits = match kind {
            ColumnKind::Code => value.word.code_edits(&word),
            _ => value.word.edits(&word),
        };
        let half = self
            .halves
            .iter()
            .any(|(half, id)| *id == self.rows[row] && half.edits(&word).is_some());
        match edits {
            Some(0) if generation != value.generation => {
                format!("{name} agrees, but not junior or senior: {both}")
            }
            Some(0) if value.raw.eq_ignore_ascii_case(typed) => format!("{kind_of}{name} agrees"),
            Some(0) => format!("{kind_of}{name} agrees but for accents, blanks or signs: {both}"),
            Some(1) if is_swap(&value.word.text, &word.text) => {
                format!("{kind_of}{name} agrees but for two {unit}s swapped: {both}")
            }
            Some(1) => format!("{kind_of}{name} agrees but for one {unit}: {both}"),
            Some(more) => format!("{kind_of}{name} agrees but for {more} {unit}s: {both}"),
            None if half => format!("{name} is half of a double name: {both}"),
            None if ratio > 0.5 => format!("{name} cannot be made out: {both}"),
            None => format!("{name} differs: {both}"),
        }
    }
}

fn fold_for(kind: ColumnKind, text: &str) -> (String, Option<Generation>, Vec<String>) {
    match kind {
        ColumnKind::Surname => {
            let name = fold::surname(text);
            (name.letters, name.generation, name.halves)
        }
        ColumnKind::Year => {
            let year = fold::year(text).map(|year| format!("{year:04}"));
            (year.unwrap_or_default(), None, Vec::new())
        }
        _ => (fold::code(text), None, Vec::new()),
    }
}

fn is_swap(a: &str, b: &str) -> bool {
    let differ: Vec<_> = a.chars().zip(b.chars()).filter(|(x, y)| x != y).collect();
    matches!(differ[..], [(a, b), (c, d)] if a == d && b == c) && a.len() == b.len()
}

fn generation_probability(row: Option<Generation>, typed: Option<Generation>) -> f64 {
    match (row, typed) {
        (Some(a), Some(b)) if a != b => GENERATION_DIFFERS,
        (Some(_), None) | (None, Some(_)) => GENERATION_MISSING,
        _ => 1.0,
    }
}

/// The share of values that nobody in the roster has, by Good and Turing: the share of rows whose value occurs once.
pub fn unseen(counts: impl Iterator<Item = u32>) -> f64 {
    let (mut once, mut all) = (0.0, 0.0);
    for count in counts {
        all += f64::from(count);
        once += if count == 1 { 1.0 } else { 0.0 };
    }
    ((once + 1.0) / (all + 2.0)).clamp(0.01, 0.9)
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum YearRelation {
    Same,
    Off,
    Digit,
    Swapped,
    Other,
}

/// Years in four digits.
fn year_relation(row: &str, typed: &str) -> YearRelation {
    let number = |text: &str| text.parse::<i32>().unwrap_or(0);
    let wrong = row
        .bytes()
        .zip(typed.bytes())
        .filter(|(a, b)| a != b)
        .count();
    match (number(row) - number(typed)).abs() {
        0 => YearRelation::Same,
        1 => YearRelation::Off,
        _ if wrong == 1 => YearRelation::Digit,
        _ if is_swap(row, typed) => YearRelation::Swapped,
        _ => YearRelation::Other,
    }
}

fn year_probability(row: &str, typed: &str) -> f64 {
    // A misread digit: one of four places, one of nine others.
    let digit = YEAR_DIGIT / 36.0;
    match year_relation(row, typed) {
        YearRelation::Same => 1.0 - 2.0 * YEAR_OFF_BY_ONE - YEAR_DIGIT - YEAR_SWAPPED,
        YearRelation::Off => YEAR_OFF_BY_ONE + digit,
        YearRelation::Digit => digit,
        // Swapped: one of three pairs of neighbours.
        YearRelation::Swapped => YEAR_SWAPPED / 3.0,
        YearRelation::Other => 0.0,
    }
}
