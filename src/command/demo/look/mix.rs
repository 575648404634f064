//! Trouble put on a sheet: one kind by itself, or what its noise brings.

use super::film::{diazo_tone, dye, dyed_tone, film_tone, vesicular_tone};
use super::format::{Container, Depth};
use super::scan::{Leak, Waver};
use super::trouble::LOW_HEADING;
use super::{
    Alignment, Edge, Film, Fixing, Format, Grid, Look, Noise, READABLE, Second, Stripe, Trouble,
    Window, by_noise, sheet,
};
use crate::command::demo::{weighted, within};
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;

/// What comes to an ordinary sheet, in percent of sheets at default and at heavy noise; at most one of a group. What is
/// not listed comes with the base look. Invented, of the size that a bureau could meet (no source).
const RATES: &[&[(Trouble, f32, f32)]] = &[
    &[
        (Trouble::TurnedBy90, 3.0, 4.0),
        (Trouble::TurnedBy270, 3.0, 4.0),
    ],
    &[
        (Trouble::BottomEdge, 2.0, 3.0),
        (Trouble::LeftEdge, 1.0, 1.5),
        (Trouble::RightEdge, 1.0, 1.5),
    ],
    &[(Trouble::LowHeading, 6.0, 8.0)],
    &[
        (Trouble::LowResolution, 4.0, 6.0),
        (Trouble::HighResolution, 3.0, 3.0),
    ],
    &[
        (Trouble::LargeBed, 4.0, 4.0),
        (Trouble::StripOnly, 5.0, 5.0),
        (Trouble::TwoSheets, 0.7, 1.0),
        (Trouble::CutOff, 0.5, 1.0),
    ],
    &[(Trouble::TooSmall, 0.5, 1.0)],
    &[(Trouble::Curled, 20.0, 35.0)],
    &[(Trouble::Perspective, 20.0, 35.0)],
    &[
        (Trouble::TextAtEdge, 3.0, 5.0),
        (Trouble::TouchingLines, 3.0, 6.0),
    ],
    &[(Trouble::TabCard, 4.0, 4.0), (Trouble::A5Sheet, 3.0, 3.0)],
    &[
        (Trouble::BlueFilm, 4.0, 4.0),
        (Trouble::TintedFilm, 3.0, 3.0),
    ],
    &[
        (Trouble::LightLeaks, 3.0, 6.0),
        (Trouble::WaveringLight, 3.0, 6.0),
    ],
    &[(Trouble::HeavyScratches, 2.0, 6.0)],
    &[(Trouble::Staples, 3.0, 3.0), (Trouble::PaperClip, 1.5, 1.5)],
    &[(Trouble::Tape, 2.0, 3.0)],
    &[(Trouble::FingerPrints, 3.0, 6.0)],
    &[
        (Trouble::Notches, 3.0, 3.0),
        (Trouble::PunchedHoles, 3.0, 3.0),
    ],
    // Last: what a scanner keeps depends on what it sees.
    &[
        (Trouble::Bilevel, 4.0, 4.0),
        (Trouble::SixteenBit, 2.5, 2.5),
        (Trouble::TwelveBit, 1.5, 1.5),
        (Trouble::Palette, 2.0, 2.0),
    ],
];

/// Share of sheets whose heading follows a published coarse format.
const COARSE: f64 = 0.2;

/// Puts on a sheet what its noise brings.
pub(super) fn mix(look: &mut Look, noise: Noise, random: &mut ChaCha8Rng) {
    if random.random_bool(COARSE) {
        look.grid = *Grid::COARSE.choose(random).expect("formats");
        look.heading = look.grid.heading() * within(random, 0.9..1.0);
    }
    for group in RATES {
        let mut choices = vec![(None, 100.0)];
        for &(trouble, default, heavy) in *group {
            let rate = match noise {
                Noise::Default => default,
                Noise::Heavy => heavy,
            };
            choices[0].1 -= rate;
            choices.push((Some(trouble), rate));
        }
        if let Some(trouble) = weighted(random, &choices) {
            trouble.put_on(look, noise, random);
        }
    }
}

