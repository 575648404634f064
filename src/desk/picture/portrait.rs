//! A strip's image with what is known of the type on it.

use super::prepare::flat_field;
use crate::reading::Reading;
use crate::value::Bounds;
use image::{GrayImage, imageops};

/// How the clerk wants a picture turned against what the program took for right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Facing {
    /// Clockwise, in degrees: 0, 90, 180 or 270.
    pub turned: u16,
    /// Left to right, after the turn.
    pub mirrored: bool,
    /// Dark and light exchanged.
    pub inverted: bool,
}

/// A typed character as it is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shown {
    /// On the strip, in pixels.
    pub bounds: Bounds,
    pub is_doubtful: bool,
}

/// The reading's characters, blanks left out; those below this probability are doubtful.
pub fn shown_characters(reading: &Reading, doubtful: f64) -> Vec<Shown> {
    let positions = reading.lines.iter().flat_map(|line| &line.positions);
    positions
        .filter(|position| !position.best().trim().is_empty())
        .map(|position| Shown {
            bounds: position.bounds,
            is_doubtful: position.alternatives[0].probability.get() < doubtful,
        })
        .collect()
}

/// A strip in even light, with its characters. Made once a sheet; all pictures are made from it.
#[derive(Debug, Clone)]
pub struct Portrait {
    pub(super) image: GrayImage,
    pub(super) characters: Vec<Shown>,
    /// From one character to the next, in pixels.
    pub(super) pitch: f64,
    /// Where the type stands, with a little room round it.
    pub(super) type_area: Bounds,
}

impl Portrait {
    /// Of a strip (dark on light) and the characters read on it, line by line; none are needed.
    pub fn new(strip: &GrayImage, mut characters: Vec<Shown>) -> Self {
        let (width, height) = strip.dimensions();
        // Boxes may come from a reading of another cut of the strip.
        characters.retain(|c| c.bounds.right <= width && c.bounds.bottom <= height);
        let pitch = pitch(&characters).unwrap_or_else(|| f64::from(width.max(1)) / UNREAD);
        let boxes = characters.iter().map(|character| character.bounds);
        let type_area =
            boxes
                .reduce(|a, b| a.union(&b))
                .map_or(Bounds::new(0, 0, width, height), |area| {
                    let room = pitch as u32;
                    Bounds {
                        left: area.left.saturating_sub(room),
                        top: area.top.saturating_sub(room / 2),
                        right: (area.right + room).min(width),
                        bottom: (area.bottom + room / 2).min(height),
                    }
                });
        Self {
            image: flat_field(strip),
            characters,
            pitch,
            type_area,
        }
    }

    /// The same seen another way round. Turned by a quarter, nothing is known of the type any more.
    pub fn faced(&self, facing: Facing) -> Self {
        let mut portrait = self.clone();
        if facing.turned % 180 == 90 {
            portrait = Self::new(&imageops::rotate90(&self.image), Vec::new());
        }
        let is_upside_down = facing.turned >= 180;
        let (width, height) = portrait.image.dimensions();
        let across = |b: Bounds| Bounds {
            left: width - b.right,
            right: width - b.left,
            ..b
        };
        let down = |b: Bounds| Bounds {
            top: height - b.bottom,
            bottom: height - b.top,
            ..b
        };
        if is_upside_down {
            imageops::rotate180_in_place(&mut portrait.image);
            portrait.place(|b| across(down(b)));
        }
        if facing.mirrored {
            imageops::flip_horizontal_in_place(&mut portrait.image);
            portrait.place(across);
        }
        if facing.inverted {
            // What was taken for ink is the ground, and light there is even only after the exchange.
            imageops::invert(&mut portrait.image);
            portrait.image = flat_field(&portrait.image);
        }
        portrait
    }

    fn place(&mut self, change: impl Fn(Bounds) -> Bounds) {
        self.type_area = change(self.type_area);
        for character in &mut self.characters {
            character.bounds = change(character.bounds);
        }
    }

    /// A box on the strip as it was read, on this picture of it.
    pub fn place_of(&self, bounds: Bounds, facing: Facing) -> Option<Bounds> {
        let (width, height) = self.image.dimensions();
        let is_inside = bounds.right <= width && bounds.bottom <= height;
        if facing.turned % 180 == 90 || !is_inside {
            return None;
        }
        let mut b = bounds;
        if facing.turned == 180 {
            (b.top, b.bottom) = (height - b.bottom, height - b.top);
        }
        if (facing.turned == 180) != facing.mirrored {
            (b.left, b.right) = (width - b.right, width - b.left);
        }
        Some(b)
    }

    /// The part of the picture in a box, in its own pixels; what lies beyond the strip is ground.
    pub(super) fn part(&self, left: i64, top: i64, width: u32, height: u32) -> GrayImage {
        const GROUND: image::Luma<u8> = image::Luma([240]);
        let mut part = GrayImage::from_pixel(width.max(1), height.max(1), GROUND);
        imageops::replace(&mut part, &self.image, -left, -top);
        part
    }
}

/// Characters that an unread strip is taken to have across.
const UNREAD: f64 = 48.0;

/// The distance from character to character on a typewriter is one: the median of what was found.
fn pitch(characters: &[Shown]) -> Option<f64> {
    let lefts = characters.windows(2).filter_map(|pair| {
        let [one, next] = [pair[0].bounds, pair[1].bounds];
        let is_same_line = one.top < next.bottom && next.top < one.bottom;
        (is_same_line && next.left > one.left).then(|| next.left - one.left)
    });
    let mut steps: Vec<u32> = lefts.collect();
    let middle = steps.len() / 2;
    (!steps.is_empty()).then(|| f64::from(*steps.select_nth_unstable(middle).1).max(4.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    #[test]
    fn boxes_turn_with_the_picture() {
        let image = GrayImage::from_fn(100, 60, |x, y| {
            let is_ink = (10..16).contains(&x) && (20..30).contains(&y);
            Luma([if is_ink { 0 } else { 250 }])
        });
        let bounds = Bounds::new(10, 20, 16, 30);
        let shown = Shown {
            bounds,
            is_doubtful: true,
        };
        let portrait = Portrait::new(&image, vec![shown]);
        for (turned, mirrored) in [(0, false), (180, false), (0, true), (180, true)] {
            let facing = Facing {
                turned,
                mirrored,
                inverted: false,
            };
            let faced = portrait.faced(facing);
            let place = faced.place_of(bounds, facing).expect("it is inside");
            assert_eq!(faced.characters[0].bounds, place);
            assert_eq!(faced.image.get_pixel(place.left, place.top).0[0], 0);
            assert_eq!(
                faced.image.get_pixel(place.right - 1, place.bottom - 1).0[0],
                0
            );
        }
        let quarter = portrait.faced(Facing {
            turned: 270,
            ..Facing::default()
        });
        assert_eq!(quarter.image.dimensions(), (60, 100));
        assert_eq!(quarter.image.get_pixel(20, 99 - 10).0[0], 0);
    }
}
