//! Typed lines on a cleaned piece: their boxes, and everything that is not theirs painted out.

use super::clean::{INK_BELOW, PAPER};
use super::ink::{Component, components};
use super::rows::median;
use crate::value::Bounds;
use image::{GrayImage, imageops};

/// Where a line is expected on the piece: the height of its middle and of its letters, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    pub middle: f64,
    pub letter: f64,
}

/// A typed line on a cleaned piece.
#[derive(Debug, Clone)]
pub struct Line {
    /// Everything typed on the line, ascenders, descenders and stops included.
    pub bounds: Bounds,
    /// Upper and lower edge of most letters.
    pub core: (f64, f64),
    /// The pieces of ink of letter size, from left to right.
    pub letters: Vec<Component>,
}

/// Finds the ink that belongs to each expected line; lines without at least two letters are dropped.
///
/// Rules, edges and specks are told from letters by their size against the line's own letters.
pub fn lines(piece: &GrayImage, expected: &[Expected]) -> Vec<Line> {
    let letter = median(expected.iter().map(|line| line.letter));
    let ink = components(piece, longest_run(letter), |grey| grey < INK_BELOW);
    let mut found: Vec<Line> = (0..expected.len())
        .filter_map(|line| {
            let own: Vec<Component> = ink
                .iter()
                .copied()
                .filter(|component| nearest(expected, component.centre_y()) == Some(line))
                .collect();
            one_line(own, expected[line])
        })
        .collect();
    found.sort_by_key(|line| line.bounds.top);
    found
}

/// Horizontal runs of ink longer than this are rules: three letters wide.
fn longest_run(letter: f64) -> u32 {
    (3.0 * letter) as u32
}

fn nearest(expected: &[Expected], y: f64) -> Option<usize> {
    let distance = |line: &Expected| (line.middle - y).abs();
    (0..expected.len()).min_by(|&a, &b| distance(&expected[a]).total_cmp(&distance(&expected[b])))
}

fn one_line(ink: Vec<Component>, expected: Expected) -> Option<Line> {
    let Expected { middle, letter } = expected;
    let of_letter_size = |component: &Component| {
        (0.5..=1.8).contains(&(component.height() / letter))
            && component.width() <= 6.0 * letter
            && (component.centre_y() - middle).abs() <= 0.5 * letter
    };
    let mut letters: Vec<Component> = ink.iter().copied().filter(of_letter_size).collect();
    if letters.len() < 2 {
        return None;
    }
    letters.sort_by_key(|component| component.bounds.left);
    let core = (
        share_of(letters.iter().map(|c| f64::from(c.bounds.top)), 0.2),
        share_of(letters.iter().map(|c| f64::from(c.bounds.bottom)), 0.8),
    );
    let height = core.1 - core.0;
    // Stops, hyphens and broken strokes count where they stand among letters; specks beyond the ends do not.
    let reach = 1.6 * letter;
    let (left, right) = (
        letters[0].bounds.left,
        letters.iter().map(|c| c.bounds.right).max()?,
    );
    let belongs = |component: &&Component| {
        let bounds = component.bounds;
        f64::from(bounds.top) >= core.0 - 0.45 * height
            && f64::from(bounds.bottom) <= core.1 + 0.45 * height
            && component.width() <= 6.0 * letter
            && f64::from(component.area) >= 0.012 * letter * letter
            && f64::from(bounds.left) >= f64::from(left) - reach
            && f64::from(bounds.right) <= f64::from(right) + reach
    };
    let bounds = ink
        .iter()
        .filter(belongs)
        .map(|component| component.bounds)
        .chain(letters.iter().map(|component| component.bounds))
        .reduce(|a, b| a.union(&b))?;
    Some(Line {
        bounds,
        core,
        letters,
    })
}

fn share_of(values: impl Iterator<Item = f64>, share: f64) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values[((values.len() - 1) as f64 * share).round() as usize]
}

/// The part of a piece that a tight strip round the lines covers: half a letter of margin all round.
pub fn tight(piece: &GrayImage, lines: &[Line]) -> Option<Bounds> {
    let all = lines
        .iter()
        .map(|line| line.bounds)
        .reduce(|a, b| a.union(&b))?;
    let margin = (0.5 * height(lines)).ceil() as u32;
    Some(Bounds::new(
        all.left.saturating_sub(margin),
        all.top.saturating_sub(margin),
        (all.right + margin).min(piece.width()),
        (all.bottom + margin).min(piece.height()),
    ))
}

/// Median height of the lines' cores, in pixels.
pub fn height(lines: &[Line]) -> f64 {
    median(lines.iter().map(|line| line.core.1 - line.core.0))
}

/// Cuts the piece to `part`, and paints out rules and whatever lies outside the lines.
pub fn tidy(piece: &GrayImage, lines: &[Line], part: Bounds) -> (GrayImage, Vec<Line>) {
    let mut strip =
        imageops::crop_imm(piece, part.left, part.top, part.width(), part.height()).to_image();
    let lines: Vec<Line> = lines.iter().map(|line| moved(line, part)).collect();
    let fringe = (0.2 * height(&lines)).ceil() as u32;
    let longest = longest_run(height(&lines)) as usize;
    let width = part.width() as usize;
    let before = strip.clone();
    for (y, row) in strip.as_mut().chunks_exact_mut(width.max(1)).enumerate() {
        let y = y as u32;
        let mut keep = vec![false; width];
        for line in &lines {
            let bounds = line.bounds;
            if y + fringe >= bounds.top && y < bounds.bottom + fringe {
                let from = bounds.left.saturating_sub(fringe) as usize;
                keep[from..((bounds.right + fringe) as usize).min(width)].fill(true);
            }
        }
        for near in [y.saturating_sub(1), y, (y + 1).min(part.height() - 1)] {
            let source = &before.as_raw()[near as usize * width..][..width];
            for_long_runs(source, longest, |from, to| keep[from..to].fill(false));
        }
        for (value, keep) in row.iter_mut().zip(keep) {
            if !keep {
                *value = PAPER;
            }
        }
    }
    (strip, lines)
}

fn for_long_runs(row: &[u8], longest: usize, mut each: impl FnMut(usize, usize)) {
    let mut from = 0;
    while from < row.len() {
        let length = row[from..]
            .iter()
            .take_while(|&&grey| grey < INK_BELOW)
            .count();
        if length > longest {
            each(from, from + length);
        }
        from += length + 1;
    }
}

fn moved(line: &Line, part: Bounds) -> Line {
    let shift = |bounds: Bounds| {
        Bounds::new(
            bounds.left.saturating_sub(part.left),
            bounds.top.saturating_sub(part.top),
            bounds.right.saturating_sub(part.left),
            bounds.bottom.saturating_sub(part.top),
        )
    };
    let down = f64::from(part.top);
    Line {
        bounds: shift(line.bounds),
        core: (line.core.0 - down, line.core.1 - down),
        letters: line
            .letters
            .iter()
            .map(|component| Component {
                bounds: shift(component.bounds),
                ..*component
            })
            .collect(),
    }
}
