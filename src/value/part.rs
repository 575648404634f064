//! Which sheet of a set this is: `2 OF 3`, `3A`, `II OF IV`, `SUPPL. 1`.

use regex::{Captures, Regex};
use std::fmt;
use std::sync::LazyLock;
use thiserror::Error;

/// Largest number of a sheet or of sheets; longer ones are something else.
const MOST_SHEETS: u32 = 9_999;

/// What a sheet belongs to within its set, in filing order (common practice).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PartKind {
    Sheet,
    Supplement,
    Addendum,
    Appendix,
    Index,
}

/// How many sheets the strip says there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Total {
    NotGiven,
    /// `3 OF ?`, or `3 OF` with a place left to fill in.
    Unknown,
    Known(u32),
}

/// The place of a sheet in its set. The order is that of the sheets in a drawer.
///
/// Printed as RFC 8493 prints the count of a bag: `2 of 3`, `3 of ?`.
///
/// ```
/// use headword::value::Part;
/// let part = Part::read("SHEET 2 OF 3")?.part;
/// assert_eq!(part.to_string(), "2 of 3");
/// assert!(part.continues(&Part::read("I OF III")?.part));
/// # Ok::<(), headword::value::PartError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Part {
    pub kind: PartKind,
    /// The number; a supplement without one is the first.
    pub first: u32,
    /// `A` for a sheet that was added behind another: `3A`.
    pub letter: Option<char>,
    /// The last number where a sheet holds several, else the same number.
    pub last: u32,
    pub total: Total,
}

/// A part as it was typed, with what else it may mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadPart {
    pub part: Part,
    /// `2-3` is 2 of 3, or else 2 and 3.
    pub alternative: Option<Part>,
}

/// Why a text is no part.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PartError {
    #[error(
        "expected a part as in 2 OF 3, 3A or SUPPL. 1, found {found:?}: write the number, OF, and how many there are"
    )]
    NotAPart { found: String },
    #[error("expected a number from 1 to {MOST_SHEETS}, found {found:?}: look at the number again")]
    Number { found: String },
    #[error(
        "part {part} of {total}: expected a part up to the total: one of the two was misread or mistyped"
    )]
    BeyondTotal { part: u32, total: u32 },
    #[error(
        "parts {first} to {last}: expected the smaller number first: one of the two was misread or mistyped"
    )]
    Backwards { first: u32, last: u32 },
}

/// Words that say that a number follows and nothing else.
const BEFORE: &str = r"(?:(?:NUMBER|NO|NR|PART|PT|SHEET|SHT|SH|CARD|FICHE)\.?\s*|#\s*){0,2}";
/// Arabic or Roman.
const NUMBER: &str = r"[0-9]{1,9}|[IVX]{1,9}";

static SHEET: LazyLock<Regex> = LazyLock::new(|| {
    known(&format!(
        r"^{BEFORE}(?:(?<arabic>[0-9]{{1,9}})(?<letter>[A-Z])?|(?<roman>[IVX]{{1,9}}))(?:\s*(?<to>-|–|TO|THRU|&|\+|AND)\s*(?<last>{NUMBER}))?{OF}$"
    ))
});
static BESIDE: LazyLock<Regex> = LazyLock::new(|| {
    known(&format!(
        r"^(?<kind>SUPP(?:L(?:EMENT)?)?|ADD(?:END(?:UM|A))?|APP(?:ENDIX)?|INDEX)\.?\s*{BEFORE}(?<first>{NUMBER})?{OF}$"
    ))
});
/// Total behind OF (or the same in German, French, Spanish and Dutch) or a stroke.
const OF: &str = r"(?:\s*(?:OF\s*(?<open>[?_]*)|(?:VON|SUR|DE|VAN|/)\s*(?<unknown>[?_]+)|(?:OF|VON|SUR|DE|VAN|/)\s*(?<total>[0-9]{1,9}|[IVX]{1,9})))?";

fn known(pattern: &str) -> Regex {
    Regex::new(&format!("(?i){pattern}")).expect("the pattern is valid")
}

