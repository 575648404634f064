//! Check characters after ISO 7064.

use serde::{Deserialize, Serialize};

/// A scheme by which the last character of a code follows from the others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum CheckScheme {
    /// Digits; check character 0-9 or X.
    #[serde(rename = "iso7064-mod-11-2")]
    Iso7064Mod11_2,
    /// Digits and letters; check character 0-9 or A-Z.
    #[serde(rename = "iso7064-mod-37-36")]
    Iso7064Mod37_36,
}

impl CheckScheme {
    pub const ALL: [Self; 2] = [Self::Iso7064Mod11_2, Self::Iso7064Mod37_36];

    /// The name used in rule files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Iso7064Mod11_2 => "iso7064-mod-11-2",
            Self::Iso7064Mod37_36 => "iso7064-mod-37-36",
        }
    }

    /// The check character for a payload; characters that are not letters or digits (hyphens, blanks) do not count.
    /// `None` where the payload is empty or holds a character that the scheme does not know.
    pub fn check_character(self, payload: &str) -> Option<char> {
        let digits: Option<Vec<u32>> = payload
            .chars()
            .filter(|c| c.is_alphanumeric())
            .map(|c| c.to_digit(36).filter(|&d| d < self.radix()))
            .collect();
        let digits = digits.filter(|d| !d.is_empty())?;
        match self {
            // Pure system: p = (p + digit) * 2; the check value makes the sum 1 modulo 11.
            Self::Iso7064Mod11_2 => {
                let sum = digits.iter().fold(0, |sum, digit| (sum + digit) * 2 % 11);
                match (12 - sum) % 11 {
                    10 => Some('X'),
                    value => char::from_digit(value, 10),
                }
            }
            // Hybrid system: modulo 36 (0 counts as 36), doubled modulo 37.
            Self::Iso7064Mod37_36 => {
                let product = digits.iter().fold(36, |product, digit| {
                    let sum = (product + digit) % 36;
                    (if sum == 0 { 36 } else { sum }) * 2 % 37
                });
                char::from_digit((37 - product) % 36, 36).map(|c| c.to_ascii_uppercase())
            }
        }
    }

    /// Whether the last letter or digit of `code` is the check character of those before it.
    pub fn holds(self, code: &str) -> bool {
        let Some((at, last)) = code.char_indices().rfind(|(_, c)| c.is_alphanumeric()) else {
            return false;
        };
        self.check_character(&code[..at]) == Some(last.to_ascii_uppercase())
    }

    fn radix(self) -> u32 {
        match self {
            Self::Iso7064Mod11_2 => 10,
            Self::Iso7064Mod37_36 => 36,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Examples after ISO 7064 from published programs and registries, each row with its source.
    const EXAMPLES: &str = include_str!("../../tests/data/published/check_digit_examples.csv");

    #[test]
    fn agrees_with_every_published_example() {
        let (mut right, mut wrong) = (0, 0);
        for record in csv::Reader::from_reader(EXAMPLES.as_bytes()).records() {
            let record = record.unwrap();
            let scheme = match &record[0] {
                "ISO 7064 MOD 11-2" => CheckScheme::Iso7064Mod11_2,
                "ISO 7064 MOD 37-36" => CheckScheme::Iso7064Mod37_36,
                _ => continue,
            };
            let (payload, check, valid) = (&record[1], &record[2], &record[5]);
            // A wrong example is written "CODE -> INVALID".
            let full = record[3].split(" -> ").next().unwrap();
            let computed = scheme.check_character(payload).unwrap().to_string();
            if valid == "yes" {
                assert_eq!(computed, check, "{payload}");
                assert!(scheme.holds(full), "{full}");
                assert!(scheme.holds(&full.to_lowercase()), "{full} in lower case");
                right += 1;
            } else {
                assert!(!scheme.holds(full), "{full}");
                wrong += 1;
            }
        }
        assert_eq!(
            (right, wrong),
            (7, 2),
            "rows of the two schemes in the table"
        );
    }

    /// ISO 7064 claims that both systems detect every single substitution; the pure system also every swap of
    /// neighbours (second-hand, the standard itself was not read).
    #[test]
    fn every_single_substitution_is_noticed() {
        for (scheme, code, alphabet) in [
            (
                CheckScheme::Iso7064Mod11_2,
                "0000000314159269",
                "0123456789",
            ),
            (
                CheckScheme::Iso7064Mod37_36,
                "A12425GABC1234002M",
                "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ",
            ),
        ] {
            let typed: Vec<char> = code.chars().collect();
            for at in 0..typed.len() {
                for c in alphabet.chars().filter(|&c| c != typed[at]) {
                    let mut changed = typed.clone();
                    changed[at] = c;
                    let changed: String = changed.iter().collect();
                    assert!(!scheme.holds(&changed), "{changed}");
                }
            }
        }
    }

    #[test]
    fn separators_do_not_count_and_nonsense_never_holds() {
        let scheme = CheckScheme::Iso7064Mod11_2;
        assert!(scheme.holds("0000-0003 1415-9269"));
        for code in ["", "-", "5", "X", "12A4", "１２３４", "\u{0}", "٠٧٩X"] {
            assert!(!scheme.holds(code), "{code:?}");
        }
    }
}
