//! A reading made ready for any number of rules, in as little memory as that takes.

use super::around::Around;
use super::mesh::{Mesh, Spot};
use super::slot::Region;
use crate::reading::Reading;

/// What is aligned, and what must be known of the positions beside their characters.
#[derive(Debug, Clone)]
pub(super) struct Prepared {
    pub mesh: Mesh,
    pub places: Places,
}

impl Prepared {
    /// `None` where the reading holds nothing visible, or more than any strip can.
    pub fn new(reading: &Reading) -> Option<Self> {
        Some(Self {
            mesh: Mesh::new(reading)?,
            places: Places::new(reading),
        })
    }
}

/// A reading's positions in a row, line after line: how far the reader listed what stands there, and where that is.
#[derive(Debug, Clone, Default)]
pub(super) struct Places {
    /// Where each line begins, and where the last one ends.
    lines: Vec<u32>,
    /// Probability that the true character is among those that the reader listed.
    listed: Vec<f64>,
    /// Left and right edge of each position, in pixels.
    edges: Vec<(u32, u32)>,
    /// Left and right edge of all lines together.
    extent: (u32, u32),
}

impl Places {
    fn new(reading: &Reading) -> Self {
        let mut places = Self::default();
        let bounds = || reading.lines.iter().map(|line| line.bounds);
        places.extent = (
            bounds().map(|b| b.left).min().unwrap_or(0),
            bounds().map(|b| b.right).max().unwrap_or(1),
        );
        places.lines.push(0);
        for line in &reading.lines {
            for position in &line.positions {
                let listed = position.alternatives.iter();
                let listed: f64 = listed.map(|a| a.probability.get()).sum();
                places.listed.push(listed.min(1.0));
                places
                    .edges
                    .push((position.bounds.left, position.bounds.right));
            }
            places.lines.push(places.listed.len() as u32);
        }
        places
    }

    /// The positions of a stretch, over line ends.
    fn range(&self, from: Spot, to: Spot) -> std::ops::Range<usize> {
        let index = |spot: Spot| {
            let last = self.lines.len() - 1;
            let first = self.lines[spot.line.min(last)] as usize;
            let end = self.lines[(spot.line + 1).min(last)] as usize;
            (first + spot.position).min(end)
        };
        let (from, to) = (index(from), index(to));
        from..to.max(from)
    }

    /// Probability that the true characters of a stretch are all among those that the reader listed.
    pub fn listed(&self, from: Spot, to: Spot) -> f64 {
        self.listed[self.range(from, to)].iter().product()
    }

    /// Whether a stretch stands in a part of the strip; so does one that holds nothing.
    pub fn stands_in(&self, region: Region, from: Spot, to: Spot, around: &Around) -> bool {
        let edges = &self.edges[self.range(from, to)];
        let (Some(first), Some(last)) = (edges.first(), edges.last()) else {
            return true;
        };
        let left = match around.width {
            Some(_) => 0.0,
            None => f64::from(self.extent.0),
        };
        let right = around.width.unwrap_or_else(|| f64::from(self.extent.1));
        let width = (right - left).max(1.0);
        let middle = (f64::from(first.0) + f64::from(last.1)) / 2.0;
        region.holds(from.line, (middle - left) / width)
    }
}
