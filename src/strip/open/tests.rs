//! What opens, what is refused, and in which words.

use super::*;
use image::{GrayImage, ImageBuffer, Luma, Rgb, RgbImage};
use std::path::PathBuf;

fn encoded(image: impl Into<DynamicImage>, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    image
        .into()
        .write_to(&mut bytes, format)
        .expect("the test image can be encoded");
    bytes.into_inner()
}

fn sheet() -> GrayImage {
    GrayImage::from_fn(64, 48, |x, y| Luma([(x * 3 + y) as u8]))
}

fn kept(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data/strip")
        .join(name)
}

#[test]
fn every_kind_of_picture_comes_down_to_eight_bits() {
    let deep = ImageBuffer::from_fn(64, 48, |x, _| Luma([(x * 1000) as u16]));
    let twelve = ImageBuffer::from_fn(64, 48, |x, _| Luma([(x * 64) as u16]));
    let colour = RgbImage::from_fn(64, 48, |x, _| Rgb([x as u8, 90, 200]));
    let grey_colour = RgbImage::from_fn(64, 48, |x, _| Rgb([x as u8 * 2; 3]));
    for (name, bytes, is_grey, at_ten) in [
        ("grey PNG", encoded(sheet(), ImageFormat::Png), true, 30),
        ("grey TIFF", encoded(sheet(), ImageFormat::Tiff), true, 30),
        (
            "16-bit PNG",
            encoded(deep.clone(), ImageFormat::Png),
            true,
            39,
        ),
        ("16-bit TIFF", encoded(deep, ImageFormat::Tiff), true, 39),
        ("12 bits in 16", encoded(twelve, ImageFormat::Png), true, 40),
        // Only the red channel shows anything.
        ("colour PNG", encoded(colour, ImageFormat::Png), false, 10),
        (
            "grey as colour",
            encoded(grey_colour, ImageFormat::Png),
            true,
            20,
        ),
    ] {
        let opened = decode(&bytes).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert_eq!(
            matches!(opened.image, DynamicImage::ImageLuma8(_)),
            is_grey,
            "{name}"
        );
        assert_eq!(
            crate::strip::grey::grey(&opened.image).get_pixel(10, 0).0[0],
            at_ten,
            "{name}"
        );
    }
}

/// A row of tests/data/strip/files.csv.
#[derive(serde::Deserialize)]
struct Kept {
    file: String,
    what: String,
    /// The picture it shows, or `refused`.
    picture: String,
    /// Mean difference in grey levels that lossy coding may leave.
    tolerance: f64,
}

