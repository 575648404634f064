//! Values brought to the form in which they are compared: upper case, without accents and punctuation.

use unicode_normalization::{UnicodeNormalization, char::is_combining_mark};

/// A surname ready for comparison.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash)]
pub struct Surname {
    /// Letters and digits only, run together: O'Brien, O Brien and OBRIEN are one name.
    pub letters: String,
    /// The halves of a double name, where it has several long ones.
    pub halves: Vec<String>,
    pub generation: Option<Generation>,
}

/// What tells father from son.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Generation {
    Junior,
    Senior,
    Third,
}

/// A half of a double surname has at least this many letters, so that O', MC, DE and VAN are none.
const HALF_LETTERS: usize = 4;

pub fn surname(text: &str) -> Surname {
    let mut words = words(text);
    let mut generation = None;
    while words.len() > 1 {
        let Some(found) = words.last().and_then(|word| generation_of(word)) else {
            break;
        };
        generation = Some(found);
        words.pop();
    }
    let letters = words.concat();
    let long = words
        .iter()
        .filter(|word| word.chars().count() >= HALF_LETTERS);
    let halves: Vec<_> = long.cloned().collect();
    Surname {
        letters,
        halves: if halves.len() > 1 { halves } else { Vec::new() },
        generation,
    }
}

/// The words of a name; blanks, full stops, commas and hyphens part them, apostrophes do not.
pub fn words(text: &str) -> Vec<String> {
    let flat = flat(text);
    flat.split(|c: char| !c.is_alphanumeric() && !is_apostrophe(c))
        .map(|word| word.chars().filter(|c| c.is_alphanumeric()).collect())
        .filter(|word: &String| !word.is_empty())
        .collect()
}

/// Letters and digits in upper case.
pub fn code(text: &str) -> String {
    flat(text).chars().filter(|c| c.is_alphanumeric()).collect()
}

/// The first run of exactly four digits, as a year.
pub fn year(text: &str) -> Option<u16> {
    text.split(|c: char| !c.is_ascii_digit())
        .find(|run| run.len() == 4)
        .and_then(|run| run.parse().ok())
}

fn generation_of(word: &str) -> Option<Generation> {
    match word {
        "JR" | "JNR" | "JUNIOR" | "II" => Some(Generation::Junior),
        "SR" | "SNR" | "SENIOR" => Some(Generation::Senior),
        "III" => Some(Generation::Third),
        _ => None,
    }
}

/// Upper case without accents; letters that Unicode does not take apart are written as their usual replacement.
fn flat(text: &str) -> String {
    if text.is_ascii() {
        return text.to_ascii_uppercase();
    }
    let mut flat = String::with_capacity(text.len());
    for c in text.nfkd().filter(|&c| !is_combining_mark(c)) {
        match c {
            'ß' | 'ẞ' => flat.push_str("SS"),
            'æ' | 'Æ' => flat.push_str("AE"),
            'œ' | 'Œ' => flat.push_str("OE"),
            'ø' | 'Ø' => flat.push('O'),
            'ł' | 'Ł' => flat.push('L'),
            'đ' | 'Đ' | 'ð' | 'Ð' => flat.push('D'),
            'þ' | 'Þ' => flat.push_str("TH"),
            'ı' => flat.push('I'),
            _ => flat.extend(c.to_uppercase()),
        }
    }
    flat
}

fn is_apostrophe(c: char) -> bool {
    matches!(c, '\'' | '’' | '‘' | '`' | '´' | 'ʼ')
}
