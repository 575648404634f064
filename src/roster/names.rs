//! Forenames: several words, of which a strip may give all, some, or initials, in another order now and then.

use super::compare::Softening;
use super::fold;
use super::slips::{Slips, Word};
use super::spelling::{Spelling, unseen};
use super::{Agreement, ColumnKind};
use std::collections::HashMap;

/// How a word of the roster stands on a strip when it stands there: in full, or as its initial.
const IN_FULL: f64 = 0.7;
const AS_INITIAL: f64 = 0.25;
/// Under another spelling of the same name: a short form, a variant.
const AS_VARIANT: f64 = 0.02;
/// A name has about this many other spellings, so that each has its part of `AS_VARIANT`.
const VARIANTS: f64 = 20.0;
/// Jaro-Winkler similarity from which a word counts as another spelling (CATH / CATHERINE has 0.889).
const VARIANT_SIMILARITY: f64 = 0.88;
const VARIANT_LETTERS: usize = 3;
/// The first forename, and each later one, is left out on the strip this often. Common practice, no source.
const FIRST_DROPPED: f64 = 0.02;
const LATER_DROPPED: f64 = 0.35;
/// The strip has a forename that the roster lacks, for each place where one may stand.
const ADDED: f64 = 0.03;
/// Forenames stand in another order.
const REORDERED: f64 = 0.02;
/// Forenames beyond these are not compared.
const MOST_WORDS: usize = 5;
/// From this many rows on a name can be called rare or common, and at these shares of them.
const RARITY_ROWS: f64 = 500.0;
const RARE_SHARE: f64 = 0.001;
const COMMON_SHARE: f64 = 0.005;

/// "rare ", "common " or nothing, for the words of a reason.
pub fn rarity(share: f64, rows: f64) -> &'static str {
    match rows >= RARITY_ROWS {
        true if share <= RARE_SHARE => "rare ",
        true if share >= COMMON_SHARE => "common ",
        _ => "",
    }
}

/// A column of forenames, prepared.
#[derive(Debug)]
pub struct Forenames {
    dictionary: Vec<(Word, u32)>,
    /// All rows' words, as indices into the dictionary.
    words: Vec<u32>,
    /// Where each row's words end in `words`.
    ends: Vec<u32>,
    spelling: Spelling,
    unseen: f64,
    /// Share of dictionary words, by how often they occur, that begin with a letter.
    initials: HashMap<char, f64>,
    total: f64,
    /// Share of rows with so many words.
    lengths: [f64; MOST_WORDS + 1],
}

/// What was typed, compared with the dictionary.
#[derive(Debug)]
pub struct Compared {
    /// For each typed word, P(typed | dictionary word) / P(typed | population), by dictionary index.
    ratios: Vec<Vec<f32>>,
    /// P(so many words typed | population).
    length: f64,
    pub softening: Softening,
    /// The largest ratio any row can have.
    pub best: f64,
}

