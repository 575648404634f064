//! Columns in, positions out: the best path, and around it what else may stand at each place.
//!
//! Every alternative's weight is exact under CTC: P(text with this alternative) / P(text), summed over all alignments,
//! from one forward and one backward pass over the text.

use super::alphabet::{BLANK, character};
use super::columns::Columns;
use super::score::Passes;
use crate::reading::{Alternative, Position};
use crate::value::Bounds;
use std::ops::Range;

/// Highest probability in a column from which a class is tried as an alternative.
const TRIED: f32 = 0.004;
/// Probability below which an alternative is dropped, and below which a character that may have been missed is.
const KEPT: f64 = 0.002;
const MISSED: f64 = 0.02;
/// Alternatives kept at a position.
const MOST: usize = 6;

/// The positions of a line; `to_line` gives the place of a column on it in pixels.
pub(super) fn positions(
    columns: &Columns,
    to_line: impl Fn(f64) -> u32,
    (width, height): (u32, u32),
) -> Vec<Position> {
    let path = columns.best_path();
    let classes: Vec<usize> = path.iter().map(|(class, _)| *class).collect();
    let Some(passes) = Passes::new(columns, &classes) else {
        return Vec::new();
    };
    let boxes = boxes(&path, columns.count);
    let bounds = |columns: &Range<f64>| {
        let (left, right) = (to_line(columns.start), to_line(columns.end));
        Bounds::new(left, 0, right.max(left).min(width), height)
    };
    let mut positions = Vec::with_capacity(path.len() + 4);
    for at in 0..=path.len() {
        // Something between the characters before and here that the best path passes over.
        let from = at.checked_sub(1).map_or(0, |before| path[before].1.start);
        let until = path.get(at).map_or(columns.count, |(_, here)| here.end);
        let missed: Vec<(usize, f64)> = tried(columns, from..until)
            .map(|class| (class, passes.inserted(at, class)))
            .filter(|(_, weight)| weight / (1.0 + weight) >= MISSED)
            .collect();
        if !missed.is_empty() {
            let left = at.checked_sub(1).map_or(0.0, |before| boxes[before].end);
            let right = boxes
                .get(at)
                .map_or(columns.count as f64, |here| here.start);
            positions.push(Position {
                bounds: bounds(&(left.min(right)..right)),
                alternatives: alternatives(missed, 1.0),
            });
        }
        let Some((_, here)) = path.get(at) else { break };
        let until = path.get(at + 1).map_or(columns.count, |(_, next)| next.end);
        let around = from.min(here.start)..until;
        let weights = tried(columns, around)
            .map(|class| (class, passes.replaced(at, class)))
            .collect();
        positions.push(Position {
            bounds: bounds(&boxes[at]),
            alternatives: alternatives(weights, passes.removed(at)),
        });
    }
    positions
}

/// The classes that may stand somewhere in these columns.
fn tried(columns: &Columns, around: Range<usize>) -> impl Iterator<Item = usize> {
    let mut highest = vec![0.0f32; columns.classes];
    for column in around {
        for (highest, &value) in highest.iter_mut().zip(columns.column(column)) {
            *highest = highest.max(value);
        }
    }
    (0..columns.classes).filter(move |&class| class != BLANK && highest[class] >= TRIED)
}

/// Weights to probabilities, best first; `nothing` is the weight of no character at all.
fn alternatives(weights: Vec<(usize, f64)>, nothing: f64) -> Vec<Alternative> {
    let total: f64 = nothing + weights.iter().map(|(_, weight)| weight).sum::<f64>();
    let mut alternatives: Vec<Alternative> = weights
        .into_iter()
        .map(|(class, weight)| Alternative::new(character(class), weight / total))
        .chain([Alternative::new("", nothing / total)])
        .collect();
    alternatives.sort_by(|a, b| b.probability.get().total_cmp(&a.probability.get()));
    alternatives.truncate(MOST);
    let least = alternatives[0].probability.get().min(KEPT);
    alternatives.retain(|alternative| alternative.probability.get() >= least);
    alternatives
}

/// Where each character of the path stands, in columns: half a pitch to either side of its middle, not beyond the
/// middle between neighbours; a space fills the gap.
fn boxes(path: &[(usize, Range<usize>)], count: usize) -> Vec<Range<f64>> {
    let middle = |at: usize| (path[at].1.start + path[at].1.end) as f64 / 2.0;
    let is_space = |at: usize| character(path[at].0) == ' ';
    let mut steps: Vec<f64> = (1..path.len())
        .filter(|&at| !is_space(at) && !is_space(at - 1))
        .map(|at| middle(at) - middle(at - 1))
        .collect();
    steps.sort_by(f64::total_cmp);
    let pitch = steps.get(steps.len() / 2).copied().unwrap_or(5.0);
    let mut boxes: Vec<Range<f64>> = (0..path.len())
        .map(|at| {
            let left = (middle(at) - pitch / 2.0).max(match at {
                0 => 0.0,
                at if is_space(at - 1) => f64::NEG_INFINITY,
                at => (middle(at - 1) + middle(at)) / 2.0,
            });
            let right = (middle(at) + pitch / 2.0).min(match at + 1 {
                next if next == path.len() => count as f64,
                next if is_space(next) => f64::INFINITY,
                next => (middle(at) + middle(next)) / 2.0,
            });
            left.max(0.0)..right.min(count as f64)
        })
        .collect();
    for at in 1..path.len().saturating_sub(1) {
        if is_space(at) {
            let (left, right) = (boxes[at - 1].end, boxes[at + 1].start);
            boxes[at] = left.min(right)..left.max(right);
        }
    }
    boxes
}
