//! Colour to grey, and grey to the small working image on which things are found.

use crate::value::Point;
use image::{DynamicImage, GrayImage, RgbImage};
use std::borrow::Cow;

/// Longest side of the working image, in pixels.
///
/// A 300 dpi sheet of 148 mm comes down to 874 px, which leaves typed capitals 10 to 16 px high: enough to tell
/// type from specks, little enough to search both polarities in a few milliseconds.
const WORKING_SIDE: u32 = 1300;

/// The grey picture of an image: luminance by ITU-R BT.601 weights.
pub fn grey(image: &DynamicImage) -> Cow<'_, GrayImage> {
    match image {
        DynamicImage::ImageLuma8(grey) => Cow::Borrowed(grey),
        DynamicImage::ImageRgb8(colour) => Cow::Owned(luminance(colour)),
        other => Cow::Owned(luminance(&other.to_rgb8())),
    }
}

fn luminance(colour: &RgbImage) -> GrayImage {
    let luma = colour
        .as_raw()
        .chunks_exact(3)
        .map(|p| ((u32::from(p[0]) * 77 + u32::from(p[1]) * 150 + u32::from(p[2]) * 29) >> 8) as u8)
        .collect();
    GrayImage::from_raw(colour.width(), colour.height(), luma).expect("one byte a pixel")
}

/// A picture made smaller by a whole factor, each pixel the mean of a square of the source.
#[derive(Debug, Clone)]
pub struct Reduced {
    pub image: GrayImage,
    pub factor: u32,
}

impl Reduced {
    /// The place on the source that a place on the small picture stands for.
    pub fn to_source(&self, point: Point) -> Point {
        let factor = f64::from(self.factor);
        Point {
            x: (point.x + 0.5) * factor - 0.5,
            y: (point.y + 0.5) * factor - 0.5,
        }
    }
}

/// Reduces a grey picture until its longest side fits the working size.
pub fn reduce(grey: &GrayImage) -> Reduced {
    let factor = grey
        .width()
        .max(grey.height())
        .div_ceil(WORKING_SIDE)
        .max(1);
    reduce_by(grey, factor)
}

/// Reduces a grey picture by a whole factor; pixels left over at the right and bottom edges are dropped.
pub fn reduce_by(grey: &GrayImage, factor: u32) -> Reduced {
    let (width, height) = (
        (grey.width() / factor).max(1),
        (grey.height() / factor).max(1),
    );
    if factor == 1 || grey.width() < factor || grey.height() < factor {
        return Reduced {
            image: grey.clone(),
            factor: 1,
        };
    }
    let (factor_usize, row_length) = (factor as usize, grey.width() as usize);
    let mut out = Vec::with_capacity((width * height) as usize);
    let mut sums = vec![0u32; row_length];
    let area = factor * factor;
    for rows in grey
        .as_raw()
        .chunks_exact(row_length * factor_usize)
        .take(height as usize)
    {
        sums.fill(0);
        for row in rows.chunks_exact(row_length) {
            for (sum, &value) in sums.iter_mut().zip(row) {
                *sum += u32::from(value);
            }
        }
        let cells = sums.chunks_exact(factor_usize).take(width as usize);
        out.extend(cells.map(|cell| ((cell.iter().sum::<u32>() + area / 2) / area) as u8));
    }
    Reduced {
        image: GrayImage::from_raw(width, height, out).expect("one byte a cell"),
        factor,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Luma, Rgb};

    #[test]
    fn luminance_follows_the_weights_of_bt_601() {
        // ITU-R BT.601: .299 R + .587 G + .114 B.
        for (colour, expected) in [
            ([255, 0, 0], 76),
            ([0, 255, 0], 149),
            ([255, 255, 255], 255),
        ] {
            let image = DynamicImage::ImageRgb8(RgbImage::from_pixel(2, 1, Rgb(colour)));
            let found = i32::from(grey(&image).get_pixel(0, 0).0[0]);
            assert!((found - expected).abs() <= 1, "{colour:?} gave {found}");
        }
    }

    #[test]
    fn a_large_picture_is_reduced_to_the_mean_of_squares() {
        let large = GrayImage::from_fn(2601, 30, |x, _| Luma([if x % 3 == 0 { 90 } else { 0 }]));
        let small = reduce(&large);
        assert_eq!((small.factor, small.image.width()), (3, 867));
        assert!(small.image.pixels().all(|p| p.0[0] == 30));
        let back = small.to_source(Point { x: 0.0, y: 0.0 });
        assert_eq!((back.x, back.y), (1.0, 1.0));
    }

    #[test]
    fn a_small_picture_is_left_alone() {
        let image = GrayImage::from_pixel(5, 1, Luma([7]));
        assert_eq!(reduce(&image).image, image);
    }
}
