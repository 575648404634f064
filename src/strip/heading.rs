//! Which rows of type are the sheet's heading.

use super::ink::{self, Polarity};
use super::rows::{Piece, Row, median, rows};
use super::working::{Ink, View};
use crate::value::Bounds;

/// Farthest that a heading's middle lies from the end of its sheet, as a share of the sheet's height: the heading takes
/// the room of one row of frames, and five rows are the fewest of any format with a grid (ISO 9923:1994: 60 frames), so
/// it is a sixth of the height at most. Half of that, and as much for the margins of film and scan.
const FARTHEST_MIDDLE: f64 = 1.0 / 6.0;
/// Most rows of one heading; more closely set rows are a page of text.
const MOST_ROWS: usize = 3;

/// A heading on the working image: one to three rows of type, top to bottom as they lie.
#[derive(Debug, Clone)]
pub struct Heading {
    pub rows: Vec<Row>,
    /// The polarity in which the rows were found.
    pub polarity: Polarity,
    /// How much size, place and evenness speak for these rows being the heading, in nats. The letters' own say is
    /// added after they were cut out.
    pub score: f64,
    /// How much speaks for the heading lying at the top of its sheet, in nats; negative for the bottom.
    pub at_top: f64,
}

impl Heading {
    /// The letters' median height, in working pixels.
    pub fn letter(&self) -> f64 {
        median(self.rows.iter().map(|row| row.letter))
    }

    /// The same rows, each taken for two lines whose letters touch.
    pub fn parted(&self) -> Self {
        /// Letter height of one line over the height of letters grown together; the rest is a narrow blank, if any.
        const ONE_OF_TWO: f64 = 0.46;
        let halves = |row: &Row| {
            let off = row.letter * (1.0 - ONE_OF_TWO) / 2.0;
            [-off, off].map(|off| Row {
                middle: row.middle + off,
                letter: row.letter * ONE_OF_TWO,
                ..row.clone()
            })
        };
        Self {
            rows: self.rows.iter().flat_map(halves).collect(),
            ..self.clone()
        }
    }

    /// The slope of the row with most letters.
    pub fn slope(&self) -> f64 {
        self.rows
            .iter()
            .max_by_key(|row| row.letters.len())
            .map_or(0.0, |row| row.slope)
    }
}

/// The headings that a view of the working picture may show, the likeliest first.
///
/// Every group of rows, in either polarity, is a candidate; the evidence is summed in [`weigh`].
pub fn headings(view: &View, activity: &Activity) -> Vec<Heading> {
    let mut found: Vec<Heading> = view
        .inks
        .iter()
        .flat_map(|ink| {
            let rows = rows(&ink.pieces);
            groups(&rows)
                .into_iter()
                .map(|group| {
                    let mut heading = weigh(group, &rows, ink, activity);
                    heading.score += polarity_say(view, &heading);
                    heading
                })
                .collect::<Vec<_>>()
        })
        .collect();
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    found
}

/// Where the ink of a level picture lies: pixels in every row, both polarities together.
pub struct Activity {
    rows: Vec<f64>,
    sheet: Bounds,
}

/// How rows of type lie to the sheet and to what else is on it.
pub struct Place {
    /// How much the place speaks against a heading, in nats.
    pub against: f64,
    /// How much speaks for the top of the sheet, in nats; negative for the bottom.
    pub at_top: f64,
}

impl Activity {
    /// A piece's ink is spread over its height.
    pub fn new(view: &View, sheet: Bounds) -> Self {
        let mut rows = vec![0.0; view.level.height as usize];
        for piece in view.inks.iter().flat_map(|ink| &ink.pieces) {
            spread(piece, &mut rows);
        }
        Self { rows, sheet }
    }

    fn sum(&self, from: f64, to: f64) -> f64 {
        let (from, to) = (
            from.max(0.0) as usize,
            (to.max(0.0) as usize).min(self.rows.len()),
        );
        let within = self.rows.get(from..to);
        within.map_or(0.0, |rows| rows.iter().sum())
    }

    /// The place of what lies between two rows and leans by so many pixels: a heading lies at an end of the sheet, with
    /// everything else on one side of it.
    pub fn place(&self, top: f64, bottom: f64, lean: f64) -> Place {
        let own = self.sum(top, bottom);
        let above = self.sum(0.0, top - lean);
        let below = self.sum(bottom + lean, self.rows.len() as f64);
        let outside = above.min(below) / (above + below + own).max(1.0);
        let from_top = ((top + bottom) / 2.0 - f64::from(self.sheet.top))
            / f64::from(self.sheet.height().max(1));
        let from_end = from_top.min(1.0 - from_top).max(0.0);
        Place {
            against: 9.0 * (from_end - FARTHEST_MIDDLE).max(0.0) + 4.0 * outside,
            at_top: 1.2 * ((below + 0.3 * own + 1.0) / (above + 0.3 * own + 1.0)).ln(),
        }
    }
}

