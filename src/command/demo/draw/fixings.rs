//! What was fixed to a sheet or taken out of it: staples, clips, tape, holes, notches; and the fingers that held it.

use super::canvas::{Area, Canvas};
use super::grain::{BLOTCHY, DEVIATION};
use crate::command::demo::look::{Edge, Fixing, Look};
use crate::command::demo::within;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// A round hole in the sheet, or a notch where its middle is near the sheet's edge; in sheet pixels.
#[derive(Debug, Clone, Copy)]
pub struct Hole {
    pub middle: (f32, f32),
    pub radius: f32,
}

/// Draws what the look names and gives the holes. Nothing opaque is put on the typing.
pub fn draw(
    canvas: &mut Canvas,
    look: &Look,
    (heading, typing): (Area, Area),
    random: &mut ChaCha8Rng,
) -> Vec<Hole> {
    let mut place = Place {
        canvas,
        inch: look.resolution,
        edge: look.edge,
        typing,
    };
    let mut holes = Vec::new();
    for fixing in &look.wear.fixings {
        match fixing {
            Fixing::Staple => place.staple(random),
            Fixing::PaperClip => place.clip(random),
            Fixing::Tape => place.tape(heading, random),
            Fixing::FingerPrint => place.finger_print(heading, random),
            Fixing::Notch => holes.extend(place.notch(random)),
            Fixing::Holes => holes.extend(place.punched(random)),
        }
    }
    holes
}

struct Place<'a> {
    canvas: &'a mut Canvas,
    /// Pixels.
    inch: f32,
    edge: Edge,
    typing: Area,
}

