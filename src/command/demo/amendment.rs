//! How a heading was changed after it was typed.

use super::look::Noise;
use super::{Stream, random};
use rand::{RngExt, seq::IndexedRandom};
use serde::{Deserialize, Serialize};
use std::fmt;

/// A change of the heading by somebody who had it in hand, or the want of a typewriter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Amendment {
    /// A word is struck out, by type or by pen, and the right one stands after, above or below it.
    StruckOut,
    /// A slip with a new value is pasted over a word.
    PastedOver,
    /// A note, initials, a number or a tick was added by hand.
    WrittenOn,
    /// Letters are covered with white fluid and typed again.
    Whitened,
    /// All of it is written by hand.
    Handwritten,
}

impl Amendment {
    pub const ALL: [Self; 5] = [
        Self::StruckOut,
        Self::PastedOver,
        Self::WrittenOn,
        Self::Whitened,
        Self::Handwritten,
    ];

    /// Whether and how sheet `index` was amended, and whether the back shows through. Nothing happens to a heading
    /// without lines.
    pub(super) fn choose(
        seed: u64,
        index: usize,
        noise: Noise,
        lines: usize,
    ) -> (Option<Self>, bool) {
        let random = &mut random(seed, Stream::Amending, index);
        // Leaves the stream's later numbers to the drawing.
        random.set_word_pos(1 << 20);
        let rate = rate(noise);
        let amended = random.random_bool(rate * Self::ALL.len() as f64);
        let kind = *Self::ALL.choose(random).expect("kinds");
        let shows_through = random.random_bool(rate);
        ((amended && lines > 0).then_some(kind), shows_through)
    }
}

/// Share of sheets with each kind of amendment, and with show-through (invented; no source).
fn rate(noise: Noise) -> f64 {
    match noise {
        Noise::Default => 0.01,
        Noise::Heavy => 0.02,
    }
}

impl fmt::Display for Amendment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::StruckOut => "struck-out",
            Self::PastedOver => "pasted-over",
            Self::WrittenOn => "written-on",
            Self::Whitened => "whitened",
            Self::Handwritten => "handwritten",
        })
    }
}
