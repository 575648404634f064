//! How well a text was read, character by character.

use serde::{Deserialize, Serialize};
use std::ops::AddAssign;

/// Wrong characters and all characters; of many texts added up, so that a long one counts for more than a short one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct CharacterErrors {
    /// Levenshtein distance: characters put in, left out or exchanged.
    pub edits: usize,
    /// Characters of what was really there.
    pub length: usize,
}

impl CharacterErrors {
    /// The character error rate: edits by length, above 1 where far more was read than was there. None where nothing
    /// was there.
    pub fn rate(&self) -> Option<f64> {
        (self.length > 0).then(|| self.edits as f64 / self.length as f64)
    }
}

impl AddAssign for CharacterErrors {
    fn add_assign(&mut self, other: Self) {
        self.edits += other.edits;
        self.length += other.length;
    }
}

/// Compares what was read with what was there. Characters are Unicode code points; time grows with the product of the
/// lengths.
///
/// ```
/// let errors = headword::figures::character_errors("PIER MASTER", "P1ER MASTR");
/// assert_eq!((errors.edits, errors.length), (2, 11));
/// ```
pub fn character_errors(truth: &str, read: &str) -> CharacterErrors {
    CharacterErrors {
        edits: strsim::levenshtein(truth, read),
        length: truth.chars().count(),
    }
}

/// The same with every run of blanks and line breaks taken as one blank, and none at the ends: what counts where the
/// width of gaps says nothing.
pub fn character_errors_with_blanks_collapsed(truth: &str, read: &str) -> CharacterErrors {
    let collapse = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    character_errors(&collapse(truth), &collapse(read))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_characters_not_bytes() {
        // The first two distances are those of the textbooks (common knowledge, no source).
        for (truth, read, edits, length) in [
            ("kitten", "sitting", 3, 6),
            ("Saturday", "Sunday", 3, 8),
            ("Łódź", "Lodz", 3, 4),
            ("A", "", 1, 1),
            ("", "AB", 2, 0),
            ("rn", "m", 2, 2),
        ] {
            assert_eq!(
                character_errors(truth, read),
                CharacterErrors { edits, length },
                "{truth} {read}"
            );
        }
        assert_eq!(character_errors("A  B", "A B").edits, 1);
        let collapsed = character_errors_with_blanks_collapsed(" A  B\nC ", "A B C");
        assert_eq!((collapsed.edits, collapsed.length), (0, 5));
    }

    #[test]
    fn pools_by_length() {
        let mut all = CharacterErrors::default();
        assert_eq!(all.rate(), None);
        all += character_errors("AAAA", "AAAB");
        all += character_errors("A", "");
        assert_eq!(all.rate(), Some(0.4));
    }
}
