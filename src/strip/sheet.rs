//! Where the sheet lies on its bed.

use super::ink::{histogram, percentile};
use crate::value::Bounds;
use image::GrayImage;

/// The sheet's upright box on the working image: everything that is not bed.
///
/// The bed is what runs along the image's border. Where the sheet fills the image, or looks like its bed, the box
/// is that of everything printed; so later steps take it as a hint and never exclude type that lies outside.
/// `None` for a picture on which nothing differs from the border.
pub fn sheet(working: &GrayImage) -> Option<Bounds> {
    /// Grey levels by which a pixel must differ from the bed.
    const APART: i32 = 18;
    /// Share of a row or column that must differ for it to belong to the sheet.
    const SHARE: f64 = 0.06;
    let (width, height) = working.dimensions();
    let bed = i32::from(percentile(&histogram(&border(working)), 0.5));
    let (mut across, mut down) = (vec![0u32; width as usize], vec![0u32; height as usize]);
    for (row, count) in working.as_raw().chunks_exact(width as usize).zip(&mut down) {
        for (&value, column) in row.iter().zip(&mut across) {
            let apart = u32::from((i32::from(value) - bed).abs() > APART);
            *column += apart;
            *count += apart;
        }
    }
    let (left, right) = ends(&across, SHARE * f64::from(height))?;
    let (top, bottom) = ends(&down, SHARE * f64::from(width))?;
    Some(Bounds::new(left, top, right, bottom))
}

/// The outermost two pixels all round.
pub(super) fn border(image: &GrayImage) -> Vec<u8> {
    let (width, height) = image.dimensions();
    image
        .enumerate_pixels()
        .filter(|&(x, y, _)| x < 2 || y < 2 || x + 2 >= width || y + 2 >= height)
        .map(|(_, _, pixel)| pixel.0[0])
        .collect()
}

fn ends(counts: &[u32], least: f64) -> Option<(u32, u32)> {
    let belongs = |&n: &u32| f64::from(n) > least;
    let first = counts.iter().position(belongs)?;
    let last = counts.iter().rposition(belongs)?;
    Some((first as u32, last as u32 + 1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    #[test]
    fn the_sheet_is_what_differs_from_the_bed() {
        for (bed, paper) in [(20, 220), (230, 120), (250, 225)] {
            let image = GrayImage::from_fn(300, 200, |x, y| {
                let on = (40..260).contains(&x) && (30..180).contains(&y);
                Luma([if on { paper } else { bed }])
            });
            assert_eq!(
                sheet(&image),
                Some(Bounds::new(40, 30, 260, 180)),
                "bed {bed}"
            );
        }
    }

    #[test]
    fn an_even_picture_has_no_sheet() {
        assert_eq!(sheet(&GrayImage::from_pixel(90, 60, Luma([128]))), None);
    }
}
