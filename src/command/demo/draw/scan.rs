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
use std::ops::Range;

/// Pixels of an image row between which a sheet's bend is taken for straight: it is, within a hundredth of a pixel.
const RUN: usize = 32;

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
    let shades = |tone: Tone| -> Shades<CHANNELS> {
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
    let toned = Toned { rows, body };
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
        covers(&beside.canvas, look, at).then(|| toned.shade(&beside.canvas, at))
    };
    let (fine, clumps) = (scan.grain / DEVIATION, scan.clumps / DEVIATION);
    let offsets: [usize; 4] = std::array::from_fn(|_| random.random_range(0..SIDE));
    let light = Light::new(look, width, height);

    let mut pixels = vec![0u8; width * height * CHANNELS];
    for (y, row) in pixels.chunks_exact_mut(width * CHANNELS).enumerate() {
        let (fine_row, clumpy_row) = (FINE.row(y + offsets[1]), CLUMPY.row(y + offsets[3]));
        // Where a run begins: on the sheet, whether that is within it, its light.
        let begin = |x: usize| {
            let at = geometry.sheet_place(x as f32, y as f32);
            (at, covers(canvas, look, at), light.at(x, y))
        };
        let mut next = begin(0);
        for (run, pixels) in row.chunks_mut(RUN * CHANNELS).enumerate() {
            let (start, length) = (run * RUN, pixels.len() / CHANNELS);
            let ((u, v), starts_inside, from) = next;
            next = begin(start + length);
            let (end, ends_inside, to) = next;
            let slope = |start: f32, end: f32| Slope {
                start,
                step: (end - start) / length as f32,
            };
            let place = (slope(u, end.0), slope(v, end.1));
            let (light, glow) = (slope(from.0, to.0), slope(from.1, to.1));
            // Holes apart a sheet has no dents, so that what lies between two of its places lies on it.
            let mut holes = sheet.holes.iter();
            let inside = starts_inside && ends_inside && !holes.any(|hole| hole.meets((u, v), end));
            // Most runs lie within the sheet, where nothing has to be asked for each pixel.
            let mut shades = [[0.0; CHANNELS]; RUN];
            for (step, shade) in shades[..length].iter_mut().enumerate() {
                let at = (place.0.at(step), place.1.at(step));
                *shade = if inside || on_sheet(at) {
                    toned.shade(canvas, at)
                } else if let Some(shade) = under(start + step, y) {
                    shade
                } else if bed_end(start + step, y) {
                    beyond
                } else {
                    bed
                };
            }
            for (step, pixel) in pixels.chunks_exact_mut(CHANNELS).enumerate() {
                let x = start + step;
                let grain = f32::from(fine_row[(x + offsets[0]) % SIDE]) * fine
                    + f32::from(clumpy_row[(x + offsets[2]) % SIDE]) * clumps;
                let (light, added) = (light.at(step), glow.at(step) + grain + 0.5);
                for (byte, shade) in pixel.iter_mut().zip(shades[step]) {
                    *byte = (shade * light + added) as u8;
                }
            }
        }
    }
    pixels
}

/// Ground, and what full ink adds to it.
type Shades<const CHANNELS: usize> = ([f32; CHANNELS], [f32; CHANNELS]);

/// The tones of a sheet's rows within their columns, and of the body beside them.
struct Toned<const CHANNELS: usize> {
    rows: Vec<(Shades<CHANNELS>, Range<usize>)>,
    body: Shades<CHANNELS>,
}

impl<const CHANNELS: usize> Toned<CHANNELS> {
    /// The shade of a sheet between its pixels.
    #[inline(always)] // Called for every pixel of an image: most of the time of drawing it.
    fn shade(&self, canvas: &Canvas, (su, sv): (f32, f32)) -> [f32; CHANNELS] {
        let (column, line) = (su as usize, sv as usize);
        let (fx, fy) = (su - column as f32, sv - line as f32);
        let at = line * canvas.width + column;
        let taps = &canvas.pixels[at..at + canvas.width + 2];
        let tap = |index: usize| f32::from(taps[index]);
        let upper = tap(0) + (tap(1) - tap(0)) * fx;
        let lower = tap(canvas.width) + (tap(canvas.width + 1) - tap(canvas.width)) * fx;
        let ink = 255.0 - (upper + (lower - upper) * fy);
        let (shades, columns) = &self.rows[line];
        let (ground, added) = if columns.contains(&column) {
            shades
        } else {
            &self.body
        };
        std::array::from_fn(|c| ground[c] + added[c] * ink)
    }
}

/// A quantity that changes evenly along a run.
#[derive(Clone, Copy)]
struct Slope {
    start: f32,
    step: f32,
}

impl Slope {
    #[inline(always)] // As above.
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

    /// Share of full light, and grey levels of leaked light.
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
