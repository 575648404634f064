//! The worker's side: sheets' paths come in on one pipe, their readings go out on another.

use super::sheet::{strip_again, whole_sheet};
use super::{Engine, Lying, ReaderError, SheetReading, read_sheet};
use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
use serde::{Deserialize, Serialize};
use std::io::{self, BufRead, Write};
use std::path::{Path, PathBuf};

/// Address space that a worker may use, in bytes: what a hostile image or an engine gone wild can take at most.
/// A worker at rest, Tesseract's data loaded, takes about 100 MB of it.
const ADDRESS_SPACE: u64 = 1 << 30;

/// One line of JSON from the pool to a worker.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Request {
    pub path: PathBuf,
    /// How its strip lies, where somebody said so.
    pub lying: Option<Lying>,
}

/// One line of JSON from a worker to the pool: first `Ready`, then a `Sheet` for each request.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Answer {
    Ready { reader: String },
    CannotStart { message: String },
    Sheet(Box<SheetReading>),
}

/// Reads sheets until the pool closes the pipe. Limits this process first, so call it in a process of its own.
pub fn serve(engine: Engine, requests: impl BufRead, mut answers: impl Write) -> io::Result<()> {
    limit_address_space();
    let mut reader = match engine.start() {
        Ok(reader) => reader,
        Err(fault) => return refuse(&mut answers, &fault),
    };
    send(
        &mut answers,
        &Answer::Ready {
            reader: reader.name().to_owned(),
        },
    )?;
    for line in requests.lines() {
        let request: Request = serde_json::from_str(&line?)?;
        let sheet = read_sheet(&request.path, request.lying, reader.as_mut());
        send(&mut answers, &Answer::Sheet(Box::new(sheet)))?;
    }
    Ok(())
}

/// What is shown of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Shown {
    /// Its strip as it was read.
    Strip(Lying),
    /// All of it, the longer side at most this many pixels.
    Whole(u32),
}

/// Writes a picture of a sheet: width and height as 32-bit numbers, least byte first, then a byte a pixel; no byte where
/// there is nothing to be shown. Limits this process first, so call it in a process of its own.
pub fn serve_picture(path: &Path, shown: Shown, mut answer: impl Write) -> io::Result<()> {
    limit_address_space();
    let picture = match shown {
        Shown::Strip(lying) => strip_again(path, lying),
        Shown::Whole(longest) => whole_sheet(path, longest),
    };
    if let Some(picture) = picture {
        answer.write_all(&picture.width().to_le_bytes())?;
        answer.write_all(&picture.height().to_le_bytes())?;
        answer.write_all(picture.as_raw())?;
    }
    answer.flush()
}

fn refuse(answers: &mut impl Write, fault: &ReaderError) -> io::Result<()> {
    send(
        answers,
        &Answer::CannotStart {
            message: fault.to_string(),
        },
    )
}

fn send(answers: &mut impl Write, answer: &Answer) -> io::Result<()> {
    let mut line = serde_json::to_vec(answer)?;
    line.push(b'\n');
    answers.write_all(&line)?;
    answers.flush()
}

/// Lowers the limit, never raises it; where the system refuses, the deadline still guards.
fn limit_address_space() {
    let maximum = getrlimit(Resource::As).maximum;
    let limit = maximum.map_or(ADDRESS_SPACE, |maximum| maximum.min(ADDRESS_SPACE));
    let _ = setrlimit(
        Resource::As,
        Rlimit {
            current: Some(limit),
            maximum: Some(limit),
        },
    );
}
