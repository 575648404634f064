//! What typed dates look like, as one pattern for the rule language's slots.
//!
//! A pattern is looser than [`super::typed_dates`]: it takes what that takes, in a small automaton, and some texts that
//! it refuses, such as the 39th of a month or a name without a year. Every name stands in it once a date at most twice,
//! beginnings shared, for the names are most of the automaton.

use super::words::Sense;
use super::{DateStyle, tokens};
use std::collections::{BTreeMap, BTreeSet};

/// What a slot holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dates {
    /// One date: a day, a month, a part of a year, a year, or that it is not known.
    Single,
    /// Everything that is understood: one date, a range of dates, a range with one end.
    Range,
}

/// One or two figures of a day or a month, and the signs between figures.
const DAY: &str = "[0-3]?[0-9]";
const BETWEEN_FIGURES: &str = " ?[-/.] ?";
/// A year of four digits or two, the last ones perhaps left open.
const YEAR: &str = r"'?[0-9]{2}(?:[0-9][0-9?X-]|[?X-]{2})?";
/// Year, month and day in figures.
const YEAR_MONTH_DAY: &str = "(?:[0-9]{2})?[0-9]{2} ?[-/.] ?[01]?[0-9] ?[-/.] ?[0-3]?[0-9]";
/// The same, or year and month.
const YEAR_MONTH: &str = "(?:[0-9]{2})?[0-9]{2} ?[-/.] ?[01]?[0-9](?: ?[-/.] ?[0-3]?[0-9])?";
/// Every dash that is read as a hyphen, for a class.
const DASH: &str = r"\-‐‑‒–—―−";

/// A pattern in the `regex` crate's syntax, case-insensitive, without anchors and of bounded length, that takes every
/// text that [`super::typed_dates`] takes in the styles of that function.
///
/// Runs of blanks count as one blank, letters with diacritics as one character (Unicode normalisation form C); accents
/// may be missing where a language has them. Quotes other than `'` are not in it.
///
/// ```
/// use headword::value::{DateStyle, Dates, dates_pattern};
/// let pattern = dates_pattern(&DateStyle::default(), Dates::Range);
/// let whole = regex::Regex::new(&format!("^{pattern}$"))?;
/// assert!(whole.is_match("03/52 - 11/61"));
/// assert!(!whole.is_match("MULLER"));
/// # Ok::<(), regex::Error>(())
/// ```
pub fn dates_pattern(style: &DateStyle, what: Dates) -> String {
    let date = Date::new(style);
    let unknown = words(style, |sense| sense == Sense::Unknown);
    let dated = match what {
        Dates::Single => date.whole(),
        Dates::Range => {
            let lead = words(style, |sense| {
                use Sense::{After, Before, Between, Fiscal, From, UpTo};
                matches!(sense, From | UpTo | Before | After | Between | Fiscal)
            });
            let joined = words(style, |sense| matches!(sense, Sense::To | Sense::And));
            let onward = words(style, |sense| sense == Sense::Onward);
            let side = date.side();
            format!(
                "(?:(?:{}) ?)?{side}(?: ?(?:{}) ?{side}| ?(?:{}))?",
                any([lead, format!("[{DASH}]")]),
                any([joined, format!("[/{DASH}]")]),
                any([onward, format!("[{DASH}]")]),
            )
        }
    };
    format!("(?i:{})", any([dated, unknown]))
}

/// The parts of a pattern for one date.
struct Date {
    /// Months, seasons, and the words beside the figure of a quarter or a half.
    names: String,
    /// What may stand before a date, and behind its figures.
    before: String,
    ordinal: String,
    decade: String,
    fiscal: String,
    /// Between figures and names.
    joint: String,
}

impl Date {
    fn new(style: &DateStyle) -> Self {
        let optional = |words: String, tail: &str| {
            if words.is_empty() {
                words
            } else {
                format!("(?:(?:{words}){tail})?")
            }
        };
        let of = words(style, |sense| sense == Sense::Of);
        Self {
            names: words(style, |sense| {
                use Sense::{Half, Month, Quarter, Season};
                matches!(sense, Month(_) | Season(_) | Quarter | Half)
            }),
            before: optional(
                any([words(style, |sense| sense == Sense::About), "~".to_owned()]),
                " ?",
            ) + &optional(words(style, |sense| sense == Sense::Decades), " ?"),
            ordinal: columns(style, |sense| sense == Sense::Ordinal),
            decade: optional(words(style, |sense| sense == Sense::Decade), ""),
            fiscal: optional(words(style, |sense| sense == Sense::Fiscal), " ?"),
            joint: format!(r" ?\.?[-/,]? ?{}", optional(of, " ?")),
        }
    }

    /// A date that lacks nothing.
    fn whole(&self) -> String {
        let Self {
            names,
            before,
            ordinal,
            decade,
            fiscal,
            joint,
        } = self;
        let before_year = any([
            self.named(format!(
                "(?:{DAY}{ordinal}{joint})?(?:{names}){joint}(?:{DAY}{ordinal}{joint})?"
            )),
            format!("{DAY}{BETWEEN_FIGURES}(?:{DAY}{BETWEEN_FIGURES})?"),
        ]);
        let date = any([
            format!("{fiscal}(?:{before_year})?{YEAR}{decade}(?:/[0-9]{{2}})?"),
            self.named(format!(
                "[0-9]{{4}}{joint}(?:[1-4]{ordinal} ?)?(?:{names})(?:{joint}{DAY}|\\.)?"
            )),
            YEAR_MONTH_DAY.to_owned(),
            r"[0-9]{4}\.[01][0-9]".to_owned(),
        ]);
        format!(r"{before}(?:{date})(?: ?\?)?")
    }

