//! How a collection's sheets are made: jackets of film strips, or fiche that a computer wrote.

use super::film::film_tone;
use super::{Grid, Look, Noise, sheet};
use crate::command::demo::amendment::Amendment;
use crate::command::demo::fonts::FontUse;
use crate::command::demo::{weighted, within};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// What a sheet is and what its frames show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Strips of 16 mm film in the channels of a jacket: pages of typescript.
    Jacket16,
    /// Strips of 35 mm film in the channels of a jacket: engineering drawings.
    Jacket35,
    /// Fiche written by a computer's film recorder: pages of a line printer, column by column.
    Fiche,
}

impl Form {
    /// Strips of film slide about in channels; else the frames stand on the film itself.
    pub fn has_channels(self) -> bool {
        self != Self::Fiche
    }

    /// Frames are filled down each column first.
    pub fn fills_columns(self) -> bool {
        self == Self::Fiche
    }

    /// Puts back what this form has whatever trouble comes: its frames, and the heading's height where that is a row.
    pub(super) fn keep(self, look: &mut Look) {
        match self {
            Self::Jacket16 => {}
            Self::Jacket35 => look.grid = Grid::JACKET_35,
            Self::Fiche => {
                look.grid = Grid::COMPUTER_OUTPUT;
                let height = look.size.1 as f32 / look.resolution;
                look.heading = Grid::COMPUTER_OUTPUT.heading() * sheet::A6.1 / height;
                // Nothing can be typed over, pasted on or whitened on film; a pen writes on it.
                look.amendment = look.amendment.filter(|kind| *kind == Amendment::WrittenOn);
                look.shows_through = false;
            }
        }
    }
}

/// How one sheet was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Made {
    pub form: Form,
    /// Sheets of one batch were made by one machine in one go.
    pub batch: usize,
    /// All of its frames are filled, where the form fills a sheet before it begins the next.
    pub full: bool,
}

impl Made {
    /// A sheet that is a batch of its own.
    pub fn alone(form: Form, batch: usize) -> Self {
        Self {
            form,
            batch,
            full: false,
        }
    }

    /// Makes an ordinary look one of this form, before trouble is put on it. `random` is the batch's own: what was made
    /// in one go looks alike.
    pub(super) fn shape(
        self,
        look: &mut Look,
        noise: Noise,
        fonts: FontUse,
        random: &mut ChaCha8Rng,
    ) {
        look.form = self.form;
        match self.form {
            Form::Jacket16 => {}
            Form::Jacket35 => {
                look.filled = weighted(
                    random,
                    &[(0.0, 0.05), (0.34, 0.2), (0.67, 0.25), (1.0, 0.5)],
                );
            }
            Form::Fiche => {
                look.inverted = random.random_bool(0.6);
                look.heading_tone = film_tone(random, noise, look.inverted);
                // A few recorders write the heading in the other polarity.
                look.body_tone = if random.random_bool(0.2) {
                    film_tone(random, noise, !look.inverted)
                } else {
                    look.heading_tone
                };
                (look.band, look.label, look.stripe, look.rule) = (None, None, None, None);
                (look.boxed, look.colour) = (false, false);
                look.heading_top = within(random, 0.0..0.006);
                look.filled = if self.full {
                    1.0
                } else {
                    within(random, 0.1..1.0)
                };
                look.machine.print_lines(fonts, random);
            }
        }
    }
}
