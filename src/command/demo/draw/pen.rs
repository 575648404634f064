//! What a pen does to a heading: notes, strokes through words, ticks, rings, and whole lines.

use super::amend::Typed;
use super::canvas::{Area, Canvas};
use super::hand::Hand;
use super::strike::spread;
use crate::command::demo::collection::PlannedSheet;
use crate::command::demo::within;
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;

/// A note as clerks write it: a word, initials, a date, a number (invented).
pub fn note(random: &mut ChaCha8Rng) -> String {
    let letter = |random: &mut ChaCha8Rng| char::from(b'A' + random.random_range(0..26));
    match random.random_range(0..5) {
        0 => (*[
            "see file", "Dup", "canc.", "OK", "copy", "new no.", "late", "decd", "void",
        ]
        .choose(random)
        .expect("notes"))
        .to_owned(),
        1 => format!("{}{}{}", letter(random), letter(random), letter(random)),
        2 => format!(
            "{}/{}",
            random.random_range(1..13),
            random.random_range(30..80)
        ),
        3 => random.random_range(10..100_000).to_string(),
        _ => format!("{}.{}.", letter(random), letter(random)),
    }
}

/// Draws the pen through a word: once, twice, or to and fro.
pub fn pen_through(canvas: &mut Canvas, hand: &Hand, room: Area, random: &mut ChaCha8Rng) {
    let height = room.bottom - room.top;
    let over = within(random, 0.0..0.5) * height;
    let (left, right) = (room.left - over, room.right + over);
    if random.random_bool(0.25) {
        let turns = ((right - left) / height * within(random, 1.5..3.5)).max(3.0) as usize;
        let places: Vec<(f32, f32)> = (0..=turns)
            .map(|turn| {
                let x = left + (right - left) * turn as f32 / turns as f32;
                let y = if turn % 2 == 0 { room.top } else { room.bottom };
                (x, y + 0.15 * height * spread(random))
            })
            .collect();
        hand.stroke(canvas, &places, random);
        return;
    }
    let ruled = random.random_bool(0.5);
    for _ in 0..if random.random_bool(0.3) { 2 } else { 1 } {
        let middle = room.bottom - within(random, 0.3..0.65) * height;
        let slope = if ruled {
            within(random, -0.01..0.01)
        } else {
            within(random, -0.12..0.12)
        };
        let unrest = if ruled { 0.0 } else { 0.04 * height };
        let places: Vec<(f32, f32)> = (0..=8)
            .map(|step| {
                let x = left + (right - left) * step as f32 / 8.0;
                let y = middle + slope * (x - (left + right) / 2.0);
                (x, y + unrest * spread(random))
            })
            .collect();
        hand.stroke(canvas, &places, random);
    }
}

pub fn tick(canvas: &mut Canvas, hand: &Hand, at: (f32, f32), random: &mut ChaCha8Rng) -> Area {
    let size = hand.x_height * within(random, 1.0..2.0);
    let places = [
        (at.0, at.1 - 0.5 * size),
        (at.0 + 0.35 * size, at.1),
        (at.0 + 1.1 * size, at.1 - 1.2 * size),
    ];
    hand.stroke(canvas, &places, random);
    round(&places)
}

/// A ring round a word.
pub fn ring(canvas: &mut Canvas, hand: &Hand, room: Area, random: &mut ChaCha8Rng) -> Area {
    let (width, height) = (room.right - room.left, room.bottom - room.top);
    let (x, y) = (
        (room.left + room.right) / 2.0,
        (room.top + room.bottom) / 2.0,
    );
    let (rx, ry) = (
        0.5 * width + within(random, 0.1..0.6) * height,
        within(random, 0.7..1.1) * height,
    );
    let from = within(random, 0.0..6.3);
    let places: Vec<(f32, f32)> = (0..=34)
        .map(|step| {
            let turn = from + step as f32 * 0.2;
            let grown = 1.0 + 0.002 * step as f32;
            (x + rx * grown * turn.cos(), y + ry * grown * turn.sin())
        })
        .collect();
    hand.stroke(canvas, &places, random);
    round(&places)
}

fn round(places: &[(f32, f32)]) -> Area {
    places.iter().fold(Area::NOTHING, |area, &(x, y)| {
        area.union(&Area {
            left: x,
            top: y,
            right: x + 1.0,
            bottom: y + 1.0,
        })
    })
}

/// The plan's lines by hand, in capitals or in small letters.
pub fn handwritten(
    canvas: &mut Canvas,
    plan: &PlannedSheet,
    heading: Area,
    random: &mut ChaCha8Rng,
) -> Typed {
    /// Baseline to baseline, and room above the first and below the last, in x-heights.
    const LEADING: f32 = 2.6;
    let capitals = random.random_bool(0.5);
    let lines: Vec<String> = plan
        .lines
        .iter()
        .map(|line| {
            // Gaps by hand are no row of blanks.
            let words: Vec<&str> = line.split_whitespace().collect();
            let line = words.join("  ");
            if capitals { line } else { small(&line) }
        })
        .collect();
    let machine = &plan.look.machine;
    let mut hand = Hand::choose(machine.face.set, machine.x_height, random);
    let room = (heading.right - heading.left) * 0.94;
    let widest = lines
        .iter()
        .map(|line| hand.width_of(line))
        .fold(1.0, f32::max);
    let height = heading.bottom - heading.top;
    let wanted = hand.x_height * within(random, 0.8..1.3);
    let size = wanted
        .min(hand.x_height * room / widest / 1.05)
        .min(height / (LEADING * lines.len() as f32));
    hand.pen *= size / hand.x_height;
    hand.x_height = size;
    let left = heading.left + within(random, 0.02..0.05) * (heading.right - heading.left);
    let block = LEADING * size * lines.len() as f32;
    let first = heading.top + (height - block) * machine.drop + 0.7 * LEADING * size;
    let lean = within(random, -0.006..0.006);
    let lines: Vec<Area> = lines
        .iter()
        .enumerate()
        .map(|(row, line)| {
            let slack = (heading.right - left - hand.width_of(line) * 1.05).max(0.0);
            let pen = (
                left + slack.min(within(random, 0.0..4.0) * size),
                first + row as f32 * LEADING * size,
            );
            hand.write(canvas, line, pen, lean, random)
        })
        .collect();
    let typing = lines
        .iter()
        .fold(Area::NOTHING, |all, line| all.union(line));
    Typed {
        lines,
        typing,
        changed: typing,
        x_height: size,
    }
}

/// Every letter but a word's first made small.
fn small(line: &str) -> String {
    let mut first = true;
    line.chars()
        .map(|letter| {
            let kept = if first {
                letter
            } else {
                letter.to_ascii_lowercase()
            };
            first = !letter.is_ascii_alphabetic();
            kept
        })
        .collect()
}
