//! How a value is written in the index, where that differs from how it stands on the strip.

use crate::value::without_diacritics;

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
}

/// The plain ones and their names in rule files.
const NAMES: [(&str, Writing); 7] = [
    ("capitals", Writing::Capitals),
    ("capitalised", Writing::Capitalised),
    ("small letters", Writing::SmallLetters),
    ("without blanks", Writing::WithoutBlanks),
    ("without marks", Writing::WithoutMarks),
    ("without diacritics", Writing::WithoutDiacritics),
    ("digits only", Writing::DigitsOnly),
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

    /// The value as it is written.
    pub fn apply(self, value: &str) -> String {
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
        ] {
            assert_eq!(
                Writing::parse(name).unwrap().apply(value),
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
