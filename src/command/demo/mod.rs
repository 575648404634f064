//! The invented harbour board's collections, drawn from a seed: sheets like those of a real pre-scan, with the truth about
//! each of them.
//!
//! - [`contents`]: what a kind of collection has for itself: what sheets there are, what is typed on them in which
//!   layouts, the client's list, rules and job file. Its kinds are `personnel` (with [`people`], names combined from
//!   census frequencies), `drawings` (with [`register`], whose titles are put together from word lists) and `payroll`.
//! - [`collection`]: what is typed on each sheet of a drawer and how it looks, without pictures.
//! - [`typing`]: the gaps between values, and the slips of those who typed them.
//! - [`strange`]: layouts that no starter rule covers.
//! - [`look`]: every choice about a sheet's appearance, from the turn to the ribbon.
//! - [`machine`]: the typewriter or line printer.
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
pub mod calendar;
pub mod collection;
pub mod contents;
pub mod draw;
mod drawings;
pub mod fonts;
pub mod look;
pub mod machine;
mod payroll;
pub mod people;
mod personnel;
pub mod readings;
pub mod register;
pub mod strange;
pub mod truth;
pub mod typing;

pub use amendment::Amendment;
pub use collection::{Collection, Filing, PlannedSheet, Rates, Settings, UNKNOWN_LAYOUT};
pub use contents::{CollectionKind, Fields};
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
    Strange,
    Batch,
}

/// The random numbers of `seed` for one purpose and one person or sheet.
fn random(seed: u64, stream: Stream, index: usize) -> ChaCha8Rng {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    // Purposes beyond the first eight have the top bit set, so that those eight draw what they always drew.
    let purpose = stream as u64;
    random.set_stream((purpose >> 3) << 63 | (index as u64) << 3 | purpose & 7);
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
