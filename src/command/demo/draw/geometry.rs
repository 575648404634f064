//! From the upright sheet to the image: how the sheet bows, is turned, mirrored and leant, and what of it is seen.

use super::canvas::Area;
use crate::command::demo::look::{Look, Window};
use crate::value::{Point, Quad};

/// Pixels of the image kept beyond the typing, whatever the margins say.
const KEPT: f32 = 6.0;

/// What the sheet's surface and the lens do to it, before it is turned: rows bow, and farther parts are smaller.
#[derive(Debug, Clone, Copy)]
pub struct Warp {
    /// Pixels by which rows bow and wave.
    curl: [f32; 2],
    perspective: [f32; 2],
    width: f32,
    height: f32,
}

impl Warp {
    fn new(look: &Look) -> Option<Self> {
        let (curl, perspective) = (look.scan.curl, look.scan.perspective);
        let (width, height) = (look.size.0 as f32, look.size.1 as f32);
        (curl != [0.0; 2] || perspective != [0.0; 2]).then_some(Self {
            curl: curl.map(|share| share * width),
            perspective,
            width,
            height,
        })
    }

    /// Pixels by which a column of the sheet is lifted: none at the sheet's ends.
    fn lift(&self, x: f32) -> f32 {
        let t = x / self.width;
        // Highest in the middle; and a wave of the same height, up in the first half and down in the second.
        t * (1.0 - t) * (4.0 * self.curl[0] + 10.4 * self.curl[1] * (1.0 - 2.0 * t))
    }

    /// From the warped sheet to the sheet.
    fn flatten(&self, x: f32, y: f32) -> (f32, f32) {
        let (from_middle_x, from_middle_y) = (x - self.width / 2.0, y - self.height / 2.0);
        let x = self.width / 2.0
            + from_middle_x * (1.0 + self.perspective[0] * from_middle_y / self.height);
        let y = self.height / 2.0
            + from_middle_y * (1.0 + self.perspective[1] * from_middle_x / self.width);
        (x, y + self.lift(x))
    }

    /// From the sheet to the warped sheet.
    fn warp(&self, (sheet_x, sheet_y): (f32, f32)) -> (f32, f32) {
        let y = sheet_y - self.lift(sheet_x);
        let (mut warped_x, mut warped_y) = (sheet_x, y);
        // Both shares are small, so that this settles within a hundredth of a pixel.
        for _ in 0..4 {
            let (from_middle_x, from_middle_y) =
                (warped_x - self.width / 2.0, warped_y - self.height / 2.0);
            warped_x = self.width / 2.0
                + (sheet_x - self.width / 2.0)
                    / (1.0 + self.perspective[0] * from_middle_y / self.height);
            warped_y = self.height / 2.0
                + (y - self.height / 2.0)
                    / (1.0 + self.perspective[1] * from_middle_x / self.width);
        }
        (warped_x, warped_y)
    }

    /// How far above and below the straight line between its ends a row bows from one column to another.
    fn bow(&self, left: f32, right: f32) -> (f32, f32) {
        let (start, end) = (self.lift(left), self.lift(right));
        (0..=32)
            .map(|step| step as f32 / 32.0)
            .map(|share| self.lift(left + (right - left) * share) - (start + (end - start) * share))
            .fold((0.0, 0.0), |(above, below), lift| {
                (f32::max(above, lift), f32::max(below, -lift))
            })
    }
}

/// A map from sheet to image pixels: the warp, then `x' = a x + b y + c`, `y' = d x + e y + f`.
#[derive(Debug, Clone, Copy)]
pub struct Geometry {
    map: [f64; 6],
    /// The way back from image to flat sheet pixels.
    inverse: [f64; 6],
    warp: Option<Warp>,
    turned: u32,
    mirrored: bool,
    pub width: usize,
    pub height: usize,
}

impl Geometry {
    /// Places the sheet, so that `typing` is on the image whatever the margins; all of it unless it is cut off.
    pub fn new(look: &Look, heading: Area, typing: Area) -> Self {
        let scan = &look.scan;
        let (sin, cos) = f64::from(scan.skew).to_radians().sin_cos();
        let (shear, stretch) = (f64::from(scan.shear), 1.0 + f64::from(scan.stretch));
        // Clockwise on an image whose y grows downwards: (x, y) -> (x cos - y sin, x sin + y cos).
        let leant = [
            [cos, (shear * cos - sin) * stretch],
            [sin, (shear * sin + cos) * stretch],
        ];
        let mirror = if scan.mirrored { -1.0 } else { 1.0 };
        let [mirrored, down] = [leant[0].map(|value| value * mirror), leant[1]];
        let (x, y) = match look.turned() {
            0 => (mirrored, down),
            90 => (down, mirrored.map(|value| -value)),
            180 => (mirrored.map(|value| -value), down.map(|value| -value)),
            270 => (down.map(|value| -value), mirrored),
            turned => unreachable!("sheets are turned by quarters, not by {turned} degrees"),
        };
        let mut geometry = Self {
            map: [x[0], x[1], 0.0, y[0], y[1], 0.0],
            inverse: [0.0; 6],
            warp: Warp::new(look),
            turned: look.turned(),
            mirrored: scan.mirrored,
            width: 0,
            height: 0,
        };
        let (left, top, right, bottom) = geometry.window(look, heading, typing);
        geometry.map[2] = -left;
        geometry.map[5] = -top;
        geometry.inverse = geometry.inverted();
        geometry.width = (right - left).ceil() as usize;
        geometry.height = (bottom - top).ceil() as usize;
        geometry
    }