impl Trouble {
    /// Gives a sheet this trouble.
    pub(super) fn put_on(self, look: &mut Look, noise: Noise, random: &mut ChaCha8Rng) {
        let sign = if random.random_bool(0.5) { 1.0 } else { -1.0 };
        let by = |random: &mut ChaCha8Rng, default, heavy| by_noise(random, noise, default, heavy);
        let (scan, machine) = (&mut look.scan, &mut look.machine);
        match self {
            Self::TurnedBy90 => scan.turned = 90,
            Self::TurnedBy180 => scan.turned = 180,
            Self::TurnedBy270 => scan.turned = 270,
            Self::Mirrored => scan.mirrored = true,
            Self::Skewed => scan.skew = sign * by(random, 1.05..1.6, 1.2..2.5),
            Self::Curled => {
                scan.curl[0] = sign * by(random, 0.0005..0.002, 0.001..0.0035);
                scan.curl[1] = within(random, -0.0006..0.0006);
            }
            Self::Perspective => {
                let most = by(random, 0.001..0.006, 0.003..0.012);
                scan.perspective = [sign * most, within(random, -most..most)];
            }
            Self::BottomEdge => look.move_heading(Edge::Bottom),
            Self::LeftEdge => look.move_heading(Edge::Left),
            Self::RightEdge => look.move_heading(Edge::Right),
            Self::WhiteOnBlack => {
                look.inverted = true;
                look.heading_tone = film_tone(random, noise, true);
                look.body_tone = look.heading_tone;
            }
            Self::BandUnlikeBody => {
                look.body_tone = film_tone(random, noise, sign > 0.0);
            }
            Self::ColouredBand => {
                look.heading_tone = dyed_tone(random, look.inverted);
                look.band = Some(look.heading_tone.ground.map(|level| level as u8));
                look.colour = true;
            }
            Self::Label => {
                look.body_tone = film_tone(random, noise, sign > 0.0);
                let width = within(random, 0.8..0.97);
                let left = within(random, 0.01..0.99 - width);
                look.label = Some((left, left + width));
            }
            Self::Stripe => {
                look.stripe = Some(Stripe {
                    colour: dye(random),
                    thickness: within(random, 0.008..0.022),
                    above: random.random_bool(0.5),
                });
                look.colour = true;
            }
            Self::Rule => look.rule = Some(within(random, 0.0015..0.005)),
            Self::Boxed => look.boxed = true,
            Self::CutCorner => look.cut = Some((within(random, 0.02..0.05), sign > 0.0)),
            Self::NoFrames => look.filled = 0.0,
            Self::LowHeading => {
                look.grid = *Grid::FINE.choose(random).expect("formats");
                // Printed a little lower than the row it takes the place of, and never higher than low.
                let inches = (look.grid.heading() * sheet::A6.1).min(LOW_HEADING);
                let height = look.size.1 as f32 / look.resolution;
                look.heading = inches / height * within(random, 0.93..0.99);
            }
            Self::TextAtEdge => {
                look.to_edge = true;
                look.heading_top = 0.0;
                match random.random_range(0..3) {
                    0 => machine.drop = 0.0,
                    1 => machine.alignment = Alignment::Left(within(random, 0.0..0.003)),
                    _ => machine.alignment = Alignment::Right(within(random, 0.0..0.003)),
                }
            }
            Self::TouchingLines => machine.leading = within(random, 1.07..1.18),
            Self::LightBed => scan.bed = within(random, 205.0..253.0),
            Self::LargeBed => {
                let mut margins = std::array::from_fn(|_| within(random, 0.02..0.4));
                margins[random.random_range(0..4)] = within(random, 0.2..0.5);
                scan.window = Window::Sheet(margins);
            }
            Self::BedEnds => {
                let share = within(random, 0.005..0.03);
                let grey = within(random, 0.0..255.0);
                scan.bed_end = Some((random.random_range(0..4), share, grey));
            }
            Self::SheetFillsImage => {
                scan.window =
                    Window::Sheet(std::array::from_fn(|_| within(random, -0.012..-0.001)));
            }
            Self::StripOnly => {
                let margins = std::array::from_fn(|_| within(random, -0.15..0.25));
                scan.window = Window::Strip(margins);
            }
            Self::CutOff => {
                // Never between heading and frames.
                let (side, most) = match random.random_range(0..3) {
                    0 => (0, 0.35),
                    1 => (2, 0.35),
                    _ if look.edge == Edge::Bottom => (3, 0.6),
                    _ => (1, 0.6),
                };
                scan.cut_off = Some((side, within(random, 0.08..most)));
            }
            Self::TwoSheets => scan.second = Some(Second::choose(random)),
            Self::TabCard => look.resize(sheet::TAB_CARD),
            Self::A5Sheet => look.resize(sheet::A5),
            Self::LowResolution => look.rescan(within(random, 150.0..185.0)),
            Self::HighResolution => look.rescan(within(random, 500.0..600.0)),
            Self::TooSmall => machine.x_height = within(random, 5.0..READABLE - 1.5),
            Self::BrokenTypes => machine.broken = within(random, 0.11..0.16),
            Self::FaintRibbon => machine.ribbon = by(random, 0.5..0.59, 0.42..0.59),
            Self::Marks => look.wear.marks = 1,
            Self::Bilevel => {
                look.format.container = Format::lossless(random);
                look.format.depth = Depth::Bilevel;
                look.colour = false;
                // A scanner that tells ink from ground itself is set for it.
                scan.gradient = scan.gradient.min(0.05);
                scan.vignette = scan.vignette.min(0.04);
                scan.leaks.clear();
                scan.waver = None;
            }
            Self::SixteenBit => {
                look.format.container = Format::lossless(random);
                look.format.depth = Depth::Sixteen;
            }
            Self::TwelveBit => {
                look.format.container = Format::lossless(random);
                look.format.depth = Depth::Twelve;
            }
            Self::Palette => {
                look.format.container = Container::Png;
                look.format.depth = Depth::Palette;
                look.colour = false;
            }
            Self::BlueFilm => {
                look.tint(
                    Film::Vesicular,
                    vesicular_tone(random, noise, look.inverted),
                );
                // A copy on film: what was typed faintly on it is gone from the copy for good.
                look.machine.ribbon = look.machine.ribbon.max(0.8);
                look.machine.texture = look.machine.texture.min(0.25);
                // Strong packing would take the little contrast that there is.
                look.format.container = Format::lossless(random);
                look.format.depth = Depth::Eight { levels: 32 };
            }
            Self::TintedFilm => look.tint(Film::Diazo, diazo_tone(random, look.inverted)),
            Self::LightLeaks => {
                for _ in 0..random.random_range(1..=3) {
                    scan.leaks.push(Leak {
                        at: within(random, 0.0..1.0),
                        slant: within(random, -0.15..0.15),
                        width: within(random, 0.012..0.045),
                        strength: by(random, 20.0..60.0, 40.0..90.0),
                        lies: random.random_bool(0.4),
                    });
                }
            }
            Self::WaveringLight => {
                scan.waver = Some(Waver {
                    count: within(random, 3.0..25.0),
                    strength: by(random, 0.02..0.06, 0.04..0.12),
                    phase: within(random, 0.0..360.0),
                    lies: random.random_bool(0.6),
                });
            }
            Self::HeavyScratches => look.wear.scratches = random.random_range(24..=45),
            Self::Staples => {
                let staples = random.random_range(1..=2);
                look.wear.fixings.extend(vec![Fixing::Staple; staples]);
            }
            Self::PaperClip => look.wear.fixings.push(Fixing::PaperClip),
            Self::Tape => look.wear.fixings.push(Fixing::Tape),
            Self::FingerPrints => {
                let prints = random.random_range(1..=3);
                look.wear.fixings.extend(vec![Fixing::FingerPrint; prints]);
            }
            Self::Notches => {
                let notches = random.random_range(1..=3);
                look.wear.fixings.extend(vec![Fixing::Notch; notches]);
            }
            Self::PunchedHoles => look.wear.fixings.push(Fixing::Holes),
            // The collection breaks the line.
            Self::ThreeLines => {}
        }
    }
}

impl Second {
    /// Beside the sheet, below it, or partly under it.
    fn choose(random: &mut ChaCha8Rng) -> Self {
        let aside = within(random, -0.06..0.06);
        let apart = within(random, 1.01..1.06);
        // Where it peeps out above the sheet, its heading is seen too.
        let peeping = within(random, -0.4..-0.15);
        let (right, down) = weighted(
            random,
            &[
                ((apart, aside), 0.3),
                ((aside, apart), 0.2),
                ((aside, peeping), 0.25),
                // Its heading ends beside this one's.
                ((0.4 + 4.0 * aside, aside / 2.0), 0.25),
            ],
        );
        Self { right, down }
    }
}
