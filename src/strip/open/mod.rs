//! Files to images: what opens, what is refused, and in which words.

mod jpeg;
mod plain;
#[cfg(test)]
mod published_tests;
#[cfg(test)]
mod tests;
mod tiff;

use crate::value::{Finding, Severity, Station};
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};
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
/// The same for TIFF, whose decoder holds the picture twice.
const MOST_TIFF_BYTES: u64 = 250_000_000;
/// Most that a file, its copies and the picture may take together while a rarer kind of TIFF is decoded, in bytes.
const MOST_HELD_BYTES: u64 = 850_000_000;
/// Rows of plain mid-grey at a JPEG's foot that are taken for data that did not decode: two rows of its largest blocks.
const GREY_ROWS: u32 = 32;
/// Most memory that the decoder may take beside it, in bytes.
const MOST_DECODER_BYTES: u64 = 500_000_000;
/// Largest file that is read into memory, in bytes: the largest grey picture of 16 bits without compression has 240
/// million.
const MOST_FILE_BYTES: u64 = 260_000_000;

/// An image ready for [`super::find`]: 8 bits a sample, grey or colour, upright by its own orientation tag.
#[derive(Debug, Clone)]
pub struct Opened {
    pub image: DynamicImage,
    pub findings: Vec<Finding>,
    pub via: Via,
}

/// Which decoder a file's data went through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Via {
    /// The crate `image`.
    Image,
    /// The system's leptonica library.
    Leptonica,
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
        "expected a picture that decodes within {most} bytes, found one that needs {bytes}; save it in grey or with 8 \
         bits a sample"
    )]
    TooDeep { bytes: u64, most: u64 },
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
    #[error("this kind of {format} image is not read: {reason}; save it as a plain 8-bit {format}")]
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
    let found = format_of(&bytes);
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
    match format_of(bytes) {
        Some(ImageFormat::Png) => png(bytes),
        Some(ImageFormat::Jpeg) => jpeg(bytes),
        Some(ImageFormat::Tiff) => tiff::open(bytes),
        _ => Err(OpenError::NotAnImage(other_kind(bytes))),
    }
}

/// The format that a file's first bytes show.
fn format_of(bytes: &[u8]) -> Option<ImageFormat> {
    // The crate does not know BigTIFF by its start.
    let is_big_tiff = bytes.starts_with(b"II+\0") || bytes.starts_with(b"MM\0+");
    if is_big_tiff {
        Some(ImageFormat::Tiff)
    } else {
        image::guess_format(bytes).ok()
    }
}

fn png(bytes: &[u8]) -> Result<Opened, OpenError> {
    // The header is the first chunk: length, name, width, height (ISO/IEC 15948, 11.2.2).
    let number = |at: usize| Some(u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?));
    let (Some(width), Some(height)) = (number(16), number(20)) else {
        return Err(OpenError::Truncated { format: "PNG" });
    };
    if &bytes[12..16] != b"IHDR" {
        return Err(corrupt("PNG", "its first chunk is no header"));
    }
    check_size(width, height)?;
    let (image, orientation) = by_image(bytes, ImageFormat::Png)?;
    Ok(Opened::new(image, orientation, Via::Image))
}

fn jpeg(bytes: &[u8]) -> Result<Opened, OpenError> {
    const FORMAT: &str = "JPEG";
    let outline = jpeg::outline(bytes);
    let Some(frame) = outline.frame else {
        return Err(if outline.is_whole {
            corrupt(FORMAT, "no picture in it")
        } else {
            OpenError::Truncated { format: FORMAT }
        });
    };
    check_size(frame.width, frame.height)?;
    if let Some(reason) = outline.refusal() {
        return Err(unsupported(FORMAT, reason));
    }
    if !outline.is_whole {
        return Err(OpenError::Truncated { format: FORMAT });
    }
    check_depth(outline.decoded_bytes(), MOST_DECODED_BYTES)?;
    let (image, orientation) = by_image(bytes, ImageFormat::Jpeg)?;
    let missing = missing_rows(&image);
    let mut opened = Opened::new(image, orientation, Via::Image);
    opened.findings.extend(missing);
    Ok(opened)
}

