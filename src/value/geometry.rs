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
