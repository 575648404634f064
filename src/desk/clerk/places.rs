//! Which character of a value stands where on the strip, and which of them the reader doubted.

use crate::value::Bounds;
use unicode_segmentation::UnicodeSegmentation;

/// A character less probable than this is marked for the eye (a judgement: of ten marks one is on a wrong character
/// where the reader's probabilities hold).
const DOUBTFUL: f64 = 0.9;

/// Where one grapheme of a value was read, and whether it deserves a look.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Place {
    /// None where nothing was read for it.
    pub bounds: Option<Bounds>,
    /// The reader doubted it, or did not read so.
    pub is_doubtful: bool,
}

/// Lays a value along what was read: a place for each of its graphemes; none at all where nothing was read.
pub fn places(value: &[String], read: &[(String, Bounds, f64)]) -> Vec<Place> {
    if read.is_empty() {
        return Vec::new();
    }
    let read: Vec<(String, Bounds, f64)> = read
        .iter()
        .flat_map(|(text, bounds, probability)| {
            let graphemes = text.graphemes(true);
            graphemes.map(move |g| (g.to_uppercase(), *bounds, *probability))
        })
        .collect();
    let value: Vec<String> = value.iter().map(|g| g.to_uppercase()).collect();
    let pairs = align(&value, &read);
    let place = |(at, pair): (usize, &Option<usize>)| match pair.map(|pair| &read[pair]) {
        Some((text, bounds, probability)) => Place {
            bounds: Some(*bounds),
            is_doubtful: *text != value[at] || *probability < DOUBTFUL,
        },
        None => Place {
            bounds: None,
            is_doubtful: true,
        },
    };
    pairs.iter().enumerate().map(place).collect()
}

/// For each grapheme of the value the one that was read there, by the fewest changes (Levenshtein's distance).
fn align(value: &[String], read: &[(String, Bounds, f64)]) -> Vec<Option<usize>> {
    let width = read.len() + 1;
    let is_other = |row: usize, column: usize| usize::from(value[row - 1] != read[column - 1].0);
    let mut cost = vec![0_usize; (value.len() + 1) * width];
    for row in 0..=value.len() {
        for column in 0..width {
            cost[row * width + column] = match (row, column) {
                (0, n) | (n, 0) => n,
                _ => {
                    let both = cost[(row - 1) * width + column - 1] + is_other(row, column);
                    let above = cost[(row - 1) * width + column] + 1;
                    let left = cost[row * width + column - 1] + 1;
                    both.min(above).min(left)
                }
            };
        }
    }
    let mut pairs = vec![None; value.len()];
    let (mut row, mut column) = (value.len(), read.len());
    while row > 0 && column > 0 {
        let here = cost[row * width + column];
        if here == cost[(row - 1) * width + column - 1] + is_other(row, column) {
            (row, column) = (row - 1, column - 1);
            pairs[row] = Some(column);
        } else if here == cost[(row - 1) * width + column] + 1 {
            row -= 1;
        } else {
            column -= 1;
        }
    }
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubtful_characters_are_found_where_they_stand() {
        let read: Vec<(String, Bounds, f64)> = "DA1TON"
            .chars()
            .zip(0..)
            .map(|(c, at)| {
                let probability = if at == 4 { 0.5 } else { 0.99 };
                let bounds = Bounds::new(20 * at, 0, 20 * at + 20, 40);
                (c.to_string(), bounds, probability)
            })
            .collect();
        let places = |value: &str| {
            let value: Vec<String> = value.graphemes(true).map(str::to_owned).collect();
            super::places(&value, &read)
        };
        for (value, doubtful) in [
            // Read otherwise, and read with doubt.
            ("DALTON", vec![2, 4]),
            ("da1ton", vec![4]),
            // Not read at all.
            ("DAL1TON", vec![2, 5]),
            // Less than was read.
            ("TON", vec![1]),
            ("", vec![]),
        ] {
            let found = places(value);
            let marked = (0..found.len()).filter(|&at| found[at].is_doubtful);
            assert_eq!(marked.collect::<Vec<_>>(), doubtful, "{value}");
        }
        assert_eq!(places("TON")[2].bounds, Some(Bounds::new(100, 0, 120, 40)));
        assert_eq!(places("DAL1TON")[2].bounds, None);
        assert!(super::places(&["A".to_owned()], &[]).is_empty());
    }
}
