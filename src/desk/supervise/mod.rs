//! The supervisor's desk: the rules in an editor, and beside them what they do to all sheets.
//!
//! - [`Supervisor`]: the desk as a state machine without terminal, clock or files; [`acts`]: what its keys do; [`pane`]:
//!   what lies over it.
//! - [`pad`]: a rule file being edited; [`figures`]: what came of the last edit; [`key`]: the keys.
//! - [`marking`]: a rule begun from an example.
//! - [`engine`]: works every edit out over all readings, in a thread of its own; [`links`] follows with the roster.
//! - [`view`]: the desk drawn; [`driver`]: all of it put together.

mod acts;
pub mod driver;
mod engine;
mod figures;
mod key;
mod links;
mod marking;
mod pad;
mod pane;
mod supervisor;
#[cfg(test)]
mod tests;
mod view;

pub use figures::{Figures, Tray};
pub use pane::{Effect, Focus, Pane};
pub use supervisor::Supervisor;
pub use view::{Scene, draw};
