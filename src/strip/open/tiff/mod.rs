//! The first page of a TIFF to a picture: which decoder takes it, and in which form.

mod directory;
#[cfg(feature = "leptonica")]
mod leptonica;
mod page;
mod restate;
mod samples;

use directory::corrupt;
use page::{Page, compression, first_page, photometric};
use restate::{Form, joined, restate};
use samples::Meaning;

use super::{
    MOST_DECODED_BYTES, MOST_HELD_BYTES, MOST_TIFF_BYTES, OpenError, Opened, Via, by_image,
    check_depth, jpeg, missing_rows,
};
use crate::value::{Finding, Severity, Station};
use image::metadata::Orientation;
use image::{DynamicImage, ImageFormat};

/// Opens a TIFF or BigTIFF held in memory; of several pages the first.
pub(super) fn open(bytes: &[u8]) -> Result<Opened, OpenError> {
    let page = first_page(bytes)?;
    let (image, via) = decode(&page)?;
    let is_jpeg = matches!(page.compression, compression::JPEG | compression::OLD_JPEG);
    let missing = if is_jpeg { missing_rows(&image) } else { None };
    let mut opened = Opened::new(image, page.orientation, via);
    opened.findings.extend(missing);
    if page.pages > 1 {
        opened.findings.push(Finding::new(
            Severity::Warning,
            Station::Strip,
            "several-pages",
            format!(
                "the file holds {} pages, of which the first was read; if the others are sheets too, save each as a \
                 file of its own",
                page.pages
            ),
        ));
    }
    Ok(opened)
}

fn decode(page: &Page) -> Result<(DynamicImage, Via), OpenError> {
    use compression::*;
    // 4 is "undefined", which in practice is the same as 1.
    if !matches!(page.sample_format, 1 | 4) {
        return Err(unsupported("samples that are no unsigned whole numbers"));
    }
    match page.compression {
        NONE | LZW | DEFLATE | OLD_DEFLATE | PACKBITS if page.photometric == photometric::YCBCR => {
            subsampled(page)
        }
        NONE | LZW | DEFLATE | OLD_DEFLATE | PACKBITS => bytes(page),
        GROUP_4 | GROUP_3 | RUN_LENGTHS => bits(page),
        JPEG => streams(page),
        OLD_JPEG => old_jpeg(page),
        other => Err(unsupported(format!(
            "compression {other}{}",
            name_of(other)
        ))),
    }
}

/// Names of compressions that scanners' files may have and that are not read.
fn name_of(compression: u32) -> &'static str {
    match compression {
        9 | 10 | 34_661 => " (JBIG)",
        33_003 | 33_005 | 34_712 => " (JPEG 2000)",
        34_887 => " (LERC)",
        34_925 => " (LZMA)",
        50_000 => " (Zstandard)",
        50_001 => " (WebP)",
        _ => "",
    }
}

const FORMAT: &str = "TIFF";

fn unsupported(reason: impl Into<String>) -> OpenError {
    super::unsupported(FORMAT, reason)
}

/// Compressions that give the rows' bytes back.
fn bytes(page: &Page) -> Result<(DynamicImage, Via), OpenError> {
    let colours = match page.photometric {
        photometric::WHITE_IS_0 | photometric::BLACK_IS_0 | photometric::PALETTE => 1,
        photometric::RGB => 3,
        photometric::CMYK => 4,
        other => return Err(unsupported(format!("colour model {other}"))),
    };
    if page.samples < colours {
        return Err(corrupt(format!(
            "{} samples a pixel, {colours} expected",
            page.samples
        )));
    }
    if page.bits > 16 {
        return Err(unsupported(format!("{} bits a sample", page.bits)));
    }
    if page.predictor > 2 || page.predictor == 2 && !matches!(page.bits, 8 | 16) {
        return Err(unsupported(format!(
            "predictor {} on {} bits",
            page.predictor, page.bits
        )));
    }
    if is_common(page) {
        // The tags were read already: only what they say about orientation is left to do, by the caller.
        let (image, _) = by_image(page.file, ImageFormat::Tiff)?;
        return Ok((image, Via::Image));
    }
    let planes = by_planes(page, Form::Bytes)?;
    let meaning = Meaning {
        bits: page.bits,
        together: page.samples_together(),
        samples: page.samples,
        photometric: page.photometric,
        predictor: page.predictor,
        extra: page.extra.first().copied().unwrap_or(0),
    };
    Ok((samples::picture(page, meaning, &planes), Via::Image))
}

