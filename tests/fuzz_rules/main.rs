//! Mutated rule and job files through their parsers, and through readings where they parse; as many as wanted.
//!
//! `cargo bench --profile dev --no-default-features --bench fuzz_rules -- [--seed N] [--first N] [--files N] [--keep FOLDER]`

#[path = "../bench/arguments.rs"]
mod arguments;
mod drive;
mod mutate;

use arguments::{number, value};
use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> ExitCode {
    let plan = drive::Plan {
        seed: number("--seed", 1),
        first: number("--first", 0),
        files: number("--files", 20_000),
        keep: value("--keep").map(PathBuf::from),
    };
    let tally = drive::fuzz(&plan);
    println!("seed {}\n{tally}", plan.seed);
    if tally.is_clean() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
