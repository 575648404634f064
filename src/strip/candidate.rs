//! A heading cut out of the sheet at full resolution: cleaned, straight, and heard for what its letters say.

use super::clean::clean;
use super::course::{Course, course};
use super::cut::{Placement, cut};
use super::facing::{self, FACINGS, Facing, Say};
use super::heading::Heading;
use super::ink::{Polarity, histogram, percentile, smooth};
use super::lines::{self, Expected, Line};
use super::working::View;
use crate::value::{Bounds, Point};
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
    pub fn evidence(&self) -> f64 {
        self.score + self.say.lead().min(MOST_LEAD) + self.say.odds.clamp(-MOST_ODDS, MOST_ODDS)
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
}

/// Cuts a heading out; `None` where no line of type is left at full resolution.
pub fn cut_out(
    grey: &GrayImage,
    view: &View,
    sheet: Bounds,
    heading: &Heading,
) -> Option<Candidate> {
    /// Slope left over that is believed, a little over a degree.
    const STEEPEST_LEFT: f64 = 0.02;
    /// Largest piece that is cut out, in pixels: rows that take more are no heading, and memory stays bounded.
    const MOST_PIECE: u64 = 30_000_000;
    let letter = heading.letter() * view.working.scale();
    let (mut placement, expected, zone) = placement(view, sheet, heading);
    if u64::from(placement.width) * u64::from(placement.height) > MOST_PIECE {
        return None;
    }
    let polarity = heading.polarity;
    let beyond = paper_beyond(view, heading);
    let clean_cut = |placement| clean(cut(grey, placement, beyond), polarity, zone, letter);
    let mut piece = clean_cut(placement);
    let mut typed = lines::lines(&smooth(&piece), &expected);
    if let Some(course) = course(&typed).filter(Course::is_worth_cutting_again) {
        placement = placement
            .leaning(course.slope.clamp(-STEEPEST_LEFT, STEEPEST_LEFT))
            .bent(course.bend);
        piece = clean_cut(placement);
        typed = lines::lines(&smooth(&piece), &expected);
    }
    let says = facing::says(&piece, &typed);
    let (typed, say) = of_one_voice(typed, &says)?;
    if lines::height(&typed) < LEAST_CAPITAL {
        return None;
    }
    let part = lines::tight(&piece, &typed)?;
    let (strip, lines) = lines::tidy(&piece, &typed, part);
    Some(Candidate {
        strip,
        lines,
        placement: placement.part(part),
        polarity,
        score: heading.score,
        say,
        at_top: heading.at_top,
    })
}

/// The grey of the paper round a heading's longest row, for what lies beyond the source.
fn paper_beyond(view: &View, heading: &Heading) -> u8 {
    let Some(row) = heading.rows.iter().max_by_key(|row| row.letters.len()) else {
        return 0;
    };
    let places = row.left as i32..row.right as i32;
    let along = places.filter_map(|x| view.grey(f64::from(x), row.centre_y()));
    percentile(&histogram(&along.collect::<Vec<u8>>()), 0.5)
}

/// The lines that belong to the clearest one, and what their letters say together.
///
/// Grain, bars and frames say little, are of other heights, or lie far off; worn type right beside the clearest line
/// says little too, and belongs to it all the same.
fn of_one_voice(lines: Vec<Line>, says: &[Say]) -> Option<(Vec<Line>, Say)> {
    /// Least gain over chance of a line's letters, as a share of the clearest line's.
    const LEAST_GAIN: f64 = 0.3;
    /// Heights of two lines of one heading.
    const LIKE: std::ops::RangeInclusive<f64> = 0.7..=1.43;
    /// Blank between neighbouring lines, in their height: up to double spacing, and close enough to need no say.
    const FARTHEST: f64 = 2.5;
    const CLOSE: f64 = 1.4;
    let weight = |say: &Say| say.gain(say.likeliest()) * say.letters as f64 + say.odds;
    let clearest =
        (0..says.len()).max_by(|&a, &b| weight(&says[a]).total_cmp(&weight(&says[b])))?;
    let facing = says[clearest].likeliest();
    let clear = says[clearest].gain(facing);
    let height = |line: &Line| line.core.1 - line.core.0;
    let belongs = |line: &Line, say: &Say, neighbour: &Line| {
        let blank = (line.core.0 - neighbour.core.1).max(neighbour.core.0 - line.core.1);
        let blank = blank / height(neighbour);
        LIKE.contains(&(height(line) / height(&lines[clearest])))
            && blank <= FARTHEST
            && (say.gain(facing) >= LEAST_GAIN * clear || (line.expected && blank <= CLOSE))
    };
    let (mut first, mut last) = (clearest, clearest);
    while first > 0 && belongs(&lines[first - 1], &says[first - 1], &lines[first]) {
        first -= 1;
    }
    while last + 1 < lines.len() && belongs(&lines[last + 1], &says[last + 1], &lines[last]) {
        last += 1;
    }
    let telling = says[first..=last]
        .iter()
        .filter(|say| say.gain(facing) >= clear.min(LEAST_GAIN * clear));
    Some((lines[first..=last].to_vec(), telling.copied().sum()))
}

/// Where to cut for a heading, across the sheet and with room above and below, and where its lines will lie.
fn placement(view: &View, sheet: Bounds, heading: &Heading) -> (Placement, Vec<Expected>, Bounds) {
    /// Room above and below the rows' middles, in letter heights: for one more line.
    const ROOM: f64 = 3.2;
    let letter = heading.letter();
    let slope = heading.slope();
    let centre = f64::from(sheet.left + sheet.right) / 2.0;
    let middles: Vec<f64> = heading
        .rows
        .iter()
        .map(|row| row.y_at(centre.clamp(row.left, row.right)))
        .collect();
    let (left, right) = heading.rows.iter().fold(
        (f64::from(sheet.left), f64::from(sheet.right)),
        |(left, right), row| (left.min(row.left - letter), right.max(row.right + letter)),
    );
    let top = middles.iter().copied().fold(f64::INFINITY, f64::min) - ROOM * letter;
    let bottom = middles.iter().copied().fold(f64::NEG_INFINITY, f64::max) + ROOM * letter;
    let scale = view.working.scale();
    let corner = view.on_source(Placement {
        origin: Point { x: left, y: top },
        ..Placement::default()
    });
    let placement = Placement {
        width: ((right - left) * scale).ceil().max(1.0) as u32,
        height: ((bottom - top) * scale).ceil().max(1.0) as u32,
        ..corner
    };
    let expected: Vec<Expected> = heading
        .rows
        .iter()
        .zip(&middles)
        .map(|(row, middle)| Expected {
            middle: (middle - top) * scale,
            letter: row.letter * scale,
        })
        .collect();
    let ends = heading
        .rows
        .iter()
        .fold((right, left), |(start, end), row| {
            (start.min(row.left), end.max(row.right))
        });
    let zone = Bounds::new(
        ((ends.0 - left) * scale) as u32,
        ((ROOM - 0.8) * letter * scale) as u32,
        (((ends.1 - left) * scale) as u32).min(placement.width),
        placement.height - ((ROOM - 0.8) * letter * scale) as u32,
    );
    (placement.leaning(slope), expected, zone)
}
