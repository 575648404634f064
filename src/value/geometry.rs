//! Boxes and corners on an image, in pixels; x grows to the right, y downwards.

use serde::{Deserialize, Serialize};

/// An upright box: `left..right` by `top..bottom`, the far edges excluded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub struct Bounds {
    pub left: u32,
    pub top: u32,
    pub right: u32,
    pub bottom: u32,
}

impl Bounds {
    pub fn new(left: u32, top: u32, right: u32, bottom: u32) -> Self {
        debug_assert!(left <= right && top <= bottom);
        Self {
            left,
            top,
            right,
            bottom,
        }
    }

    pub fn width(&self) -> u32 {
        self.right - self.left
    }

    pub fn height(&self) -> u32 {
        self.bottom - self.top
    }

    /// The smallest box that holds both.
    pub fn union(&self, other: &Self) -> Self {
        Self {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }
}

/// A place on an image, in pixels, between pixels allowed.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Point {
    pub x: f64,
    pub y: f64,
}

/// Four corners on the source image, in the strip's own reading order: top left, top right, bottom right, bottom
/// left *of the upright strip*. For a sheet turned by 180 degrees the first corner lies at the lower right.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Quad(pub [Point; 4]);

impl Quad {
    /// The upright box round the corners: (left, top, right, bottom).
    pub fn extent(&self) -> (f64, f64, f64, f64) {
        let fold = |pick: fn(&Point) -> f64, join: fn(f64, f64) -> f64, start: f64| {
            self.0.iter().map(pick).fold(start, join)
        };
        (
            fold(|p| p.x, f64::min, f64::INFINITY),
            fold(|p| p.y, f64::min, f64::INFINITY),
            fold(|p| p.x, f64::max, f64::NEG_INFINITY),
            fold(|p| p.y, f64::max, f64::NEG_INFINITY),
        )
    }
}

impl Quad {
    /// Area of the two quadrilaterals' intersection by that of their union, 0 to 1; both have to be convex.
    ///
    /// The intersection is clipped edge by edge (Sutherland and Hodgman, Communications of the ACM 17, 1974).
    pub fn overlap(&self, other: &Self) -> f64 {
        let (own, others) = (self.wound(), other.wound());
        let mut common = own.clone();
        for (i, &from) in others.iter().enumerate() {
            let to = others[(i + 1) % others.len()];
            let side =
                |p: Point| (to.x - from.x) * (p.y - from.y) - (to.y - from.y) * (p.x - from.x);
            let mut kept = Vec::new();
            for (j, &p) in common.iter().enumerate() {
                let q = common[(j + 1) % common.len()];
                let (side_p, side_q) = (side(p), side(q));
                if side_p >= 0.0 {
                    kept.push(p);
                }
                if (side_p >= 0.0) != (side_q >= 0.0) {
                    let share = side_p / (side_p - side_q);
                    kept.push(Point {
                        x: p.x + (q.x - p.x) * share,
                        y: p.y + (q.y - p.y) * share,
                    });
                }
            }
            common = kept;
        }
        let both = signed_area(&common).abs();
        let either = signed_area(&own).abs() + signed_area(&others).abs() - both;
        if either > 0.0 { both / either } else { 0.0 }
    }

    /// The corners in the winding in which the inside lies on the positive side of every edge.
    fn wound(&self) -> Vec<Point> {
        let mut corners = self.0.to_vec();
        if signed_area(&corners) < 0.0 {
            corners.reverse();
        }
        corners
    }
}

fn signed_area(corners: &[Point]) -> f64 {
    let next = corners.iter().cycle().skip(1);
    corners
        .iter()
        .zip(next)
        .map(|(p, q)| p.x * q.y - q.x * p.y)
        .sum::<f64>()
        / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quad(corners: [(f64, f64); 4]) -> Quad {
        Quad(corners.map(|(x, y)| Point { x, y }))
    }

    #[test]
    fn overlap_does_not_ask_for_the_winding() {
        let square = quad([(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)]);
        let shifted_and_turned = quad([(3.0, 2.0), (1.0, 2.0), (1.0, 0.0), (3.0, 0.0)]);
        let mirrored = quad([(2.0, 0.0), (0.0, 0.0), (0.0, 2.0), (2.0, 2.0)]);
        let apart = quad([(5.0, 5.0), (6.0, 5.0), (6.0, 6.0), (5.0, 6.0)]);
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
        close(square.overlap(&shifted_and_turned), 2.0 / 6.0);
        close(square.overlap(&mirrored), 1.0);
        close(square.overlap(&apart), 0.0);
        close(Quad::default().overlap(&Quad::default()), 0.0);
    }
}
