//! Checks on whole drawn sheets, and the committed ones.

use super::*;
use crate::command::demo::{Amendment, Collection, Noise, Person, Settings, truth};
use image::GrayImage;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

fn demo_data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data")
}

/// After a change to the drawing: `cargo test --lib write_the_committed_sheets -- --ignored`
#[test]
#[ignore = "writes demo-data; run it after a change to the drawing"]
fn write_the_committed_sheets() {
    let folder = demo_data().join("sheets");
    fs::remove_dir_all(&folder).ok();
    fs::create_dir_all(&folder).unwrap();
    let collection = Collection::new(Settings::committed());
    let truths = collection.sheets().map(|plan| {
        let drawn = draw(&plan);
        fs::write(folder.join(plan.file_name()), drawn.encode().unwrap()).unwrap();
        drawn.truth
    });
    truth::write_csv(File::create(demo_data().join("truth.csv")).unwrap(), truths).unwrap();
    truth::write_csv(
        File::create(demo_data().join("roster.csv")).unwrap(),
        collection.roster(),
    )
    .unwrap();
}

#[test]
fn the_committed_files_are_what_the_generator_gives() {
    let collection = Collection::new(Settings::committed());
    let roster: Vec<Person> =
        truth::read_csv(File::open(demo_data().join("roster.csv")).unwrap()).unwrap();
    assert_eq!(roster, collection.roster());

    let truths: Vec<Truth> =
        truth::read_csv(File::open(demo_data().join("truth.csv")).unwrap()).unwrap();
    assert_eq!(truths.len(), collection.len());
    for (committed, plan) in truths.into_iter().zip(collection.sheets()).step_by(5) {
        let drawn = draw(&plan);
        let expected = drawn.truth.clone();
        for (mine, theirs) in [
            (expected.strip, committed.strip),
            (expected.amended_at, committed.amended_at),
            (expected.heading, committed.heading),
            (expected.line1, committed.line1),
            (expected.line2, committed.line2),
        ] {
            // Written to a tenth of a pixel.
            assert!(
                farthest(mine, theirs) < 0.1,
                "{}: {mine:?} but {theirs:?}",
                plan.file_name()
            );
        }
        let Truth {
            strip,
            amended_at,
            heading,
            line1,
            line2,
            ..
        } = expected;
        assert_eq!(
            Truth {
                strip,
                amended_at,
                heading,
                line1,
                line2,
                ..committed
            },
            expected
        );

        let file = image::open(demo_data().join("sheets").join(plan.file_name())).unwrap();
        let again = image::load_from_memory(&drawn.encode().unwrap()).unwrap();
        assert!(
            difference(&file.to_luma8(), &again.to_luma8()) < 0.5,
            "{}",
            plan.file_name()
        );
    }
}

/// Largest distance between two corners in pixels; infinite where only one is there.
fn farthest(a: Corners, b: Corners) -> f64 {
    match (a.0, b.0) {
        (Some(a), Some(b)) => {
            a.0.iter()
                .zip(b.0)
                .map(|(a, b)| (a.x - b.x).hypot(a.y - b.y))
                .fold(0.0, f64::max)
        }
        (None, None) => 0.0,
        _ => f64::INFINITY,
    }
}

/// Mean absolute difference in grey levels.
fn difference(a: &GrayImage, b: &GrayImage) -> f64 {
    assert_eq!(a.dimensions(), b.dimensions());
    let sum: u64 = a
        .iter()
        .zip(b.iter())
        .map(|(&a, &b)| u64::from(a.abs_diff(b)))
        .sum();
    sum as f64 / a.len() as f64
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    let settings = Settings {
        seed: 11,
        sheets: 3,
        ..Settings::default()
    };
    let bytes = || draw(&Collection::new(settings).sheet(2)).encode().unwrap();
    assert_eq!(bytes(), bytes());
}