/// The pictures that tests/data/strip/make.py draws; its formulas.
fn drawn(name: &str) -> DynamicImage {
    let is_box = |x: u32, y: u32| (8..20).contains(&x) && (6..14).contains(&y);
    let grey = |x, y| {
        if is_box(x, y) {
            10
        } else {
            (40 + 3 * x + y) as u8
        }
    };
    let colour = |x, y| [grey(x, y), (255 - 2 * x) as u8, (5 * y) as u8];
    let bilevel = |x, y| {
        if is_box(x, y) || (7 * x + y * y) % 11 < 4 {
            0
        } else {
            255
        }
    };
    let palette = |index: u8| [index, 255 - index, (u32::from(index) * 7 % 256) as u8];
    let on_white = |x: u32, value: u8| {
        let alpha = if x < 30 { 255 } else { 128 };
        ((u32::from(value) * alpha + 255 * (255 - alpha) + 127) / 255) as u8
    };
    let inks = |x: u32, y: u32| {
        let light = 255 - 2 * y;
        [u32::from(grey(x, y)), 255 - 2 * x, 5 * y].map(|share| ((share * light + 127) / 255) as u8)
    };
    let greys = |of: &dyn Fn(u32, u32) -> u8| {
        DynamicImage::ImageLuma8(GrayImage::from_fn(53, 37, |x, y| Luma([of(x, y)])))
    };
    let colours = |of: &dyn Fn(u32, u32) -> [u8; 3]| {
        DynamicImage::ImageRgb8(RgbImage::from_fn(53, 37, |x, y| Rgb(of(x, y))))
    };
    match name {
        "grey" => greys(&grey),
        "grey-2" => greys(&|x, y| grey(x, y) / 64 * 85),
        "grey-4" => greys(&|x, y| grey(x, y) / 16 * 17),
        "grey-alpha" => greys(&|x, y| on_white(x, grey(x, y))),
        "bilevel" => greys(&bilevel),
        "wide" => GrayImage::from_fn(2700, 24, |x, y| {
            Luma([if (x + 100 * y) % 2690 < 17 { 0 } else { 255 }])
        })
        .into(),
        "colour" => colours(&colour),
        "colour-turned" => colours(&|x, y| colour(52 - x, 36 - y)),
        "colour-4" => colours(&|x, y| colour(x, y).map(|value| value / 16 * 17)),
        "colour-alpha" => colours(&|x, y| colour(x, y).map(|value| on_white(x, value))),
        "cmyk" => colours(&inks),
        "palette-1" => colours(&|x, y| palette(bilevel(x, y) / 255)),
        "palette-4" => colours(&|x, y| palette(grey(x, y) / 16)),
        "palette-8" => colours(&|x, y| palette(grey(x, y))),
        other => panic!("no picture is called {other}"),
    }
}

/// Mean and largest difference between two pictures' samples; `None` where size or kind differ.
fn difference(one: &DynamicImage, other: &DynamicImage) -> Option<(f64, u8)> {
    if one.color() != other.color()
        || (one.width(), one.height()) != (other.width(), other.height())
    {
        return None;
    }
    let pairs = one.as_bytes().iter().zip(other.as_bytes());
    let differences: Vec<u8> = pairs.map(|(a, b)| a.abs_diff(*b)).collect();
    let sum: u64 = differences.iter().map(|d| u64::from(*d)).sum();
    let largest = differences.iter().max().copied().unwrap_or(0);
    Some((sum as f64 / differences.len() as f64, largest))
}

fn kept_files() -> Vec<Kept> {
    let rows = csv::Reader::from_path(kept("files.csv")).expect("the list of files");
    rows.into_deserialize()
        .map(|row| row.expect("a row"))
        .collect()
}

