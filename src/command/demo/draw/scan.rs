//! The scanner: turns, mirrors and leans the sheet on its bed, lights it unevenly, adds grain.

use super::canvas::Canvas;
use super::geometry::Geometry;
use super::grain::{CLUMPY, DEVIATION, FINE, SIDE};
use super::sheet::RowTone;
use crate::command::demo::look::{Look, Tone};
use image::{DynamicImage, GrayImage, RgbImage};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// Another sheet in the scan, and where its top left corner is on the first one's plane, in pixels.
pub struct Beside {
    pub canvas: Canvas,
    pub at: (f32, f32),
}

/// Scans the sheet, and any other beside or under it. `tones` gives ink and ground for each of its rows.
pub fn scan(
    canvas: &Canvas,
    beside: Option<&Beside>,
    look: &Look,
    tones: &[RowTone],
    geometry: &Geometry,
    random: &mut ChaCha8Rng,
) -> DynamicImage {
    let (width, height) = (geometry.width as u32, geometry.height as u32);
    if look.colour {
        let pixels = expose::<3>(canvas, beside, look, tones, geometry, random);
        RgbImage::from_raw(width, height, pixels)
            .expect("as many pixels as asked")
            .into()
    } else {
        let pixels = expose::<1>(canvas, beside, look, tones, geometry, random);
        GrayImage::from_raw(width, height, pixels)
            .expect("as many pixels as asked")
            .into()
    }
}

/// The image's bytes, `CHANNELS` a pixel.
fn expose<const CHANNELS: usize>(
    canvas: &Canvas,
    beside: Option<&Beside>,
    look: &Look,
    tones: &[RowTone],
    geometry: &Geometry,
    random: &mut ChaCha8Rng,
) -> Vec<u8> {
    let scan = &look.scan;
    let (width, height) = (geometry.width, geometry.height);
    let inverse = geometry.inverse();
    // Per sheet row: ground, and what full ink adds to it.
    let shades = |tone: Tone| -> ([f32; CHANNELS], [f32; CHANNELS]) {
        let ground = channels::<CHANNELS>(tone.ground);
        let ink = channels::<CHANNELS>(tone.ink);
        (
            ground,
            std::array::from_fn(|c| (ink[c] - ground[c]) / 255.0),
        )
    };
    let body = shades(look.body_tone);
    let rows: Vec<_> = tones
        .iter()
        .map(|row| (shades(row.tone), row.columns.clone()))
        .collect();
    // The shade of a sheet between its pixels.
    let sheet_shade = |canvas: &Canvas, (su, sv): (f32, f32)| -> [f32; CHANNELS] {
        let (column, line) = (su as usize, sv as usize);
        let (fx, fy) = (su - column as f32, sv - line as f32);
        let at = line * canvas.width + column;
        let taps = &canvas.pixels[at..at + canvas.width + 2];
        let tap = |index: usize| f32::from(taps[index]);
        let upper = tap(0) + (tap(1) - tap(0)) * fx;
        let lower = tap(canvas.width) + (tap(canvas.width + 1) - tap(canvas.width)) * fx;
        let ink = 255.0 - (upper + (lower - upper) * fy);
        let (shades, columns) = &rows[line];
        let (ground, added) = if columns.contains(&column) {
            shades
        } else {
            &body
        };
        std::array::from_fn(|c| ground[c] + added[c] * ink)
    };
    let bed = channels::<CHANNELS>([scan.bed; 3]);
    let beyond = channels::<CHANNELS>([scan.bed_end.map_or(0.0, |(_, _, grey)| grey); 3]);
    let bed_end = |x: usize, y: usize| match scan.bed_end {
        None => false,
        Some((side, share, _)) => {
            let place = [x, y, width - 1 - x, height - 1 - y][side];
            (place as f32) < share * width as f32
        }
    };
    let (fine, clumps) = (scan.grain / DEVIATION, scan.clumps / DEVIATION);
    let offsets: [usize; 4] = std::array::from_fn(|_| random.random_range(0..SIDE));
    let (gx, gy) = {
        let (sin, cos) = scan.gradient_turn.to_radians().sin_cos();
        (
            cos * scan.gradient / width as f32,
            sin * scan.gradient / height as f32,
        )
    };
    let (middle_x, middle_y) = (width as f32 / 2.0, height as f32 / 2.0);
    let fall = scan.vignette / (middle_x * middle_x + middle_y * middle_y);

    let mut pixels = vec![0u8; width * height * CHANNELS];
    for (y, row) in pixels.chunks_exact_mut(width * CHANNELS).enumerate() {
        // Where this image row runs over the sheet: at (u, v) for x = 0, moving by (du, dv) a pixel.
        let (px, py) = (0.5, y as f64 + 0.5);
        let u = (inverse[0] * px + inverse[1] * py + inverse[2] - 0.5) as f32;
        let v = (inverse[3] * px + inverse[4] * py + inverse[5] - 0.5) as f32;
        let (du, dv) = (inverse[0] as f32, inverse[3] as f32);
        let inside = match geometry.warp {
            None => on_sheet(canvas, look, (u, v), (du, dv), width),
            Some(_) => 0..0,
        };
        let place = |x: usize| {
            let at = (u + du * x as f32, v + dv * x as f32);
            match geometry.warp {
                None => inside.contains(&x).then_some(at),
                Some(warp) => {
                    let at = warp.flatten(at.0, at.1);
                    covers(canvas, look, at).then_some(at)
                }
            }
        };
        let under = |x: usize| {
            let beside = beside?;
            let at = (
                u + du * x as f32 - beside.at.0,
                v + dv * x as f32 - beside.at.1,
            );
            covers(&beside.canvas, look, at).then(|| sheet_shade(&beside.canvas, at))
        };
        let (fine_row, clumpy_row) = (FINE.row(y + offsets[1]), CLUMPY.row(y + offsets[3]));
        let from_middle = y as f32 - middle_y;
        let light_start = 1.0 + gy * from_middle - fall * from_middle * from_middle;
        for (x, pixel) in row.chunks_exact_mut(CHANNELS).enumerate() {
            let across = x as f32 - middle_x;
            let light = light_start + gx * across - fall * across * across;
            let grain = f32::from(fine_row[(x + offsets[0]) % SIDE]) * fine
                + f32::from(clumpy_row[(x + offsets[2]) % SIDE]) * clumps;
            let shade = match place(x) {
                Some(at) => sheet_shade(canvas, at),
                None => under(x).unwrap_or(if bed_end(x, y) { beyond } else { bed }),
            };
            for (byte, shade) in pixel.iter_mut().zip(shade) {
                *byte = (shade * light + grain + 0.5) as u8;
            }
        }
    }
    pixels
}

