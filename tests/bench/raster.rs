//! A screen of cells as a picture: what a terminal would show, so that it can be looked at and read by machine.

use ab_glyph::{Font, FontRef, PxScale, ScaleFont, point};
use image::{Rgb, RgbImage};
use ratatui::buffer::{Buffer, Cell};
use ratatui::style::{Color, Modifier};

const FONT: &[u8] = include_bytes!("../../demo-data/fonts/LiberationMono.ttf");
/// The terminal's own two colours.
const PAPER: [u8; 3] = [22, 23, 26];
const INK: [u8; 3] = [208, 208, 208];
const BRIGHT: [u8; 3] = [255, 255, 255];
const DIM: [u8; 3] = [140, 140, 140];

/// Draws a screen with cells of so many pixels.
pub fn raster(buffer: &Buffer, cell: (u32, u32)) -> RgbImage {
    let font = FontRef::try_from_slice(FONT).expect("the typeface is part of the repository");
    let area = buffer.area;
    let size = (
        u32::from(area.width) * cell.0,
        u32::from(area.height) * cell.1,
    );
    let mut image = RgbImage::new(size.0, size.1);
    for y in 0..area.height {
        for x in 0..area.width {
            let at = (u32::from(x) * cell.0, u32::from(y) * cell.1);
            draw_cell(&mut image, &font, &buffer[(x, y)], at, cell);
        }
    }
    image
}

fn draw_cell(image: &mut RgbImage, font: &FontRef, cell: &Cell, at: (u32, u32), size: (u32, u32)) {
    let usual = match cell.modifier {
        m if m.contains(Modifier::BOLD) => BRIGHT,
        m if m.contains(Modifier::DIM) => DIM,
        _ => INK,
    };
    let mut ink = colour(cell.fg).unwrap_or(usual);
    let mut paper = colour(cell.bg).unwrap_or(PAPER);
    if cell.modifier.contains(Modifier::REVERSED) {
        std::mem::swap(&mut ink, &mut paper);
    }
    let character = cell.symbol().chars().next().unwrap_or(' ');
    let points = points(character);
    for y in 0..size.1 {
        for x in 0..size.0 {
            let is_set = points.is_some_and(|(bits, across, down)| {
                let (column, row) = (x * across / size.0, y * down / size.1);
                bits >> (row * across + column) & 1 == 1
            });
            let shade = if is_set { ink } else { paper };
            image.put_pixel(at.0 + x, at.1 + y, Rgb(shade));
        }
    }
    if points.is_none() && character != ' ' {
        glyph(image, font, character, at, size, ink);
    }
    if cell.modifier.contains(Modifier::UNDERLINED) {
        for x in 0..size.0 {
            image.put_pixel(at.0 + x, at.1 + size.1 - 2, Rgb(ink));
        }
    }
}

fn glyph(
    image: &mut RgbImage,
    font: &FontRef,
    character: char,
    at: (u32, u32),
    size: (u32, u32),
    ink: [u8; 3],
) {
    let scale = PxScale::from(size.1 as f32 * 0.85);
    let baseline = at.1 as f32 + font.as_scaled(scale).ascent();
    let glyph = font.glyph_id(character);
    let glyph = glyph.with_scale_and_position(scale, point(at.0 as f32, baseline));
    let Some(outlined) = font.outline_glyph(glyph) else {
        return;
    };
    let bounds = outlined.px_bounds();
    outlined.draw(|x, y, cover| {
        let (x, y) = (x + bounds.min.x as u32, y + bounds.min.y as u32);
        if let Some(pixel) = image.get_pixel_mut_checked(x, y) {
            for (own, ink) in pixel.0.iter_mut().zip(ink) {
                let mixed = f32::from(*own) + (f32::from(ink) - f32::from(*own)) * cover;
                *own = mixed as u8;
            }
        }
    });
}

/// The greys of 256 colours, and black and white; none for the terminal's own.
fn colour(colour: Color) -> Option<[u8; 3]> {
    match colour {
        Color::Indexed(16) => Some([0; 3]),
        Color::Indexed(231) => Some([255; 3]),
        Color::Indexed(at @ 232..) => Some([8 + 10 * (at - 232); 3]),
        _ => None,
    }
}

/// The points that a block character sets, from the left and then down, and how many there are across and down.
fn points(character: char) -> Option<(u32, u32, u32)> {
    let code = character as u32;
    Some(match character {
        '█' => (1, 1, 1),
        '▌' => (1, 2, 1),
        '▐' => (2, 2, 1),
        '▀' => (1, 1, 2),
        '▄' => (2, 1, 2),
        '▘' => (1, 2, 2),
        '▝' => (2, 2, 2),
        '▖' => (4, 2, 2),
        '▗' => (8, 2, 2),
        '▞' => (6, 2, 2),
        '▚' => (9, 2, 2),
        '▛' => (7, 2, 2),
        '▜' => (11, 2, 2),
        '▙' => (13, 2, 2),
        '▟' => (14, 2, 2),
        // The code chart leaves out the four that are elsewhere: nothing, the left half, the right half, all.
        '\u{1fb00}'..='\u{1fb3b}' => {
            let bits = code - 0x1fb00 + 1;
            let bits = bits + u32::from(bits >= 21);
            (bits + u32::from(bits >= 42), 2, 3)
        }
        _ => return None,
    })
}
