//! Cutting a straightened piece out of the source image.

use crate::value::{Point, Quad};
use image::GrayImage;

/// A rectangle on the source, possibly leaning, its rows possibly bent: its first corner, its lean and its size.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Placement {
    /// Centre of the first pixel, on the source.
    pub origin: Point,
    /// Clockwise lean of the upper edge, in radians.
    pub lean: f64,
    /// Pixels, at the source's own resolution.
    pub width: u32,
    pub height: u32,
    pub bend: Bend,
}

/// How the rows of a piece bow, as those of a sheet that does not lie flat: at x they lie `curve * (x - middle)^2`
/// lower than straight ones.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Bend {
    /// 1 / pixels.
    pub curve: f64,
    /// Pixels from the left edge of the piece.
    pub middle: f64,
}

impl Bend {
    /// Pixels by which rows lie lower at x.
    pub fn drop(&self, x: f64) -> f64 {
        self.curve * (x - self.middle).powi(2)
    }
}

impl Placement {
    /// The rectangle of this lean and size about a centre.
    pub fn about(centre: Point, lean: f64, width: u32, height: u32) -> Self {
        let (sin, cos) = lean.sin_cos();
        let (x, y) = (
            (f64::from(width) - 1.0) / 2.0,
            (f64::from(height) - 1.0) / 2.0,
        );
        let origin = Point {
            x: centre.x - x * cos + y * sin,
            y: centre.y - x * sin - y * cos,
        };
        Self {
            origin,
            lean,
            width,
            height,
            bend: Bend::default(),
        }
    }

    /// A step to the right on the piece, as x and y on the source.
    pub fn steps(&self) -> (f64, f64) {
        let (sin, cos) = self.lean.sin_cos();
        (cos, sin)
    }

    /// The place on the source of a place on the cut piece.
    pub fn to_source(&self, x: f64, y: f64) -> Point {
        let (sin, cos) = self.lean.sin_cos();
        let y = y + self.bend.drop(x);
        Point {
            x: self.origin.x + x * cos - y * sin,
            y: self.origin.y + x * sin + y * cos,
        }
    }

    /// The corners on the source: top left, top right, bottom right, bottom left of the piece as it lies.
    pub fn corners(&self) -> Quad {
        let (right, bottom) = (f64::from(self.width), f64::from(self.height));
        Quad(
            [(0.0, 0.0), (right, 0.0), (right, bottom), (0.0, bottom)]
                .map(|(x, y)| self.to_source(x, y)),
        )
    }

    /// The place on the cut piece of a place on the source; no bend is undone.
    pub fn of_source(&self, Point { x, y }: Point) -> Point {
        let (sin, cos) = self.lean.sin_cos();
        let (x, y) = (x - self.origin.x, y - self.origin.y);
        Point {
            x: x * cos + y * sin,
            y: y * cos - x * sin,
        }
    }

    /// The same straight rectangle turned about its centre by a further slope.
    pub fn leaning(self, slope: f64) -> Self {
        let (x, y) = (f64::from(self.width) - 1.0, f64::from(self.height) - 1.0);
        let centre = self.to_source(x / 2.0, y / 2.0);
        Self::about(centre, self.lean + slope.atan(), self.width, self.height)
    }

    /// The same rectangle with its rows bent; they stay where they are at the middle of the bend.
    pub fn bent(self, bend: Bend) -> Self {
        Self { bend, ..self }
    }

    /// The same rectangle moved down its own columns; its rows bow as before.
    pub fn lowered(self, down: f64) -> Self {
        let (sin, cos) = self.lean.sin_cos();
        let Point { x, y } = self.origin;
        Self {
            origin: Point {
                x: x - down * sin,
                y: y + down * cos,
            },
            ..self
        }
    }

    /// The part of this placement that a box on the cut piece covers.
    pub fn part(&self, bounds: crate::value::Bounds) -> Self {
        let (left, top) = (f64::from(bounds.left), f64::from(bounds.top));
        let straight = Self {
            bend: Bend::default(),
            ..*self
        };
        Self {
            origin: straight.to_source(left, top),
            width: bounds.width(),
            height: bounds.height(),
            bend: Bend {
                middle: self.bend.middle - left,
                ..self.bend
            },
            ..*self
        }
    }
}

