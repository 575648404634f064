//! Which way round typed lines lie: told from the shapes of their letters.
//!
//! A small net says how upright a patch of type looks, and how much like no type at all. It is asked about the patch in
//! all four facings, which then compete with each other and with "no type"; what the letters of a strip say is summed.
//! The weights are made by `cargo bench --profile dev --bench facing`.

use super::clean::PAPER;
use super::ink::Component;
use super::lines::Line;
use super::rows::median;
use image::GrayImage;

/// Cells of a patch: a letter with half a neighbour on either side, and room for descenders above and below, so that
/// no facing has a different frame from another.
pub const ROWS: usize = 16;
pub const COLUMNS: usize = 14;
/// Cells from the upper edge of a line's letters to the lower one.
const CORE_ROWS: f64 = 10.0;
/// Hidden units of the net.
pub const HIDDEN: usize = 96;
/// Most letters of a line that are looked at: more would only repeat the alphabet.
const MOST_PATCHES: usize = 60;

/// How a strip lies on its source: `TURNED` by 180 degrees, `MIRRORED` left to right, or both.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Facing {
    pub turned: bool,
    pub mirrored: bool,
}

/// The four facings, in the order of scores.
pub const FACINGS: [Facing; 4] = [
    Facing {
        turned: false,
        mirrored: false,
    },
    Facing {
        turned: true,
        mirrored: false,
    },
    Facing {
        turned: false,
        mirrored: true,
    },
    Facing {
        turned: true,
        mirrored: true,
    },
];

/// Darkness of the cells round one letter, row by row: 0 paper, 1 ink.
pub type Patch = [f32; ROWS * COLUMNS];

/// The patches round the letters of a line on a cleaned strip.
pub fn patches(strip: &GrayImage, line: &Line) -> Vec<Patch> {
    let looked_at = looked_at(line);
    looked_at.map(|x| patch(strip, line, x)).collect()
}

/// Where the letters stand that are looked at, from left to right.
fn looked_at(line: &Line) -> impl Iterator<Item = f64> + use<> {
    let places = places(line);
    let stride = places.len().div_ceil(MOST_PATCHES).max(1);
    places.into_iter().step_by(stride)
}

/// Where the letters of a line stand; letters grown together are taken apart evenly.
fn places(line: &Line) -> Vec<f64> {
    let usual = median(line.letters.iter().map(Component::width)).max(1.0);
    let of_letter = |letter: &Component| {
        let count = (letter.width() / usual - 0.3).round().max(1.0);
        let (left, step) = (f64::from(letter.bounds.left), letter.width() / count);
        (0..count as usize).map(move |i| left + step * (i as f64 + 0.5))
    };
    line.letters.iter().flat_map(of_letter).collect()
}

/// The patch round one place on a line; what lies above and below the line counts as paper.
fn patch(strip: &GrayImage, line: &Line, x: f64) -> Patch {
    let (top, bottom) = line.core;
    let cell = (bottom - top) / CORE_ROWS;
    let left = x - cell * COLUMNS as f64 / 2.0;
    let top = (top + bottom - cell * ROWS as f64) / 2.0;
    let edge = |from: f64, step: usize| (from + cell * step as f64).round() as i64;
    let (first, last) = (i64::from(line.bounds.top), i64::from(line.bounds.bottom));
    let mut patch = [0.0; ROWS * COLUMNS];
    for row in 0..ROWS {
        let (y0, y1) = (edge(top, row), edge(top, row + 1).max(edge(top, row) + 1));
        for column in 0..COLUMNS {
            let (x0, x1) = (
                edge(left, column),
                edge(left, column + 1).max(edge(left, column) + 1),
            );
            let mut dark = 0u32;
            for y in y0.max(first)..y1.min(last) {
                for x in x0.max(0)..x1.min(i64::from(strip.width())) {
                    dark +=
                        u32::from(PAPER.saturating_sub(strip.get_pixel(x as u32, y as u32).0[0]));
                }
            }
            let cells = ((x1 - x0) * (y1 - y0)) as f32;
            patch[row * COLUMNS + column] = dark as f32 / (cells * 200.0);
        }
    }
    patch
}

