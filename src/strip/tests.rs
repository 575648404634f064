//! Whole sheets, drawn plainly: what is found on them, and what is noticed.

use super::cut::{Placement, cut};
use super::{Found, find};
use ab_glyph::{Font, FontRef, PxScale, ScaleFont, point};
use image::{DynamicImage, GrayImage, Luma, Rgb, RgbImage, imageops};

static FACE: &[u8] = include_bytes!("../../demo-data/fonts/LiberationMono.ttf");

/// Types a line; `capital` is the height of its capitals in pixels.
fn typed(image: &mut GrayImage, text: &str, (left, baseline): (f32, f32), capital: f32, ink: u8) {
    let face = FontRef::try_from_slice(FACE).expect("a sound font");
    let scale = PxScale::from(capital * 1.72);
    let pitch = face.as_scaled(scale).h_advance(face.glyph_id('n'));
    for (place, character) in text.chars().enumerate() {
        let at = point(left + pitch * place as f32, baseline);
        let glyph = face.glyph_id(character).with_scale_and_position(scale, at);
        let Some(outline) = face.outline_glyph(glyph) else {
            continue;
        };
        let corner = outline.px_bounds().min;
        outline.draw(|x, y, share| {
            let (x, y) = (
                corner.x as i64 + i64::from(x),
                corner.y as i64 + i64::from(y),
            );
            if let (Ok(x), Ok(y)) = (u32::try_from(x), u32::try_from(y))
                && x < image.width()
                && y < image.height()
            {
                let paper = f32::from(image.get_pixel(x, y).0[0]);
                let value = paper + (f32::from(ink) - paper) * share.min(1.0);
                image.put_pixel(x, y, Luma([value as u8]));
            }
        });
    }
}

const NAME: &str = "ABERNATHY, JOHN Q      123456-7     1952-61";
const PART: &str = "TRANSFERRED FROM PIER 4       2 OF 3";

/// A jacket sheet: bed, paper, one or two typed lines, a rule, five rows of twelve grey pages.
fn sheet(lines: &[&str]) -> GrayImage {
    let mut image = GrayImage::from_fn(1748, 1240, |x, y| {
        let on_sheet = (40..1700).contains(&x) && (30..1210).contains(&y);
        let grain = (x * 7 + y * 13) % 5;
        Luma([if on_sheet {
            222 + grain as u8
        } else {
            30 + grain as u8
        }])
    });
    for (at, line) in lines.iter().enumerate() {
        typed(&mut image, line, (90.0, 95.0 + 50.0 * at as f32), 26.0, 40);
    }
    for x in 60..1680 {
        for y in 190..193 {
            image.put_pixel(x, y, Luma([60]));
        }
    }
    for frame in 0..60u32 {
        let (left, top) = (70 + frame % 12 * 134, 220 + frame / 12 * 196);
        for y in top..top + 180 {
            for x in left..left + 120 {
                image.put_pixel(x, y, Luma([150]));
            }
        }
    }
    image
}

fn codes(found: &Found) -> Vec<&str> {
    found
        .findings
        .iter()
        .map(|finding| finding.code.as_str())
        .collect()
}

