//! Mutated rule and job files: a short run of what main.rs does at length.

pub mod drive;
mod mutate;

#[test]
fn mutated_files_are_understood_or_faulted() {
    let plan = drive::Plan {
        seed: 1,
        first: 0,
        files: 600,
        keep: None,
    };
    let tally = drive::fuzz(&plan);
    assert!(tally.is_clean(), "\n{tally}");
    assert_eq!(tally.tried, plan.files);
    // Otherwise the mutations would be too weak or too strong to tell anything.
    let share = tally.understood as f64 / tally.tried as f64;
    assert!((0.1..0.9).contains(&share), "\n{tally}");
}
