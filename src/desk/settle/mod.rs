//! The reviewer's desk: two blind keyings of a sheet side by side, and the strip, first.
//!
//! [`Reviewer`] is a state machine like the clerk's: keys and the time in, an [`Effect`] out where something outside has to
//! happen. [`docket`] finds what is in dispute and writes what was settled; [`driver`] joins both to the terminal.

mod bulk;
mod case;
pub mod docket;
pub mod driver;
mod key;
mod reviewer;
#[cfg(test)]
mod tests;
mod verdict;
mod view;

pub use bulk::{Bulk, BulkChoice};
pub use case::{Case, Keyed, Side};
pub use key::{Action, BINDINGS};
pub use reviewer::{Done, Effect, Pane, Reviewer};
pub use view::{Scene, draw};