#[test]
fn a_strip_is_found_upright_and_dark_on_light_however_the_sheet_lies() {
    let plain = sheet(&[NAME, PART]);
    let mut inverted = plain.clone();
    imageops::invert(&mut inverted);
    let cases: [(&str, GrayImage, u32, bool, bool); 5] = [
        ("plain", plain.clone(), 0, false, false),
        ("turned", imageops::rotate180(&plain), 180, false, false),
        (
            "mirrored",
            imageops::flip_horizontal(&plain),
            0,
            true,
            false,
        ),
        ("both", imageops::flip_vertical(&plain), 180, true, false),
        ("white on black", inverted, 0, false, true),
    ];
    let mut pictures = Vec::new();
    for (name, image, turned, mirrored, inverted) in cases {
        let found = find(&DynamicImage::ImageLuma8(image));
        let strip = found
            .strip
            .unwrap_or_else(|| panic!("{name}: {:?}", found.findings));
        let lay = &strip.lay;
        assert_eq!(
            (lay.turned, lay.mirrored, lay.inverted),
            (turned, mirrored, inverted),
            "{name}"
        );
        assert_eq!(strip.lines.len(), 2, "{name}");
        assert_eq!(
            found.findings.iter().any(|f| f.code == "mirrored"),
            mirrored,
            "{name}"
        );
        assert!(
            lay.facing_margin > super::DOUBTFUL_FACING,
            "{name}: {}",
            lay.facing_margin
        );
        assert!(lay.skew.abs() < 0.1, "{name}: {}", lay.skew);
        // The first corner is where reading starts.
        let first = lay.corners.0[0];
        assert_eq!(
            first.x > 874.0,
            (turned == 180) != mirrored,
            "{name}: {first:?}"
        );
        assert_eq!(first.y > 620.0, turned == 180, "{name}: {first:?}");
        pictures.push((name, strip.image));
    }
    let (width, height) = pictures[0].1.dimensions();
    assert!(
        (40..1400).contains(&width) && (80..125).contains(&height),
        "{width} x {height}"
    );
    for (name, picture) in &pictures {
        let off = (
            picture.width().abs_diff(width),
            picture.height().abs_diff(height),
        );
        assert!(off.0 <= 4 && off.1 <= 4, "{name}: {off:?}");
    }
}

#[test]
fn skew_is_measured_and_undone() {
    for degrees in [-2.5f64, 1.5] {
        let image = sheet(&[NAME]);
        let (width, height) = image.dimensions();
        let centre = crate::value::Point {
            x: f64::from(width) / 2.0,
            y: f64::from(height) / 2.0,
        };
        let leaning = Placement::about(centre, -degrees.to_radians(), width, height);
        let found = find(&DynamicImage::ImageLuma8(cut(&image, leaning, 30)));
        let strip = found.strip.expect("the strip is found");
        assert!(
            (strip.lay.skew - degrees).abs() < 0.12,
            "{degrees}: {}",
            strip.lay.skew
        );
        assert!(
            strip.image.height() < 60,
            "{degrees}: {} high",
            strip.image.height()
        );
    }
}

#[test]
fn an_image_that_is_only_the_strip_works() {
    let mut image = GrayImage::from_pixel(1500, 110, Luma([230]));
    typed(&mut image, NAME, (100.0, 70.0), 28.0, 50);
    for (name, image, turned) in [
        ("upright", image.clone(), 0),
        ("turned", imageops::rotate180(&image), 180),
    ] {
        let found = find(&DynamicImage::ImageLuma8(image));
        assert_eq!(codes(&found), [""; 0], "{name}");
        let strip = found.strip.expect("the strip is found");
        assert_eq!((strip.lay.turned, strip.lines.len()), (turned, 1), "{name}");
    }
}

#[test]
fn what_is_amiss_is_said() {
    let even = GrayImage::from_pixel(900, 600, Luma([120]));
    let mut cut_off = GrayImage::from_pixel(1500, 80, Luma([230]));
    typed(&mut cut_off, NAME, (-9.0, 52.0), 28.0, 50);
    let mut small = GrayImage::from_pixel(900, 600, Luma([20]));
    for y in 20..580 {
        for x in 20..880 {
            small.put_pixel(x, y, Luma([225]));
        }
    }
    typed(&mut small, NAME, (60.0, 60.0), 10.0, 40);
    for (name, image, code, is_found) in [
        ("even", even, "no-strip", false),
        ("blank", sheet(&[]), "blank-strip", false),
        ("cut off", cut_off, "strip-cut-off", true),
        ("small", small, "too-small", true),
    ] {
        let found = find(&DynamicImage::ImageLuma8(image));
        assert!(
            codes(&found).contains(&code),
            "{name}: {:?}",
            found.findings
        );
        assert_eq!(
            found.strip.is_some(),
            is_found,
            "{name}: {:?}",
            found.findings
        );
    }
}

