//! The terminal: keys become actions, actions change a state, the state is drawn.
//!
//! - [`clerk`]: the clerk's desk as a state machine without terminal, clock or database.
//! - [`knowledge`]: what the job's rules and roster say of a value.
//! - [`session`]: sheets claimed and opened, entries written.
//! - [`rehearse`]: an ideal clerk at the real desk.
//! - [`picture`]: a strip's picture in the cells of a terminal; [`supply`] makes strips and [`painter`] their cells ahead.
//!   [`screen`] orders and keeps them. [`rereading`] has a sheet read again.
//! - [`view`]: the clerk's desk drawn in cells.
//! - [`settle`]: the reviewer's desk; [`supervise`]: the supervisor's. [`checks`]: what was found over the
//!   batch, and from there to the clerk's desk.
//! - [`terminal`]: taken over and always given back; [`driver`] puts all of it together.

pub mod checks;
pub mod clerk;
pub mod driver;
pub mod knowledge;
pub mod painter;
pub mod picture;
pub mod rehearse;
pub mod rereading;
pub mod screen;
pub mod session;
pub mod settle;
pub mod supervise;
pub mod supply;
pub mod terminal;
pub mod view;
