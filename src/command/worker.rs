//! `headword worker`: one reading worker; `read` starts these, people do not.

use super::Exit;
use crate::reading::{Engine, serve};
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
