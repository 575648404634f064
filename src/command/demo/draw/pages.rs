//! What the frames show: pictures of pages, far too small to be read.

use super::canvas::{Area, Canvas};
use crate::command::demo::look::Form;
use crate::command::demo::within;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::sync::LazyLock;

/// Pictures of each sort that the frames choose from.
pub const PAGES: usize = 16;

/// Width and height of typescript, drawings, and a line printer's paper (14 by 11 inches), in pixels.
const TYPESCRIPT: (usize, usize) = (110, 160);
const DRAWING: (usize, usize) = (420, 297);
const LISTING: (usize, usize) = (140, 110);

/// Grey blocks where the lines are.
static TYPESCRIPTS: LazyLock<Vec<Canvas>> = LazyLock::new(|| pictures(page));
static DRAWINGS: LazyLock<Vec<Canvas>> = LazyLock::new(|| pictures(drawing));
static LISTINGS: LazyLock<Vec<Canvas>> = LazyLock::new(|| pictures(listing));

fn pictures(draw: fn(&mut ChaCha8Rng) -> Canvas) -> Vec<Canvas> {
    let mut random = ChaCha8Rng::seed_from_u64(16);
    (0..PAGES).map(|_| draw(&mut random)).collect()
}

/// The pictures in the frames of a form of sheet.
pub fn of(form: Form) -> &'static [Canvas] {
    match form {
        Form::Jacket16 => &TYPESCRIPTS,
        Form::Jacket35 => &DRAWINGS,
        Form::Fiche => &LISTINGS,
    }
}

fn page(random: &mut ChaCha8Rng) -> Canvas {
    let mut page = Canvas::new(TYPESCRIPT.0, TYPESCRIPT.1);
    let (left, right) = (
        within(random, 6.0..16.0),
        TYPESCRIPT.0 as f32 - within(random, 6.0..22.0),
    );
    let leading = within(random, 3.5..7.0);
    let ink = within(random, 0.25..0.6);
    let mut top = within(random, 8.0..24.0);
    while top < TYPESCRIPT.1 as f32 - 12.0 {
        if random.random_bool(0.86) {
            let mut at = left;
            let end = if random.random_bool(0.2) {
                within(random, left..right)
            } else {
                right
            };
            while at < end {
                let word = (at + within(random, 4.0..18.0)).min(end);
                page.fill(
                    Area {
                        left: at,
                        top,
                        right: word,
                        bottom: top + leading * 0.5,
                    },
                    ink,
                );
                at = word + within(random, 2.0..4.0);
            }
        }
        top += leading;
    }
    if random.random_bool(0.3) {
        let (x, y) = (within(random, 10.0..60.0), within(random, 20.0..90.0));
        page.fill(
            Area {
                left: x,
                top: y,
                right: x + 36.0,
                bottom: y + 44.0,
            },
            0.45,
        );
    }
    page
}

