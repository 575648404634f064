//! Strips as pictures that stand in the page itself.

use crate::command::{CommandError, progress};
use crate::desk::supply::{self, Wanted};
use crate::job::Job;
use crate::journal::Store;
use crate::reading::{Lying, Shown};
use crate::value::SheetId;
use image::GrayImage;
use image::imageops::{FilterType, resize};
use std::collections::HashMap;
use std::sync::mpsc;

/// Widest picture in pixels: twice the width at which the page shows it, for print and close looks.
const MOST_WIDTH: u32 = 1_500;
/// Longer side of a sheet that is shown whole, because no strip was found on it.
const WHOLE: u32 = 900;
/// Greys that a picture keeps, as 4 bits a pixel: type stays legible, and a strip takes some 20 kB.
const GREYS: u8 = 16;

/// Of the median grey, which is the paper's: what is lighter than this share of it is paper. Type on the demo's strips is
/// darker than three quarters of it.
const PAPER: f64 = 0.88;

/// A picture in the page.
#[derive(Debug, Clone)]
pub struct Picture {
    pub width: u32,
    pub height: u32,
    /// All of the sheet, for no strip was found.
    pub is_whole: bool,
    /// A `data:` URI.
    pub uri: String,
}

/// The pictures of these sheets; one that cannot be made is missing.
pub fn pictures<S: Store>(
    job: &Job<S>,
    sheets: &[SheetId],
) -> Result<HashMap<SheetId, Picture>, CommandError> {
    let program = std::env::current_exe().map_err(CommandError::ours)?;
    let (send, made) = mpsc::channel();
    let ask = supply::start(program, move |supplied| {
        let _ = send.send(supplied);
    });
    for sheet in sheets {
        let reading = job.store.reading(sheet).map_err(CommandError::input)?;
        let lay = reading.and_then(|record| record.lay);
        let shown = match &lay {
            Some(lay) => Shown::Strip(Lying::from(lay)),
            None => Shown::Whole(WHOLE),
        };
        let wanted = Wanted {
            sheet: sheet.clone(),
            path: job.settings.sheets_folder().join(sheet.as_str()),
            shown,
        };
        // It ends only with what it was asked for.
        let _ = ask.send(wanted);
    }
    drop(ask);
    let bar = progress::bar("pictures", sheets.len() as u64);
    let mut pictures = HashMap::new();
    for supplied in made {
        bar.inc(1);
        let Some(picture) = supplied.picture else {
            continue;
        };
        let is_whole = matches!(supplied.shown, Shown::Whole(_));
        let (width, height, png) = compressed(picture, !is_whole).map_err(CommandError::ours)?;
        let picture = Picture {
            width,
            height,
            is_whole,
            uri: format!("data:image/png;base64,{}", base64(&png)),
        };
        pictures.insert(supplied.sheet, picture);
    }
    bar.finish_and_clear();
    Ok(pictures)
}

/// A picture no larger than a page needs, as PNG in few greys; with its paper white where that is wanted.
fn compressed(
    mut picture: GrayImage,
    has_white_paper: bool,
) -> Result<(u32, u32, Vec<u8>), png::EncodingError> {
    if picture.width() > MOST_WIDTH {
        let height =
            f64::from(picture.height()) * f64::from(MOST_WIDTH) / f64::from(picture.width());
        let height = (height.round() as u32).max(1);
        picture = resize(&picture, MOST_WIDTH, height, FilterType::CatmullRom);
    }
    let (width, height) = picture.dimensions();
    if has_white_paper {
        whiten(&mut picture);
    }
    let step = u8::MAX / (GREYS - 1);
    let grey = |value: &u8| (value.saturating_add(step / 2)) / step;
    let rows = picture.as_raw().chunks(width as usize);
    let packed: Vec<u8> = rows
        .flat_map(|row| {
            row.chunks(2)
                .map(|pair| grey(&pair[0]) << 4 | pair.get(1).map_or(0, grey))
        })
        .collect();
    let mut png = Vec::new();
    let mut encoder = png::Encoder::new(&mut png, width, height);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Four);
    encoder.set_compression(png::Compression::High);
    // Filters work on bytes; with two pixels in each they only cost.
    encoder.set_filter(png::Filter::NoFilter);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&packed)?;
    writer.finish()?;
    Ok((width, height, png))
}

/// Makes the paper white, which else would take most of the greys, and most of the room.
fn whiten(picture: &mut GrayImage) {
    let mut counts = [0_u32; 256];
    picture
        .as_raw()
        .iter()
        .for_each(|value| counts[usize::from(*value)] += 1);
    let half = picture.as_raw().len() as u32 / 2;
    let mut below = 0;
    let median = counts.iter().position(|count| {
        below += count;
        below > half
    });
    let white = PAPER * median.unwrap_or(255).max(1) as f64;
    for value in picture.iter_mut() {
        *value = (f64::from(*value) * 255.0 / white).min(255.0) as u8;
    }
}

/// RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let byte = |at: usize| u32::from(chunk.get(at).copied().unwrap_or(0));
        let bits = byte(0) << 16 | byte(1) << 8 | byte(2);
        for at in 0..4 {
            match at <= chunk.len() {
                true => text.push(char::from(SIGNS[(bits >> (18 - 6 * at) & 63) as usize])),
                false => text.push('='),
            }
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_are_written_as_the_standard_has_them() {
        // RFC 4648, section 10.
        for (bytes, text) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(bytes.as_bytes()), text);
        }
    }

    #[test]
    fn a_picture_keeps_its_greys_and_is_no_wider_than_a_page_needs() {
        let picture = GrayImage::from_fn(3_001, 40, |x, y| {
            image::Luma([if (x / 8 + y / 8) % 2 == 0 { 20 } else { 240 }])
        });
        let (width, height, png) = compressed(picture, true).unwrap();
        assert_eq!((width, height), (MOST_WIDTH, 20));
        let read = image::load_from_memory(&png).unwrap().to_luma8();
        assert_eq!(read.dimensions(), (width, height));
        let grey = |x, y| read.get_pixel(x, y).0[0];
        // The paper becomes white; type stays dark.
        assert!(
            grey(2, 2) < 60 && grey(6, 2) == 255,
            "{} {}",
            grey(2, 2),
            grey(6, 2)
        );
        let odd = GrayImage::from_pixel(3, 1, image::Luma([255]));
        let (.., png) = compressed(odd, false).unwrap();
        assert_eq!(
            image::load_from_memory(&png).unwrap().to_luma8().into_raw(),
            [255; 3]
        );
    }
}
