//! Strip in, text out, as a lattice: at each position the characters that may stand there, with probabilities.
//!
//! Foreign engines read in processes of their own: [`Pool`] starts workers of this very program, each with one
//! engine, a limit on its memory and a deadline for every sheet; [`serve`] is what such a worker does.

mod lattice;
mod lying;
mod net;
mod pool;
mod scorer;
mod sheet;
#[cfg(feature = "tesseract")]
mod tesseract;
mod worker;

pub use lattice::{Alternative, Line, Position, Reading};
pub use lying::Lying;
pub use net::{CtcScorer, NetReader, Posterior};
pub use pool::{Outcome, Pool, PoolError, PoolSettings};
pub use scorer::LatticeScorer;
pub use sheet::{SheetReading, read_sheet};
#[cfg(feature = "tesseract")]
pub use tesseract::TesseractReader;
pub use worker::{Shown, serve, serve_picture};

use image::GrayImage;

/// Reads the picture of one line of type.
pub trait Reader {
    /// Name and version, part of what a stored reading is known by: another reader reads again.
    fn name(&self) -> &str;

    /// Reads one line, dark on light, upright. Boxes are in pixels of `line`.
    fn read_line(&mut self, line: &GrayImage) -> Result<Line, ReaderError>;
}

/// Says how probable a line is, given what it is supposed to say.
pub trait LineScorer {
    /// Natural log of P(line | text); comparable between texts for the same line, not between lines.
    fn log_likelihood(&self, line: &Line, text: &str) -> f64;
}

/// Why a reader could not be started or could not read.
#[derive(Debug, thiserror::Error)]
pub enum ReaderError {
    #[error(
        "this headword was built without Tesseract; expected `net` as the reader, or a build with its default features"
    )]
    NoTesseract,
    #[error(
        "Tesseract did not start with the data in {folder}: {cause}; expected eng.traineddata there \
         (Debian: apt-get install tesseract-ocr), or TESSDATA_PREFIX pointing to the folder that holds it"
    )]
    Start { folder: String, cause: String },
    #[error("the built-in reader did not start: {cause}; the program is damaged, install it again")]
    Net { cause: String },
    #[error("the reader failed on a line of {width} x {height} pixels: {cause}")]
    Line {
        width: u32,
        height: u32,
        cause: String,
    },
}

/// Which reader reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Engine {
    /// The net that is part of the program.
    #[default]
    Net,
    /// The system's Tesseract library.
    Tesseract,
}

impl Engine {
    /// Starts it in this process.
    pub fn start(self) -> Result<Box<dyn Reader>, ReaderError> {
        match self {
            Self::Net => Ok(Box::new(NetReader::start()?)),
            #[cfg(feature = "tesseract")]
            Self::Tesseract => Ok(Box::new(TesseractReader::start()?)),
            #[cfg(not(feature = "tesseract"))]
            Self::Tesseract => Err(ReaderError::NoTesseract),
        }
    }
}