/// An engineering drawing: a border, views of lines and circles, notes, and the title block in its corner.
fn drawing(random: &mut ChaCha8Rng) -> Canvas {
    let (width, height) = (DRAWING.0 as f32, DRAWING.1 as f32);
    let mut page = Canvas::new(DRAWING.0, DRAWING.1);
    let ink = within(random, 0.45..0.8);
    outline(&mut page, (10.0, 8.0), (width - 8.0, height - 8.0), ink);
    // The title block, with a few rows of lettering.
    let (left, top) = (
        width - within(random, 90.0..130.0),
        height - within(random, 45.0..70.0),
    );
    outline(&mut page, (left, top), (width - 8.0, height - 8.0), ink);
    lettering(
        &mut page,
        (left + 5.0, top + 6.0),
        (width - 16.0, height - 14.0),
        8.0,
        random,
    );
    if random.random_bool(0.6) {
        let (left, bottom) = (width - 120.0, 20.0 + within(random, 30.0..90.0));
        lettering(&mut page, (left, 18.0), (width - 18.0, bottom), 7.0, random);
    }
    for _ in 0..random.random_range(2..=4) {
        let (x, y) = (within(random, 20.0..220.0), within(random, 16.0..150.0));
        let right = x + within(random, 70.0..190.0);
        let bottom = (y + within(random, 60.0..150.0)).min(height - 20.0);
        outline(&mut page, (x, y), (right, bottom), ink);
        for _ in 0..random.random_range(3..=9) {
            let along = within(random, 0.0..1.0);
            let (from, to) = if random.random_bool(0.5) {
                let across = x + (right - x) * along;
                ((across, y), (across, bottom))
            } else {
                let down = y + (bottom - y) * along;
                ((x, down), (right, down))
            };
            line(&mut page, from, to, ink);
        }
        if random.random_bool(0.6) {
            let middle = ((x + right) / 2.0, (y + bottom) / 2.0);
            let radius = within(random, 0.2..0.45) * (right - x).min(bottom - y);
            ring(&mut page, middle, radius, ink);
        }
        // A dimension line below the view.
        let below = (bottom + 6.0).min(height - 12.0);
        line(&mut page, (x, below), (right, below), ink * 0.7);
    }
    page
}

/// A line printer's page: a heading, then rows of columns as wide as their figures.
fn listing(random: &mut ChaCha8Rng) -> Canvas {
    let (width, height) = (LISTING.0 as f32, LISTING.1 as f32);
    let mut page = Canvas::new(LISTING.0, LISTING.1);
    let ink = within(random, 0.35..0.65);
    let mut columns = vec![(6.0, within(random, 18.0..30.0))];
    let mut at = 40.0;
    while at < width - 14.0 {
        let wide = within(random, 5.0..12.0);
        columns.push((at, wide));
        at += wide + within(random, 3.0..7.0);
    }
    let mut block = |left: f32, top: f32, wide: f32| {
        let area = Area {
            left,
            top,
            right: left + wide,
            bottom: top + 1.2,
        };
        page.fill(area, ink);
    };
    block(width * 0.3, 5.0, width * 0.35);
    let mut top = 11.0;
    while top < height - 6.0 {
        // A blank row now and then, as after each person.
        if !random.random_bool(0.2) {
            for &(left, wide) in &columns {
                if random.random_bool(0.8) {
                    block(left, top, wide * within(random, 0.6..1.0));
                }
            }
        }
        top += 2.4;
    }
    page
}

fn line(page: &mut Canvas, from: (f32, f32), to: (f32, f32), ink: f32) {
    page.stroke(from, to, 1.2, |page, x, y, cover| {
        page.ink(x, y, ink * cover)
    });
}

fn outline(page: &mut Canvas, (left, top): (f32, f32), (right, bottom): (f32, f32), ink: f32) {
    let corners = [(left, top), (right, top), (right, bottom), (left, bottom)];
    for side in 0..4 {
        line(page, corners[side], corners[(side + 1) % 4], ink);
    }
}

fn ring(page: &mut Canvas, (x, y): (f32, f32), radius: f32, ink: f32) {
    const STEPS: usize = 24;
    let place = |step: usize| {
        let turn = step as f32 / STEPS as f32 * std::f32::consts::TAU;
        (x + radius * turn.cos(), y + radius * turn.sin())
    };
    for step in 0..STEPS {
        line(page, place(step), place(step + 1), ink);
    }
}

/// Rows of small words, `leading` apart.
fn lettering(
    page: &mut Canvas,
    (left, top): (f32, f32),
    (right, bottom): (f32, f32),
    leading: f32,
    random: &mut ChaCha8Rng,
) {
    let mut row = top;
    while row < bottom {
        let end = within(random, left..right);
        let area = Area {
            left,
            top: row,
            right: end,
            bottom: row + 2.0,
        };
        page.fill(area, 0.5);
        row += leading;
    }
}
