//! Filing order: what a drawer is sorted by, under the rules that the client's office files by.
//!
//! There is no single correct order; the sources contradict each other over Mc, St., prefixes and hyphens. So a job
//! names its rule set. `tests/data/published/filing_rules.csv` says where each rule was read.

use super::without_diacritics;
use serde::{Deserialize, Serialize};

/// A named set of filing rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FilingRules {
    /// Word by word, every sign a blank, all as written (a filing clerks' course).
    WordByWord,
    /// Letter by letter up to the first comma, word by word behind it (a university's style guide).
    LetterByLetter,
    /// Rules of the American Library Association, 1968: word by word; M', Mc and Mac as Mac, St. as Saint. That older
    /// rules spell numbers out is not done: they go before letters.
    #[serde(rename = "ala-1968")]
    Ala1968,
    /// Filing rules of the Library of Congress, 1980: word by word, as written; an apostrophe joins, a hyphen separates.
    #[serde(rename = "lc-1980")]
    Lc1980,
    /// Office rules as taught after ARMA: unit by unit; prefixes, apostrophes and hyphens join; Roman numerals behind
    /// Arabic ones.
    #[default]
    UnitByUnit,
    /// A handbook of the United States government: as unit by unit, but titles and Jr., Sr. or 2d do not count, and
    /// shortened first names are filed as if spelled out.
    UnitedStates,
}

/// Sorts as the text is filed. Texts with equal keys are filed together; the caller says in which order.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FilingKey(Vec<Vec<Unit>>);

/// What is compared at a time. Numbers go before words.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Unit {
    /// How many digits, and the digits without leading zeros.
    Number(usize, String),
    Roman(u32),
    /// In upper case, without diacritics; digits before letters, other scripts behind Latin in Unicode's order.
    Word(String),
}

/// Prefixes that make one unit with what follows: the list of ARMA's simplified rules without those whose apostrophe
/// joins them anyway. `DER` is there for `VAN DER`.
const PREFIXES: [&str; 33] = [
    "DA", "DE", "DEL", "DELA", "DELLA", "DEN", "DER", "DES", "DI", "DOS", "DU", "EL", "FITZ", "IL",
    "LA", "LAS", "LE", "LES", "LO", "LOS", "MAC", "MC", "PER", "SAINT", "SAN", "SANTA", "ST",
    "STE", "TE", "TEN", "TER", "VAN", "VON",
];

/// Roman numbers behind names; those that are names or initials too (`I`, `V`, `VI`, `X`, `XI`) are left out.
const ROMAN: [(&str, u32); 6] = [
    ("II", 2),
    ("III", 3),
    ("IV", 4),
    ("VII", 7),
    ("VIII", 8),
    ("IX", 9),
];

/// Words that do not count in the handbook of the United States government: titles and seniority.
const UNCOUNTED: [&str; 18] = [
    "MR", "MRS", "MISS", "MS", "DR", "REV", "PROF", "CAPT", "MAJ", "COL", "GEN", "JR", "SR", "2D",
    "3D", "2ND", "3RD", "ESQ",
];

/// Shortened first names with the names they stand for. Common practice, no single source.
const SHORTENED: [(&str, &str); 14] = [
    ("ALEX", "ALEXANDER"),
    ("BENJ", "BENJAMIN"),
    ("CHAS", "CHARLES"),
    ("DANL", "DANIEL"),
    ("EDW", "EDWARD"),
    ("FREDK", "FREDERICK"),
    ("GEO", "GEORGE"),
    ("JAS", "JAMES"),
    ("JNO", "JOHN"),
    ("JOS", "JOSEPH"),
    ("RICHD", "RICHARD"),
    ("ROBT", "ROBERT"),
    ("THOS", "THOMAS"),
    ("WM", "WILLIAM"),
];

impl FilingRules {
    pub const ALL: [Self; 6] = [
        Self::WordByWord,
        Self::LetterByLetter,
        Self::Ala1968,
        Self::Lc1980,
        Self::UnitByUnit,
        Self::UnitedStates,
    ];

    /// The name used in job files.
    pub fn name(self) -> &'static str {
        match self {
            Self::WordByWord => "word-by-word",
            Self::LetterByLetter => "letter-by-letter",
            Self::Ala1968 => "ala-1968",
            Self::Lc1980 => "lc-1980",
            Self::UnitByUnit => "unit-by-unit",
            Self::UnitedStates => "united-states",
        }
    }

    fn is_by_units(self) -> bool {
        matches!(self, Self::UnitByUnit | Self::UnitedStates)
    }
}

