//! Work planned from counted inches, from what is given, and from a job's journal.

use crate::support::headword;
use headword::job::Job;
use headword::journal::{Act, Desk, Entry, FormatVersion, Keying, Store};
use headword::value::SheetId;
use std::fs;

fn number(json: &serde_json::Value, pointer: &str) -> f64 {
    let found = json.pointer(pointer).and_then(serde_json::Value::as_f64);
    found.unwrap_or_else(|| panic!("{pointer} in {json:#}"))
}

#[test]
fn drawers_are_planned_from_counted_inches() {
    let arguments = [
        "plan",
        "--counted",
        "98/1in",
        "--counted",
        "5.08cm/205",
        "--total",
        "200in",
    ];
    headword(arguments)
        .exits(2)
        .says(&["--counted", "whole number of sheets", "write 98/1in"]);
    let arguments = [
        "plan",
        "--counted",
        "98/1in",
        "--counted",
        "205/5.08cm",
        "--counted",
        "99/1in",
        "--total",
        "508cm",
        "--passes",
        "2",
        "--second",
        "10%",
        "--inspected",
        ".02",
        "--seconds",
        "8..14",
        "--second-seconds",
        "15..25",
        "--clerks",
        "3",
        "--hours",
        "6..7",
        "--start",
        "2026-12-01",
        "--price-sheet",
        ".1",
        "--price-hour",
        "20",
        "--currency",
        "EUR",
    ];
    let plan = headword([&arguments[..], &["--json"]].concat())
        .exits(0)
        .json();
    // 402 sheets in 4 inches; the residuals are -2.5, 4 and -1.5 about 100.5 an inch.
    let sheets = 402.0 / 4.0 * 200.0;
    assert!((number(&plan, "/sheets/value") - sheets).abs() < 1e-6);
    let residual = (2.5_f64.powi(2) + 4.0_f64.powi(2) + 1.5_f64.powi(2)) / 2.0;
    let error = 150.0 * ((1.0 - 0.02) * residual / 3.0).sqrt();
    assert!((number(&plan, "/drawers/standard_error") - error).abs() < 1e-6);
    // Student's deviate for two degrees of freedom is 4.303 (standard tables, from memory).
    let reach = number(&plan, "/sheets/high") - sheets;
    assert!((reach / error - 4.303).abs() < 1e-3, "{reach}");
    assert_eq!(plan["sheets"]["from"], "measured");
    let hours = sheets * 11.0 / 3_600.0 + 0.12 * sheets * 20.0 / 3_600.0;
    assert!((number(&plan, "/hours/value") - hours).abs() < 1e-6);
    assert!((number(&plan, "/cost/by_sheets/value") - 0.1 * sheets).abs() < 1e-6);
    assert_eq!(plan["days"]["calendar"]["first"], "2026-12-01");
    headword(arguments).exits(0).says(&[
        "20,100 (",
        "measured: 100.5 sheets an inch in 3 counted pieces, 2.0 % of the drawers",
        "two of them, the bound",
        "second keying",
        "inspection",
        "3 clerks",
        "begun on 2026-12-01",
        "EUR ",
        "public holidays",
        "NOT PLANNED",
    ]);
}

#[test]
fn a_plan_says_what_it_lacks_and_refuses_what_cannot_be_meant() {
    headword(["plan", "--counted", "98/1in", "--total", "200in"])
        .exits(0)
        .says(&[
            "19,600 (10,000 to 20,000)",
            "common practice",
            "Count a second piece",
            "nobody keyed a sheet of it",
        ]);
    // Arguments after `plan`, and what is said.
    let cases: [(&[&str], &[&str]); 14] = [
        (&[], &["--sheets 20000", "or name a JOB"]),
        (&["--counted", "98/1in"], &["write --total 200in"]),
        (
            &["--counted", "98/2in", "--total", "1in"],
            &["measure all drawers"],
        ),
        (
            &["--counted", "0/1in", "--total", "9in"],
            &["found none in any"],
        ),
        (
            &["--counted", "98/1mm", "--total", "9in"],
            &["thinner than film", "check"],
        ),
        (&["--sheets", "-5"], &["above 0"]),
        (&["--sheets", "0"], &["above 0"]),
        (&["--sheets", "9", "--total", "9in"], &["--total"]),
        (&["--sheets", "9", "--second", "10%"], &["write --passes 2"]),
        (&["--sheets", "9", "--seconds", "14..8"], &["write 8..14"]),
        (&["--sheets", "9", "--clerks", "2"], &["--hours"]),
        (
            &["--sheets", "9", "--clerks", "2", "--hours", "25"],
            &["up to 24"],
        ),
        (
            &[
                "--sheets",
                "9",
                "--clerks",
                "2",
                "--hours",
                "6",
                "--start",
                "1.12.2026",
            ],
            &["write 2026-12-01"],
        ),
        (&["--sheets", "9", "--confidence", "100"], &["50 to 99.9"]),
    ];
    for (arguments, says) in cases {
        headword([&["plan"], arguments].concat())
            .exits(2)
            .says(says);
    }
    headword(["plan", "/no/such/job"])
        .exits(2)
        .says(&["/no/such/job/job.toml"]);
}