impl Forenames {
    pub fn prepare<'a>(cells: impl Iterator<Item = &'a str>) -> Self {
        let mut ids: HashMap<String, u32> = HashMap::new();
        let mut dictionary: Vec<(Word, u32)> = Vec::new();
        let (mut words, mut ends) = (Vec::new(), Vec::new());
        let mut lengths = [0.0; MOST_WORDS + 1];
        for cell in cells {
            let mut count = 0;
            for word in fold::words(cell).into_iter().take(MOST_WORDS) {
                let id = *ids.entry(word).or_insert_with_key(|word| {
                    dictionary.push((Word::new(word.clone()), 0));
                    dictionary.len() as u32 - 1
                });
                dictionary[id as usize].1 += 1;
                words.push(id);
                count += 1;
            }
            lengths[count] += 1.0;
            ends.push(words.len() as u32);
        }
        // Rows without forenames say nothing about how many a person has.
        lengths[0] = 0.0;
        let filled = lengths.iter().sum::<f64>().max(1.0);
        lengths.iter_mut().for_each(|share| *share /= filled);
        let total = (words.len() as f64).max(1.0);
        let mut initials: HashMap<char, f64> = HashMap::new();
        for (word, count) in &dictionary {
            if let Some(first) = word.text.chars().next() {
                *initials.entry(first).or_default() += f64::from(*count) / total;
            }
        }
        Self {
            spelling: Spelling::learn(dictionary.iter().map(|(word, _)| word.text.as_str())),
            unseen: unseen(dictionary.iter().map(|(_, count)| *count)),
            dictionary,
            words,
            ends,
            initials,
            total,
            lengths,
        }
    }

    /// `None` where there is nothing to compare.
    pub fn compare(&self, typed: &str, slips: Slips) -> Option<Compared> {
        let mut typed = fold::words(typed);
        typed.truncate(MOST_WORDS);
        if typed.is_empty() {
            return None;
        }
        let mut ln_population = 0.0;
        let mut ratios = Vec::with_capacity(typed.len());
        for word in &typed {
            let (population, of_word) = self.compare_word(&Word::new(word.clone()), slips);
            ln_population += population.ln();
            ratios.push(of_word);
        }
        let even = |_: usize, _: usize| 1.0;
        let length: f64 = (1..=MOST_WORDS)
            .map(|words| self.lengths[words] * alignments(typed.len(), words, even))
            .sum();
        let length = length.max(f64::MIN_POSITIVE);
        let best: f64 = ratios
            .iter()
            .map(|of_word| of_word.iter().fold(1.0_f32, |a, &b| a.max(b)))
            .map(f64::from)
            .product();
        let population = (ln_population + length.ln()).exp();
        let softening = Softening::new(ColumnKind::Forenames, &typed.concat(), population);
        Some(Compared {
            ratios,
            // No alignment is more probable than certain.
            best: softening.soften(best / length).max(1.0),
            length,
            softening,
        })
    }

    /// P(word | population), and by dictionary word P(word | it) / P(word | population).
    fn compare_word(&self, typed: &Word, slips: Slips) -> (f64, Vec<f32>) {
        let first = typed.text.chars().next().unwrap_or(' ');
        let alike = self.initials.get(&first).copied().unwrap_or(0.0);
        let mut probabilities: Vec<f32> = vec![0.0; self.dictionary.len()];
        let mut known = 0.0;
        for ((word, count), slot) in self.dictionary.iter().zip(&mut probabilities) {
            let begins = word.text.starts_with(first);
            let mut probability = match word.edits(typed) {
                Some(edits) => IN_FULL * slips.probability(edits, word.len()),
                None if begins && is_variant(word, typed) => AS_VARIANT / VARIANTS,
                None => 0.0,
            };
            if begins && typed.len() == 1 {
                probability += AS_INITIAL;
            }
            if probability > 0.0 {
                known += f64::from(*count) / self.total * probability;
                *slot = probability as f32;
            }
        }
        let spelled = self.spelling.probability(&typed.text);
        let population = (1.0 - self.unseen) * known + self.unseen * spelled;
        let population = population.max(f64::MIN_POSITIVE);
        for ((word, _), slot) in self.dictionary.iter().zip(&mut probabilities) {
            *slot /= population as f32;
            // The roster has the initial only: the strip's word is any that begins so.
            if word.len() == 1 && typed.len() > 1 && word.text.starts_with(first) {
                *slot = slot.max((IN_FULL / alike.max(1.0 / self.total)) as f32);
            }
        }
        (population, probabilities)
    }

    fn row(&self, row: usize) -> &[u32] {
        let start = if row == 0 { 0 } else { self.ends[row - 1] };
        &self.words[start as usize..self.ends[row] as usize]
    }

    pub fn has_value(&self, row: usize) -> bool {
        !self.row(row).is_empty()
    }

    pub fn ratio(&self, compared: &Compared, row: usize) -> f64 {
        let words = self.row(row);
        if words.is_empty() {
            return 1.0;
        }
        let at =
            |typed: usize, word: usize| f64::from(compared.ratios[typed][words[word] as usize]);
        let ratio = alignments(compared.ratios.len(), words.len(), at) / compared.length;
        compared.softening.soften(ratio)
    }

    /// In full: every word typed is the row's at the same place, or its initial.
    pub fn agreement(&self, row: usize, value: &str) -> Agreement {
        let typed = fold::words(value);
        let words = self.row(row);
        if typed.is_empty() || words.is_empty() {
            return Agreement::Silent;
        }
        let held = |id: &u32| self.dictionary[*id as usize].0.text.as_str();
        let fits = typed.iter().zip(words).all(|(typed, id)| {
            typed == held(id)
                || (typed.chars().count() == 1 && held(id).starts_with(typed.as_str()))
        });
        match fits && typed.len() <= words.len() {
            true => Agreement::Full,
            false => Agreement::NotFull,
        }
    }

    /// The row's words, as many as were typed, initials where an initial was typed.
    pub fn as_typed_like(&self, row: usize, value: &str) -> Option<String> {
        let typed = fold::words(value);
        let words = self.row(row);
        let held = |id: &u32| self.dictionary[*id as usize].0.text.clone();
        let like: Vec<String> = typed
            .iter()
            .zip(words)
            .map(|(typed, id)| match typed.chars().count() {
                1 => held(id).chars().take(1).collect(),
                _ => held(id),
            })
            .collect();
        (!like.is_empty()).then(|| like.join(" "))
    }

    pub fn words(&self, name: &str, typed: &str, row: usize, ratio: f64) -> String {
        let roster: Vec<&Word> = self
            .row(row)
            .iter()
            .map(|&id| &self.dictionary[id as usize].0)
            .collect();
        if roster.is_empty() {
            return format!("the roster has no {name}");
        }
        let strip: Vec<Word> = fold::words(typed).into_iter().map(Word::new).collect();
        let says = roster.iter().map(|word| word.text.as_str());
        let both = format!("{typed} / {}", says.collect::<Vec<_>>().join(" "));
        let same = strip.len() == roster.len();
        let pairs = || strip.iter().zip(&roster);
        let edits = |(strip, roster): (&Word, &&Word)| roster.edits(strip);
        let is_initial = |(strip, roster): (&Word, &&Word)| {
            (strip.len() == 1 || roster.len() == 1)
                && strip.text.chars().next() == roster.text.chars().next()
        };
        if same && pairs().all(|pair| edits(pair) == Some(0)) {
            let count = |id: &u32| f64::from(self.dictionary[*id as usize].1) / self.total;
            let share = self.row(row).first().map_or(1.0, count);
            return format!("{}{name} agree", rarity(share, self.total));
        }
        let fits = pairs().all(|pair| edits(pair) == Some(0) || is_initial(pair));
        if fits && pairs().any(|pair| edits(pair) != Some(0)) {
            return match strip.len() {
                1 => format!("{name}: an initial agrees: {both}"),
                _ => format!("{name} agree, with initials: {both}"),
            };
        }
        if fits && strip.len() < roster.len() {
            return format!("{name} agree, a later one is left out: {both}");
        }
        if fits {
            return format!("{name} agree, the strip has one more: {both}");
        }
        let slips: Option<usize> = pairs().map(edits).sum();
        match slips {
            Some(1) => format!("{name} agree but for one letter: {both}"),
            Some(more) if same => format!("{name} agree but for {more} letters: {both}"),
            _ if ratio > 2.0 => format!("{name} agree in part: {both}"),
            _ if ratio > 0.5 => format!("{name} say little: {both}"),
            _ => format!("{name} differ: {both}"),
        }
    }
}

