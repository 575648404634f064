//! Which glyphs a terminal can show: those that it prints one cell wide.

use super::mode::Glyphs;

/// What the clerk asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PictureChoice {
    /// The best that the terminal shows.
    #[default]
    Best,
    These(Glyphs),
    /// No pictures.
    Off,
}

/// The glyphs to use; none for no pictures. `width` prints a glyph and tells how many cells it took; none where the
/// terminal does not answer, which is asked nothing more and gets half blocks, the oldest of all.
pub fn choose(choice: PictureChoice, mut width: impl FnMut(char) -> Option<u16>) -> Option<Glyphs> {
    /// Best first, by the cells that a character needs; fonts without sextants mostly have quadrants.
    const ORDER: [Glyphs; 3] = [Glyphs::Sextants, Glyphs::Quadrants, Glyphs::Braille];
    match choice {
        PictureChoice::Off => return None,
        PictureChoice::These(glyphs) => return Some(glyphs),
        PictureChoice::Best => {}
    }
    for glyphs in ORDER {
        match width(glyphs.sample()) {
            Some(1) => return Some(glyphs),
            Some(_) => {}
            None => break,
        }
    }
    Some(Glyphs::HalfBlocks)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn glyphs_that_are_not_one_cell_wide_are_refused() {
        let check = |widths: &[Option<u16>], expected: Glyphs| {
            let mut answers = widths.iter();
            let chosen = choose(PictureChoice::Best, |_| {
                *answers.next().expect("asked too often")
            });
            assert_eq!(chosen, Some(expected), "{widths:?}");
        };
        check(&[Some(1)], Glyphs::Sextants);
        check(&[Some(0), Some(1)], Glyphs::Quadrants);
        check(&[Some(2), Some(2), Some(1)], Glyphs::Braille);
        check(&[Some(0), Some(2), Some(2)], Glyphs::HalfBlocks);
        check(&[None], Glyphs::HalfBlocks);
        check(&[Some(0), None], Glyphs::HalfBlocks);
    }

    #[test]
    fn a_wish_is_not_questioned() {
        let never = |_| panic!("asked");
        let octants = PictureChoice::These(Glyphs::Octants);
        assert_eq!(choose(octants, never), Some(Glyphs::Octants));
        assert_eq!(choose(PictureChoice::Off, never), None);
    }
}
