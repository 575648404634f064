//! Which way round a strip lies on its sheet, as far as somebody may have to say it.

use crate::strip::{Lay, Strip};
use image::imageops;
use serde::{Deserialize, Serialize};

/// The part of a strip's [`Lay`] that the letters tell, and sometimes tell wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub struct Lying {
    /// Clockwise degrees by which the source has to be turned: 0, 90, 180 or 270.
    pub turned: u32,
    pub mirrored: bool,
    /// The source has light text on dark.
    pub inverted: bool,
}

impl From<&Lay> for Lying {
    fn from(lay: &Lay) -> Self {
        Self {
            turned: lay.turned,
            mirrored: lay.mirrored,
            inverted: lay.inverted,
        }
    }
}

impl Lying {
    /// The other way round: by half a turn, as in a mirror, dark for light.
    pub fn reversed(self, by_half: bool, mirrored: bool, inverted: bool) -> Self {
        Self {
            turned: (self.turned + if by_half { 180 } else { 0 }) % 360,
            mirrored: self.mirrored ^ mirrored,
            inverted: self.inverted ^ inverted,
        }
    }

    /// The strip lying so. One that was found along the other edge of its sheet cannot be put so, and stays as it is.
    pub fn put(self, strip: &Strip) -> Strip {
        let ways = [(false, false), (true, false), (false, true), (true, true)];
        let is_so =
            |strip: &Strip| (strip.lay.turned, strip.lay.mirrored) == (self.turned, self.mirrored);
        let faced = ways.map(|(turned, mirrored)| strip.faced(turned, mirrored));
        let mut strip = faced
            .into_iter()
            .find(is_so)
            .unwrap_or_else(|| strip.clone());
        if strip.lay.inverted != self.inverted {
            imageops::invert(&mut strip.image);
            strip.lay.inverted = self.inverted;
        }
        strip
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::{Bounds, Point, Quad};
    use image::{GrayImage, Luma};

    #[test]
    fn a_strip_is_put_as_it_is_said_to_lie() {
        let lay = Lay {
            corners: Quad([Point::default(); 4]),
            turned: 90,
            mirrored: false,
            inverted: false,
            skew: 0.0,
            band: None,
            facing_margin: 9.0,
        };
        let image = GrayImage::from_fn(4, 2, |x, y| Luma([(10 * y + x) as u8]));
        let strip = Strip {
            image,
            lines: vec![Bounds::new(0, 0, 1, 1)],
            lay: lay.clone(),
        };
        let from = Lying::from(&lay);
        for (by_half, mirrored, inverted, first) in [
            (false, false, false, 0),
            (true, false, false, 13),
            (false, true, false, 3),
            (true, true, false, 10),
            (true, false, true, 255 - 13),
        ] {
            let to = from.reversed(by_half, mirrored, inverted);
            let put = to.put(&strip);
            assert_eq!(put.image.get_pixel(0, 0)[0], first, "{to:?}");
            assert_eq!(Lying::from(&put.lay), to);
            // And back again.
            assert_eq!(from.put(&put).image, strip.image, "{to:?}");
        }
        let other_edge = Lying { turned: 0, ..from };
        assert_eq!(other_edge.put(&strip).image, strip.image);
    }
}
