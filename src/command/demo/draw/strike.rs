//! The typing: glyph outlines struck one by one through a ribbon.

use super::canvas::{Area, Canvas};
use super::grain::{BLOTCHY, CLUMPY, DEVIATION};
use super::sheet::heading;
use crate::command::demo::look::Look;
use crate::command::demo::machine::{Alignment, Machine};
use crate::command::demo::within;
use ab_glyph::{Font, PxScale, point};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::collections::HashMap;
use std::ops::Range;

/// Slugs are drawn this many times larger than struck, so that turning and weighting them loses nothing.
const OVERSAMPLING: f32 = 2.0;
/// Cover from no ink to full ink, as a share of the blurred slug's range: the softness of an edge.
const EDGE: f32 = 0.35;
/// Blank sheet kept free at the left and right of a line, as a share of its width.
const SIDE: f32 = 0.008;
/// Share of the heading's height that the lines may fill.
const FILL: f32 = 0.94;

/// The type of one letter in this machine: blurred cover, oversampled, with what it has lost.
struct Slug {
    width: usize,
    height: usize,
    cover: Vec<u8>,
    /// From the pen position to the picture's top left, in struck pixels.
    offset: (f32, f32),
}

/// How the lines stand: sizes in sheet pixels.
#[derive(Debug, Clone, Copy)]
pub struct Setting {
    pub x_height: f32,
    pub cap_height: f32,
    leading: f32,
    scale: PxScale,
}

/// Lines as they were struck.
pub struct Typing {
    pub setting: Setting,
    /// Each line's ink.
    pub areas: Vec<Area>,
    /// Where each line begins, on its baseline.
    pub pens: Vec<(f32, f32)>,
}

impl Typing {
    /// The room from the baseline to the capitals' tops of some characters of a line.
    pub fn room(&self, machine: &Machine, row: usize, line: &str, columns: Range<usize>) -> Area {
        let (start, baseline) = self.pens[row];
        let until = |column: usize| {
            let letters: String = line.chars().take(column).collect();
            start + advance(machine, self.setting.scale, &letters)
        };
        Area {
            left: until(columns.start),
            top: baseline - self.setting.cap_height,
            right: until(columns.end),
            bottom: baseline,
        }
    }
}

/// Strikes a few characters from a place on the baseline on, which climbs or falls by `lean` radians.
pub fn strike_at(
    canvas: &mut Canvas,
    machine: &Machine,
    setting: &Setting,
    (text, pen, lean): (&str, (f32, f32), f32),
    random: &mut ChaCha8Rng,
) -> Area {
    let slugs = cast(machine, setting, &[text.to_owned()], random);
    strike_line(canvas, machine, setting, &slugs, (text, pen, lean), random)
}

/// The size at which another machine's type is as high as this setting's.
pub fn as_high(machine: &Machine, setting: &Setting) -> Setting {
    let scale = machine.scale(setting.x_height);
    Setting { scale, ..*setting }
}

/// Strikes the lines into the heading.
pub fn strike(
    canvas: &mut Canvas,
    look: &Look,
    heading: Area,
    lines: &[String],
    random: &mut ChaCha8Rng,
) -> Typing {
    let machine = &look.machine;
    let (left, right) = reach(look, heading);
    let setting = fit(right - left, machine, heading, lines);
    let slugs = cast(machine, &setting, lines, random);
    let block = setting.cap_height + (lines.len().max(1) - 1) as f32 * setting.leading;
    let room = (heading.bottom - heading.top - block).max(0.0);
    let first_baseline = heading.top + room * machine.drop + setting.cap_height;
    let indent = if random.random_bool(0.5) {
        0.0
    } else {
        within(random, -1.5..1.5) * setting.x_height
    };
    let (areas, pens) = lines
        .iter()
        .enumerate()
        .map(|(row, line)| {
            let width = advance(machine, setting.scale, line);
            let sheet = canvas.width as f32;
            let start = match machine.alignment {
                Alignment::Left(share) => heading.left + share * sheet + indent * row as f32,
                Alignment::Centred => {
                    (heading.left + heading.right - width) / 2.0
                        + if row > 0 { indent } else { 0.0 }
                }
                Alignment::Right(share) => heading.right - share * sheet - width,
            };
            let pen = (
                start.clamp(left, (right - width).max(left)),
                first_baseline + row as f32 * setting.leading,
            );
            let struck = (line.as_str(), pen, 0.0);
            let area = strike_line(canvas, machine, &setting, &slugs, struck, random);
            (area, pen)
        })
        .unzip();
    Typing {
        setting,
        areas,
        pens,
    }
}

/// The x-height at which the lines would be struck, in pixels.
pub fn x_height(look: &Look, lines: &[String]) -> f32 {
    let heading = heading(look);
    let (left, right) = reach(look, heading);
    fit(right - left, &look.machine, heading, lines).x_height
}

