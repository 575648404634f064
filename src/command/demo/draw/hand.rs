//! Writing by hand: letters that lean, wander and run into each other, in pen or pencil.

use super::canvas::{Area, Canvas};
use super::grain::{CLUMPY, DEVIATION};
use super::strike::spread;
use crate::command::demo::fonts::{FontUse, Typeface};
use crate::command::demo::within;
use ab_glyph::{
    Font, GlyphId, Outline, OutlineCurve, OutlinedGlyph, Point, PxScaleFactor, Rect, point,
};
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;

/// Somebody's handwriting with the pen at hand. Lengths are in sheet pixels unless said otherwise.
pub struct Hand {
    face: &'static Typeface,
    pub x_height: f32,
    /// Letters' width over the face's own, and their lean to the right, tangent.
    width: f32,
    slant: f32,
    /// How unlike each other the letters are: share of height, tangent of slant, radians of turn.
    unrest: f32,
    /// Wandering of the baseline: in x-heights, over this many x-heights.
    wander: (f32, f32),
    /// Share of letters that a stroke joins to the next.
    joined: f32,
    /// Thickness added to the face's own strokes.
    pub pen: f32,
    pub ink: f32,
    /// Share of ink eaten by the paper's tooth: pencil has much.
    texture: f32,
}

impl Hand {
    pub fn choose(fonts: FontUse, x_height: f32, random: &mut ChaCha8Rng) -> Self {
        let pencil = random.random_bool(0.3);
        Self {
            face: fonts.hands().choose(random).expect("each set has hands"),
            x_height,
            width: within(random, 0.85..1.25),
            slant: within(random, -0.15..0.4),
            unrest: within(random, 0.03..0.09),
            wander: (within(random, 0.03..0.16), within(random, 5.0..20.0)),
            joined: within(random, 0.0..0.6),
            pen: within(random, 0.04..0.13) * x_height,
            ink: if pencil {
                within(random, 0.4..0.75)
            } else {
                within(random, 0.75..1.0)
            },
            texture: if pencil {
                within(random, 0.2..0.45)
            } else {
                within(random, 0.02..0.15)
            },
        }
    }

    /// The width that a text takes, but for its unrest.
    pub fn width_of(&self, text: &str) -> f32 {
        text.chars().map(|letter| self.step(letter)).sum()
    }

    fn step(&self, letter: char) -> f32 {
        self.units() * self.width * self.face.font.h_advance_unscaled(self.glyph(letter))
    }

    /// Pixels for a unit of the font.
    fn units(&self) -> f32 {
        self.x_height / self.face.height_of('x')
    }

    fn glyph(&self, letter: char) -> GlyphId {
        self.face.font.glyph_id(letter)
    }

    /// Writes from a place on the baseline on, which falls by `lean` radians; gives the ink's area.
    pub fn write(
        &self,
        canvas: &mut Canvas,
        text: &str,
        (start, baseline): (f32, f32),
        lean: f32,
        random: &mut ChaCha8Rng,
    ) -> Area {
        let (height, length) = self.wander;
        let (phase, wave) = (within(random, 0.0..6.3), length * self.x_height);
        let (sin, cos) = lean.sin_cos();
        let mut area = Area::NOTHING;
        let mut along = 0.0;
        let mut last: Option<(f32, f32)> = None;
        for letter in text.chars() {
            let off = height * self.x_height * (phase + along / wave * 6.3).sin()
                + 0.3 * height * self.x_height * spread(random);
            let pen = (
                start + along * cos - off * sin,
                baseline + along * sin + off * cos,
            );
            let step = self.step(letter) * (1.0 + 0.6 * self.unrest * spread(random));
            if letter != ' ' {
                area = area.union(&self.letter(canvas, letter, pen, lean, random));
                let at_middle = (pen.0 + 0.2 * step, pen.1 - 0.35 * self.x_height);
                if let Some(from) = last.filter(|_| random.random::<f32>() < self.joined) {
                    self.stroke(canvas, &[from, at_middle], random);
                }
                last = Some((pen.0 + 0.75 * step, pen.1 - 0.1 * self.x_height));
            } else {
                last = None;
            }
            along += step;
        }
        area
    }