/// An amendment changes the heading, and nothing but it; the text stays that of the plan.
#[test]
fn amendments_change_the_heading_alone() {
    let settings = Settings {
        seed: 13,
        sheets: 4,
        heavy_share: 0.0,
        ..Settings::default()
    };
    for (index, kind) in Amendment::ALL.into_iter().enumerate() {
        let mut plan = Collection::new(settings).sheet(index % 4);
        plan.look.amendment = None;
        let plain = draw(&plan);
        plan.look.amendment = Some(kind);
        let changed = draw(&plan);
        assert_eq!(changed.truth.amended, kind.to_string());
        assert_eq!(changed.truth.text, plain.truth.text);
        let (plain, changed) = (plain.image.to_luma8(), changed.image.to_luma8());
        assert_eq!(plain.dimensions(), changed.dimensions(), "{kind}");
        let differs = |a: &GrayImage, b: &GrayImage| {
            a.iter()
                .zip(b.iter())
                .filter(|(a, b)| a.abs_diff(**b) > 40)
                .count()
        };
        let share = differs(&plain, &changed) as f64 / plain.len() as f64;
        assert!((1e-4..0.05).contains(&share), "{kind}: {share}");
    }
}

/// The truth's boxes are where the ink is: much contrast within a typed line's box, little right above and below it.
#[test]
fn line_boxes_hold_the_ink_and_stay_inside_the_image() {
    let settings = Settings {
        seed: 12,
        sheets: 30,
        heavy_share: 0.0,
        ..Settings::default()
    };
    for mut plan in Collection::new(settings).sheets() {
        plan.look.wear.marks = 0;
        plan.look.wear.specks = 0;
        let Drawn { image, truth, .. } = draw(&plan);
        let image = image.to_luma8();
        let (left, top, right, bottom) = truth.strip.0.unwrap().extent();
        assert!(left >= 0.0 && top >= 0.0, "{}", truth.sheet);
        assert!(
            right <= image.width().into() && bottom <= image.height().into(),
            "{}",
            truth.sheet
        );
        let Some(line) = truth.line1.0 else { continue };
        let within = contrast(&image, line, 0.0..1.0);
        // The box's height is a cap height or more: a seventh of it lies within the strip's margin.
        let above = contrast(&image, line, -0.15..-0.07);
        assert!(
            within > 1.5 * above,
            "{}: {within:.1} within, {above:.1} above",
            truth.sheet
        );
    }
}

/// Standard deviation of the grey levels in a box, `down` from its top (0) to its bottom (1).
fn contrast(image: &GrayImage, quad: crate::value::Quad, down: std::ops::Range<f64>) -> f64 {
    let [a, b, _, d] = quad.0;
    let (mut sum, mut squares, mut count) = (0.0, 0.0, 0.0);
    for row in 0..20 {
        let v = down.start + (down.end - down.start) * f64::from(row) / 20.0;
        for column in 0..600 {
            let u = f64::from(column) / 600.0;
            let x = a.x + (b.x - a.x) * u + (d.x - a.x) * v;
            let y = a.y + (b.y - a.y) * u + (d.y - a.y) * v;
            if let Some(pixel) = image.get_pixel_checked(x as u32, y as u32) {
                let level = f64::from(pixel.0[0]);
                sum += level;
                squares += level * level;
                count += 1.0;
            }
        }
    }
    (squares / count - (sum / count).powi(2)).max(0.0).sqrt()
}

/// How long drawing takes: `cargo test --lib time_the_drawing -- --ignored --nocapture`
#[test]
#[ignore = "prints a figure"]
fn time_the_drawing() {
    for (noise, heavy_share) in [(Noise::Default, 0.0), (Noise::Heavy, 1.0)] {
        let collection = Collection::new(Settings {
            sheets: 100,
            heavy_share,
            ..Settings::default()
        });
        draw(&collection.sheet(0));
        let start = std::time::Instant::now();
        let drawn: Vec<Drawn> = collection.sheets().map(|plan| draw(&plan)).collect();
        let drawing = start.elapsed().as_secs_f64() / 100.0;
        let start = std::time::Instant::now();
        let bytes: usize = drawn
            .iter()
            .map(|drawn| drawn.encode().unwrap().len())
            .sum();
        let encoding = start.elapsed().as_secs_f64() / 100.0;
        let pixels: u32 = drawn
            .iter()
            .map(|drawn| drawn.image.width() * drawn.image.height())
            .sum();
        println!(
            "{noise:?}: {:.1} ms to draw, {:.1} ms to encode, {:.2} megapixels, {:.0} kB a sheet",
            drawing * 1e3,
            encoding * 1e3,
            f64::from(pixels) / 1e8,
            bytes as f64 / 1e5
        );
    }
}
