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
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Made {
    pub form: Form,
    /// Sheets of one batch were made by one machine in one go.
    pub batch: usize,
    /// Share of its frames that are filled, where that is known.
    pub filled: Option<f32>,
}

impl Made {
    /// A sheet that is a batch of its own.
    pub fn alone(form: Form, batch: usize) -> Self {
        Self {
            form,
            batch,
            filled: None,
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
                look.filled = self.filled.unwrap_or_else(|| within(random, 0.1..1.0));
                look.machine.print_lines(fonts, random);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::demo::draw::x_height;
    use crate::command::demo::look::{READABLE, Trouble};
    use crate::command::demo::{Collection, CollectionKind, PlannedSheet, Settings};

    fn sheets(kind: CollectionKind) -> Vec<PlannedSheet> {
        let settings = Settings {
            kind,
            seed: 15,
            sheets: 1_000,
            ..Settings::default()
        };
        Collection::new(settings).sheets().collect()
    }

    /// 2 x 3 = 6 images (common practice; no source), 15 x 18 = 270 (ISO 9923:1994 by way of
    /// `tests/data/published/microfiche_formats.csv`).
    #[test]
    fn frames_are_those_of_the_form_whatever_the_trouble() {
        for (kind, frames) in [
            (CollectionKind::Drawings, 6),
            (CollectionKind::Payroll, 270),
        ] {
            for sheet in sheets(kind) {
                assert_eq!(sheet.look.grid.frames(), frames, "{}", sheet.file_name());
            }
        }
    }

    #[test]
    fn type_can_be_read_unless_it_is_meant_to_be_too_small() {
        for kind in [CollectionKind::Drawings, CollectionKind::Payroll] {
            for PlannedSheet { look, lines, .. } in sheets(kind) {
                let meant = look.troubles().contains(&Trouble::TooSmall);
                let is = x_height(&look, &lines) < READABLE;
                assert!(lines.is_empty() || is == meant, "{kind:?}: {lines:?}");
            }
        }
    }

    #[test]
    fn a_fiche_has_a_heading_one_row_high_in_one_of_two_densities() {
        let sheets = sheets(CollectionKind::Payroll);
        let row = sheet::A6.1 / 16.0;
        for PlannedSheet { look, .. } in &sheets {
            assert!((look.heading_inches() / row - 1.0).abs() < 0.01);
        }
        let condensed = |sheet: &&PlannedSheet| sheet.look.machine.width < 0.8;
        let share = sheets.iter().filter(condensed).count() as f64 / 1_000.0;
        assert!((0.3..0.7).contains(&share), "{share}");
        let same = sheets.windows(2).filter(|pair| {
            let [one, other] = [0, 1].map(|at: usize| &pair[at].look.machine.face.name);
            one == other
        });
        // Fiche of a run look alike.
        assert!(same.count() > 700);
    }
    /// As personnel jackets, but for the heading of a fiche, which is always low.
    #[test]
    fn each_trouble_comes_by_itself() {
        for (kind, own) in [
            (CollectionKind::Drawings, None),
            (CollectionKind::Payroll, Some(Trouble::LowHeading)),
        ] {
            for trouble in Trouble::ALL {
                let collection = Collection::new(Settings {
                    kind,
                    seed: 16,
                    sheets: 8,
                    roster_size: 50,
                    trouble: Some(trouble),
                    ..Settings::default()
                });
                for plan in collection.sheets().filter(|plan| plan.lines.len() > 1) {
                    let mut found = plan.look.troubles();
                    found.retain(|&found| found == trouble || Some(found) != own);
                    assert_eq!(found, [trouble], "{}", plan.file_name());
                }
            }
        }
    }
}