/// A patch as it would look if its strip lay in another facing.
pub fn faced(patch: &Patch, facing: Facing) -> Patch {
    let mut out = [0.0; ROWS * COLUMNS];
    for row in 0..ROWS {
        for column in 0..COLUMNS {
            // A turn flips both ways, a mirror left to right; both together leave top to bottom.
            let from_row = if facing.turned { ROWS - 1 - row } else { row };
            let flip = facing.turned != facing.mirrored;
            let from_column = if flip { COLUMNS - 1 - column } else { column };
            out[row * COLUMNS + column] = patch[from_row * COLUMNS + from_column];
        }
    }
    out
}

/// One hidden layer of rectified units, two outputs.
#[derive(Debug, Clone, PartialEq)]
pub struct Net {
    /// `HIDDEN` rows of `ROWS * COLUMNS` weights.
    pub inner: Vec<f32>,
    pub bias: Vec<f32>,
    /// To how upright the patch looks.
    pub upright: Vec<f32>,
    /// To how much it looks like no type.
    pub other: Vec<f32>,
}

/// Weights as little-endian 32-bit floats: inner, bias, upright, other.
static WEIGHTS: &[u8] = include_bytes!("facing.weights");

impl Net {
    /// The trained net.
    pub fn trained() -> Self {
        Self::from_bytes(WEIGHTS)
    }

    /// Reads the weights in the order in which [`Net::to_bytes`] writes them.
    pub fn from_bytes(bytes: &[u8]) -> Self {
        let mut numbers = bytes
            .chunks_exact(4)
            .map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
        let mut take = |count: usize| numbers.by_ref().take(count).collect();
        Self {
            inner: take(HIDDEN * ROWS * COLUMNS),
            bias: take(HIDDEN),
            upright: take(HIDDEN),
            other: take(HIDDEN),
        }
    }

    pub fn to_bytes(&self) -> Vec<u8> {
        let all = [&self.inner, &self.bias, &self.upright, &self.other];
        let numbers = all.into_iter().flatten();
        numbers.flat_map(|number| number.to_le_bytes()).collect()
    }

    /// The hidden units for a patch as it lies.
    pub fn hidden(&self, patch: &Patch) -> [f32; HIDDEN] {
        let mut units = [0.0; HIDDEN];
        let rows = self.inner.chunks_exact(ROWS * COLUMNS).zip(&self.bias);
        for (unit, (row, bias)) in units.iter_mut().zip(rows) {
            *unit = (dot(row, patch) + bias).max(0.0);
        }
        units
    }

    /// Log-probability of each facing of [`FACINGS`], and last of no type, from the hidden units for the patch in each
    /// facing.
    pub fn shares_of(&self, hidden: &[[f32; HIDDEN]; 4]) -> [f32; 5] {
        let [a, b, c, d] = hidden.each_ref().map(|units| dot(&self.upright, units));
        let other = hidden.iter().map(|units| dot(&self.other, units));
        let scores = [a, b, c, d, other.sum::<f32>() / 4.0];
        let total = log_sum(&scores);
        scores.map(|score| score - total)
    }

    /// Log-probability that one patch is type in each facing of [`FACINGS`], and last that it is no type.
    pub fn shares(&self, patch: &Patch) -> [f32; 5] {
        self.shares_of(&FACINGS.map(|facing| self.hidden(&faced(patch, facing))))
    }
}

/// The logarithm of the sum of exponentials.
fn log_sum(values: &[f32]) -> f32 {
    let most = values.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let sum = values.iter().map(|value| (value - most).exp()).sum::<f32>();
    sum.ln() + most
}

/// A dot product in eight lanes, so that it is vectorised.
fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut lanes = [0f32; 8];
    for (a, b) in a.chunks_exact(8).zip(b.chunks_exact(8)) {
        for lane in 0..8 {
            lanes[lane] += a[lane] * b[lane];
        }
    }
    lanes.iter().sum()
}

