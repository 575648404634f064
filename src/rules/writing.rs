//! How a value is written in the index, where that differs from how it stands on the strip.

use super::kind::Styles;
use crate::value::{Amount, Day, Part, Person, typed_dates, without_diacritics};

/// One change to a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Writing {
    /// `Smith` becomes `SMITH`.
    Capitals,
    /// `SMITH-JONES` becomes `Smith-Jones`.
    Capitalised,
    SmallLetters,
    WithoutBlanks,
    /// Letters, digits and blanks stay.
    WithoutMarks,
    WithoutDiacritics,
    DigitsOnly,
    /// Zeros before the value until it has so many characters.
    Padded(usize),
    /// A typed date or range as EDTF (ISO 8601-2).
    Edtf,
    /// The first and last day that a typed date or range may mean, as 1952-01-31.
    FirstDay,
    LastDay,
    FirstYear,
    LastYear,
    /// A name as `SURNAME, FORENAMES`, or as `FORENAMES SURNAME`.
    Inverted,
    Direct,
    /// An amount as digits with a point before the decimals.
    Decimal,
    /// The place in a set as `2 of 3`.
    CountedOf,
}

/// The plain ones and their names in rule files.
const NAMES: [(&str, Writing); 16] = [
    ("capitals", Writing::Capitals),
    ("capitalised", Writing::Capitalised),
    ("small letters", Writing::SmallLetters),
    ("without blanks", Writing::WithoutBlanks),
    ("without marks", Writing::WithoutMarks),
    ("without diacritics", Writing::WithoutDiacritics),
    ("digits only", Writing::DigitsOnly),
    ("edtf", Writing::Edtf),
    ("first day", Writing::FirstDay),
    ("last day", Writing::LastDay),
    ("first year", Writing::FirstYear),
    ("last year", Writing::LastYear),
    ("surname first", Writing::Inverted),
    ("forenames first", Writing::Direct),
    ("decimal point", Writing::Decimal),
    ("n of m", Writing::CountedOf),
];
/// The name of the one with a number, before it.
const PADDED: &str = "padded to ";
/// No value is padded beyond this.
const MOST_PADDED: usize = 30;

impl Writing {
    /// Every name, as a rule file writes it.
    pub fn names() -> impl Iterator<Item = &'static str> {
        let plain = NAMES.iter().map(|(name, _)| *name);
        plain.chain(["padded to 6"])
    }

    pub fn parse(text: &str) -> Option<Self> {
        if let Some(width) = text.strip_prefix(PADDED) {
            let width = width.trim().parse().ok()?;
            return (1..=MOST_PADDED)
                .contains(&width)
                .then_some(Self::Padded(width));
        }
        let known = NAMES.iter().find(|(name, _)| *name == text);
        known.map(|(_, writing)| *writing)
    }

    /// The value as it is written. What is no value of the kind that the writing is for stays as it is.
    pub fn apply(self, value: &str, styles: &Styles) -> String {
        let day = |of: fn(&crate::value::Edtf) -> Option<Day>, year: bool| {
            let edtf = typed_dates(value, &styles.dates).ok()?.edtf;
            let day = of(&edtf)?;
            Some(match year {
                true => format!("{:04}", day.year),
                false => format!("{:04}-{:02}-{:02}", day.year, day.month, day.day),
            })
        };
        let known = match self {
            Self::Edtf => typed_dates(value, &styles.dates)
                .ok()
                .map(|dates| dates.edtf.to_string()),
            Self::FirstDay => day(|edtf| edtf.earliest(), false),
            Self::LastDay => day(|edtf| edtf.latest(), false),
            Self::FirstYear => day(|edtf| edtf.earliest(), true),
            Self::LastYear => day(|edtf| edtf.latest(), true),
            Self::Inverted => Some(Person::read(value).inverted()),
            Self::Direct => Some(Person::read(value).direct()),
            Self::Decimal => {
                let read = Amount::read(value, styles.decimal).ok();
                read.map(|read| {
                    let currency = None;
                    Amount {
                        currency,
                        ..read.amount
                    }
                    .to_string()
                })
            }
            Self::CountedOf => Part::read(value).ok().map(|read| read.part.to_string()),
            _ => Some(self.plain(value)),
        };
        known.unwrap_or_else(|| value.to_owned())
    }

    fn plain(self, value: &str) -> String {
        let kept = |keep: fn(char) -> bool| value.chars().filter(|&c| keep(c)).collect();
        match self {
            Self::Capitals => value.to_uppercase(),
            Self::SmallLetters => value.to_lowercase(),
            Self::Capitalised => capitalised(value),
            Self::WithoutBlanks => kept(|c| !c.is_whitespace()),
            Self::WithoutMarks => kept(|c| c.is_alphanumeric() || c.is_whitespace()),
            Self::DigitsOnly => kept(|c| c.is_ascii_digit()),
            Self::WithoutDiacritics => without_diacritics(value),
            Self::Padded(width) if value.is_empty() || width == 0 => value.to_owned(),
            Self::Padded(width) => {
                let short = width.saturating_sub(value.chars().count());
                "0".repeat(short) + value
            }
            _ => value.to_owned(),
        }
    }
}

/// Every word with a capital first and small letters behind; an apostrophe or hyphen begins a word (`O'Neill`).
fn capitalised(value: &str) -> String {
    let mut begins = true;
    let mut written = String::with_capacity(value.len());
    for c in value.chars() {
        if begins {
            written.extend(c.to_uppercase());
        } else {
            written.extend(c.to_lowercase());
        }
        begins = !c.is_alphanumeric();
    }
    written
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_written_as_the_names_say() {
        for (name, value, written) in [
            ("capitals", "Ünal", "ÜNAL"),
            (
                "capitalised",
                "O'NEILL-SMITH, MARY ANN",
                "O'Neill-Smith, Mary Ann",
            ),
            ("small letters", "ÅSE", "åse"),
            ("without blanks", "20 45 17-4", "204517-4"),
            ("without marks", "20/45.17-4 A", "2045174 A"),
            ("without diacritics", "MÜLLER", "MULLER"),
            ("digits only", "NO. 204517-X", "204517"),
            ("padded to 6", "417", "000417"),
            ("padded to 6", "1234567", "1234567"),
            ("padded to 6", "", ""),
            ("edtf", "MAR. 12, 1950", "1950-03-12"),
            ("edtf", "NEVER", "NEVER"),
            ("first day", "JAN-MAR 1952", "1952-01-01"),
            ("last day", "1952-61", "1961-12-31"),
            ("first year", "1952-61", "1952"),
            ("last year", "TO 1959", "1959"),
            (
                "surname first",
                "MARY ANN HARGREAVES",
                "HARGREAVES, MARY ANN",
            ),
            (
                "forenames first",
                "HARGREAVES, MARY ANN",
                "MARY ANN HARGREAVES",
            ),
            ("decimal point", "$1,234.50", "1234.50"),
            ("n of m", "SHEET 2/3", "2 of 3"),
        ] {
            assert_eq!(
                Writing::parse(name)
                    .unwrap()
                    .apply(value, &Styles::default()),
                written,
                "{name}"
            );
        }
        for name in [
            "capital",
            "padded to",
            "padded to 0",
            "padded to 31",
            "padded to x",
        ] {
            assert_eq!(Writing::parse(name), None, "{name}");
        }
        for name in Writing::names() {
            assert!(Writing::parse(name).is_some(), "{name}");
        }
    }
}
