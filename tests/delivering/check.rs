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
