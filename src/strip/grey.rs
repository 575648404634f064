//! Colour to grey, and grey to the small working image on which things are found.

use crate::value::Point;
use image::{DynamicImage, GrayImage, RgbImage};
use std::borrow::Cow;

/// Longest side of the working image, in pixels.
///
/// A 300 dpi sheet of 148 mm comes down to 874 px, which leaves typed capitals 10 to 16 px high: enough to tell
/// type from specks, little enough to search both polarities in a few milliseconds.
const WORKING_SIDE: u32 = 1300;

/// The grey picture of an image: the brightest of red, green and blue, or the one of them that shows most.
///
/// Dyed bands keep their full light in one channel, while ink is dark in all three; luminance would leave black type
/// on a red band with half its contrast. On blue film it is the other way round: ink and ground are equally bright in
/// blue, and only another channel tells them apart.
pub fn grey(image: &DynamicImage) -> Cow<'_, GrayImage> {
    match image {
        DynamicImage::ImageLuma8(grey) => Cow::Borrowed(grey),
        DynamicImage::ImageRgb8(colour) => Cow::Owned(clearest(colour)),
        other => Cow::Owned(clearest(&other.to_rgb8())),
    }
}

fn clearest(colour: &RgbImage) -> GrayImage {
    /// How much more a single channel must show than the brightest of the three.
    const CLEARLY: u32 = 5;
    const OVER: u32 = 4;
    let usual = contrast(colour, brightest);
    let [best, ..] = channels_by_contrast(colour);
    if OVER * contrast(colour, |p| p[best]) > CLEARLY * usual {
        only(colour, |p| p[best])
    } else {
        only(colour, brightest)
    }
}

fn brightest(p: &[u8]) -> u8 {
    p[0].max(p[1]).max(p[2])
}

fn only(colour: &RgbImage, channel: impl Fn(&[u8]) -> u8) -> GrayImage {
    let grey = colour.as_raw().chunks_exact(3).map(channel).collect();
    GrayImage::from_raw(colour.width(), colour.height(), grey).expect("one byte a pixel")
}

/// Red, green and blue by how much each shows.
fn channels_by_contrast(colour: &RgbImage) -> [usize; 3] {
    let mut channels = [0, 1, 2];
    channels.sort_by_cached_key(|&at| std::cmp::Reverse(contrast(colour, |p| p[at])));
    channels
}

/// Other grey pictures of a colour image, for one on which nothing was found: the two channels that show most.
pub fn others(image: &DynamicImage) -> impl Iterator<Item = GrayImage> {
    let colour = image.as_rgb8();
    let channels = colour
        .map(channels_by_contrast)
        .into_iter()
        .flatten()
        .take(2);
    channels.filter_map(move |at| Some(only(colour?, |p| p[at])))
}

/// How much a channel shows: what the strongest steps along the rows reach, in sums of grey levels.
///
/// Means of neighbouring pixels two places apart are compared, so that grain shows little and strokes of type much.
fn contrast(colour: &RgbImage, channel: impl Fn(&[u8]) -> u8) -> u32 {
    /// Pixels of a mean; the step is from one to the next but one.
    const MEAN: usize = 3;
    /// Every so manyth row is looked at.
    const STEP: usize = 8;
    /// Share of the steps that are the strongest: type and frames have some of a hundred.
    const STRONGEST: f64 = 0.02;
    let row_length = 3 * colour.width() as usize;
    let mut counts = [0u32; MEAN * 255 + 1];
    let mut means: Vec<u32> = Vec::new();
    for row in colour
        .as_raw()
        .chunks_exact(row_length.max(3))
        .step_by(STEP)
    {
        means.clear();
        let cells = row.chunks_exact(3 * MEAN);
        means.extend(cells.map(|cell| {
            cell.chunks_exact(3)
                .map(|p| u32::from(channel(p)))
                .sum::<u32>()
        }));
        for pair in means.windows(3) {
            counts[pair[0].abs_diff(pair[2]) as usize] += 1;
        }
    }
    let mut left = (STRONGEST * counts.iter().map(|&n| f64::from(n)).sum::<f64>()) as u32;
    for (step, &count) in counts.iter().enumerate().rev() {
        if count > left {
            return step as u32;
        }
        left -= count;
    }
    0
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
    fn black_type_on_a_dyed_band_keeps_its_contrast() {
        let image = RgbImage::from_fn(2, 1, |x, _| {
            Rgb(if x == 0 { [215, 105, 95] } else { [30, 25, 20] })
        });
        assert_eq!(grey(&DynamicImage::ImageRgb8(image)).as_raw(), &[215, 30]);
    }

    #[test]
    fn blue_film_is_seen_in_the_channel_that_tells_ink_from_ground() {
        let image = RgbImage::from_fn(90, 40, |x, _| {
            Rgb(if x / 6 % 2 == 0 {
                [60, 70, 240]
            } else {
                [100, 150, 244]
            })
        });
        let grey = grey(&DynamicImage::ImageRgb8(image)).into_owned();
        assert_eq!(grey.as_raw()[..7], [70, 70, 70, 70, 70, 70, 150]);
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
