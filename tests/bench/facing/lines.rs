//! Lines of type drawn with the wear of old machines, and their letters as the strip station sees them.

use ab_glyph::{Font, FontVec, PxScale, ScaleFont, point};
use headword::strip::clean::clean;
use headword::strip::facing::{Patch, patches};
use headword::strip::ink::{Polarity, smooth};
use headword::strip::lines::{Expected, lines, tidy, tight};
use headword::value::Bounds;
use image::{GrayImage, Luma};
use imageproc::drawing::draw_line_segment_mut;
use imageproc::filter::gaussian_blur_f32;
use rand::RngExt;
use rand::seq::IndexedRandom;
use rand_chacha::ChaCha8Rng;

/// The letters of one drawn line as the strip station sees them.
pub fn line_patches(font: &FontVec, random: &mut ChaCha8Rng) -> Option<Vec<Patch>> {
    let capital = random.random_range(14.0..42.0f32);
    let (piece, middle) = draw(font, &text(random), capital, random);
    letters_of(
        piece,
        Expected {
            middle,
            letter: f64::from(capital),
        },
    )
}

/// The letters of a piece that holds one line, as the strip station sees them; a middle of 0 is the piece's own.
fn letters_of(piece: GrayImage, expected: Expected) -> Option<Vec<Patch>> {
    let letter = expected.letter;
    let middle = if expected.middle > 0.0 {
        expected.middle
    } else {
        f64::from(piece.height()) / 2.0
    };
    let beside = (letter as u32).min(piece.width().min(piece.height()) / 4);
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

/// The pieces of a page of small type seen sideways, which lie side by side like letters and are none.
pub fn page_patches(font: &FontVec, random: &mut ChaCha8Rng) -> Option<Vec<Patch>> {
    let capital = random.random_range(5.0..12.0f32);
    let column = random.random_range(4..14);
    let pitch = (capital * random.random_range(1.5..2.6)) as u32;
    let rows: Vec<GrayImage> = (0..random.random_range(6..24))
        .map(|_| {
            let words: String = text(random).chars().take(column).collect();
            draw(font, &words, capital, random).0
        })
        .collect();
    let width = rows.iter().map(GrayImage::width).max()?;
    let height = pitch * rows.len() as u32 + rows[0].height();
    let mut page = GrayImage::from_pixel(width, height, Luma([230]));
    for (at, row) in rows.iter().enumerate() {
        for (x, y, pixel) in row.enumerate_pixels() {
            let place = page.get_pixel_mut(x, y + pitch * at as u32);
            place.0[0] = place.0[0].min(pixel.0[0]);
        }
    }
    let page = image::imageops::rotate90(&page);
    let letter = f64::from(page.height()) - 2.0 * 1.6 * f64::from(capital);
    letters_of(
        page,
        Expected {
            middle: 0.0,
            letter,
        },
    )
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
