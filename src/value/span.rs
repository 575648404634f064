//! Ranges of names, of the letters they begin with, and of numbers: `AAR-BAK`, `AARON, J - BAKER, M`, `10001-450`.

use super::{FilingRules, filing_key};
use std::fmt;
use thiserror::Error;

/// What is typed between the ends, the clearest first; the signs of each row are looked for together.
const SEPARATORS: [&[&str]; 2] = [
    &[" - ", " – ", " — ", " TO ", " THRU ", " THROUGH "],
    &["-", "–", "—"],
];

/// Places where one text may be cut in two; with more it is something else, and trying them all takes long.
const MOST_CUTS: usize = 8;

/// From the first to the last, both included.
///
/// ```
/// use headword::value::{FilingRules, Range};
/// let rules = FilingRules::UnitByUnit;
/// let range = Range::read("AAR-BAK", rules)?.range;
/// assert!(range.contains("BAKER, MARY", rules) && !range.contains("BALL, J", rules));
/// assert_eq!(Range::read("10001-450", rules)?.range.to, "10450");
/// # Ok::<(), headword::value::RangeError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Range {
    /// As typed.
    pub from: String,
    /// As typed, but a shortened number in full.
    pub to: String,
}

/// A range as it was typed, with what else it may mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadRange {
    pub range: Range,
    /// Where hyphenated names leave open which hyphen stands between the ends.
    pub alternative: Option<Range>,
}

/// Why a text is no range.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum RangeError {
    #[error(
        "expected a range as in AAR-BAK, AARON, J - BAKER, M or 10001-10450, found {found:?}: write both ends with a hyphen or TO between them"
    )]
    NotARange { found: String },
    #[error(
        "{from:?} to {to:?}: expected the end that is filed first in front: one of the two was misread or mistyped, or the rule set is another one"
    )]
    Backwards { from: String, to: String },
}

/// What a slot for a range takes, in the `regex` crate's syntax.
pub fn range_pattern() -> &'static str {
    concat!(
        r"(?i)(?:[A-Z][A-Z']{0,11}(?:, ?[A-Z])?(?:-| - | TO )[A-Z][A-Z']{0,11}(?:, ?[A-Z])?",
        r"|[A-Z]?[0-9]{1,8} ?- ?[A-Z]?[0-9]{1,8})",
    )
}

impl Range {
    /// Reads a range whose ends are in order under `rules`.
    pub fn read(typed: &str, rules: FilingRules) -> Result<ReadRange, RangeError> {
        let not_a_range = || RangeError::NotARange {
            found: typed.to_owned(),
        };
        // Capital letters of other lengths than their small ones would shift what is cut.
        let upper = typed.to_ascii_uppercase();
        let mut backwards = None;
        for separators in SEPARATORS {
            let mut cuts: Vec<(usize, usize)> = separators
                .iter()
                .flat_map(|separator| upper.match_indices(separator))
                .map(|(at, separator)| (at, at + separator.len()))
                .collect();
            cuts.sort_unstable();
            if cuts.len() > MOST_CUTS {
                return Err(not_a_range());
            }
            let mut in_order = Vec::new();
            for (end, start) in cuts {
                let Some(range) = Self::between(&typed[..end], &typed[start..]) else {
                    continue;
                };
                if range.is_in_order(rules) {
                    in_order.push(range);
                } else {
                    backwards = backwards.or(Some(range));
                }
            }
            let mut in_order = in_order.into_iter();
            if let Some(range) = in_order.next() {
                return Ok(ReadRange {
                    range,
                    alternative: in_order.next(),
                });
            }
        }
        Err(match backwards {
            Some(Self { from, to }) => RangeError::Backwards { from, to },
            None => not_a_range(),
        })
    }

