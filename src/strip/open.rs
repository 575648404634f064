//! Files to images: what opens, what is refused, and in which words.

use crate::value::{Finding, Severity, Station};
use image::metadata::Orientation;
use image::{DynamicImage, GrayImage, ImageDecoder, ImageFormat, ImageReader, Limits};
use std::io::{Cursor, Read};
use std::path::Path;

/// Largest image that is decoded, in pixels: a 600 dpi scan of an A3 bed has 70 million.
pub const MOST_PIXELS: u64 = 120_000_000;
/// Longest side that is decoded, in pixels.
pub const LONGEST_SIDE: u32 = 30_000;
/// Shortest side on which a line of type could be read, in pixels.
pub const SHORTEST_SIDE: u32 = 16;
/// Largest picture as decoded, in bytes: with its 8-bit copy and the file it stays below 1 GB.
pub const MOST_DECODED_BYTES: u64 = 400_000_000;
/// Most memory that the decoder may take beside it, in bytes.
const MOST_DECODER_BYTES: u64 = 500_000_000;
/// Largest file that is read into memory, in bytes.
const MOST_FILE_BYTES: u64 = 400_000_000;

/// An image ready for [`super::find`]: 8 bits a sample, grey or colour, upright by its own orientation tag.
#[derive(Debug, Clone)]
pub struct Opened {
    pub image: DynamicImage,
    pub findings: Vec<Finding>,
}

/// Why a file is no sheet image.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    #[error("cannot read the file: {0}; check that it exists and may be read")]
    Unreadable(#[from] std::io::Error),
    #[error("expected an image file, found {0}; list image files only")]
    NotAFile(&'static str),
    #[error("expected an image, found an empty file; scan or copy the sheet again")]
    Empty,
    #[error("expected a PNG, JPEG or TIFF image, found {0}; export the sheet as one of these")]
    NotAnImage(&'static str),
    #[error(
        "expected a file of at most {MOST_FILE_BYTES} bytes, found {0}; scan at 600 dpi or less"
    )]
    FileTooLarge(u64),
    #[error(
        "expected at most {MOST_PIXELS} pixels and {LONGEST_SIDE} a side, found {width} x {height}; scan at 600 dpi \
         or less, or crop the sheet"
    )]
    TooLarge { width: u32, height: u32 },
    #[error(
        "expected a picture of at most {MOST_DECODED_BYTES} bytes when decoded, found {0}; save it in grey or with 8 \
         bits a sample"
    )]
    TooDeep(u64),
    #[error(
        "expected at least {SHORTEST_SIDE} pixels a side, found {width} x {height}; scan the sheet again"
    )]
    TooSmall { width: u32, height: u32 },
    #[error(
        "expected a whole {format} image, found one that ends early; scan or copy the sheet again"
    )]
    Truncated { format: &'static str },
    #[error(
        "expected a sound {format} image, found a fault in it: {reason}; scan or copy the sheet again"
    )]
    Corrupt {
        format: &'static str,
        reason: String,
    },
    #[error(
        "this kind of {format} image is not read yet: {reason}; save it as a plain 8-bit {format}"
    )]
    Unsupported {
        format: &'static str,
        reason: String,
    },
}

/// Opens a PNG, JPEG or TIFF file; its content decides the format, not its name.
///
/// The declared size is checked before anything is decoded. 16 bits a sample come down to 8, palettes and
/// transparency become plain colour on white, pictures without colour become grey.
pub fn open(path: &Path) -> Result<Opened, OpenError> {
    let kind = std::fs::metadata(path)?;
    if kind.is_dir() {
        return Err(OpenError::NotAFile("a folder"));
    }
    if !kind.is_file() {
        return Err(OpenError::NotAFile("a device or a pipe"));
    }
    if kind.len() > MOST_FILE_BYTES {
        return Err(OpenError::FileTooLarge(kind.len()));
    }
    let mut bytes = Vec::new();
    std::fs::File::open(path)?
        .take(MOST_FILE_BYTES)
        .read_to_end(&mut bytes)?;
    let extension = path
        .extension()
        .and_then(|extension| extension.to_str())
        .unwrap_or("");
    let mut opened = decode(&bytes)?;
    let named = ImageFormat::from_extension(extension);
    let found = image::guess_format(&bytes).ok();
    if named != found {
        opened.findings.push(Finding::new(
            Severity::Note,
            Station::Strip,
            "other-format",
            format!(
                "the name ends in \".{extension}\", the file holds a {}; it was read by its content",
                found.map_or("other image", name_of)
            ),
        ));
    }
    Ok(opened)
}

