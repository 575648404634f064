//! Image in, header strip out: opened, found, turned upright, made dark on light, straightened, cut into lines.

use crate::value::{Bounds, Finding, Quad};
use image::GrayImage;
use serde::{Deserialize, Serialize};

/// A sheet's header, as every later station sees it.
#[derive(Debug, Clone)]
pub struct Strip {
    /// Dark text on light, upright, without frames and rules; a light margin all round.
    pub image: GrayImage,
    /// The typed lines on `image`, top to bottom, with the ascenders and descenders they need.
    pub lines: Vec<Bounds>,
    /// Where it lay, and what was done to it.
    pub lay: Lay,
}

/// Where a strip lay on its source image and how it was turned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Lay {
    /// Corners on the source image in the strip's own reading order.
    pub corners: Quad,
    /// Clockwise degrees by which the source had to be turned: 0 or 180 so far.
    pub turned: u32,
    /// The source showed the strip as in a mirror (scanned emulsion-wrong).
    pub mirrored: bool,
    /// The source showed light text on dark.
    pub inverted: bool,
    /// Clockwise degrees by which the text line leaned on the source, after the turn.
    pub skew: f64,
    /// Mean colour of the band behind the text where it is not grey: red, green, blue.
    pub band: Option<[u8; 3]>,
}

/// What `find` found, and what it noticed on the way.
#[derive(Debug, Clone)]
pub struct Found {
    pub strip: Option<Strip>,
    pub findings: Vec<Finding>,
}
