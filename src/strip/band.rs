//! The colour of the band behind the text.

use super::clean::INK_BELOW;
use super::cut::Placement;
use image::{GrayImage, RgbImage};

/// The mean colour behind the text, where it is a colour.
pub fn band(colour: &RgbImage, strip: &GrayImage, placement: Placement) -> Option<[u8; 3]> {
    /// Largest less smallest of red, green and blue from which paper counts as coloured.
    const LEAST_CHROMA: f64 = 28.0;
    let (mut sums, mut count) = ([0f64; 3], 0f64);
    for (x, y, pixel) in strip.enumerate_pixels() {
        if x % 3 != 0 || y % 3 != 0 || pixel.0[0] < INK_BELOW {
            continue;
        }
        let at = placement.to_source(f64::from(x), f64::from(y));
        if at.x < 0.0 || at.y < 0.0 {
            continue;
        }
        if let Some(pixel) = colour.get_pixel_checked(at.x.round() as u32, at.y.round() as u32) {
            for (sum, &value) in sums.iter_mut().zip(&pixel.0) {
                *sum += f64::from(value);
            }
            count += 1.0;
        }
    }
    let mean = sums.map(|sum| sum / count.max(1.0));
    let chroma =
        mean.iter().copied().fold(0.0, f64::max) - mean.iter().copied().fold(255.0, f64::min);
    (count > 0.0 && chroma >= LEAST_CHROMA).then(|| mean.map(|value| value.round() as u8))
}