/// A job of 60 sheets: 40 keyed by two people, one of whom left a sheet lying, one put off, one set aside.
#[test]
fn a_job_under_way_is_planned_by_its_own_times() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job");
    let job = path.to_str().unwrap();
    let demo = [
        "demo",
        job,
        "--headless",
        "--keep",
        "readings",
        "--sheets",
        "60",
        "--seed",
        "31",
    ];
    let run = headword(demo);
    assert!(matches!(run.code, Some(0 | 1)), "{run:#?}");
    headword(["plan", job])
        .exits(0)
        .says(&["60", "they wait", "Write --seconds 8..14"]);
    let file = path.join("job.toml");
    let text = fs::read_to_string(&file).unwrap();
    fs::write(&file, format!("{text}\n[keying]\npasses = 2\n")).unwrap();
    let mut opened = Job::open(&path).unwrap();
    let sheets: Vec<SheetId> = opened
        .store
        .overview()
        .unwrap()
        .into_iter()
        .map(|s| s.record.sheet)
        .collect();
    let mut append = |n: usize, by: &str, act: Act| {
        let entry = Entry {
            format: FormatVersion::CURRENT,
            number: 0,
            sheet: sheets[n].clone(),
            by: by.to_owned(),
            at: 0,
            pass: 1,
            desk: Desk::Clerk,
            act,
            extra: Default::default(),
        };
        opened.store.append(&entry, None).unwrap();
    };
    let reason = || "later".to_owned();
    append(40, "mia", Act::Held { reason: reason() });
    append(41, "mia", Act::SetAside { reason: reason() });
    for n in 0..40 {
        let milliseconds = match n {
            0 => 1_000_000,
            n if n % 2 == 0 => 6_000,
            _ => 10_000,
        };
        let by = if n % 2 == 0 { "mia" } else { "kim" };
        let keying = Keying {
            milliseconds,
            ..Keying::default()
        };
        append(n, by, Act::Keyed(keying));
    }
    drop(opened);
    let run = headword(["plan", job]).exits(0);
    let run = run.says(&[
        "18 wait, 1 were put off",
        "mean of 39 keyed sheets",
        "median 10.0 s",
        "2 people",
        "1 sheet of more than 5 minutes left out",
        "with that the mean is 32.9 s",
        "Write --second-seconds",
        "the quality plan draws",
    ]);
    assert!(!run.out.contains("mia"), "{run:#?}");
    headword(["plan", job, "--people"])
        .exits(0)
        .says(&["kim: 20 sheets, median 10.0 s, mean 10.0 s"]);
    let plan = headword(["plan", job, "--json", "--second-seconds", "20"])
        .exits(0)
        .json();
    assert_eq!(number(&plan, "/keyings/0/sheets/value"), 19.0);
    // What was set aside is not keyed again.
    assert_eq!(number(&plan, "/keyings/1/sheets/value"), 59.0);
    let mean = (19.0 * 6.0 + 20.0 * 10.0) / 39.0;
    assert!((number(&plan, "/keyings/0/seconds_a_sheet/value") - mean).abs() < 1e-9);
    assert_eq!(
        plan["keyings"][0]["measured"]["by_person"],
        serde_json::json!({})
    );
    // The drawers hold more than was scanned so far.
    let more = headword([
        "plan",
        job,
        "--json",
        "--counted",
        "98/1in",
        "--counted",
        "102/1in",
        "--total",
        "100in",
    ]);
    let more = more.exits(0).json();
    assert_eq!(number(&more, "/keyings/0/sheets/value"), 10_000.0 - 41.0);
    assert_eq!(number(&more, "/confidence/measured_figures"), 2.0);
}