    /// A range of two ends that look like names or numbers.
    fn between(from: &str, to: &str) -> Option<Self> {
        let is_end = |end: &str| {
            end.starts_with(char::is_alphanumeric)
                && end
                    .chars()
                    .all(|c| c.is_alphanumeric() || " ,.'’&-".contains(c))
        };
        let (from, to) = (from.trim(), to.trim());
        (is_end(from) && is_end(to)).then(|| Self {
            from: from.to_owned(),
            to: in_full(from, to),
        })
    }

    /// Whether its ends are in filing order.
    pub fn is_in_order(&self, rules: FilingRules) -> bool {
        match (Code::of(&self.from), Code::of(&self.to)) {
            (Some(from), Some(to)) if from.prefix == to.prefix => from.number <= to.number,
            _ => filing_key(&self.from, rules) <= filing_key(&self.to, rules),
        }
    }

    /// Whether a name or number is filed within the range. What begins as the last end does is: `BAKER` in `AAR-BAK`.
    pub fn contains(&self, text: &str, rules: FilingRules) -> bool {
        let text = text.trim();
        if text.is_empty() {
            return false;
        }
        if let (Some(from), Some(to)) = (Code::of(&self.from), Code::of(&self.to))
            && from.prefix == to.prefix
        {
            return Code::of(text).is_some_and(|code| {
                code.prefix == from.prefix && (from.number..=to.number).contains(&code.number)
            });
        }
        let [from, to, key] = [&self.from, &self.to, text].map(|text| filing_key(text, rules));
        from <= key && (key <= to || key.begins_with(&to))
    }

    /// Whether this range is filed behind all of `before`, as the ranges of one drawer are.
    pub fn comes_after(&self, before: &Self, rules: FilingRules) -> bool {
        match (Code::of(&before.to), Code::of(&self.from)) {
            (Some(end), Some(start)) if end.prefix == start.prefix => end.number < start.number,
            _ => filing_key(&before.to, rules) < filing_key(&self.from, rules),
        }
    }

    /// Numbers of the same series that lie between the end of `before` and this range, which comes after it; none for
    /// names, of which nobody knows how many there are.
    pub fn gap_behind(&self, before: &Self) -> Option<u64> {
        let (end, start) = (Code::of(&before.to)?, Code::of(&self.from)?);
        let is_behind = end.prefix == start.prefix && end.number < start.number;
        is_behind.then(|| start.number - end.number - 1)
    }
}

impl fmt::Display for Range {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} - {}", self.from, self.to)
    }
}

/// A number behind some letters that all of its series share.
struct Code {
    prefix: String,
    number: u64,
    /// With leading zeros.
    digits: usize,
}

impl Code {
    fn of(text: &str) -> Option<Self> {
        let at = text.find(|c: char| c.is_ascii_digit())?;
        let (prefix, digits) = text.split_at(at);
        Some(Self {
            prefix: prefix.to_uppercase(),
            number: digits.parse().ok()?,
            digits: digits.len(),
        })
    }
}