/// Adds a piece's ink to the rows that it covers, evenly.
pub fn spread(piece: &Piece, rows: &mut [f64]) {
    let top = (piece.y - piece.height / 2.0).max(0.0).round() as usize;
    let bottom = (top + piece.height as usize).min(rows.len());
    if top < bottom {
        let share = piece.area / (bottom - top) as f64;
        rows[top..bottom].iter_mut().for_each(|sum| *sum += share);
    }
}

/// Rows of like type set closely under each other.
fn groups(rows: &[Row]) -> Vec<Vec<Row>> {
    /// Distance of neighbouring rows, in letter heights: from touching to triple spacing.
    const DISTANCE: std::ops::RangeInclusive<f64> = 0.9..=3.4;
    /// Letter height of one row over the other's.
    const RATIO: f64 = 1.45;
    let mut order: Vec<&Row> = rows.iter().collect();
    order.sort_by(|a, b| a.centre_y().total_cmp(&b.centre_y()));
    let mut groups: Vec<Vec<Row>> = Vec::new();
    for row in order {
        let joins = groups.iter_mut().rev().find(|group| {
            let last = group.last().expect("no group is empty");
            let x = (last.left.max(row.left) + last.right.min(row.right)) / 2.0;
            let (small, tall) = (last.letter.min(row.letter), last.letter.max(row.letter));
            tall <= RATIO * small && DISTANCE.contains(&((row.y_at(x) - last.y_at(x)).abs() / tall))
        });
        match joins {
            Some(group) => group.push(row.clone()),
            None => groups.push(vec![row.clone()]),
        }
    }
    groups
}

/// Sums the evidence for a group of rows being the heading.
fn weigh(group: Vec<Row>, all: &[Row], ink: &Ink, activity: &Activity) -> Heading {
    let letter = median(group.iter().map(|row| row.letter));
    let count = |rows: &[Row]| -> f64 {
        let alike = rows
            .iter()
            .filter(|row| (0.7..=1.4).contains(&(row.letter / letter)));
        alike.map(|row| row.letters.len() as f64).sum()
    };
    let letters: f64 = group.iter().map(|row| row.letters.len() as f64).sum();
    let unlike = median(group.iter().flat_map(|row| {
        row.letters
            .iter()
            .map(|&i| (ink.pieces[i].height / row.letter - 1.0).abs())
    }));
    let middle = |row: &Row| row.centre_y();
    let top = group.iter().map(middle).fold(f64::INFINITY, f64::min) - letter;
    let bottom = group.iter().map(middle).fold(f64::NEG_INFINITY, f64::max) + letter;
    let lean = group
        .iter()
        .map(|row| (row.slope * (row.right - row.left)).abs() / 2.0)
        .fold(0.0, f64::max);
    let crowd = group.len().saturating_sub(MOST_ROWS) as f64;
    let place = activity.place(top, bottom, lean);
    let score = 1.3 * (letters / 8.0).ln() + 2.0 * (letters / count(all).max(1.0) + 0.05).ln()
        - 5.0 * unlike
        - 1.5 * crowd
        - place.against;
    Heading {
        rows: group,
        polarity: ink.polarity,
        score,
        at_top: place.at_top,
    }
}

/// How much the grey values along the rows speak for their polarity, in nats.
///
/// The letters pull the mean of their rows from the paper, which is the median of a wider neighbourhood: clogged type
/// may cover more than half of its own rows.
fn polarity_say(view: &View, heading: &Heading) -> f64 {
    /// Nats for a mean that lies one standard deviation from the paper; type has .3 to .8.
    const WEIGHT: f64 = 6.0;
    const MOST: f64 = 2.0;
    let wide = rows_histogram(view, &heading.rows, 1.0);
    let narrow = rows_histogram(view, &heading.rows, 0.5);
    let total = f64::from(narrow.iter().sum::<u32>().max(1));
    let paper = f64::from(ink::percentile(&wide, 0.5));
    let off_paper = |power: i32| -> f64 {
        let off = (0..256).map(|grey| f64::from(narrow[grey]) * (grey as f64 - paper).powi(power));
        off.sum::<f64>() / total
    };
    let pull = off_paper(1) / off_paper(2).sqrt().max(1.0);
    let towards_ink = match heading.polarity {
        Polarity::DarkOnLight => -pull,
        Polarity::LightOnDark => pull,
    };
    (WEIGHT * towards_ink).clamp(-MOST, MOST)
}

/// The grey values along rows, up to `half` letter heights above and below their middle.
fn rows_histogram(view: &View, rows: &[Row], half: f64) -> [u32; 256] {
    let mut counts = [0u32; 256];
    for row in rows {
        let reach = (half * row.letter).round() as i32;
        for x in (row.left as i32..row.right as i32).step_by(2) {
            let middle = row.y_at(f64::from(x));
            for y in -reach..reach {
                if let Some(grey) = view.grey(f64::from(x), middle + f64::from(y)) {
                    counts[usize::from(grey)] += 1;
                }
            }
        }
    }
    counts
}
