//! The film below and around the heading: frames with their little pages, channels, rules, edges.

use super::canvas::{Area, Canvas};
use super::pages::{self, PAGES};
use crate::command::demo::look::{Edge, Look, Tone};
use crate::command::demo::within;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::ops::Range;

/// A heading nearer to the sheet's edge than this share of its height touches it.
const TOUCHING: f32 = 0.006;

/// The heading's area near the sheet's top or bottom: across the sheet, or a label's.
pub fn heading(look: &Look) -> Area {
    let (width, height) = (look.size.0 as f32, look.size.1 as f32);
    let above = look
        .stripe
        .filter(|stripe| stripe.above)
        .map_or(0.0, |stripe| stripe.thickness);
    let from_edge = (look.heading_top + above) * height;
    let top = match look.edge {
        Edge::Bottom => height - from_edge - look.heading * height,
        _ => from_edge,
    };
    let (left, right) = look.label.unwrap_or((0.0, 1.0));
    Area {
        left: left * width,
        top,
        right: right * width,
        bottom: top + look.heading * height,
    }
}

/// Draws frames, channels, rule and box.
pub fn draw(canvas: &mut Canvas, look: &Look, random: &mut ChaCha8Rng) {
    let (width, height) = (canvas.width as f32, canvas.height as f32);
    let heading = heading(look);
    let stripe = look
        .stripe
        .filter(|stripe| !stripe.above)
        .map_or(0.0, |stripe| stripe.thickness);
    let gap = (stripe + within(random, 0.008..0.03)) * height;
    let below = look.edge != Edge::Bottom;
    let room = Area {
        left: 0.0,
        top: if below { heading.bottom + gap } else { 0.0 },
        right: width,
        bottom: if below { height } else { heading.top - gap },
    };
    frames(canvas, look, room, random);
    if let Some(thickness) = look.rule {
        let y = if below {
            heading.bottom + stripe * height
        } else {
            heading.top - (stripe + thickness) * height
        };
        let ink = within(random, 0.4..1.0);
        let (left, right) = (
            within(random, 0.0..0.03) * width,
            within(random, 0.97..1.0) * width,
        );
        canvas.fill(
            Area {
                left,
                top: y,
                right,
                bottom: y + (thickness * height).max(1.0),
            },
            ink,
        );
    }
    if look.boxed {
        let ink = within(random, 0.4..0.9);
        let edge = within(random, 1.0..3.0);
        let inset = within(random, 2.0..8.0);
        let (left, right) = (heading.left + inset, heading.right - inset);
        for (from, to) in [
            ((left, heading.top), (right, heading.top)),
            ((left, heading.bottom), (right, heading.bottom)),
            ((left, heading.top), (left, heading.bottom)),
            ((right, heading.top), (right, heading.bottom)),
        ] {
            canvas.stroke(from, to, edge, |canvas, x, y, cover| {
                canvas.ink(x, y, ink * cover)
            });
        }
    }
    // Cut film shows a dark or light edge.
    let edge = within(random, 1.0..4.0);
    let ink = within(random, 0.0..0.6);
    for area in [
        Area {
            left: 0.0,
            top: 0.0,
            right: width,
            bottom: edge,
        },
        Area {
            left: 0.0,
            top: height - edge,
            right: width,
            bottom: height,
        },
        Area {
            left: 0.0,
            top: 0.0,
            right: edge,
            bottom: height,
        },
        Area {
            left: width - edge,
            top: 0.0,
            right: width,
            bottom: height,
        },
    ] {
        canvas.fill(area, ink);
    }
}