/// The last end with the letters and leading digits of the first one, where it was shortened.
fn in_full(from: &str, to: &str) -> String {
    let is_number = to.bytes().all(|b| b.is_ascii_digit());
    match Code::of(from).filter(|code| is_number && to.len() <= code.digits) {
        Some(_) => format!("{}{to}", &from[..from.len() - to.len()]),
        None => to.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::generated;

    const RULES: FilingRules = FilingRules::UnitByUnit;

    #[test]
    fn reads_both_ends() {
        for (typed, from, to, alternative) in [
            ("AAR-BAK", "AAR", "BAK", ""),
            ("aar - bak", "aar", "bak", ""),
            ("A - BAKER", "A", "BAKER", ""),
            ("A TO BAKER", "A", "BAKER", ""),
            ("AARON, J - BAKER, M", "AARON, J", "BAKER, M", ""),
            ("AARON,J-BAKER,M", "AARON,J", "BAKER,M", ""),
            ("MC-MY", "MC", "MY", ""),
            ("MÜLLER – MÜNCH", "MÜLLER", "MÜNCH", ""),
            ("O'BRIEN THRU O'TOOLE", "O'BRIEN", "O'TOOLE", ""),
            ("SMITH-JONES - TAYLOR", "SMITH-JONES", "TAYLOR", ""),
            ("SMITH-JONES-TAYLOR", "SMITH-JONES", "TAYLOR", ""),
            ("ADAM-BELL-COX", "ADAM", "BELL-COX", "ADAM-BELL - COX"),
            ("BAKER-BAKER", "BAKER", "BAKER", ""),
            ("10001-10450", "10001", "10450", ""),
            ("10001-450", "10001", "10450", ""),
            ("10001 - 10450", "10001", "10450", ""),
            ("998-1003", "998", "1003", ""),
            ("A10001-A10450", "A10001", "A10450", ""),
            ("A10001-450", "A10001", "A10450", ""),
            ("A98-A101", "A98", "A101", ""),
            ("0998-1003", "0998", "1003", ""),
        ] {
            let read =
                Range::read(typed, RULES).unwrap_or_else(|error| panic!("{typed:?}: {error}"));
            assert_eq!(
                (read.range.from.as_str(), read.range.to.as_str()),
                (from, to),
                "{typed:?}"
            );
            let other = read
                .alternative
                .map_or(String::new(), |range| range.to_string());
            assert_eq!(other, alternative, "{typed:?}");
            let again = Range::read(&read.range.to_string(), RULES).unwrap().range;
            assert_eq!(again, read.range, "{typed:?} printed and read again");
        }
    }

    #[test]
    fn refuses_what_is_no_range() {
        for (typed, message) in [
            ("", "as in AAR-BAK"),
            ("AAR", "as in AAR-BAK"),
            ("AAR-", "as in AAR-BAK"),
            ("-BAK", "as in AAR-BAK"),
            (" - ", "as in AAR-BAK"),
            ("A\u{1b}-B", "as in AAR-BAK"),
            ("A-B-C-D-E-F-G-H-I-J-K", "as in AAR-BAK"),
            ("BAK-AAR", "\"BAK\" to \"AAR\""),
            ("10450-10001", "\"10450\" to \"10001\""),
            ("10450-001", "\"10450\" to \"10001\""),
        ] {
            let fault = Range::read(typed, RULES).expect_err(typed).to_string();
            assert!(fault.contains(message), "{typed:?}: {fault}");
        }
    }

    #[test]
    fn knows_what_it_holds() {
        for (range, text, holds) in [
            ("AAR-BAK", "AARON, J", true),
            ("AAR-BAK", "AAA", false),
            ("AAR-BAK", "BAKER, Z", true),
            ("AAR-BAK", "BALL", false),
            ("AARON, J - BAKER, M", "AARON, JOHN", true),
            ("AARON, J - BAKER, M", "AARON, HENRY", false),
            ("AARON, J - BAKER, M", "BAKER, MARY", true),
            ("AARON, J - BAKER, M", "BAKER, NORA", false),
            ("MC-MY", "MEYER", true),
            ("10001-450", "10200", true),
            ("10001-450", "10451", false),
            ("998-1003", "1000", true),
            ("A98-A101", "A100", true),
            ("A98-A101", "B100", false),
            ("AAR-BAK", "", false),
        ] {
            let range = Range::read(range, RULES).unwrap().range;
            assert_eq!(range.contains(text, RULES), holds, "{text} in {range}");
        }
    }

    #[test]
    fn knows_the_order_of_a_drawer() {
        let range = |typed| Range::read(typed, RULES).unwrap().range;
        assert!(range("BAL-BOY").comes_after(&range("AAR-BAK"), RULES));
        assert!(!range("BAK-BOY").comes_after(&range("AAR-BAK"), RULES));
        assert!(range("1000-1999").comes_after(&range("1-999"), RULES));
    }

    /// Whatever a slot takes is a range, or one whose ends are not in order.
    #[test]
    fn reads_what_its_pattern_takes() {
        generated::check(range_pattern(), 60, |text| {
            !matches!(Range::read(text, RULES), Err(RangeError::NotARange { .. }))
        });
    }
}
