//! headword turns pictures of microfiche header strips into a validated index and one file name per sheet.
//!
//! The rooms below are the stations a sheet passes, in this order; a room may use only rooms above it
//! (`tests/layering.rs` holds us to that).
//!
//! - [`value`]: what the other rooms talk about: sheets, findings, probabilities, dates, names, check characters.
//! - [`figures`]: statistics used by several stations.
//! - [`strip`]: a sheet's image in, its header strip out: upright, dark on light, without frames and rules.
//! - [`reading`]: a strip in, its text out as a lattice of alternatives with probabilities.
//! - [`rules`]: a reading in, fields out, by the rules the user wrote.
//! - [`roster`]: fields in, ranked rows of the client's list out, or "not in the roster".
//! - [`proposal`]: all evidence about a sheet in, one value with one face for every field out.
//! - [`journal`]: what was read, proposed and keyed, on disk.
//! - [`job`]: one client's work opened: its sheets, read and proposed, again after a change.
//! - [`review`]: two keyings of a sheet in, agreed or in dispute out; how often keyings are wrong; samples of a lot.
//! - [`delivery`]: checks over a batch, file names, the index.
//! - [`desk`]: the terminal: the clerk's desk.
//! - [`command`]: the command line, which wires the rooms.
//!
//! Two invariants hold everywhere. A room returns its value *and* its [`value::Finding`]s: one bad sheet never stops
//! the others. Decisions (`value` to `proposal`, `review`, and those of `delivery`) are pure: no clock, no terminal, no SQL.

#![deny(unsafe_code)]

pub mod command;
pub mod delivery;
pub mod desk;
pub mod figures;
pub mod job;
pub mod journal;
pub mod proposal;
pub mod reading;
pub mod review;
pub mod roster;
pub mod rules;
pub mod strip;
pub mod value;
