//! What a reader might make of a planned sheet, without a picture: for measuring the later stations on many sheets.

use super::collection::PlannedSheet;
use super::look::Noise;
use super::{Stream, random, weighted, within};
use crate::reading::{Alternative, Line, Position, Reading};
use crate::value::Bounds;
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;

/// Pixels to a typed character, along and across the line.
const CELL: (u32, u32) = (20, 40);
/// From one line to the next, in pixels.
const LEADING: u32 = 60;
/// Share of wrong readings whose right text is not among the alternatives at all.
const MISSED: f64 = 0.15;
/// What dirt is read as.
const JUNK: &[&str] = &[".", ",", "'", "-", "I", "|", "~", ":", "\""];

/// How doubtful a reader is, by noise: how often a character is clear, doubtful or hard.
///
/// Invented: about 1.2 % of characters read wrongly at default noise, 5 % at heavy noise.
struct Doubts {
    /// Weights of clear, doubtful, hard.
    weights: [f32; 3],
    /// Places between characters where dirt may be read, per character.
    dirt: f64,
    /// Pairs that may be one character (`RN` for `M`) and are taken for it, share.
    merged: f64,
}

const DEFAULT: Doubts = Doubts {
    weights: [0.95, 0.04, 0.01],
    dirt: 0.004,
    merged: 0.02,
};
const HEAVY: Doubts = Doubts {
    weights: [0.8, 0.14, 0.06],
    dirt: 0.02,
    merged: 0.08,
};

/// A reading of the planned text. Of the positions read with probability p about the share p is right.
pub fn reading(plan: &PlannedSheet) -> Reading {
    let random = &mut random(plan.seed, Stream::Reading, plan.index);
    let doubts = match plan.noise {
        Noise::Default => &DEFAULT,
        Noise::Heavy => &HEAVY,
    };
    let lines = plan.lines.iter().zip(0..);
    Reading {
        lines: lines
            .map(|(line, row)| read_line(line, row * LEADING, doubts, random))
            .collect(),
    }
}

/// Probability of each character of a [`faultless`] reading.
const CERTAINTY: f64 = 0.9999;

/// The planned text as a reader without fault gives it: for measuring the rules alone.
pub fn faultless(plan: &PlannedSheet) -> Reading {
    let lines = plan.lines.iter().zip(0..);
    Reading {
        lines: lines
            .map(|(line, row)| {
                let words: Vec<&str> = line.split_whitespace().collect();
                let mut line = Line::certain(&words.join(" "), CERTAINTY);
                let positions = line
                    .positions
                    .iter_mut()
                    .map(|position| &mut position.bounds);
                for bounds in positions.chain([&mut line.bounds]) {
                    bounds.top += row * LEADING;
                    bounds.bottom += row * LEADING;
                }
                line
            })
            .collect(),
    }
}

fn read_line(text: &str, top: u32, doubts: &Doubts, random: &mut ChaCha8Rng) -> Line {
    let mut positions = Vec::new();
    let mut column = 0;
    while column < text.len() {
        let rest = &text[column..];
        let (typed, alike) = next_unit(rest, doubts, random);
        let bounds = Bounds::new(
            column as u32 * CELL.0,
            top,
            (column + typed.len()) as u32 * CELL.0,
            top + CELL.1,
        );
        // A run of blanks is one gap: no reader counts them.
        let shown = if typed.starts_with(' ') { " " } else { typed };
        positions.push(position(
            shown,
            &alike,
            bounds,
            doubt(doubts, random),
            random,
        ));
        column += typed.len();
        if random.random_bool(doubts.dirt) {
            let bounds = Bounds::new(bounds.right, top, bounds.right, top + CELL.1);
            positions.push(position(
                "",
                JUNK,
                bounds,
                within(random, 0.05..0.5).into(),
                random,
            ));
        }
    }
    Line {
        bounds: Bounds::new(0, top, text.len() as u32 * CELL.0, top + CELL.1),
        positions,
        posterior: None,
    }
}

/// What is typed at the start of `rest` and read as one: a run of blanks, a pair taken for one character, a character;
/// and what it may be taken for.
fn next_unit<'a>(
    rest: &'a str,
    doubts: &Doubts,
    random: &mut ChaCha8Rng,
) -> (&'a str, Vec<&'static str>) {
    let blanks = rest.len() - rest.trim_start_matches(' ').len();
    match blanks {
        0 => {}
        1 => return (&rest[..1], vec![""]),
        _ => return (&rest[..blanks], vec![".", "-"]),
    }
    let pair = PAIRS.iter().find(|(pair, _)| rest.starts_with(pair));
    if let Some((pair, single)) = pair
        && random.random_bool(doubts.merged)
    {
        return (&rest[..pair.len()], vec![single]);
    }
    let length = rest.chars().next().map_or(1, char::len_utf8);
    let typed = &rest[..length];
    let alike = LOOKALIKES.iter().find(|(text, _)| *text == typed);
    (
        typed,
        alike.map_or(JUNK.to_vec(), |(_, alike)| alike.to_vec()),
    )
}

/// How probable it is that a character is read wrongly.
fn doubt(doubts: &Doubts, random: &mut ChaCha8Rng) -> f64 {
    let [clear, doubtful, hard] = doubts.weights;
    let range = weighted(
        random,
        &[
            ((0.0005, 0.006), clear),
            ((0.01, 0.2), doubtful),
            ((0.15, 0.5), hard),
        ],
    );
    within(random, range.0..range.1).into()
}

