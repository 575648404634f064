//! The list of what stands between the batch and its delivery, and the way from each finding to its sheets.
//!
//! [`CheckList`] is a state machine like the desks: keys in, an [`Effect`] out where something outside has to happen.
//! [`driver`] joins it to the terminal and to the clerk's desk, which it opens at a sheet.

pub mod driver;
mod key;
mod list;
#[cfg(test)]
mod tests;
mod view;

pub use list::{CheckList, Effect};
pub use view::{Scene, draw};
