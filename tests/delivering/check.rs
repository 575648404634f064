//! The batch checked before delivery.

use super::hands::HandKeyed;
use crate::support::rows;
use std::fs;

#[test]
fn every_sheet_is_accounted_for_and_every_trouble_told() {
    let mut job = HandKeyed::of_sheets(5, "[batch]\nsheets = 6\n");
    job.key(1, "DALTON MARY 204517-4 1931 1958 1 2");
    job.key(2, "DALTON MARY 204517-4 1921 1958 2 2");
    job.key(3, "HALE JO 000794-0 1950 1931 1 1");
    job.key(4, "HALE JO 000794-0 1950 1931 1 1");
    // The image of a keyed sheet replaced by a copy of another's, the last image gone; nobody has read again.
    fs::copy(job.file("sheets/0001.png"), job.file("sheets/0002.png")).unwrap();
    fs::write(job.file("sheets/0003.png"), "another picture").unwrap();
    fs::remove_file(job.file("sheets/0005.png")).unwrap();
    let told = job.run("check", &["--json", "--csv"]).exits(1).json();
    assert_eq!(told["sheets"]["expected"], 6);
    assert_eq!(told["sheets"]["sheets"], 5);
    let codes: Vec<&str> = told["checks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|check| check["code"].as_str().unwrap())
        .collect();
    for code in [
        "sheet-count",
        "dates-go-back",
        "odd-values",
        "duplicate-record",
        "image-changed",
        "image-gone",
        "same-image",
        "same-file-name",
        "not-in-roster",
        "no-proposal",
        "roster-rows-without-sheet",
    ] {
        assert!(codes.contains(&code), "{code}: {codes:?}");
    }
    let severities: Vec<&str> = told["checks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|check| check["severity"].as_str().unwrap())
        .collect();
    let notes = severities.iter().position(|severity| *severity == "note");
    assert!(
        severities[notes.unwrap()..]
            .iter()
            .all(|severity| *severity == "note")
    );
    let listed = rows(&job.file("out/checks/checks.csv"));
    assert!(
        listed
            .iter()
            .any(|row| row["code"] == "image-changed" && row["sheet"] == "0002.png")
    );
    job.run("check", &[]).exits(1).says(&[
        "expected 6 sheets, found 5",
        "4 sheets, record: keyed",
        "1 sheet, record: waiting",
    ]);
}

#[test]
fn scans_that_do_not_pair_and_pages_beyond_the_frames_are_told() {
    let settings = "[scans]\nfolder = \"scans\"\nname = \"{sheet}\"\nframes = 2\n";
    let mut job = HandKeyed::of_sheets(2, settings);
    job.key(1, "A B 000001-2");
    job.key(2, "C D 000002-0");
    job.run("check", &[])
        .exits(1)
        .says(&["expected a folder of scans"]);
    fs::create_dir_all(job.file("scans/0002")).unwrap();
    for page in 1..=3 {
        fs::write(job.file(&format!("scans/0002/{page}.jpg")), "\u{0}").unwrap();
    }
    job.run("check", &[])
        .exits(1)
        .says(&["scans-not-paired", "sheet 0001.png: expected one scan"]);
    fs::write(job.file("scans/0001.jpg"), b"\xff\xd8\xff\xe0").unwrap();
    for page in 1..=3 {
        let path = job.file(&format!("scans/0002/{page}.jpg"));
        fs::write(path, b"\xff\xd8\xff").unwrap();
    }
    job.run("check", &[]).exits(1).says(&[
        "page-count: its scan 0002 has 3 pages, and a sheet has 2 frames",
        "0002.png",
    ]);
}
