//! Every choice about how a sheet looks: film, heading, type, damage, scan.

use super::amendment::Amendment;
use super::fonts::FontUse;
use super::machine::Machine;
use super::{Stream, random, weighted, within};
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// How bad the sheets are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Noise {
    /// An ordinary pre-scan.
    Default,
    /// Hard for a program, readable for a person who takes the time.
    Heavy,
}

/// An A6 jacket: width and height in inches (148 x 105 mm).
pub const SHEET_INCHES: (f32, f32) = (5.827, 4.134);

/// A colour or grey, 0 to 255: red, green, blue.
pub type Rgb = [f32; 3];

/// How ink and ground of a part of the sheet look on the scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tone {
    pub ink: Rgb,
    pub ground: Rgb,
}

/// A narrow stripe across the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stripe {
    pub colour: Rgb,
    /// Thickness as a share of the sheet's height.
    pub thickness: f32,
    /// Above the heading, else right under it.
    pub above: bool,
}

/// Scan geometry and light.
#[derive(Debug, Clone)]
pub struct Scan {
    /// Turned by 180 degrees.
    pub turned: bool,
    /// Seen from the back, left and right exchanged.
    pub mirrored: bool,
    /// Clockwise degrees.
    pub skew: f32,
    /// Horizontal shear, and vertical stretch less one.
    pub shear: f32,
    pub stretch: f32,
    /// Grey of the scanner's bed.
    pub bed: f32,
    /// The bed ends on one side of the image: which (left, above, right, below), how far in as a share of the image, and
    /// the grey beyond.
    pub bed_end: Option<(usize, f32, f32)>,
    /// Bed left, above, right, below, as shares of the sheet's width; negative: the image ends within the sheet.
    pub margins: [f32; 4],
    /// Fall of light across the image, share of full light, and its direction in degrees.
    pub gradient: f32,
    pub gradient_turn: f32,
    /// Fall of light from the middle to the corners, share.
    pub vignette: f32,
    /// Standard deviations of fine and clumpy grain, grey levels.
    pub grain: f32,
    pub clumps: f32,
    /// Standard deviation of the blur, pixels.
    pub blur: f32,
}

/// What time and hands did to the sheet: how many of each.
#[derive(Debug, Clone)]
pub struct Wear {
    pub scratches: usize,
    pub specks: usize,
    pub hairs: usize,
    pub smudges: usize,
    /// Pencil ticks and stamp rings on the heading.
    pub marks: usize,
}

/// The container and how finely its greys are kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Format {
    /// Grey levels kept.
    Png {
        levels: u16,
    },
    Jpeg {
        quality: u8,
    },
    Tiff,
}

impl Format {
    pub fn extension(self) -> &'static str {
        match self {
            Self::Png { .. } => "png",
            Self::Jpeg { .. } => "jpg",
            Self::Tiff => "tif",
        }
    }
}

/// Everything about a sheet's appearance.
#[derive(Debug, Clone)]
pub struct Look {
    /// Pixels per inch.
    pub resolution: f32,
    /// Width and height in pixels.
    pub size: (usize, usize),
    /// The heading's height as a share of the sheet's.
    pub heading: f32,
    /// Where the heading begins, as a share of the sheet's height.
    pub heading_top: f32,
    pub heading_tone: Tone,
    pub body_tone: Tone,
    /// Light type on a dark ground.
    pub inverted: bool,
    /// The heading's ground where it is coloured.
    pub band: Option<[u8; 3]>,
    pub stripe: Option<Stripe>,
    /// The heading is a label that reaches from this share of the sheet's width to that one; else across the sheet.
    pub label: Option<(f32, f32)>,
    /// A rule under the heading, thickness in sheet heights.
    pub rule: Option<f32>,
    /// A box round the heading.
    pub boxed: bool,
    /// Share of the frames that hold a picture.
    pub filled: f32,
    /// Length of a cut-off corner as a share of the sheet's width, and whether it is the right one.
    pub cut: Option<(f32, bool)>,
    /// How the heading was changed after it was typed.
    pub amendment: Option<Amendment>,
    /// The type of the back, or of another sheet, shows faintly.
    pub shows_through: bool,
    /// The image has colours.
    pub colour: bool,
    pub machine: Machine,
    pub scan: Scan,
    pub wear: Wear,
    pub format: Format,
}

