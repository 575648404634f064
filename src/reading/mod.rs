//! Strip in, text out, as a lattice: at each position the characters that may stand there, with probabilities.

mod lattice;

pub use lattice::{Alternative, Line, Position, Reading};