/// What a slot for a part takes, in the `regex` crate's syntax.
pub fn part_pattern() -> &'static str {
    concat!(
        r"(?i)(?:(?:NO\.?|P(?:AR)?T\.?|SH(?:EE)?T|CARD|#) ?)?",
        r"(?:[0-9]{1,3}(?:[A-Z]|-[0-9]{1,3})?(?: ?(?:OF|/) ?(?:[0-9]{1,3}|\?))?",
        r"|(?:X{1,2}V?I{0,3}|I[XV]|VI{0,3}|I{1,3})(?: OF (?:X{1,2}V?I{0,3}|I[XV]|VI{0,3}|I{1,3}))?)",
        r"|(?:SUPP(?:L(?:EMENT)?)?|ADD(?:ENDUM)?|APP(?:ENDIX)?|INDEX)\.?(?: [0-9]{1,2})?",
    )
}

impl Part {
    /// Reads a part, in any case, with any blanks.
    pub fn read(typed: &str) -> Result<ReadPart, PartError> {
        let typed = typed.trim();
        let Some(found) = BESIDE.captures(typed) else {
            let found = SHEET.captures(typed).ok_or_else(|| PartError::NotAPart {
                found: typed.to_owned(),
            })?;
            return Self::sheet(typed, &found);
        };
        let kind = match found["kind"].to_uppercase().as_bytes() {
            [b'S', ..] => PartKind::Supplement,
            [b'I', ..] => PartKind::Index,
            [b'A', b'D', ..] => PartKind::Addendum,
            _ => PartKind::Appendix,
        };
        let first = found
            .name("first")
            .map_or(Ok(1), |first| number(first.as_str()))?;
        let part = Self {
            kind,
            first,
            letter: None,
            last: first,
            total: total(&found)?,
        };
        Ok(ReadPart {
            part: part.checked()?,
            alternative: None,
        })
    }

    fn sheet(typed: &str, found: &Captures) -> Result<ReadPart, PartError> {
        let written = found.name("arabic").or(found.name("roman"));
        let first = number(written.map_or("", |written| written.as_str()))?;
        let letter = found
            .name("letter")
            .and_then(|letter| letter.as_str().chars().next());
        let part = Self {
            kind: PartKind::Sheet,
            first,
            letter: letter.map(|c| c.to_ascii_uppercase()),
            last: first,
            total: total(found)?,
        };
        let Some(last) = found.name("last") else {
            return Ok(ReadPart {
                part: part.checked()?,
                alternative: None,
            });
        };
        let last = number(last.as_str())?;
        let range = Self {
            last,
            ..part.clone()
        };
        let is_pair = matches!(&found["to"], "&" | "+") || found["to"].eq_ignore_ascii_case("and");
        if part.letter.is_some() || is_pair && last != first + 1 {
            return Err(PartError::NotAPart {
                found: typed.to_owned(),
            });
        }
        let is_hyphen = matches!(&found["to"], "-" | "–");
        if is_hyphen && part.total == Total::NotGiven {
            let total = Total::Known(last);
            return Ok(ReadPart {
                part: Self { total, ..part }.checked()?,
                alternative: (first < last).then_some(range),
            });
        }
        Ok(ReadPart {
            part: range.checked()?,
            alternative: None,
        })
    }

    /// Itself, where its numbers fit each other.
    fn checked(self) -> Result<Self, PartError> {
        let Self {
            first, last, total, ..
        } = self;
        match total {
            Total::Known(total) if last > total => {
                Err(PartError::BeyondTotal { part: last, total })
            }
            _ if first > last => Err(PartError::Backwards { first, last }),
            _ => Ok(self),
        }
    }

    /// Whether this is the first sheet of a set.
    pub fn begins(&self) -> bool {
        self.kind == PartKind::Sheet && self.first == 1 && matches!(self.letter, None | Some('A'))
    }