impl Place<'_> {
    /// Room for something of this size near the heading's edge that is clear of the typing; none where there is none.
    fn clear(&self, width: f32, height: f32, random: &mut ChaCha8Rng) -> Option<(f32, f32)> {
        let sheet = (self.canvas.width as f32, self.canvas.height as f32);
        for _ in 0..40 {
            let x = within(random, 0.0..(sheet.0 - width).max(1.0));
            let from_edge = within(random, 0.0..0.12) * sheet.1;
            let y = match self.edge {
                Edge::Bottom => sheet.1 - from_edge - height,
                _ => from_edge,
            };
            let area = Area {
                left: x,
                top: y,
                right: x + width,
                bottom: y + height,
            };
            let typing = self.typing.grown(0.04 * self.inch, sheet.0, sheet.1);
            if !area.meets(&typing) {
                return Some((x, y));
            }
        }
        None
    }

    /// A wire from one place to another, round and shining: dark at its sides, light in its middle.
    fn wire(&mut self, from: (f32, f32), to: (f32, f32), thickness: f32) {
        self.canvas
            .stroke(from, to, thickness, |canvas, x, y, cover| {
                canvas.ink(x, y, cover * 0.85)
            });
        self.canvas
            .stroke(from, to, thickness * 0.35, |canvas, x, y, cover| {
                canvas.scrape(x, y, cover * 0.7)
            });
    }

    /// Half an inch of wire, at any slant.
    fn staple(&mut self, random: &mut ChaCha8Rng) {
        let length = within(random, 0.4..0.5) * self.inch;
        let turn = within(random, -0.6..0.6f32);
        let (dx, dy) = (length * turn.cos(), length * turn.sin());
        if let Some((x, y)) = self.clear(dx, dy.abs(), random) {
            let y = if dy < 0.0 { y - dy } else { y };
            self.wire((x, y), (x + dx, y + dy), 0.025 * self.inch);
        }
    }

    /// Three wires that hang from the heading's edge.
    fn clip(&mut self, random: &mut ChaCha8Rng) {
        let (width, length) = (0.28 * self.inch, within(random, 0.7..1.1) * self.inch);
        let sheet = (self.canvas.width as f32, self.canvas.height as f32);
        // Beside the typing, where there is more room.
        let (left, right) =
            if self.typing.is_nothing() || self.typing.left > sheet.0 - self.typing.right {
                (0.0, self.typing.left.min(sheet.0))
            } else {
                (self.typing.right, sheet.0)
            };
        let x = within(random, left..(right - width).max(left + 1.0));
        let (from, down) = match self.edge {
            Edge::Bottom => (sheet.1, -1.0),
            _ => (0.0, 1.0),
        };
        let thickness = 0.035 * self.inch;
        let ends = [(0.0, 0.75), (0.5, 1.0), (1.0, 0.85)];
        for (across, share) in ends {
            let x = x + across * width;
            self.wire((x, from), (x, from + down * share * length), thickness);
        }
        let last = from + down * length;
        self.wire(
            (x + 0.5 * width, last),
            (x + width, from + down * 0.85 * length),
            thickness,
        );
    }

    /// A strip of clear tape across part of the heading: its edges show, and what is below is a little paler.
    fn tape(&mut self, heading: Area, random: &mut ChaCha8Rng) {
        let height = heading.bottom - heading.top;
        let width = within(random, 0.5..1.6) * self.inch;
        let left = within(
            random,
            heading.left..(heading.right - width).max(heading.left + 1.0),
        );
        let top = heading.top + within(random, -0.1..0.2) * height;
        let tape = Area {
            left,
            top,
            right: left + width,
            bottom: top + within(random, 0.8..1.3) * height,
        };
        let (pale, veil) = (within(random, 0.1..0.3), within(random, 0.06..0.16));
        for y in tape.top as i32..tape.bottom as i32 {
            for x in tape.left as i32..tape.right as i32 {
                self.canvas.scrape(x, y, pale);
                self.canvas.ink(x, y, veil);
            }
        }
        let corners = [
            (tape.left, tape.top),
            (tape.right, tape.top),
            (tape.right, tape.bottom),
            (tape.left, tape.bottom),
        ];
        let strength = within(random, 0.15..0.45);
        for side in 0..4 {
            let (from, to) = (corners[side], corners[(side + 1) % 4]);
            self.canvas.stroke(from, to, 1.5, |canvas, x, y, cover| {
                canvas.ink(x, y, cover * strength)
            });
        }
    }

    /// Ridges of a finger tip on or beside the heading.
    fn finger_print(&mut self, heading: Area, random: &mut ChaCha8Rng) {
        let (rx, ry) = (0.26 * self.inch, 0.36 * self.inch);
        let x = within(random, heading.left..heading.right);
        let y = within(random, heading.top..heading.bottom + ry);
        // Half a millimetre from ridge to ridge.
        let pitch = within(random, 0.018..0.023) * self.inch;
        let strength = within(random, 0.12..0.35);
        let grain = (random.random_range(0..512), random.random_range(0..512));
        let core = (
            x + within(random, -0.3..0.3) * rx,
            y + within(random, 0.0..0.4) * ry,
        );
        for py in (y - ry) as i32..(y + ry) as i32 {
            for px in (x - rx) as i32..(x + rx) as i32 {
                let (fx, fy) = (px as f32, py as f32);
                let edge = 1.0 - ((fx - x) / rx).hypot((fy - y) / ry);
                if edge <= 0.0 {
                    continue;
                }
                let at = (
                    px.unsigned_abs() as usize + grain.0,
                    py.unsigned_abs() as usize + grain.1,
                );
                let blotch = BLOTCHY.at(at.0, at.1) / DEVIATION;
                let from_core = (fx - core.0).hypot((fy - core.1) * 0.7);
                let ridge = (from_core / pitch * std::f32::consts::TAU + blotch * 0.8).sin();
                let ink = ridge.max(0.0) * strength * (edge * 4.0).min(1.0) * (0.8 + 0.3 * blotch);
                self.canvas.ink(px, py, ink.clamp(0.0, 0.5));
            }
        }
    }

    /// A half-round notch in the sheet's edge, where no typing is.
    fn notch(&self, random: &mut ChaCha8Rng) -> Option<Hole> {
        let radius = within(random, 0.05..0.11) * self.inch;
        let sheet = (self.canvas.width as f32, self.canvas.height as f32);
        for _ in 0..40 {
            let along = within(random, 0.05..0.95);
            let middle = match random.random_range(0..4) {
                0 => (along * sheet.0, 0.0),
                1 => (along * sheet.0, sheet.1),
                2 => (0.0, along * sheet.1),
                _ => (sheet.0, along * sheet.1),
            };
            let hole = Hole { middle, radius };
            if !hole.touches(&self.typing) {
                return Some(hole);
            }
        }
        None
    }

    /// Two or three holes as for a binder, along the left or right side.
    fn punched(&self, random: &mut ChaCha8Rng) -> Vec<Hole> {
        // 6 mm across, the nearest 12 mm from the edge (common practice; from memory).
        let radius = 0.118 * self.inch;
        let inset = within(random, 0.25..0.47) * self.inch;
        let sheet = (self.canvas.width as f32, self.canvas.height as f32);
        let x = if random.random_bool(0.5) {
            inset
        } else {
            sheet.0 - inset
        };
        let count = random.random_range(2..=3);
        let first = within(random, 0.1..0.3);
        (0..count)
            .map(|hole| Hole {
                middle: (x, sheet.1 * (first + hole as f32 * 0.28)),
                radius,
            })
            .filter(|hole| !hole.touches(&self.typing))
            .collect()
    }
}

impl Hole {
    pub fn holds(&self, (x, y): (f32, f32)) -> bool {
        (x - self.middle.0).hypot(y - self.middle.1) < self.radius
    }

    /// Part of a straight run lies in the hole, or nearly.
    pub fn meets(&self, from: (f32, f32), to: (f32, f32)) -> bool {
        let middle = ((from.0 + to.0) / 2.0, (from.1 + to.1) / 2.0);
        let half = (to.0 - from.0).hypot(to.1 - from.1) / 2.0;
        let reach = self.radius + half;
        (middle.0 - self.middle.0).hypot(middle.1 - self.middle.1) < reach
    }

    fn touches(&self, area: &Area) -> bool {
        let nearest = (
            self.middle.0.clamp(area.left, area.right.max(area.left)),
            self.middle.1.clamp(area.top, area.bottom.max(area.top)),
        );
        let distance = (nearest.0 - self.middle.0).hypot(nearest.1 - self.middle.1);
        !area.is_nothing() && distance < self.radius * 1.2
    }
}
