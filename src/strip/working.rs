//! The small picture on which headings are looked for, and the ways of looking at it.

use super::cut::Placement;
use super::grey::reduce;
use super::ink::{Component, Polarity, above_grain, components, detail, smooth};
use super::rows::Piece;
use crate::value::Point;
use image::{GrayImage, imageops};

/// Side of the window that tells fine detail from areas, in working pixels: wider than any stroke of type.
const STROKE_WINDOW: usize = 15;
/// Horizontal runs of ink longer than this belong to rules and edges, in working pixels.
const LONGEST_RUN: u32 = 34;

/// A sheet's picture made small and smooth, with the ink of both polarities; as it lies, or turned by a quarter.
#[derive(Debug)]
pub struct Working {
    pub image: GrayImage,
    /// Source pixels a working pixel.
    pub factor: u32,
    /// Turned counterclockwise by 90 degrees against the source.
    quarter: bool,
    inked: [Inked; 2],
}

/// The ink of one polarity: fine detail above the grain, 0 elsewhere, and the pieces it forms.
#[derive(Debug)]
struct Inked {
    polarity: Polarity,
    detail: GrayImage,
    pieces: Vec<Component>,
}

impl Inked {
    fn of(polarity: Polarity, detail: GrayImage) -> Self {
        let pieces = components(&detail, LONGEST_RUN, |strength| strength > 0);
        Self {
            polarity,
            detail,
            pieces,
        }
    }
}

impl Working {
    pub fn new(grey: &GrayImage) -> Self {
        let reduced = reduce(grey);
        let image = smooth(&reduced.image);
        let inked = [Polarity::DarkOnLight, Polarity::LightOnDark].map(|polarity| {
            Inked::of(
                polarity,
                above_grain(detail(&image, polarity, STROKE_WINDOW)),
            )
        });
        Self {
            image,
            factor: reduced.factor,
            quarter: false,
            inked,
        }
    }

    /// The same picture turned counterclockwise by 90 degrees: text that ran downwards is upright on it.
    pub fn quartered(&self) -> Self {
        let turned = |ink: &Inked| Inked::of(ink.polarity, imageops::rotate270(&ink.detail));
        Self {
            image: imageops::rotate270(&self.image),
            factor: self.factor,
            quarter: !self.quarter,
            inked: [turned(&self.inked[0]), turned(&self.inked[1])],
        }
    }

    /// Source pixels a working pixel.
    pub fn scale(&self) -> f64 {
        f64::from(self.factor)
    }

    /// A placement on this picture as a placement on the source.
    pub fn on_source(&self, placement: Placement) -> Placement {
        let Point { x, y } = placement.origin;
        let (x, y, quarter) = if self.quarter {
            let last = f64::from(self.image.height()) - 1.0;
            (last - y, x, std::f64::consts::FRAC_PI_2)
        } else {
            (x, y, 0.0)
        };
        let scaled = |length: u32| length.saturating_mul(self.factor);
        Placement {
            origin: Point {
                x: (x + 0.5) * self.scale() - 0.5,
                y: (y + 0.5) * self.scale() - 0.5,
            },
            lean: placement.lean + quarter,
            width: scaled(placement.width),
            height: scaled(placement.height),
            bend: placement.bend,
        }
    }

    /// The picture looked at as if it leaned by a slope.
    pub fn view(&self, slope: f64) -> View<'_> {
        let (width, height) = self.image.dimensions();
        let centre = Point {
            x: (f64::from(width) - 1.0) / 2.0,
            y: (f64::from(height) - 1.0) / 2.0,
        };
        let level = Placement::about(centre, slope.atan(), width, height);
        let inks = self.inked.each_ref().map(|ink| Ink {
            polarity: ink.polarity,
            pieces: ink
                .pieces
                .iter()
                .map(|piece| levelled(piece, &level))
                .collect(),
        });
        let steps = level.steps();
        View {
            working: self,
            level,
            steps,
            inks,
        }
    }
}

/// A working picture with its ink made level. Places are those of the level picture, which itself is never drawn.
#[derive(Debug)]
pub struct View<'a> {
    pub working: &'a Working,
    /// Where the level picture lies on the working picture.
    pub level: Placement,
    /// A step to the right on the level picture, as x and y on the working picture.
    steps: (f64, f64),
    pub inks: [Ink; 2],
}

/// The levelled pieces of ink of one polarity.
#[derive(Debug)]
pub struct Ink {
    pub polarity: Polarity,
    pub pieces: Vec<Piece>,
}

/// A piece as it lies on the level picture; at the few degrees that a sheet leans, its size stays.
fn levelled(piece: &Component, level: &Placement) -> Piece {
    // The last pixel is excluded from the bounds, so their middle is half a pixel beyond the pixels' middle.
    let middle = Point {
        x: piece.centre_x() - 0.5,
        y: piece.centre_y() - 0.5,
    };
    let Point { x, y } = level.of_source(middle);
    Piece {
        x,
        y,
        width: piece.width(),
        height: piece.height(),
        area: f64::from(piece.area),
    }
}

impl View<'_> {
    /// The grey value at a place on the level picture; `None` beyond the picture.
    pub fn grey(&self, x: f64, y: f64) -> Option<u8> {
        let (origin, (cos, sin)) = (self.level.origin, self.steps);
        // Half a pixel more, and cut off: the nearest pixel.
        let (x, y) = (
            origin.x + x * cos - y * sin + 0.5,
            origin.y + x * sin + y * cos + 0.5,
        );
        let image = &self.working.image;
        let inside =
            x >= 0.0 && y >= 0.0 && x < f64::from(image.width()) && y < f64::from(image.height());
        inside.then(|| image.get_pixel(x as u32, y as u32).0[0])
    }

    /// The place on the source of a place on the level picture.
    pub fn point_on_source(&self, x: f64, y: f64) -> Point {
        let at = Placement {
            origin: Point { x, y },
            ..Placement::default()
        };
        self.working.on_source(self.on_working(at)).origin
    }

    /// A placement on the level picture as a placement on the working picture.
    pub fn on_working(&self, placement: Placement) -> Placement {
        let Point { x, y } = placement.origin;
        Placement {
            origin: self.level.to_source(x, y),
            lean: self.level.lean + placement.lean,
            ..placement
        }
    }
}