/// Decodes a PNG, JPEG or TIFF image held in memory.
pub fn decode(bytes: &[u8]) -> Result<Opened, OpenError> {
    if bytes.is_empty() {
        return Err(OpenError::Empty);
    }
    let format = match image::guess_format(bytes) {
        Ok(format @ (ImageFormat::Png | ImageFormat::Jpeg | ImageFormat::Tiff)) => format,
        _ => return Err(OpenError::NotAnImage(other_kind(bytes))),
    };
    let name = name_of(format);
    let mut limits = Limits::default();
    limits.max_image_width = Some(LONGEST_SIDE);
    limits.max_image_height = Some(LONGEST_SIDE);
    limits.max_alloc = Some(MOST_DECODER_BYTES);
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    reader.limits(Limits::no_limits());
    let (width, height) = reader
        .into_dimensions()
        .map_err(|error| fault(name, error))?;
    if width > LONGEST_SIDE
        || height > LONGEST_SIDE
        || u64::from(width) * u64::from(height) > MOST_PIXELS
    {
        return Err(OpenError::TooLarge { width, height });
    }
    if width.min(height) < SHORTEST_SIDE {
        return Err(OpenError::TooSmall { width, height });
    }
    if format == ImageFormat::Jpeg && !ends_as_jpeg(bytes) {
        return Err(OpenError::Truncated { format: name });
    }
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(|error| fault(name, error))?;
    if decoder.total_bytes() > MOST_DECODED_BYTES {
        return Err(OpenError::TooDeep(decoder.total_bytes()));
    }
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let mut image = DynamicImage::from_decoder(decoder).map_err(|error| fault(name, error))?;
    image.apply_orientation(orientation);
    Ok(Opened {
        image: plain(image),
        findings: Vec::new(),
    })
}

fn name_of(format: ImageFormat) -> &'static str {
    match format {
        ImageFormat::Png => "PNG",
        ImageFormat::Jpeg => "JPEG",
        ImageFormat::Tiff => "TIFF",
        _ => "other image",
    }
}

/// What a file that is no image of ours seems to hold.
fn other_kind(bytes: &[u8]) -> &'static str {
    const STARTS: [(&[u8], &str); 7] = [
        (b"%PDF", "a PDF document"),
        (b"GIF8", "a GIF image"),
        (b"BM", "a BMP image"),
        (b"RIFF", "a RIFF file (WebP, sound or video)"),
        (b"PK\x03\x04", "a ZIP archive or office document"),
        (b"\x00\x00\x00\x0cjP", "a JPEG 2000 image"),
        (b"\x1f\x8b", "a gzip archive"),
    ];
    let start = STARTS.iter().find(|(start, _)| bytes.starts_with(start));
    let head = &bytes[..bytes.len().min(512)];
    match start {
        Some((_, kind)) => kind,
        None if std::str::from_utf8(head).is_ok_and(|text| !text.contains('\0')) => "text",
        None => "something else",
    }
}

fn fault(format: &'static str, error: image::ImageError) -> OpenError {
    use image::ImageError::{IoError, Unsupported};
    let reason = error.to_string();
    match error {
        IoError(io) if io.kind() == std::io::ErrorKind::UnexpectedEof => {
            OpenError::Truncated { format }
        }
        Unsupported(_) => OpenError::Unsupported { format, reason },
        _ if reason.to_lowercase().contains("unexpected end")
            || reason.contains("failed to fill") =>
        {
            OpenError::Truncated { format }
        }
        _ => OpenError::Corrupt { format, reason },
    }
}

