//! Where the sheet lies on its bed.

use super::ink::{histogram, percentile};
use super::working::View;
use crate::value::{Bounds, Point};
use image::GrayImage;

/// The sheet's box on the level picture: everything that is not bed.
///
/// The bed is what runs along the image's border. Where the sheet fills the image, or looks like its bed, the box
/// is that of everything printed; so later steps take it as a hint and never exclude type that lies outside.
/// `None` for a picture on which nothing differs from the border.
pub fn sheet(view: &View) -> Option<Bounds> {
    /// Grey levels by which a pixel must differ from the bed.
    const APART: u8 = 18;
    /// Share of a row or column that must differ for it to belong to the sheet.
    const SHARE: f64 = 0.06;
    /// Every so manyth pixel of every so manyth row is looked at.
    const STEP: usize = 2;
    let image = &view.working.image;
    let (width, height) = image.dimensions();
    let bed = percentile(&histogram(&border(image)), 0.5);
    let (mut across, mut down) = (vec![0u32; width as usize], vec![0u32; height as usize]);
    let Point {
        x: step_x,
        y: step_y,
    } = {
        let (zero, one) = (
            Point::default(),
            Point {
                x: STEP as f64,
                y: 0.0,
            },
        );
        let (from, to) = (view.level.of_source(zero), view.level.of_source(one));
        Point {
            x: to.x - from.x,
            y: to.y - from.y,
        }
    };
    let rows = image.as_raw().chunks_exact(width as usize).enumerate();
    for (y, row) in rows.step_by(STEP) {
        let mut at = view.level.of_source(Point {
            x: 0.0,
            y: y as f64,
        });
        for &grey in row.iter().step_by(STEP) {
            let differs = grey.abs_diff(bed) > APART && at.x >= 0.0 && at.y >= 0.0;
            let counts = (across.get_mut(at.x as usize), down.get_mut(at.y as usize));
            if let (true, (Some(column), Some(row))) = (differs, counts) {
                *column += 1;
                *row += 1;
            }
            at.x += step_x;
            at.y += step_y;
        }
    }
    let across = pooled(&across, STEP);
    let down = pooled(&down, STEP);
    let looked_at = |length: u32| f64::from(length) / STEP as f64;
    let (left, right) = ends(&across, SHARE * looked_at(height))?;
    let (top, bottom) = ends(&down, SHARE * looked_at(width))?;
    let step = STEP as u32;
    Some(Bounds::new(
        left * step,
        top * step,
        (right * step).min(width),
        (bottom * step).min(height),
    ))
}

/// Sums of neighbouring counts: only every so manyth row of the source was looked at.
fn pooled(counts: &[u32], step: usize) -> Vec<u32> {
    counts
        .chunks(step)
        .map(|counts| counts.iter().sum())
        .collect()
}

/// The outermost two pixels all round.
fn border(image: &GrayImage) -> Vec<u8> {
    let (width, height) = (image.width() as usize, image.height() as usize);
    let mut border = Vec::with_capacity(4 * (width + height));
    for (y, row) in image.as_raw().chunks_exact(width).enumerate() {
        if y < 2 || y + 2 >= height {
            border.extend_from_slice(row);
        } else {
            border.extend_from_slice(&row[..width.min(2)]);
            border.extend_from_slice(&row[width.saturating_sub(2)..]);
        }
    }
    border
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
    use crate::strip::working::Working;
    use image::Luma;

    #[test]
    fn the_sheet_is_what_differs_from_the_bed() {
        for (bed, paper) in [(20, 220), (230, 120), (250, 225)] {
            let image = GrayImage::from_fn(300, 200, |x, y| {
                let on = (40..260).contains(&x) && (30..180).contains(&y);
                Luma([if on { paper } else { bed }])
            });
            let found = sheet(&Working::new(&image).view(0.0)).expect("a sheet lies there");
            let Bounds {
                left,
                top,
                right,
                bottom,
            } = found;
            // Smoothing and looking at every second row cost two pixels at most.
            for (edge, drawn) in [(left, 40), (top, 30), (right, 260), (bottom, 180)] {
                assert!(edge.abs_diff(drawn) <= 2, "bed {bed}: {found:?}");
            }
        }
    }

    #[test]
    fn an_even_picture_has_no_sheet() {
        let even = Working::new(&GrayImage::from_pixel(90, 60, Luma([128])));
        assert_eq!(sheet(&even.view(0.0)), None);
    }
}
