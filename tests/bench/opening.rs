//! Opening the largest images that are allowed, and ordinary sheets: memory of a worker, and milliseconds.
//!
//! `cargo bench --profile dev --bench opening`

#[allow(dead_code)]
#[path = "../fuzz/craft.rs"]
mod craft;
#[allow(dead_code)]
#[path = "../fuzz/drive.rs"]
mod drive;
#[allow(dead_code)]
#[path = "../fuzz/mutate.rs"]
mod mutate;

use craft::{one_strip, tiff};
use image::ImageFormat::{Jpeg, Png, Tiff};
use image::{DynamicImage, GrayImage, ImageFormat, Luma, Rgb, RgbImage};
use std::io::Cursor;
use std::path::Path;

/// Times that an ordinary sheet is opened.
const TIMES: usize = 10;

fn grey(width: u32, height: u32) -> GrayImage {
    GrayImage::from_fn(width, height, |x, y| {
        Luma([((x / 37 + y / 53) % 7 * 30 + 20) as u8])
    })
}

fn colour(width: u32, height: u32) -> DynamicImage {
    let colour = |x, y| Rgb([(x / 37 % 200) as u8, (y / 53 % 200) as u8, 90]);
    RgbImage::from_fn(width, height, colour).into()
}

fn encoded(image: &DynamicImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let done = image.write_to(&mut bytes, format);
    done.expect("it can be encoded");
    bytes.into_inner()
}

/// A picture in one strip of made data: so many bits, compression, photometric interpretation.
fn strip(size: (u32, u32), bits: u32, compression: u32, photometric: u32, data: &[u8]) -> Vec<u8> {
    let tags = [(258, 3, 1, bits), (262, 3, 1, photometric)];
    let entries = one_strip(size, compression, data.len() as u32, &tags);
    tiff(data, &entries, 0)
}

fn main() {
    let folder = tempfile::tempdir().expect("a folder for the files");
    let measure = |name: &str, bytes: Vec<u8>, times: usize| {
        let path = folder.path().join("sheet");
        std::fs::write(&path, &bytes).expect("the file can be written");
        let plan = drive::Plan {
            seed: 0,
            files: times,
            workers: 1,
            keep: None,
        };
        let program = Path::new(env!("CARGO_BIN_EXE_headword"));
        let files = (0..times).map(|_| path.clone());
        let tally = drive::drive(files, &plan, program, |_| {});
        assert!(tally.is_clean() && tally.opened == times, "{name}\n{tally}");
        let took = |step| tally.slowest.get(step).copied().unwrap_or(0.0);
        println!(
            "{name:<44} {:>5} MB   open {:>6.1} ms   find {:>6.1} ms",
            tally.peak / 1_000_000,
            took("open"),
            took("find")
        );
    };
    println!("An ordinary sheet, 1,748 x 1,240 pixels, the slowest of {TIMES}:");
    let sheet = DynamicImage::from(grey(1748, 1240));
    for (name, format) in [("grey PNG", Png), ("grey JPEG", Jpeg), ("grey TIFF", Tiff)] {
        measure(name, encoded(&sheet, format), TIMES);
    }
    // A white page: one bit of 1 a row.
    let group_4 = |size: (u32, u32)| strip(size, 1, 4, 0, &vec![0xff; size.1.div_ceil(8) as usize]);
    measure("Group 4 TIFF, white", group_4((1748, 1240)), TIMES);
    println!("The largest, 12,000 x 10,000 pixels unless it says otherwise:");
    const SIZE: (u32, u32) = (12_000, 10_000);
    {
        let large = DynamicImage::from(grey(SIZE.0, SIZE.1));
        for (name, format) in [("grey PNG", Png), ("grey JPEG", Jpeg), ("grey TIFF", Tiff)] {
            measure(name, encoded(&large, format), 1);
        }
        let deep = DynamicImage::from(large.into_luma16());
        measure("16-bit grey PNG", encoded(&deep, Png), 1);
        measure("16-bit grey TIFF", encoded(&deep, Tiff), 1);
    }
    {
        let large = colour(SIZE.0, SIZE.1);
        measure("RGB PNG", encoded(&large, Png), 1);
        measure("RGB JPEG", encoded(&large, Jpeg), 1);
    }
    measure(
        "RGB TIFF, 9,100 x 9,100",
        encoded(&colour(9_100, 9_100), Tiff),
        1,
    );
    let pixels = (SIZE.0 * SIZE.1) as usize;
    let packed = strip(SIZE, 12, 1, 1, &vec![0x5a; pixels * 3 / 2]);
    measure("12 bits packed, TIFF", packed, 1);
    measure(
        "4-bit grey TIFF",
        strip(SIZE, 4, 1, 1, &vec![0x5a; pixels / 2]),
        1,
    );
    measure("Group 4 TIFF, 20,000 x 6,000", group_4((20_000, 6_000)), 1);
}
