//! A strip's picture in the cells of a terminal.
//!
//! A cell shows two greys in one of a few shapes, so the picture is scaled to two or more points a cell, and each cell
//! takes the shape and the two greys that come nearest. Measured by reading such pictures back, sextants in 256 greys are
//! legible from 3.5 cells a character, quadrants from 4, braille from 3 (one bit), half blocks from 5.

mod band;
mod cells;
mod memo;
mod shape;

pub use band::{Band, Window, bands, close_up};
pub use cells::{Cell, Cells, even_light, picture};
pub use memo::{Memo, View};
pub use shape::Shape;
