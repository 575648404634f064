//! A planned sheet in, its image and truth out.
//!
//! The sheet is drawn upright at its final size, then scanned in one pass that turns, mirrors and leans it; so the
//! truth's corners are exact. Curl and perspective bend it on the way; corners are then those of the straight quadrilateral
//! that holds the bent area.

mod canvas;
mod damage;
mod encode;
mod fixings;
mod geometry;
mod grain;
mod scan;
mod sheet;
mod strike;
#[cfg(test)]
mod tests;

use super::collection::PlannedSheet;
use super::look::format::Depth;
use super::look::{Format, Look, READABLE};
use super::truth::{Corners, Truth};
use super::{Stream, random};
use canvas::{Area, Canvas};
use fixings::Hole;
use geometry::{Geometry, left_over};
use image::DynamicImage;
use rand_chacha::ChaCha8Rng;
use scan::{Beside, Sheet};

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
    let Upright {
        canvas,
        lines,
        typing,
        x_height,
        holes,
    } = upright(look, heading, &plan.lines, random);
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
        canvas: upright(look, heading, &plan.beside, random).canvas,
    });
    let tones = sheet::tones(look);
    let sheet = Sheet {
        canvas: &canvas,
        holes: &holes,
        beside: beside.as_ref(),
    };
    let image = scan::scan(&sheet, look, &tones, &geometry, random);
    let seen = left_over(look, strip);
    let corners = |area: Option<Area>| {
        let area = area.map(|area| area.within(&seen));
        Corners(area.map(|area| geometry.corners(area)))
    };
    Drawn {
        image: quantised(image, look),
        truth: Truth {
            skew: (geometry.skew(strip) * 1e3).round() / 1e3,
            too_small: !typing.is_nothing() && x_height < READABLE,
            strip: corners(Some(strip)),
            heading: Corners(Some(geometry.corners(heading))),
            line1: corners(lines.first().copied()),
            line2: corners(lines.get(1).copied()),
            line3: corners(lines.get(2).copied()),
            ..Truth::planned(plan)
        },
        format: look.format,
    }
}

/// A sheet before it is scanned.
struct Upright {
    canvas: Canvas,
    /// The ink of each line.
    lines: Vec<Area>,
    /// The ink of all lines.
    typing: Area,
    x_height: f32,
    holes: Vec<Hole>,
}

fn upright(look: &Look, heading: Area, typed: &[String], random: &mut ChaCha8Rng) -> Upright {
    let mut canvas = Canvas::new(look.size.0, look.size.1);
    sheet::draw(&mut canvas, look, random);
    let (lines, x_height) = strike::strike(&mut canvas, look, heading, typed, random);
    let typing = lines
        .iter()
        .fold(Area::NOTHING, |all, line| all.union(line));
    damage::draw(&mut canvas, look, heading, random);
    let holes = fixings::draw(&mut canvas, look, (heading, typing), random);
    canvas.blur(look.scan.blur);
    Upright {
        canvas,
        lines,
        typing,
        x_height,
        holes,
    }
}

/// The image with as few levels as its scanner kept.
fn quantised(mut image: DynamicImage, look: &Look) -> DynamicImage {
    let levels = match look.format.depth {
        Depth::Bilevel => 2,
        Depth::Palette => u16::from(encode::PALETTE),
        Depth::Eight { levels } => levels,
        Depth::Twelve | Depth::Sixteen => 256,
    };
    if levels == 256 {
        return image;
    }
    let step = 255.0 / f32::from(levels - 1);
    let threshold = look.threshold();
    let kept: Vec<u8> = (0..=255u8)
        .map(|value| match look.format.depth {
            Depth::Bilevel => u8::from(f32::from(value) > threshold) * 255,
            _ => ((f32::from(value) / step).round() * step).round() as u8,
        })
        .collect();
    let quantise = |bytes: &mut [u8]| {
        bytes
            .iter_mut()
            .for_each(|byte| *byte = kept[usize::from(*byte)])
    };
    match &mut image {
        DynamicImage::ImageLuma8(image) => quantise(image),
        DynamicImage::ImageRgb8(image) => quantise(image),
        _ => unreachable!("scans are grey or RGB, eight bits"),
    }
    image
}
