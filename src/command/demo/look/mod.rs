//! Every choice about how a sheet looks: film, heading, type, damage, scan.

mod film;
mod form;
pub mod format;
mod mix;
pub mod scan;
pub mod sheet;
mod trouble;

pub use film::Film;
pub use form::{Form, Made};
pub use format::Format;
pub use scan::{Scan, Second, Window};
pub use sheet::{Edge, Grid};
pub use trouble::{Trouble, UnknownTrouble};

use super::amendment::Amendment;
use super::draw::x_height;
use super::fonts::FontUse;
use super::machine::{Alignment, Machine};
use super::{Stream, random, weighted, within};
use film::{dye, dyed_tone, film_tone, is_grey};
use format::Depth;
use rand::RngExt;
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
    /// Between the heading and the sheet's edge, else between the heading and the frames.
    pub above: bool,
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
    pub fixings: Vec<Fixing>,
}

/// Something fixed to the sheet, taken out of it, or left on it by fingers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fixing {
    Staple,
    PaperClip,
    /// Clear tape over part of the heading.
    Tape,
    FingerPrint,
    /// At any edge.
    Notch,
    /// As for a binder.
    Holes,
}

/// Everything about a sheet's appearance.
#[derive(Debug, Clone)]
pub struct Look {
    /// Pixels per inch.
    pub resolution: f32,
    /// Width and height in pixels, the text upright.
    pub size: (usize, usize),
    /// The edge that bears the heading.
    pub edge: Edge,
    /// How many lines are typed.
    pub lines: usize,
    pub form: Form,
    pub grid: Grid,
    /// The heading's height as a share of the sheet's.
    pub heading: f32,
    /// How far the heading is from its edge, as a share of the sheet's height.
    pub heading_top: f32,
    pub film: Film,
    pub heading_tone: Tone,
    pub body_tone: Tone,
    /// Light type on a dark ground.
    pub inverted: bool,
    /// The typing runs up to the heading's edges.
    pub to_edge: bool,
    /// The heading's ground where it is coloured.
    pub band: Option<[u8; 3]>,
    pub stripe: Option<Stripe>,
    /// The heading is a label that reaches from this share of the sheet's width to that one; else across the sheet.
    pub label: Option<(f32, f32)>,
    /// A rule between heading and frames, thickness in sheet heights.
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

/// Least x-height that a reader can be asked to read, in pixels (Tesseract's own advice: "below 10 px very little
/// chance").
pub const READABLE: f32 = 10.0;

impl Look {
    /// The look of sheet `index`, made like this, on which these lines are typed: with this trouble alone, or else with
    /// whatever its noise brings.
    pub fn choose(
        (seed, index): (u64, usize),
        made: Made,
        noise: Noise,
        fonts: FontUse,
        typed: &[String],
        trouble: Option<Trouble>,
    ) -> Self {
        let batch = &mut random(seed, Stream::Batch, made.batch);
        let random = &mut random(seed, Stream::Look, index);
        let mut look = Self::base(random, noise, fonts, typed.len());
        made.shape(&mut look, noise, fonts, batch);
        match trouble {
            Some(trouble) => {
                look.make_plain(random);
                trouble.put_on(&mut look, noise, random);
            }
            None => {
                mix::mix(&mut look, noise, random);
                (look.amendment, look.shows_through) =
                    Amendment::choose(seed, index, noise, typed.len());
            }
        }
        made.form.keep(&mut look);
        look.keep_legible();
        look.keep_readable(typed);
        look
    }

    /// Film, heading, type and damage.
    fn base(random: &mut ChaCha8Rng, noise: Noise, fonts: FontUse, lines: usize) -> Self {
        let resolution = match random.random_range(0..10) {
            0..4 => 240.0,
            4..7 => 300.0,
            7 => 400.0,
            _ => within(random, 240.0..400.0),
        };
        let (width, height) = sheet::A6;
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
        Self {
            resolution,
            size,
            edge: Edge::Top,
            lines,
            form: Form::Jacket16,
            grid: Grid::JACKET,
            heading,
            heading_top: if random.random_bool(0.6) {
                within(random, 0.0..0.006)
            } else {
                within(random, 0.005..0.02)
            },
            film: Film::Grey,
            heading_tone,
            body_tone,
            inverted,
            to_edge: false,
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
            amendment: None,
            shows_through: false,
            colour,
            machine: Machine::choose(random, noise, fonts, resolution),
            scan: Scan::choose(random, noise),
            wear: Wear::choose(random, noise),
            format: Format::choose(random, noise, colour),
        }
    }

    /// Clockwise degrees by which the image must be turned for the text to stand upright: 0, 90, 180 or 270.
    pub fn turned(&self) -> u32 {
        (self.scan.turned + self.edge.turn()) % 360
    }

    /// The grey between ink and ground of the heading.
    pub fn threshold(&self) -> f32 {
        let [ink, ground] = [self.heading_tone.ink, self.heading_tone.ground].map(luma);
        ground + (ink - ground) * self.machine.ribbon / 2.0
    }

