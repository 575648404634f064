//! Image in, header strip out: opened, found, turned upright, made dark on light, straightened, cut into lines.

pub mod amended;
pub mod band;
mod bands;
pub mod candidate;
pub mod clean;
pub mod convolution;
mod course;
pub mod cut;
pub mod facing;
mod find;
pub mod grey;
pub mod heading;
pub mod ink;
pub mod lines;
mod notice;
mod open;
mod parting;
mod piece;
pub mod rows;
mod second;
pub mod sheet;
pub mod sight;
pub mod skew;
#[cfg(test)]
mod tests;
mod voice;
pub mod working;

pub use find::{candidates, find};
pub use open::{OpenError, Opened, Via, decode, open};

use crate::value::{Bounds, Finding, Quad};
use image::{GrayImage, imageops};
use serde::{Deserialize, Serialize};

/// Part of what a stored reading is known by: raised when the same image would give another strip.
pub const VERSION: &str = "strip 5";

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
    /// Clockwise degrees by which the source had to be turned, before any mirroring: 0, 90, 180 or 270.
    pub turned: u32,
    /// The source showed the strip as in a mirror (scanned emulsion-wrong).
    pub mirrored: bool,
    /// The source showed light text on dark.
    pub inverted: bool,
    /// Clockwise degrees by which the text line leaned on the source, seen after the turn and the mirroring.
    pub skew: f64,
    /// Mean colour of the band behind the text where it is not grey: red, green, blue.
    pub band: Option<[u8; 3]>,
    /// Lead of this facing (turn and mirror) over the next likeliest, in nats; below [`DOUBTFUL_FACING`] a reader
    /// should try the others too.
    pub facing_margin: f64,
}

impl Strip {
    /// The same strip taken for lying another way round: turned by 180 degrees, mirrored left to right, or both.
    pub fn faced(&self, turned: bool, mirrored: bool) -> Self {
        let mut strip = self.clone();
        let (width, height) = strip.image.dimensions();
        if turned {
            let Quad([a, b, c, d]) = strip.lay.corners;
            imageops::rotate180_in_place(&mut strip.image);
            strip.lines.iter_mut().for_each(|line| {
                (line.left, line.right) = (width - line.right, width - line.left);
                (line.top, line.bottom) = (height - line.bottom, height - line.top);
            });
            strip.lines.reverse();
            strip.lay.corners = Quad([c, d, a, b]);
            strip.lay.turned = (strip.lay.turned + 180) % 360;
        }
        if mirrored {
            let Quad([a, b, c, d]) = strip.lay.corners;
            imageops::flip_horizontal_in_place(&mut strip.image);
            strip.lines.iter_mut().for_each(|line| {
                (line.left, line.right) = (width - line.right, width - line.left);
            });
            strip.lay.corners = Quad([b, a, d, c]);
            strip.lay.mirrored = !strip.lay.mirrored;
            strip.lay.skew = -strip.lay.skew;
        }
        strip
    }
}

/// Lead below which a strip's facing is in doubt, in nats: odds of about 20 to 1.
pub const DOUBTFUL_FACING: f64 = 3.0;

/// What `find` found, and what it noticed on the way.
#[derive(Debug, Clone)]
pub struct Found {
    pub strip: Option<Strip>,
    pub findings: Vec<Finding>,
}
