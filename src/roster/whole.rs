//! Values compared as wholes: surnames, codes, years, other text.

use super::compare::Softening;
use super::fold::{self, Generation};
use super::names;
use super::slips::{Slips, Word, is_swap};
use super::spelling::{CodeForm, Spelling, unseen};
use super::years::{self, Relation};
use super::{Agreement, ColumnKind};
use std::collections::HashMap;

/// The row has no value in this column.
const NO_VALUE: u32 = u32::MAX;
/// A half of a double surname stands alone on the strip this often.
const HALF_ALONE: f64 = 0.03;
/// Both name a generation, and not the same one.
const GENERATION_DIFFERS: f64 = 0.02;
/// Only one of strip and roster names a generation.
const GENERATION_MISSING: f64 = 0.2;
/// Values compared as wholes: each distinct one once, and which one each row has.
#[derive(Debug)]
pub struct Whole {
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

/// What was typed, compared with every distinct value.
#[derive(Debug)]
pub struct Compared {
    /// P(typed | value) / P(typed | somebody not in the roster), by distinct value.
    ratios: Vec<f32>,
    pub softening: Softening,
    /// The largest ratio any row can have.
    pub best: f64,
}

impl Whole {
    pub fn prepare<'a>(kind: ColumnKind, cells: impl Iterator<Item = &'a str>) -> Self {
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

    /// `None` where there is nothing to compare.
    pub fn compare(&self, kind: ColumnKind, typed: &str, slips: Slips) -> Option<Compared> {
        let (letters, generation, _) = fold_for(kind, typed);
        if letters.is_empty() {
            return None;
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
                ColumnKind::Year => years::probability(&value.word.text, &word.text),
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
        Some(Compared {
            ratios,
            softening,
            best,
        })
    }

    pub fn has_value(&self, row: usize) -> bool {
        self.rows[row] != NO_VALUE
    }

    pub fn ratio(&self, compared: &Compared, row: usize) -> f64 {
        match self.rows[row] {
            NO_VALUE => 1.0,
            value => f64::from(compared.ratios[value as usize]),
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
            Population::Years => known() + years::ELSEWHERE,
            Population::Names { spelling, unseen } => {
                (1.0 - unseen) * known() + unseen * spelling.probability(typed)
            }
        }
        .max(f64::MIN_POSITIVE)
    }

    pub fn agreement(&self, kind: ColumnKind, row: usize, value: &str) -> Agreement {
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

    pub fn words(
        &self,
        kind: ColumnKind,
        name: &str,
        typed: &str,
        row: usize,
        ratio: f64,
    ) -> String {
        if self.rows[row] == NO_VALUE {
            return format!("the roster has no {name}");
        }
        let value = &self.distinct[self.rows[row] as usize];
        let (letters, generation, _) = fold_for(kind, typed);
        let both = format!("{typed} / {}", value.raw);
        if kind == ColumnKind::Year {
            return match years::relation(&value.word.text, &letters) {
                Relation::Same => format!("{name} agrees"),
                Relation::Off => format!("{name} is off by one: {both}"),
                Relation::Digit => format!("{name} agrees but for one digit: {both}"),
                Relation::Swapped => {
                    format!("{name} agrees but for two digits swapped: {both}")
                }
                Relation::Other => format!("{name} differs: {both}"),
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

fn generation_probability(row: Option<Generation>, typed: Option<Generation>) -> f64 {
    match (row, typed) {
        (Some(a), Some(b)) if a != b => GENERATION_DIFFERS,
        (Some(_), None) | (None, Some(_)) => GENERATION_MISSING,
        _ => 1.0,
    }
}
