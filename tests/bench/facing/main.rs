//! Trains the net that tells which way round type lies, and type from anything else:
//! `cargo bench --profile dev --no-default-features --bench facing -- --sheets 1500 --fonts FOLDER`.
//!
//! Two kinds of examples: lines drawn in the tuning fonts, and in any further fonts of `--fonts`, with the wear of old
//! type, and pages seen sideways; and whatever the strip station cuts out of drawn sheets, the true headings and
//! everything else. Writes `src/strip/facing.weights`. Reports on sheets that it was not trained on. What is cut out
//! depends a little on the net that is there; so the first run should be followed by a second.

#[path = "../arguments.rs"]
mod arguments;
mod lines;
mod parallel;
mod train;

use ab_glyph::FontVec;
use arguments::{number, value};
use headword::command::demo::draw::{Drawn, draw};
use headword::command::demo::{Collection, Rates, Settings};
use headword::strip::candidate::Candidate;
use headword::strip::candidates;
use headword::strip::facing::{FACINGS, Net, Patch, faced, patches};
use headword::strip::ink::Polarity;
use headword::value::SheetKind;
use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use std::path::Path;
use train::{Example, train};

/// The fonts that the demo's generator keeps for tuning.
const TUNING: [&str; 5] = [
    "CourierPrime.otf",
    "CourierPrimeSans.otf",
    "LiberationMono.ttf",
    "AnonymousPro.ttf",
    "SpecialElite.ttf",
];
/// Seeds of the sheets that are trained on and that are reported on; both are tuning seeds.
const TRAINED_SEED: u64 = 200;
const REPORTED_SEED: u64 = 201;
/// Headings cut out of each view of a sheet.
const MOST_HEADINGS: usize = 5;
/// Overlap with the true strip from which a candidate is the heading, and up to which it is something else.
const HEADING: f64 = 0.5;
const ELSEWHERE: f64 = 0.02;

fn main() {
    let sheets = number("--sheets", 1500);
    let lines = number("--lines", 1000);
    let mut examples = lines_of(&fonts(value("--fonts").as_deref()), lines);
    println!("{} letters of drawn lines and pages", examples.len());
    let cut = cut_of(TRAINED_SEED, sheets);
    let (typed, other): (Vec<Example>, Vec<Example>) = cut
        .into_iter()
        .flatten()
        .partition(|example| example.is_type);
    println!(
        "{} letters and {} other pieces of drawn sheets",
        typed.len(),
        other.len()
    );
    examples.extend(typed);
    // As many pieces that are no type as letters at most.
    let random = &mut ChaCha8Rng::seed_from_u64(3);
    let mut other = other;
    other.shuffle(random);
    other.truncate(examples.len());
    examples.extend(other);
    let net = train(&examples);
    report(&net, &cut_of(REPORTED_SEED, sheets.div_ceil(5)));
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/strip/facing.weights");
    std::fs::write(path, net.to_bytes()).expect("the weights can be written");
}

/// The tuning fonts and those in a folder.
fn fonts(folder: Option<&str>) -> Vec<FontVec> {
    let own = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/fonts/");
    let mut paths: Vec<_> = TUNING.map(|name| Path::new(own).join(name)).into();
    if let Some(folder) = folder {
        let entries = std::fs::read_dir(folder).expect("the folder of fonts can be read");
        let mut further: Vec<_> = entries.flatten().map(|entry| entry.path()).collect();
        further.sort();
        paths.extend(further);
    }
    let font = |path| {
        let bytes = std::fs::read(path).expect("the font can be read");
        FontVec::try_from_vec(bytes).expect("a sound font")
    };
    paths.into_iter().map(font).collect()
}

