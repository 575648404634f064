//! A planned sheet in, its image and truth out.
//!
//! The sheet is drawn upright at its final size, then scanned in one pass that turns, mirrors and leans it; so the
//! truth's corners are exact. Curl and perspective bend it on the way; corners are then those of the straight quadrilateral
//! that holds the bent area.

mod canvas;
mod damage;
mod geometry;
mod grain;
mod scan;
mod sheet;
mod strike;
#[cfg(test)]
mod tests;

use super::collection::PlannedSheet;
use super::look::{Format, Look, READABLE};
use super::truth::{Corners, Truth};
use super::{Stream, random};
use canvas::{Area, Canvas};
use geometry::{Geometry, left_over};
use image::codecs::{jpeg::JpegEncoder, png, tiff::TiffEncoder};
use image::{DynamicImage, ImageResult};
use rand_chacha::ChaCha8Rng;
use scan::Beside;
use std::io::Cursor;

pub use strike::x_height;

/// A drawn sheet.
#[derive(Debug, Clone)]
pub struct Drawn {
    /// As scanned, before the container: JPEG damage comes with [`Drawn::encode`].
    pub image: DynamicImage,
    pub truth: Truth,
    format: Format,
}

/// Draws a sheet; the same plan gives the same pixels.
pub fn draw(plan: &PlannedSheet) -> Drawn {
    let look = &plan.look;
    let random = &mut random(plan.seed, Stream::Drawing, plan.index);
    let heading = sheet::heading(look);
    let (canvas, lines, x_height) = upright(look, heading, &plan.lines, random);
    let typing = lines
        .iter()
        .fold(Area::NOTHING, |all, line| all.union(line));
    let strip = if typing.is_nothing() {
        heading
    } else {
        typing.grown(x_height / 2.0, canvas.width as f32, canvas.height as f32)
    };
    let geometry = Geometry::new(look, heading, strip);
    let beside = look.scan.second.map(|second| Beside {
        at: (
            second.right * canvas.width as f32,
            second.down * canvas.height as f32,
        ),
        canvas: upright(look, heading, &plan.beside, random).0,
    });
    let tones = sheet::tones(look);
    let image = scan::scan(&canvas, beside.as_ref(), look, &tones, &geometry, random);
    let seen = left_over(look, strip);
    let corners = |area: Option<Area>| {
        let area = area.map(|area| area.within(&seen));
        Corners(area.map(|area| geometry.corners(area)))
    };
    Drawn {
        image: quantised(image, look.format),
        truth: Truth {
            skew: (geometry.skew(strip) * 1e3).round() / 1e3,
            too_small: !typing.is_nothing() && x_height < READABLE,
            strip: corners(Some(strip)),
            heading: Corners(Some(geometry.corners(heading))),
            line1: corners(lines.first().copied()),
            line2: corners(lines.get(1).copied()),
            ..Truth::planned(plan)
        },
        format: look.format,
    }
}

/// The sheet before it is scanned, the ink of each of its lines, and the x-height they were struck at.
fn upright(
    look: &Look,
    heading: Area,
    typed: &[String],
    random: &mut ChaCha8Rng,
) -> (Canvas, Vec<Area>, f32) {
    let mut canvas = Canvas::new(look.size.0, look.size.1);
    sheet::draw(&mut canvas, look, random);
    let (lines, x_height) = strike::strike(&mut canvas, look, heading, typed, random);
    damage::draw(&mut canvas, look, heading, random);
    canvas.blur(look.scan.blur);
    (canvas, lines, x_height)
}

/// The image with as few levels as its scanner kept.
fn quantised(mut image: DynamicImage, format: Format) -> DynamicImage {
    if let Format::Png { levels } = format {
        let step = 255.0 / f32::from(levels - 1);
        let levels: Vec<u8> = (0..=255u8)
            .map(|value| ((f32::from(value) / step).round() * step) as u8)
            .collect();
        let quantise = |bytes: &mut [u8]| {
            bytes
                .iter_mut()
                .for_each(|byte| *byte = levels[usize::from(*byte)])
        };
        match &mut image {
            DynamicImage::ImageLuma8(image) => quantise(image),
            DynamicImage::ImageRgb8(image) => quantise(image),
            _ => unreachable!("scans are grey or RGB, eight bits"),
        }
    }
    image
}

impl Drawn {
    /// The image file's bytes in the sheet's own container: PNG, JPEG or TIFF.
    pub fn encode(&self) -> ImageResult<Vec<u8>> {
        let mut bytes = Cursor::new(Vec::new());
        match self.format {
            Format::Png { .. } => {
                self.image
                    .write_with_encoder(png::PngEncoder::new_with_quality(
                        &mut bytes,
                        png::CompressionType::Default,
                        png::FilterType::Sub,
                    ))?
            }
            Format::Jpeg { quality } => self
                .image
                .write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, quality))?,
            Format::Tiff => self
                .image
                .write_with_encoder(TiffEncoder::new(&mut bytes))?,
        }
        Ok(bytes.into_inner())
    }
}
