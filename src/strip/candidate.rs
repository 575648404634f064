//! A heading cut out of the sheet at full resolution: cleaned, straight, and heard for what its letters say.

use super::clean::clean;
use super::course::{Course, course};
use super::cut::{Placement, cut};
use super::facing::{self, FACINGS, Facing, Say};
use super::heading::Heading;
use super::ink::{Polarity, smooth};
use super::lines::{self, Line};
use super::piece::Piece;
use super::voice::of_one_voice;
use super::working::View;
use crate::value::Bounds;
use image::GrayImage;

/// Least height of capitals that is taken for a heading, in pixels of the source: what is smaller cannot be read, and
/// belongs to the pages in the frames.
const LEAST_CAPITAL: f64 = 8.0;
/// Most that the letters' common facing may add, in nats; they are far from independent.
const MOST_LEAD: f64 = 10.0;
/// Most that their looking like type may add or take, in nats.
const MOST_ODDS: f64 = 8.0;
/// Most that the letters may add.
pub const MOST_SAY: f64 = MOST_LEAD + MOST_ODDS;
/// How much rarer mirrored sheets are taken to be than right ones, in nats.
const MIRROR_RARITY: f64 = 2.0;

/// A candidate heading cut out and cleaned, as it lies on the source.
#[derive(Debug)]
pub struct Candidate {
    /// As it lies: dark on light and straight, not yet upright.
    pub strip: GrayImage,
    pub lines: Vec<Line>,
    /// Where it lies on the source.
    pub placement: Placement,
    /// The piece that it was found on, and the part of it that it covers.
    piece: Piece,
    part: Bounds,
    pub polarity: Polarity,
    /// How much place, size and evenness speak for a heading, in nats.
    pub score: f64,
    /// What its letters say together.
    pub say: Say,
    /// How much speaks for lying at the top of its sheet, in nats; negative for the bottom.
    pub at_top: f64,
}

impl Candidate {
    /// How much speaks for this being the sheet's heading, in nats.
    ///
    /// Half of a line looks like type and faces no way, as handwriting does; so letters that say little about their
    /// facing are believed less than a whole line would be.
    pub fn evidence(&self) -> f64 {
        /// Lead of the likeliest facing from which it is clear, in nats a letter. On tuning sheets nine in ten whole
        /// lines have more, and halves of lines .1 to .4.
        const CLEAR_LEAD: f64 = 0.5;
        /// Most evidence of letters that face no way, what it rises by until their facing is clear, and for every nat
        /// of their lead, up to a limit: more lines of one worn type lead by more.
        const MOST_UNCLEAR: f64 = 7.5;
        const RISE: f64 = 4.0;
        const FOR_LEAD: f64 = 0.1;
        const MOST_FOR_LEAD: f64 = 2.5;
        let sum = self.score
            + self.say.lead().min(MOST_LEAD)
            + self.say.odds.clamp(-MOST_ODDS, MOST_ODDS);
        let clear = self.say.lead() / self.say.letters.max(1) as f64 / CLEAR_LEAD;
        if clear >= 1.0 {
            return sum;
        }
        let for_lead = (FOR_LEAD * self.say.lead()).min(MOST_FOR_LEAD);
        sum.min(MOST_UNCLEAR + RISE * clear + for_lead)
    }

    /// Height of its capitals, in pixels of the source.
    pub fn letter(&self) -> f64 {
        lines::height(&self.lines)
    }

    /// The likeliest facing, and its lead over the next, in nats.
    pub fn facing(&self) -> (Facing, f64) {
        let mut scores = self.say.facings;
        for (score, facing) in scores.iter_mut().zip(FACINGS) {
            *score += if facing.turned {
                -self.at_top
            } else {
                self.at_top
            } / 2.0;
            *score -= if facing.mirrored { MIRROR_RARITY } else { 0.0 };
        }
        let mut order = [0, 1, 2, 3];
        order.sort_by(|&a, &b| scores[b].total_cmp(&scores[a]));
        (FACINGS[order[0]], scores[order[0]] - scores[order[1]])
    }

