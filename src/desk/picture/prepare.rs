//! A strip's image made ready for cells: even light once, then for each size Lanczos, sharpened, stretched.

use image::imageops::{self, FilterType};
use image::{GrayImage, Luma};

/// Side of the squares by which uneven light is measured, in pixels: higher than a typed character.
const SQUARE: u32 = 64;

/// The grey that even ground is brought to.
const GROUND: f32 = 240.0;

/// Evens the light out: every pixel by the ground round it, which is what a square's lighter pixels have.
pub(super) fn flat_field(image: &GrayImage) -> GrayImage {
    let (width, height) = image.dimensions();
    if width == 0 || height == 0 {
        return image.clone();
    }
    let (across, down) = (width.div_ceil(SQUARE), height.div_ceil(SQUARE));
    let ground = GrayImage::from_fn(across, down, |x, y| {
        /// Share of a square's pixels that are darker than its ground; type covers less than a third.
        const DARKER: f64 = 0.75;
        let (left, top) = (x * SQUARE, y * SQUARE);
        let (right, bottom) = ((left + SQUARE).min(width), (top + SQUARE).min(height));
        let mut counts = [0u32; 256];
        for y in top..bottom {
            let row = (y * width) as usize;
            for &value in &image.as_raw()[row + left as usize..row + right as usize] {
                counts[usize::from(value)] += 1;
            }
        }
        Luma([share_below(&counts, DARKER).max(1)])
    });
    let ground = imageops::resize(&ground, width, height, FilterType::Triangle);
    let even = image.as_raw().iter().zip(ground.as_raw());
    let even = even.map(|(&value, &ground)| {
        (f32::from(value) * GROUND / f32::from(ground.max(1))).min(255.0) as u8
    });
    GrayImage::from_raw(width, height, even.collect()).expect("one byte a pixel")
}

/// The value that a share of the pixels lies below.
fn share_below(counts: &[u32; 256], share: f64) -> u8 {
    let all: u32 = counts.iter().sum();
    let mut left = (share * f64::from(all)) as u32;
    for (value, &count) in (0..=255u8).zip(counts) {
        if count > left {
            return value;
        }
        left -= count;
    }
    255
}

/// The picture at another size, its strokes sharpened; 24 pieces of type were read best after this of five filters
/// (see `Mode::cells_a_character`; darkening or keeping the darkest dots made them worse).
pub(super) fn resized(image: &GrayImage, width: u32, height: u32) -> GrayImage {
    /// How much of what a blur takes away is put on top.
    const SHARPER: f32 = 0.7;
    /// Of that blur, in dots.
    const SIGMA: f32 = 1.0;
    let small = imageops::resize(image, width.max(1), height.max(1), FilterType::Lanczos3);
    let soft = imageops::blur(&small, SIGMA);
    let sharp = small
        .as_raw()
        .iter()
        .zip(soft.as_raw())
        .map(|(&value, &soft)| {
            let (value, soft) = (f32::from(value), f32::from(soft));
            (value + SHARPER * (value - soft)).clamp(0.0, 255.0) as u8
        });
    GrayImage::from_raw(small.width(), small.height(), sharp.collect()).expect("one byte a dot")
}

/// Greys that become black and white: what 1 % and 60 % of the dots lie below. Ground is most of a strip, so all of it
/// turns white, and white cells need no bytes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Levels {
    black: f32,
    white: f32,
}

impl Levels {
    pub(super) fn of(image: &GrayImage) -> Self {
        const BLACK: f64 = 0.01;
        const WHITE: f64 = 0.6;
        /// Least distance: an empty strip's grain is not stretched to look like type.
        const LEAST: f32 = 40.0;
        let mut counts = [0; 256];
        for &value in image.as_raw() {
            counts[usize::from(value)] += 1;
        }
        let white = f32::from(share_below(&counts, WHITE));
        let black = f32::from(share_below(&counts, BLACK));
        Self {
            black: black.min(white - LEAST).max(0.0),
            white: white.max(LEAST),
        }
    }

    pub(super) fn stretch(self, image: &mut GrayImage) {
        let span = (self.white - self.black).max(1.0);
        for value in image.iter_mut() {
            *value = ((f32::from(*value) - self.black) / span * 255.0).clamp(0.0, 255.0) as u8;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn uneven_light_is_evened_out_and_ink_stays_dark() {
        let image = GrayImage::from_fn(640, 128, |x, y| {
            let light = 100.0 + 0.2 * x as f32;
            let is_ink = x % 20 < 4 && (40..80).contains(&y);
            Luma([(if is_ink { 0.3 * light } else { light }) as u8])
        });
        let even = flat_field(&image);
        let at = |x, y| even.get_pixel(x, y).0[0];
        for x in [30, 310, 630] {
            assert!((225..=255).contains(&at(x, 10)), "{}", at(x, 10));
        }
        for x in [21, 301, 621] {
            assert!(at(x, 60) < 90, "{}", at(x, 60));
        }
    }

    #[test]
    fn odd_images_do_no_harm() {
        for (width, height) in [(0, 0), (1, 1), (3, 500), (5000, 1)] {
            let image = GrayImage::from_pixel(width, height, Luma([0]));
            let even = flat_field(&image);
            assert_eq!(even.dimensions(), (width, height));
            if width > 0 {
                let mut small = resized(&even, 7, 9);
                Levels::of(&even).stretch(&mut small);
                assert_eq!(small.dimensions(), (7, 9));
            }
        }
    }
}