/// Cuts a placement out of the source by bilinear interpolation; what lies beyond the source gets the grey `beyond`.
pub fn cut(source: &GrayImage, placement: Placement, beyond: u8) -> GrayImage {
    /// Fractions of a pixel in which places are counted.
    const ONE: f64 = 65536.0;
    let whole = |length: f64| (length * ONE).round() as i64;
    let (cos, sin) = placement.steps();
    // Where each column lies against the first: the same in every row.
    let columns: Vec<(i64, i64)> = (0..placement.width)
        .map(|x| {
            let x = f64::from(x);
            let drop = placement.bend.drop(x);
            (whole(x * cos - drop * sin), whole(x * sin + drop * cos))
        })
        .collect();
    let (width, height) = (source.width() as i64, source.height() as i64);
    let raw = source.as_raw();
    let mut out = Vec::with_capacity((placement.width * placement.height) as usize);
    for row in 0..placement.height {
        let y = f64::from(row);
        let start = (
            whole(placement.origin.x - y * sin),
            whole(placement.origin.y + y * cos),
        );
        out.extend(columns.iter().map(|column| {
            let (x, y) = (start.0 + column.0, start.1 + column.1);
            let (left, top) = (x >> 16, y >> 16);
            if left < -1 || top < -1 || left >= width || top >= height {
                return beyond;
            }
            let (fx, fy) = ((x >> 8 & 255) as u32, (y >> 8 & 255) as u32);
            let (l, r) = (left.clamp(0, width - 1), (left + 1).clamp(0, width - 1));
            let (t, b) = (
                top.clamp(0, height - 1) * width,
                (top + 1).clamp(0, height - 1) * width,
            );
            let at = |i: i64| u32::from(raw[i as usize]);
            let upper = at(t + l) * (256 - fx) + at(t + r) * fx;
            let lower = at(b + l) * (256 - fx) + at(b + r) * fx;
            ((upper * (256 - fy) + lower * fy + 32768) >> 16) as u8
        }));
    }
    GrayImage::from_raw(placement.width, placement.height, out).expect("one byte a pixel")
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    #[test]
    fn an_upright_cut_copies_pixels() {
        let source = GrayImage::from_fn(40, 30, |x, y| Luma([(x * 5 + y) as u8]));
        let placement = Placement {
            origin: Point { x: 7.0, y: 4.0 },
            lean: 0.0,
            width: 10,
            height: 6,
            bend: Bend::default(),
        };
        let piece = cut(&source, placement, 0);
        assert!(
            piece
                .enumerate_pixels()
                .all(|(x, y, p)| p == source.get_pixel(x + 7, y + 4))
        );
    }

    #[test]
    fn a_leaning_cut_straightens_a_leaning_line() {
        let lean = 3f64.to_radians();
        let source = GrayImage::from_fn(400, 100, |x, y| {
            let line = 40.0 + f64::from(x) * lean.tan();
            Luma([if (f64::from(y) - line).abs() < 2.0 {
                0
            } else {
                255
            }])
        });
        let placement = Placement {
            origin: Point { x: 0.0, y: 20.0 },
            lean,
            width: 390,
            height: 40,
            bend: Bend::default(),
        };
        let piece = cut(&source, placement, 0);
        let at = |x| {
            (0..40)
                .min_by_key(|&y| piece.get_pixel(x, y).0[0])
                .unwrap_or(0)
        };
        assert!((at(10) as i32 - at(380) as i32).abs() <= 1);
    }

    #[test]
    fn a_bent_cut_straightens_a_bowed_line() {
        let bend = Bend {
            curve: 2e-4,
            middle: 180.0,
        };
        let source = GrayImage::from_fn(400, 100, |x, y| {
            let line = 30.0 + bend.drop(f64::from(x) - 5.0);
            let on = (f64::from(y) - line).abs() < 2.0;
            Luma([if on { 0 } else { 255 }])
        });
        let placement = Placement {
            origin: Point { x: 5.0, y: 10.0 },
            lean: 0.0,
            width: 390,
            height: 40,
            bend,
        };
        let lowest =
            |piece: &GrayImage, x| (0..piece.height()).min_by_key(|&y| piece.get_pixel(x, y).0[0]);
        let piece = cut(&source, placement, 255);
        for x in [5, 100, 180, 300, 385] {
            assert!(
                lowest(&piece, x).is_some_and(|y| y.abs_diff(20) <= 2),
                "{x}"
            );
        }
        // A part bends on as its whole does.
        let part = placement.part(crate::value::Bounds::new(250, 5, 390, 40));
        assert!(lowest(&cut(&source, part, 255), 130).is_some_and(|y| y.abs_diff(15) <= 2));
    }
}