/// The letters of lines drawn in each font, and pages of it seen sideways.
fn lines_of(fonts: &[FontVec], lines: usize) -> Vec<Example> {
    /// Lines drawn by one thread before it takes up another font.
    const SHARE: usize = 50;
    let shares = lines.div_ceil(SHARE);
    let drawn = parallel::each(fonts.len() * shares, |at| {
        let font = &fonts[at % fonts.len()];
        let random = &mut ChaCha8Rng::seed_from_u64(at as u64);
        let mut examples = Vec::new();
        let mut add = |patches: Option<Vec<Patch>>, is_type| {
            let patches = patches.into_iter().flatten();
            examples.extend(patches.map(|patch| Example { patch, is_type }));
        };
        for _ in 0..SHARE / 4 {
            add(lines::page_patches(font, random), false);
        }
        for _ in 0..SHARE {
            add(lines::line_patches(font, random), true);
        }
        examples
    });
    drawn.into_iter().flatten().collect()
}

/// What the strip station cuts out of drawn sheets: the patches of each candidate.
fn cut_of(seed: u64, sheets: usize) -> Vec<Vec<Example>> {
    let settings = Settings {
        seed,
        sheets,
        heavy_share: 0.7,
        rates: Rates {
            blank: 0.25,
            ..Rates::default()
        },
        ..Settings::default()
    };
    let plans = Collection::new(settings);
    let cut = parallel::each(plans.len(), |at| labelled(&draw(&plans.sheet(at))));
    cut.into_iter().flatten().collect()
}

/// The candidates of a sheet that are clearly its heading or clearly something else.
fn labelled(drawn: &Drawn) -> Vec<Vec<Example>> {
    let truth = &drawn.truth;
    if truth.sheets > 1 {
        // The truth is about one of them.
        return Vec::new();
    }
    let typed = truth.kind == SheetKind::Record;
    let of_candidate = |candidate: Candidate| {
        let corners = truth.strip.0.expect("every sheet has a heading");
        let overlap = candidate.placement.corners().overlap(&corners);
        let inverted = candidate.polarity == Polarity::LightOnDark;
        let is_type = typed && overlap >= HEADING && inverted == truth.inverted;
        // Type in the wrong polarity is no type; a little of the heading is neither.
        if !is_type && typed && (ELSEWHERE..HEADING).contains(&overlap) {
            return None;
        }
        let facing = FACINGS.into_iter().find(|&facing| {
            facing.mirrored == truth.mirrored && candidate.lean(facing).0 == truth.turned
        });
        // A heading that lies across its rows cannot be one.
        let facing = if is_type { facing? } else { FACINGS[0] };
        let patches = candidate
            .lines
            .iter()
            .flat_map(|line| patches(&candidate.strip, line));
        let example = |patch| Example {
            patch: faced(&patch, facing),
            is_type,
        };
        Some(patches.map(example).collect())
    };
    candidates(&drawn.image, MOST_HEADINGS)
        .into_iter()
        .filter_map(of_candidate)
        .collect()
}

/// Prints how often letters and whole headings are told right.
fn report(net: &Net, cut: &[Vec<Example>]) {
    for is_type in [true, false] {
        let (mut letters, mut right_letters, mut headings, mut right_headings) = (0, 0, 0, 0);
        let of_kind =
            |examples: &&Vec<Example>| examples.first().is_some_and(|e| e.is_type == is_type);
        for examples in cut.iter().filter(of_kind) {
            let mut sums = [0.0; 5];
            let right = |scores: &[f32; 5]| {
                let best = (0..5).max_by(|&a, &b| scores[a].total_cmp(&scores[b]));
                best == Some(if is_type { 0 } else { 4 })
            };
            for example in examples {
                let shares = net.shares(&example.patch);
                letters += 1;
                right_letters += usize::from(right(&shares));
                for (sum, share) in sums.iter_mut().zip(shares) {
                    *sum += share.max(-3.0);
                }
            }
            headings += 1;
            right_headings += usize::from(right(&sums));
        }
        println!(
            "{}: pieces right {:.3} of {letters}, candidates right {:.4} of {headings}",
            if is_type { "type" } else { "no type" },
            f64::from(right_letters as u32) / f64::from(letters.max(1)),
            right_headings as f64 / headings.max(1) as f64,
        );
    }
}
