//! A typed text taken apart into figures, words with their meanings, and signs.

use super::DateStyle;
use super::words::{Sense, Senses};
use crate::value::without_diacritics;
use unicode_normalization::UnicodeNormalization;

/// One figure, word or sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Token {
    pub(super) kind: Kind,
    /// A blank stands before it.
    pub(super) spaced: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Number(Number),
    Word(Senses),
    /// `-` (any dash), `/`, `.`, `,`, `'` or `?`.
    Sign(char),
}

/// A number of one to four digits of which the last may be left open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Number {
    /// Open digits are zero.
    pub(super) value: i16,
    /// With the open ones.
    pub(super) digits: u8,
    pub(super) open: u8,
}

/// Longest text that is looked at, in characters; the longest date range written out in words has about 60.
pub(super) const LONGEST: usize = 80;

/// Upper case, accents off, blanks single; none where it is too long.
pub(super) fn normalised(typed: &str) -> Option<String> {
    if typed.chars().take(2 * LONGEST).count() == 2 * LONGEST {
        return None;
    }
    let mut text = String::new();
    for word in typed.split_whitespace() {
        if !text.is_empty() {
            text.push(' ');
        }
        for c in word.nfc() {
            match c {
                '\u{2010}'..='\u{2015}' | '\u{2212}' => text.push('-'),
                '’' | '‘' | '`' | '´' => text.push('\''),
                // Letters with diacritics only: neither full-width figures nor the long s are typed.
                'À'..='ž' => text.push_str(&without_diacritics(&c.to_string()).to_uppercase()),
                c if c.is_ascii() => text.push(c.to_ascii_uppercase()),
                _ => return None,
            }
        }
    }
    (text.chars().count() <= LONGEST).then_some(text)
}

/// Takes a normalised text apart; none where something in it belongs to no date.
pub(super) fn tokens(text: &str, style: &DateStyle) -> Option<Vec<Token>> {
    let mut tokens = Vec::new();
    let (mut at, mut spaced) = (0, false);
    while let Some(c) = text[at..].chars().next() {
        let rest = &text[at..];
        if c == ' ' {
            (at, spaced) = (at + 1, true);
            continue;
        }
        let (length, kind) = if c.is_ascii_digit() {
            let (length, number) = number(rest)?;
            (length, Kind::Number(number))
        } else if c == '~' {
            (1, Kind::Word(Senses::default().with(Sense::About)))
        } else if let Some((length, senses)) = word(rest, style) {
            (length, Kind::Word(senses))
        } else if matches!(c, '-' | '/' | '.' | ',' | '\'' | '?') {
            (1, Kind::Sign(c))
        } else {
            return None;
        };
        tokens.push(Token { kind, spaced });
        (at, spaced) = (at + length, false);
    }
    Some(tokens)
}

/// A run of digits; `?`, `X` and librarians' hyphens (`195-`, `19--`) that fill a year of four digits belong to it.
fn number(rest: &str) -> Option<(usize, Number)> {
    let known = rest
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(rest.len());
    let digits = &rest[..known];
    if known > 4 {
        return None;
    }
    let value: i16 = digits.parse().ok()?;
    let open = 4 - known;
    let after = rest.get(known..4).unwrap_or_default();
    let behind = rest.get(4..).unwrap_or_default();
    let all = |c: char| after.chars().all(|other| other == c);
    let ends = behind.is_empty() || behind.starts_with([' ', '?']);
    let filled =
        matches!(open, 1 | 2) && after.len() == open && (all('?') || all('X') || all('-') && ends);
    let number = if filled {
        Number {
            value: value * 10_i16.pow(open as u32),
            digits: 4,
            open: open as u8,
        }
    } else {
        Number {
            value,
            digits: known as u8,
            open: 0,
        }
    };
    Some((if filled { 4 } else { known }, number))
}

/// The longest word or phrase of the style's languages that the text begins with, and all that it may mean.
fn word(rest: &str, style: &DateStyle) -> Option<(usize, Senses)> {
    let (mut longest, mut senses) = (0, Senses::default());
    let entries = style.languages.iter().flat_map(|language| language.words());
    for &(sense, phrases) in entries {
        for phrase in phrases {
            match begins_with(rest, phrase) {
                Some(length) if length > longest => {
                    (longest, senses) = (length, Senses::default().with(sense));
                }
                Some(length) if length == longest => senses = senses.with(sense),
                _ => {}
            }
        }
    }
    (longest > 0).then_some((longest, senses))
}

/// How many bytes of the text the phrase takes, where no letter follows it.
fn begins_with(rest: &str, phrase: &str) -> Option<usize> {
    let mut left = rest;
    for c in phrase.chars() {
        if c == '.' {
            left = left.strip_prefix('.').unwrap_or(left);
            continue;
        }
        let unspaced = left.trim_start_matches(' ');
        // Behind a full stop there may be a blank or none.
        if left.len() != unspaced.len()
            && c != ' '
            && rest[..rest.len() - left.len()].ends_with('.')
        {
            left = unspaced;
        }
        left = left.strip_prefix(plain(c))?;
    }
    let whole = !left.starts_with(|c: char| c.is_ascii_alphabetic());
    whole.then_some(rest.len() - left.len())
}

/// A letter of the word lists without its accent.
pub(super) fn plain(c: char) -> char {
    match c {
        'Ä' | 'À' => 'A',
        'É' | 'È' => 'E',
        'Ü' | 'Û' => 'U',
        'Ñ' => 'N',
        other => other,
    }
}

impl Token {
    pub(super) fn has(&self, sense: Sense) -> bool {
        matches!(self.kind, Kind::Word(senses) if senses.has(sense))
    }

    pub(super) fn is(&self, sign: char) -> bool {
        self.kind == Kind::Sign(sign)
    }
}