/// Frames in the room beside the heading, upright where the heading is at the top or bottom edge and else turned.
fn frames(canvas: &mut Canvas, look: &Look, room: Area, random: &mut ChaCha8Rng) {
    let (rows, columns) = (look.grid.rows, look.grid.columns);
    let turned = look.edge.is_short();
    let across = (room.right - room.left, room.bottom - room.top);
    let (width, height) = if turned { (across.1, across.0) } else { across };
    // From the frames' own place to the canvas's.
    let place = |area: Area| match look.edge {
        Edge::Top | Edge::Bottom => area.moved(room.left, room.top),
        Edge::Left => Area {
            left: room.right - area.bottom,
            top: room.top + area.left,
            right: room.right - area.top,
            bottom: room.top + area.right,
        },
        Edge::Right => Area {
            left: room.left + area.top,
            top: room.bottom - area.right,
            right: room.left + area.bottom,
            bottom: room.bottom - area.left,
        },
    };
    let side = within(random, 0.005..0.03) * width;
    let sheet_height = if turned { height } else { canvas.height as f32 };
    let row_height = (height - within(random, 0.005..0.02) * sheet_height) / rows as f32;
    let channel_ink = within(random, 0.1..0.6);
    // Lower rows have narrower channels between them.
    let channel = within(random, 1.0..5.0).min(row_height * 0.06);
    let gutter = within(random, 0.02..0.12);
    let film_ink = within(random, 0.0..0.25);
    // Filled from the first frame on, as records are filmed.
    let filled = (look.filled * (rows * columns) as f32) as usize;
    let used_in = |row: usize| {
        if look.form.fills_columns() {
            filled / rows + usize::from(row < filled % rows)
        } else {
            filled.saturating_sub(row * columns).min(columns)
        }
    };
    let has_channels = look.form.has_channels();
    let holes = random.random_bool(0.3);
    for row in 0..rows {
        let y = row as f32 * row_height;
        let line = Area {
            left: 0.0,
            top: y,
            right: width,
            bottom: y + channel,
        };
        // Strips of film slide about in their channels.
        let mut shift = side + within(random, 0.0..0.015) * width;
        if has_channels {
            canvas.fill(place(line), channel_ink);
        } else {
            shift = side;
        }
        let column_width = (width - 2.0 * side - 0.015 * width) / columns as f32;
        let used = used_in(row);
        if used == 0 {
            continue;
        }
        let (film_top, film_bottom) = (y + channel + row_height * 0.03, y + row_height * 0.97);
        let film = Area {
            left: shift,
            top: film_top,
            right: shift + used as f32 * column_width,
            bottom: film_bottom,
        };
        if has_channels {
            canvas.fill(place(film), film_ink);
        }
        for column in 0..used {
            if holes && has_channels && random.random_bool(0.05) {
                continue;
            }
            let left = shift + (column as f32 + gutter / 2.0) * column_width;
            let area = Area {
                left,
                top: film_top + row_height * within(random, 0.03..0.06),
                right: left + column_width * (1.0 - gutter),
                bottom: film_bottom - row_height * within(random, 0.03..0.08),
            };
            let page = random.random_range(0..PAGES);
            let (mut contrast, mut fog) = (within(random, 0.5..1.0), within(random, 0.0..0.3));
            if !has_channels {
                // Exposed one after another by the same lamp.
                (contrast, fog) = (0.75 + 0.1 * contrast, channel_ink * 0.3 + 0.1 * fog);
            }
            let page = &pages::of(look.form)[page];
            place_page(canvas, (place(area), turned), page, contrast, fog);
        }
    }
}

/// Lays a page's picture into an area, turned or not: `contrast` of its ink, over an even `fog`.
fn place_page(
    canvas: &mut Canvas,
    (area, turned): (Area, bool),
    page: &Canvas,
    contrast: f32,
    fog: f32,
) {
    let (left, top) = (area.left.max(0.0) as usize, area.top.max(0.0) as usize);
    let (right, bottom) = (
        (area.right.max(0.0) as usize).min(canvas.width),
        (area.bottom.max(0.0) as usize).min(canvas.height),
    );
    if right <= left || bottom <= top {
        return;
    }
    let shades: Vec<u8> = (0..=255)
        .map(|bare| ((255.0 - (255 - bare) as f32 * contrast) * (1.0 - fog)) as u8)
        .collect();
    // Where the canvas's columns and rows lie in the picture's pixels; turned, they run along its columns and rows.
    let (across, down) = if turned {
        ((page.height, page.width), (page.width, 1))
    } else {
        ((page.width, 1), (page.height, page.width))
    };
    let columns: Vec<usize> = (left..right)
        .map(|x| (x - left) * across.0 / (right - left) * across.1)
        .collect();
    for y in top..bottom {
        let from = &page.pixels[(y - top) * down.0 / (bottom - top) * down.1..];
        let to = &mut canvas.pixels[y * canvas.width..][left..right];
        for (to, &column) in to.iter_mut().zip(&columns) {
            *to = shades[usize::from(from[column])];
        }
    }
}

/// The tone of a row of the sheet within `columns`; beside them lies the body.
#[derive(Debug, Clone)]
pub struct RowTone {
    pub tone: Tone,
    pub columns: Range<usize>,
}

/// The tone of each row: body, heading, stripe.
pub fn tones(look: &Look) -> Vec<RowTone> {
    let height = look.size.1 as f32;
    let heading = heading(look);
    let stripe = look.stripe.map(|stripe| {
        let top = if stripe.above == (look.edge == Edge::Bottom) {
            heading.bottom
        } else {
            heading.top - stripe.thickness * height
        };
        (top..top + stripe.thickness * height, stripe.colour)
    });
    // What lies between the sheet's edge and a heading that nearly touches it is the heading's own material.
    let touches = look.label.is_none() && look.heading_top < TOUCHING;
    let heading_rows = match look.edge {
        Edge::Bottom if touches => heading.top..height,
        _ if touches => 0.0..heading.bottom,
        _ => heading.top..heading.bottom,
    };
    let across = 0..look.size.0;
    (0..look.size.1)
        .map(|row| row as f32)
        .map(|y| match &stripe {
            Some((rows, colour)) if rows.contains(&y) => RowTone {
                tone: Tone {
                    ink: look.heading_tone.ink,
                    ground: *colour,
                },
                columns: across.clone(),
            },
            _ if heading_rows.contains(&y) => RowTone {
                tone: look.heading_tone,
                columns: heading.left as usize..heading.right as usize,
            },
            _ => RowTone {
                tone: look.body_tone,
                columns: across.clone(),
            },
        })
        .collect()
}
