//! Headings looked for without letters: bands of ink at the ends of the sheet.
//!
//! Where type is so faint, broken or clogged that no letters can be told apart on the working picture, its rows still
//! hold more ink than the paper round them.

use super::heading::{Activity, Heading, spread};
use super::rows::{Piece, Row};
use super::working::{Ink, View};
use crate::value::Bounds;

/// Share of the sheet's height at either end in which bands are looked for.
const ZONE: f64 = 0.25;
/// Height of a band of type, in working pixels.
const HEIGHT: std::ops::RangeInclusive<usize> = 5..=48;
/// Shares of the way from the emptiest rows to the fullest from which a row belongs to a band: the higher one parts
/// lines that the lower one takes for one.
const SHARES: [f64; 2] = [0.3, 0.6];
/// How much less a band is believed than rows of letters, in nats.
const NO_LETTERS: f64 = 1.0;

/// The bands of a view, the likeliest first.
pub fn bands(view: &View, activity: &Activity, sheet: Bounds) -> Vec<Heading> {
    let zone = (ZONE * f64::from(sheet.height())) as usize;
    let (top, bottom) = (sheet.top as usize, sheet.bottom as usize);
    let ends = [
        (top.saturating_sub(2), (top + zone).min(bottom)),
        (bottom.saturating_sub(zone).max(top), bottom + 2),
    ];
    let mut found = Vec::new();
    for ink in &view.inks {
        let profile = profile(ink, view.level.height as usize);
        for (from, to) in ends {
            for share in SHARES {
                let bands = above(&profile, from, to.min(profile.len()), share);
                for band in bands {
                    found.extend(heading(ink, activity, band, 1));
                    found.extend(heading(ink, activity, band, 2));
                }
            }
        }
    }
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    found
}

/// Ink in every row, by pieces that may be letters, parts of them, or some letters grown together; smoothed over three.
fn profile(ink: &Ink, height: usize) -> Vec<f64> {
    let mut rows = vec![0.0; height];
    for piece in ink.pieces.iter().filter(|piece| may_be_type(piece)) {
        spread(piece, &mut rows);
    }
    (0..height)
        .map(|y| rows[y.saturating_sub(1)..(y + 2).min(height)].iter().sum())
        .collect()
}

fn may_be_type(piece: &Piece) -> bool {
    piece.height <= *HEIGHT.end() as f64 && piece.width <= 6.0 * piece.height.max(8.0)
}

/// The runs of rows between `from` and `to` that lie above a share of the way from the emptiest to the fullest.
fn above(
    profile: &[f64],
    from: usize,
    to: usize,
    share: f64,
) -> impl Iterator<Item = (usize, usize)> {
    let rows = profile.get(from..to).unwrap_or(&[]);
    let mut sorted = rows.to_vec();
    sorted.sort_by(f64::total_cmp);
    let empty = sorted.get(sorted.len() / 4).copied().unwrap_or(0.0);
    let full = sorted.last().copied().unwrap_or(0.0);
    let least = empty + share * (full - empty);
    let mut runs = Vec::new();
    let mut start = None;
    // One row more, which is empty, ends the last run.
    let full = rows.iter().map(|&ink| ink > least).chain([false]);
    for (y, is_full) in (from..).zip(full) {
        match (start, is_full) {
            (None, true) => start = Some(y),
            (Some(first), false) => {
                runs.push((first, y));
                start = None;
            }
            _ => {}
        }
    }
    runs.into_iter()
        .filter(|&(top, bottom)| HEIGHT.contains(&(bottom - top)))
}

/// A band as a heading of one row, or of two that touch.
fn heading(
    ink: &Ink,
    activity: &Activity,
    (top, bottom): (usize, usize),
    rows: usize,
) -> Option<Heading> {
    let (top, bottom) = (top as f64, bottom as f64);
    let pitch = (bottom - top) / rows as f64;
    let letter = 0.9 * pitch;
    let within = |&i: &usize| {
        let piece = &ink.pieces[i];
        (top..bottom).contains(&piece.y) && piece.height >= 0.25 * letter && may_be_type(piece)
    };
    let letters: Vec<usize> = (0..ink.pieces.len()).filter(within).collect();
    if letters.len() < 3 || letter < *HEIGHT.start() as f64 {
        return None;
    }
    let lefts = letters.iter().map(|&i| ink.pieces[i].left());
    let rights = letters.iter().map(|&i| ink.pieces[i].right());
    let left = lefts.fold(f64::INFINITY, f64::min);
    let right = rights.fold(f64::NEG_INFINITY, f64::max);
    let place = activity.place(top, bottom, 0.0);
    let row = |at: usize| Row {
        slope: 0.0,
        middle: top + pitch * (at as f64 + 0.5),
        letter,
        left,
        right,
        letters: letters.clone(),
    };
    Some(Heading {
        score: 1.3 * (letters.len() as f64 / 8.0).ln().min(1.0) - NO_LETTERS - place.against,
        at_top: place.at_top,
        polarity: ink.polarity,
        rows: (0..rows).map(row).collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strip::working::Working;
    use image::{GrayImage, Luma};

    #[test]
    fn a_row_of_fragments_is_a_band() {
        // Strokes of 3 x 4 pixels, scattered over a band of 16 rows near the top and thinly elsewhere.
        let mut state = 7u32;
        let image = GrayImage::from_fn(900, 620, |x, y| {
            if x % 5 == 0 && y % 6 == 0 {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            }
            let often = if (40..56).contains(&y) { 2 } else { 200 };
            let stroke = x % 5 < 3 && (state >> 16).is_multiple_of(often);
            Luma([if stroke { 60 } else { 220 }])
        });
        let working = Working::new(&image);
        let view = working.view(0.0);
        let sheet = Bounds::new(0, 0, 900, 620);
        let found = bands(&view, &Activity::new(&view, sheet), sheet);
        let row = &found.first().expect("there is a band").rows[0];
        assert!((row.middle - 48.0).abs() < 5.0, "{row:?}");
    }
}