/// From where to where lines may reach, in pixels: within the heading, clear of a cut-off corner and, unless they run
/// to the edge, of its edges.
fn reach(look: &Look, heading: Area) -> (f32, f32) {
    let width = look.size.0 as f32;
    let cut = |on_right: bool| {
        look.cut
            .filter(|&(_, right)| right == on_right)
            .map_or(0.0, |(share, _)| share)
    };
    let side = if look.to_edge { 0.0 } else { SIDE * width };
    (
        heading.left.max(cut(false) * width) + side,
        heading.right.min(width - cut(true) * width) - side,
    )
}

/// The size at which the lines fit the heading and `room` pixels across, the machine's own if it does.
fn fit(room: f32, machine: &Machine, heading: Area, lines: &[String]) -> Setting {
    let caps = machine.face.height_of('H') / machine.face.height_of('x');
    let block = caps * (1.0 + (lines.len().max(1) - 1) as f32 * machine.leading);
    let longest = lines
        .iter()
        .map(|line| advance(machine, machine.scale(1.0), line))
        .fold(1e-3, f32::max);
    let size = machine
        .x_height
        .min((heading.bottom - heading.top) * FILL / block)
        .min(room / longest);
    Setting {
        x_height: size,
        cap_height: size * caps,
        leading: size * caps * machine.leading,
        scale: machine.scale(size),
    }
}

impl Machine {
    /// The scale at which its type has this x-height, in pixels.
    fn scale(&self, x_height: f32) -> PxScale {
        let y = x_height / self.face.height_of('x') * self.face.font.height_unscaled();
        PxScale {
            x: y * self.width,
            y,
        }
    }
}

/// Width of a line in pixels.
fn advance(machine: &Machine, scale: PxScale, line: &str) -> f32 {
    line.chars()
        .map(|letter| step(machine, scale, letter))
        .sum()
}

/// From one strike to the next, in pixels.
fn step(machine: &Machine, scale: PxScale, letter: char) -> f32 {
    let font = &machine.face.font;
    let units = font.h_advance_unscaled(font.glyph_id(letter));
    units * scale.x / font.height_unscaled() / machine.width * machine.pitch
}

/// Makes the slugs that the lines need.
fn cast(
    machine: &Machine,
    setting: &Setting,
    lines: &[String],
    random: &mut ChaCha8Rng,
) -> HashMap<char, Slug> {
    let mut letters: Vec<char> = lines
        .iter()
        .flat_map(|line| line.chars())
        .filter(|&c| c != ' ')
        .collect();
    letters.sort_unstable();
    letters.dedup();
    let font = &machine.face.font;
    let radius = (machine.clog * setting.x_height * OVERSAMPLING)
        .round()
        .max(1.0) as usize;
    let mut slugs = HashMap::new();
    for letter in letters {
        let scale = PxScale {
            x: setting.scale.x * OVERSAMPLING,
            y: setting.scale.y * OVERSAMPLING,
        };
        let glyph = font
            .glyph_id(letter)
            .with_scale_and_position(scale, point(0.0, 0.0));
        let Some(outlined) = font.outline_glyph(glyph) else {
            continue;
        };
        let bounds = outlined.px_bounds();
        let margin = 2 * radius + 2;
        let width = bounds.width() as usize + 2 * margin;
        let height = bounds.height() as usize + 2 * margin;
        let mut cover = vec![0u8; width * height];
        outlined.draw(|x, y, share| {
            cover[(y as usize + margin) * width + x as usize + margin] =
                (share.min(1.0) * 255.0) as u8;
        });
        let mut picture = Canvas {
            width,
            height,
            pixels: cover,
        };
        if random.random::<f32>() < machine.broken {
            break_off(&mut picture, random);
        }
        // Variances add up; each pass gives what one call can.
        let passes = radius.div_ceil(2);
        for _ in 0..passes {
            picture.blur(radius as f32 / (passes as f32).sqrt());
        }
        // Dirt spreads a stroke but does not thin it: its middle keeps full cover.
        let most = picture.pixels.iter().copied().max().unwrap_or(255).max(1);
        for pixel in &mut picture.pixels {
            *pixel = (u16::from(*pixel) * 255 / u16::from(most)) as u8;
        }
        let offset = (
            (bounds.min.x - margin as f32) / OVERSAMPLING,
            (bounds.min.y - margin as f32) / OVERSAMPLING,
        );
        slugs.insert(
            letter,
            Slug {
                width,
                height,
                cover: picture.pixels,
                offset,
            },
        );
    }
    slugs
}

/// Takes a piece off a slug: its edge beyond a slanting line, or a nick across it. The greater part always stays.
fn break_off(picture: &mut Canvas, random: &mut ChaCha8Rng) {
    let (width, height) = (picture.width as f32, picture.height as f32);
    let turn = within(random, 0.0..std::f32::consts::TAU);
    let (dx, dy) = (turn.cos(), turn.sin());
    let reach = (width * dx.abs() + height * dy.abs()) / 2.0;
    let from = within(random, 0.5..0.75) * reach;
    let until = if random.random_bool(0.5) {
        f32::INFINITY
    } else {
        from + within(random, 0.06..0.12) * height
    };
    for y in 0..picture.height {
        for x in 0..picture.width {
            let along = (x as f32 - width / 2.0) * dx + (y as f32 - height / 2.0) * dy;
            if (from..until).contains(&along) {
                picture.pixels[y * picture.width + x] /= 4;
            }
        }
    }
}

