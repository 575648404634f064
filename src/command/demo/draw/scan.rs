//! The scanner: turns, mirrors and leans the sheet on its bed, lights it unevenly, adds grain.

use super::canvas::Canvas;
use super::fixings::Hole;
use super::geometry::Geometry;
use super::grain::{CLUMPY, DEVIATION, FINE, SIDE};
use super::sheet::RowTone;
use crate::command::demo::look::{Look, Scan, Tone, luma};
use image::{DynamicImage, GrayImage, RgbImage};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// Pixels of an image row between which a sheet's bend is taken for straight: it is, within a hundredth of a pixel.
const RUN: usize = 16;

/// Another sheet in the scan, and where its top left corner is on the first one's plane, in pixels.
pub struct Beside {
    pub canvas: Canvas,
    pub at: (f32, f32),
}

/// What is scanned.
pub struct Sheet<'a> {
    pub canvas: &'a Canvas,
    pub holes: &'a [Hole],
    pub beside: Option<&'a Beside>,
}

/// Scans the sheet, and any other beside or under it. `tones` gives ink and ground for each of its rows.
pub fn scan(
    sheet: &Sheet,
    look: &Look,
    tones: &[RowTone],
    geometry: &Geometry,
    random: &mut ChaCha8Rng,
) -> DynamicImage {
    let (width, height) = (geometry.width as u32, geometry.height as u32);
    if look.colour {
        let pixels = expose::<3>(sheet, look, tones, geometry, random);
        RgbImage::from_raw(width, height, pixels)
            .expect("as many pixels as asked")
            .into()
    } else {
        let pixels = expose::<1>(sheet, look, tones, geometry, random);
        GrayImage::from_raw(width, height, pixels)
            .expect("as many pixels as asked")
            .into()
    }
}

/// The image's bytes, `CHANNELS` a pixel.
fn expose<const CHANNELS: usize>(
    sheet: &Sheet,
    look: &Look,
    tones: &[RowTone],
    geometry: &Geometry,
    random: &mut ChaCha8Rng,
) -> Vec<u8> {
    let scan = &look.scan;
    let canvas = sheet.canvas;
    let (width, height) = (geometry.width, geometry.height);
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
    let on_sheet =
        |at: (f32, f32)| covers(canvas, look, at) && !sheet.holes.iter().any(|hole| hole.holds(at));
    let under = |x: usize, y: usize| {
        let beside = sheet.beside?;
        let (u, v) = geometry.flat_place(x as f32, y as f32);
        let at = (u - beside.at.0, v - beside.at.1);
        covers(&beside.canvas, look, at).then(|| sheet_shade(&beside.canvas, at))
    };
    let (fine, clumps) = (scan.grain / DEVIATION, scan.clumps / DEVIATION);
    let offsets: [usize; 4] = std::array::from_fn(|_| random.random_range(0..SIDE));
    let light = Light::new(look, width, height);

    let mut pixels = vec![0u8; width * height * CHANNELS];
    for (y, row) in pixels.chunks_exact_mut(width * CHANNELS).enumerate() {
        let (fine_row, clumpy_row) = (FINE.row(y + offsets[1]), CLUMPY.row(y + offsets[3]));
        for (run, pixels) in row.chunks_mut(RUN * CHANNELS).enumerate() {
            let (start, length) = (run * RUN, pixels.len() / CHANNELS);
            let (u, v) = geometry.sheet_place(start as f32, y as f32);
            let end = geometry.sheet_place((start + length) as f32, y as f32);
            let (du, dv) = ((end.0 - u) / length as f32, (end.1 - v) / length as f32);
            let place = |step: usize| (u + du * step as f32, v + dv * step as f32);
            // Holes apart a sheet has no dents, so that what lies between two of its places lies on it.
            let last = place(length - 1);
            let mut holes = sheet.holes.iter();
            let inside = covers(canvas, look, (u, v))
                && covers(canvas, look, last)
                && !holes.any(|hole| hole.meets((u, v), last));
            let (light, glow) = light.run(start, start + length, y);
            for (step, pixel) in pixels.chunks_exact_mut(CHANNELS).enumerate() {
                let x = start + step;
                let grain = f32::from(fine_row[(x + offsets[0]) % SIDE]) * fine
                    + f32::from(clumpy_row[(x + offsets[2]) % SIDE]) * clumps;
                let at = place(step);
                let shade = if inside || on_sheet(at) {
                    sheet_shade(canvas, at)
                } else if let Some(shade) = under(x, y) {
                    shade
                } else if bed_end(x, y) {
                    beyond
                } else {
                    bed
                };
                for (byte, shade) in pixel.iter_mut().zip(shade) {
                    let lit = shade * light.at(step) + glow.at(step);
                    *byte = (lit + grain + 0.5) as u8;
                }
            }
        }
    }
    pixels
}

/// A quantity that changes evenly along a run.
#[derive(Clone, Copy)]
struct Slope {
    start: f32,
    step: f32,
}

impl Slope {
    fn at(&self, step: usize) -> f32 {
        self.start + self.step * step as f32
    }
}

/// The scanner's light over the image.
struct Light<'a> {
    scan: &'a Scan,
    size: (f32, f32),
    /// Change of light a pixel to the right and downwards.
    gradient: (f32, f32),
    /// Light lost, a squared pixel from the middle.
    fall: f32,
}

impl<'a> Light<'a> {
    fn new(look: &'a Look, width: usize, height: usize) -> Self {
        let scan = &look.scan;
        let (width, height) = (width as f32, height as f32);
        let (sin, cos) = scan.gradient_turn.to_radians().sin_cos();
        Self {
            scan,
            size: (width, height),
            gradient: (cos * scan.gradient / width, sin * scan.gradient / height),
            fall: scan.vignette * 4.0 / (width * width + height * height),
        }
    }

    /// Share of full light, and grey levels of leaked light, from one column of a row to another.
    fn run(&self, from: usize, to: usize, y: usize) -> (Slope, Slope) {
        let (start, end) = (self.at(from, y), self.at(to, y));
        let slope = |start: f32, end: f32| Slope {
            start,
            step: (end - start) / (to - from) as f32,
        };
        (slope(start.0, end.0), slope(start.1, end.1))
    }

    fn at(&self, x: usize, y: usize) -> (f32, f32) {
        let (width, height) = self.size;
        let (x, y) = (x as f32, y as f32);
        let (across, down) = (x - width / 2.0, y - height / 2.0);
        let mut light = 1.0 + self.gradient.0 * across + self.gradient.1 * down
            - self.fall * (across * across + down * down);
        let along = |lies: bool| {
            if lies {
                (y / height, x / width)
            } else {
                (x / width, y / height)
            }
        };
        if let Some(waver) = self.scan.waver {
            let turn = along(waver.lies).0 * waver.count * 360.0 + waver.phase;
            light += waver.strength * turn.to_radians().sin();
        }
        let glow = self.scan.leaks.iter().map(|leak| {
            let (across, along) = along(leak.lies);
            let from_middle = (across - leak.at - leak.slant * along) / leak.width;
            leak.strength * (-from_middle * from_middle / 2.0).exp()
        });
        (light, glow.sum())
    }
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

/// A colour in one channel (its luma) or three.
fn channels<const CHANNELS: usize>(colour: [f32; 3]) -> [f32; CHANNELS] {
    std::array::from_fn(|channel| {
        if CHANNELS == 1 {
            luma(colour)
        } else {
            colour[channel]
        }
    })
}