/// A finding where a JPEG ends in rows of plain mid-grey: what the decoder leaves where the data do not decode.
fn missing_rows(image: &DynamicImage) -> Option<Finding> {
    let row = image.width() as usize * usize::from(image.color().channel_count());
    let grey = |row: &&[u8]| row.iter().all(|value| *value == 128);
    let rows = image.as_bytes().rchunks_exact(row).take_while(grey).count() as u32;
    (rows >= GREY_ROWS.min(image.height())).then(|| {
        Finding::new(
            Severity::Warning,
            Station::Strip,
            "damaged-image",
            format!(
                "the last {rows} of {} rows hold nothing but grey, as where JPEG data are damaged; look at the image, \
                 and scan or copy the sheet again if a part is missing",
                image.height()
            ),
        )
    })
}

fn unsupported(format: &'static str, reason: impl Into<String>) -> OpenError {
    let reason = reason.into();
    OpenError::Unsupported { format, reason }
}

fn corrupt(format: &'static str, reason: impl Into<String>) -> OpenError {
    let reason = reason.into();
    OpenError::Corrupt { format, reason }
}

/// Decodes with the crate `image`, within limits; also the orientation that the file asks for.
///
/// A decoder that panics on a damaged file is taken as saying that it is damaged.
fn by_image(bytes: &[u8], format: ImageFormat) -> Result<(DynamicImage, Orientation), OpenError> {
    let name = name_of(format);
    let decode = || {
        let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
        let mut limits = Limits::no_limits();
        limits.max_alloc = Some(MOST_DECODER_BYTES);
        reader.limits(limits);
        let mut decoder = reader.into_decoder().map_err(|error| fault(name, error))?;
        let most = match format {
            ImageFormat::Tiff => MOST_TIFF_BYTES,
            _ => MOST_DECODED_BYTES,
        };
        check_depth(decoder.total_bytes(), most)?;
        let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
        let image = DynamicImage::from_decoder(decoder).map_err(|error| fault(name, error))?;
        Ok((image, orientation))
    };
    std::panic::catch_unwind(decode)
        .unwrap_or_else(|_| Err(corrupt(name, "its decoder stumbles over it")))
}

/// Refuses sizes that cannot be a sheet; asked before anything is decoded.
fn check_size(width: u32, height: u32) -> Result<(), OpenError> {
    if width.max(height) > LONGEST_SIDE || u64::from(width) * u64::from(height) > MOST_PIXELS {
        return Err(OpenError::TooLarge { width, height });
    }
    if width.min(height) < SHORTEST_SIDE {
        return Err(OpenError::TooSmall { width, height });
    }
    Ok(())
}

fn check_depth(bytes: u64, most: u64) -> Result<(), OpenError> {
    if bytes > most {
        return Err(OpenError::TooDeep { bytes, most });
    }
    Ok(())
}

impl Opened {
    fn new(image: DynamicImage, orientation: Orientation, via: Via) -> Self {
        let mut image = plain::plain(image);
        image.apply_orientation(orientation);
        Self {
            image,
            findings: Vec::new(),
            via,
        }
    }
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

/// The crate's error in our words: what it found, without what it says about itself.
fn fault(format: &'static str, error: image::ImageError) -> OpenError {
    use image::ImageError::{IoError, Unsupported};
    let mut cause: &dyn std::error::Error = &error;
    while let Some(deeper) = cause.source() {
        cause = deeper;
    }
    // Some say it as a quoted string, some append their own data structures.
    let words = cause.to_string();
    let reason = words
        .split(" while decoding ChunkType")
        .next()
        .unwrap_or_default();
    let reason = reason.trim_matches('"').to_owned();
    let is_early =
        |words: &str| words.contains("unexpected end") || words.contains("failed to fill");
    match &error {
        IoError(io) if io.kind() == std::io::ErrorKind::UnexpectedEof => {
            OpenError::Truncated { format }
        }
        _ if is_early(&error.to_string().to_lowercase()) => OpenError::Truncated { format },
        Unsupported(_) => OpenError::Unsupported { format, reason },
        _ => OpenError::Corrupt { format, reason },
    }
}
