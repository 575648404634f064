//! Noise tiles made once: drawing fresh noise for every pixel of every sheet would cost more than all the rest.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::sync::LazyLock;

/// Side of a tile in pixels; a power of two, so that coordinates wrap by masking.
pub const SIDE: usize = 512;
/// Standard deviation of a tile's values.
pub const DEVIATION: f32 = 32.0;

/// A square of noise that repeats seamlessly.
#[derive(Debug)]
pub struct Tile(Vec<i8>);

/// Grain of single pixels.
pub static FINE: LazyLock<Tile> = LazyLock::new(|| Tile::new(1, 0));
/// Grain in clumps of a few pixels.
pub static CLUMPY: LazyLock<Tile> = LazyLock::new(|| Tile::new(2, 2));
/// Blotches of some ten pixels: worn ribbon, uneven paper.
pub static BLOTCHY: LazyLock<Tile> = LazyLock::new(|| Tile::new(3, 9));

impl Tile {
    /// White noise smoothed by two box filters of this radius, scaled back to [`DEVIATION`].
    fn new(seed: u64, radius: usize) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut noise: Vec<f32> = (0..SIDE * SIDE)
            .map(|_| (0..4).map(|_| random.random::<f32>() - 0.5).sum())
            .collect();
        for _ in 0..2 {
            noise = smooth(&smooth(&noise, radius, 1, SIDE), radius, SIDE, 1);
        }
        let variance = noise.iter().map(|value| value * value).sum::<f32>() / noise.len() as f32;
        let scale = DEVIATION / variance.sqrt();
        Self(
            noise
                .into_iter()
                .map(|value| (value * scale) as i8)
                .collect(),
        )
    }

    /// Value at a place, wrapped.
    pub fn at(&self, x: usize, y: usize) -> f32 {
        f32::from(self.0[(y % SIDE) * SIDE + x % SIDE])
    }

    /// A row of the tile.
    pub fn row(&self, y: usize) -> &[i8; SIDE] {
        self.0[(y % SIDE) * SIDE..][..SIDE]
            .try_into()
            .expect("a row")
    }
}

/// Running mean over `2 * radius + 1` values along one axis, wrapped; `step` along it, `stride` across it.
fn smooth(noise: &[f32], radius: usize, step: usize, stride: usize) -> Vec<f32> {
    let mut smoothed = vec![0.0; noise.len()];
    for line in 0..SIDE {
        let at = |index: usize| line * stride + (index % SIDE) * step;
        let mut sum: f32 = (0..2 * radius + 1)
            .map(|index| noise[at(index + SIDE - radius)])
            .sum();
        for index in 0..SIDE {
            smoothed[at(index)] = sum;
            sum += noise[at(index + radius + 1)] - noise[at(index + SIDE - radius)];
        }
    }
    smoothed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tiles_are_as_strong_as_they_say_and_of_different_coarseness() {
        for (tile, neighbours_agree) in [(&*FINE, false), (&*CLUMPY, true), (&*BLOTCHY, true)] {
            let count = (SIDE * SIDE) as f32;
            let pairs =
                (0..SIDE).flat_map(|y| (0..SIDE).map(move |x| (tile.at(x, y), tile.at(x + 1, y))));
            let (variance, covariance) =
                pairs.fold((0.0, 0.0), |(v, c), (a, b)| (v + a * a, c + a * b));
            assert!(((variance / count).sqrt() - DEVIATION).abs() < 1.5);
            assert_eq!(covariance / variance > 0.5, neighbours_agree);
        }
    }
}
