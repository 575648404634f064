//! Pictures of sheets for the desk, made ahead by processes of their own: an image that brings one down costs its picture.

use super::picture::even_light;
use crate::reading::Shown;
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
/// Largest picture that is taken, in pixels.
const MOST_PIXELS: u64 = 60_000_000;

/// A picture that is wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wanted {
    pub sheet: SheetId,
    pub path: PathBuf,
    pub shown: Shown,
}

/// The picture that was wanted, a strip's light evened out; none where there is nothing to be seen.
#[derive(Debug)]
pub struct Supplied {
    pub sheet: SheetId,
    pub shown: Shown,
    pub picture: Option<GrayImage>,
}

/// Starts a thread that makes pictures in the order in which they are asked for, as long as the sender lives.
/// `program` is this program.
pub fn start(program: PathBuf, done: impl Fn(Supplied) + Send + 'static) -> Sender<Wanted> {
    let (ask, asked): (Sender<Wanted>, Receiver<Wanted>) = mpsc::channel();
    thread::spawn(move || {
        for wanted in asked {
            let picture = made(&program, &wanted);
            done(Supplied {
                picture: picture.map(|picture| match wanted.shown {
                    Shown::Strip(_) => even_light(&picture),
                    Shown::Whole(_) => picture,
                }),
                sheet: wanted.sheet,
                shown: wanted.shown,
            });
        }
    });
    ask
}

fn made(program: &PathBuf, wanted: &Wanted) -> Option<GrayImage> {
    let mut command = Command::new(program);
    command.arg("sheet-picture");
    match wanted.shown {
        Shown::Strip(lying) => {
            command.args(["--turned", &lying.turned.to_string()]);
            command.args(lying.mirrored.then_some("--mirrored"));
            command.args(lying.inverted.then_some("--inverted"));
        }
        Shown::Whole(longest) => {
            command.args(["--whole", &longest.to_string()]);
        }
    }
    command
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