/// Strikes one line; gives its ink's area.
fn strike_line(
    canvas: &mut Canvas,
    machine: &Machine,
    setting: &Setting,
    slugs: &HashMap<char, Slug>,
    (line, (mut x, baseline), lean): (&str, (f32, f32), f32),
    random: &mut ChaCha8Rng,
) -> Area {
    let mut area = Area::NOTHING;
    // The platen drifts a little along the line.
    let drift = within(random, -1.0..1.0) * machine.height_jitter * setting.x_height / 1200.0;
    let start = x;
    for letter in line.chars() {
        if let Some(slug) = slugs.get(&letter) {
            let pen = (
                x + spread(random) * machine.advance_jitter * setting.x_height,
                baseline
                    + spread(random) * machine.height_jitter * setting.x_height
                    + (x - start) * (drift + lean),
            );
            let strike = Strike {
                pen,
                turn: (spread(random) * machine.turn_jitter).to_radians() + lean,
                ink: machine.ribbon
                    * (1.0 + spread(random) * machine.unevenness).clamp(0.6, 1.0 / machine.ribbon),
                weight: machine.weight + spread(random) * machine.unevenness * 0.06,
                lean: spread(random) * machine.unevenness,
                texture: machine.texture,
                grain: (random.random_range(0..512), random.random_range(0..512)),
            };
            area = area.union(&strike.onto(canvas, slug, setting.x_height));
        }
        x += step(machine, setting.scale, letter);
    }
    area
}

/// One blow of a slug.
struct Strike {
    /// On the baseline.
    pen: (f32, f32),
    /// Radians, clockwise.
    turn: f32,
    ink: f32,
    weight: f32,
    /// More ink at the bottom (positive) or top of the slug than in its middle.
    lean: f32,
    texture: f32,
    grain: (usize, usize),
}

impl Strike {
    /// Puts the ink down and gives its area.
    fn onto(&self, canvas: &mut Canvas, slug: &Slug, x_height: f32) -> Area {
        let (sin, cos) = self.turn.sin_cos();
        let (width, height) = (
            slug.width as f32 / OVERSAMPLING,
            slug.height as f32 / OVERSAMPLING,
        );
        let (left, top) = (self.pen.0 + slug.offset.0, self.pen.1 + slug.offset.1);
        let (middle_x, middle_y) = (left + width / 2.0, top + height / 2.0);
        let slack = (width.max(height) * sin.abs() / 2.0).ceil() + 1.0;
        // A bolder strike takes its edge further out, where the blurred slug has less cover.
        let threshold = (0.5 - self.weight * 4.0).clamp(0.15, 0.62);
        let mut area = Area::NOTHING;
        let span = |from: f32, length: f32, most: usize| {
            (from - slack).max(0.0) as usize..((from + length + slack).max(0.0) as usize).min(most)
        };
        for y in span(top, height, canvas.height) {
            for x in span(left, width, canvas.width) {
                let (dx, dy) = (x as f32 + 0.5 - middle_x, y as f32 + 0.5 - middle_y);
                let u = (dx * cos + dy * sin + width / 2.0) * OVERSAMPLING - 0.5;
                let v = (dy * cos - dx * sin + height / 2.0) * OVERSAMPLING - 0.5;
                let cover = (slug.sample(u, v) - threshold) / EDGE + 0.5;
                if cover <= 0.02 {
                    continue;
                }
                let (gx, gy) = (x + self.grain.0, y + self.grain.1);
                let eaten =
                    (CLUMPY.at(gx, gy) * 0.7 + BLOTCHY.at(gx, gy) * 0.6) / DEVIATION * self.texture;
                let ink = cover.min(1.0)
                    * self.ink
                    * (1.0 + self.lean * dy / x_height)
                    * (1.0 - eaten.max(-0.3)).clamp(0.0, 1.3);
                canvas.ink(x as i32, y as i32, ink.clamp(0.0, 1.0));
                // Half cover counts as the ink's edge.
                if cover > 0.5 {
                    let (x, y) = (x as f32, y as f32);
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
}

impl Slug {
    /// Cover between pixels, 0 to 1.
    fn sample(&self, u: f32, v: f32) -> f32 {
        let (x, y) = (u.floor(), v.floor());
        if x < 0.0 || y < 0.0 || x as usize + 1 >= self.width || y as usize + 1 >= self.height {
            return 0.0;
        }
        let at = y as usize * self.width + x as usize;
        let (fx, fy) = (u - x, v - y);
        let tap = |at: usize| f32::from(self.cover[at]);
        let upper = tap(at) + (tap(at + 1) - tap(at)) * fx;
        let below = at + self.width;
        let lower = tap(below) + (tap(below + 1) - tap(below)) * fx;
        (upper + (lower - upper) * fy) / 255.0
    }
}

/// A number of mean 0 and standard deviation 1, never beyond 3.
pub fn spread(random: &mut ChaCha8Rng) -> f32 {
    // Sum of three uniform numbers has variance 1/4.
    (0..3).map(|_| random.random::<f32>() - 0.5).sum::<f32>() * 2.0
}
