//! Trains the net that tells which way round type lies: `cargo bench --profile dev --no-default-features --bench facing`.
//!
//! Draws lines in the tuning fonts with the wear of old type, finds their letters with the strip station's own steps,
//! trains on them, and writes `src/strip/facing.weights`. With `-- --leave-one-out` it trains without each font in
//! turn instead, tests on that font, and writes nothing.

use ab_glyph::{Font, FontVec, PxScale, ScaleFont, point};
use headword::strip::clean::clean;
use headword::strip::facing::{COLUMNS, FACINGS, HIDDEN, Net, Patch, ROWS, faced, patches};
use headword::strip::ink::{Polarity, smooth};
use headword::strip::lines::{Expected, lines, tidy, tight};
use headword::value::Bounds;
use image::{GrayImage, Luma};
use imageproc::drawing::draw_line_segment_mut;
use imageproc::filter::gaussian_blur_f32;
use rand::seq::{IndexedRandom, SliceRandom};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// The fonts that the demo's generator keeps for tuning.
const TUNING: [&str; 5] = [
    "CourierPrime.otf",
    "CourierPrimeSans.otf",
    "LiberationMono.ttf",
    "AnonymousPro.ttf",
    "SpecialElite.ttf",
];
const LINES_A_FONT: usize = 1500;
const EPOCHS: usize = 8;
const BATCH: usize = 64;
const LEARNING_RATE: f32 = 1.5e-3;
const CELLS: usize = ROWS * COLUMNS;

fn main() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/fonts/");
    let fonts = TUNING.map(|name| {
        let bytes = std::fs::read(format!("{folder}{name}"))
            .expect("the tuning fonts lie in demo-data/fonts");
        FontVec::try_from_vec(bytes).expect("a sound font")
    });
    let drawn: Vec<Vec<Vec<Patch>>> = fonts
        .iter()
        .enumerate()
        .map(|(font, face)| {
            let random = &mut ChaCha8Rng::seed_from_u64(font as u64);
            (0..LINES_A_FONT)
                .filter_map(|_| line_patches(face, random))
                .collect()
        })
        .collect();
    let patches_of = |fonts: &dyn Fn(usize) -> bool| -> Vec<Patch> {
        (0..drawn.len())
            .filter(|&font| fonts(font))
            .flat_map(|font| drawn[font].concat())
            .collect()
    };
    if std::env::args().any(|argument| argument == "--leave-one-out") {
        for left_out in 0..fonts.len() {
            let net = train(&patches_of(&|font| font != left_out));
            report(TUNING[left_out], &net, &drawn[left_out]);
        }
        return;
    }
    let net = train(&patches_of(&|_| true));
    for (name, lines) in TUNING.iter().zip(&drawn) {
        report(name, &net, lines);
    }
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/strip/facing.weights");
    std::fs::write(path, net.to_bytes()).expect("the weights can be written");
}

/// Prints how often single letters, and whole lines by their sum, are told right.
fn report(name: &str, net: &Net, lines: &[Vec<Patch>]) {
    let (mut letters, mut right_letters, mut right_lines, mut least) = (0, 0, 0, f32::INFINITY);
    for line in lines {
        let mut sums = [0.0; 4];
        for patch in line {
            let scores = net.facings(patch);
            letters += 1;
            right_letters += usize::from(scores[1..].iter().all(|&score| score < scores[0]));
            for (sum, score) in sums.iter_mut().zip(scores) {
                *sum += score;
            }
        }
        let lead = sums[0] - sums[1..].iter().copied().fold(f32::NEG_INFINITY, f32::max);
        right_lines += usize::from(lead > 0.0);
        least = least.min(lead);
    }
    println!(
        "{name}: letters right {:.3} of {letters}, lines right {:.4} of {}, least lead {least:.1} nats",
        right_letters as f64 / letters as f64,
        right_lines as f64 / lines.len() as f64,
        lines.len()
    );
}

/// The letters of one drawn line as the strip station sees them.
fn line_patches(font: &FontVec, random: &mut ChaCha8Rng) -> Option<Vec<Patch>> {
    let capital = random.random_range(14.0..42.0f32);
    let (piece, middle) = draw(font, &text(random), capital, random);
    let letter = f64::from(capital);
    let beside = capital as u32;
    let all = Bounds::new(
        beside,
        beside,
        piece.width() - beside,
        piece.height() - beside,
    );
    let piece = clean(piece, Polarity::DarkOnLight, all, letter);
    let found = lines(&smooth(&piece), &[Expected { middle, letter }]);
    let part = tight(&piece, &found)?;
    let (strip, found) = tidy(&piece, &found, part);
    let line = found.iter().max_by_key(|line| line.letters.len())?;
    Some(patches(&strip, line))
}

