//! The lattice: a confusion network for each line of a strip.

use super::Posterior;
use crate::value::{Bounds, Probability};
use serde::{Deserialize, Serialize};

/// The text of one strip with its doubts.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Reading {
    /// Top to bottom.
    pub lines: Vec<Line>,
}

/// One typed line: positions from left to right.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Line {
    /// Where the line stands on the strip, in pixels.
    pub bounds: Bounds,
    pub positions: Vec<Position>,
    /// What the reader saw column by column, where it tells: for scoring texts against the line itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub posterior: Option<Posterior>,
}

/// A place where something was typed, with what it may be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Position {
    /// On the strip, in pixels; for a blank, the gap.
    pub bounds: Bounds,
    /// Best first, never empty; the probabilities add up to at most 1 (what is left: something else).
    pub alternatives: Vec<Alternative>,
}

/// What may stand at a position: no character at all, one, or several (`rn` for `m`).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Alternative {
    pub text: String,
    pub probability: Probability,
}

impl Reading {
    /// The most probable text, lines joined by line breaks.
    pub fn text(&self) -> String {
        self.lines
            .iter()
            .map(Line::text)
            .collect::<Vec<_>>()
            .join("\n")
    }
}

impl Line {
    /// The most probable text.
    pub fn text(&self) -> String {
        self.positions
            .iter()
            .map(|position| position.best())
            .collect()
    }

    /// A line read without any doubt: one alternative of probability `certainty` for each character. For tests, and
    /// for text that came without a picture.
    pub fn certain(text: &str, certainty: f64) -> Self {
        let positions = text
            .chars()
            .zip(0..)
            .map(|(c, at)| Position {
                bounds: Bounds::new(at * 20, 0, at * 20 + 20, 40),
                alternatives: vec![Alternative::new(c, certainty)],
            })
            .collect::<Vec<_>>();
        let width = positions.len() as u32 * 20;
        Self {
            bounds: Bounds::new(0, 0, width, 40),
            positions,
            posterior: None,
        }
    }
}

/// Share of capitals among a line's letters from which the line counts as typed in capitals.
pub(super) const CAPITALS: f64 = 0.7;

impl Line {
    /// Where a line is typed in capitals, takes small letters among its alternatives for the capitals of their shape:
    /// readers tell `O` from `o` by size alone, and typists did not change case within a line.
    pub fn settle_case(&mut self) {
        let mut letters = [0.0; 2];
        for alternative in self
            .positions
            .iter()
            .flat_map(|position| &position.alternatives)
        {
            for c in alternative.text.chars().filter(|c| c.is_alphabetic()) {
                letters[usize::from(c.is_uppercase())] += alternative.probability.get();
            }
        }
        let [small, capital] = letters;
        if capital < CAPITALS * (small + capital) {
            return;
        }
        for position in &mut self.positions {
            let mut settled: Vec<Alternative> = Vec::with_capacity(position.alternatives.len());
            for alternative in &position.alternatives {
                let text: String = alternative
                    .text
                    .chars()
                    .flat_map(capital_of_shape)
                    .collect();
                let probability = alternative.probability.get();
                match settled.iter_mut().find(|known| known.text == text) {
                    Some(known) => {
                        known.probability = Probability::new(known.probability.get() + probability);
                    }
                    None => settled.push(Alternative::new(text, probability)),
                }
            }
            settled.sort_by(|a, b| b.probability.get().total_cmp(&a.probability.get()));
            position.alternatives = settled;
        }
    }
}

/// The capital that looks like a small letter; a small l is an upright stroke, as I is.
pub(super) fn capital_of_shape(c: char) -> impl Iterator<Item = char> {
    if c == 'l' { 'I' } else { c }.to_uppercase()
}

impl Position {
    /// The most probable text here.
    pub fn best(&self) -> &str {
        self.alternatives
            .first()
            .map_or("", |alternative| &alternative.text)
    }
}

impl Alternative {
    pub fn new(text: impl Into<String>, probability: f64) -> Self {
        Self {
            text: text.into(),
            probability: Probability::new(probability),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settled(text: &str) -> String {
        let mut line = Line::certain(text, 0.9);
        line.settle_case();
        line.text()
    }

    #[test]
    fn a_line_in_capitals_has_no_small_letters() {
        assert_eq!(settled("DAlTON, oWEN 1O4-X"), "DAITON, OWEN 1O4-X");
        assert_eq!(settled("Dalton, Owen"), "Dalton, Owen");
        assert_eq!(settled("104"), "104");
        assert_eq!(settled(""), "");
    }

    #[test]
    fn letters_of_one_shape_add_up() {
        let mut line = Line::certain("WHARF", 0.9);
        line.positions[0].alternatives = vec![
            Alternative::new("V", 0.4),
            Alternative::new("w", 0.3),
            Alternative::new("W", 0.25),
        ];
        line.settle_case();
        assert_eq!(line.positions[0].best(), "W");
        assert_eq!(line.positions[0].alternatives.len(), 2);
    }
}
