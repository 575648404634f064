//! The reader alone, on lines cut by the truth: character errors, milliseconds, and whether its probabilities hold.
//!
//! `cargo bench --bench reader -- [SHEETS] [SEED] [tuning|reporting]`

use headword::command::demo::{Collection, FontUse, Noise, Settings, draw};
use headword::reading::{Reader, TesseractReader};
use headword::value::{Point, Quad};
use image::{GrayImage, Luma};
use std::collections::BTreeMap;
use std::time::Instant;

/// White left round a line's ink, as a share of its height.
const MARGIN: f64 = 0.2;

fn main() {
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| a != "--bench")
        .collect();
    let number = |at: usize, otherwise| {
        arguments
            .get(at)
            .map_or(otherwise, |text| text.parse().expect("a number"))
    };
    let fonts = match arguments.get(2).map(String::as_str) {
        Some("reporting") => FontUse::Reporting,
        _ => FontUse::Tuning,
    };
    let (sheets, seed) = (number(0, 200), number(1, 101) as u64);
    let collection = Collection::new(Settings {
        seed,
        sheets,
        fonts,
        ..Settings::default()
    });
    let mut reader = TesseractReader::start().expect("Tesseract is installed");
    let mut totals: BTreeMap<&str, Totals> = BTreeMap::new();
    for plan in collection.sheets() {
        let drawn = draw::draw(&plan);
        let grey = drawn.image.to_luma8();
        let quads = [drawn.truth.line1.0, drawn.truth.line2.0];
        for (quad, text) in quads.iter().flatten().zip(&plan.lines) {
            let mut line = straighten(&grey, quad);
            if drawn.truth.inverted {
                image::imageops::invert(&mut line);
            }
            let start = Instant::now();
            let read = reader.read_line(&line).expect("the line can be read");
            let milliseconds = start.elapsed().as_secs_f64() * 1e3;
            let noise = if plan.noise == Noise::Heavy {
                "heavy"
            } else {
                "default"
            };
            let total = totals.entry(noise).or_default();
            total.add(&collapse(&read.text()), &collapse(text), milliseconds);
            for position in &read.positions {
                total.alternatives += position.alternatives.len();
                total.positions += 1;
            }
            if let Ok(folder) = std::env::var("SAVE") {
                let name = format!("{folder}/{:05}-{}.png", plan.index, read.bounds.height());
                line.save(&name).expect("the folder exists");
                println!("{name}\n  {text}\n  {}", read.text());
            }
        }
    }
    println!("noise    lines     CER   exact  ms a line  alternatives a position");
    for (noise, t) in totals {
        println!(
            "{noise:8} {:5} {:7.4} {:6.1}% {:9.1} {:10.2}",
            t.lines,
            t.errors as f64 / t.length as f64,
            100.0 * t.exact as f64 / t.lines as f64,
            t.milliseconds / t.lines as f64,
            t.alternatives as f64 / t.positions as f64,
        );
    }
}

#[derive(Default)]
struct Totals {
    lines: usize,
    exact: usize,
    errors: usize,
    length: usize,
    milliseconds: f64,
    positions: usize,
    alternatives: usize,
}

impl Totals {
    fn add(&mut self, read: &str, truth: &str, milliseconds: f64) {
        self.lines += 1;
        self.exact += usize::from(read == truth);
        self.errors += strsim::levenshtein(read, truth).min(truth.chars().count());
        self.length += truth.chars().count();
        self.milliseconds += milliseconds;
    }
}

fn collapse(text: &str) -> String {
    text.to_uppercase()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

/// The line within the corners, upright, at its own resolution.
fn straighten(image: &GrayImage, quad: &Quad) -> GrayImage {
    let [top_left, top_right, _, bottom_left] = quad.0;
    let length = |a: Point, b: Point| ((b.x - a.x).powi(2) + (b.y - a.y).powi(2)).sqrt();
    let (width, height) = (length(top_left, top_right), length(top_left, bottom_left));
    let margin = height * MARGIN;
    let along = |from: Point, to: Point, size: f64| Point {
        x: (to.x - from.x) / size,
        y: (to.y - from.y) / size,
    };
    let (right, down) = (
        along(top_left, top_right, width),
        along(top_left, bottom_left, height),
    );
    GrayImage::from_fn(
        (width + 2.0 * margin) as u32,
        (height + 2.0 * margin) as u32,
        |x, y| {
            let (u, v) = (f64::from(x) - margin, f64::from(y) - margin);
            let (x, y) = (
                top_left.x + right.x * u + down.x * v,
                top_left.y + right.y * u + down.y * v,
            );
            Luma([sample(image, x, y)])
        },
    )
}

fn sample(image: &GrayImage, x: f64, y: f64) -> u8 {
    let at = |x: i64, y: i64| {
        let x = x.clamp(0, i64::from(image.width()) - 1) as u32;
        let y = y.clamp(0, i64::from(image.height()) - 1) as u32;
        f64::from(image.get_pixel(x, y)[0])
    };
    let (left, top) = (x.floor(), y.floor());
    let (u, v) = (x - left, y - top);
    let (left, top) = (left as i64, top as i64);
    let upper = at(left, top) * (1.0 - u) + at(left + 1, top) * u;
    let lower = at(left, top + 1) * (1.0 - u) + at(left + 1, top + 1) * u;
    (upper * (1.0 - v) + lower * v) as u8
}
