//! The invented harbour board's personnel jackets, drawn from a seed: sheets like those of a real pre-scan, with the
//! truth about each of them.
//!
//! - [`people`]: the roster, names combined from census frequencies.
//! - [`collection`]: which sheet stands where in the drawer and what is typed on it, without pictures.
//! - [`typing`]: the four layouts of the strip and the slips of those who typed it.
//! - [`look`]: every choice about a sheet's appearance, from the turn to the ribbon.
//! - [`machine`]: the typewriter.
//! - [`amendment`]: how a heading was changed after it was typed.
//! - [`draw`]: a planned sheet in, its image and truth out.
//! - [`readings`]: what a reader might make of a planned sheet, without a picture.
//!
//! Sheets, layouts and rates are invented after common practice; no source. Everything follows from the seed: the same
//! settings give the same sheets, and sheet `i` can be drawn without drawing the others.
//!
//! Readers are tuned on seeds below 1000 with [`FontUse::Tuning`]; figures are reported on seeds from 1000 on, with the
//! tuning fonts and, apart from them, with [`FontUse::Reporting`].
//!
//! ```
//! use headword::command::demo::{Collection, Settings, draw};
//!
//! let collection = Collection::new(Settings { seed: 7, sheets: 10, ..Settings::default() });
//! let drawn = draw::draw(&collection.sheet(3));
//! assert_eq!(drawn.truth.sheet, collection.sheet(3).file_name());
//! ```

pub mod amendment;
pub mod collection;
pub mod draw;
pub mod fonts;
pub mod look;
pub mod machine;
pub mod people;
pub mod readings;
pub mod truth;
pub mod typing;

pub use amendment::Amendment;
pub use collection::{Collection, Filing, PlannedSheet, Rates, Settings};
pub use draw::Drawn;
pub use fonts::FontUse;
pub use look::{Edge, Noise, Trouble};
pub use people::Person;
pub use truth::Truth;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::ops::Range;

/// The independent random streams of one seed, so that more draws for one purpose never shift another's.
#[derive(Debug, Clone, Copy)]
enum Stream {
    Roster,
    Drawer,
    Person,
    Typing,
    Look,
    Drawing,
    Reading,
    Amending,
}

/// The random numbers of `seed` for one purpose and one person or sheet.
fn random(seed: u64, stream: Stream, index: usize) -> ChaCha8Rng {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream((index as u64) << 3 | stream as u64);
    random
}

/// A number within `range`; its start where it is empty.
fn within(random: &mut ChaCha8Rng, range: Range<f32>) -> f32 {
    range.start + random.random::<f32>() * (range.end - range.start)
}

/// One of `choices`, by weight.
fn weighted<T: Copy>(random: &mut ChaCha8Rng, choices: &[(T, f32)]) -> T {
    let total: f32 = choices.iter().map(|(_, weight)| weight).sum();
    let mut at = random.random::<f32>() * total;
    for &(choice, weight) in choices {
        if at < weight {
            return choice;
        }
        at -= weight;
    }
    choices[choices.len() - 1].0
}
