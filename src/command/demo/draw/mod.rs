//! A planned sheet in, its image and truth out.
//!
//! The sheet is drawn upright at its final size, then scanned in one pass that turns, mirrors and leans it; so the
//! truth's corners are exact.

mod amend;
mod canvas;
mod cover;
mod damage;
mod grain;
mod hand;
mod pen;
mod scan;
mod sheet;
mod strike;
#[cfg(test)]
mod tests;

use super::collection::PlannedSheet;
use super::look::Format;
use super::truth::{Corners, Truth};
use super::{Stream, random};
use amend::Typed;
use canvas::{Area, Canvas};
use image::codecs::{jpeg::JpegEncoder, png, tiff::TiffEncoder};
use image::{DynamicImage, ImageResult};
use scan::Geometry;
use std::io::Cursor;

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
    let mut canvas = Canvas::new(look.size.0, look.size.1);
    let heading = sheet::heading(look);
    sheet::draw(&mut canvas, look, random);
    let Typed {
        lines,
        typing,
        x_height,
        changed,
    } = amend::typed(&mut canvas, plan, heading, random);
    let strip = if typing.is_nothing() {
        heading
    } else {
        typing.grown(x_height / 2.0, canvas.width as f32, canvas.height as f32)
    };
    let marked = damage::draw(&mut canvas, look, heading, strip, random);
    canvas.blur(look.scan.blur);

    let geometry = Geometry::new(look, strip);
    let image = scan::scan(&canvas, look, &sheet::tones(look), &geometry, random);
    let corners = |area: Option<Area>| Corners(area.map(|area| geometry.corners(area)));
    let planned = Truth::planned(plan);
    let amended = match planned.amended.as_str() {
        "" if marked && !typing.is_nothing() => "marked".to_owned(),
        _ => planned.amended.clone(),
    };
    Drawn {
        image: quantised(image, look.format),
        truth: Truth {
            amended,
            amended_at: corners((!changed.is_nothing()).then_some(changed)),
            strip: corners(Some(strip)),
            heading: corners(Some(heading)),
            line1: corners(lines.first().copied()),
            line2: corners(lines.get(1).copied()),
            ..planned
        },
        format: look.format,
    }
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
