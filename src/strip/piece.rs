//! Where a heading is cut out of the source, and what is expected there.

use super::cut::{Bend, Placement};
use super::heading::Heading;
use super::ink::{Polarity, histogram, percentile};
use super::lines::{self, Expected, Line};
use super::working::{View, Working};
use crate::value::{Bounds, Point};

/// Room above and below the lines' middles, in letter heights: for one more line.
const ROOM: f64 = 3.2;
/// Room of which nothing is expected of type, in letter heights.
const MARGIN: f64 = ROOM - 0.8;

/// A piece of the source that holds a heading with room above and below, across the sheet.
#[derive(Debug, Clone)]
pub struct Piece {
    pub placement: Placement,
    /// The lines expected on it, top to bottom.
    pub expected: Vec<Expected>,
    /// The part of it where type is expected.
    pub zone: Bounds,
    /// Letter height, in pixels.
    pub letter: f64,
    pub polarity: Polarity,
    /// The grey of what lies beyond the source.
    pub beyond: u8,
}

impl Piece {
    /// The piece of the working picture for a heading seen on it.
    pub fn of(view: &View, sheet: Bounds, heading: &Heading) -> Self {
        let letter = heading.letter();
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
        let corner = view.on_working(Placement {
            origin: Point { x: left, y: top },
            ..Placement::default()
        });
        let placement = Placement {
            width: (right - left).ceil().max(1.0) as u32,
            height: (bottom - top).ceil().max(1.0) as u32,
            ..corner
        };
        let rows = heading.rows.iter().zip(&middles);
        let expected = rows.map(|(row, middle)| Expected {
            middle: middle - top,
            letter: row.letter,
        });
        let ends = heading
            .rows
            .iter()
            .fold((right, left), |(start, end), row| {
                (start.min(row.left), end.max(row.right))
            });
        let margin = (MARGIN * letter) as u32;
        Self {
            placement: placement.leaning(heading.slope()),
            expected: expected.collect(),
            zone: Bounds::new(
                (ends.0 - left) as u32,
                margin,
                ((ends.1 - left).ceil() as u32).min(placement.width),
                placement.height - margin,
            ),
            letter,
            polarity: heading.polarity,
            beyond: paper_beyond(view, heading),
        }
    }

    /// A piece of the working picture as one of the source.
    pub fn on_source(self, working: &Working) -> Self {
        let factor = working.factor;
        let scale = f64::from(factor);
        let enlarged = |line: &Expected| Expected {
            middle: line.middle * scale,
            letter: line.letter * scale,
        };
        let Bounds {
            left,
            top,
            right,
            bottom,
        } = self.zone;
        let [left, top, right, bottom] =
            [left, top, right, bottom].map(|at| at.saturating_mul(factor));
        Self {
            placement: working.on_source(self.placement),
            expected: self.expected.iter().map(enlarged).collect(),
            zone: Bounds::new(left, top, right, bottom),
            letter: self.letter * scale,
            ..self
        }
    }

    /// The piece round lines that were found on a part of this one: straight, as wide, and as high as their letters
    /// ask for.
    pub fn round(&self, found: &[Line], part: Bounds) -> Self {
        let letter = lines::height(found);
        let middle = |line: &Line| f64::from(part.top) + (line.core.0 + line.core.1) / 2.0;
        let middles: Vec<f64> = found.iter().map(middle).collect();
        let top = middles.iter().copied().fold(f64::INFINITY, f64::min) - ROOM * letter;
        let bottom = middles.iter().copied().fold(f64::NEG_INFINITY, f64::max) + ROOM * letter;
        let height = (bottom - top).ceil().max(1.0) as u32;
        let margin = (MARGIN * letter) as u32;
        let lines = found.iter().zip(&middles);
        let expected = lines.map(|(line, middle)| Expected {
            middle: middle - top,
            letter: line.core.1 - line.core.0,
        });
        Self {
            placement: Placement {
                height,
                bend: Bend::default(),
                ..self.placement.lowered(top)
            },
            expected: expected.collect(),
            zone: Bounds::new(part.left, margin, part.right, height - margin),
            letter,
            ..*self
        }
    }
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
