//! The house's own reader: a small convolutional net over one line, trained on drawn header strips (`training/`).
//!
//! A line is scaled to the net's height ([`prepare`]), the net gives for every fourth column how probable each
//! character is there ([`model`]), and connectionist temporal classification (CTC; Graves et al., ICML 2006) turns
//! these columns into a text with doubts ([`decode`]) or scores a given text ([`CtcScorer`]).

mod alphabet;
mod columns;
mod decode;
mod model;
mod posterior;
mod prepare;
mod score;

pub use posterior::Posterior;
pub use score::CtcScorer;

use super::{Line, Reader, ReaderError};
use crate::value::Bounds;
use columns::Columns;
use image::GrayImage;
use model::Model;

/// The trained net, loaded from the program itself.
pub struct NetReader {
    model: Model,
}

impl NetReader {
    /// Name and version; raised with every new training.
    pub const NAME: &str = "strip net 2";

    /// Loads the net; about 10 ms.
    pub fn start() -> Result<Self, ReaderError> {
        let model = Model::load().map_err(|cause| ReaderError::Net { cause })?;
        Ok(Self { model })
    }
}

impl Reader for NetReader {
    fn name(&self) -> &str {
        Self::NAME
    }

    fn read_line(&mut self, line: &GrayImage) -> Result<Line, ReaderError> {
        let (width, height) = line.dimensions();
        if width == 0 || height == 0 {
            return Ok(Line::default());
        }
        let picture = prepare::prepare(line);
        let logits = self
            .model
            .run(&picture)
            .map_err(|cause| ReaderError::Line {
                width,
                height,
                cause,
            })?;
        let mut columns = Columns::of_logits(&logits);
        columns.settle_case();
        Ok(Line {
            bounds: Bounds::new(0, 0, width, height),
            positions: decode::positions(
                &columns,
                |column| picture.to_line(column),
                (width, height),
            ),
            posterior: Some(Posterior::of(&columns)),
        })
    }
}

#[cfg(test)]
mod tests;
