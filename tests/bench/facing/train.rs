//! The training itself.

use crate::parallel;
use headword::strip::facing::{COLUMNS, FACINGS, HIDDEN, Net, Patch, ROWS, faced};
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const EPOCHS: usize = 6;
const BATCH: usize = 256;
/// Examples of a batch that one thread works on.
const SHARE: usize = 16;
const LEARNING_RATE: f32 = 2e-3;
const WEIGHT_DECAY: f32 = 1e-2;
const CELLS: usize = ROWS * COLUMNS;

/// A patch, and whether it is upright type or no type at all.
pub struct Example {
    pub patch: Patch,
    pub is_type: bool,
}

/// Adam on the cross-entropy of "upright" among the four facings and "no type".
pub fn train(examples: &[Example]) -> Net {
    let random = &mut ChaCha8Rng::seed_from_u64(1);
    let small = (2.0 / CELLS as f32).sqrt();
    let mut weights = |count: usize, most: f32| -> Vec<f32> {
        (0..count)
            .map(|_| random.random_range(-most..most))
            .collect()
    };
    let mut net = Net {
        inner: weights(HIDDEN * CELLS, small),
        bias: vec![0.0; HIDDEN],
        upright: weights(HIDDEN, 0.3),
        other: weights(HIDDEN, 0.3),
    };
    let count = HIDDEN * (CELLS + 3);
    let (mut mean, mut square) = (vec![0f32; count], vec![0f32; count]);
    let mut order: Vec<usize> = (0..examples.len()).collect();
    let steps = EPOCHS * (examples.len() / BATCH);
    let mut step = 0;
    for _ in 0..EPOCHS {
        order.shuffle(random);
        for batch in order.chunks_exact(BATCH) {
            let shares: Vec<&[usize]> = batch.chunks(SHARE).collect();
            let slopes = parallel::each(shares.len(), |share| {
                let mut slope = vec![0f32; count];
                for &at in shares[share] {
                    add_slope(&net, &examples[at], &mut slope);
                }
                slope
            });
            let mut slope = vec![0f32; count];
            for part in slopes {
                slope
                    .iter_mut()
                    .zip(part)
                    .for_each(|(sum, part)| *sum += part);
            }
            step += 1;
            let rate = LEARNING_RATE * (1.0 - step as f32 / (steps + 1) as f32);
            let (warm_mean, warm_square) = (1.0 - 0.9f32.powi(step), 1.0 - 0.999f32.powi(step));
            let parts = [
                &mut net.inner,
                &mut net.bias,
                &mut net.upright,
                &mut net.other,
            ];
            for (at, weight) in parts.into_iter().flatten().enumerate() {
                let slope = slope[at] / BATCH as f32;
                mean[at] = 0.9 * mean[at] + 0.1 * slope;
                square[at] = 0.999 * square[at] + 0.001 * slope * slope;
                let change = mean[at] / warm_mean / ((square[at] / warm_square).sqrt() + 1e-8);
                *weight -= rate * (change + WEIGHT_DECAY * *weight);
            }
        }
    }
    net
}

fn add_slope(net: &Net, example: &Example, slope: &mut [f32]) {
    let seen = FACINGS.map(|facing| faced(&example.patch, facing));
    let hidden = seen.each_ref().map(|patch| net.hidden(patch));
    let right = if example.is_type { 0 } else { FACINGS.len() };
    let mut errors = net.shares_of(&hidden).map(f32::exp);
    errors[right] -= 1.0;
    let other_error = errors[FACINGS.len()] / FACINGS.len() as f32;
    for ((patch, hidden), &error) in seen.iter().zip(&hidden).zip(&errors) {
        for (unit, &sum) in hidden.iter().enumerate().filter(|&(_, &sum)| sum > 0.0) {
            slope[HIDDEN * (CELLS + 1) + unit] += error * sum;
            slope[HIDDEN * (CELLS + 2) + unit] += other_error * sum;
            let back = error * net.upright[unit] + other_error * net.other[unit];
            slope[HIDDEN * CELLS + unit] += back;
            for (slope, cell) in slope[unit * CELLS..][..CELLS].iter_mut().zip(patch) {
                *slope += back * cell;
            }
        }
    }
}
