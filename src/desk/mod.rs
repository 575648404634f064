//! The terminal: keys become actions, actions change a state, the state is drawn.
//!
//! - [`clerk`]: the clerk's desk as a state machine without terminal, clock or database.
//! - [`picture`]: a strip's picture in the cells of a terminal.
//! - [`terminal`]: the terminal taken over and given back, its keys brought in.

pub mod clerk;
pub mod picture;
pub mod terminal;