    /// Whether this is the next sheet of the same set after `before`.
    pub fn continues(&self, before: &Self) -> bool {
        if self.kind != before.kind {
            // Supplements begin where the sheets end, an index where the supplements do.
            let ended = match before.total {
                Total::Known(total) => before.last == total,
                _ => true,
            };
            return self.kind > before.kind && ended && self.first == 1;
        }
        if let (Total::Known(one), Total::Known(other)) = (self.total, before.total)
            && one != other
        {
            return false;
        }
        match (self.letter, before.letter) {
            (None | Some('A'), _) if self.first == before.last + 1 => true,
            (Some('A'), None) => self.first == before.last,
            // The sheet itself counts as A where the next is B.
            (Some('B'), None) => self.first == before.last,
            (Some(one), Some(other)) => {
                self.first == before.last && u32::from(one) == u32::from(other) + 1
            }
            _ => false,
        }
    }
}

/// Whether the sheets are all there: 1 to the total, which is the same on all that give one, each once, with those
/// added behind them (`3A`), and the supplements from 1 without a gap. Their order does not matter.
pub fn set_is_complete(parts: &[Part]) -> bool {
    let mut sorted: Vec<&Part> = parts.iter().collect();
    sorted.sort();
    let sheets = sorted.iter().filter(|part| part.kind == PartKind::Sheet);
    let totals = sheets.clone().filter_map(|part| match part.total {
        Total::Known(total) => Some(total),
        _ => None,
    });
    let (Some(least), Some(most)) = (totals.clone().min(), totals.max()) else {
        return false;
    };
    let ends_whole = sheets
        .clone()
        .next_back()
        .is_some_and(|part| part.last == most);
    let follow = |pair: &[&Part]| pair[0].kind != pair[1].kind || pair[1].continues(pair[0]);
    let begin = sorted
        .chunk_by(|one, other| one.kind == other.kind)
        .all(|of_kind| of_kind[0].first == 1 && matches!(of_kind[0].letter, None | Some('A')));
    least == most && ends_whole && begin && sorted.windows(2).all(follow)
}

fn total(found: &Captures) -> Result<Total, PartError> {
    match found.name("total") {
        Some(total) => number(total.as_str()).map(Total::Known),
        None if found.name("open").or(found.name("unknown")).is_some() => Ok(Total::Unknown),
        None => Ok(Total::NotGiven),
    }
}

/// An Arabic or Roman number from 1.
fn number(written: &str) -> Result<u32, PartError> {
    let value = written.parse().ok().or_else(|| roman(written));
    value
        .filter(|value| (1..=MOST_SHEETS).contains(value))
        .ok_or_else(|| PartError::Number {
            found: written.to_owned(),
        })
}

/// The value of a Roman number up to 39 in its one regular writing; larger ones would take letters for numbers.
fn roman(written: &str) -> Option<u32> {
    const TENS: [&str; 4] = ["", "X", "XX", "XXX"];
    const ONES: [&str; 10] = ["", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX"];
    let written = written.to_ascii_uppercase();
    let value = (1..=39).find(|value| {
        let (tens, ones) = (TENS[value / 10], ONES[value % 10]);
        written.strip_prefix(tens) == Some(ones)
    });
    value.map(|value| value as u32)
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let kind = match self.kind {
            PartKind::Sheet => "",
            PartKind::Supplement => "supplement ",
            PartKind::Addendum => "addendum ",
            PartKind::Appendix => "appendix ",
            PartKind::Index => "index ",
        };
        write!(f, "{kind}{}", self.first)?;
        if let Some(letter) = self.letter {
            write!(f, "{letter}")?;
        }
        match (self.last > self.first, self.total) {
            // A hyphen alone would be taken for "of".
            (true, Total::NotGiven) => write!(f, " to {}", self.last)?,
            (true, _) => write!(f, "-{}", self.last)?,
            (false, _) => {}
        }
        match self.total {
            Total::NotGiven => Ok(()),
            Total::Unknown => f.write_str(" of ?"),
            Total::Known(total) => write!(f, " of {total}"),
        }
    }
}

#[cfg(test)]
mod tests;
