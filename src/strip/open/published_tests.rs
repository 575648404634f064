//! Images of Pillow's test suite, pixel for pixel against what Pillow reads in them (tests/data/published/pillow).

use super::open;
use image::{DynamicImage, imageops};
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

/// Mean difference in grey levels that two JPEG decoders may have: they round differently, and enlarge the halved colour
/// differently.
const JPEG_TOLERANCE: f64 = 0.5;

/// A row of files.csv.
#[derive(serde::Deserialize)]
struct Published {
    file: String,
    /// Pixels; none where Pillow refuses the file.
    width: Option<u32>,
    height: Option<u32>,
    channels: Option<u8>,
    /// SHA-256 of the samples, or the name of a PNG.
    expected: String,
    /// Where the PNG lies on the picture: left and top.
    place: String,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/published/pillow")
}

/// What is wrong with a file, if anything.
fn check(row: &Published) -> Result<(), String> {
    let opened = open(&folder().join(&row.file));
    let (Some(width), Some(height), Some(channels)) = (row.width, row.height, row.channels) else {
        return match opened {
            Ok(_) => Err("was opened".into()),
            Err(_) => Ok(()),
        };
    };
    let image = opened.map_err(|error| error.to_string())?.image;
    let found = (image.width(), image.height(), image.color().channel_count());
    if found != (width, height, channels) {
        return Err(format!("is {found:?}"));
    }
    if !row.expected.ends_with(".png") {
        let hash: String = Sha256::digest(image.as_bytes())
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect();
        return if hash == row.expected {
            Ok(())
        } else {
            Err("has other pixels".into())
        };
    }
    let expected = open(&folder().join(&row.expected))
        .map_err(|error| error.to_string())?
        .image
        .into_rgb8();
    let mut place = row.place.split(' ').map(|number| number.parse::<u32>());
    let (Some(Ok(left)), Some(Ok(top))) = (place.next(), place.next()) else {
        return Err("has no place".into());
    };
    let DynamicImage::ImageRgb8(colour) = &image else {
        return Err("is grey".into());
    };
    let part = imageops::crop_imm(colour, left, top, expected.width(), expected.height());
    let part = part.to_image();
    let differences = part.as_raw().iter().zip(expected.as_raw());
    let sum: u64 = differences
        .map(|(one, other)| u64::from(one.abs_diff(*other)))
        .sum();
    let mean = sum as f64 / expected.as_raw().len() as f64;
    if mean > JPEG_TOLERANCE {
        return Err(format!("differs by {mean:.2} on average"));
    }
    Ok(())
}

#[test]
fn published_images_are_read_as_pillow_reads_them() {
    let rows = csv::Reader::from_path(folder().join("files.csv"));
    let rows: Vec<Published> = rows
        .expect("the table")
        .deserialize()
        .collect::<Result<_, _>>()
        .expect("its rows");
    assert_eq!(rows.len(), 33);
    let wrong: Vec<String> = rows
        .iter()
        .filter_map(|row| Some(format!("{} {}", row.file, check(row).err()?)))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