    /// A date of a range, which may lack what the other has.
    fn side(&self) -> String {
        let Self {
            names,
            before,
            ordinal,
            decade,
            joint,
            ..
        } = self;
        let date = any([
            self.named(format!(
                r"(?:(?:[0-9]{{4}}(?: [1-4]{ordinal})?|{DAY}{ordinal}){joint})?(?:{names})(?: ?\.?[-/,]? ?{DAY}{ordinal})?(?:{joint}{YEAR})?\.?"
            )),
            format!(r"{DAY}(?:[-/.]{DAY}|{ordinal})\.?"),
            // A comma, as in the second half of "MAR 12-15, 1950".
            format!("(?:{DAY}{ordinal} ?[-/.,] ?(?:{DAY}{BETWEEN_FIGURES})?)?{YEAR}{decade}"),
            YEAR_MONTH.to_owned(),
        ]);
        format!(r"{before}(?:{date})(?: ?\?)?")
    }

    /// Nothing where the languages have no names.
    fn named(&self, pattern: String) -> String {
        if self.names.is_empty() {
            String::new()
        } else {
            pattern
        }
    }
}

/// The alternatives that are not empty.
fn any<const N: usize>(alternatives: [String; N]) -> String {
    let alternatives: Vec<String> = alternatives
        .into_iter()
        .filter(|one| !one.is_empty())
        .collect();
    alternatives.join("|")
}

fn phrases(style: &DateStyle, wanted: impl Fn(Sense) -> bool) -> BTreeSet<&'static str> {
    let entries = style.languages.iter().flat_map(|language| language.words());
    let wanted = entries.filter(|(sense, _)| wanted(*sense));
    wanted
        .flat_map(|(_, phrases)| phrases.iter().copied())
        .collect()
}

/// The words of a style that have such a sense, beginnings shared; empty where there is none.
///
/// So are the ends that several words have behind another word: `(?:SEPT|NOV|DEC)(?:EMBER)?`.
fn words(style: &DateStyle, wanted: impl Fn(Sense) -> bool) -> String {
    let mut left = phrases(style, wanted);
    let mut by_end: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for word in &left {
        for stem in left.iter().filter(|stem| stem.len() > 1 && stem.is_ascii()) {
            if let Some(end) = word
                .strip_prefix(stem)
                .filter(|end| end.len() > 2 && end.is_ascii())
            {
                by_end.entry(end).or_default().push(stem);
            }
        }
    }
    let mut patterns = Vec::new();
    for (end, stems) in by_end.into_iter().filter(|(_, stems)| stems.len() > 1) {
        let whole = |stem: &&str| left.iter().any(|word| word.strip_prefix(stem) == Some(end));
        let stems: Vec<&str> = stems
            .into_iter()
            .filter(|stem| left.contains(stem))
            .filter(whole)
            .collect();
        for stem in &stems {
            left.retain(|word| word != stem && word.strip_prefix(stem) != Some(end));
        }
        if !stems.is_empty() {
            patterns.push(format!("{}(?:{})?", tree(&stems), regex::escape(end)));
        }
    }
    patterns.extend((!left.is_empty()).then(|| tree(&left)));
    patterns.join("|")
}

fn tree<'a>(words: impl IntoIterator<Item = &'a &'a str>) -> String {
    let mut tree = Tree::default();
    words.into_iter().for_each(|word| tree.insert(word));
    tree.pattern()
}

/// Short words of a style as one class for each of their characters, which takes more than the words; not needed to
/// tell anything apart.
fn columns(style: &DateStyle, wanted: impl Fn(Sense) -> bool) -> String {
    let words = phrases(style, wanted);
    let longest = words
        .iter()
        .map(|word| word.chars().count())
        .max()
        .unwrap_or(0);
    (0..longest).rev().fold(String::new(), |rest, column| {
        let here = words.iter().filter_map(|word| word.chars().nth(column));
        let letters: BTreeSet<char> = here.flat_map(|c| [tokens::plain(c), c]).collect();
        let letters: String = letters.into_iter().collect();
        format!("(?:[{letters}]{rest})?")
    })
}

/// Words by their beginnings.
#[derive(Default)]
struct Tree {
    /// By the pattern of the next character.
    next: BTreeMap<String, Tree>,
    /// A word ends here.
    ends: bool,
}

impl Tree {
    fn insert(&mut self, phrase: &str) {
        let mut node = self;
        let mut characters = phrase.chars().peekable();
        while let Some(c) = characters.next() {
            let piece = match c {
                '.' if characters.peek().is_some() => r"\.? ?".to_owned(),
                '.' => r"\.?".to_owned(),
                c if tokens::plain(c) != c => format!("[{}{c}]", tokens::plain(c)),
                c => regex::escape(&c.to_string()),
            };
            node = node.next.entry(piece).or_default();
        }
        node.ends = true;
    }

    fn pattern(&self) -> String {
        let branches: Vec<String> = self
            .next
            .iter()
            .map(|(piece, rest)| format!("{piece}{}", rest.pattern()))
            .collect();
        match (branches.len(), self.ends) {
            (0, _) => String::new(),
            (1, false) => branches.concat(),
            (_, false) => format!("(?:{})", branches.join("|")),
            (_, true) => format!("(?:{})?", branches.join("|")),
        }
    }
}
