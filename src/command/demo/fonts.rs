//! The typefaces: free, typewriter-like; some for tuning a reader, the others for reporting on it only.

use ab_glyph::FontRef;
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
    pub font: FontRef<'static>,
}

macro_rules! typefaces {
    ($($file:literal, $name:literal, $use:ident;)*) => {
        [$((
            $name,
            FontUse::$use,
            include_bytes!(concat!("../../../demo-data/fonts/", $file)) as &'static [u8],
        )),*]
    };
}

static TYPEFACES: LazyLock<Vec<Typeface>> = LazyLock::new(|| {
    typefaces! {
        "CourierPrime.otf", "Courier Prime", Tuning;
        "CourierPrimeSans.otf", "Courier Prime Sans", Tuning;
        "LiberationMono.ttf", "Liberation Mono", Tuning;
        "AnonymousPro.ttf", "Anonymous Pro", Tuning;
        "SpecialElite.ttf", "Special Elite", Tuning;
        "CutiveMono.ttf", "Cutive Mono", Reporting;
        "PTMono.ttf", "PT Mono", Reporting;
        "OCRB.otf", "OCR-B", Reporting;
        "Inconsolata.otf", "Inconsolata", Reporting;
    }
    .into_iter()
    .map(|(name, set, bytes)| Typeface {
        name,
        set,
        font: FontRef::try_from_slice(bytes).expect("an embedded font is sound"),
    })
    .collect()
});

impl FontUse {
    /// The typefaces of this set.
    pub fn typefaces(self) -> Vec<&'static Typeface> {
        TYPEFACES.iter().filter(|face| face.set == self).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ab_glyph::Font;
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
            assert!(folder.join(word("file")).is_file());
            assert!(folder.join(word("licence_file")).is_file(), "{}", face.name);
        }
    }

    #[test]
    fn typefaces_have_every_character_that_is_typed() {
        for face in TYPEFACES.iter() {
            for letter in ('A'..='Z').chain('0'..='9').chain(",.-/'x".chars()) {
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