    /// One letter, unlike any other of its kind.
    fn letter(
        &self,
        canvas: &mut Canvas,
        letter: char,
        pen: (f32, f32),
        lean: f32,
        random: &mut ChaCha8Rng,
    ) -> Area {
        let Some(outline) = self.face.font.outline(self.glyph(letter)) else {
            return Area::NOTHING;
        };
        let size = self.units() * (1.0 + self.unrest * spread(random));
        let width = size * self.width * (1.0 + self.unrest * spread(random));
        let slant = self.slant + self.unrest * spread(random);
        let (sin, cos) = (lean + 0.7 * self.unrest * spread(random)).sin_cos();
        // Font units grow upwards; what is rasterised grows upwards too and is turned over by the scale.
        let bent = |at: Point| {
            let (x, y) = (at.x * width + at.y * size * slant, at.y * size);
            point(x * cos + y * sin, y * cos - x * sin)
        };
        let outline = reshaped(outline, bent);
        let glyph = self
            .glyph(letter)
            .with_scale_and_position(1.0, point(pen.0, pen.1));
        let one = PxScaleFactor {
            horizontal: 1.0,
            vertical: 1.0,
        };
        let outlined = OutlinedGlyph::new(glyph, outline, one);
        let bounds = outlined.px_bounds();
        let (columns, rows) = (bounds.width() as usize + 1, bounds.height() as usize + 1);
        let mut cover = vec![0f32; columns * rows];
        outlined.draw(|x, y, share| cover[y as usize * columns + x as usize] = share.min(1.0));
        let reach = self.pen / 2.0;
        let around = reach.ceil() as i32;
        let grain = (random.random_range(0..512), random.random_range(0..512));
        let mut area = Area::NOTHING;
        // A thicker pen: the most cover within its tip.
        for y in -around..rows as i32 + around {
            for x in -around..columns as i32 + around {
                let mut most = 0f32;
                for dy in -around..=around {
                    for dx in -around..=around {
                        let (u, v) = (x + dx, y + dy);
                        let inside =
                            u >= 0 && v >= 0 && (u as usize) < columns && (v as usize) < rows;
                        let tip = (reach + 0.5 - (dx as f32).hypot(dy as f32)).clamp(0.0, 1.0);
                        if inside && tip > 0.0 {
                            most = most.max(cover[v as usize * columns + u as usize] * tip);
                        }
                        if inside && dx == 0 && dy == 0 {
                            most = most.max(cover[v as usize * columns + u as usize]);
                        }
                    }
                }
                if most > 0.02 {
                    let at = (bounds.min.x as i32 + x, bounds.min.y as i32 + y);
                    self.touch(canvas, at, most, grain);
                }
                if most > 0.5 {
                    let (x, y) = (bounds.min.x + x as f32, bounds.min.y + y as f32);
                    area = area.union(&Area {
                        left: x,
                        top: y,
                        right: x + 1.0,
                        bottom: y + 1.0,
                    });
                }
            }
        }
        area
    }

    /// Draws through some places with the pen.
    pub fn stroke(&self, canvas: &mut Canvas, places: &[(f32, f32)], random: &mut ChaCha8Rng) {
        let thickness = self.pen + 0.07 * self.x_height;
        let grain = (random.random_range(0..512), random.random_range(0..512));
        for pair in places.windows(2) {
            canvas.stroke(pair[0], pair[1], thickness, |canvas, x, y, cover| {
                self.touch(canvas, (x, y), cover, grain);
            });
        }
    }

    fn touch(&self, canvas: &mut Canvas, (x, y): (i32, i32), cover: f32, grain: (usize, usize)) {
        let (Ok(u), Ok(v)) = (usize::try_from(x), usize::try_from(y)) else {
            return;
        };
        let eaten = CLUMPY.at(u + grain.0, v + grain.1) / DEVIATION * self.texture;
        let ink = cover * self.ink * (1.0 - eaten.max(-0.3));
        canvas.ink(x, y, ink.clamp(0.0, 1.0));
    }
}

/// An outline with every point moved.
fn reshaped(outline: Outline, moved: impl Fn(Point) -> Point) -> Outline {
    let curves: Vec<OutlineCurve> = outline
        .curves
        .into_iter()
        .map(|curve| match curve {
            OutlineCurve::Line(a, b) => OutlineCurve::Line(moved(a), moved(b)),
            OutlineCurve::Quad(a, b, c) => OutlineCurve::Quad(moved(a), moved(b), moved(c)),
            OutlineCurve::Cubic(a, b, c, d) => {
                OutlineCurve::Cubic(moved(a), moved(b), moved(c), moved(d))
            }
        })
        .collect();
    let mut bounds = Rect {
        min: point(f32::INFINITY, f32::NEG_INFINITY),
        max: point(f32::NEG_INFINITY, f32::INFINITY),
    };
    // As fonts have it: y grows upwards, so the box's first corner is the upper left one.
    let mut hold = |at: Point| {
        bounds.min = point(bounds.min.x.min(at.x), bounds.min.y.max(at.y));
        bounds.max = point(bounds.max.x.max(at.x), bounds.max.y.min(at.y));
    };
    for curve in &curves {
        match *curve {
            OutlineCurve::Line(a, b) => [a, b].into_iter().for_each(&mut hold),
            OutlineCurve::Quad(a, b, c) => [a, b, c].into_iter().for_each(&mut hold),
            OutlineCurve::Cubic(a, b, c, d) => [a, b, c, d].into_iter().for_each(&mut hold),
        }
    }
    Outline { bounds, curves }
}