    /// The heading's height in inches.
    pub fn heading_inches(&self) -> f32 {
        self.heading * self.size.1 as f32 / self.resolution
    }

    /// Takes all trouble off: what is left is a clean sheet, upright on a dark bed.
    fn make_plain(&mut self, random: &mut ChaCha8Rng) {
        let tone = film_tone(random, Noise::Default, false);
        self.heading = within(random, 0.09..0.13);
        (self.heading_tone, self.body_tone) = (tone, tone);
        (self.inverted, self.boxed, self.colour) = (false, false, false);
        (self.band, self.stripe, self.label) = (None, None, None);
        (self.rule, self.cut) = (None, None);
        self.filled = within(random, 0.5..1.0);
        self.machine.ribbon = within(random, 0.75..1.0);
        self.machine.broken = within(random, 0.0..0.08);
        self.wear.marks = 0;
        self.wear.scratches = self.wear.scratches.min(5);
        let scan = &mut self.scan;
        (scan.turned, scan.mirrored) = (0, false);
        scan.skew = within(random, -0.9..0.9);
        (scan.bed, scan.bed_end) = (within(random, 4.0..50.0), None);
        scan.window = Window::Sheet(std::array::from_fn(|_| within(random, 0.01..0.07)));
        self.format = Format::choose(random, Noise::Default, false);
    }

    /// Another sheet of this resolution: width and height in inches, the frames upright. The heading keeps its height.
    fn resize(&mut self, (width, height): sheet::Inches) {
        let before = self.size.1 as f32;
        let (width, height) = (width * self.resolution, height * self.resolution);
        self.size = (width as usize, height as usize);
        self.heading *= before / self.size.1 as f32;
    }

    /// Moves the heading to another edge; the text stays upright, so the sheet turns where the edge is a short one.
    fn move_heading(&mut self, edge: Edge) {
        if edge.is_short() != self.edge.is_short() {
            let (width, height) = self.size;
            self.size = (height, width);
            self.heading *= height as f32 / width as f32;
        }
        self.edge = edge;
    }

    /// Film that gives ink and ground a colour, the heading's too.
    fn tint(&mut self, film: Film, tone: Tone) {
        self.film = film;
        (self.heading_tone, self.body_tone) = (tone, tone);
        (self.band, self.label) = (None, None);
        self.colour = true;
    }

    /// The same sheet scanned more finely or coarsely.
    fn rescan(&mut self, resolution: f32) {
        let factor = resolution / self.resolution;
        let (width, height) = self.size;
        self.size = (
            (width as f32 * factor) as usize,
            (height as f32 * factor) as usize,
        );
        self.resolution = resolution;
        // As the machine chooses its size: by the square root.
        self.machine.x_height *= factor.sqrt();
    }

    /// Sees to it that type can be read wherever it is not meant to be too small: the lines closer, the type narrower,
    /// and at last the scan finer.
    fn keep_readable(&mut self, lines: &[String]) {
        /// A little more than readable: what is struck is not quite what was aimed at.
        const AIM: f32 = READABLE + 0.3;
        if lines.is_empty() || self.machine.x_height < READABLE {
            return;
        }
        let lacks = |look: &Self| AIM / x_height(look, lines);
        if lacks(self) > 1.0 {
            self.machine.leading = self.machine.leading.min(1.4);
        }
        let squeeze = lacks(self).clamp(1.0, 1.15);
        self.machine.width /= squeeze;
        self.machine.pitch /= squeeze;
        let finer = lacks(self);
        if finer > 1.0 {
            let drawn = self.machine.x_height;
            self.rescan(self.resolution * finer * 1.01);
            self.machine.x_height = drawn.max(AIM);
        }
    }

    /// Takes back blur and grain where type is too small or too faint for them, so that a person can read it.
    fn keep_legible(&mut self) {
        let Self {
            machine,
            scan,
            heading_tone,
            format,
            ..
        } = self;
        scan.blur = scan.blur.min(machine.x_height * LEGIBLE_BLUR);
        let contrast = (0..3)
            .map(|channel| (heading_tone.ink[channel] - heading_tone.ground[channel]).abs())
            .sum::<f32>()
            / 3.0;
        let signal = contrast * machine.ribbon * (1.0 - machine.texture / 2.0);
        // Grain that a threshold makes specks of disturbs more.
        let least = match format.depth {
            Depth::Bilevel => 1.6 * LEGIBLE_CONTRAST,
            _ => LEGIBLE_CONTRAST,
        };
        let excess = least * scan.grain.hypot(scan.clumps) / signal;
        if excess > 1.0 {
            scan.grain /= excess;
            scan.clumps /= excess;
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
            fixings: Vec::new(),
        }
    }
}

/// A colour's grey (ITU-R BT.601).
pub fn luma([red, green, blue]: Rgb) -> f32 {
    0.299 * red + 0.587 * green + 0.114 * blue
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
