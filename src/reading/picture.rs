//! A strip's picture on its way from a worker to a desk.

use crate::strip::grey::{grey, reduce, reduce_by};
use crate::strip::{self, Lay, Strip};
use image::GrayImage;
use serde::{Deserialize, Serialize};
use std::fmt::Write;
use std::path::Path;

/// What there is to show of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct StripPicture {
    pub image: GrayImage,
    /// The strip; otherwise none was found and this is the whole sheet, made smaller.
    pub is_strip: bool,
    /// Pixels of the strip, in which a reading's boxes are given, that a pixel of this picture is wide.
    pub factor: u32,
}

/// Most pixels of a picture that is handed over; three times a strip of 90 characters at 300 dpi.
const MOST_PIXELS: u64 = 4_000_000;

/// A picture as JSON can carry it.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct PackedPicture {
    width: u32,
    is_strip: bool,
    factor: u32,
    /// Two hexadecimal digits a pixel.
    pixels: String,
}

/// Opens a sheet and cuts its strip out as it was when it was read, its kept lay telling which way round.
pub(super) fn picture_of(path: &Path, lay: Option<&Lay>) -> Result<PackedPicture, String> {
    let opened = strip::open(path).map_err(|fault| fault.to_string())?;
    let found = strip::find(&opened.image).strip;
    let (image, is_strip) = match found {
        Some(strip) => (as_kept(strip, lay).image, true),
        None => (reduce(&grey(&opened.image)).image, false),
    };
    let pixels = u64::from(image.width()) * u64::from(image.height());
    let mut factor = 1;
    while pixels / (factor * factor) > MOST_PIXELS {
        factor += 1;
    }
    let reduced = reduce_by(&image, factor as u32);
    Ok(PackedPicture::new(&reduced.image, is_strip, reduced.factor))
}

/// The strip facing as it was kept: where its letters hardly told, the reading decided.
fn as_kept(strip: Strip, lay: Option<&Lay>) -> Strip {
    let Some(kept) = lay else { return strip };
    let turned = (kept.turned + 360 - strip.lay.turned) % 360 == 180;
    let mirrored = kept.mirrored != strip.lay.mirrored;
    match turned || mirrored {
        true => strip.faced(turned, mirrored),
        false => strip,
    }
}

impl PackedPicture {
    fn new(image: &GrayImage, is_strip: bool, factor: u32) -> Self {
        let mut pixels = String::with_capacity(2 * image.as_raw().len());
        for value in image.as_raw() {
            let _ = write!(pixels, "{value:02x}");
        }
        Self {
            width: image.width(),
            is_strip,
            factor,
            pixels,
        }
    }

    /// The picture; none where the worker sent no whole one.
    pub(super) fn unpack(&self) -> Option<StripPicture> {
        let digits = self.pixels.as_bytes().chunks_exact(2);
        let value = |pair: &[u8]| {
            let digit = |at: usize| char::from(pair[at]).to_digit(16);
            Some((digit(0)? * 16 + digit(1)?) as u8)
        };
        let pixels: Vec<u8> = digits.map(value).collect::<Option<_>>()?;
        let height = (pixels.len() as u32).checked_div(self.width)?;
        let image = GrayImage::from_vec(self.width, height, pixels)?;
        Some(StripPicture {
            image,
            is_strip: self.is_strip,
            factor: self.factor.max(1),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    #[test]
    fn a_picture_survives_the_way() {
        let image = GrayImage::from_fn(37, 11, |x, y| Luma([(x * 7 + y * 23) as u8]));
        let packed = PackedPicture::new(&image, true, 2);
        let json = serde_json::to_string(&packed).expect("it is JSON");
        let back: PackedPicture = serde_json::from_str(&json).expect("it is a picture");
        let expected = StripPicture {
            image,
            is_strip: true,
            factor: 2,
        };
        assert_eq!(back.unpack(), Some(expected));
    }

    #[test]
    fn nonsense_is_no_picture() {
        for (width, pixels) in [(0, "00"), (3, "zz0000"), (3, "0é00")] {
            let packed = PackedPicture {
                width,
                is_strip: true,
                factor: 0,
                pixels: pixels.into(),
            };
            assert_eq!(packed.unpack(), None, "{width} {pixels}");
        }
    }

    #[test]
    fn a_strip_is_shown_as_it_was_read() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
        let Some(sheet) = first_image(&path) else {
            panic!("no image below {}", path.display())
        };
        let found = strip::find(&strip::open(&sheet).expect("it opens").image);
        let strip = found.strip.expect("it has a strip");
        let other = strip.faced(true, true);
        for expected in [&strip, &other] {
            let packed = picture_of(&sheet, Some(&expected.lay)).expect("a picture");
            let picture = packed.unpack().expect("a whole one");
            assert!(picture.is_strip);
            assert_eq!(picture.image, expected.image);
        }
        assert!(picture_of(&path, None).is_err());
    }

    fn first_image(folder: &Path) -> Option<std::path::PathBuf> {
        let mut entries: Vec<_> = std::fs::read_dir(folder)
            .ok()?
            .filter_map(|entry| Some(entry.ok()?.path()))
            .collect();
        entries.sort();
        entries.into_iter().find_map(|path| match path.is_dir() {
            true => first_image(&path),
            false => ["png", "jpg", "tif"]
                .iter()
                .any(|known| path.extension().is_some_and(|e| e == *known))
                .then_some(path),
        })
    }
}
