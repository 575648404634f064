//! The kinds of trouble that a sheet can have: each by itself, and as they come together.

use super::film::{dye, dyed_tone, film_tone};
use super::{
    Alignment, Edge, Grid, Look, Noise, READABLE, Second, Stripe, Window, by_noise, sheet,
};
use crate::command::demo::{weighted, within};
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A kind of trouble that a strip station meets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Trouble {
    /// The sheet lies turned; see [`Scan::turned`](super::Scan::turned).
    #[serde(rename = "turned-by-90")]
    TurnedBy90,
    #[serde(rename = "turned-by-180")]
    TurnedBy180,
    #[serde(rename = "turned-by-270")]
    TurnedBy270,
    Mirrored,
    /// Over a degree.
    Skewed,
    /// Rows bow or wave by some pixels.
    Curled,
    Perspective,
    /// The heading is at the bottom edge.
    BottomEdge,
    LeftEdge,
    RightEdge,
    /// Light type on a dark ground.
    WhiteOnBlack,
    /// The heading's tone is not the body's.
    BandUnlikeBody,
    ColouredBand,
    /// The heading is a label that does not reach across the sheet.
    Label,
    Stripe,
    Rule,
    Boxed,
    CutCorner,
    NoFrames,
    /// Under 7 % of an A6 jacket's height.
    LowHeading,
    /// Typing up to the sheet's edge.
    TextAtEdge,
    /// Lines so close that they touch.
    TouchingLines,
    LightBed,
    LargeBed,
    /// The bed ends within the image.
    BedEnds,
    /// The image ends within the sheet.
    SheetFillsImage,
    /// The image shows the strip alone.
    StripOnly,
    /// The image ends within the typing.
    CutOff,
    TwoSheets,
    TabCard,
    A5Sheet,
    /// Under 200 pixels an inch.
    LowResolution,
    /// 500 pixels an inch or more.
    HighResolution,
    /// An x-height under [`READABLE`].
    TooSmall,
    /// Over a tenth of the types.
    BrokenTypes,
    FaintRibbon,
    /// Ticks and stamp rings on the heading.
    Marks,
}

/// Heading heights below this are low, in inches: 7 % of an A6 jacket's.
const LOW_HEADING: f32 = 0.07 * sheet::A6.1;
/// A bed wider than this is large, in sheet widths.
const LARGE_BED: f32 = 0.15;
/// Baseline to baseline, in cap heights, below which commas touch the capitals under them.
const TOUCHING: f32 = 1.2;

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
    &[(Trouble::TabCard, 4.0, 4.0), (Trouble::A5Sheet, 3.0, 3.0)],
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
    &[(Trouble::Curled, 20.0, 35.0)],
    &[(Trouble::Perspective, 20.0, 35.0)],
    &[
        (Trouble::TextAtEdge, 3.0, 5.0),
        (Trouble::TouchingLines, 3.0, 6.0),
    ],
    &[(Trouble::TooSmall, 0.5, 1.0)],
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
    pub const ALL: [Self; 37] = [
        Self::TurnedBy90,
        Self::TurnedBy180,
        Self::TurnedBy270,
        Self::Mirrored,
        Self::Skewed,
        Self::Curled,
        Self::Perspective,
        Self::BottomEdge,
        Self::LeftEdge,
        Self::RightEdge,
        Self::WhiteOnBlack,
        Self::BandUnlikeBody,
        Self::ColouredBand,
        Self::Label,
        Self::Stripe,
        Self::Rule,
        Self::Boxed,
        Self::CutCorner,
        Self::NoFrames,
        Self::LowHeading,
        Self::TextAtEdge,
        Self::TouchingLines,
        Self::LightBed,
        Self::LargeBed,
        Self::BedEnds,
        Self::SheetFillsImage,
        Self::StripOnly,
        Self::CutOff,
        Self::TwoSheets,
        Self::TabCard,
        Self::A5Sheet,
        Self::LowResolution,
        Self::HighResolution,
        Self::TooSmall,
        Self::BrokenTypes,
        Self::FaintRibbon,
        Self::Marks,
    ];

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
            Self::TouchingLines => machine.leading = within(random, 1.04..1.15),
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

