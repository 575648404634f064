//! The readings that no rule fits, of which few are looked at: those most like the example, to learn from, and a fair
//! sample, to count on.

use super::Example;
use crate::rules::{Bench, Group};

/// Readings most like the example from which is learnt. On about so many a tenth of the values still shows.
const ALIKE: usize = 40;
/// Unfitted readings on which candidates are counted: a share is known to within seven percent then (twice the standard
/// deviation of a share of one half).
const COUNTED: usize = 200;
/// Readings that other rules fit, on which is counted what a candidate would take from them.
const FITTED: usize = 40;

/// Which sheets of the bench are looked at.
#[derive(Debug, Clone, Default)]
pub(super) struct Evidence {
    /// The likest first.
    pub alike: Vec<usize>,
    /// Spread evenly over all that no rule fits.
    pub counted: Vec<usize>,
    pub fitted: Vec<usize>,
    /// All that no rule fits.
    pub unfitted: usize,
}

impl Evidence {
    pub fn gather(example: &Example, bench: &Bench) -> Self {
        let unfitted = bench.group(Group::FittedByNone);
        let unfitted: Vec<usize> = unfitted
            .into_iter()
            .filter(|at| !bench.text(*at).trim().is_empty())
            .collect();
        let text = example.lines().collect::<Vec<_>>().join("\n");
        let own = shape(&text);
        let words = example.literal_words();
        let mut likeness: Vec<(f64, usize)> = unfitted
            .iter()
            .map(|&at| (likeness(&own, &words, bench.text(at)), at))
            .collect();
        likeness.sort_by(|a, b| b.0.total_cmp(&a.0));
        let fitted: Vec<usize> = (0..bench.len())
            .filter(|at| bench.fit(*at).is_some())
            .collect();
        Self {
            alike: likeness.iter().take(ALIKE).map(|(_, at)| *at).collect(),
            counted: spread(&unfitted, COUNTED),
            fitted: spread(&fitted, FITTED),
            unfitted: unfitted.len(),
        }
    }
}

/// So many of them at most, evenly from first to last.
fn spread(all: &[usize], most: usize) -> Vec<usize> {
    let count = all.len().min(most);
    (0..count)
        .map(|place| all[place * all.len() / count])
        .collect()
}

/// How much a text is like the example: its shape, and the example's unmarked words in it. From 0 to 2.
fn likeness(own: &[u8], words: &[String], text: &str) -> f64 {
    let other = shape(text);
    let longest = own.len().max(other.len()).max(1);
    let alike = 1.0 - distance(own, &other) as f64 / longest as f64;
    let upper = text.to_uppercase();
    let found = words
        .iter()
        .filter(|word| upper.contains(word.as_str()))
        .count();
    alike + found as f64 / words.len().max(1) as f64
}

/// A text with runs of letters, digits and blanks as one sign each.
pub(super) fn shape(text: &str) -> Vec<u8> {
    let mut shape: Vec<u8> = Vec::new();
    for c in text.chars() {
        let sign = match c {
            '\n' => b'\n',
            c if c.is_whitespace() => b' ',
            c if c.is_numeric() => b'9',
            c if c.is_alphabetic() => b'A',
            c if c.is_ascii() => c as u8,
            _ => b'?',
        };
        if shape.last() != Some(&sign) || sign == b'\n' {
            shape.push(sign);
        }
    }
    shape
}

/// Levenshtein distance.
fn distance(a: &[u8], b: &[u8]) -> usize {
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut corner = i;
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let changed = corner + usize::from(x != y);
            corner = row[j + 1];
            row[j + 1] = changed.min(row[j] + 1).min(corner + 1);
        }
    }
    row[b.len()]
}

impl Example {
    /// The unmarked words of letters, in capitals.
    fn literal_words(&self) -> Vec<String> {
        let mut words = Vec::new();
        for (at, line) in self.lines.iter().enumerate() {
            let is_marked = |place: usize| {
                let mut marks = self.marks.iter();
                marks.any(|mark| mark.line == at && mark.range.contains(&place))
            };
            let kept = line
                .iter()
                .enumerate()
                .map(|(place, c)| match is_marked(place) {
                    true => ' ',
                    false => *c,
                });
            let kept: String = kept.collect();
            let of_letters = kept.split(|c: char| !c.is_alphabetic());
            words.extend(
                of_letters
                    .filter(|word| word.chars().count() > 1)
                    .map(str::to_uppercase),
            );
        }
        words
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_likest_readings_come_first() {
        let example = Example::of_text("HARGREAVES, M   NO. 4418");
        let own = shape("HARGREAVES, M   NO. 4418");
        let words = example.literal_words();
        let of = |text| likeness(&own, &words, text);
        assert!(of("ORME, JOHN  NO. 17") > of("ORME, JOHN  REF. 17"));
        assert!(of("ORME, JOHN  REF. 17") > of("MINUTES OF THE BOARD"));
        assert_eq!(shape("AB 12--3\nC"), b"A 9-9\nA");
    }

    #[test]
    fn a_sample_is_spread_over_all() {
        let all: Vec<usize> = (0..10).collect();
        assert_eq!(spread(&all, 5), [0, 2, 4, 6, 8]);
        assert_eq!(spread(&all, 20), all);
        assert_eq!(spread(&[], 5), [0; 0]);
    }
}
