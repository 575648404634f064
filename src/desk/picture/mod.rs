//! A strip's picture in the cells of a terminal: whole in bands, or close up on one field.
//!
//! [`Portrait`] takes a strip's image once; [`bands`] lays it out for a width, [`window`] shows a part of it close up,
//! and both give [`Cells`], which know nothing of terminals. Which [`Mode`] a terminal can show is found out by
//! [`choose`].

mod band;
mod cell;
mod mode;
mod portrait;
mod prepare;
mod probe;
mod studio;
mod zoom;

pub use band::{Banded, bands};
pub use cell::{Cell, Cells, palette_index};
pub use mode::{Glyphs, Mode};
pub use portrait::{Facing, Portrait, Shown, shown_characters};
pub use probe::{PictureChoice, choose};
pub use studio::{Sitting, Studio};
pub use zoom::{Close, window};
