//! The slots of a rule: where it takes a value, for which field of which record, and what may stand there.

use super::kind::FieldSpec;
use std::sync::Arc;

/// A slot as the template names it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Place {
    /// Index into the book's fields.
    pub field: usize,
    /// Which record of the strip it belongs to, from 0.
    pub record: usize,
    /// What stands between the values where the slot takes several.
    pub between: Option<String>,
    /// It stands in brackets: a strip without it is as good.
    pub may_be_missing: bool,
}

impl Place {
    /// What a rule may take once only.
    pub fn of(&self) -> (usize, usize) {
        (self.field, self.record)
    }
}

/// A slot of a rule, ready to be compiled.
#[derive(Debug, Clone)]
pub(super) struct Slot {
    pub place: Place,
    /// The field's declaration as it holds in this rule; many rules share one, which may be long.
    pub spec: Arc<FieldSpec>,
    /// Where on the strip its value stands.
    pub on: Option<Region>,
}

/// A part of the strip: a third of its width, a line, or both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Region {
    pub third: Option<Third>,
    /// From 0.
    pub line: Option<usize>,
}

/// The thirds of a strip from left to right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Third {
    Left,
    Centre,
    Right,
}

impl Slot {
    /// What messages call it.
    pub fn shown(&self) -> String {
        match self.place.record {
            0 => self.spec.name.clone(),
            record => format!("{}#{}", self.spec.name, record + 1),
        }
    }
}

impl Third {
    const NAMES: [(&'static str, Self); 3] = [
        ("left", Self::Left),
        ("centre", Self::Centre),
        ("right", Self::Right),
    ];

    /// Whether a place, as a share of the strip's width, lies in it. Typists do not measure: a twelfth to either side
    /// still counts.
    fn holds(self, at: f64) -> bool {
        const PLAY: f64 = 1.0 / 12.0;
        let first = self as usize as f64 / 3.0;
        (first - PLAY..=first + 1.0 / 3.0 + PLAY).contains(&at)
    }
}

impl Region {
    /// Reads `left`, `line 2`, `line 1 right`.
    pub fn parse(text: &str) -> Option<Self> {
        let mut spot = Self::default();
        let mut words = text.split_whitespace();
        while let Some(word) = words.next() {
            if word == "line" && spot.line.is_none() {
                let number: usize = words.next()?.parse().ok()?;
                spot.line = Some(number.checked_sub(1)?);
            } else if spot.third.is_none() {
                let (_, third) = Third::NAMES.iter().find(|(name, _)| *name == word)?;
                spot.third = Some(*third);
            } else {
                return None;
            }
        }
        (spot != Self::default()).then_some(spot)
    }

    /// Whether a value that stands on `line`, its middle at this share of the strip's width, stands here.
    pub fn holds(self, line: usize, at: f64) -> bool {
        self.line.is_none_or(|own| own == line) && self.third.is_none_or(|third| third.holds(at))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spots_are_read_and_hold_with_some_play() {
        for (text, inside, outside) in [
            ("left", (3, 0.1), (0, 0.45)),
            ("centre", (0, 0.5), (0, 0.1)),
            ("right", (0, 0.6), (0, 0.5)),
            ("line 2", (1, 0.9), (0, 0.9)),
            ("line 1 right", (0, 0.9), (1, 0.9)),
            ("right line 1", (0, 0.9), (0, 0.2)),
        ] {
            let spot = Region::parse(text).unwrap();
            assert!(spot.holds(inside.0, inside.1), "{text}");
            assert!(!spot.holds(outside.0, outside.1), "{text}");
        }
        for text in [
            "",
            "middle",
            "line",
            "line 0",
            "line x",
            "left right",
            "line 1 line 2",
        ] {
            assert_eq!(Region::parse(text), None, "{text}");
        }
    }
}
