//! The scanner: turns, mirrors and leans the sheet on its bed, lights it unevenly, adds grain.

use super::canvas::{Area, Canvas};
use super::grain::{CLUMPY, DEVIATION, FINE, SIDE};
use super::sheet::RowTone;
use crate::command::demo::look::{Look, Tone};
use crate::value::{Point, Quad};
use image::{DynamicImage, GrayImage, RgbImage};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// Pixels of the image kept beyond the typing, whatever the margins say.
const KEPT: f32 = 6.0;

/// An affine map from sheet to image pixels: `x' = a x + b y + c`, `y' = d x + e y + f`.
#[derive(Debug, Clone, Copy)]
pub struct Geometry {
    map: [f64; 6],
    pub width: usize,
    pub height: usize,
}

impl Geometry {
    /// Places the sheet, so that `typing` is on the image whatever the margins.
    pub fn new(look: &Look, typing: Area) -> Self {
        let scan = &look.scan;
        let (width, height) = (look.size.0 as f64, look.size.1 as f64);
        let (sin, cos) = f64::from(scan.skew).to_radians().sin_cos();
        let (shear, stretch) = (f64::from(scan.shear), 1.0 + f64::from(scan.stretch));
        // Clockwise on an image whose y grows downwards: (x, y) -> (x cos - y sin, x sin + y cos).
        let mut map = [
            cos,
            (shear * cos - sin) * stretch,
            0.0,
            sin,
            (shear * sin + cos) * stretch,
            0.0,
        ];
        let turn = if scan.turned { -1.0 } else { 1.0 };
        let mirror = if scan.mirrored { -1.0 } else { 1.0 };
        for (value, sign) in
            map.iter_mut()
                .zip([turn * mirror, turn * mirror, 1.0, turn, turn, 1.0])
        {
            *value *= sign;
        }
        let mut geometry = Self {
            map,
            width: 0,
            height: 0,
        };
        let whole = Area {
            left: 0.0,
            top: 0.0,
            right: width as f32,
            bottom: height as f32,
        };
        let sheet = geometry.corners(whole).extent();
        let typing = geometry.corners(typing).extent();
        let margin = |index: usize| f64::from(scan.margins[index]) * width;
        let kept = f64::from(KEPT);
        let left = (sheet.0 - margin(0)).min(typing.0 - kept);
        let top = (sheet.1 - margin(1)).min(typing.1 - kept);
        let right = (sheet.2 + margin(2)).max(typing.2 + kept);
        let bottom = (sheet.3 + margin(3)).max(typing.3 + kept);
        geometry.map[2] = -left;
        geometry.map[5] = -top;
        geometry.width = (right - left).ceil() as usize;
        geometry.height = (bottom - top).ceil() as usize;
        geometry
    }

    /// An area's corners on the image, in the area's own reading order.
    pub fn corners(&self, area: Area) -> Quad {
        let [a, b, c, d, e, f] = self.map;
        let place = |x: f32, y: f32| {
            let (x, y) = (f64::from(x), f64::from(y));
            Point {
                x: a * x + b * y + c,
                y: d * x + e * y + f,
            }
        };
        Quad([
            place(area.left, area.top),
            place(area.right, area.top),
            place(area.right, area.bottom),
            place(area.left, area.bottom),
        ])
    }

    /// From image to sheet pixels.
    fn inverse(&self) -> [f64; 6] {
        let [a, b, c, d, e, f] = self.map;
        let determinant = a * e - b * d;
        [
            e / determinant,
            -b / determinant,
            (b * f - e * c) / determinant,
            -d / determinant,
            a / determinant,
            (d * c - a * f) / determinant,
        ]
    }
}

/// Scans the sheet. `tones` gives ink and ground for each of its rows.
pub fn scan(
    canvas: &Canvas,
    look: &Look,
    tones: &[RowTone],
    geometry: &Geometry,
    random: &mut ChaCha8Rng,
) -> DynamicImage {
    let (width, height) = (geometry.width as u32, geometry.height as u32);
    if look.colour {
        let pixels = expose::<3>(canvas, look, tones, geometry, random);
        RgbImage::from_raw(width, height, pixels)
            .expect("as many pixels as asked")
            .into()
    } else {
        let pixels = expose::<1>(canvas, look, tones, geometry, random);
        GrayImage::from_raw(width, height, pixels)
            .expect("as many pixels as asked")
            .into()
    }
}

/// The image's bytes, `CHANNELS` a pixel.
fn expose<const CHANNELS: usize>(
    canvas: &Canvas,
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
        let inside = on_sheet(canvas, look, (u, v), (du, dv), width);
        let (fine_row, clumpy_row) = (FINE.row(y + offsets[1]), CLUMPY.row(y + offsets[3]));
        let from_middle = y as f32 - middle_y;
        let light_start = 1.0 + gy * from_middle - fall * from_middle * from_middle;
        for (x, pixel) in row.chunks_exact_mut(CHANNELS).enumerate() {
            let across = x as f32 - middle_x;
            let light = light_start + gx * across - fall * across * across;
            let grain = f32::from(fine_row[(x + offsets[0]) % SIDE]) * fine
                + f32::from(clumpy_row[(x + offsets[2]) % SIDE]) * clumps;
            let shade = if inside.contains(&x) {
                let (su, sv) = (u + du * x as f32, v + dv * x as f32);
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
            } else if bed_end(x, y) {
                beyond
            } else {
                bed
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

/// A colour in one channel (its luma, Rec. 601) or three.
fn channels<const CHANNELS: usize>(colour: [f32; 3]) -> [f32; CHANNELS] {
    let luma = 0.299 * colour[0] + 0.587 * colour[1] + 0.114 * colour[2];
    std::array::from_fn(|channel| if CHANNELS == 1 { luma } else { colour[channel] })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::demo::{Collection, Settings};

    /// As [`Quad`] says: corners in the strip's own reading order, wherever that puts them on the image.
    #[test]
    fn corners_follow_turn_mirror_and_skew() {
        let mut look = Collection::new(Settings::default()).sheet(0).look;
        let area = Area {
            left: 100.0,
            top: 50.0,
            right: 900.0,
            bottom: 120.0,
        };
        for (turned, mirrored, first_is_right, first_is_low) in [
            (false, false, false, false),
            (true, false, true, true),
            (false, true, true, false),
            (true, true, false, true),
        ] {
            look.scan.turned = turned;
            look.scan.mirrored = mirrored;
            look.scan.skew = 1.0;
            let geometry = Geometry::new(&look, area);
            let Quad([first, second, third, _]) = geometry.corners(area);
            assert_eq!(first.x > second.x, first_is_right);
            assert_eq!(first.y > third.y, first_is_low);
            // Undone turn and mirror leave a line that falls to the right: clockwise.
            let run = (second.x - first.x) * if turned != mirrored { -1.0 } else { 1.0 };
            let fall = (second.y - first.y) * if turned { -1.0 } else { 1.0 };
            assert!(((fall / run).atan().to_degrees() - 1.0).abs() < 1e-3);
            let inverse = geometry.inverse();
            let back = inverse[0] * first.x + inverse[1] * first.y + inverse[2];
            assert!((back - 100.0).abs() < 1e-6);
        }
    }
}