/// The image columns of a row that lie on the sheet: within its edges and not beyond its cut corner.
fn on_sheet(
    canvas: &Canvas,
    look: &Look,
    (u, v): (f32, f32),
    (du, dv): (f32, f32),
    width: usize,
) -> std::ops::Range<usize> {
    let (right, bottom) = ((canvas.width - 2) as f32, (canvas.height - 2) as f32);
    let (mut first, mut last) = (0.0f32, width as f32);
    // Keeps the columns where `start + step * x >= 0`.
    let mut keep = |start: f32, step: f32| {
        if step.abs() < 1e-9 {
            if start < 0.0 {
                last = first;
            }
        } else if step > 0.0 {
            first = first.max((-start / step).ceil());
        } else {
            last = last.min((start / -step).floor());
        }
    };
    keep(u, du);
    keep(right - u, -du);
    keep(v, dv);
    keep(bottom - v, -dv);
    if let Some((share, on_right)) = look.cut {
        let length = share * canvas.width as f32;
        if on_right {
            keep(v - u + canvas.width as f32 - length, dv - du);
        } else {
            keep(u + v - length, du + dv);
        }
    }
    first as usize..(last.max(first) as usize)
}

/// A place lies on the sheet: within its edges and not beyond its cut corner.
fn covers(canvas: &Canvas, look: &Look, (u, v): (f32, f32)) -> bool {
    let (right, bottom) = ((canvas.width - 2) as f32, (canvas.height - 2) as f32);
    let cut = look.cut.is_some_and(|(share, on_right)| {
        let width = canvas.width as f32;
        let from_corner = if on_right { width - u } else { u };
        from_corner + v < share * width
    });
    (0.0..=right).contains(&u) && (0.0..=bottom).contains(&v) && !cut
}

/// A colour in one channel (its luma, Rec. 601) or three.
fn channels<const CHANNELS: usize>(colour: [f32; 3]) -> [f32; CHANNELS] {
    let luma = 0.299 * colour[0] + 0.587 * colour[1] + 0.114 * colour[2];
    std::array::from_fn(|channel| if CHANNELS == 1 { luma } else { colour[channel] })
}
