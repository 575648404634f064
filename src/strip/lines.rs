//! Typed lines on a cleaned piece: their boxes, and everything that is not theirs painted out.

use super::clean::{INK_BELOW, PAPER};
use super::ink::{Component, components};
use super::parting::{partings, partings_of, without_rows};
use super::rows::median;
use crate::value::Bounds;
use image::{GrayImage, imageops};
use std::ops::RangeInclusive;

/// A typed line on a cleaned piece.
#[derive(Debug, Clone)]
pub struct Line {
    /// Everything typed on the line, ascenders, descenders and stops included.
    pub bounds: Bounds,
    /// Upper and lower edge of most letters.
    pub core: (f64, f64),
    /// Was expected here, and not only found beside an expected one.
    pub expected: bool,
    /// The letters, from left to right; pieces above each other count as one.
    pub letters: Vec<Component>,
}

/// Where a line is expected on the piece: the height of its middle and of its letters, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    pub middle: f64,
    pub letter: f64,
}

/// Finds the typed lines on a level, cleaned piece: those expected, and like ones right above or below them.
///
/// Rules, edges and specks are told from letters by their size. The core of a line is where the ink of a row of
/// pixels, summed along the line, is not far below its peak: this holds for worn type too.
pub fn lines(piece: &GrayImage, expected: &[Expected]) -> Vec<Line> {
    let letter = median(expected.iter().map(|line| line.letter));
    let partings = partings(piece, expected);
    let parted = (!partings.is_empty()).then(|| without_rows(piece, &partings));
    let piece = parted.as_ref().unwrap_or(piece);
    let mut ink = pieces(piece, letter);
    let mut profile = profile(piece, &ink, letter);
    partings.iter().for_each(|&row| profile[row] = 0.0);
    let cores = cores(&profile, expected);
    let spans: Vec<(f64, f64)> = cores.iter().map(|core| (core.top, core.bottom)).collect();
    let further = partings_of(&spans, &profile);
    if !further.is_empty() {
        ink = pieces(&without_rows(piece, &further), letter);
    }
    let mut lines: Vec<Line> = cores
        .into_iter()
        .filter_map(|core| one_line(&ink, core))
        .collect();
    // Lines of one heading are typed by one machine, and hardly any has a tenth of another's letters.
    let most = lines
        .iter()
        .map(|line| line.letters.len())
        .max()
        .unwrap_or(0);
    lines.retain(|line| line.letters.len() * 10 >= most);
    lines
}

/// The pieces of ink that may be letters or parts of them, or letters of two lines that touch.
fn pieces(piece: &GrayImage, letter: f64) -> Vec<Component> {
    let mut ink = components(piece, longest_run(letter), |grey| grey < INK_BELOW);
    ink.retain(|component| {
        component.height() <= TALLEST * letter
            && component.width() <= 8.0 * letter
            && f64::from(component.area) >= LEAST_SPECK * letter * letter
    });
    ink
}

/// Tallest piece of ink that is looked at, in letter heights: letters of two lines that touch.
const TALLEST: f64 = 2.8;
/// Tallest piece that counts as one letter.
const ONE_LETTER: f64 = 1.7;
/// Smallest piece that counts, in squares of the letter height: half a full stop.
const LEAST_SPECK: f64 = 0.006;

/// Horizontal runs of ink longer than this are rules: three letters wide.
fn longest_run(letter: f64) -> u32 {
    (3.0 * letter) as u32
}

/// Ink in every row of pixels: of pieces that may be letters evenly spread over their height, of taller ones, which may
/// be letters of two lines, as it lies.
fn profile(piece: &GrayImage, ink: &[Component], letter: f64) -> Vec<f64> {
    let mut profile = vec![0.0; piece.height() as usize];
    for component in ink {
        let Bounds {
            left,
            top,
            right,
            bottom,
        } = component.bounds;
        let rows = &mut profile[top as usize..bottom as usize];
        if component.height() < 0.25 * letter {
            continue;
        } else if component.height() <= ONE_LETTER * letter {
            let share = f64::from(component.area) / component.height();
            rows.iter_mut().for_each(|row| *row += share);
        } else {
            for (y, row) in (top..).zip(rows) {
                let inked = (left..right).filter(|&x| piece.get_pixel(x, y).0[0] < INK_BELOW);
                *row += inked.count() as f64;
            }
        }
    }
    let reach = (0.06 * letter).round() as usize;
    (0..profile.len())
        .map(|y| {
            let near = &profile[y.saturating_sub(reach)..(y + reach + 1).min(profile.len())];
            near.iter().sum::<f64>() / near.len() as f64
        })
        .collect()
}

/// The rows of pixels that most letters of a line cover.
#[derive(Debug, Clone, Copy)]
struct Core {
    top: f64,
    bottom: f64,
    /// Ink in the fullest row.
    peak: f64,
    expected: bool,
}