    /// Clockwise degrees by which the source has to be turned to put this facing upright, and the skew that is left:
    /// clockwise degrees, seen after the turn and the mirroring.
    pub fn lean(&self, facing: Facing) -> (u32, f64) {
        let lean = self.placement.lean.to_degrees();
        let quarters = (lean / 90.0).round();
        let skew = lean - 90.0 * quarters;
        let half_turn = if facing.turned { 2.0 } else { 0.0 };
        // What leans to the right is turned back to the left.
        let turned = 90 * (half_turn - quarters).rem_euclid(4.0) as u32;
        (turned, if facing.mirrored { -skew } else { skew })
    }

    /// The same heading cut out with the letter height that it turned out to have, where that is another than was
    /// expected or where expected lines were none: what was cut too narrowly, or cleaned for larger letters, may lack
    /// a line. The better of both.
    pub fn looked_at_again(self, grey: &GrayImage) -> Self {
        /// Letter height found over that expected.
        const AS_EXPECTED: std::ops::RangeInclusive<f64> = 0.8..=1.25;
        let as_expected = AS_EXPECTED.contains(&(self.letter() / self.piece.letter));
        let found = self.lines.iter().filter(|line| line.expected).count();
        if as_expected && found == self.piece.expected.len() {
            return self;
        }
        let piece = self.piece.round(&self.lines, self.part);
        let again = on_piece(grey, piece, self.score, self.at_top);
        let telling = |candidate: &Self| candidate.say.lead() + candidate.say.odds;
        match again {
            Some(again) if telling(&again) > telling(&self) => again,
            _ => self,
        }
    }
}

/// Cuts a heading out; `None` where no line of type is left at full resolution.
pub fn cut_out(
    grey: &GrayImage,
    view: &View,
    sheet: Bounds,
    heading: &Heading,
) -> Option<Candidate> {
    let piece = Piece::of(view, sheet, heading).on_source(view.working);
    on_piece(grey, piece, heading.score, heading.at_top)
        .filter(|candidate| candidate.letter() >= LEAST_CAPITAL)
}

/// What the working picture shows of a heading, at a fraction of the cost of cutting it out.
pub enum Glance {
    /// Its letters are too small there to be told.
    TooSmall,
    /// No line of type.
    Nothing,
    Seen(Box<Candidate>),
}

pub fn glance(view: &View, sheet: Bounds, heading: &Heading) -> Glance {
    /// Least letter height, in working pixels.
    const LEAST: f64 = 8.0;
    if heading.letter() < LEAST {
        return Glance::TooSmall;
    }
    let piece = Piece::of(view, sheet, heading);
    on_piece(&view.working.image, piece, heading.score, heading.at_top)
        .map_or(Glance::Nothing, |seen| Glance::Seen(Box::new(seen)))
}

/// The heading on a piece of the source; `None` where it holds no line of type.
fn on_piece(grey: &GrayImage, mut piece: Piece, score: f64, at_top: f64) -> Option<Candidate> {
    /// Slope left over that is believed, a little over a degree.
    const STEEPEST_LEFT: f64 = 0.02;
    /// Largest piece that is cut out, in pixels: rows that take more are no heading, and memory stays bounded.
    const MOST_PIECE: u64 = 30_000_000;
    if u64::from(piece.placement.width) * u64::from(piece.placement.height) > MOST_PIECE {
        return None;
    }
    let cleaned = |piece: &Piece| {
        let image = cut(grey, piece.placement, piece.beyond);
        clean(image, piece.polarity, piece.zone, piece.letter)
    };
    let mut image = cleaned(&piece);
    let mut typed = lines::lines(&smooth(&image), &piece.expected);
    if let Some(course) = course(&typed).filter(Course::is_worth_cutting_again) {
        piece.placement = piece
            .placement
            .leaning(course.slope.clamp(-STEEPEST_LEFT, STEEPEST_LEFT))
            .bent(course.bend);
        image = cleaned(&piece);
        typed = lines::lines(&smooth(&image), &piece.expected);
    }
    let voices = facing::voices(&image, &typed);
    let (typed, say) = of_one_voice(typed, &voices)?;
    let part = lines::tight(&image, &typed)?;
    let (strip, lines) = lines::tidy(&image, &typed, part);
    Some(Candidate {
        strip,
        lines,
        placement: piece.placement.part(part),
        polarity: piece.polarity,
        piece,
        part,
        score,
        say,
        at_top,
    })
}
