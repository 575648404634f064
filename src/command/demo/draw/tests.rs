//! Checks on whole drawn sheets, and the committed ones.

use super::*;
use crate::command::demo::look::format::{Container, Depth, Packing};
use crate::command::demo::{
    Amendment, Collection, CollectionKind, Noise, Rates, Settings, Trouble, truth,
};
use image::GrayImage;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

/// Where a collection's committed files are.
fn demo_data(kind: CollectionKind) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
    match kind {
        CollectionKind::Personnel => folder,
        CollectionKind::Drawings => folder.join("drawings"),
        CollectionKind::Payroll => folder.join("payroll"),
    }
}

/// After a change to the drawing: `cargo test --lib write_the_committed_sheets -- --ignored`
#[test]
#[ignore = "writes demo-data; run it after a change to the drawing"]
fn write_the_committed_sheets() {
    for kind in CollectionKind::ALL {
        let folder = demo_data(kind);
        let sheets = folder.join("sheets");
        fs::remove_dir_all(&sheets).ok();
        fs::create_dir_all(&sheets).unwrap();
        let collection = Collection::new(Settings::committed(kind));
        let drawn = collection.sheets().map(|plan| {
            let drawn = draw(&plan);
            fs::write(sheets.join(plan.file_name()), drawn.encode().unwrap()).unwrap();
            drawn.truth
        });
        let truths: Vec<Truth> = drawn.collect();
        truth::write(File::create(folder.join("truth.csv")).unwrap(), &truths).unwrap();
        if let Some(roster) = collection.roster().unwrap() {
            fs::write(folder.join("roster.csv"), roster).unwrap();
        }
    }
}

#[test]
fn the_committed_files_are_what_the_generator_gives() {
    for kind in CollectionKind::ALL {
        let folder = demo_data(kind);
        let collection = Collection::new(Settings::committed(kind));
        let roster = fs::read(folder.join("roster.csv")).ok();
        assert!(
            roster == collection.roster().unwrap(),
            "{kind:?}: roster.csv"
        );
        let truths = truth::read(File::open(folder.join("truth.csv")).unwrap()).unwrap();
        assert_eq!(truths.len(), collection.len());
        let fifth = truths.into_iter().zip(collection.sheets()).step_by(5);
        fifth.for_each(|(committed, plan)| check_committed(&folder, committed, &plan));
    }
}

