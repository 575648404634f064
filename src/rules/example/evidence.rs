//! The readings that no rule fits, of which few are looked at: those most like the example, to learn from, and a fair
//! sample, to count on.

use super::Example;
use crate::rules::{Bench, Group};
use std::collections::{BTreeMap, HashMap};

/// Readings like the example from which is learnt. On so many a tenth of the values still shows.
const ALIKE: usize = 28;
/// Share of the likeness of the likest reading from which another one counts as of the same layout.
const ONE_LAYOUT: f64 = 0.85;
/// Unfitted readings on which candidates are counted: a share is known to within nine percent then (twice the standard
/// deviation of a share of one half).
const COUNTED: usize = 120;
/// Readings that other rules fit, on which is counted what a candidate would take from them.
const FITTED: usize = 24;

/// Which sheets of the bench are looked at.
#[derive(Debug, Clone, Default)]
pub(super) struct Evidence {
    /// Readings that look like the example's layout, spread over all of them.
    pub alike: Vec<usize>,
    /// More of them, to learn values from.
    pub many: Vec<usize>,
    /// Spread evenly over all that no rule fits.
    pub counted: Vec<usize>,
    pub fitted: Vec<usize>,
    /// All that no rule fits.
    pub unfitted: usize,
    /// The unfitted readings by their shape.
    by_shape: HashMap<Vec<u8>, Vec<usize>>,
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
        let mut by_shape: HashMap<Vec<u8>, Vec<usize>> = HashMap::new();
        for &at in &unfitted {
            by_shape.entry(shape(bench.text(at))).or_default().push(at);
        }
        let mut likeness: Vec<(f64, usize)> = Vec::with_capacity(unfitted.len());
        for (shape, sheets) in &by_shape {
            let alike = shape_likeness(&own, shape);
            likeness.extend(
                sheets
                    .iter()
                    .map(|&at| (alike + share_of(&words, bench.text(at)), at)),
            );
        }
        likeness.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let best = likeness.first().map_or(0.0, |(best, _)| *best);
        let same: Vec<usize> = likeness
            .iter()
            .enumerate()
            .take_while(|(place, (alike, _))| *place < ALIKE || *alike >= ONE_LAYOUT * best)
            .map(|(_, (_, at))| *at)
            .collect();
        let fitted: Vec<usize> = (0..bench.len())
            .filter(|at| bench.fit(*at).is_some())
            .collect();
        Self {
            alike: spread(&same, ALIKE),
            many: spread(&same, COUNTED),
            counted: spread(&unfitted, COUNTED),
            fitted: spread(&fitted, FITTED),
            unfitted: unfitted.len(),
            by_shape,
        }
    }

    /// Unfitted readings that have exactly the shape of a text.
    pub fn of_shape(&self, text: &str) -> &[usize] {
        self.by_shape.get(&shape(text)).map_or(&[], Vec::as_slice)
    }
}

/// The readings that no rule fits, in groups of one shape: words, figures and marks in the same order. The largest group
/// comes first; noise puts a reading into a group of its own, never a layout into a larger one.
pub fn groups(bench: &Bench) -> Vec<Vec<usize>> {
    let mut groups: BTreeMap<Vec<u8>, Vec<usize>> = BTreeMap::new();
    for at in bench.group(Group::FittedByNone) {
        let shape = shape(bench.text(at));
        if !shape.is_empty() {
            groups.entry(shape).or_default().push(at);
        }
    }
    let mut groups: Vec<Vec<usize>> = groups.into_values().collect();
    groups.sort_by_key(|group| (std::cmp::Reverse(group.len()), group[0]));
    groups
}

/// So many of them at most, evenly from first to last.
fn spread(all: &[usize], most: usize) -> Vec<usize> {
    let count = all.len().min(most);
    (0..count)
        .map(|place| all[place * all.len() / count])
        .collect()
}

/// How much a shape is like another, from 0 to 1.
fn shape_likeness(own: &[u8], other: &[u8]) -> f64 {
    let longest = own.len().max(other.len()).max(1);
    1.0 - distance(own, other) as f64 / longest as f64
}

/// Share of the words that stand in a text.
fn share_of(words: &[String], text: &str) -> f64 {
    let upper = text.to_uppercase();
    let found = words
        .iter()
        .filter(|word| upper.contains(word.as_str()))
        .count();
    found as f64 / words.len().max(1) as f64
}

/// A text with runs of letters, digits and blanks as one sign each, and several words in a row as one: names have one or
/// three.
pub(super) fn shape(text: &str) -> Vec<u8> {
    let mut shape: Vec<u8> = Vec::new();
    for c in text.trim().chars() {
        let sign = match c {
            '\n' => b'\n',
            c if c.is_whitespace() => b' ',
            c if c.is_numeric() => b'9',
            c if c.is_alphabetic() => b'A',
            c if c.is_ascii() => c as u8,
            _ => b'?',
        };
        if sign == b'A' && shape.ends_with(b"A ") {
            shape.pop();
        } else if shape.last() != Some(&sign) || sign == b'\n' {
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
        let of = |text| shape_likeness(&own, &shape(text)) + share_of(&words, text);
        assert!(of("ORME, JOHN  NO. 17") > of("ORME, JOHN  REF. 17"));
        assert!(of("ORME, JOHN  REF. 17") > of("MINUTES OF THE BOARD"));
        assert_eq!(shape("AB C 12--3\nC"), b"A 9-9\nA");
    }

    #[test]
    fn a_sample_is_spread_over_all() {
        let all: Vec<usize> = (0..10).collect();
        assert_eq!(spread(&all, 5), [0, 2, 4, 6, 8]);
        assert_eq!(spread(&all, 20), all);
        assert_eq!(spread(&[], 5), [0; 0]);
    }
}