/// One position: `typed` stands best, but for the share `doubt`, where something like it does.
fn position(
    typed: &str,
    alike: &[&'static str],
    bounds: Bounds,
    doubt: f64,
    random: &mut ChaCha8Rng,
) -> Position {
    let mut others: Vec<&str> = alike.sample(random, alike.len().min(3)).copied().collect();
    let mut best = typed;
    if random.random_bool(doubt) && !others.is_empty() {
        best = others[0];
        others[0] = typed;
        if random.random_bool(MISSED) {
            others.remove(0);
        }
    }
    let mut alternatives = vec![Alternative::new(best, 1.0 - doubt)];
    // The rest is shared out, each getting two thirds of what is left; something stays for "something else".
    let mut left = doubt;
    for other in others {
        alternatives.push(Alternative::new(other, left * 2.0 / 3.0));
        left /= 3.0;
    }
    Position {
        bounds,
        alternatives,
    }
}

/// Two characters that one may be taken for.
const PAIRS: [(&str, &str); 6] = [
    ("RN", "M"),
    ("II", "N"),
    ("VV", "W"),
    ("LI", "U"),
    ("CL", "D"),
    ("IN", "M"),
];

/// Characters and what they are taken for on worn type (common experience with capitals and figures; no source).
const LOOKALIKES: [(&str, &[&str]); 42] = [
    ("0", &["O", "D", "Q", "8"]),
    ("1", &["I", "L", "7", "/"]),
    ("2", &["Z", "7"]),
    ("3", &["8", "B", "5"]),
    ("4", &["A", "9"]),
    ("5", &["S", "6", "3"]),
    ("6", &["G", "8", "5"]),
    ("7", &["1", "T", "/"]),
    ("8", &["B", "3", "6", "S"]),
    ("9", &["4", "8", "0"]),
    ("A", &["R", "4"]),
    ("B", &["8", "R", "E"]),
    ("C", &["G", "O", "("]),
    ("D", &["0", "O", "CL"]),
    ("E", &["F", "B"]),
    ("F", &["E", "P"]),
    ("G", &["6", "C"]),
    ("H", &["N", "M", "II"]),
    ("I", &["1", "L", "T", "J"]),
    ("J", &["I", "U"]),
    ("K", &["X", "R"]),
    ("L", &["I", "1"]),
    ("M", &["N", "RN", "W"]),
    ("N", &["M", "H", "II"]),
    ("O", &["0", "Q", "C", "D"]),
    ("P", &["F", "R"]),
    ("Q", &["O", "0"]),
    ("R", &["K", "B", "A"]),
    ("S", &["5", "8", "B"]),
    ("T", &["I", "7", "F"]),
    ("U", &["V", "LI", "J"]),
    ("V", &["U", "Y"]),
    ("W", &["VV", "M"]),
    ("X", &["K", "Y"]),
    ("Y", &["V", "X"]),
    ("Z", &["2", "7"]),
    (",", &[".", "", ";"]),
    (".", &[",", "", ":"]),
    ("-", &[" ", ".", "~", "="]),
    ("/", &["1", "I", "7"]),
    ("'", &["", "`", ","]),
    ("(", &["C"]),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::demo::{Collection, CollectionKind, Settings};

    #[test]
    fn errors_are_as_frequent_as_the_noise_says() {
        for kind in CollectionKind::ALL {
            // Bounds: the documented rates, give or take a third.
            for (heavy_share, low, high) in [(0.0, 0.008, 0.016), (1.0, 0.033, 0.067)] {
                let collection = Collection::new(Settings {
                    kind,
                    sheets: 1_000,
                    heavy_share,
                    ..Settings::default()
                });
                let (mut errors, mut characters) = (0, 0);
                for plan in collection.sheets() {
                    let right = faultless(&plan).text();
                    errors += strsim::levenshtein(&right, &reading(&plan).text());
                    characters += right.len();
                }
                let rate = errors as f64 / characters as f64;
                assert!(
                    (low..high).contains(&rate),
                    "{kind:?}, {heavy_share}: {rate}"
                );
            }
        }
    }

    #[test]
    fn probabilities_add_up_to_at_most_one_and_the_best_comes_first() {
        let collection = Collection::new(Settings {
            sheets: 500,
            ..Settings::default()
        });
        for position in collection
            .sheets()
            .flat_map(|plan| reading(&plan).lines)
            .flat_map(|line| line.positions)
        {
            let probabilities: Vec<f64> = position
                .alternatives
                .iter()
                .map(|a| a.probability.get())
                .collect();
            assert!(probabilities.iter().sum::<f64>() <= 1.0 + 1e-9);
            assert!(probabilities.is_sorted_by(|a, b| a >= b), "{position:?}");
        }
    }

    #[test]
    fn doubt_tells_how_often_it_is_wrong() {
        let mut random = random(9, Stream::Reading, 0);
        for doubt in [0.02, 0.1, 0.4] {
            let wrong = (0..4_000)
                .map(|_| position("O", &["0", "Q"], Bounds::default(), doubt, &mut random))
                .filter(|position| position.best() != "O")
                .count() as f64
                / 4_000.0;
            // Three standard deviations of a share of 4,000.
            let tolerance = 3.0 * (doubt * (1.0 - doubt) / 4_000.0f64).sqrt();
            assert!((wrong - doubt).abs() < tolerance, "{doubt}: {wrong}");
        }
    }
}
