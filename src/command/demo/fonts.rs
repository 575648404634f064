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
    pub r#use: FontUse,
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
    .map(|(name, r#use, bytes)| Typeface {
        name,
        r#use,
        font: FontRef::try_from_slice(bytes).expect("an embedded font is sound"),
    })
    .collect()
});

impl FontUse {
    /// The typefaces of this set.
    pub fn typefaces(self) -> Vec<&'static Typeface> {
        TYPEFACES.iter().filter(|face| face.r#use == self).collect()
    }
}
