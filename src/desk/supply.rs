//! Strip pictures for the desk, made ahead by processes of their own: an image that brings one down costs its picture.

use super::picture::even_light;
use crate::value::SheetId;
use image::GrayImage;
use std::io::Read;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;
use std::time::{Duration, Instant};

/// What a picture may take before it is given up.
const DEADLINE: Duration = Duration::from_secs(15);
/// How often a running process is looked at.
const PAUSE: Duration = Duration::from_millis(5);
/// Largest strip that is taken, in pixels.
const MOST_PIXELS: u64 = 60_000_000;

/// A picture that is wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wanted {
    pub sheet: SheetId,
    pub path: PathBuf,
    /// How the sheet lay when it was read; none where no strip was found.
    pub lay: Option<(u32, bool)>,
}

/// A strip with its light evened out; none where there is no strip to be seen.
#[derive(Debug, Clone)]
pub struct Supplied {
    pub sheet: SheetId,
    pub strip: Option<GrayImage>,
}

/// Starts the supply; it ends when the returned sender is dropped. `program` is this program.
pub fn start(program: PathBuf, done: impl Fn(Supplied) + Send + 'static) -> Sender<Wanted> {
    let (ask, asked): (Sender<Wanted>, Receiver<Wanted>) = mpsc::channel();
    thread::spawn(move || {
        for wanted in asked {
            let strip = wanted.lay.and_then(|lay| made(&program, &wanted, lay));
            done(Supplied {
                sheet: wanted.sheet,
                strip: strip.map(|strip| even_light(&strip)),
            });
        }
    });
    ask
}

fn made(program: &PathBuf, wanted: &Wanted, (turned, mirrored): (u32, bool)) -> Option<GrayImage> {
    let mut command = Command::new(program);
    command
        .arg("strip-picture")
        .args(["--turned", &turned.to_string()])
        .args(mirrored.then_some("--mirrored"))
        .arg("--")
        .arg(&wanted.path)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null());
    let mut child = command.spawn().ok()?;
    let mut out = child.stdout.take()?;
    let reading = thread::spawn(move || {
        let mut bytes = Vec::new();
        let most = MOST_PIXELS + 8;
        out.by_ref()
            .take(most)
            .read_to_end(&mut bytes)
            .map(|_| bytes)
    });
    let start = Instant::now();
    while !reading.is_finished() {
        if start.elapsed() > DEADLINE {
            let _ = child.kill();
        }
        thread::sleep(PAUSE);
    }
    let _ = child.wait();
    let bytes = reading.join().ok()?.ok()?;
    let number = |at: usize| {
        let part: [u8; 4] = bytes.get(at..at + 4)?.try_into().ok()?;
        Some(u32::from_le_bytes(part))
    };
    let (width, height) = (number(0)?, number(4)?);
    GrayImage::from_raw(width, height, bytes.get(8..)?.to_vec())
}
