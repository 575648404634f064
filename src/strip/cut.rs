//! Cutting a straightened piece out of the source image.

use crate::value::{Point, Quad};
use image::GrayImage;

/// A rectangle on the source, possibly leaning: its first corner, its lean and its size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// Centre of the first pixel, on the source.
    pub origin: Point,
    /// Clockwise lean of the upper edge, in radians.
    pub lean: f64,
    /// Pixels, at the source's own resolution.
    pub width: u32,
    pub height: u32,
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

    /// The place on the cut piece of a place on the source.
    pub fn of_source(&self, Point { x, y }: Point) -> Point {
        let (sin, cos) = self.lean.sin_cos();
        let (x, y) = (x - self.origin.x, y - self.origin.y);
        Point {
            x: x * cos + y * sin,
            y: y * cos - x * sin,
        }
    }

    /// The same rectangle turned about its centre by a further slope.
    pub fn leaning(self, slope: f64) -> Self {
        let (x, y) = (f64::from(self.width) - 1.0, f64::from(self.height) - 1.0);
        let centre = self.to_source(x / 2.0, y / 2.0);
        Self::about(centre, self.lean + slope.atan(), self.width, self.height)
    }

    /// The part of this placement that a box on the cut piece covers.
    pub fn part(&self, bounds: crate::value::Bounds) -> Self {
        Self {
            origin: self.to_source(f64::from(bounds.left), f64::from(bounds.top)),
            width: bounds.width(),
            height: bounds.height(),
            ..*self
        }
    }
}

/// Cuts a placement out of the source by bilinear interpolation; what lies beyond the source gets the grey `beyond`.
pub fn cut(source: &GrayImage, placement: Placement, beyond: u8) -> GrayImage {
    let (sin, cos) = placement.lean.sin_cos();
    let (width, height) = (source.width() as i64, source.height() as i64);
    let raw = source.as_raw();
    /// Fractions of a pixel in which places are counted.
    const ONE: f64 = 65536.0;
    let (step_x, step_y) = ((cos * ONE) as i64, (sin * ONE) as i64);
    let mut out = Vec::with_capacity((placement.width * placement.height) as usize);
    for row in 0..placement.height {
        let start = placement.to_source(0.0, f64::from(row));
        let (mut x, mut y) = (
            (start.x * ONE).round() as i64,
            (start.y * ONE).round() as i64,
        );
        for _ in 0..placement.width {
            let (left, top) = (x >> 16, y >> 16);
            if left < -1 || top < -1 || left >= width || top >= height {
                out.push(beyond);
                x += step_x;
                y += step_y;
                continue;
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
            out.push(((upper * (256 - fy) + lower * fy + 32768) >> 16) as u8);
            x += step_x;
            y += step_y;
        }
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
        };
        let piece = cut(&source, placement, 0);
        let at = |x| {
            (0..40)
                .min_by_key(|&y| piece.get_pixel(x, y).0[0])
                .unwrap_or(0)
        };
        assert!((at(10) as i32 - at(380) as i32).abs() <= 1);
    }
}
