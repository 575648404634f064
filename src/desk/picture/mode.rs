//! The glyphs that stand for a few picture dots each, and how many cells a typed character needs in them.

/// Glyphs that divide a cell into dots.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Glyphs {
    /// 2 by 3 dots.
    Sextants,
    /// 2 by 2 dots.
    Quadrants,
    /// 1 by 2 dots.
    HalfBlocks,
    /// 2 by 4 dots that do not touch; always of one bit.
    Braille,
    /// 2 by 4 dots. Terminals and tmux of 2024 and before print nothing in their place, which shifts the whole row, so
    /// they are used only where somebody asks for them.
    Octants,
}

/// How a picture is made of cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Mode {
    pub glyphs: Glyphs,
    /// Two greys a cell; otherwise the terminal's own two colours.
    pub has_greys: bool,
}

impl Glyphs {
    /// As `--picture` has them.
    pub const NAMES: [(&str, Self); 5] = [
        ("sextants", Self::Sextants),
        ("quadrants", Self::Quadrants),
        ("half-blocks", Self::HalfBlocks),
        ("braille", Self::Braille),
        ("octants", Self::Octants),
    ];

    /// Columns and rows of dots in a cell.
    pub fn dots(self) -> (u32, u32) {
        match self {
            Self::Sextants => (2, 3),
            Self::Quadrants => (2, 2),
            Self::HalfBlocks => (1, 2),
            Self::Braille | Self::Octants => (2, 4),
        }
    }

    /// The glyph whose dots are set where `bits` has a 1: row by row from the upper left, the lowest bit first.
    pub fn glyph(self, bits: u8) -> char {
        match self {
            Self::Sextants => sextant(bits),
            Self::Quadrants => QUADRANTS[usize::from(bits & 15)],
            Self::HalfBlocks => HALVES[usize::from(bits & 3)],
            Self::Braille => braille(bits),
            Self::Octants => octant(bits),
        }
    }

    /// One of its glyphs that few terminals lack when they have the others; for asking how wide it is printed.
    pub fn sample(self) -> char {
        match self {
            Self::Sextants => self.glyph(0b010_011),
            Self::Quadrants => self.glyph(0b1001),
            Self::HalfBlocks => self.glyph(0b01),
            Self::Braille => self.glyph(0b0110_1001),
            Self::Octants => self.glyph(0b0110_1001),
        }
    }
}

impl Mode {
    pub fn new(glyphs: Glyphs, has_colour: bool) -> Self {
        Self {
            glyphs,
            has_greys: has_colour && glyphs != Glyphs::Braille,
        }
    }

    /// Cells across that a typed character needs to be read about as well as in the picture itself: within 5 points of
    /// character error rate (0.033 in the picture), by Tesseract on cells turned back into pixels, on 24 pieces of 30
    /// typed columns in two fonts, clean and poor.
    pub fn cells_a_character(self) -> f64 {
        match (self.glyphs, self.has_greys) {
            (Glyphs::Sextants, _) => 3.5,
            (Glyphs::Quadrants, true) => 4.0,
            (Glyphs::Quadrants, false) | (Glyphs::HalfBlocks, true) => 5.0,
            (Glyphs::HalfBlocks, false) => 8.0,
            (Glyphs::Braille | Glyphs::Octants, _) => 3.0,
        }
    }
}

const QUADRANTS: [char; 16] = [
    ' ', '▘', '▝', '▀', '▖', '▌', '▞', '▛', '▗', '▚', '▐', '▜', '▄', '▙', '▟', '█',
];

const HALVES: [char; 4] = [' ', '▀', '▄', '█'];

/// The left half, the right half and the full block were in Unicode before the sextants and are left out there.
fn sextant(bits: u8) -> char {
    const FIRST: u32 = 0x1fb00;
    const LEFT: u8 = 0b01_0101;
    const RIGHT: u8 = 0b10_1010;
    match bits & 63 {
        0 => ' ',
        LEFT => '▌',
        RIGHT => '▐',
        63 => '█',
        bits => {
            let left_out = 1 + u32::from(bits > LEFT) + u32::from(bits > RIGHT);
            char::from_u32(FIRST + u32::from(bits) - left_out).expect("a sextant")
        }
    }
}

