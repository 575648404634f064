//! How a sheet lies in the scanner, and the scanner's light, grain and blur.

use super::{Noise, by_noise};
use crate::command::demo::within;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::ops::Range;

/// What of the sheet and its bed is on the image.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Window {
    /// The sheet and bed left, above, right and below it, as shares of the sheet's width; negative: the image ends
    /// within the sheet.
    Sheet([f32; 4]),
    /// The heading and this much left, above, right and below it, as shares of its height; negative: the image ends
    /// within it, but never within its typing.
    Strip([f32; 4]),
}

/// Another sheet in the same scan: how far its top left corner is from this one's, as shares of this one's width and
/// height, both sheets upright; it lies below where they overlap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Second {
    pub right: f32,
    pub down: f32,
}

/// A streak of light that leaked in, straight across the image.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leak {
    /// Its middle, as a share of the image's width at the image's top, and how far it moves to the right down to the
    /// bottom; of the height where it lies.
    pub at: f32,
    pub slant: f32,
    /// Standard deviation across it, as the same share.
    pub width: f32,
    /// Grey levels in its middle.
    pub strength: f32,
    /// It runs from left to right rather than from top to bottom.
    pub lies: bool,
}

/// Light that wavers while the image is scanned: darker and lighter bands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Waver {
    /// Bands in the image.
    pub count: f32,
    /// Share of full light, up and down.
    pub strength: f32,
    /// Degrees at the image's start.
    pub phase: f32,
    /// The bands run from left to right.
    pub lies: bool,
}

/// Scan geometry and light.
#[derive(Debug, Clone)]
pub struct Scan {
    /// Clockwise degrees by which the image must be turned for the frames to stand upright: 0, 90, 180 or 270.
    pub turned: u32,
    /// Seen from the back, left and right exchanged.
    pub mirrored: bool,
    /// Clockwise degrees.
    pub skew: f32,
    /// Horizontal shear, and vertical stretch less one.
    pub shear: f32,
    pub stretch: f32,
    /// How far the sheet's rows bow and wave, as shares of its width.
    pub curl: [f32; 2],
    /// Perspective: by which share the sheet's last row is longer than its first, and its last column than its first.
    pub perspective: [f32; 2],
    /// Grey of the scanner's bed.
    pub bed: f32,
    /// The bed ends on one side of the image: which (left, above, right, below), how far in as a share of the image, and
    /// the grey beyond.
    pub bed_end: Option<(usize, f32, f32)>,
    pub window: Window,
    /// The image ends within the typing: on which side of the upright strip (left, above, right, below), and which share
    /// of it is lost.
    pub cut_off: Option<(usize, f32)>,
    pub second: Option<Second>,
    /// Fall of light across the image, share of full light, and its direction in degrees.
    pub gradient: f32,
    pub gradient_turn: f32,
    /// Fall of light from the middle to the corners, share.
    pub vignette: f32,
    pub leaks: Vec<Leak>,
    pub waver: Option<Waver>,
    /// Standard deviations of fine and clumpy grain, grey levels.
    pub grain: f32,
    pub clumps: f32,
    /// Standard deviation of the blur, pixels.
    pub blur: f32,
}

impl Scan {
    pub(super) fn choose(random: &mut ChaCha8Rng, noise: Noise) -> Self {
        let by = |random: &mut ChaCha8Rng, default: Range<f32>, heavy: Range<f32>| {
            by_noise(random, noise, default, heavy)
        };
        let fills = random.random_bool(0.25);
        let margin = |random: &mut ChaCha8Rng| {
            if fills {
                within(random, -0.012..0.006)
            } else {
                within(random, 0.004..0.07)
            }
        };
        Self {
            turned: if random.random_bool(0.3) { 180 } else { 0 },
            mirrored: random.random_bool(0.15),
            skew: by(random, -1.2..1.2, -2.5..2.5),
            shear: within(random, -0.002..0.002),
            stretch: within(random, -0.008..0.008),
            curl: [0.0; 2],
            perspective: [0.0; 2],
            bed: if random.random_bool(0.6) {
                within(random, 4.0..50.0)
            } else {
                within(random, 205.0..253.0)
            },
            bed_end: random.random_bool(0.1).then(|| {
                (
                    random.random_range(0..4),
                    within(random, 0.005..0.03),
                    within(random, 0.0..255.0),
                )
            }),
            window: Window::Sheet([
                margin(random),
                margin(random),
                margin(random),
                margin(random),
            ]),
            cut_off: None,
            second: None,
            gradient: by(random, 0.0..0.16, 0.05..0.4),
            gradient_turn: within(random, 0.0..360.0),
            vignette: by(random, 0.0..0.1, 0.0..0.25),
            leaks: Vec::new(),
            waver: None,
            grain: by(random, 0.8..3.0, 2.5..8.0),
            clumps: by(random, 0.5..3.2, 2.5..8.0),
            blur: by(random, 0.4..1.1, 0.7..1.7),
        }
    }
}
