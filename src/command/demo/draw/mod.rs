//! A planned sheet in, its image and truth out.
//!
//! The sheet is drawn upright at its final size, then scanned in one pass that turns, mirrors and leans it; so the
//! truth's corners are exact. Curl and perspective bend it on the way; corners are then those of the straight quadrilateral
//! that holds the bent area.

mod amend;
mod canvas;
mod cover;
mod damage;
mod encode;
mod fixings;
mod geometry;
mod grain;
mod hand;
mod pages;
mod pen;
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
use amend::Typed;
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
        typed,
        holes,
        marked,
    } = upright(look, heading, random, |canvas, random| {
        amend::typed(canvas, plan, heading, random)
    });
    let strip = typed.strip(heading, &canvas);
    let geometry = Geometry::new(look, heading, strip);
    let beside = look.scan.second.map(|second| {
        let typed = |canvas: &mut Canvas, random: &mut ChaCha8Rng| {
            let typing = strike::strike(canvas, look, heading, &plan.beside, random);
            Typed::of(typing, 0..plan.beside.len())
        };
        Beside {
            at: (
                second.right * canvas.width as f32,
                second.down * canvas.height as f32,
            ),
            canvas: upright(look, heading, random, typed).canvas,
        }
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
    let Typed {
        lines,
        typing,
        x_height,
        changed,
    } = typed;
    let planned = Truth::planned(plan);
    let amended = match planned.amended.as_str() {
        "" if marked && !typing.is_nothing() => "marked".to_owned(),
        _ => planned.amended.clone(),
    };
    Drawn {
        image: quantised(image, look),
        truth: Truth {
            skew: (geometry.skew(strip) * 1e3).round() / 1e3,
            too_small: !typing.is_nothing() && x_height < READABLE,
            amended,
            amended_at: corners((!changed.is_nothing()).then_some(changed)),
            strip: corners(Some(strip)),
            heading: Corners(Some(geometry.corners(heading))),
            line1: corners(lines.first().copied()),
            line2: corners(lines.get(1).copied()),
            line3: corners(lines.get(2).copied()),
            ..planned
        },
        format: look.format,
    }
}

/// A sheet as it is before it is scanned.
struct Upright {
    canvas: Canvas,
    typed: Typed,
    holes: Vec<Hole>,
    /// A tick or a stamp's ring runs into its typing.
    marked: bool,
}

/// Draws a sheet with what `type_on` types into its heading.
fn upright(
    look: &Look,
    heading: Area,
    random: &mut ChaCha8Rng,
    type_on: impl FnOnce(&mut Canvas, &mut ChaCha8Rng) -> Typed,
) -> Upright {
    let mut canvas = Canvas::new(look.size.0, look.size.1);
    sheet::draw(&mut canvas, look, random);
    let typed = type_on(&mut canvas, random);
    let strip = typed.strip(heading, &canvas);
    let marked = damage::draw(&mut canvas, look, heading, strip, random);
    let holes = fixings::draw(&mut canvas, look, (heading, typed.typing), random);
    canvas.blur(look.scan.blur);
    Upright {
        canvas,
        typed,
        holes,
        marked,
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