/// Most blur that leaves type legible, in x-heights (judged by eye on drawn sheets).
const LEGIBLE_BLUR: f32 = 0.075;
/// Least contrast of type that is legible, in standard deviations of the grain (judged by eye on drawn sheets).
const LEGIBLE_CONTRAST: f32 = 6.0;

/// Band colours as dyes are sold for jackets: yellow, salmon, green, blue, orange, pink, violet, red (invented).
const DYES: [Rgb; 8] = [
    [238.0, 214.0, 92.0],
    [240.0, 160.0, 130.0],
    [140.0, 200.0, 140.0],
    [130.0, 175.0, 225.0],
    [240.0, 170.0, 70.0],
    [240.0, 165.0, 190.0],
    [185.0, 160.0, 215.0],
    [215.0, 105.0, 95.0],
];

impl Look {
    /// The look of sheet `index`: `lines` typed lines must fit its heading.
    pub fn choose(seed: u64, index: usize, noise: Noise, fonts: FontUse, lines: usize) -> Self {
        let random = &mut random(seed, Stream::Look, index);
        let resolution = match random.random_range(0..10) {
            0..4 => 240.0,
            4..7 => 300.0,
            7 => 400.0,
            _ => within(random, 240.0..400.0),
        };
        let (width, height) = SHEET_INCHES;
        let size = (
            (width * resolution * within(random, 0.985..1.015)) as usize,
            (height * resolution * within(random, 0.985..1.015)) as usize,
        );
        let inverted = random.random_bool(0.3);
        // A jacket's heading may be positive over negative film; a heading without a band shares the film's polarity.
        let banded = random.random_bool(0.6);
        let body_inverted = if banded {
            random.random_bool(0.5)
        } else {
            inverted
        };
        let body_tone = film_tone(random, noise, body_inverted);
        let dyed = banded && random.random_bool(0.4);
        let label = (banded && random.random_bool(0.25)).then(|| {
            // One line needs more room.
            let least = if lines > 1 { 0.6 } else { 0.8 };
            let width = within(random, least..0.97);
            let left = within(random, 0.01..0.99 - width);
            (left, left + width)
        });
        let heading_tone = match (banded, dyed) {
            (false, _) => body_tone,
            (true, false) => film_tone(random, noise, inverted),
            (true, true) => dyed_tone(random, inverted),
        };
        let stripe = random.random_bool(0.25).then(|| Stripe {
            colour: if random.random_bool(0.5) {
                dye(random)
            } else {
                [within(random, 30.0..190.0); 3]
            },
            thickness: within(random, 0.008..0.022),
            above: random.random_bool(0.5),
        });
        let colour = dyed
            || stripe.is_some_and(|stripe| !is_grey(stripe.colour))
            || random.random_bool(0.04);
        let heading = if lines > 1 {
            within(random, 0.085..0.13)
        } else {
            within(random, 0.06..0.12)
        };
        let (amendment, shows_through) = Amendment::choose(seed, index, noise, lines);
        let mut look = Self {
            resolution,
            size,
            heading,
            heading_top: if random.random_bool(0.6) {
                within(random, 0.0..0.006)
            } else {
                within(random, 0.005..0.02)
            },
            heading_tone,
            body_tone,
            inverted,
            band: dyed.then(|| heading_tone.ground.map(|level| level as u8)),
            stripe,
            label,
            rule: random
                .random_bool(0.4)
                .then(|| within(random, 0.0015..0.005)),
            boxed: random.random_bool(0.08),
            filled: weighted(random, &[(0.0, 0.2), (0.5, 0.2), (0.9, 0.25), (1.0, 0.35)]),
            cut: random
                .random_bool(0.3)
                .then(|| (within(random, 0.02..0.05), random.random_bool(0.5))),
            amendment,
            shows_through,
            colour,
            machine: Machine::choose(random, noise, fonts, resolution),
            scan: Scan::choose(random, noise),
            wear: Wear::choose(random, noise),
            format: format(random, noise, colour),
        };
        look.keep_legible();
        look
    }