/// What the crate `image` reads right by itself, compared pixel for pixel: grey of 1, 8 and 16 bits, RGB of 8 and 16,
/// in strips. It stumbles over some tiles.
fn is_common(page: &Page) -> bool {
    let is_grey = matches!(
        page.photometric,
        photometric::WHITE_IS_0 | photometric::BLACK_IS_0
    ) && page.samples == 1
        && matches!(page.bits, 1 | 8 | 16);
    let is_rgb =
        page.photometric == photometric::RGB && page.samples == 3 && matches!(page.bits, 8 | 16);
    (is_grey || is_rgb)
        && page.is_regular
        && !page.is_tiled
        && !page.is_bit_reversed
        && !page.is_big
}

/// Every plane's chunks, decoded, one below the other.
fn by_planes(page: &Page, form: Form) -> Result<Vec<Vec<u8>>, OpenError> {
    let count = if page.is_planar {
        page.samples as usize
    } else {
        1
    };
    let bytes = (0..page.chunks.len())
        .map(|chunk| page.row_bytes() as u64 * u64::from(page.chunk_rows(chunk)))
        .sum();
    check_depth(bytes, MOST_TIFF_BYTES)?;
    if page.compression == compression::NONE {
        return Ok((0..count).map(|plane| joined(page, plane)).collect());
    }
    // The file, the restated file, and what the decoder holds.
    let data: usize = page.chunks.iter().map(|chunk| chunk.length).sum();
    check_depth(
        page.file.len() as u64 + data as u64 + 2 * bytes,
        MOST_HELD_BYTES,
    )?;
    (0..count)
        .map(|plane| {
            let (image, _) = by_image(&restate(page, plane, form), ImageFormat::Tiff)?;
            Ok(image.into_bytes())
        })
        .collect()
}

/// Fax compressions (ITU-T T.4 and T.6): one bit a pixel.
fn bits(page: &Page) -> Result<(DynamicImage, Via), OpenError> {
    let is_white_0 = match page.photometric {
        photometric::WHITE_IS_0 => true,
        photometric::BLACK_IS_0 => false,
        other => {
            return Err(unsupported(format!(
                "fax compression in colour model {other}"
            )));
        }
    };
    if page.bits != 1 || page.samples != 1 {
        return Err(unsupported("fax compression of more than one bit a pixel"));
    }
    let (plane, via) = if page.compression == compression::GROUP_4 {
        (by_planes(page, Form::Bits)?.remove(0), Via::Image)
    } else {
        if page.compression == compression::GROUP_3 && !has_all_lines(page) {
            return Err(OpenError::Truncated { format: FORMAT });
        }
        // The picture as it is restated: a byte a pixel once it is decoded.
        let rows: u32 = (0..page.chunks.len())
            .map(|chunk| page.chunk_rows(chunk))
            .sum();
        check_depth(
            u64::from(page.chunk_width) * u64::from(rows),
            MOST_TIFF_BYTES,
        )?;
        let what = match page.compression {
            compression::GROUP_3 => "fax compression Group 3",
            _ => "fax compression by run lengths",
        };
        let image = by_leptonica(&restate(page, 0, Form::Bits), what)?;
        if (image.width(), image.height()) != (page.chunk_width, rows) {
            return Err(corrupt(format!("{what} that does not decode")));
        }
        (image.into_bytes(), Via::Leptonica)
    };
    // The decoders gave a byte a pixel, white for a bit of 0.
    let meaning = Meaning {
        bits: 8,
        together: 1,
        samples: 1,
        photometric: if is_white_0 {
            photometric::BLACK_IS_0
        } else {
            photometric::WHITE_IS_0
        },
        predictor: 1,
        extra: 0,
    };
    Ok((samples::picture(page, meaning, &[plane]), via))
}

/// Whether the rows of a Group 3 picture have their end-of-line codes: eleven zeros or more, then a one, which no other
/// code makes (ITU-T T.4, 4.1.2). The decoder passes over missing rows in silence. Some writers leave one code out.
fn has_all_lines(page: &Page) -> bool {
    page.chunks.iter().enumerate().all(|(index, chunk)| {
        let (mut zeros, mut lines) = (0_u32, 0_u32);
        for byte in page.data(*chunk) {
            let mut byte = if page.is_bit_reversed {
                byte.reverse_bits()
            } else {
                *byte
            };
            for _ in 0..8 {
                if byte & 0x80 == 0 {
                    zeros += 1;
                } else {
                    lines += u32::from(zeros >= 11);
                    zeros = 0;
                }
                byte <<= 1;
            }
        }
        lines + 1 >= page.chunk_rows(index)
    })
}

