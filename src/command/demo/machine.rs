//! The typewriter behind a strip: its typeface, ribbon and wear, and the hand that struck it; or a line printer.

use super::fonts::{FontUse, Typeface};
use super::look::{Noise, by_noise};
use super::within;
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;
use std::ops::Range;

/// Where a line begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Alignment {
    /// This share of the sheet's width from its left edge.
    Left(f32),
    Centred,
    /// The line ends this share of the sheet's width before the right edge.
    Right(f32),
}

/// The machine, its ribbon, and the hand.
#[derive(Debug, Clone)]
pub struct Machine {
    pub face: &'static Typeface,
    /// Pixels at the sheet's own resolution; a line too long for the sheet is typed smaller.
    pub x_height: f32,
    /// Advance, relative to the typeface's own.
    pub pitch: f32,
    /// Glyph width, relative to the typeface's own.
    pub width: f32,
    /// Baseline to baseline, in cap heights.
    pub leading: f32,
    pub alignment: Alignment,
    /// Vertical place within the heading, 0 top to 1 bottom.
    pub drop: f32,
    /// Ink on the ribbon: 1 full black.
    pub ribbon: f32,
    /// Variation of ink from strike to strike, share.
    pub unevenness: f32,
    /// Ink within a strike eaten by the ribbon's weave and the paper's tooth, 0 to 1.
    pub texture: f32,
    /// Stroke weight: 0 as designed, positive bolder, in x-heights.
    pub weight: f32,
    /// Radius over which dirt closes the counters, in x-heights.
    pub clog: f32,
    /// Standard deviation of a strike's height, in x-heights.
    pub height_jitter: f32,
    /// Standard deviation of a strike's place along the line, in x-heights.
    pub advance_jitter: f32,
    /// Standard deviation of a strike's turn, degrees.
    pub turn_jitter: f32,
    /// Share of the machine's slugs that have lost a piece.
    pub broken: f32,
}

impl Machine {
    /// A machine for a sheet of this resolution, in pixels per inch.
    pub(super) fn choose(
        random: &mut ChaCha8Rng,
        noise: Noise,
        fonts: FontUse,
        resolution: f32,
    ) -> Self {
        let faces = fonts.typefaces();
        let by = |random: &mut ChaCha8Rng, default: Range<f32>, heavy: Range<f32>| {
            by_noise(random, noise, default, heavy)
        };
        let faint = random.random_bool(match noise {
            Noise::Default => 0.12,
            Noise::Heavy => 0.25,
        });
        Self {
            face: faces.choose(random).expect("each set has typefaces"),
            x_height: within(random, 16.0..30.0) * (resolution / 300.0).sqrt(),
            pitch: within(random, 0.93..1.12),
            width: within(random, 0.92..1.08),
            leading: within(random, 1.45..2.1),
            alignment: match random.random_range(0..20) {
                0..11 => Alignment::Left(within(random, 0.01..0.1)),
                11..18 => Alignment::Centred,
                _ => Alignment::Right(within(random, 0.01..0.05)),
            },
            drop: within(random, 0.1..0.9),
            ribbon: if faint {
                by(random, 0.5..0.7, 0.42..0.65)
            } else {
                by(random, 0.75..1.0, 0.6..1.0)
            },
            unevenness: by(random, 0.02..0.12, 0.05..0.18),
            texture: by(random, 0.05..0.35, 0.15..0.45),
            weight: by(random, -0.02..0.05, -0.05..0.08),
            clog: if random.random_bool(0.25) {
                by(random, 0.04..0.09, 0.07..0.13)
            } else {
                within(random, 0.01..0.04)
            },
            height_jitter: by(random, 0.0..0.06, 0.02..0.12),
            advance_jitter: by(random, 0.0..0.04, 0.01..0.07),
            turn_jitter: by(random, 0.0..0.9, 0.3..2.2),
            broken: by(random, 0.0..0.08, 0.03..0.16),
        }
    }
    /// Makes it a line printer, or a film recorder that writes like one: type without serifs, evenly struck, in one of
    /// two densities.
    pub(super) fn print_lines(&mut self, fonts: FontUse, random: &mut ChaCha8Rng) {
        let faces = fonts.typefaces();
        let even: Vec<_> = faces
            .into_iter()
            .filter(|face| LINE_PRINTERS.contains(&face.name))
            .collect();
        self.face = even.choose(random).expect("each set has some");
        // A condensed line has its letters nearer and narrower, and as high.
        let condensed = random.random_bool(0.5);
        let density = if condensed { NORMAL / CONDENSED } else { 1.0 };
        self.width = density * within(random, 0.95..1.05);
        self.pitch = density * within(random, 0.98..1.06);
        self.x_height *= within(random, 0.85..1.0);
        self.alignment = if random.random_bool(0.75) {
            Alignment::Left(within(random, 0.01..0.05))
        } else {
            Alignment::Centred
        };
        self.drop = within(random, 0.3..0.7);
        self.ribbon = self.ribbon.max(0.7);
        (self.texture, self.unevenness) = (self.texture.min(0.15), self.unevenness.min(0.06));
        self.broken = 0.0;
        self.turn_jitter = self.turn_jitter.min(0.2);
        self.advance_jitter = self.advance_jitter.min(0.015);
    }
}

/// Typefaces like those of line printers and film recorders.
const LINE_PRINTERS: [&str; 6] = [
    "Liberation Mono",
    "Anonymous Pro",
    "Courier Prime Sans",
    "PT Mono",
    "OCR-B",
    "Inconsolata",
];
/// Characters to the inch of the two densities.
const NORMAL: f32 = 10.0;
const CONDENSED: f32 = 15.0;
