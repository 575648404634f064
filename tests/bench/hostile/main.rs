//! Hostile input, as a counted list: for each case how much was tried, and how often the program crashed, hung or lost a
//! value. `cargo bench --profile dev --no-default-features --bench hostile -- [--times N] [--seed S] [--only WORDS]`
//!
//! `--times` repeats what is drawn at random; a case that needs what this machine lacks says so and counts nothing.

#[path = "../arguments.rs"]
mod arguments;
mod batch;
mod disks;
mod files;
mod run;
mod values;

#[allow(dead_code)]
#[path = "../deliver.rs"]
mod deliver;
#[allow(dead_code, unused_imports)]
#[path = "../../fuzz/mod.rs"]
mod fuzz;
#[allow(dead_code)]
#[path = "../../fuzz_rules/mod.rs"]
mod fuzz_rules;
#[allow(dead_code)]
#[path = "../../delivering/hands.rs"]
mod hands;
#[allow(dead_code)]
#[path = "../kills.rs"]
mod kills;
#[allow(dead_code)]
#[path = "../../support.rs"]
mod support;

use run::Tally;
use std::process::ExitCode;
use std::time::Instant;

/// How much is tried.
#[derive(Clone, Copy)]
pub struct Plan {
    pub times: usize,
    pub seed: u64,
}

type Case = (&'static str, fn(Plan) -> Tally);

const CASES: [Case; 21] = [
    ("images, mutated, through the workers", files::images),
    ("images replaced after they were keyed", files::replaced),
    ("rosters, mutated", files::rosters),
    ("rule and job files, mutated", files::rules_and_jobs),
    ("journals, mutated", files::journals),
    ("names of hostile values", values::names),
    ("hostile values through index and Python", values::index),
    ("CSV through Python", values::csv),
    ("EDTF parsed and printed, dates", values::dates),
    ("entries replayed", values::replayed),
    ("two sheets that want one name", batch::same_name),
    ("scans that do not pair", batch::unpaired),
    ("links among sheets and scans", batch::links),
    ("keys before the strip is seen", batch::early_keys),
    ("a second clerk on the same sheet", batch::second_clerk),
    ("clocks that go back", batch::clocks),
    ("a disk that is full: index, deliver", disks::full),
    ("a disk that is full: journal", disks::full_journal),
    ("a journal that is locked", disks::locked),
    ("no permission", disks::forbidden),
    ("kills: journal, index, deliver", disks::killed),
];

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().collect();
    // The clerk who is killed, in a process of its own.
    if let [_, key, journal, round] = &arguments[..]
        && key == "key"
    {
        kills::key_until_killed(journal.as_ref(), round);
        return ExitCode::SUCCESS;
    }
    let plan = Plan {
        times: arguments::number("--times", 1),
        seed: arguments::number("--seed", 1),
    };
    let only = arguments::value("--only").unwrap_or_default();
    // Panics are counted, not shown.
    std::panic::set_hook(Box::new(|_| {}));
    println!(
        "{:<42} {:>7} {:>7} {:>5} {:>6}",
        "case", "tried", "crashes", "hangs", "lost"
    );
    let mut sum = Tally::default();
    for (name, case) in CASES.iter().filter(|(name, _)| name.contains(&only)) {
        let start = Instant::now();
        let tally = std::panic::catch_unwind(|| case(plan)).unwrap_or_else(|_| Tally {
            crashes: 1,
            note: "the case itself did not end".to_owned(),
            ..Tally::default()
        });
        println!("{} ({} s)", tally.row(name), start.elapsed().as_secs());
        for words in tally.told.iter().take(10) {
            println!("    {words}");
        }
        sum.add(&tally);
    }
    println!("{}", sum.row("all"));
    match sum.is_clean() {
        true => ExitCode::SUCCESS,
        false => ExitCode::FAILURE,
    }
}
