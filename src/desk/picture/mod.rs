//! A strip's picture in the cells of a terminal.
//!
//! A cell shows two greys in one of a few shapes, so the picture is scaled to two or more points a cell, and each cell
//! takes the shape and the two greys that come nearest. Measured by reading such pictures back, sextants in 256 greys are
//! legible from 3.5 cells a character, quadrants from 4, braille from 3 (one bit), half blocks from 5.

mod band;
mod cells;
mod compose;
mod memo;
mod shape;

pub use band::Window;
pub use cells::{Cell, Cells, even_light, picture};
pub use compose::{Canvas, Composed, Gaze, Subject, compose, paint_ahead};
pub use memo::{Memo, Reversal};
pub use shape::Shape;
