//! What covers type or shines through it: pasted slips, correction fluid, the type of another sheet.

use super::canvas::{Area, Canvas};
use super::grain::{BLOTCHY, DEVIATION};
use super::strike;
use crate::command::demo::collection::PlannedSheet;
use crate::command::demo::within;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// A place turned about another, clockwise, in radians.
pub fn turned(at: (f32, f32), about: (f32, f32), angle: f32) -> (f32, f32) {
    let (sin, cos) = angle.sin_cos();
    let (dx, dy) = (at.0 - about.0, at.1 - about.1);
    (about.0 + dx * cos - dy * sin, about.1 + dx * sin + dy * cos)
}

/// Gives every pixel under a leaning slip a new value made from its old one.
pub fn paste(canvas: &mut Canvas, slip: Area, lean: f32, covered: impl Fn(u8) -> u8) {
    let middle = (
        (slip.left + slip.right) / 2.0,
        (slip.top + slip.bottom) / 2.0,
    );
    let slack = (slip.right - slip.left) * lean.abs() / 2.0 + 2.0;
    let span = |from: f32, to: f32, most: usize| {
        (from - slack).max(0.0) as usize..((to + slack).max(0.0) as usize).min(most)
    };
    for y in span(slip.top, slip.bottom, canvas.height) {
        for x in span(slip.left, slip.right, canvas.width) {
            let (u, v) = turned((x as f32 + 0.5, y as f32 + 0.5), middle, -lean);
            if slip.holds(u, v) {
                let pixel = &mut canvas.pixels[y * canvas.width + x];
                *pixel = covered(*pixel);
            }
        }
    }
}

/// The shadow along a slip's edges: on two sides that meet more than on the others.
pub fn edges(canvas: &mut Canvas, slip: Area, lean: f32, random: &mut ChaCha8Rng) {
    let middle = (
        (slip.left + slip.right) / 2.0,
        (slip.top + slip.bottom) / 2.0,
    );
    let corners = [
        (slip.left, slip.top),
        (slip.right, slip.top),
        (slip.right, slip.bottom),
        (slip.left, slip.bottom),
    ]
    .map(|corner| turned(corner, middle, lean));
    let darkest = random.random_range(0..4);
    let thickness = within(random, 1.0..3.0);
    for side in 0..4 {
        let ink = if side == darkest || side == (darkest + 1) % 4 {
            within(random, 0.15..0.5)
        } else {
            within(random, 0.0..0.15)
        };
        let (from, to) = (corners[side], corners[(side + 1) % 4]);
        canvas.stroke(from, to, thickness, |canvas, x, y, cover| {
            canvas.ink(x, y, cover * ink);
        });
    }
}

/// Paints over an area with fluid: an uneven blot with a faint rim.
pub fn fluid(canvas: &mut Canvas, blot: Area, x_height: f32, random: &mut ChaCha8Rng) {
    let tone = within(random, 0.0..14.0);
    let rim = within(random, 0.02..0.18);
    let left_over = within(random, 0.0..0.1);
    let grain = (random.random_range(0..512), random.random_range(0..512));
    let soft = 0.35 * x_height;
    let span = |from: f32, to: f32, most: usize| {
        (from - soft).max(0.0) as usize..((to + soft).max(0.0) as usize).min(most)
    };
    for y in span(blot.top, blot.bottom, canvas.height) {
        for x in span(blot.left, blot.right, canvas.width) {
            // Distance inside the blot, positive within, its corners rounded and its edge uneven.
            let (u, v) = (x as f32 + 0.5, y as f32 + 0.5);
            let across = (u - blot.left).min(blot.right - u);
            let down = (v - blot.top).min(blot.bottom - v);
            let corner = (soft - across).max(0.0).hypot((soft - down).max(0.0));
            let uneven = BLOTCHY.at(x + grain.0, y + grain.1) / DEVIATION;
            let inside = soft - corner + 0.12 * x_height * uneven;
            let cover = (inside / 2.0 + 0.5).clamp(0.0, 1.0);
            let edge = (1.0 - (inside - 1.5).abs() / 2.0).clamp(0.0, 1.0);
            let pixel = &mut canvas.pixels[y * canvas.width + x];
            let old = 255.0 - f32::from(*pixel);
            let new = tone + old * left_over + 255.0 * rim * edge;
            *pixel = (255.0 - old - (new - old) * cover) as u8;
        }
    }
}

/// The heading of another sheet, faint, blurred and seen from behind.
pub fn show_through(
    canvas: &mut Canvas,
    plan: &PlannedSheet,
    heading: Area,
    random: &mut ChaCha8Rng,
) {
    let look = &plan.look;
    let lines: Vec<String> = (0..random.random_range(1..=2))
        .map(|_| {
            let mut letters = |count: usize| -> String {
                let letter = |_| char::from(b'A' + random.random_range(0..26));
                (0..count).map(letter).collect()
            };
            let (word, initial) = (letters(9), letters(1));
            let number = random.random_range(100_000..999_999);
            format!("{word}, {initial}   {number}  1 OF 2")
        })
        .collect();
    let mut behind = Canvas::new(canvas.width, canvas.height);
    strike::strike(&mut behind, look, heading, &lines, random);
    behind.blur(within(random, 0.08..0.18) * look.machine.x_height);
    let strength = within(random, 0.08..0.25);
    let (left, right) = (
        heading.left as usize,
        (heading.right as usize).min(canvas.width),
    );
    let width = canvas.width;
    for y in heading.top.max(0.0) as usize..(heading.bottom as usize).min(canvas.height) {
        for x in left..right {
            let ink = 1.0 - f32::from(behind.pixels[y * width + left + right - 1 - x]) / 255.0;
            canvas.ink(x as i32, y as i32, strength * ink);
        }
    }
}
