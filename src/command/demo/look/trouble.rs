//! The kinds of trouble that a sheet can have.

use super::format::Depth;
use super::{Edge, Film, Fixing, Look, READABLE, Window, sheet};
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
    /// 1 bit.
    Bilevel,
    SixteenBit,
    /// In the low end of 16.
    TwelveBit,
    Palette,
    /// Blue vesicular film.
    BlueFilm,
    /// A blue or purple diazo copy.
    TintedFilm,
    LightLeaks,
    /// Light that wavers while the sheet is scanned.
    WaveringLight,
    HeavyScratches,
    Staples,
    PaperClip,
    Tape,
    FingerPrints,
    Notches,
    PunchedHoles,
    /// A second line broken in two.
    ThreeLines,
}

/// Heading heights below this are low, in inches: 7 % of an A6 jacket's.
pub(super) const LOW_HEADING: f32 = 0.07 * sheet::A6.1;
/// A bed wider than this is large, in sheet widths.
const LARGE_BED: f32 = 0.15;
/// Baseline to baseline, in cap heights, below which commas touch the capitals under them.
const TOUCHING: f32 = 1.2;

/// More scratches than any sheet has that is not heavily scratched.
const HEAVY_SCRATCHES: usize = 20;

impl Trouble {
    pub const ALL: [Self; 53] = [
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
        Self::Bilevel,
        Self::SixteenBit,
        Self::TwelveBit,
        Self::Palette,
        Self::BlueFilm,
        Self::TintedFilm,
        Self::LightLeaks,
        Self::WaveringLight,
        Self::HeavyScratches,
        Self::Staples,
        Self::PaperClip,
        Self::Tape,
        Self::FingerPrints,
        Self::Notches,
        Self::PunchedHoles,
        Self::ThreeLines,
    ];
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
        let fixed = |fixing| self.wear.fixings.contains(&fixing);
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
            Trouble::Bilevel => self.format.depth == Depth::Bilevel,
            Trouble::SixteenBit => self.format.depth == Depth::Sixteen,
            Trouble::TwelveBit => self.format.depth == Depth::Twelve,
            Trouble::Palette => self.format.depth == Depth::Palette,
            Trouble::BlueFilm => self.film == Film::Vesicular,
            Trouble::TintedFilm => self.film == Film::Diazo,
            Trouble::LightLeaks => !scan.leaks.is_empty(),
            Trouble::WaveringLight => scan.waver.is_some(),
            Trouble::HeavyScratches => self.wear.scratches > HEAVY_SCRATCHES,
            Trouble::Staples => fixed(Fixing::Staple),
            Trouble::PaperClip => fixed(Fixing::PaperClip),
            Trouble::Tape => fixed(Fixing::Tape),
            Trouble::FingerPrints => fixed(Fixing::FingerPrint),
            Trouble::Notches => fixed(Fixing::Notch),
            Trouble::PunchedHoles => fixed(Fixing::Holes),
            Trouble::ThreeLines => self.lines > 2,
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