    /// Takes back blur and grain where type is too small or too faint for them, so that a person can read it.
    fn keep_legible(&mut self) {
        let Self {
            machine,
            scan,
            heading_tone,
            ..
        } = self;
        scan.blur = scan.blur.min(machine.x_height * LEGIBLE_BLUR);
        let contrast: f32 = (0..3)
            .map(|channel| (heading_tone.ink[channel] - heading_tone.ground[channel]).abs() / 3.0)
            .sum();
        let signal = contrast * machine.ribbon * (1.0 - machine.texture / 2.0);
        let excess = LEGIBLE_CONTRAST * scan.grain.hypot(scan.clumps) / signal;
        if excess > 1.0 {
            scan.grain /= excess;
            scan.clumps /= excess;
        }
    }
}

impl Scan {
    fn choose(random: &mut ChaCha8Rng, noise: Noise) -> Self {
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
            turned: random.random_bool(0.3),
            mirrored: random.random_bool(0.15),
            skew: by(random, -1.2..1.2, -2.5..2.5),
            shear: within(random, -0.002..0.002),
            stretch: within(random, -0.008..0.008),
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
            margins: [
                margin(random),
                margin(random),
                margin(random),
                margin(random),
            ],
            gradient: by(random, 0.0..0.16, 0.05..0.4),
            gradient_turn: within(random, 0.0..360.0),
            vignette: by(random, 0.0..0.1, 0.0..0.25),
            grain: by(random, 0.8..3.0, 2.5..8.0),
            clumps: by(random, 0.5..3.2, 2.5..8.0),
            blur: by(random, 0.4..1.1, 0.7..1.7),
        }
    }
}

impl Wear {
    fn choose(random: &mut ChaCha8Rng, noise: Noise) -> Self {
        let most = |random: &mut ChaCha8Rng, default: usize, heavy: usize| {
            random.random_range(
                0..=match noise {
                    Noise::Default => default,
                    Noise::Heavy => heavy,
                },
            )
        };
        Self {
            scratches: most(random, 5, 18),
            specks: most(random, 60, 260),
            hairs: most(random, 2, 7),
            smudges: most(random, 1, 4),
            marks: most(random, 0, 1),
        }
    }
}

/// A quantity whose range depends on the noise.
pub(super) fn by_noise(
    random: &mut ChaCha8Rng,
    noise: Noise,
    default: Range<f32>,
    heavy: Range<f32>,
) -> f32 {
    within(
        random,
        match noise {
            Noise::Default => default,
            Noise::Heavy => heavy,
        },
    )
}

/// Grey film or card: how dark the dark and how light the light is.
fn film_tone(random: &mut ChaCha8Rng, noise: Noise, inverted: bool) -> Tone {
    let dark = by_noise(random, noise, 12.0..75.0, 20.0..100.0);
    let light = by_noise(random, noise, 185.0..248.0, 160.0..235.0);
    let (ink, ground) = if inverted {
        (light, dark)
    } else {
        (dark, light)
    };
    Tone {
        ink: [ink; 3],
        ground: [ground; 3],
    }
}

/// A dyed band: dark type on a light dye, or light type on a deep one.
fn dyed_tone(random: &mut ChaCha8Rng, inverted: bool) -> Tone {
    let dye = dye(random);
    if inverted {
        let depth = within(random, 0.3..0.5);
        Tone {
            ink: [within(random, 200.0..245.0); 3],
            ground: dye.map(|level| level * depth),
        }
    } else {
        Tone {
            ink: [within(random, 15.0..70.0); 3],
            ground: dye,
        }
    }
}

fn dye(random: &mut ChaCha8Rng) -> Rgb {
    let shade = within(random, 0.8..1.03);
    DYES.choose(random)
        .expect("dyes")
        .map(|level| (level * shade + within(random, -12.0..12.0)).clamp(0.0, 255.0))
}

fn is_grey(colour: Rgb) -> bool {
    colour[0] == colour[1] && colour[1] == colour[2]
}

/// Colour scans come as JPEG more often than grey ones.
fn format(random: &mut ChaCha8Rng, noise: Noise, colour: bool) -> Format {
    let jpeg = Format::Jpeg {
        quality: match noise {
            Noise::Default => random.random_range(60..=88),
            Noise::Heavy => random.random_range(35..=75),
        },
    };
    let png = Format::Png {
        levels: weighted(random, &[(16, 0.65), (32, 0.31), (256, 0.04)]),
    };
    let jpegs = if colour { 0.8 } else { 0.4 };
    weighted(
        random,
        &[(jpeg, jpegs), (png, 0.98 - jpegs), (Format::Tiff, 0.02)],
    )
}
