//! What time and hands did to the sheet: scratches, dust, hairs, smudges, marks.

use super::canvas::{Area, Canvas};
use super::grain::{BLOTCHY, DEVIATION};
use crate::command::demo::look::Look;
use crate::command::demo::within;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// Damages the sheet; says whether a mark was made across the typing.
pub fn draw(
    canvas: &mut Canvas,
    look: &Look,
    heading: Area,
    typing: Area,
    random: &mut ChaCha8Rng,
) -> bool {
    let mut marked = false;
    for _ in 0..look.wear.smudges {
        smudge(canvas, random);
    }
    for _ in 0..look.wear.marks {
        marked |= mark(canvas, heading, typing, random);
    }
    for _ in 0..look.wear.scratches {
        scratch(canvas, random);
    }
    for _ in 0..look.wear.specks {
        speck(canvas, random);
    }
    for _ in 0..look.wear.hairs {
        hair(canvas, random);
    }
    marked
}

/// A thin line that takes the emulsion off, or a dark one where dirt has gathered in it; mostly along the jacket.
fn scratch(canvas: &mut Canvas, random: &mut ChaCha8Rng) {
    let (width, height) = (canvas.width as f32, canvas.height as f32);
    let (x, y) = (within(random, 0.0..width), within(random, 0.0..height));
    let length = within(random, 0.05..0.7) * width;
    let turn = if random.random_bool(0.7) {
        within(random, -0.12..0.12)
    } else {
        within(random, 0.0..3.1)
    };
    let to = (x + length * turn.cos(), y + length * turn.sin());
    let thickness = within(random, 0.6..2.0);
    let strength = within(random, 0.2..0.8);
    let light = random.random_bool(0.5);
    canvas.stroke((x, y), to, thickness, |canvas, x, y, cover| {
        if light {
            canvas.scrape(x, y, cover * strength);
        } else {
            canvas.ink(x, y, cover * strength);
        }
    });
}

/// A speck of dust, dark or light.
fn speck(canvas: &mut Canvas, random: &mut ChaCha8Rng) {
    let (x, y) = (
        within(random, 0.0..canvas.width as f32),
        within(random, 0.0..canvas.height as f32),
    );
    // Small specks are many, large ones few.
    let radius = 0.5 + 3.0 * random.random::<f32>().powi(4);
    let strength = within(random, 0.3..0.95);
    let light = random.random_bool(0.35);
    let reach = radius.ceil() as i32 + 1;
    for dy in -reach..=reach {
        for dx in -reach..=reach {
            let cover = (radius + 0.5 - (dx as f32).hypot(dy as f32)).clamp(0.0, 1.0) * strength;
            if cover > 0.0 && light {
                canvas.scrape(x as i32 + dx, y as i32 + dy, cover);
            } else if cover > 0.0 {
                canvas.ink(x as i32 + dx, y as i32 + dy, cover);
            }
        }
    }
}

/// A bent hair.
fn hair(canvas: &mut Canvas, random: &mut ChaCha8Rng) {
    let mut at = (
        within(random, 0.0..canvas.width as f32),
        within(random, 0.0..canvas.height as f32),
    );
    let mut turn = within(random, 0.0..std::f32::consts::TAU);
    let bend = within(random, -0.35..0.35);
    let strength = within(random, 0.3..0.8);
    let thickness = within(random, 0.7..1.6);
    for _ in 0..random.random_range(5..16) {
        let to = (at.0 + 9.0 * turn.cos(), at.1 + 9.0 * turn.sin());
        canvas.stroke(at, to, thickness, |canvas, x, y, cover| {
            canvas.ink(x, y, cover * strength)
        });
        at = to;
        turn += bend + within(random, -0.2..0.2);
    }
}

/// A greasy patch with soft, blotchy edges.
fn smudge(canvas: &mut Canvas, random: &mut ChaCha8Rng) {
    let (x, y) = (
        within(random, 0.0..canvas.width as f32),
        within(random, 0.0..canvas.height as f32),
    );
    let (rx, ry) = (within(random, 20.0..140.0), within(random, 12.0..60.0));
    let strength = within(random, 0.08..0.35);
    let grain = (random.random_range(0..512), random.random_range(0..512));
    for py in (y - ry).max(0.0) as usize..((y + ry) as usize).min(canvas.height) {
        for px in (x - rx).max(0.0) as usize..((x + rx) as usize).min(canvas.width) {
            let distance = ((px as f32 - x) / rx).hypot((py as f32 - y) / ry);
            let blotch = BLOTCHY.at(px + grain.0, py + grain.1) / DEVIATION;
            let cover = (1.0 - distance) * (0.8 + 0.5 * blotch);
            if cover > 0.0 {
                canvas.ink(px as i32, py as i32, (cover * strength).min(0.6));
            }
        }
    }
}

/// A pencil tick, a stroke through, or part of a rubber stamp's ring over the heading; says whether it runs into the
/// typing.
fn mark(canvas: &mut Canvas, heading: Area, typing: Area, random: &mut ChaCha8Rng) -> bool {
    let height = heading.bottom - heading.top;
    let x = within(random, 0.02..0.95) * heading.right;
    let y = heading.top + within(random, 0.2..0.8) * height;
    let strength = within(random, 0.2..0.55);
    let thickness = within(random, 1.5..3.5);
    let mut touches = false;
    let mut touch = |canvas: &mut Canvas, x: i32, y: i32, cover: f32| {
        if y >= 0 && (y as f32) < heading.bottom {
            canvas.ink(x, y, cover * strength);
            touches |= typing.holds(x as f32, y as f32);
        }
    };
    if random.random_bool(0.6) {
        let size = within(random, 0.15..0.4) * height;
        canvas.stroke(
            (x, y),
            (x + size * 0.4, y + size * 0.5),
            thickness,
            &mut touch,
        );
        canvas.stroke(
            (x + size * 0.4, y + size * 0.5),
            (x + size * 1.3, y - size * 0.7),
            thickness,
            &mut touch,
        );
    } else {
        let radius = within(random, 0.5..1.2) * height;
        let from = within(random, 0.0..6.0);
        let place = |turn: f32| (x + radius * turn.cos(), y + radius * turn.sin());
        for step in 0..24 {
            let turn = from + step as f32 * 0.12;
            canvas.stroke(place(turn), place(turn + 0.12), thickness, &mut touch);
        }
    }
    touches
}