#[test]
fn files_that_end_early_are_refused_as_such() {
    let mut wrong = Vec::new();
    // Of several pages or pictures only the first is read: where it is whole, nobody misses the others.
    let is_one = |row: &&Kept| !row.file.contains("pages") && !row.file.contains("two-pictures");
    for row in kept_files()
        .iter()
        .filter(|row| row.picture != "refused")
        .filter(is_one)
    {
        let bytes = std::fs::read(kept(&row.file)).expect("a file");
        for share in [0.1, 0.4, 0.7, 0.9] {
            let cut = &bytes[..(bytes.len() as f64 * share) as usize];
            match decode(cut) {
                Err(OpenError::Truncated { .. }) => {}
                Err(error) => wrong.push(format!("{} {share}: {error}", row.file)),
                Ok(_) => wrong.push(format!("{} {share} was opened", row.file)),
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_kind_of_file_shows_its_picture_or_is_refused() {
    let mut table = String::new();
    let mut wrong = Vec::new();
    for row in kept_files() {
        let Kept {
            file,
            what,
            picture,
            tolerance,
        } = row;
        let outcome = match open(&kept(&file)) {
            Ok(opened) => {
                let via = match opened.via {
                    Via::Image => "image",
                    Via::Leptonica => "leptonica",
                };
                if picture == "refused" {
                    wrong.push(format!("{file} was opened"));
                } else {
                    match difference(&opened.image, &drawn(&picture)) {
                        None => wrong.push(format!(
                            "{file} is {:?} {}x{}",
                            opened.image.color(),
                            opened.image.width(),
                            opened.image.height()
                        )),
                        Some((mean, largest))
                            if mean > tolerance || (tolerance == 0.0 && largest > 0) =>
                        {
                            wrong
                                .push(format!("{file} differs: mean {mean:.2}, largest {largest}"));
                        }
                        _ => {}
                    }
                }
                let codes: Vec<&str> = opened
                    .findings
                    .iter()
                    .map(|finding| finding.code.as_str())
                    .collect();
                format!("{via} {}", codes.join(" "))
            }
            Err(error) => {
                let said = error.to_string();
                let is_left_out = !cfg!(feature = "leptonica")
                    && said.contains("built without the leptonica library");
                if picture != "refused" && !is_left_out {
                    wrong.push(format!("{file}: {said}"));
                }
                said
            }
        };
        table.push_str(&format!("{what:<60} {}\n", outcome.trim_end()));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    if cfg!(feature = "leptonica") {
        insta::assert_snapshot!(table);
    }
}

#[test]
fn what_is_no_sheet_is_refused_in_words() {
    let png = encoded(sheet(), ImageFormat::Png);
    let tiff = encoded(sheet(), ImageFormat::Tiff);
    let jpeg = encoded(sheet(), ImageFormat::Jpeg);
    let mut bomb = png.clone();
    // Width and height of the PNG header chunk, and its checksum (ISO/IEC 15948 11.2.2).
    bomb[16..24].copy_from_slice(&[0, 1, 0x86, 0xa0, 0, 1, 0x86, 0xa0]);
    bomb[29..33].copy_from_slice(&[0x8d, 0x39, 0x54, 0x14]);
    let line = GrayImage::new(64, 4);
    for (name, bytes, words) in [
        ("empty", &[][..], "empty file"),
        ("text", b"Dear Sir, the sheet is lost", "found text"),
        ("PDF", b"%PDF-1.7 \x00\xff", "found a PDF document"),
        ("noise", &[0x9c; 40], "found something else"),
        ("bomb", &bomb, "100000 x 100000"),
        ("too small", &encoded(line, ImageFormat::Png), "64 x 4"),
        ("truncated PNG", &png[..png.len() / 2], "ends early"),
        ("truncated TIFF", &tiff[..tiff.len() / 2], "TIFF"),
        (
            "truncated JPEG",
            &jpeg[..jpeg.len() - 40],
            "whole JPEG image, found one that ends early",
        ),
        (
            "broken PNG",
            &[&png[..60], &[7; 30], &png[90..]].concat(),
            "PNG",
        ),
    ] {
        let error = decode(bytes)
            .err()
            .unwrap_or_else(|| panic!("{name} was opened"));
        let said = error.to_string();
        assert!(said.contains(words), "{name}: {said}");
        assert!(
            said.contains("; "),
            "{name} does not say what to do: {said}"
        );
    }
}

#[test]
fn files_are_judged_by_what_they_hold() {
    let folder = tempfile::tempdir().expect("a folder can be made");
    let path = folder.path().join("sheet.tif");
    std::fs::write(&path, encoded(sheet(), ImageFormat::Png)).expect("the file can be written");
    let opened = open(&path).expect("a PNG under a wrong name opens");
    assert_eq!(opened.findings[0].code, "other-format");
    assert!(
        opened.findings[0]
            .message
            .contains("\".tif\", the file holds a PNG")
    );
    let said = open(folder.path())
        .expect_err("a folder is no image")
        .to_string();
    assert!(said.contains("a folder"), "{said}");
    let said = open(&folder.path().join("none.png"))
        .expect_err("there is none")
        .to_string();
    assert!(said.contains("cannot read"), "{said}");
    let said = open(Path::new("/dev/null"))
        .expect_err("a device is no image")
        .to_string();
    assert!(said.contains("a device"), "{said}");
}