/// Whether `typed` is another spelling or a short form.
fn is_variant(word: &Word, typed: &Word) -> bool {
    typed.len() >= VARIANT_LETTERS
        && strsim::jaro_winkler(&word.text, &typed.text) >= VARIANT_SIMILARITY
}

/// Sum over all ways in which the roster's words may stand on the strip (kept, left out, others added, another
/// order) of their probability times the words' ratios.
fn alignments(typed: usize, words: usize, ratio: impl Fn(usize, usize) -> f64) -> f64 {
    let straight = in_order(typed, words, &ratio);
    if typed < 2 || words < 2 {
        return straight;
    }
    let reversed = in_order(typed, words, &|i, j| ratio(typed - 1 - i, j));
    (1.0 - REORDERED) * straight + REORDERED * reversed
}

fn in_order(typed: usize, words: usize, ratio: &impl Fn(usize, usize) -> f64) -> f64 {
    // ways[i]: the first i typed words explained by the words so far.
    let mut ways = [0.0; MOST_WORDS + 1];
    ways[0] = 1.0;
    for i in 1..=typed {
        ways[i] = ways[i - 1] * ADDED;
    }
    for j in 0..words {
        let dropped = if j == 0 { FIRST_DROPPED } else { LATER_DROPPED };
        let before = ways;
        ways[0] = before[0] * dropped;
        for i in 1..=typed {
            ways[i] = before[i - 1] * (1.0 - dropped) * ratio(i - 1, j)
                + before[i] * dropped
                + ways[i - 1] * ADDED;
        }
    }
    ways[typed]
}
