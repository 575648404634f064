//! How probable it is that a word is read as another: misreadings that the reader left, and slips of the typist.

/// Whose slips stand between a roster's value and another string.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Slips {
    /// The typist's and what the reader misread: for finding a row.
    TypedAndRead,
    /// The typist's only: for what stands on the strip.
    Typed,
}

/// Most sheets are clean, some are bad; (share of sheets, misreadings and slips a character).
/// Share and rates lie about the two levels measured on rendered strips: field character error rates of 1.7 and
/// 9.9 % that came from a minority of fields, the others being right to the last character.
const READ: [(f64, f64); 2] = [(0.9, 0.005), (0.1, 0.08)];
/// A typist's slips that stay on the strip, a character. Common practice, no source: one in a thousand.
const TYPED: [(f64, f64); 1] = [(1.0, 0.001)];
/// A slip or misreading goes to one of about this many others (25 letters, a lost one, an added one, two swapped).
const WAYS: f64 = 27.0;

impl Slips {
    /// Probability of one particular spelling at `distance` edits from a word of `length` characters.
    pub fn probability(self, distance: usize, length: usize) -> f64 {
        let kept = length.saturating_sub(distance) as i32;
        let sheets = match self {
            Self::TypedAndRead => &READ[..],
            Self::Typed => &TYPED,
        };
        let of_sheet = |(share, rate): &(f64, f64)| {
            share * (1.0 - rate).powi(kept) * (rate / WAYS).powi(distance as i32)
        };
        sheets.iter().map(of_sheet).sum()
    }
}

/// Edits beyond which two words of this length count as different: more would join words that share little.
pub fn most_edits(length: usize) -> usize {
    match length {
        0..=2 => 0,
        3..=4 => 1,
        5..=8 => 2,
        _ => 3,
    }
}

/// A word with what makes it quick to see that another is too far away.
#[derive(Debug, Clone, Default)]
pub struct Word {
    pub text: String,
    length: usize,
    /// One bit for each letter or digit that occurs, others share the rest.
    letters: u64,
}

impl Word {
    pub fn new(text: String) -> Self {
        let letters = text.chars().fold(0, |set, c| set | 1 << place(c));
        Self {
            length: text.chars().count(),
            letters,
            text,
        }
    }

    pub fn len(&self) -> usize {
        self.length
    }

    /// Insertions, deletions, substitutions and swaps of neighbours (optimal string alignment) from `self`, the
    /// word as it should be, to `typed`; `None` beyond [`most_edits`].
    pub fn edits(&self, typed: &Self) -> Option<usize> {
        if self.letters == typed.letters && self.text == typed.text {
            return Some(0);
        }
        let most = most_edits(self.length);
        // Each edit changes the length by one at most and the set of letters by two at most.
        if self.length.abs_diff(typed.length) > most
            || (self.letters ^ typed.letters).count_ones() as usize > 2 * most
        {
            return None;
        }
        Some(strsim::osa_distance(&self.text, &typed.text)).filter(|&edits| edits <= most)
    }

    /// As [`Self::edits`], for codes: compared place by place, so that thousands take little time.
    /// At most two substitutions, or one swap of neighbours, or one character lost or added.
    pub fn code_edits(&self, typed: &Self) -> Option<usize> {
        let (a, b) = (self.text.as_bytes(), typed.text.as_bytes());
        let prefix = a.iter().zip(b).take_while(|(x, y)| x == y).count();
        if a.len() == b.len() {
            let mut wrong = a[prefix..].iter().zip(&b[prefix..]).filter(|(x, y)| x != y);
            let count = wrong.by_ref().take(3).count();
            let swapped = count == 2
                && a[prefix..].len() > 1
                && a[prefix] == b[prefix + 1]
                && a[prefix + 1] == b[prefix];
            return match count {
                2 if swapped => Some(1),
                0..=2 => Some(count),
                _ => None,
            };
        }
        let shorter = a.len().min(b.len());
        if a.len().abs_diff(b.len()) != 1 || shorter < 3 {
            return None;
        }
        let suffix = a
            .iter()
            .rev()
            .zip(b.iter().rev())
            .take_while(|(x, y)| x == y)
            .count();
        (prefix + suffix >= shorter).then_some(1)
    }
}

fn place(c: char) -> u32 {
    match c {
        'A'..='Z' => c as u32 - 'A' as u32,
        '0'..='9' => 26 + c as u32 - '0' as u32,
        _ => 36 + c as u32 % 28,
    }
}

/// Whether two strings differ by one swap of neighbours.
pub fn is_swap(a: &str, b: &str) -> bool {
    let differ: Vec<_> = a.chars().zip(b.chars()).filter(|(x, y)| x != y).collect();
    matches!(differ[..], [(a, b), (c, d)] if a == d && b == c) && a.len() == b.len()
}

#[cfg(test)]
mod tests {
    /// Values that jellyfish 1.3.0 ships and tests itself against (tests/data/published/jellyfish_README.md). strsim
    /// agrees with all of them, those of Winkler's own table (1990) among them.
    #[test]
    fn similarity_measures_give_the_published_values() {
        fn table(text: &str) -> Vec<(String, String, f64)> {
            let mut reader = csv::ReaderBuilder::new()
                .has_headers(false)
                .from_reader(text.as_bytes());
            let rows = reader.records().map(|record| {
                let record = record.expect("a row");
                let value = record[2].trim().parse().expect("a number");
                (record[0].to_owned(), record[1].to_owned(), value)
            });
            rows.collect()
        }
        let winkler = table(include_str!(
            "../../tests/data/published/jellyfish_jaro_winkler.csv"
        ));
        let damerau = table(include_str!(
            "../../tests/data/published/jellyfish_damerau_levenshtein.csv"
        ));
        for (a, b, expected) in winkler {
            let found = strsim::jaro_winkler(&a, &b);
            assert!(
                (found - expected).abs() < 0.001,
                "{a} / {b}: {found}, published {expected}"
            );
        }
        for (a, b, expected) in damerau {
            let found = strsim::damerau_levenshtein(&a, &b) as f64;
            assert_eq!(found, expected, "{a} / {b}");
            // What the search uses counts a swapped pair at most once more.
            assert!(strsim::osa_distance(&a, &b) as f64 >= found, "{a} / {b}");
        }
    }
}