/// The cores of the expected lines and of one more above and below, top to bottom.
fn cores(profile: &[f64], expected: &[Expected]) -> Vec<Core> {
    /// Core of an expected line over the letters it was found by.
    const LIKE_EXPECTED: RangeInclusive<f64> = 0.5..=1.7;
    /// Core of a further line over that of its neighbour.
    const LIKE_NEIGHBOUR: RangeInclusive<f64> = 0.78..=1.3;
    /// Least peak of a further line, as a share of the highest.
    const FURTHER: f64 = 0.12;
    let mut found: Vec<Core> = expected
        .iter()
        .filter_map(|line| {
            let reach = 0.35 * line.letter;
            let near = (line.middle - reach, line.middle + reach);
            core_in(profile, near, line.letter, LIKE_EXPECTED)
        })
        .map(|core| Core {
            expected: true,
            ..core
        })
        .collect();
    let highest = found.iter().map(|core| core.peak).fold(0.0, f64::max);
    let further = |core: &Core, up: bool| {
        let height = core.bottom - core.top;
        let near = if up {
            (core.top - 2.6 * height, core.top - 0.3 * height)
        } else {
            (core.bottom + 0.3 * height, core.bottom + 2.6 * height)
        };
        core_in(profile, near, height, LIKE_NEIGHBOUR).filter(|core| core.peak >= FURTHER * highest)
    };
    let above = found.first().and_then(|core| further(core, true));
    let below = found.last().and_then(|core| further(core, false));
    found.extend(above.into_iter().chain(below));
    found.sort_by(|a, b| a.top.total_cmp(&b.top));
    found.dedup_by(|b, a| {
        let same = b.top < a.bottom;
        if same && b.expected && !a.expected {
            std::mem::swap(a, b);
        }
        same
    });
    found
}

/// The core round the highest peak between two rows, where its height over `letter` is like that of a line.
fn core_in(
    profile: &[f64],
    (from, to): (f64, f64),
    letter: f64,
    like: RangeInclusive<f64>,
) -> Option<Core> {
    /// Share of the peak that still belongs to the core.
    const SHOULDER: f64 = 0.38;
    let (from, to) = (
        from.max(0.0) as usize,
        (to.max(0.0) as usize).min(profile.len()),
    );
    let peak = (from..to).max_by(|&a, &b| profile[a].total_cmp(&profile[b]))?;
    let least = SHOULDER * profile[peak];
    let top = (0..peak)
        .rev()
        .find(|&y| profile[y] < least)
        .map_or(0, |y| y + 1);
    let bottom = (peak..profile.len())
        .find(|&y| profile[y] < least)
        .unwrap_or(profile.len());
    let is_like = like.contains(&((bottom - top) as f64 / letter));
    (is_like && profile[peak] > 0.0).then_some(Core {
        top: top as f64,
        bottom: bottom as f64,
        peak: profile[peak],
        expected: false,
    })
}

/// The letters of the line with this core; `None` where there are fewer than three.
fn one_line(
    ink: &[Component],
    Core {
        top,
        bottom,
        expected,
        ..
    }: Core,
) -> Option<Line> {
    /// Farthest that a letter may stand from all others, in heights of the core: a wide blank between fields.
    const FARTHEST: f64 = 16.0;
    let core = (top, bottom);
    let height = bottom - top;
    let belongs = |component: &&Component| {
        let (top, bottom) = (
            f64::from(component.bounds.top),
            f64::from(component.bounds.bottom),
        );
        let inside = bottom.min(core.1) - top.max(core.0);
        top >= core.0 - 0.5 * height
            && bottom <= core.1 + 0.5 * height
            && (inside >= 0.35 * component.height() || inside >= 0.35 * height)
    };
    let mut own: Vec<Component> = ink.iter().filter(belongs).copied().collect();
    own.sort_by_key(|component| component.bounds.left);
    let mut clusters: Vec<Component> = Vec::new();
    for component in own {
        match clusters.last_mut() {
            Some(last) if component.bounds.left < last.bounds.right => {
                last.bounds = last.bounds.union(&component.bounds);
                last.area += component.area;
            }
            _ => clusters.push(component),
        }
    }
    // The edges of labels and frames are taller than any letter as narrow as they are.
    let is_edge =
        |cluster: &Component| cluster.height() > 1.3 * height && cluster.width() < 0.35 * height;
    clusters.retain(|cluster| !is_edge(cluster));
    let of_letter_size = |cluster: &Component| {
        cluster.height() >= 0.6 * height && f64::from(cluster.area) >= 0.06 * height * height
    };
    let letters: Vec<Component> = clusters.iter().copied().filter(of_letter_size).collect();
    let centre = median(letters.iter().map(Component::centre_x));
    let (left, right) = reached(&letters, centre, FARTHEST * height)?;
    let letters: Vec<Component> = letters
        .into_iter()
        .filter(|letter| letter.bounds.left >= left && letter.bounds.right <= right)
        .collect();
    if letters.len() < 3 {
        return None;
    }
    // Stops and worn letters count among and right beside the letters; specks farther out do not.
    let beside = (1.1 * height) as u32;
    let bounds = clusters
        .iter()
        .map(|cluster| cluster.bounds)
        .filter(|b| b.right + beside >= left && b.left <= right + beside)
        .reduce(|a, b| a.union(&b))?;
    Some(Line {
        bounds,
        core,
        expected,
        letters,
    })
}

