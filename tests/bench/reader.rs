//! The readers alone: character errors, processor time, and whether their probabilities hold. On lines cut by the truth,
//! each judged by itself; or, with `found`, on those that the strip station finds, judged strip by strip. With
//! RELIABILITY in the environment, the reliability diagram too.
//!
//! `cargo bench --bench reader -- [SHEETS] [SEED] [tuning|reporting] [true|found]`, or `-- typed` for lines of real typed
//! pages (tests/data/reading), with OMP_THREAD_LIMIT=1 in the environment where Tesseract's time is to be fair.

use headword::command::demo::{Collection, FontUse, Noise, Settings, draw};
use headword::reading::{Line, NetReader, Reader};
use headword::strip;
use headword::value::{Bounds, Point, Quad};
use image::{DynamicImage, GrayImage, Luma};
use std::collections::BTreeMap;
use std::path::Path;

/// White left round a line's ink, as a share of its height.
const MARGIN: f64 = 0.2;

fn main() {
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| a != "--bench")
        .collect();
    let typed = arguments.first().is_some_and(|first| first == "typed");
    let number = |at: usize, otherwise| {
        arguments
            .get(at)
            .map_or(otherwise, |text| text.parse().expect("a number"))
    };
    let fonts = match arguments.get(2).map(String::as_str) {
        Some("reporting") => FontUse::Reporting,
        _ => FontUse::Tuning,
    };
    let sheets = if typed { 0 } else { number(0, 200) };
    let seed = number(1, 101) as u64;
    let collection = Collection::new(Settings {
        seed,
        sheets,
        fonts,
        ..Settings::default()
    });
    let mut readers: Vec<Box<dyn Reader>> = vec![Box::new(
        NetReader::start().expect("the net is part of the program"),
    )];
    #[cfg(feature = "tesseract")]
    readers.push(Box::new(
        headword::reading::TesseractReader::start().expect("Tesseract is installed"),
    ));
    let found = arguments.get(3).is_some_and(|cut| cut == "found");
    let mut totals = BTreeMap::new();
    if typed {
        for (line, text) in typed_lines() {
            measure(&mut readers, &mut totals, "typed", &[line], &[text], false);
        }
    } else {
        for plan in collection.sheets() {
            let drawn = draw::draw(&plan);
            let noise = match plan.noise {
                Noise::Heavy => "heavy",
                _ => "default",
            };
            let (lines, texts) = if found {
                (found_lines(&drawn.image), vec![plan.lines.join(" ")])
            } else {
                (true_lines(&drawn), plan.lines.clone())
            };
            measure(&mut readers, &mut totals, noise, &lines, &texts, found);
        }
    }
    println!(
        "noise    reader                  lines     CER  lines exact  strips exact  ms a line  alternatives  calibration error"
    );
    for ((noise, reader), t) in totals {
        println!(
            "{noise:8} {reader:22} {:6} {:7.4} {:11.1}% {:12.1}% {:10.1} {:13.2} {:18.4}",
            t.lines,
            t.errors as f64 / t.length as f64,
            100.0 * t.exact as f64 / t.texts as f64,
            100.0 * t.strips_exact as f64 / t.strips as f64,
            t.milliseconds / t.lines as f64,
            t.alternatives as f64 / t.positions as f64,
            t.calibration_error(),
        );
        if std::env::var("RELIABILITY").is_ok() {
            for (at, bin) in t.bins.iter().enumerate().filter(|(_, bin)| bin.0 > 0) {
                let (count, said, right) = *bin;
                println!(
                    "    up to {:.1}: {count:6} positions, said {:.4}, right {:.4}",
                    (at + 1) as f64 / BINS as f64,
                    said / count as f64,
                    right as f64 / count as f64,
                );
            }
        }
    }
}

