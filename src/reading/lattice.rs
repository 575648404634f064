//! The lattice: a confusion network for each line of a strip.

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
        }
    }
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