/// What a text is sorted by. Names of people are given in inverted order, `SURNAME, FORENAMES`.
///
/// ```
/// use headword::value::{FilingRules, filing_key};
/// let comes_first = |one, other, rules| filing_key(one, rules) < filing_key(other, rules);
/// assert!(comes_first("McDonegan", "MacDougal", FilingRules::Ala1968));
/// assert!(comes_first("MacDougal", "McDonegan", FilingRules::Lc1980));
/// ```
pub fn filing_key(text: &str, rules: FilingRules) -> FilingKey {
    let plain = without_diacritics(text).to_uppercase();
    let mut parts: Vec<Vec<String>> = plain
        .split(',')
        .enumerate()
        .map(|(place, part)| counted(words(part, rules), place, rules))
        .filter(|part| !part.is_empty())
        .collect();
    if rules == FilingRules::LetterByLetter
        && let Some(first) = parts.first_mut()
    {
        *first = vec![first.concat()];
    }
    // A comma is one more sign to these rules; to the others it ends the heading.
    if rules.is_by_units() {
        parts = vec![parts.concat()];
    }
    let unit = |(place, word): (usize, &String), count: usize| {
        let is_last = place + 1 == count;
        let roman = ROMAN.iter().find(|(roman, _)| roman == word);
        match roman.filter(|_| rules.is_by_units() && is_last) {
            Some(&(_, number)) => Unit::Roman(number),
            None if word.bytes().all(|b| b.is_ascii_digit()) => {
                let digits = word.trim_start_matches('0').to_owned();
                Unit::Number(digits.len(), digits)
            }
            None => Unit::Word(word.clone()),
        }
    };
    let units = |part: &Vec<String>| {
        part.iter()
            .enumerate()
            .map(|w| unit(w, part.len()))
            .collect()
    };
    FilingKey(parts.iter().map(units).collect())
}

impl FilingKey {
    /// Whether this text goes on where the other one ends: `BAKER, J` begins with `BAK`.
    pub fn begins_with(&self, other: &Self) -> bool {
        let Some((last, before)) = other.0.split_last() else {
            return true;
        };
        if !self.0.starts_with(before) {
            return false;
        }
        let Some(part) = self.0.get(before.len()) else {
            return false;
        };
        let Some((last, before)) = last.split_last() else {
            return true;
        };
        part.starts_with(before)
            && match (part.get(before.len()), last) {
                (Some(Unit::Word(word)), Unit::Word(beginning)) => {
                    word.starts_with(beginning.as_str())
                }
                (unit, last) => unit == Some(last),
            }
    }
}

