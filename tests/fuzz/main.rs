//! Mutated image files through the reading workers, as many as wanted.
//!
//! `cargo bench --profile dev --bench fuzz -- [--seed N] [--files N] [--workers N] [--keep FOLDER]`

#[path = "../bench/arguments.rs"]
mod arguments;
#[allow(dead_code)]
mod craft;
mod drive;
mod mutate;

use arguments::{number, value};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;

fn main() -> ExitCode {
    let plan = drive::Plan {
        seed: number("--seed", 1),
        files: number("--files", 20_000),
        workers: number("--workers", 2),
        keep: value("--keep").map(PathBuf::from),
    };
    let start = Instant::now();
    let tally = drive::fuzz(&plan, Path::new(env!("CARGO_BIN_EXE_headword")));
    println!(
        "seed {}\n{tally}\n{:>7} s",
        plan.seed,
        start.elapsed().as_secs()
    );
    if tally.is_clean() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
