//! A sheet read again as somebody says that its strip lies, in a process of its own while the person goes on.

use super::picture::Reversal;
use crate::reading::{Lying, Pool, PoolSettings, SheetReading};
use crate::value::SheetId;
use std::path::PathBuf;
use std::thread;

/// The sheet with its reading and the reader's name; or, in words, why it could not be read.
pub type Reread = Result<(SheetId, (SheetReading, String)), String>;

/// Starts reading; `done` is told what came of it. `program` is this program, `lying` how the strip was taken to lie.
pub fn start(
    program: PathBuf,
    sheet: SheetId,
    path: PathBuf,
    lying: Lying,
    reversal: Reversal,
    done: impl FnOnce(Reread) + Send + 'static,
) {
    let lying = lying.reversed(reversal.turned, reversal.mirrored, reversal.inverted);
    thread::spawn(move || {
        let pool = Pool::new(PoolSettings {
            program,
            arguments: vec!["worker".to_owned()],
            workers: 1,
            deadline: PoolSettings::DEADLINE,
        });
        let read = pool.read_again(path, lying);
        done(match read {
            Ok(read) => Ok((sheet, read)),
            Err(fault) => Err(format!("{sheet} could not be read again: {fault}")),
        });
    });
}
