//! `headword worker`: one reading worker; `read` starts these, people do not.

use super::Exit;
use crate::reading::serve;
use std::io::{stdin, stdout};

/// Read sheets whose paths come in on stdin
#[derive(Debug, clap::Args)]
pub struct Arguments {}

pub fn run(_: &Arguments) -> Exit {
    match serve(stdin().lock(), stdout().lock()) {
        Ok(()) => Exit::Done,
        Err(fault) => {
            eprintln!("{fault}");
            Exit::OurFault
        }
    }
}
