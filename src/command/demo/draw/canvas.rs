//! The upright sheet before it is scanned: how bare each pixel is, 255 bare to 0 full ink.

/// Rows of pixels, top to bottom; x to the right, y downwards.
#[derive(Debug, Clone)]
pub struct Canvas {
    pub width: usize,
    pub height: usize,
    pub pixels: Vec<u8>,
}

/// A box in sheet pixels, between pixels allowed; far edges excluded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    pub left: f32,
    pub top: f32,
    pub right: f32,
    pub bottom: f32,
}

impl Area {
    /// Holds nothing; joined with anything it gives the other.
    pub const NOTHING: Self = Self {
        left: f32::INFINITY,
        top: f32::INFINITY,
        right: f32::NEG_INFINITY,
        bottom: f32::NEG_INFINITY,
    };

    pub fn is_nothing(&self) -> bool {
        self.left >= self.right
    }

    /// The smallest area that holds both.
    pub fn union(&self, other: &Self) -> Self {
        Self {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// What both areas hold.
    pub fn within(&self, other: &Self) -> Self {
        Self {
            left: self.left.max(other.left),
            top: self.top.max(other.top),
            right: self.right.min(other.right),
            bottom: self.bottom.min(other.bottom),
        }
    }

    pub fn meets(&self, other: &Self) -> bool {
        let both = self.within(other);
        both.left < both.right && both.top < both.bottom
    }

    /// The same area elsewhere.
    pub fn moved(&self, dx: f32, dy: f32) -> Self {
        Self {
            left: self.left + dx,
            top: self.top + dy,
            right: self.right + dx,
            bottom: self.bottom + dy,
        }
    }

    pub fn holds(&self, x: f32, y: f32) -> bool {
        (self.left..self.right).contains(&x) && (self.top..self.bottom).contains(&y)
    }

    /// Wider by `margin` on every side, but within `width` by `height`.
    pub fn grown(&self, margin: f32, width: f32, height: f32) -> Self {
        Self {
            left: (self.left - margin).max(0.0),
            top: (self.top - margin).max(0.0),
            right: (self.right + margin).min(width),
            bottom: (self.bottom + margin).min(height),
        }
    }
}

impl Canvas {
    /// All bare.
    pub fn new(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            pixels: vec![255; width * height],
        }
    }

    /// Puts ink on a pixel: `ink` 0 none to 1 full; outside the canvas it does nothing.
    pub fn ink(&mut self, x: i32, y: i32, ink: f32) {
        if let Some(pixel) = self.pixel(x, y) {
            *pixel = (f32::from(*pixel) * (1.0 - ink)) as u8;
        }
    }

    /// Takes ink off a pixel: `bare` 0 none to 1 all.
    pub fn scrape(&mut self, x: i32, y: i32, bare: f32) {
        if let Some(pixel) = self.pixel(x, y) {
            *pixel = (255.0 - (255.0 - f32::from(*pixel)) * (1.0 - bare)) as u8;
        }
    }

    fn pixel(&mut self, x: i32, y: i32) -> Option<&mut u8> {
        let (x, y) = (usize::try_from(x).ok()?, usize::try_from(y).ok()?);
        (x < self.width).then(|| self.pixels.get_mut(y * self.width + x))?
    }

    /// Inks a box evenly.
    pub fn fill(&mut self, area: Area, ink: f32) {
        let columns = area.left.max(0.0) as usize..(area.right.max(0.0) as usize).min(self.width);
        let rows = area.top.max(0.0) as usize..(area.bottom.max(0.0) as usize).min(self.height);
        if columns.is_empty() {
            return;
        }
        let keep = ((1.0 - ink.clamp(0.0, 1.0)) * 256.0) as u16;
        for y in rows {
            let row = &mut self.pixels[y * self.width..][..self.width];
            for pixel in &mut row[columns.clone()] {
                *pixel = ((u16::from(*pixel) * keep) >> 8) as u8;
            }
        }
    }

    /// Draws a line of this thickness with soft edges, giving each pixel's cover to `touch`.
    pub fn stroke(
        &mut self,
        from: (f32, f32),
        to: (f32, f32),
        thickness: f32,
        mut touch: impl FnMut(&mut Self, i32, i32, f32),
    ) {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = dx.hypot(dy).max(1e-3);
        let reach = thickness / 2.0 + 1.0;
        let steep = dy.abs() > dx.abs();
        // Walk along the longer axis; across it, touch what lies within the thickness.
        let (start, end) = if steep {
            (from.1, to.1)
        } else {
            (from.0, to.0)
        };
        let (first, last) = (start.min(end).floor() as i32, start.max(end).ceil() as i32);
        for along in first..=last {
            let share = ((along as f32 - start) / (end - start).abs().max(1e-3)
                * (end - start).signum())
            .clamp(0.0, 1.0);
            let middle = if steep {
                from.0 + dx * share
            } else {
                from.1 + dy * share
            };
            // Measured across the line, not along the axis.
            let slant = length / dx.abs().max(dy.abs()).max(1e-3);
            for across in
                (middle - reach * slant).floor() as i32..=(middle + reach * slant).ceil() as i32
            {
                let distance = (across as f32 - middle).abs() / slant;
                let cover = (thickness / 2.0 + 0.5 - distance).clamp(0.0, thickness.min(1.0));
                if cover > 0.0 {
                    let (x, y) = if steep {
                        (across, along)
                    } else {
                        (along, across)
                    };
                    touch(self, x, y, cover);
                }
            }
        }
    }

    /// Blurs by about a Gaussian of this standard deviation, in pixels; 2.6 is the most that one call gives.
    pub fn blur(&mut self, deviation: f32) {
        // Three taps (w, 1 - 2w, w) at distance d have variance 2wd²; one pass near, and one two apart for the rest.
        let variance = deviation * deviation;
        let near = (variance / 2.0).min(0.25);
        let far = ((variance - 2.0 * near) / 8.0).min(0.25);
        let rest = ((variance - 2.0 * near - 8.0 * far) / 18.0).min(0.25);
        for (weight, distance) in [(near, 1), (far, 2), (rest, 3)] {
            let weight = (weight * 256.0).round() as u16;
            if weight > 0 {
                self.spread(weight, distance);
            }
        }
    }

    /// One pass of the blur along both axes; `weight` in 256ths.
    fn spread(&mut self, weight: u16, distance: usize) {
        let width = self.width;
        if width <= 2 * distance || self.height <= 2 * distance {
            return;
        }
        let mix = |a: u8, b: u8, c: u8| {
            let sum = (u16::from(a) + u16::from(c)) * weight + u16::from(b) * (256 - 2 * weight);
            ((sum + 128) >> 8) as u8
        };
        let mut blurred = self.pixels.clone();
        for (to, from) in blurred
            .chunks_exact_mut(width)
            .zip(self.pixels.chunks_exact(width))
        {
            let middle = &mut to[distance..width - distance];
            let taps = from
                .iter()
                .zip(&from[distance..])
                .zip(&from[2 * distance..]);
            for (to, ((&a, &b), &c)) in middle.iter_mut().zip(taps) {
                *to = mix(a, b, c);
            }
        }
        let reach = distance * width;
        let last = blurred.len() - reach;
        let taps = blurred
            .iter()
            .zip(&blurred[reach..])
            .zip(&blurred[2 * reach..]);
        for (to, ((&a, &b), &c)) in self.pixels[reach..last].iter_mut().zip(taps) {
            *to = mix(a, b, c);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_blur_keeps_the_ink_and_has_the_asked_deviation() {
        for deviation in [0.5, 0.7, 1.0, 1.5, 2.0] {
            let mut canvas = Canvas::new(41, 41);
            canvas.fill(
                Area {
                    left: 20.0,
                    top: 0.0,
                    right: 21.0,
                    bottom: 41.0,
                },
                1.0,
            );
            canvas.blur(deviation);
            let row = &canvas.pixels[20 * 41..21 * 41];
            let ink: Vec<f32> = row.iter().map(|&pixel| f32::from(255 - pixel)).collect();
            let total: f32 = ink.iter().sum();
            assert!((total - 255.0).abs() < 8.0, "{deviation}: {total}");
            let variance = ink
                .iter()
                .zip(-20..)
                .map(|(ink, at)| ink * (at * at) as f32)
                .sum::<f32>()
                / total;
            assert!(
                (variance.sqrt() - deviation).abs() < 0.08,
                "{deviation}: {}",
                variance.sqrt()
            );
        }
    }
}
