//! Two clerks key a drawer, a third person settles what they keyed differently.

use crate::pseudo_terminal::Terminal;
use crate::support::{drawn_job, headword};
use rusqlite::Connection;
use std::fs;
use std::path::Path;

fn start(job: &Path, verb: &str, person: &str, more: &[&str]) -> Terminal {
    let path = job.to_str().unwrap();
    let mut arguments = vec![verb, path, "--as", person, "--picture", "sextants"];
    arguments.extend(more);
    Terminal::start(&arguments, (100, 30))
}

/// Keys the first sheets as proposed, but for the surname of each.
fn key(job: &Path, person: &str, pass: &str, surnames: &[&str]) {
    let mut desk = start(job, "key", person, &["--pass", pass]);
    for (number, surname) in surnames.iter().enumerate() {
        desk.shows(&[&format!("{} of 4", number + 1), "surname"]);
        // Up to the surname, wherever the focus opened.
        for _ in 0..10 {
            desk.press("");
            desk.press("");
            if desk.cursor_row().contains("surname") {
                break;
            }
            desk.send("\t");
        }
        desk.press(surname);
        desk.press("\x19");
        for _ in 0..8 {
            desk.press("");
            desk.press("");
            if desk.text().contains("Enter accepts the sheet") || !is_on(&desk, number + 1) {
                break;
            }
            desk.press("\x1b0");
        }
        if is_on(&desk, number + 1) {
            desk.press("\r");
        }
    }
    // With the last sheet the desk closes.
    assert_eq!(desk.ends(), 0);
    desk.shows(&[&format!("{} are keyed", surnames.len())]);
}

fn is_on(desk: &Terminal, sheet: usize) -> bool {
    desk.text().contains(&format!("{sheet} of 4"))
}

fn settlements(job: &Path) -> Vec<serde_json::Value> {
    let journal = Connection::open(job.join("headword.db")).unwrap();
    let mut ask = journal
        .prepare("SELECT payload FROM entries WHERE pass = 0 ORDER BY number")
        .unwrap();
    let rows = ask.query_map([], |row| row.get::<_, String>(0)).unwrap();
    rows.map(|payload| serde_json::from_str(&payload.unwrap()).unwrap())
        .collect()
}

#[test]
fn what_two_clerks_key_differently_is_settled_by_a_third() {
    let (_folder, job) = drawn_job(4, "default");
    let file = job.join("job.toml");
    let text = fs::read_to_string(&file).unwrap();
    let twice = "passes = 2\nsecond_sees = \"proposal\"\nunfilled = 0\n";
    fs::write(&file, text.replace("unfilled = 0\n", twice)).unwrap();
    // Agreed; an error; twice the same harmless difference.
    key(&job, "mia", "1", &["ABEL", "QUAYLE", "O'DALE", "O'HARE"]);
    key(&job, "kim", "2", &["ABEL", "QUAYIE", "ODALE", "OHARE"]);

    // Whoever keyed a sheet does not settle it.
    let mut own = start(&job, "settle", "mia", &[]);
    assert_eq!(own.ends(), 0);
    own.shows(&["0 in dispute; 3 more are in dispute that you keyed yourself"]);

    let mut desk = start(&job, "settle", "rio", &[]);
    desk.shows(&["3 in dispute", "surname (1 of 1)", "QUAYLE", "QUAYIE"]);
    // Neither name is on the screen.
    let text = desk.text();
    assert!(!text.contains("mia") && !text.contains("kim"), "{text}");
    // The harmless difference, on both sheets at once; undone as one, and done again.
    for _ in 0..2 {
        desk.press("\x1bb");
        desk.shows(&["The same harmless difference", "2 sheets"]);
        desk.press("\r");
        desk.shows(&["Left counts", "Right counts"]);
        desk.press("\x1b[C");
        desk.press("\r");
        desk.shows(&["1 in dispute", "2 settled", "QUAYIE"]);
        if settlements(&job).len() == 2 {
            desk.press("\x1bu");
            desk.shows(&["3 in dispute", "0 settled"]);
        }
    }
    // A side, undone, and a value of one's own; the sheet undone, and settled again.
    desk.press("\x1b[D");
    desk.shows(&["Decided: left", "Enter settles the sheet"]);
    desk.press("\x1bu");
    desk.shows(&["Left or Right takes"]);
    desk.press("QUAYLES");
    desk.press("\r");
    desk.shows(&["another: QUAYLES"]);
    desk.press("\r");
    assert_eq!(desk.ends(), 0);
    desk.shows(&["3 sheets done in this sitting", "3 are settled"]);
    let entries = settlements(&job);
    let kinds: Vec<&str> = entries
        .iter()
        .map(|entry| {
            entry["act"]
                .as_object()
                .unwrap()
                .keys()
                .next()
                .unwrap()
                .as_str()
        })
        .collect();
    let expected = [
        "settled", "settled", "undone", "undone", "settled", "settled", "settled",
    ];
    assert_eq!(kinds, expected);
    assert!(entries.iter().all(|entry| entry["by"] == "rio"));
    let bulk: Vec<&serde_json::Value> = entries
        .iter()
        .map(|entry| &entry["act"]["settled"]["bulk"])
        .filter(|bulk| bulk.is_string())
        .collect();
    assert_eq!(bulk.len(), 4);
    assert!(bulk.iter().all(|other| *other == bulk[0]), "{bulk:?}");
    // The sample is inspected blind, by somebody who keyed none of it.
    let mut zoe = start(&job, "key", "zoe", &["--inspect"]);
    zoe.shows(&["1 of 4", "keying 3", "nothing filled in"]);
    zoe.press("\x1bq");
    assert_eq!(zoe.ends(), 0);
    let mut kim = start(&job, "key", "kim", &["--inspect"]);
    assert_eq!(kim.ends(), 0);
    kim.shows(&["0 sheets done"]);
    let run = headword(["report", job.to_str().unwrap()]);
    assert!(run.out.contains("settled"), "{run:#?}");
    let run = headword(["history", job.to_str().unwrap(), "jacket-00002"]);
    assert!(run.out.contains("settled as record"), "{run:#?}");
}
