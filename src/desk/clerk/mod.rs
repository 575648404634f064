//! The clerk's desk: one sheet in hand, its fields confirmed or keyed, and on to the next.

mod key;

pub use key::{Action, BINDINGS, Code, Key, action, suggestion};
