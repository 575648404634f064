//! `headword worker`: one reading worker; `read` starts these, people do not.

use super::Exit;
use crate::reading::{Engine, Lying, Shown, serve, serve_picture};
use std::io::{stdin, stdout};

/// Read sheets whose paths come in on stdin
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// What reads the lines
    #[arg(long, value_enum, default_value_t)]
    reader: ReaderName,
}

/// The readers by the names that the command line has for them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum ReaderName {
    /// The net that is part of headword
    #[default]
    Net,
    /// The system's Tesseract library
    Tesseract,
}

impl ReaderName {
    /// As the command line has it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Net => "net",
            Self::Tesseract => "tesseract",
        }
    }
}

impl From<ReaderName> for Engine {
    fn from(name: ReaderName) -> Self {
        match name {
            ReaderName::Net => Self::Net,
            ReaderName::Tesseract => Self::Tesseract,
        }
    }
}

pub fn run(arguments: &Arguments) -> Exit {
    match serve(arguments.reader.into(), stdin().lock(), stdout().lock()) {
        Ok(()) => Exit::Done,
        Err(fault) => {
            eprintln!("{fault}");
            Exit::OurFault
        }
    }
}

/// Write the picture of one sheet's strip to stdout
#[derive(Debug, clap::Args)]
pub struct PictureArguments {
    image: std::path::PathBuf,
    /// Clockwise degrees by which the sheet was turned when it was read
    #[arg(long, default_value_t = 0)]
    turned: u32,
    /// It was mirrored when it was read
    #[arg(long)]
    mirrored: bool,
    /// It was light on dark when it was read
    #[arg(long)]
    inverted: bool,
    /// All of the sheet, its longer side at most this many pixels
    #[arg(long, value_name = "PIXELS")]
    whole: Option<u32>,
}

pub fn run_picture(arguments: &PictureArguments) -> Exit {
    let lying = Lying {
        turned: arguments.turned,
        mirrored: arguments.mirrored,
        inverted: arguments.inverted,
    };
    let shown = arguments.whole.map_or(Shown::Strip(lying), Shown::Whole);
    match serve_picture(&arguments.image, shown, stdout().lock()) {
        Ok(()) => Exit::Done,
        Err(_) => Exit::OurFault,
    }
}