/// What letters say: which way round they lie, and whether they are type at all.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Say {
    /// Log-probability of each facing of [`FACINGS`] if it is type, in nats, summed over the letters looked at.
    ///
    /// A letter counts half: the letters of a strip repeat each other, and all are struck by the same machine.
    pub facings: [f64; 4],
    /// Log-odds of being type, in nats, summed likewise.
    pub odds: f64,
    /// Letters looked at.
    pub letters: usize,
}

impl Say {
    /// What one patch says.
    fn of(net: &Net, patch: &Patch) -> Self {
        /// Share of letters that say nothing: blots, broken pieces, alphabets never seen.
        const MUTE: f64 = 0.08;
        /// Most that one letter says for or against being type, in nats.
        const MOST: f64 = 2.5;
        const WEIGHT: f64 = 0.5;
        let shares = net.shares(patch);
        let typed = log_sum(&shares[..4]);
        let odds = f64::from(typed - shares[4]).clamp(-MOST, MOST);
        let facing = |share: f32| {
            let share = (1.0 - MUTE) * f64::from(share - typed).exp() + MUTE / 4.0;
            WEIGHT * share.ln()
        };
        Self {
            facings: [0, 1, 2, 3].map(|at| facing(shares[at])),
            odds: WEIGHT * odds,
            letters: 1,
        }
    }

    /// The place in [`FACINGS`] of the likeliest facing.
    pub fn likeliest(&self) -> usize {
        let by_share = |&a: &usize, &b: &usize| self.facings[a].total_cmp(&self.facings[b]);
        (0..4).max_by(by_share).unwrap_or(0)
    }

    /// Gain over chance of a facing, mean of the letters, in nats.
    pub fn gain(&self, facing: usize) -> f64 {
        let chance = 0.5 * 0.25f64.ln();
        self.facings[facing] / self.letters.max(1) as f64 - chance
    }

    /// Lead of the likeliest facing over the next, in nats.
    pub fn lead(&self) -> f64 {
        let mut facings = self.facings;
        facings.sort_by(f64::total_cmp);
        facings[3] - facings[2]
    }
}

impl std::iter::Sum for Say {
    fn sum<I: Iterator<Item = Self>>(says: I) -> Self {
        says.fold(Self::default(), |mut sum, say| {
            for (total, part) in sum.facings.iter_mut().zip(say.facings) {
                *total += part;
            }
            sum.odds += say.odds;
            sum.letters += say.letters;
            sum
        })
    }
}

/// What a letter says, and where on the strip it stands.
#[derive(Debug, Clone, Copy)]
pub struct Voice {
    pub x: f64,
    pub say: Say,
}

/// What the letters of each line say, from left to right.
pub fn voices(strip: &GrayImage, lines: &[Line]) -> Vec<Vec<Voice>> {
    let net = Net::trained();
    let of_line = |line: &Line| {
        let voice = |x| Voice {
            x,
            say: Say::of(&net, &patch(strip, line, x)),
        };
        looked_at(line).map(voice).collect()
    };
    lines.iter().map(of_line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn facing_twice_gives_the_patch_back() {
        let mut patch = [0.0; ROWS * COLUMNS];
        for (at, cell) in patch.iter_mut().enumerate() {
            *cell = at as f32;
        }
        for facing in FACINGS {
            assert_eq!(faced(&faced(&patch, facing), facing), patch, "{facing:?}");
        }
        assert_eq!(faced(&patch, FACINGS[1])[0], (ROWS * COLUMNS - 1) as f32);
        assert_eq!(faced(&patch, FACINGS[2])[0], (COLUMNS - 1) as f32);
    }

    #[test]
    fn weights_survive_being_written() {
        let net = Net::trained();
        assert_eq!(net.inner.len(), HIDDEN * ROWS * COLUMNS);
        assert_eq!(net.other.len(), HIDDEN);
        assert_eq!(Net::from_bytes(&net.to_bytes()), net);
    }
}