/// Whether a JPEG has its end-of-image marker (FF D9, ISO/IEC 10918-1 B.1.1.3) after its last scan data.
///
/// The decoder fills a truncated picture up with grey and reports nothing. Bytes after the marker are common
/// (padding, a second picture) and allowed; a thumbnail's marker lies before the last start of scan (FF DA).
fn ends_as_jpeg(bytes: &[u8]) -> bool {
    let last = |marker: [u8; 2]| bytes.windows(2).rposition(|pair| pair == marker);
    match (last([0xff, 0xda]), last([0xff, 0xd9])) {
        (Some(scan), Some(end)) => end > scan,
        _ => false,
    }
}

/// 8 bits a sample; transparency laid on white; grey where there is no colour.
fn plain(image: DynamicImage) -> DynamicImage {
    let image = match image {
        DynamicImage::ImageLuma16(deep) => DynamicImage::ImageLuma8(shallow(&deep)),
        other => other,
    };
    if matches!(image, DynamicImage::ImageLuma8(_)) {
        return image;
    }
    let colour = if image.color().has_alpha() {
        let mut layered = image.into_rgba8();
        for pixel in layered.pixels_mut() {
            let alpha = u32::from(pixel.0[3]);
            for value in &mut pixel.0[..3] {
                *value = ((u32::from(*value) * alpha + 255 * (255 - alpha)) / 255) as u8;
            }
        }
        DynamicImage::ImageRgba8(layered).into_rgb8()
    } else {
        image.into_rgb8()
    };
    if colour
        .as_raw()
        .chunks_exact(3)
        .all(|p| p[0] == p[1] && p[1] == p[2])
    {
        let raw = colour.as_raw().iter().step_by(3).copied().collect();
        let grey = GrayImage::from_raw(colour.width(), colour.height(), raw);
        return DynamicImage::ImageLuma8(grey.expect("one byte a pixel"));
    }
    DynamicImage::ImageRgb8(colour)
}

/// 16 bits to 8. Scanners store 12 bits in 16 without saying so: then no sample passes 4,095, and 4 bits are dropped.
fn shallow(deep: &image::ImageBuffer<image::Luma<u16>, Vec<u16>>) -> GrayImage {
    let twelve = deep.as_raw().iter().all(|&value| value < 4096);
    let shift = if twelve { 4 } else { 8 };
    let raw = deep
        .as_raw()
        .iter()
        .map(|&value| (value >> shift) as u8)
        .collect();
    GrayImage::from_raw(deep.width(), deep.height(), raw).expect("one byte a pixel")
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{ImageBuffer, Luma, Rgb, RgbImage};
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
            ("colour PNG", encoded(colour, ImageFormat::Png), false, 200),
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

    #[test]
    fn files_of_other_programs_open() {
        // Written with Pillow 12: a picture 48 x 32, dark on the left, turned by 180 degrees where its name says so.
        for (name, dark_on_left) in [
            ("palette.png", true),
            ("cmyk.jpg", true),
            ("bilevel.tif", true),
            ("fax.tif", true),
            ("upside-down.jpg", false),
            ("upside-down.tif", false),
        ] {
            let opened = open(&kept(name)).unwrap_or_else(|error| panic!("{name}: {error}"));
            let grey = crate::strip::grey::grey(&opened.image).into_owned();
            assert_eq!(grey.dimensions(), (48, 32), "{name}");
            let (left, right) = (grey.get_pixel(4, 20).0[0], grey.get_pixel(44, 20).0[0]);
            assert_eq!(
                left < right,
                dark_on_left,
                "{name}: {left} left, {right} right"
            );
            assert_eq!(opened.findings, [], "{name}");
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
}