type AllTotals = BTreeMap<(&'static str, String), Totals>;

/// Reads a strip's lines with every reader; one text for each line, or for all of them joined.
fn measure(
    readers: &mut [Box<dyn Reader>],
    totals: &mut AllTotals,
    row: &'static str,
    lines: &[GrayImage],
    texts: &[String],
    join: bool,
) {
    for reader in readers {
        let total = totals.entry((row, reader.name().to_owned())).or_default();
        let start = processor_seconds();
        let mut read: Vec<Line> = lines
            .iter()
            .map(|line| reader.read_line(line).expect("the line can be read"))
            .collect();
        total.milliseconds += (processor_seconds() - start) * 1e3;
        total.lines += lines.len();
        if join {
            read = vec![joined(read)];
        }
        let exact = total.exact;
        for (read, text) in read.iter().zip(texts) {
            total.add(read, &collapse(text));
        }
        total.strips += 1;
        total.strips_exact += usize::from(total.exact - exact == texts.len());
    }
}

/// Lines of real typed pages and what they say.
fn typed_lines() -> Vec<(GrayImage, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/reading");
    let mut rows = csv::Reader::from_path(folder.join("typed.csv")).expect("the list of lines");
    let lines = rows.records().map(|row| {
        let row = row.expect("a file and its text");
        let image = image::open(folder.join(&row[0])).expect("a line's picture");
        (image.to_luma8(), row[1].to_owned())
    });
    lines.collect()
}

/// Bins of the reliability diagram.
const BINS: usize = 10;

#[derive(Default)]
struct Totals {
    lines: usize,
    texts: usize,
    exact: usize,
    strips: usize,
    strips_exact: usize,
    errors: usize,
    length: usize,
    milliseconds: f64,
    positions: usize,
    alternatives: usize,
    /// Characters by the probability of the first choice: how many, the sum of what was said, how many were right.
    bins: [(usize, f64, usize); BINS],
}

impl Totals {
    fn add(&mut self, line: &Line, truth: &str) {
        let read = collapse(&line.text());
        self.texts += 1;
        self.exact += usize::from(read == truth);
        self.errors += strsim::levenshtein(&read, truth).min(truth.chars().count());
        self.length += truth.chars().count();
        self.positions += line.positions.len();
        let characters: Vec<(char, f64)> = line
            .positions
            .iter()
            .inspect(|position| self.alternatives += position.alternatives.len())
            .filter_map(|position| {
                let said = position.alternatives[0].probability.get();
                let c = position.best().to_uppercase().chars().next()?;
                (c != ' ').then_some((c, said))
            })
            .collect();
        let truth: Vec<char> = truth.chars().filter(|&c| c != ' ').collect();
        for (right, (_, said)) in right_ones(&characters, &truth).into_iter().zip(&characters) {
            let bin = &mut self.bins[((said * BINS as f64) as usize).min(BINS - 1)];
            bin.0 += 1;
            bin.1 += said;
            bin.2 += usize::from(right);
        }
    }

    /// Expected calibration error: the mean distance of what was said and what came true, over the bins.
    fn calibration_error(&self) -> f64 {
        let count: usize = self.bins.iter().map(|bin| bin.0).sum();
        self.bins
            .iter()
            .map(|(_, said, right)| (said - *right as f64).abs())
            .sum::<f64>()
            / count as f64
    }
}

/// Which characters stand for their like in the truth, by an alignment of fewest edits.
fn right_ones(read: &[(char, f64)], truth: &[char]) -> Vec<bool> {
    let mut cost = vec![vec![0usize; truth.len() + 1]; read.len() + 1];
    for i in 0..=read.len() {
        for j in 0..=truth.len() {
            cost[i][j] = match (i, j) {
                (0, j) => j,
                (i, 0) => i,
                (i, j) => {
                    let same = usize::from(read[i - 1].0 != truth[j - 1]);
                    (cost[i - 1][j - 1] + same).min(cost[i - 1][j].min(cost[i][j - 1]) + 1)
                }
            };
        }
    }
    let mut right = vec![false; read.len()];
    let (mut i, mut j) = (read.len(), truth.len());
    while i > 0 && j > 0 {
        let same = read[i - 1].0 == truth[j - 1];
        if cost[i][j] == cost[i - 1][j - 1] + usize::from(!same) {
            right[i - 1] = same;
            (i, j) = (i - 1, j - 1);
        } else if cost[i][j] == cost[i - 1][j] + 1 {
            i -= 1;
        } else {
            j -= 1;
        }
    }
    right
}

/// What all threads of this program took of a processor, in seconds (Linux): others' work on the machine does not count.
fn processor_seconds() -> f64 {
    let threads = std::fs::read_dir("/proc/self/task").expect("Linux keeps this folder");
    let nanoseconds: f64 = threads
        .flatten()
        .filter_map(|thread| std::fs::read_to_string(thread.path().join("schedstat")).ok())
        .filter_map(|text| text.split(' ').next()?.parse::<f64>().ok())
        .sum();
    nanoseconds / 1e9
}

fn collapse(text: &str) -> String {
    text.to_uppercase()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

/// The typed lines by the truth, dark on light.
fn true_lines(drawn: &draw::Drawn) -> Vec<GrayImage> {
    let grey = drawn.image.to_luma8();
    let quads = [&drawn.truth.line1.0, &drawn.truth.line2.0];
    let lines = quads.into_iter().flatten().map(|quad| {
        let mut line = straighten(&grey, quad);
        if drawn.truth.inverted {
            image::imageops::invert(&mut line);
        }
        line
    });
    lines.collect()
}

/// The lines that the strip station finds, facing as it says.
fn found_lines(image: &DynamicImage) -> Vec<GrayImage> {
    let Some(strip) = strip::find(image).strip else {
        return Vec::new();
    };
    let cut = |b: &Bounds| {
        image::imageops::crop_imm(&strip.image, b.left, b.top, b.width(), b.height()).to_image()
    };
    strip.lines.iter().map(cut).collect()
}

/// All lines of a strip as one, a space between.
fn joined(lines: Vec<Line>) -> Line {
    let mut all = Line::default();
    for line in lines {
        all.positions.extend(Line::certain(" ", 1.0).positions);
        all.positions.extend(line.positions);
    }
    all
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
