//! Whether more than one heading lies on an image: two sheets scanned together.

use super::candidate::{Candidate, Glance, cut_out, glance};
use super::heading::Heading;
use super::rows::{Row, along};
use super::working::View;
use crate::value::{Bounds, Point};
use image::GrayImage;

/// Letters that a second heading has at least.
const LEAST_LETTERS: usize = 6;
/// Letter height of a second heading over the first one's.
const LIKE: std::ops::RangeInclusive<f64> = 0.6..=1.65;
/// Distance from the first heading at which type no longer belongs to it, in its letter heights: above or below, and
/// beside it.
const BELOW: f64 = 2.5;
const BESIDE: f64 = 12.0;
/// Evidence of its letters from which something is taken for a second heading, in nats: they are type, and lie one way.
const LEAST_ODDS: f64 = 5.0;
const LEAST_LEAD: f64 = 5.0;
/// What the place must say for a row at least, in nats: the other sheet's heading lies anywhere, so little.
const LEAST_SCORE: f64 = -9.0;
/// Rows that are looked at on the working picture, and those that are cut out, as costly as cutting out the first.
const MOST_GLANCES: usize = 6;
const MOST_CUTS: usize = 2;
/// Evidence of its letters on the working picture from which a row is cut out, in nats.
const GLANCE_ODDS: f64 = 2.0;
const GLANCE_LEAD: f64 = 2.0;

/// Whether one of these headings, less what belongs to the first, is a heading of its own.
pub fn has_second(
    grey: &GrayImage,
    view: &View,
    sheet: Bounds,
    headings: &[Heading],
    first: &Candidate,
) -> bool {
    let likely = headings
        .iter()
        .filter(|heading| heading.score >= LEAST_SCORE);
    let rest = likely.filter_map(|heading| rest(view, heading, first));
    rest.take(MOST_GLANCES)
        .filter(|heading| match glance(view, sheet, heading) {
            Glance::TooSmall => true,
            Glance::Nothing => false,
            Glance::Seen(seen) => seen.say.odds >= GLANCE_ODDS && seen.say.lead() >= GLANCE_LEAD,
        })
        .take(MOST_CUTS)
        .any(|heading| {
            cut_out(grey, view, sheet, &heading).is_some_and(|second| {
                let corners = second.placement.corners();
                let apart = corners.overlap(&first.placement.corners()) == 0.0;
                apart && second.say.odds >= LEAST_ODDS && second.say.lead() >= LEAST_LEAD
            })
        })
}

/// A heading less the letters that lie on or close to the first one; `None` where too few are left.
fn rest(view: &View, heading: &Heading, first: &Candidate) -> Option<Heading> {
    let letter = first.letter();
    if !LIKE.contains(&(heading.letter() * view.working.scale() / letter)) {
        return None;
    }
    let pieces = &view
        .inks
        .iter()
        .find(|ink| ink.polarity == heading.polarity)?
        .pieces;
    let (width, height) = (
        f64::from(first.placement.width),
        f64::from(first.placement.height),
    );
    let apart = |&i: &usize| {
        let at = view.point_on_source(pieces[i].x, pieces[i].y);
        let Point { x, y } = first.placement.of_source(at);
        let beside = x < -BESIDE * letter || x > width + BESIDE * letter;
        let below = y < -BELOW * letter || y > height + BELOW * letter;
        beside || below
    };
    let left_over = |row: &Row| {
        let letters: Vec<usize> = row.letters.iter().copied().filter(apart).collect();
        (letters.len() >= LEAST_LETTERS).then(|| along(pieces, letters))
    };
    let rows: Vec<Row> = heading.rows.iter().filter_map(left_over).collect();
    (!rows.is_empty()).then(|| Heading {
        rows,
        ..heading.clone()
    })
}
