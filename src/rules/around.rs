//! What a rule may ask of a sheet beside its text: the collection, the colour of the band, the strip's width.

/// A sheet's surroundings.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Around<'a> {
    /// The collection that the job names; empty where it names none.
    pub collection: &'a str,
    /// Mean colour of the band behind the text, where it is not grey: red, green, blue.
    pub band: Option<[u8; 3]>,
    /// Width of the strip in pixels, where it is known; else places are taken from the typed lines' own extent.
    pub width: Option<f64>,
}

/// What a sheet must be like for a rule to be tried on it. Empty lists ask for nothing.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct When {
    pub collections: Vec<String>,
    pub bands: Vec<String>,
}

impl When {
    pub fn holds(&self, around: &Around) -> bool {
        let collection = || {
            let mut names = self.collections.iter();
            names.any(|name| name == around.collection)
        };
        let band = || {
            let colour = band_colour(around.band);
            self.bands.iter().any(|band| band == colour)
        };
        (self.collections.is_empty() || collection()) && (self.bands.is_empty() || band())
    }

    /// What it asks for, beside what the sheet is like.
    pub fn in_words(&self, around: &Around) -> String {
        let mut words = Vec::new();
        if !self.collections.is_empty() {
            let wanted = self.collections.join(" or ");
            let found = match around.collection {
                "" => "the job names none",
                name => name,
            };
            words.push(format!("collection {wanted} (here: {found})"));
        }
        if !self.bands.is_empty() {
            let found = band_colour(around.band);
            words.push(format!(
                "a band that is {} (here: {found})",
                self.bands.join(" or ")
            ));
        }
        format!("is not tried: it asks for {}", words.join(" and "))
    }
}

/// The words for a band's colour; `none` for a strip without one. Shades differ with film and scanner, so there are no
/// finer ones.
pub const BAND_COLOURS: [&str; 10] = [
    "none",
    "red",
    "orange",
    "brown",
    "yellow",
    "green",
    "turquoise",
    "blue",
    "violet",
    "pink",
];

/// The word for a band's mean colour.
///
/// By hue in degrees, with brown for dark orange and pink for light red. Bounds are ours, midway between the hues that
/// the words are commonly used for; no source.
pub fn band_colour(mean: Option<[u8; 3]>) -> &'static str {
    /// Value (the largest of red, green, blue; 0 to 255) below which orange is called brown.
    const BROWN_BELOW: f64 = 150.0;
    /// Saturation (0 to 1) below which a bright red is called pink.
    const PINK_BELOW: f64 = 0.5;
    let Some(mean) = mean else {
        return "none";
    };
    let [red, green, blue] = mean.map(f64::from);
    let value = red.max(green).max(blue);
    let chroma = value - red.min(green).min(blue);
    if chroma <= 0.0 {
        return "none";
    }
    let sixth = if value == red {
        ((green - blue) / chroma).rem_euclid(6.0)
    } else if value == green {
        (blue - red) / chroma + 2.0
    } else {
        (red - green) / chroma + 4.0
    };
    let saturation = chroma / value;
    match sixth * 60.0 {
        hue if !(15.0..345.0).contains(&hue) => {
            if saturation < PINK_BELOW && value > BROWN_BELOW {
                "pink"
            } else {
                "red"
            }
        }
        hue if hue < 42.0 => {
            if value < BROWN_BELOW {
                "brown"
            } else {
                "orange"
            }
        }
        hue if hue < 70.0 => "yellow",
        hue if hue < 160.0 => "green",
        hue if hue < 195.0 => "turquoise",
        hue if hue < 255.0 => "blue",
        hue if hue < 300.0 => "violet",
        _ => "pink",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_are_called_by_their_colour() {
        for (mean, word) in [
            (None, "none"),
            (Some([120, 120, 120]), "none"),
            (Some([200, 40, 40]), "red"),
            (Some([240, 170, 180]), "pink"),
            (Some([230, 140, 40]), "orange"),
            (Some([120, 80, 40]), "brown"),
            (Some([208, 176, 64]), "yellow"),
            (Some([60, 150, 80]), "green"),
            (Some([50, 160, 160]), "turquoise"),
            (Some([60, 90, 190]), "blue"),
            (Some([120, 70, 170]), "violet"),
            (Some([220, 60, 160]), "pink"),
        ] {
            assert_eq!(band_colour(mean), word, "{mean:?}");
            assert!(BAND_COLOURS.contains(&word));
        }
    }

    #[test]
    fn a_condition_asks_for_what_it_names_only() {
        let around = Around {
            collection: "personnel",
            band: Some([60, 90, 190]),
            width: None,
        };
        let when = |collections: &[&str], bands: &[&str]| When {
            collections: collections.iter().map(|&s| s.to_owned()).collect(),
            bands: bands.iter().map(|&s| s.to_owned()).collect(),
        };
        assert!(when(&[], &[]).holds(&Around::default()));
        assert!(when(&["drawings", "personnel"], &["blue"]).holds(&around));
        assert!(!when(&["drawings"], &["blue"]).holds(&around));
        assert!(!when(&["personnel"], &["red", "none"]).holds(&around));
        assert!(when(&[], &["none"]).holds(&Around::default()));
    }
}