/// A header-like line: words, codes, dates, now and then in small letters.
fn text(random: &mut ChaCha8Rng) -> String {
    const LETTERS: &[u8] = b"EEEEEEEEEEAAAAAAAARRRRRRRNNNNNNNIIIIIIOOOOOOLLLLLLSSSSSTTTTTHHHHDDDDCCCCMMMUUUGGBBKKPPYYWWFVJXZQ";
    let mut words = Vec::new();
    for _ in 0..random.random_range(3..6) {
        let digits = |random: &mut ChaCha8Rng, n: usize| -> String {
            (0..n)
                .map(|_| char::from(b'0' + random.random_range(0..10u8)))
                .collect()
        };
        let word = match random.random_range(0..10) {
            0..5 => {
                let length = random.random_range(2..11);
                let word: String = (0..length)
                    .map(|_| char::from(*LETTERS.choose(random).expect("not empty")))
                    .collect();
                match random.random_range(0..6) {
                    0 => format!("{word},"),
                    1 => format!("{}.", &word[..1]),
                    2 if random.random_bool(0.5) => word.to_lowercase(),
                    3 => format!("{}{}", &word[..1], word[1..].to_lowercase()),
                    _ => word,
                }
            }
            5 | 6 => {
                let length = random.random_range(2..8);
                digits(random, length)
            }
            7 => format!("{}-{}", digits(random, 6), digits(random, 1)),
            8 => format!("19{}-{}", digits(random, 2), digits(random, 2)),
            _ => format!("{} OF {}", digits(random, 1), digits(random, 1)),
        };
        words.push(word);
    }
    words.join(if random.random_bool(0.3) { "   " } else { " " })
}

/// Draws a line with the wear of old type; gives the picture and the height of the capitals' middle on it.
fn draw(font: &FontVec, text: &str, capital: f32, random: &mut ChaCha8Rng) -> (GrayImage, f64) {
    let box_of_h = font
        .outline(font.glyph_id('H'))
        .map(|outline| outline.bounds);
    let units = box_of_h.map_or(0.66, |b| (b.max.y - b.min.y).abs() / font.height_unscaled());
    let scale = PxScale {
        x: capital / units * random.random_range(0.85..1.18),
        y: capital / units,
    };
    let scaled = font.as_scaled(scale);
    let pitch = scaled.h_advance(font.glyph_id('n')) * random.random_range(0.9..1.15);
    let margin = 1.6 * capital;
    let width = (2.0 * margin + pitch * text.chars().count() as f32) as u32;
    let height = (2.0 * margin + capital) as u32;
    let (paper, ink) = (
        random.random_range(170.0..250.0f32),
        random.random_range(10.0..90.0f32),
    );
    let mut coverage = vec![0f32; (width * height) as usize];
    let (jitter, lean) = (
        random.random_range(0.0..0.1) * capital,
        random.random_range(-0.006..0.006f32),
    );
    let (broken, uneven) = (
        random.random_range(0.0..0.35),
        random.random_range(0.0..0.5f32),
    );
    for (place, character) in text.chars().enumerate() {
        let x = margin + pitch * place as f32 + random.random_range(-0.5..0.5) * jitter;
        let y = margin + capital + random.random_range(-1.0..1.0) * jitter + lean * x;
        let glyph = font
            .glyph_id(character)
            .with_scale_and_position(scale, point(x, y));
        let strength = 1.0 - uneven * random.random_range(0.0..1.0f32);
        let cut = random.random_bool(broken).then(|| {
            let from = random.random_range(0.0..1.0f32);
            (
                from,
                from + random.random_range(0.06..0.25),
                random.random_bool(0.5),
            )
        });
        let Some(outline) = font.outline_glyph(glyph) else {
            continue;
        };
        let bounds = outline.px_bounds();
        outline.draw(|gx, gy, share| {
            let (px, py) = (
                bounds.min.x as i64 + i64::from(gx),
                bounds.min.y as i64 + i64::from(gy),
            );
            let along = |horizontal: bool| {
                if horizontal {
                    gx as f32 / bounds.width()
                } else {
                    gy as f32 / bounds.height()
                }
            };
            let lost = cut.is_some_and(|(from, to, way)| (from..to).contains(&along(way)));
            if (0..i64::from(width)).contains(&px) && (0..i64::from(height)).contains(&py) && !lost
            {
                let cell = &mut coverage[(py * i64::from(width) + px) as usize];
                *cell = cell.max(share * strength);
            }
        });
    }
    weigh(&mut coverage, (width, height), capital, random);
    let holes = random.random_range(0.0..0.6f32);
    let tooth = gaussian_blur_f32(
        &GrayImage::from_fn(width, height, |_, _| Luma([random.random_range(0..=255u8)])),
        0.05 * capital,
    );
    let inked = GrayImage::from_fn(width, height, |x, y| {
        let eaten = ((f32::from(tooth.get_pixel(x, y).0[0]) - 128.0) / 24.0).max(0.0) * holes;
        let share = coverage[(y * width + x) as usize] * (1.0 - eaten).max(0.0);
        Luma([(paper + (ink - paper) * share) as u8])
    });
    let mut inked = inked;
    for _ in 0..random.random_range(0..4) {
        let mut end = || {
            (
                random.random_range(0.0..width as f32),
                random.random_range(0.0..height as f32),
            )
        };
        let (from, to) = (end(), end());
        draw_line_segment_mut(&mut inked, from, to, Luma([ink as u8]));
    }
    let mut picture = gaussian_blur_f32(&inked, random.random_range(0.02..0.07) * capital);
    let (grain, clumps) = (
        random.random_range(0.0..10.0f32),
        random.random_range(0.0..0.7f32),
    );
    let clumped = gaussian_blur_f32(
        &GrayImage::from_fn(width, height, |_, _| Luma([random.random_range(0..=255u8)])),
        random.random_range(1.0..2.5),
    );
    for (pixel, clump) in picture.pixels_mut().zip(clumped.pixels()) {
        let value = f32::from(pixel.0[0])
            + grain * random.random_range(-1.5..1.5f32)
            + clumps * (f32::from(clump.0[0]) - 127.5);
        pixel.0[0] = value.clamp(0.0, 255.0) as u8;
    }
    (
        picture,
        f64::from(margin + capital / 2.0 + lean * width as f32 / 2.0),
    )
}

