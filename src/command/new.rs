//! `headword new`: a job made from images and a roster.

use super::{CommandError, Exit, Report};

/// Make a job from a folder of images and a roster
#[derive(Debug, clap::Args)]
pub struct Arguments {}

pub fn run(_: &Arguments) -> Result<Report, CommandError> {
    Ok(Report::new("", (), Exit::Done))
}
