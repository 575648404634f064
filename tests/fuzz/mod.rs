//! Mutated image files through the reading workers: a short run of what tests/fuzz/main.rs does at length.

pub mod craft;
pub mod drive;
pub mod mutate;

use std::path::Path;

#[test]
fn mutated_files_are_opened_or_refused() {
    let plan = drive::Plan {
        seed: 1,
        files: 600,
        workers: 2,
        keep: None,
    };
    let tally = drive::fuzz(&plan, Path::new(env!("CARGO_BIN_EXE_headword")));
    assert!(tally.is_clean(), "\n{tally}");
    assert_eq!(tally.tried, plan.files);
    // Otherwise the mutations would be too weak or too strong to tell anything.
    let share = tally.opened as f64 / tally.tried as f64;
    assert!((0.1..0.9).contains(&share), "\n{tally}");
}
