//! Check characters: the last one or two characters of a code that follow from those before them.

mod decimal;
mod iso7064;
mod weighted;

use iso7064::System;
use serde::{Deserialize, Serialize};
pub use weighted::{Weighted, WeightedError};

/// A scheme by which the end of a code follows from its beginning. Hyphens, blanks and other signs do not count.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum CheckScheme {
    /// Digits; check character 0-9 or X.
    #[serde(rename = "iso7064-mod-11-2")]
    Iso7064Mod11_2,
    /// Digits and letters; check character 0-9, A-Z or *.
    #[serde(rename = "iso7064-mod-37-2")]
    Iso7064Mod37_2,
    /// Digits, or letters that count two digits each; two check digits.
    #[serde(rename = "iso7064-mod-97-10")]
    Iso7064Mod97_10,
    /// Letters; two check letters.
    #[serde(rename = "iso7064-mod-661-26")]
    Iso7064Mod661_26,
    /// Digits and letters; two check characters.
    #[serde(rename = "iso7064-mod-1271-36")]
    Iso7064Mod1271_36,
    /// Digits; one check digit.
    #[serde(rename = "iso7064-mod-11-10")]
    Iso7064Mod11_10,
    /// Letters; one check letter.
    #[serde(rename = "iso7064-mod-27-26")]
    Iso7064Mod27_26,
    /// Digits and letters; check character 0-9 or A-Z.
    #[serde(rename = "iso7064-mod-37-36")]
    Iso7064Mod37_36,
    /// Freight containers: four letters, six digits, one check digit.
    #[serde(rename = "iso6346")]
    Iso6346,
    /// Digits; one check digit.
    #[serde(rename = "luhn")]
    Luhn,
    /// Digits; one check digit.
    #[serde(rename = "verhoeff")]
    Verhoeff,
    /// Digits; one check digit.
    #[serde(rename = "damm")]
    Damm,
    /// Whatever a client's rule file defines.
    #[serde(rename = "weighted")]
    Weighted(Weighted),
}

/// Which errors a scheme notices without exception: a digit typed for a digit and, where it has letters of its own,
/// a letter for a letter. Swaps and mixtures of both kinds in a 97-10 code with letters may pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Detection {
    /// One character typed for another.
    pub substitutions: bool,
    /// Two neighbouring characters that changed places.
    pub swaps: bool,
}

/// How a scheme computes.
enum Method<'a> {
    System(System),
    Decimal(fn(&[char]) -> Option<u32>),
    Weighted(&'a Weighted),
}

impl CheckScheme {
    /// The schemes that need no definition.
    pub const ALL: [Self; 12] = [
        Self::Iso7064Mod11_2,
        Self::Iso7064Mod37_2,
        Self::Iso7064Mod97_10,
        Self::Iso7064Mod661_26,
        Self::Iso7064Mod1271_36,
        Self::Iso7064Mod11_10,
        Self::Iso7064Mod27_26,
        Self::Iso7064Mod37_36,
        Self::Iso6346,
        Self::Luhn,
        Self::Verhoeff,
        Self::Damm,
    ];