    /// The image's left, top, right and bottom, before it is moved to start at 0.
    fn window(&self, look: &Look, heading: Area, typing: Area) -> (f64, f64, f64, f64) {
        let width = f64::from(look.size.0 as u32);
        let whole = Area {
            left: 0.0,
            top: 0.0,
            right: look.size.0 as f32,
            bottom: look.size.1 as f32,
        };
        let (shown, margins, unit) = match look.scan.window {
            Window::Sheet(margins) => (whole, margins, width),
            Window::Strip(margins) => (heading, margins, f64::from(heading.bottom - heading.top)),
        };
        let mut shown = self.corners(shown).extent();
        if let Some(second) = look.scan.second {
            let (dx, dy) = (second.right * whole.right, second.down * whole.bottom);
            let flat = Self {
                warp: None,
                ..*self
            };
            let other = flat.corners(whole.moved(dx, dy)).extent();
            shown = (
                shown.0.min(other.0),
                shown.1.min(other.1),
                shown.2.max(other.2),
                shown.3.max(other.3),
            );
        }
        let margin = |index: usize| f64::from(margins[index]) * unit;
        let kept = f64::from(KEPT);
        let seen = self.corners(typing).extent();
        let mut window = [
            (shown.0 - margin(0)).min(seen.0 - kept),
            (shown.1 - margin(1)).min(seen.1 - kept),
            (shown.2 + margin(2)).max(seen.2 + kept),
            (shown.3 + margin(3)).max(seen.3 + kept),
        ];
        if look.scan.cut_off.is_some() {
            // The side of the image that the lost end lies nearest to is moved in to what is left of the typing.
            let left = self.corners(left_over(look, typing)).extent();
            let moves = [
                left.0 - seen.0,
                left.1 - seen.1,
                seen.2 - left.2,
                seen.3 - left.3,
            ];
            let side = (0..4).fold(0, |most, side| {
                if moves[side] > moves[most] {
                    side
                } else {
                    most
                }
            });
            window[side] = [left.0, left.1, left.2, left.3][side];
        }
        let [left, top, right, bottom] = window;
        (left, top, right, bottom)
    }

    /// An area's corners on the image, in the area's own reading order: a straight quadrilateral that holds the area
    /// where its rows bow.
    pub fn corners(&self, area: Area) -> Quad {
        let (above, below) = self
            .warp
            .map_or((0.0, 0.0), |warp| warp.bow(area.left, area.right));
        let (top, bottom) = (area.top - above, area.bottom + below);
        Quad([
            self.place(area.left, top),
            self.place(area.right, top),
            self.place(area.right, bottom),
            self.place(area.left, bottom),
        ])
    }

    fn place(&self, x: f32, y: f32) -> Point {
        let [a, b, c, d, e, f] = self.map;
        let (x, y) = self.warp.map_or((x, y), |warp| warp.warp((x, y)));
        let (x, y) = (f64::from(x), f64::from(y));
        Point {
            x: a * x + b * y + c,
            y: d * x + e * y + f,
        }
    }

    /// Clockwise degrees by which an area leans on the image, seen after the turn and the mirroring.
    pub fn skew(&self, area: Area) -> f64 {
        let Quad([a, b, c, d]) = self.corners(area);
        let (x, y) = (b.x + c.x - a.x - d.x, b.y + c.y - a.y - d.y);
        let (x, y) = match self.turned {
            90 => (-y, x),
            180 => (-x, -y),
            270 => (y, -x),
            _ => (x, y),
        };
        let x = if self.mirrored { -x } else { x };
        y.atan2(x).to_degrees()
    }

    /// Where an image pixel lies on the sheet, in sheet pixels.
    pub fn sheet_place(&self, x: f32, y: f32) -> (f32, f32) {
        let (u, v) = self.flat_place(x, y);
        self.warp.map_or((u, v), |warp| warp.flatten(u, v))
    }