impl Look {
    /// The kinds of trouble that the sheet has.
    pub fn troubles(&self) -> Vec<Trouble> {
        let (scan, machine) = (&self.scan, &self.machine);
        let (mut narrowest, mut widest) = (0.0, 0.0);
        if let Window::Sheet(margins) = scan.window {
            narrowest = margins.iter().copied().fold(f32::INFINITY, f32::min);
            widest = margins.iter().copied().fold(0.0, f32::max);
        }
        let inches = |sheet: sheet::Inches| {
            let side = self.size.0.max(self.size.1) as f32 / self.resolution;
            (side / sheet.0 - 1.0).abs() < 0.03
        };
        let own_tone = self.heading_tone != self.body_tone;
        let has = |trouble| match trouble {
            Trouble::TurnedBy90 => scan.turned == 90,
            Trouble::TurnedBy180 => scan.turned == 180,
            Trouble::TurnedBy270 => scan.turned == 270,
            Trouble::Mirrored => scan.mirrored,
            Trouble::Skewed => scan.skew.abs() > 1.0,
            Trouble::Curled => scan.curl != [0.0; 2],
            Trouble::Perspective => scan.perspective != [0.0; 2],
            Trouble::BottomEdge => self.edge == Edge::Bottom,
            Trouble::LeftEdge => self.edge == Edge::Left,
            Trouble::RightEdge => self.edge == Edge::Right,
            Trouble::WhiteOnBlack => self.inverted,
            Trouble::BandUnlikeBody => own_tone && self.band.is_none() && self.label.is_none(),
            Trouble::ColouredBand => self.band.is_some(),
            Trouble::Label => self.label.is_some(),
            Trouble::Stripe => self.stripe.is_some(),
            Trouble::Rule => self.rule.is_some(),
            Trouble::Boxed => self.boxed,
            Trouble::CutCorner => self.cut.is_some(),
            Trouble::NoFrames => self.filled == 0.0,
            Trouble::LowHeading => self.heading_inches() < LOW_HEADING,
            Trouble::TextAtEdge => self.to_edge,
            Trouble::TouchingLines => machine.leading < TOUCHING,
            Trouble::LightBed => scan.bed >= 100.0,
            Trouble::LargeBed => widest > LARGE_BED,
            Trouble::BedEnds => scan.bed_end.is_some(),
            Trouble::SheetFillsImage => narrowest < 0.0,
            Trouble::StripOnly => matches!(scan.window, Window::Strip(_)),
            Trouble::CutOff => scan.cut_off.is_some(),
            Trouble::TwoSheets => scan.second.is_some(),
            Trouble::TabCard => inches(sheet::TAB_CARD),
            Trouble::A5Sheet => inches(sheet::A5),
            Trouble::LowResolution => self.resolution < 200.0,
            Trouble::HighResolution => self.resolution >= 500.0,
            Trouble::TooSmall => machine.x_height < READABLE,
            Trouble::BrokenTypes => machine.broken > 0.1,
            Trouble::FaintRibbon => machine.ribbon < 0.6,
            Trouble::Marks => self.wear.marks > 0,
        };
        Trouble::ALL
            .into_iter()
            .filter(|&trouble| has(trouble))
            .collect()
    }
}

impl fmt::Display for Trouble {
    /// Its name as serde writes it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.serialize(f)
    }
}

impl FromStr for Trouble {
    type Err = UnknownTrouble;

    fn from_str(name: &str) -> Result<Self, UnknownTrouble> {
        let known = Self::ALL.into_iter();
        let mut fitting = known.filter(|trouble| trouble.to_string() == name);
        fitting
            .next()
            .ok_or_else(|| UnknownTrouble(name.to_owned()))
    }
}

/// A name that no kind of trouble has.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("expected a kind of trouble, found `{0}`; one of {all}", all = Trouble::names())]
pub struct UnknownTrouble(String);

impl Trouble {
    fn names() -> String {
        Self::ALL.map(|trouble| trouble.to_string()).join(", ")
    }
}