fn check_committed(folder: &Path, committed: Truth, plan: &PlannedSheet) {
    let drawn = draw(plan);
    let expected = drawn.truth.clone();
    for (mine, theirs) in [
        (expected.strip, committed.strip),
        (expected.amended_at, committed.amended_at),
        (expected.heading, committed.heading),
        (expected.line1, committed.line1),
        (expected.line2, committed.line2),
        (expected.line3, committed.line3),
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
        line3,
        ..
    } = expected;
    assert_eq!(
        Truth {
            strip,
            amended_at,
            heading,
            line1,
            line2,
            line3,
            ..committed
        },
        expected
    );
    let file = image::open(folder.join("sheets").join(plan.file_name())).unwrap();
    let again = image::load_from_memory(&drawn.encode().unwrap()).unwrap();
    assert!(
        difference(&file.to_luma8(), &again.to_luma8()) < 0.5,
        "{}",
        plan.file_name()
    );
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
        let image = clearest(&plan.look, &image);
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

/// The channel of a drawn sheet in which its type stands out most.
fn clearest(look: &Look, image: &DynamicImage) -> GrayImage {
    let Some(image) = image.as_rgb8() else {
        return image.to_luma8();
    };
    let tone = look.heading_tone;
    let contrast = |&channel: &usize| (tone.ink[channel] - tone.ground[channel]).abs() as i32;
    let channel = (0..3).max_by_key(contrast).expect("three channels");
    let level = |x, y| image::Luma([image.get_pixel(x, y).0[channel]]);
    GrayImage::from_fn(image.width(), image.height(), level)
}

/// Checks that a first line's box holds its ink and little lies right above it, wherever and however it lies.
fn check_line(plan: &PlannedSheet, case: &str) {
    let Drawn { image, truth, .. } = draw(plan);
    let image = clearest(&plan.look, &image);
    let line = truth.line1.0.expect("a record sheet has a line");
    let within = contrast(&image, line, 0.0..1.0);
    let above = contrast(&image, line, -0.15..-0.07);
    assert!(
        within > 1.5 * above,
        "{case}: {within:.1} within, {above:.1} above"
    );
    let (left, top, right, bottom) = truth.strip.0.unwrap().extent();
    let inside = left >= 0.0
        && top >= 0.0
        && right <= image.width().into()
        && bottom <= image.height().into();
    assert!(inside, "{case}: the strip is not on the image");
}

#[test]
fn line_boxes_hold_the_ink_however_the_sheet_lies() {
    let settings = Settings {
        seed: 13,
        sheets: 32,
        roster_size: 50,
        trouble: Some(Trouble::Curled),
        rates: Rates {
            blank: 0.0,
            ..Rates::default()
        },
        ..Settings::default()
    };
    let collection = Collection::new(settings);
    let mut index = 0;
    for turned in [0, 90, 180, 270] {
        for mirrored in [false, true] {
            for trouble in [
                None,
                Some(Trouble::BottomEdge),
                Some(Trouble::LeftEdge),
                Some(Trouble::RightEdge),
            ] {
                let settings = Settings {
                    trouble,
                    ..*collection.settings()
                };
                let flat = trouble.map(|_| Collection::new(settings).sheet(index));
                let mut plan = flat.unwrap_or_else(|| collection.sheet(index));
                if index.is_multiple_of(2) {
                    plan.look.scan.curl = collection.sheet(index).look.scan.curl;
                }
                plan.look.scan.turned = turned;
                plan.look.scan.mirrored = mirrored;
                plan.look.wear.specks = 0;
                plan.look.wear.scratches = 0;
                let edge = plan.look.edge;
                check_line(
                    &plan,
                    &format!("sheet {index}, turned {turned}, mirrored {mirrored}, {edge} edge"),
                );
                let truth = Truth::planned(&plan);
                assert_eq!(truth.turned, (turned + edge.turn()) % 360);
                index += 1;
            }
        }
    }
}

/// Also where lines are long, headings low, resolutions low.
#[test]
fn type_can_be_read_unless_it_is_meant_to_be_too_small() {
    let settings = Settings {
        seed: 15,
        sheets: 2_000,
        ..Settings::default()
    };
    let mut too_small = 0;
    for plan in Collection::new(settings).sheets() {
        let meant = plan.look.troubles().contains(&Trouble::TooSmall);
        let is = x_height(&plan.look, &plan.lines) < READABLE;
        assert!(plan.lines.is_empty() || is == meant, "{}", plan.file_name());
        too_small += usize::from(is);
    }
    assert!((5..40).contains(&too_small), "{too_small} of 2000");
}

/// What `image` makes of each container is the picture as scanned.
#[test]
fn containers_keep_the_picture() {
    let settings = Settings {
        seed: 16,
        sheets: 1,
        roster_size: 50,
        trouble: Some(Trouble::LowResolution),
        ..Settings::default()
    };
    let plan = Collection::new(settings).sheet(0);
    let packings = [
        Packing::None,
        Packing::Lzw,
        Packing::Deflate,
        Packing::PackBits,
    ];
    for (depth, colour) in [
        (Depth::Bilevel, false),
        (Depth::Eight { levels: 16 }, false),
        (Depth::Eight { levels: 256 }, true),
        (Depth::Palette, false),
        (Depth::Twelve, false),
        (Depth::Sixteen, true),
    ] {
        let mut plan = plan.clone();
        plan.look.format.depth = depth;
        plan.look.colour = colour;
        let mut drawn = draw(&plan);
        // A corner of it is enough.
        drawn.image = drawn.image.crop_imm(0, 0, 301, 203);
        for container in packings
            .map(Container::Tiff)
            .into_iter()
            .chain([Container::Png])
        {
            if depth == Depth::Palette && container != Container::Png {
                continue;
            }
            drawn.format = Format { container, depth };
            let case = format!("{container:?} {depth:?} colour {colour}");
            let read = image::load_from_memory(&drawn.encode().unwrap()).expect(&case);
            let coloured = colour || depth == Depth::Palette;
            assert_eq!(read.color().has_color(), coloured, "{case}");
            let eight = drawn.image.to_luma8();
            if depth == Depth::Twelve {
                let deep = read.to_luma16();
                let most = deep.iter().copied().max().unwrap();
                assert!((2_000..4_096).contains(&most), "{case}: {most}");
                let mut pairs = deep.iter().zip(eight.iter());
                assert!(pairs.all(|(&d, &e)| d >> 4 == u16::from(e)), "{case}");
            } else {
                assert!(read.to_luma8() == eight, "{case}");
            }
        }
    }
}

/// Draws each kind of trouble by itself: the sheet has it and no other, its strip is where the truth says.
#[test]
fn each_trouble_comes_by_itself() {
    for trouble in Trouble::ALL {
        let settings = Settings {
            seed: 14,
            sheets: 12,
            roster_size: 50,
            trouble: Some(trouble),
            ..Settings::default()
        };
        let collection = Collection::new(settings);
        for plan in collection.sheets() {
            assert_eq!(plan.look.troubles(), [trouble], "{}", plan.file_name());
            assert_eq!(plan.noise, Noise::Default);
        }
        assert_eq!(trouble.to_string().parse(), Ok(trouble));
        let plan = collection.sheet(3);
        let Drawn { image, truth, .. } = draw(&plan);
        let (left, top, right, bottom) = truth.strip.0.unwrap().extent();
        let slack = if truth.cut_off { 40.0 } else { 0.0 };
        assert!(left >= -slack && top >= -slack, "{trouble}");
        assert!(right <= f64::from(image.width()) + slack, "{trouble}");
        assert!(bottom <= f64::from(image.height()) + slack, "{trouble}");
        assert_eq!(truth.cut_off, trouble == Trouble::CutOff);
        assert_eq!(truth.too_small, trouble == Trouble::TooSmall);
        assert_eq!(truth.sheets == 2, trouble == Trouble::TwoSheets);
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

/// Processor time of this thread so far in milliseconds, which other programs on the machine do not lengthen.
fn processor_milliseconds() -> f64 {
    let text = fs::read_to_string("/proc/thread-self/schedstat").expect("Linux keeps this file");
    let first = text
        .split(' ')
        .next()
        .and_then(|number| number.parse().ok());
    first.map_or(f64::NAN, |nanoseconds: f64| nanoseconds / 1e6)
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
        let start = processor_milliseconds();
        let drawn: Vec<Drawn> = collection.sheets().map(|plan| draw(&plan)).collect();
        let drawing = (processor_milliseconds() - start) / 100.0;
        let start = processor_milliseconds();
        let bytes: usize = drawn
            .iter()
            .map(|drawn| drawn.encode().unwrap().len())
            .sum();
        let encoding = (processor_milliseconds() - start) / 100.0;
        let pixels: u32 = drawn
            .iter()
            .map(|drawn| drawn.image.width() * drawn.image.height())
            .sum();
        println!(
            "{noise:?}: {:.1} ms to draw, {:.1} ms to encode, {:.2} megapixels, {:.0} kB a sheet",
            drawing,
            encoding,
            f64::from(pixels) / 1e8,
            bytes as f64 / 1e5
        );
    }
}
