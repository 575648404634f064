//! The supervisor's desk: the rules in an editor, and beside them what they do to all sheets.
//!
//! - [`Supervisor`]: the desk as a state machine without terminal, clock or files.
//! - [`pad`]: a rule file being edited; [`figures`]: what came of the last edit; [`key`]: the keys.
//! - [`engine`]: works every edit out over all readings, in a thread of its own; [`links`] follows with the roster.
//! - [`view`]: the desk drawn; [`driver`]: all of it put together.

pub mod driver;
mod engine;
mod figures;
mod key;
mod links;
mod pad;
mod supervisor;
#[cfg(test)]
mod tests;
mod view;

pub use figures::{Figures, Tray};
pub use supervisor::{Effect, Focus, Pane, Supervisor};
pub use view::{Scene, draw};