/// JPEG streams, one a strip or tile.
fn streams(page: &Page) -> Result<(DynamicImage, Via), OpenError> {
    let (samples, photometric) = match (page.photometric, page.samples) {
        (photometric::WHITE_IS_0 | photometric::BLACK_IS_0, 1) => (1, page.photometric),
        (photometric::RGB | photometric::YCBCR, 3) => (3, page.photometric),
        // The decoder makes RGB of it.
        (photometric::CMYK, 4) => (3, photometric::RGB),
        (model, samples) => {
            return Err(unsupported(format!(
                "JPEG of {samples} samples in colour model {model}"
            )));
        }
    };
    if page.bits != 8 {
        return Err(unsupported(format!("JPEG of {} bits a sample", page.bits)));
    }
    if page.is_planar {
        return Err(unsupported("JPEG with the colours in planes of their own"));
    }
    for (index, chunk) in page.chunks.iter().enumerate() {
        let outline = jpeg::outline(page.data(*chunk));
        if let Some(reason) = outline.refusal() {
            return Err(unsupported(format!("JPEG of {reason}")));
        }
        if !outline.is_whole {
            return Err(OpenError::Truncated { format: FORMAT });
        }
        // The decoder makes room for what the stream declares, whatever the directory says.
        let rows = page.chunk_rows(index)..=page.chunk_height;
        let fits = outline.frame.is_some_and(|frame| {
            (frame.width, frame.components) == (page.chunk_width, page.samples)
                && rows.contains(&frame.height)
        });
        if !fits {
            return Err(corrupt(
                "a JPEG stream of another size than its strip or tile",
            ));
        }
        check_depth(outline.decoded_bytes(), MOST_TIFF_BYTES)?;
    }
    let planes = by_planes(page, Form::Jpeg)?;
    let meaning = Meaning {
        bits: 8,
        together: samples,
        samples,
        photometric,
        predictor: 1,
        extra: 0,
    };
    Ok((samples::picture(page, meaning, &planes), Via::Image))
}

/// JPEG of the old kind (TIFF 6.0, section 22): read where the file holds one whole JPEG stream, as most do.
fn old_jpeg(page: &Page) -> Result<(DynamicImage, Via), OpenError> {
    let stream = page.old_jpeg.unwrap_or_default();
    let outline = jpeg::outline(stream);
    let Some(frame) = outline.frame.filter(|_| stream.starts_with(b"\xff\xd8")) else {
        return Err(unsupported(
            "JPEG compression of the old kind, its stream in pieces",
        ));
    };
    if (frame.width, frame.height) != (page.width, page.height) {
        return Err(corrupt("its data are of another size than its tags say"));
    }
    if !outline.is_whole {
        return Err(OpenError::Truncated { format: FORMAT });
    }
    if let Some(reason) = outline.refusal() {
        return Err(unsupported(format!("JPEG of {reason}")));
    }
    check_depth(outline.decoded_bytes(), MOST_DECODED_BYTES)?;
    let (image, _) = by_image(stream, ImageFormat::Jpeg)?;
    Ok((image, Via::Image))
}

/// Subsampled colour outside JPEG, whose layout only leptonica's library knows: it gets the file as it is, but upright.
fn subsampled(page: &Page) -> Result<(DynamicImage, Via), OpenError> {
    // Four bytes a pixel, twice, while it decodes.
    let bytes = u64::from(page.width) * u64::from(page.height) * 8;
    check_depth(bytes, MOST_DECODED_BYTES)?;
    let mut file = page.file.to_vec();
    if let Some(value) = page.orientation_at.and_then(|at| file.get_mut(at..at + 2)) {
        let upright = u16::from(Orientation::NoTransforms.to_exif());
        value.copy_from_slice(&if page.big_endian {
            upright.to_be_bytes()
        } else {
            upright.to_le_bytes()
        });
    }
    let image = by_leptonica(&file, "subsampled colour")?;
    if (image.width(), image.height()) != (page.width, page.height) {
        return Err(corrupt("its data are of another size than its tags say"));
    }
    Ok((image, Via::Leptonica))
}

#[cfg(feature = "leptonica")]
fn by_leptonica(tiff: &[u8], what: &str) -> Result<DynamicImage, OpenError> {
    leptonica::decode(tiff).ok_or_else(|| corrupt(format!("{what} that does not decode")))
}

#[cfg(not(feature = "leptonica"))]
fn by_leptonica(_: &[u8], what: &str) -> Result<DynamicImage, OpenError> {
    Err(unsupported(format!(
        "{what}, for which this program was built without the leptonica library"
    )))
}
