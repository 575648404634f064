//! The typefaces: free, typewriter-like or handwriting; some for tuning a reader, the others for reporting on it only.

use ab_glyph::{Font, FontRef};
use std::sync::LazyLock;

/// Which set of typefaces a collection is typed with.
///
/// What was tuned on one set must be reported on the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FontUse {
    #[default]
    Tuning,
    Reporting,
}

/// A typeface with its name as in `demo-data/fonts/fonts.toml`.
#[derive(Debug)]
pub struct Typeface {
    pub name: &'static str,
    pub set: FontUse,
    /// Handwriting, which no machine types.
    pub hand: bool,
    pub font: FontRef<'static>,
}

impl Typeface {
    /// A letter's height in the font's own units.
    pub(super) fn height_of(&self, letter: char) -> f32 {
        let outline = self.font.outline(self.font.glyph_id(letter));
        let outline = outline.expect("typefaces have Latin letters");
        outline.bounds.height().abs()
    }
}

macro_rules! typefaces {
    ($($file:literal, $name:literal, $use:ident, $hand:literal;)*) => {
        [$((
            $name,
            FontUse::$use,
            $hand,
            include_bytes!(concat!("../../../demo-data/fonts/", $file)) as &'static [u8],
        )),*]
    };
}

static TYPEFACES: LazyLock<Vec<Typeface>> = LazyLock::new(|| {
    typefaces! {
        "CourierPrime.otf", "Courier Prime", Tuning, false;
        "CourierPrimeSans.otf", "Courier Prime Sans", Tuning, false;
        "LiberationMono.ttf", "Liberation Mono", Tuning, false;
        "AnonymousPro.ttf", "Anonymous Pro", Tuning, false;
        "SpecialElite.ttf", "Special Elite", Tuning, false;
        "CutiveMono.ttf", "Cutive Mono", Reporting, false;
        "PTMono.ttf", "PT Mono", Reporting, false;
        "OCRB.otf", "OCR-B", Reporting, false;
        "Inconsolata.otf", "Inconsolata", Reporting, false;
        "Caveat.ttf", "Caveat", Tuning, true;
        "Kalam.ttf", "Kalam", Tuning, true;
        "ReenieBeanie.ttf", "Reenie Beanie", Reporting, true;
        "CedarvilleCursive.ttf", "Cedarville Cursive", Reporting, true;
    }
    .into_iter()
    .map(|(name, set, hand, bytes)| Typeface {
        name,
        set,
        hand,
        font: FontRef::try_from_slice(bytes).expect("an embedded font is sound"),
    })
    .collect()
});

impl FontUse {
    /// The typewriter faces of this set.
    pub fn typefaces(self) -> Vec<&'static Typeface> {
        self.faces(false)
    }

    /// The handwritings of this set.
    pub fn hands(self) -> Vec<&'static Typeface> {
        self.faces(true)
    }

    fn faces(self, hand: bool) -> Vec<&'static Typeface> {
        let wanted = |face: &&Typeface| face.set == self && face.hand == hand;
        TYPEFACES.iter().filter(wanted).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    /// `demo-data/fonts/fonts.toml` and this file must not drift apart.
    #[test]
    fn the_list_of_fonts_names_each_with_its_use_and_licence() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/fonts");
        let text = std::fs::read_to_string(folder.join("fonts.toml")).unwrap();
        let list: toml::Table = toml::from_str(&text).unwrap();
        let fonts = list["font"].as_array().unwrap();
        assert_eq!(fonts.len(), TYPEFACES.len());
        for (font, face) in fonts.iter().zip(TYPEFACES.iter()) {
            let word = |key: &str| font[key].as_str().unwrap();
            let expected = match face.set {
                FontUse::Tuning => "tuning",
                FontUse::Reporting => "reporting",
            };
            assert_eq!((word("name"), word("use")), (face.name, expected));
            let hand = font
                .get("hand")
                .is_some_and(|hand| hand.as_bool() == Some(true));
            assert_eq!(hand, face.hand, "{}", face.name);
            assert!(folder.join(word("file")).is_file());
            assert!(folder.join(word("licence_file")).is_file(), "{}", face.name);
        }
    }

    #[test]
    fn typefaces_have_every_character_that_is_typed() {
        for face in TYPEFACES.iter() {
            for letter in ('A'..='Z').chain('0'..='9').chain(",.-/'x:()*".chars()) {
                assert_ne!(
                    face.font.glyph_id(letter).0,
                    0,
                    "{} lacks {letter}",
                    face.name
                );
            }
        }
    }
}
