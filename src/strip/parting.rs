//! Where lines whose letters touch are parted.

use super::clean::{INK_BELOW, PAPER};
use super::lines::Expected;
use image::GrayImage;

/// The rows with least ink between expected lines that stand so close that their letters may touch.
pub fn partings(piece: &GrayImage, expected: &[Expected]) -> Vec<usize> {
    /// Distance of two lines' middles, in letter heights.
    const TOUCHING: f64 = 1.35;
    let width = piece.width() as usize;
    let ink = |&y: &usize| {
        let row = &piece.as_raw()[y * width..][..width];
        row.iter().filter(|&&grey| grey < INK_BELOW).count()
    };
    let touching = expected
        .windows(2)
        .filter(|pair| pair[1].middle - pair[0].middle <= TOUCHING * pair[0].letter);
    touching
        .filter_map(|pair| {
            let quarter = (pair[1].middle - pair[0].middle) / 4.0;
            let from = (pair[0].middle + quarter).max(0.0) as usize;
            let to = ((pair[1].middle - quarter).max(0.0) as usize).min(piece.height() as usize);
            (from..to).min_by_key(ink)
        })
        .collect()
}

/// A picture with some rows turned to paper.
pub fn without_rows(piece: &GrayImage, rows: &[usize]) -> GrayImage {
    let mut image = piece.clone();
    let width = image.width() as usize;
    for row in rows {
        image.as_mut()[row * width..][..width].fill(PAPER);
    }
    image
}

/// The rows with least ink between lines that were found so close that their letters may touch: the upper and lower
/// edges of the lines, and the ink in every row.
pub fn partings_of(lines: &[(f64, f64)], profile: &[f64]) -> Vec<usize> {
    /// Blank between lines up to which their letters may touch, in heights of the line.
    const CLOSE: f64 = 0.75;
    let close = lines
        .windows(2)
        .filter(|pair| pair[1].0 - pair[0].1 <= CLOSE * (pair[0].1 - pair[0].0));
    close
        .filter_map(|pair| {
            let between = pair[0].1 as usize..(pair[1].0 as usize + 1).min(profile.len());
            between.min_by(|&a, &b| profile[a].total_cmp(&profile[b]))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    #[test]
    fn lines_that_touch_are_parted_where_least_ink_is() {
        // Two rows of strokes, 20 high, that meet at row 40 but for every third stroke.
        let image = GrayImage::from_fn(300, 80, |x, y| {
            let stroke = x % 10 < 3 && (20..60).contains(&y);
            let apart = y == 40 && x % 30 < 20;
            Luma([if stroke && !apart { 40 } else { PAPER }])
        });
        let expected = [30.0, 50.0].map(|middle| Expected {
            middle,
            letter: 20.0,
        });
        assert_eq!(partings(&image, &expected), [40]);
        let apart = without_rows(&image, &[40]);
        assert!((0..300).all(|x| apart.get_pixel(x, 40).0[0] == PAPER));
        // Lines at double spacing need none.
        let far = [20.0, 60.0].map(|middle| Expected {
            middle,
            letter: 20.0,
        });
        assert_eq!(partings(&image, &far), [0; 0]);
    }

    #[test]
    fn found_lines_are_parted_when_they_are_close() {
        let mut profile = vec![9.0; 80];
        profile[41] = 2.0;
        assert_eq!(partings_of(&[(20.0, 39.0), (43.0, 60.0)], &profile), [41]);
        assert_eq!(partings_of(&[(5.0, 20.0), (50.0, 65.0)], &profile), [0; 0]);
    }
}
