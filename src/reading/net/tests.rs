use super::*;
use crate::reading::{LatticeScorer, LineScorer};
use ab_glyph::{Font, FontRef, Glyph, PxScale, point};
use image::Luma;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

fn read(picture: &GrayImage) -> Line {
    NetReader::start().unwrap().read_line(picture).unwrap()
}

/// A line set in a plain face, with margins.
fn set(text: &str) -> GrayImage {
    let font = include_bytes!("../../../demo-data/fonts/LiberationMono.ttf");
    let font = FontRef::try_from_slice(font).unwrap();
    let width = 30 + (ADVANCE * text.chars().count() as f32) as u32;
    let mut picture = GrayImage::from_pixel(width, 40, Luma([235]));
    for (at, c) in text.chars().enumerate() {
        let glyph = Glyph {
            id: font.glyph_id(c),
            scale: PxScale::from(32.0),
            position: point(15.0 + ADVANCE * at as f32, 29.0),
        };
        let Some(outline) = font.outline_glyph(glyph) else {
            continue;
        };
        let corner = outline.px_bounds().min;
        outline.draw(|x, y, cover| {
            let (x, y) = (x + corner.x as u32, y + corner.y as u32);
            if x < width && y < 40 {
                picture.put_pixel(x, y, Luma([(235.0 - 195.0 * cover) as u8]));
            }
        });
    }
    picture
}

/// From one character to the next, in pixels.
const ADVANCE: f32 = 17.0;

#[test]
fn reads_what_is_set() {
    for text in [
        "DALTON, OWEN J   104210-1",
        "1910 - 1924  2 OF 3",
        "Ref. 77/4b (Müller & Søn)",
        "AABBCC 1100 00",
    ] {
        let line = read(&set(text));
        let expected = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(line.text(), expected);
        for pair in line.positions.windows(2) {
            assert!(pair[0].bounds.left <= pair[1].bounds.left);
            assert!(pair[1].bounds.right <= line.bounds.right);
        }
    }
}

#[test]
fn boxes_lie_on_their_characters() {
    let line = read(&set("HOUSE 47"));
    for (at, position) in line.positions.iter().enumerate() {
        let middle = (position.bounds.left + position.bounds.right) / 2;
        let advance = f64::from(ADVANCE);
        let expected = 15.0 + (at as f64 + 0.5) * advance;
        assert!(
            (f64::from(middle) - expected).abs() < 0.5 * advance,
            "{}: {middle}, expected {expected}",
            position.best()
        );
    }
}

#[test]
fn what_was_set_scores_above_what_was_not() {
    let line = read(&set("DALTON, OWEN J  104210-1"));
    let score = |text: &str| CtcScorer.log_likelihood(&line, text);
    let right = score("DALTON, OWEN J 104210-1");
    for wrong in [
        "DALTON, OWEN J 104210-7",
        "DALTON, OWEN 104210-1",
        "MORRIS",
        "",
    ] {
        assert!(right > score(wrong) + 1.0, "{wrong}");
    }
    assert_eq!(right, score("DALTON,  OWEN J    104210-1"));
    assert!(score("ДALTON").is_finite());
    let stored = serde_json::to_string(&line).unwrap();
    assert_eq!(serde_json::from_str::<Line>(&stored).unwrap(), line);
    // A line of another reader, or of an earlier version, is scored by its lattice.
    let old = Line::certain("DALTON", 0.9);
    assert_eq!(
        CtcScorer.log_likelihood(&old, "DALTON"),
        LatticeScorer.log_likelihood(&old, "DALTON")
    );
}

#[test]
fn alphabet_and_net_agree() {
    let picture = GrayImage::from_pixel(80, 40, Luma([255]));
    let logits = NetReader::start()
        .unwrap()
        .model
        .run(&prepare::prepare(&picture))
        .unwrap();
    assert_eq!(logits.values.len(), logits.columns * alphabet::classes());
}

#[test]
fn pictures_without_type_are_not_read_with_any_certainty() {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    for (width, height) in [
        (0, 0),
        (0, 40),
        (1, 1),
        (1, 40),
        (3, 200),
        (20_000, 12),
        (600, 40),
    ] {
        let noise = GrayImage::from_fn(width, height, |_, _| Luma([random.random::<u8>()]));
        for picture in [
            GrayImage::from_pixel(width, height, Luma([0])),
            GrayImage::from_pixel(width, height, Luma([255])),
            noise,
        ] {
            let line = read(&picture);
            let certain = line
                .positions
                .iter()
                .filter(|position| !position.best().trim().is_empty())
                .filter(|position| position.alternatives[0].probability.get() > 0.8)
                .count();
            assert_eq!(certain, 0, "{width} x {height}: {:?}", line.text());
        }
    }
}