#[test]
fn a_dyed_band_is_reported_and_left_out() {
    let grey = sheet(&[NAME]);
    let dyed = RgbImage::from_fn(grey.width(), grey.height(), |x, y| {
        let value = grey.get_pixel(x, y).0[0];
        let band = (40..1700).contains(&x) && (30..180).contains(&y);
        let share = |full: u32| (full * u32::from(value) / 226) as u8;
        if band {
            Rgb([share(215), share(105), share(95)])
        } else {
            Rgb([value; 3])
        }
    });
    let strip = find(&DynamicImage::ImageRgb8(dyed))
        .strip
        .expect("the strip is found");
    let band = strip.lay.band.expect("the band has a colour");
    for (found, drawn) in band.into_iter().zip([215i32, 105, 95]) {
        assert!((i32::from(found) - drawn).abs() < 12, "{band:?}");
    }
    assert!(
        strip.image.get_pixel(3, 3).0[0] > 225,
        "the band is still on the strip"
    );
}

#[test]
fn pictures_of_any_shape_are_survived() {
    for (width, height) in [
        (1, 1),
        (2, 3),
        (16, 16),
        (3000, 1),
        (1, 3000),
        (2700, 40),
        (33, 900),
        (640, 480),
    ] {
        let mut state = 1u32;
        let grain = GrayImage::from_fn(width, height, |_, _| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            Luma([(state >> 24) as u8])
        });
        let found = find(&DynamicImage::ImageLuma8(grain));
        assert!(
            found.strip.is_none(),
            "{width} x {height}: grain was taken for type"
        );
        assert_eq!(found.findings.len(), 1, "{width} x {height}");
    }
}

/// The heading takes the room of one row of frames (RDA vocabulary for microfiche: "the heading area is the width of
/// one row"), so its height follows from the rows of the format (ISO 9923:1994; the table says what was read where).
#[test]
fn headings_of_every_published_format_are_found() {
    const MILLIMETRE: f64 = 300.0 / 25.4;
    let table = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/data/published/microfiche_formats.csv"
    );
    let mut formats = 0;
    for row in csv::Reader::from_path(table).unwrap().records() {
        let row = row.unwrap();
        let (Ok(rows), Ok(columns)) = (row[1].parse::<u32>(), row[2].parse::<u32>()) else {
            continue;
        };
        let pitch = 105.0 * MILLIMETRE / f64::from(rows + 1);
        let frame = 148.0 * MILLIMETRE / f64::from(columns);
        let capital = (0.38 * pitch).min(30.0);
        let baseline = (pitch / 2.0 + capital / 2.0) as f32;
        let mut image = GrayImage::from_fn(1748, 1240, |x, y| {
            let (across, down) = (f64::from(x) % frame / frame, f64::from(y) % pitch / pitch);
            let in_frame = f64::from(y) > pitch && down > 0.1 && across > 0.06;
            let line = in_frame && y % 5 < 2 && (x * 31 + y / 5 * 17) % 11 > 2;
            Luma([if line {
                120
            } else if in_frame {
                190
            } else {
                222 + (x * 7 + y * 13) as u8 % 5
            }])
        });
        typed(&mut image, NAME, (90.0, baseline), capital as f32, 50);
        let found = find(&DynamicImage::ImageLuma8(image));
        let strip = found
            .strip
            .unwrap_or_else(|| panic!("{rows} rows: {:?}", found.findings));
        let (_, top, _, bottom) = strip.lay.corners.extent();
        assert!(
            top > -8.0 && bottom < pitch + 8.0,
            "{rows} rows: {top} to {bottom}"
        );
        assert!(
            bottom - top > 0.9 * capital,
            "{rows} rows: {top} to {bottom}"
        );
        assert_eq!((strip.lines.len(), strip.lay.turned), (1, 0), "{rows} rows");
        formats += 1;
    }
    assert_eq!(formats, 8, "formats of the table with a grid");
}
