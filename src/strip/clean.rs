//! Even paper, full contrast, dark on light.

use super::ink::{Polarity, detail, filter, histogram, percentile};
use crate::value::Bounds;
use image::{GrayImage, imageops};

/// Grey value of paper on a cleaned strip.
pub const PAPER: u8 = 245;
/// Grey value that the darker half of the ink comes to lie at.
const INK: f64 = 45.0;
/// On a cleaned strip, darker than this is ink: half way between the two.
pub const INK_BELOW: u8 = 150;

/// Window over which the paper's brightness is followed, in letter heights: wider than a clogged letter's strokes.
const PAPER_WINDOW: f64 = 0.7;

/// Turns light on dark round, evens the paper out, and stretches the contrast.
///
/// The paper is the morphological closing of the picture: it follows the edge of a band, a stripe or the bed exactly,
/// which brightness averaged over areas does not. `zone` is where on the piece type is expected: it sets the contrast,
/// so that pictures beside it do not. `letter` is the letter height in pixels.
pub fn clean(mut piece: GrayImage, polarity: Polarity, zone: Bounds, letter: f64) -> GrayImage {
    if polarity == Polarity::LightOnDark {
        imageops::invert(&mut piece);
    }
    let window = (PAPER_WINDOW * letter).max(5.0) as usize;
    let mut strength = detail(&piece, Polarity::DarkOnLight, window);
    let (grain, gain) = contrast(&strength, zone);
    for value in strength.as_mut() {
        let ink = (f64::from(*value) - grain) * gain;
        *value = (f64::from(PAPER) - ink).clamp(0.0, 255.0) as u8;
    }
    weaken(&mut strength, letter);
    strength
}

/// Turns to paper what is fainter than worn type and has no ink beside it: the type of the back, grain.
///
/// How much of a pixel stays depends on the darkest one near it, so that a stroke keeps its soft edge.
fn weaken(cleaned: &mut GrayImage, letter: f64) {
    /// Grey of the darkest pixel nearby from which all goes, and up to which all stays: a quarter and half of the way
    /// from paper to ink. Type that shows through has a tenth to a quarter.
    const GONE: f64 = 195.0;
    const KEPT: f64 = 145.0;
    /// Half the width of what counts as near, in letter heights: a stroke's soft edge.
    const NEAR: f64 = 0.08;
    let near = 2 * (NEAR * letter).ceil() as usize + 1;
    let darkest = filter(cleaned.as_raw(), cleaned.width(), near, |a, b| a.min(b));
    let shares: Vec<u32> = (0..256)
        .map(|grey| (256.0 * ((GONE - f64::from(grey)) / (GONE - KEPT)).clamp(0.0, 1.0)) as u32)
        .collect();
    for (value, darkest) in cleaned.as_mut().iter_mut().zip(darkest) {
        let ink = (u32::from(PAPER.saturating_sub(*value)) * shares[usize::from(darkest)]) >> 8;
        *value = (*value).max(PAPER - ink as u8);
    }
}

/// The strength of the paper's grain in the zone, and the gain that brings ink to its grey.
fn contrast(strength: &GrayImage, zone: Bounds) -> (f64, f64) {
    /// Most that faint ink is strengthened.
    const MOST: f64 = 9.0;
    /// Grey levels that the grain may grow to.
    const MOST_GRAIN: f64 = 70.0;
    let zone =
        imageops::crop_imm(strength, zone.left, zone.top, zone.width(), zone.height()).to_image();
    let counts = histogram(zone.as_raw());
    let grain = f64::from(percentile(&counts, 0.5));
    let split = usize::from(imageproc::contrast::otsu_level(&zone));
    let mut inked = [0u32; 256];
    inked[split..].copy_from_slice(&counts[split..]);
    let ink = f64::from(percentile(&inked, 0.5));
    let gain = (f64::from(PAPER) - INK) / (ink - grain).max(1.0);
    (grain, gain.min(MOST).min(MOST_GRAIN / grain.max(1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    #[test]
    fn the_threshold_is_otsu_s() {
        // scikit-image 0.26.0: threshold_otsu(data.camera()) is 102; see the README beside the picture.
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/tests/data/published/scikit-image/camera.png"
        );
        let camera = image::open(path)
            .expect("the picture lies there")
            .into_luma8();
        assert_eq!(imageproc::contrast::otsu_level(&camera), 102);
    }

    /// Strokes on paper whose light falls off, above a darker body.
    fn shaded(ink: f64, light: bool) -> GrayImage {
        GrayImage::from_fn(400, 120, |x, y| {
            let paper = if y < 80 {
                230.0 - f64::from(x) * 0.2
            } else {
                90.0
            };
            let stroke = y > 30 && y < 60 && x % 20 < 4;
            let value = if stroke { paper * ink } else { paper };
            Luma([if light {
                255 - value as u8
            } else {
                value as u8
            }])
        })
    }

    #[test]
    fn ink_and_paper_come_out_alike_whatever_they_were() {
        let zone = Bounds::new(0, 25, 400, 65);
        for (ink, light) in [(0.2, false), (0.6, false), (0.8, false), (0.3, true)] {
            let polarity = if light {
                Polarity::LightOnDark
            } else {
                Polarity::DarkOnLight
            };
            let cleaned = clean(shaded(ink, light), polarity, zone, 30.0);
            for x in (0..400).step_by(20) {
                let (stroke, paper) = (
                    cleaned.get_pixel(x + 2, 45).0[0],
                    cleaned.get_pixel(x + 12, 45).0[0],
                );
                assert!(
                    stroke < 110,
                    "ink {ink}, light {light}: a stroke of {stroke} at {x}"
                );
                assert!(
                    paper > PAPER - 10,
                    "ink {ink}, light {light}: paper of {paper} at {x}"
                );
            }
            let edge = cleaned.get_pixel(311, 78).0[0];
            assert!(
                edge > PAPER - 10,
                "the band's edge casts a shadow of {edge}"
            );
        }
    }

    #[test]
    fn type_that_shows_through_goes_and_soft_edges_stay() {
        let zone = Bounds::new(0, 25, 400, 65);
        let mut sheet = shaded(0.3, false);
        for y in 30..60 {
            for x in (0..400).step_by(20) {
                // A soft edge beside the stroke, and a stroke of the back between two.
                for (off, ink) in [(4, 0.75), (10, 0.9), (11, 0.87), (12, 0.9)] {
                    let pixel = sheet.get_pixel_mut(x + off, y);
                    pixel.0[0] = (f64::from(pixel.0[0]) * ink) as u8;
                }
            }
        }
        let cleaned = clean(sheet, Polarity::DarkOnLight, zone, 30.0);
        for x in (20..380).step_by(20) {
            let at = |off: u32| cleaned.get_pixel(x + off, 45).0[0];
            assert!(at(4) < PAPER - 30, "a soft edge of {} at {x}", at(4));
            assert!(at(11) > PAPER - 5, "the back's stroke of {} at {x}", at(11));
        }
    }
}