    /// The name used in rule files.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Iso7064Mod11_2 => "iso7064-mod-11-2",
            Self::Iso7064Mod37_2 => "iso7064-mod-37-2",
            Self::Iso7064Mod97_10 => "iso7064-mod-97-10",
            Self::Iso7064Mod661_26 => "iso7064-mod-661-26",
            Self::Iso7064Mod1271_36 => "iso7064-mod-1271-36",
            Self::Iso7064Mod11_10 => "iso7064-mod-11-10",
            Self::Iso7064Mod27_26 => "iso7064-mod-27-26",
            Self::Iso7064Mod37_36 => "iso7064-mod-37-36",
            Self::Iso6346 => "iso6346",
            Self::Luhn => "luhn",
            Self::Verhoeff => "verhoeff",
            Self::Damm => "damm",
            Self::Weighted(_) => "weighted",
        }
    }

    /// The check characters of a payload, in upper case: two in the schemes that have two, else one. `None` where the
    /// payload is empty, or holds a letter or digit that the scheme does not know, or has no check character.
    pub fn check_character(&self, payload: &str) -> Option<String> {
        self.check(&self.characters(payload))
    }

    /// Whether `code` ends with the check characters of what stands before them.
    pub fn holds(&self, code: &str) -> bool {
        let code = self.characters(code);
        let Some(end) = code.len().checked_sub(self.check_length()) else {
            return false;
        };
        let (payload, written) = code.split_at(end);
        match self.method() {
            Method::System(system) => system.holds(payload, written),
            _ => self
                .check(payload)
                .is_some_and(|check| check.chars().eq(written.iter().copied())),
        }
    }

    /// How many different check values there are: one random code in so many holds.
    pub fn forms(&self) -> f64 {
        match self.method() {
            Method::System(system) => f64::from(system.forms()),
            Method::Decimal(_) => 10.0,
            Method::Weighted(weighted) => weighted.forms(),
        }
    }

    /// Which errors never pass unnoticed.
    pub fn detects(&self) -> Detection {
        let (substitutions, swaps) = match self {
            Self::Weighted(weighted) => {
                (weighted.detects_substitutions(), weighted.detects_swaps())
            }
            // Remainder 10 is written as 0 is.
            Self::Iso6346 => (false, false),
            // 09 and 90 have one check digit.
            Self::Luhn => (true, false),
            Self::Iso7064Mod11_10 | Self::Iso7064Mod27_26 | Self::Iso7064Mod37_36 => (true, false),
            _ => (true, true),
        };
        Detection {
            substitutions,
            swaps,
        }
    }

    fn method(&self) -> Method<'_> {
        match self {
            Self::Iso7064Mod11_2 => Method::System(iso7064::MOD_11_2),
            Self::Iso7064Mod37_2 => Method::System(iso7064::MOD_37_2),
            Self::Iso7064Mod97_10 => Method::System(iso7064::MOD_97_10),
            Self::Iso7064Mod661_26 => Method::System(iso7064::MOD_661_26),
            Self::Iso7064Mod1271_36 => Method::System(iso7064::MOD_1271_36),
            Self::Iso7064Mod11_10 => Method::System(iso7064::MOD_11_10),
            Self::Iso7064Mod27_26 => Method::System(iso7064::MOD_27_26),
            Self::Iso7064Mod37_36 => Method::System(iso7064::MOD_37_36),
            Self::Iso6346 => Method::Decimal(decimal::container),
            Self::Luhn => Method::Decimal(decimal::luhn),
            Self::Verhoeff => Method::Decimal(decimal::verhoeff),
            Self::Damm => Method::Decimal(decimal::damm),
            Self::Weighted(weighted) => Method::Weighted(weighted),
        }
    }

    /// How many check characters there are.
    pub fn check_length(&self) -> usize {
        match self.method() {
            Method::System(system) => system.length(),
            _ => 1,
        }
    }

    fn check(&self, payload: &[char]) -> Option<String> {
        match self.method() {
            Method::System(system) => system.check(payload),
            Method::Decimal(digit) => Some(digit(payload)?.to_string()),
            Method::Weighted(weighted) => weighted.check(payload).map(String::from),
        }
    }

    /// The letters and digits in upper case, and the signs that the scheme checks with.
    fn characters(&self, code: &str) -> Vec<char> {
        let counts = |c: &char| {
            c.is_alphanumeric()
                || match self.method() {
                    Method::System(system) => system.writes(*c),
                    Method::Decimal(_) => false,
                    Method::Weighted(weighted) => weighted.writes(*c),
                }
        };
        code.chars()
            .filter(counts)
            .map(|c| c.to_ascii_uppercase())
            .collect()
    }
}

#[cfg(test)]
mod tests;