/// The stretch of letters round a place in which no gap is wider than `gap`.
fn reached(letters: &[Component], centre: f64, gap: f64) -> Option<(u32, u32)> {
    let start = (0..letters.len()).min_by(|&a, &b| {
        let off = |i: usize| (letters[i].centre_x() - centre).abs();
        off(a).total_cmp(&off(b))
    })?;
    let (mut first, mut last) = (start, start);
    let between =
        |a: usize, b: usize| f64::from(letters[b].bounds.left) - f64::from(letters[a].bounds.right);
    while first > 0 && between(first - 1, first) <= gap {
        first -= 1;
    }
    while last + 1 < letters.len() && between(last, last + 1) <= gap {
        last += 1;
    }
    Some((letters[first].bounds.left, letters[last].bounds.right))
}

/// The part of a piece that a tight strip round the lines covers: a third of a letter of margin all round.
pub fn tight(piece: &GrayImage, lines: &[Line]) -> Option<Bounds> {
    let all = lines
        .iter()
        .map(|line| line.bounds)
        .reduce(|a, b| a.union(&b))?;
    let margin = (0.35 * height(lines)).ceil() as u32;
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
        expected: line.expected,
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

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    /// Boxes of letter size at these places, on paper.
    fn typed(rows: &[(u32, u32)], extra: &[Bounds]) -> GrayImage {
        GrayImage::from_fn(900, 200, |x, y| {
            let letter = rows.iter().any(|&(top, count)| {
                let (place, within) = ((x / 24).checked_sub(2), x % 24);
                // The outline of a box: ink along its sides, paper inside.
                let on = place.is_some_and(|place| place < count) && (4..20).contains(&within);
                let side = !(8..16).contains(&within) || y < top + 4 || y + 4 >= top + 26;
                on && (top..top + 26).contains(&y) && side
            });
            let extra = extra
                .iter()
                .any(|b| (b.left..b.right).contains(&x) && (b.top..b.bottom).contains(&y));
            Luma([if letter || extra { 40 } else { PAPER }])
        })
    }

    fn expected(middle: f64) -> Expected {
        Expected {
            middle,
            letter: 26.0,
        }
    }

    #[test]
    fn lines_are_cut_without_rules_edges_and_specks() {
        let rule = Bounds::new(0, 150, 900, 154);
        let edge = Bounds::new(880, 0, 900, 200);
        let speck = Bounds::new(840, 60, 842, 62);
        let stop = Bounds::new(530, 72, 535, 77);
        for (name, rows, extra, found) in [
            (
                "one line",
                &[(50, 20)][..],
                &[][..],
                vec![(50, 76, 52, 524)],
            ),
            (
                "clutter",
                &[(50, 20)],
                &[rule, edge, speck],
                vec![(50, 76, 52, 524)],
            ),
            ("full stop", &[(50, 20)], &[stop], vec![(50, 77, 52, 535)]),
            (
                "a further line",
                &[(50, 20), (100, 8)],
                &[],
                vec![(50, 76, 52, 524), (100, 126, 52, 236)],
            ),
            ("nothing", &[], &[rule, edge], vec![]),
        ] {
            let lines = lines(&typed(rows, extra), &[expected(63.0)]);
            let boxes: Vec<_> = lines
                .iter()
                .map(|line| {
                    (
                        line.bounds.top,
                        line.bounds.bottom,
                        line.bounds.left,
                        line.bounds.right,
                    )
                })
                .collect();
            assert_eq!(boxes, found, "{name}");
        }
    }

    #[test]
    fn what_lies_outside_the_lines_is_painted_out() {
        let rule = Bounds::new(0, 88, 900, 91);
        let piece = typed(&[(50, 20)], &[rule]);
        let lines = lines(&piece, &[expected(63.0)]);
        let part = tight(&piece, &lines).expect("there is a line");
        let (strip, lines) = tidy(&piece, &lines, part);
        assert_eq!(strip.height(), part.height());
        assert_eq!(lines[0].bounds.top, 50 - part.top);
        let ink = strip
            .enumerate_pixels()
            .filter(|(_, _, pixel)| pixel.0[0] < INK_BELOW);
        let lowest = ink.map(|(_, y, _)| y).max();
        assert_eq!(lowest, Some(lines[0].bounds.bottom - 1));
    }
}
