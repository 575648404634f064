//! Mutated rule and job files through their parsers, and through readings where they parse; as many as wanted.
//!
//! `cargo bench --profile dev --no-default-features --bench fuzz_rules -- [--seed N] [--first N] [--files N] [--keep FOLDER]`

mod drive;
mod mutate;

use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().collect();
    let after = |name: &str| {
        let at = arguments.iter().position(|argument| argument == name)?;
        arguments.get(at + 1).cloned()
    };
    let number = |name, otherwise| {
        after(name).map_or(otherwise, |text| text.parse::<u64>().expect("a number"))
    };
    let plan = drive::Plan {
        seed: number("--seed", 1),
        first: number("--first", 0) as usize,
        files: number("--files", 20_000) as usize,
        keep: after("--keep").map(PathBuf::from),
    };
    let tally = drive::fuzz(&plan);
    println!("seed {}\n{tally}", plan.seed);
    if tally.is_clean() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
