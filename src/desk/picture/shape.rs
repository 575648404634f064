//! The shapes that a cell can show.

/// A set of characters that divide a cell into points.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Shape {
    /// Two by three points (Unicode 13, Symbols for Legacy Computing).
    #[default]
    Sextant,
    /// Two by two.
    Quadrant,
    /// One above the other.
    Half,
    /// Two by four dots, which leave gaps between them.
    Braille,
}

impl Shape {
    /// In the order in which they are tried.
    pub const ALL: [Self; 4] = [Self::Sextant, Self::Quadrant, Self::Half, Self::Braille];

    /// Points across and down a cell.
    pub fn points(self) -> (u32, u32) {
        match self {
            Self::Sextant => (2, 3),
            Self::Quadrant => (2, 2),
            Self::Half => (1, 2),
            Self::Braille => (2, 4),
        }
    }

    /// Cells that a typed character needs across to be legible; of one bit where there are no greys.
    pub fn cells_a_character(self, greys: bool) -> f64 {
        match (self, greys) {
            (Self::Sextant, _) => 3.5,
            (Self::Quadrant, true) => 4.0,
            (Self::Quadrant, false) | (Self::Half, true) => 5.0,
            (Self::Half, false) => 8.0,
            (Self::Braille, _) => 3.0,
        }
    }

    /// A character that stands for the whole set when the terminal is asked how wide it draws it.
    pub fn probe(self) -> char {
        match self {
            Self::Sextant => '\u{1fb00}',
            Self::Quadrant => '▚',
            Self::Half => '▀',
            Self::Braille => '⠿',
        }
    }

    /// The character whose points of these bits are set; bits count from the left, then down.
    pub fn character(self, bits: u32) -> char {
        match self {
            Self::Sextant => sextant(bits),
            Self::Quadrant => QUADRANTS[(bits & 15) as usize],
            Self::Half => HALVES[(bits & 3) as usize],
            Self::Braille => braille(bits),
        }
    }
}

const HALVES: [char; 4] = [' ', '▀', '▄', '█'];
const QUADRANTS: [char; 16] = [
    ' ', '▘', '▝', '▀', '▖', '▌', '▞', '▛', '▗', '▚', '▐', '▜', '▄', '▙', '▟', '█',
];

/// The block leaves out what is elsewhere: nothing, the left half, the right half, all.
fn sextant(bits: u32) -> char {
    match bits & 63 {
        0 => ' ',
        21 => '▌',
        42 => '▐',
        63 => '█',
        bits => {
            let passed = u32::from(bits > 21) + u32::from(bits > 42);
            char::from_u32(0x1fb00 + bits - 1 - passed).unwrap_or(' ')
        }
    }
}

/// Unicode numbers the dots down the left column, down the right one, and the fourth row last.
fn braille(bits: u32) -> char {
    const DOTS: [u32; 8] = [0, 3, 1, 4, 2, 5, 6, 7];
    let set = (0..8).filter(|at| bits >> at & 1 == 1);
    let pattern = set.fold(0, |pattern, at| pattern | 1 << DOTS[at as usize]);
    char::from_u32(0x2800 + pattern).unwrap_or(' ')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn characters_are_those_of_the_code_charts() {
        // Unicode's charts: BLOCK SEXTANT-1, -12, -135 without a place of its own, -23456, BRAILLE PATTERN DOTS-1, -8.
        assert_eq!(Shape::Sextant.character(0b000001), '\u{1fb00}');
        assert_eq!(Shape::Sextant.character(0b000011), '\u{1fb02}');
        assert_eq!(Shape::Sextant.character(0b010101), '▌');
        assert_eq!(Shape::Sextant.character(0b111110), '\u{1fb3b}');
        assert_eq!(Shape::Braille.character(1), '⠁');
        assert_eq!(Shape::Braille.character(0b1000_0000), '⢀');
        assert_eq!(Shape::Quadrant.character(0b1001), '▚');
        assert_eq!(Shape::Half.character(0b10), '▄');
        for shape in Shape::ALL {
            let (across, down) = shape.points();
            let all: std::collections::HashSet<char> = (0..1 << (across * down))
                .map(|bits| shape.character(bits))
                .collect();
            assert_eq!(all.len(), 1 << (across * down), "{shape:?}");
        }
    }
}