/// The words of a part between commas, apart as the rules have it.
fn words(part: &str, rules: FilingRules) -> Vec<String> {
    let mut words = vec![String::new()];
    for c in part.chars() {
        let word = words.last_mut().expect("never empty");
        match c {
            c if c.is_alphanumeric() => word.push(c),
            '\'' | '’' | '‘' | '`' if rules != FilingRules::WordByWord => {
                if rules == FilingRules::Ala1968 && word == "M" {
                    word.push_str("AC");
                }
            }
            '-' | '‐' if rules.is_by_units() => {}
            _ => words.push(String::new()),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

/// The words as they count: spelled out, joined or left out. `place`: which part of the text, from 0.
fn counted(words: Vec<String>, place: usize, rules: FilingRules) -> Vec<String> {
    let mut counted: Vec<String> = Vec::with_capacity(words.len());
    let mut joins = false;
    let count = words.len();
    for (at, mut word) in words.into_iter().enumerate() {
        let is_last = at + 1 == count;
        match rules {
            FilingRules::Ala1968 => {
                word = match word.as_str() {
                    "ST" => "SAINT".to_owned(),
                    "STE" => "SAINTE".to_owned(),
                    _ => match word.strip_prefix("MC") {
                        Some(rest) => format!("MAC{rest}"),
                        None => word,
                    },
                };
            }
            FilingRules::UnitedStates => {
                let is_roman = at > 0 && is_last && ROMAN.iter().any(|(roman, _)| *roman == word);
                if UNCOUNTED.contains(&word.as_str()) && count + place > 1 || is_roman {
                    continue;
                }
                if place + at > 0
                    && let Some((_, full)) = SHORTENED.iter().find(|(short, _)| *short == word)
                {
                    word = (*full).to_owned();
                }
            }
            _ => {}
        }
        // MC DONALD is McDonald to the library association too.
        let is_prefix = match rules {
            FilingRules::Ala1968 => word == "MAC",
            _ => rules.is_by_units() && PREFIXES.contains(&word.as_str()),
        };
        match counted.last_mut().filter(|_| joins) {
            Some(before) => before.push_str(&word),
            None => counted.push(word),
        }
        joins = is_prefix && !is_last;
    }
    counted
}

#[cfg(test)]
mod tests {
    use super::*;
    use FilingRules::{Ala1968, Lc1980, LetterByLetter, UnitByUnit, UnitedStates, WordByWord};

    /// Sequences that others print as filed, with the rules they file by and where they were read.
    const SEQUENCES: &str = include_str!("../../tests/data/published/filing_order_examples.csv");

    #[test]
    fn files_as_every_published_sequence() {
        let mut before: Option<(String, String)> = None;
        let (mut sequences, mut pairs) = (0, 0);
        for record in csv::Reader::from_reader(SEQUENCES.as_bytes()).records() {
            let record = record.unwrap();
            let (sequence, name) = (&record[0], &record[3]);
            let rules = match sequence.split('_').next().unwrap() {
                "ala68" => Ala1968,
                "lc80" => Lc1980,
                "appB" | "oep" | "arma" => UnitByUnit,
                "adelphi" => LetterByLetter,
                "tt" => WordByWord,
                _ => panic!("{sequence}"),
            };
            match before.filter(|(of, _)| of == sequence) {
                Some((_, before)) => {
                    let (one, other) = (filing_key(&before, rules), filing_key(name, rules));
                    assert!(one < other, "{sequence}: {one:?} before {other:?}");
                    pairs += 1;
                }
                None => sequences += 1,
            }
            before = Some((sequence.to_owned(), name.to_owned()));
        }
        assert_eq!((sequences, pairs), (23, 69));
    }

    /// Where the rule sets differ (filing_rules.csv), and what they share.
    #[test]
    fn rule_sets_differ_where_their_sources_do() {
        for (one, other, before, after) in [
            (
                "MCADAM",
                "MACBETH",
                &[Ala1968][..],
                &[Lc1980, UnitByUnit, UnitedStates][..],
            ),
            ("ST. JOHN", "SANDERS", &[Ala1968], &[Lc1980, UnitByUnit]),
            (
                "DE LA GUARDIA",
                "DEAN",
                &[Lc1980, WordByWord, Ala1968],
                &[UnitByUnit, UnitedStates, LetterByLetter],
            ),
            ("D'ARCY", "DABNEY", &[WordByWord], &[Lc1980, UnitByUnit]),
            (
                "SMITH-JONES",
                "SMITHERS",
                &[Lc1980],
                &[UnitByUnit, UnitedStates, LetterByLetter],
            ),
            (
                "LONDON, JACK",
                "LONDON BRIDGE",
                &[Ala1968, Lc1980, LetterByLetter],
                &[UnitByUnit],
            ),
            ("SMITH, WM", "SMITH, WILMA", &[UnitedStates], &[UnitByUnit]),
            (
                "SMITH, JOHN, JR",
                "SMITH, JOHN A",
                &[UnitedStates],
                &[UnitByUnit],
            ),
            (
                "SMITH, JOHN, III",
                "SMITH, JOHN, JR",
                &[UnitByUnit, Lc1980],
                &[],
            ),
            ("2", "10", &FilingRules::ALL, &[]),
            ("B2", "BA", &FilingRules::ALL, &[]),
            ("HANDE", "HÄNDEL", &FilingRules::ALL, &[]),
            ("SMITH, J.R.", "SMITH, JAMES", &FilingRules::ALL, &[]),
            ("", "A", &FilingRules::ALL, &[]),
            ("ZZZ", "Мороз", &FilingRules::ALL, &[]),
        ] {
            for &rules in before {
                assert!(
                    filing_key(one, rules) < filing_key(other, rules),
                    "{one} before {other}: {rules:?}"
                );
            }
            for &rules in after {
                assert!(
                    filing_key(one, rules) > filing_key(other, rules),
                    "{one} after {other}: {rules:?}"
                );
            }
        }
        let key = |text| filing_key(text, UnitedStates);
        assert_eq!(key("Smith, Dr. Robt., Jr."), key("SMITH, ROBERT"));
        assert_eq!(
            key("DR"),
            filing_key("DR", UnitByUnit),
            "a name that is a title counts"
        );
        for rules in FilingRules::ALL {
            assert_eq!(
                filing_key("Müller,  J.", rules),
                filing_key("MULLER, J", rules)
            );
            assert_eq!(filing_key("007", rules), filing_key("7", rules));
        }
    }

    #[test]
    fn knows_what_begins_with_what() {
        for (text, beginning, begins) in [
            ("BAKER, J", "BAK", true),
            ("BAKER, MARY", "BAKER, M", true),
            ("BAKER, JANE", "BAKER, M", false),
            ("BAK", "BAKER", false),
            ("BAKER", "BAKER, M", false),
            ("DE LA CRUZ", "DE L", true),
            ("105", "10", false),
            ("BAKER", "", true),
        ] {
            let key = |text| filing_key(text, Lc1980);
            assert_eq!(
                key(text).begins_with(&key(beginning)),
                begins,
                "{text} {beginning}"
            );
        }
    }

    #[test]
    fn keeps_its_name_in_files() {
        for rules in FilingRules::ALL {
            let written = serde_json::to_string(&rules).unwrap();
            assert_eq!(written, format!("\"{}\"", rules.name()));
        }
    }
}