    /// The same, were the sheet flat.
    pub fn flat_place(&self, x: f32, y: f32) -> (f32, f32) {
        let [a, b, c, d, e, f] = self.inverse;
        let (x, y) = (f64::from(x) + 0.5, f64::from(y) + 0.5);
        (
            (a * x + b * y + c - 0.5) as f32,
            (d * x + e * y + f - 0.5) as f32,
        )
    }

    /// From image to flat sheet pixels.
    fn inverted(&self) -> [f64; 6] {
        let [a, b, c, d, e, f] = self.map;
        let determinant = a * e - b * d;
        [
            e / determinant,
            -b / determinant,
            (b * f - e * c) / determinant,
            -d / determinant,
            a / determinant,
            (d * c - a * f) / determinant,
        ]
    }
}

/// What of the typing is left where the image cuts it off; all of it elsewhere.
pub fn left_over(look: &Look, typing: Area) -> Area {
    let mut left = typing;
    if let Some((side, share)) = look.scan.cut_off {
        let across = (typing.right - typing.left) * share;
        let down = (typing.bottom - typing.top) * share;
        match side {
            0 => left.left += across,
            1 => left.top += down,
            2 => left.right -= across,
            _ => left.bottom -= down,
        }
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::demo::look::Edge;
    use crate::command::demo::{Collection, Settings};

    const AREA: Area = Area {
        left: 100.0,
        top: 50.0,
        right: 900.0,
        bottom: 120.0,
    };

    /// As [`Quad`] says: corners in the strip's own reading order, wherever that puts them on the image.
    #[test]
    fn corners_follow_turn_mirror_and_skew() {
        let mut look = Collection::new(Settings::default()).sheet(0).look;
        look.edge = Edge::Top;
        (look.scan.curl, look.scan.perspective) = ([0.0; 2], [0.0; 2]);
        // On the image the text runs right, up, left, down; mirrored, its lines follow on the other side.
        for (turned, mirrored, along, down) in [
            (0, false, (1, 0), (0, 1)),
            (90, false, (0, -1), (1, 0)),
            (180, false, (-1, 0), (0, -1)),
            (270, false, (0, 1), (-1, 0)),
            (0, true, (-1, 0), (0, 1)),
            (90, true, (0, 1), (1, 0)),
            (180, true, (1, 0), (0, -1)),
            (270, true, (0, -1), (-1, 0)),
        ] {
            look.scan.turned = turned;
            look.scan.mirrored = mirrored;
            look.scan.skew = 1.0;
            let geometry = Geometry::new(&look, AREA, AREA);
            let Quad([first, second, third, fourth]) = geometry.corners(AREA);
            let direction = |from: Point, to: Point| {
                let (x, y) = (to.x - from.x, to.y - from.y);
                let length = x.hypot(y);
                ((x / length).round() as i32, (y / length).round() as i32)
            };
            let case = format!("turned by {turned}, mirrored {mirrored}");
            assert_eq!(direction(first, second), along, "{case}");
            assert_eq!(direction(second, third), down, "{case}");
            assert_eq!(direction(first, fourth), down, "{case}");
            assert!((geometry.skew(AREA) - 1.0).abs() < 1e-3, "{case}");
            // Pixel 0 has its middle at 0.5.
            let (back, _) = geometry.sheet_place(first.x as f32 - 0.5, first.y as f32 - 0.5);
            assert!((back - 99.5).abs() < 1e-2, "{case}: {back}");
        }
    }

    #[test]
    fn a_warp_is_undone_and_its_corners_hold_the_bowed_rows() {
        let mut look = Collection::new(Settings::default()).sheet(0).look;
        look.scan.curl = [0.008, -0.001];
        look.scan.perspective = [0.012, -0.008];
        let geometry = Geometry::new(&look, AREA, AREA);
        let warp = geometry.warp.unwrap();
        let (above, below) = warp.bow(AREA.left, AREA.right);
        assert!(above + below > 1.0, "it bows by {above} and {below}");
        for x in [100.0, 333.0, 500.0, 777.0, 900.0] {
            for y in [50.0, 120.0, 600.0] {
                let (u, v) = warp.warp((x, y));
                let (back_x, back_y) = warp.flatten(u, v);
                assert!((back_x - x).hypot(back_y - y) < 0.02, "{x}, {y}");
            }
            // The sheet's own rows lie between the corners' lines.
            let on_row = |y: f32| warp.warp((x, y)).1;
            let straight = |y: f32| {
                let (left, right) = (warp.warp((AREA.left, y)), warp.warp((AREA.right, y)));
                left.1 + (right.1 - left.1) * (x - AREA.left) / (AREA.right - AREA.left)
            };
            assert!(on_row(AREA.top) > straight(AREA.top - above) - 0.1, "{x}");
            assert!(
                on_row(AREA.bottom) < straight(AREA.bottom + below) + 0.1,
                "{x}"
            );
        }
    }
}