/// Braille counts its dots down the left column, then the right, and the lowest row last.
fn braille(bits: u8) -> char {
    const DOTS: [u32; 8] = [0x01, 0x08, 0x02, 0x10, 0x04, 0x20, 0x40, 0x80];
    let dots = DOTS.iter().zip(0..);
    let sum: u32 = dots
        .filter(|(_, at)| bits >> at & 1 == 1)
        .map(|(dot, _)| dot)
        .sum();
    char::from_u32(0x2800 + sum).expect("a braille pattern")
}

/// Octants that Unicode had under other names: 10 besides the 16 quadrants.
const ELSEWHERE: [(u8, char); 10] = [
    (0b0000_0001, '\u{1cea8}'),
    (0b0000_0010, '\u{1ceab}'),
    (0b0100_0000, '\u{1cea3}'),
    (0b1000_0000, '\u{1cea0}'),
    (0b0000_0011, '\u{1fb82}'),
    (0b1100_0000, '▂'),
    (0b0011_1111, '\u{1fb85}'),
    (0b1111_1100, '▆'),
    (0b0001_0100, '\u{1fbe6}'),
    (0b0010_1000, '\u{1fbe7}'),
];

/// The quadrant of the same shape, where each half of a column is all set or all clear.
fn as_quadrant(bits: u8) -> Option<char> {
    let same = |upper: u8, lower: u8| match (bits >> upper & 1, bits >> lower & 1) {
        (a, b) if a == b => Some(a),
        _ => None,
    };
    let bits = same(0, 2)? | same(1, 3)? << 1 | same(4, 6)? << 2 | same(5, 7)? << 3;
    Some(QUADRANTS[usize::from(bits)])
}

/// The octants follow their bits, those left out that have other names (Unicode 16, block U+1CC00, from memory; that
/// exactly 230 are left for U+1CD00 to U+1CDE5 is tested).
fn octant(bits: u8) -> char {
    let other = |bits: u8| {
        let named = ELSEWHERE.iter().find(|(known, _)| *known == bits);
        as_quadrant(bits).or(named.map(|(_, glyph)| *glyph))
    };
    other(bits).unwrap_or_else(|| {
        let before = (0..bits).filter(|&bits| other(bits).is_none()).count();
        char::from_u32(0x1cd00 + before as u32).expect("an octant")
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn every_pattern_has_a_glyph_of_its_own() {
        for (name, glyphs) in Glyphs::NAMES {
            let (across, down) = glyphs.dots();
            let patterns = 1u32 << (across * down);
            let all: HashSet<char> = (0..patterns).map(|bits| glyphs.glyph(bits as u8)).collect();
            assert_eq!(all.len(), patterns as usize, "{name}");
            assert_eq!(
                glyphs.glyph((patterns - 1) as u8) == '█',
                glyphs != Glyphs::Braille
            );
        }
    }

    #[test]
    fn patterns_are_the_glyphs_that_unicode_names() {
        // The Unicode Standard's names: SEXTANT-1, SEXTANT-12, SEXTANT-23456, OCTANT-3, BRAILLE-1, -4, -7, -12345678.
        for (glyphs, bits, expected) in [
            (Glyphs::Sextants, 0b00_0001, '\u{1fb00}'),
            (Glyphs::Sextants, 0b00_0011, '\u{1fb02}'),
            (Glyphs::Sextants, 0b11_1110, '\u{1fb3b}'),
            (Glyphs::Quadrants, 0b1001, '▚'),
            (Glyphs::HalfBlocks, 0b10, '▄'),
            (Glyphs::Braille, 0b0000_0001, '⠁'),
            (Glyphs::Braille, 0b0000_0010, '⠈'),
            (Glyphs::Braille, 0b0100_0000, '⡀'),
            (Glyphs::Braille, 0b1111_1111, '⣿'),
            (Glyphs::Octants, 0b0000_0100, '\u{1cd00}'),
            (Glyphs::Octants, 0b0000_1111, '▀'),
            (Glyphs::Octants, 0b1111_1110, '\u{1cde5}'),
        ] {
            assert_eq!(glyphs.glyph(bits), expected, "{glyphs:?} {bits:b}");
        }
    }
}
