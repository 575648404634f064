//! The terminal: keys become actions, actions change a state, the state is drawn.
//!
//! - [`clerk`]: the clerk's desk as a state machine without terminal, clock or database.
//! - [`picture`]: a strip's picture in the cells of a terminal.

pub mod clerk;
pub mod knowledge;
pub mod picture;
pub mod session;