/// Makes strokes bolder or thinner, and closes counters, as ribbons and dirty type do.
fn weigh(coverage: &mut [f32], (width, height): (u32, u32), capital: f32, random: &mut ChaCha8Rng) {
    let sharp = GrayImage::from_fn(width, height, |x, y| {
        Luma([(coverage[(y * width + x) as usize] * 255.0) as u8])
    });
    let clogged = random.random_bool(0.25);
    let (reach, thresholds) = if clogged {
        (0.05..0.1, 25.0..70.0f32)
    } else {
        (0.02..0.06, 50.0..150.0)
    };
    let soft = gaussian_blur_f32(&sharp, random.random_range(reach) * capital);
    let threshold = random.random_range(thresholds);
    for (cell, soft) in coverage.iter_mut().zip(soft.pixels()) {
        *cell = ((f32::from(soft.0[0]) - threshold) / 60.0 + 0.5).clamp(0.0, 1.0);
    }
}

/// Adam on the cross-entropy of the right facing among the four.
fn train(patches: &[Patch]) -> Net {
    let random = &mut ChaCha8Rng::seed_from_u64(1);
    let small = (2.0 / CELLS as f32).sqrt();
    let mut net = Net {
        inner: (0..HIDDEN * CELLS)
            .map(|_| random.random_range(-small..small))
            .collect(),
        bias: vec![0.0; HIDDEN],
        outer: (0..HIDDEN)
            .map(|_| random.random_range(-0.3..0.3f32))
            .collect(),
    };
    let count = HIDDEN * CELLS + 2 * HIDDEN;
    let (mut mean, mut square) = (vec![0f32; count], vec![0f32; count]);
    let mut order: Vec<usize> = (0..patches.len()).collect();
    let steps = EPOCHS * (patches.len() / BATCH);
    let mut step = 0;
    for _ in 0..EPOCHS {
        order.shuffle(random);
        for batch in order.chunks_exact(BATCH) {
            let mut slope = vec![0f32; count];
            for &at in batch {
                add_slope(&net, &patches[at], &mut slope);
            }
            step += 1;
            let rate = LEARNING_RATE * (1.0 - step as f32 / (steps + 1) as f32);
            let (warm_mean, warm_square) = (1.0 - 0.9f32.powi(step), 1.0 - 0.999f32.powi(step));
            let weights = net
                .inner
                .iter_mut()
                .chain(&mut net.bias)
                .chain(&mut net.outer);
            for (at, weight) in weights.enumerate() {
                let slope = slope[at] / BATCH as f32;
                mean[at] = 0.9 * mean[at] + 0.1 * slope;
                square[at] = 0.999 * square[at] + 0.001 * slope * slope;
                let change = mean[at] / warm_mean / ((square[at] / warm_square).sqrt() + 1e-8);
                *weight -= rate * (change + 1e-2 * *weight);
            }
        }
    }
    net
}

fn add_slope(net: &Net, patch: &Patch, slope: &mut [f32]) {
    let log_shares = net.facings(patch);
    for (facing, log_share) in FACINGS.into_iter().zip(log_shares) {
        let wanted = if facing == FACINGS[0] { 1.0 } else { 0.0 };
        let error = log_share.exp() - wanted;
        let seen = faced(patch, facing);
        for unit in 0..HIDDEN {
            let row = &net.inner[unit * CELLS..][..CELLS];
            let sum = row.iter().zip(&seen).map(|(a, b)| a * b).sum::<f32>() + net.bias[unit];
            if sum <= 0.0 {
                continue;
            }
            slope[HIDDEN * CELLS + HIDDEN + unit] += error * sum;
            let back = error * net.outer[unit];
            slope[HIDDEN * CELLS + unit] += back;
            for (slope, cell) in slope[unit * CELLS..][..CELLS].iter_mut().zip(&seen) {
                *slope += back * cell;
            }
        }
    }
}
