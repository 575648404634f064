//! Clocks that go back: the order of entries and deliveries is that of their numbers.

use super::deliver::SCANS;
use super::hands::{HandKeyed, keyed, record};
use crate::support::rows;
use headword::journal::{Act, Desk, Entry, FormatVersion, Store};
use std::fs;

/// An entry made at that time.
fn key_at(job: &mut HandKeyed, at: i64, act: Act) -> i64 {
    let sheet = job.sheet(1);
    let last = job.store.state(&sheet, 1).unwrap().last;
    let entry = Entry {
        format: FormatVersion::CURRENT,
        number: 0,
        sheet,
        by: "mia".to_owned(),
        at,
        pass: 1,
        desk: Desk::Clerk,
        act,
        extra: Default::default(),
    };
    job.store.append(&entry, last).unwrap()
}

#[test]
fn what_was_keyed_last_counts_whatever_the_clock_said() {
    let mut job = HandKeyed::of_sheets(1, SCANS);
    let of = |name: &str| {
        keyed(vec![record(
            &format!("{name} MARY 204517-4 1931 1958"),
            None,
        )])
    };
    let now = 1_700_000_000_000;
    let deliver = |job: &HandKeyed, arguments: &[&str]| job.run("deliver", arguments).exits(0);
    fs::create_dir(job.file("scans")).unwrap();
    fs::write(job.file("scans/0001.pdf"), "scan").unwrap();
    key_at(&mut job, now, of("DALTON"));
    deliver(&job, &[]);
    // Set back by a year, before 1970, and far beyond any calendar.
    for (at, name, time) in [
        (now - 31_536_000_000, "DOLTON", "2022-11-14T22:13:20Z"),
        (-1, "DELTON", "1969-12-31T23:59:59.999Z"),
        (i64::MAX, "DILTON", ""),
    ] {
        key_at(&mut job, at, of(name));
        job.run("index", &[]).exits(0);
        let index = rows(&job.file("out/index/index.csv"));
        assert_eq!(index[0]["surname_as_typed"], name);
        let provenance = rows(&job.file("out/index/provenance.csv"));
        assert_eq!(provenance[0]["at"], time);
        job.run("history", &["0001.png"]).exits(0).says(&[name]);
        deliver(&job, &["--amend", "a correction"]);
    }
    // The newest delivery is the one with the highest number, and its names are the ones that stand.
    let ledger = job.file("out/delivery-0004.json");
    let text = fs::read_to_string(&ledger).unwrap();
    let at: serde_json::Value = serde_json::from_str(&text).unwrap();
    let earlier = text.replace(at["ledger"]["at"].as_str().unwrap(), "1999-01-01T00:00:00Z");
    assert_ne!(earlier, text);
    fs::write(&ledger, earlier).unwrap();
    job.run("deliver", &[]).exits(0).says(&["nothing new"]);
    job.run("history", &["204517-4_DILTON.pdf"])
        .exits(0)
        .says(&["0001.png"]);
    assert!(job.store.wrong_states().unwrap().is_empty());
}
