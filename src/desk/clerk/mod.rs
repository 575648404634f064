//! The clerk's desk: one sheet in hand, its fields confirmed or keyed, and on to the next.
//!
//! [`Clerk`] is fed with keys and the time, and answers with an [`Effect`] where something outside has to happen: an
//! entry written, another sheet opened. It knows no terminal, no clock and no database, so that tests, the screen and
//! the rehearsing clerk drive the same desk.

mod acts;
mod desk;
mod editor;
mod field;
mod key;
mod look;
mod pane;
mod places;
mod sheet;
mod suggest;
#[cfg(test)]
mod tests;
mod work;

pub use desk::{Clerk, Done, Effect, HELD_KEY, PictureWishes, SETTLING};
pub use editor::Editor;
pub use field::{Field, Mark};
pub use key::{Action, BINDINGS, Code, Key, bound};
pub use pane::{KINDS, Pane, Purpose, Reasons, RosterSearch, help_lines, moved};
pub use places::Place;
pub use sheet::{
    Contradiction, DeskSheet, FieldPlace, FrozenProposal, Knowledge, LikelyRows, Plan,
    PlannedField, RosterRow,
};
pub use suggest::Suggestion;
pub use work::{Question, Record, Work};
