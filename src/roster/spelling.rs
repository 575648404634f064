//! How probable a value is for somebody who is not in the roster, learnt from the roster's own values.

use crate::value::CheckScheme;
use std::collections::HashMap;

/// Spelling of names: which letter follows which, with word ends.
#[derive(Debug, Clone)]
pub struct Spelling {
    /// ln P(next | previous) for letters, and the boundary as index 0.
    next: Vec<f64>,
}

/// Letters A to Z, everything else, and the word's end.
const SYMBOLS: usize = 28;
/// Counts added to every pair before learning, shared out by how often the second letter occurs at all.
const PAIR_SMOOTHING: f64 = 5.0;
/// A symbol that stands for all characters beyond A to Z is one of about this many.
const OTHER_CHARACTERS: f64 = 40.0;

impl Spelling {
    /// Learns from distinct values.
    pub fn learn<'a>(values: impl Iterator<Item = &'a str> + Clone) -> Self {
        let mut pairs = vec![0.0; SYMBOLS * SYMBOLS];
        let mut single = [1.0; SYMBOLS];
        for value in values {
            for (from, to) in steps(value) {
                pairs[from * SYMBOLS + to] += 1.0;
                single[to] += 1.0;
            }
        }
        let all: f64 = single.iter().sum();
        for row in pairs.chunks_mut(SYMBOLS) {
            let total: f64 = row.iter().sum::<f64>() + PAIR_SMOOTHING;
            for (cell, count) in row.iter_mut().zip(single) {
                *cell = ((*cell + PAIR_SMOOTHING * count / all) / total).ln();
            }
            row[SYMBOLS - 1] -= OTHER_CHARACTERS.ln();
        }
        Self { next: pairs }
    }

    pub fn probability(&self, value: &str) -> f64 {
        steps(value)
            .map(|(from, to)| self.next[from * SYMBOLS + to])
            .sum::<f64>()
            .exp()
    }
}

/// Pairs of neighbouring symbols, the word's boundary (0) at both ends.
fn steps(value: &str) -> impl Iterator<Item = (usize, usize)> {
    let symbols = value.chars().map(|c| match c {
        'A'..='Z' => c as usize - 'A' as usize + 1,
        _ => SYMBOLS - 1,
    });
    let to = symbols.clone().chain(std::iter::once(0));
    std::iter::once(0).chain(symbols).zip(to)
}

/// Form of codes: how long they are, which characters stand at which place, and a check character if they have one.
/// A client whose numbers run from 100000 to 103000 gives numbers of that range to newcomers too.
#[derive(Debug, Clone)]
pub struct CodeForm {
    lengths: HashMap<usize, f64>,
    /// (length, place, character) with its share among codes of that length.
    places: HashMap<(usize, usize, char), f64>,
    check: Option<CheckScheme>,
    total: f64,
}

/// Codes have a check character when at least this share of the roster's fit a scheme; by chance 1 in 10 would.
const CHECKED_SHARE: f64 = 0.95;
/// Different codes that it takes to say so: by chance, so many fit one scheme or another of a dozen once in a thousand
/// rosters.
const FEWEST_CODES: usize = 4;
/// Probability that a code on a strip fails its check (misread, or typed wrong).
const CHECK_FAILS: f64 = 0.05;
/// Letters and digits.
const CODE_CHARACTERS: f64 = 36.0;

impl CodeForm {
    pub fn learn<'a>(codes: impl Iterator<Item = (&'a str, u32)> + Clone) -> Self {
        let mut form = Self {
            lengths: HashMap::new(),
            places: HashMap::new(),
            check: None,
            total: codes.clone().map(|(_, count)| f64::from(count)).sum(),
        };
        for (code, count) in codes.clone() {
            let length = code.chars().count();
            *form.lengths.entry(length).or_default() += f64::from(count);
            for (place, c) in code.chars().enumerate() {
                *form.places.entry((length, place, c)).or_default() += f64::from(count);
            }
        }
        let most_failing = (1.0 - CHECKED_SHARE) * form.total;
        form.check = CheckScheme::ALL.into_iter().find(|scheme| {
            let fails = |(code, _): &(&str, u32)| !scheme.holds(code);
            // Most schemes are out after a few rows.
            let mut failing = codes
                .clone()
                .filter(fails)
                .scan(0.0, |failing, (_, count)| {
                    *failing += f64::from(count);
                    Some(*failing)
                });
            let mut holding = codes.clone().filter(|(code, _)| scheme.holds(code));
            failing.all(|n| n <= most_failing) && holding.nth(FEWEST_CODES - 1).is_some()
        });
        form
    }

    /// The share of misread codes that could still be `code`: where its check character fits, few misreadings
    /// would have made it so.
    pub fn misread_share(&self, code: &str) -> f64 {
        match &self.check {
            Some(scheme) if scheme.holds(code) => 1.0 / scheme.forms(),
            _ => 1.0,
        }
    }

    pub fn probability(&self, code: &str) -> f64 {
        let characters: Vec<char> = code.chars().collect();
        let length = characters.len();
        let of_length = self.lengths.get(&length).copied().unwrap_or(0.0);
        let mut probability = (of_length + 0.5) / (self.total + 1.0);
        let fitting = self.check.as_ref().filter(|scheme| scheme.holds(code));
        // What the check characters must be, the others decide.
        let free = length - fitting.map_or(0, CheckScheme::check_length);
        for (place, &c) in characters.iter().take(free).enumerate() {
            let seen = self.places.get(&(length, place, c)).copied().unwrap_or(0.0);
            probability *= (seen + 1.0 / CODE_CHARACTERS) / (of_length + 1.0);
        }
        match self.check {
            Some(_) if fitting.is_none() => probability * CHECK_FAILS,
            _ => probability,
        }
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
