//! Each of the demo's collections as a job, without pictures: what a reader without fault makes of it.

use crate::support::{headword, rows};
use std::path::Path;

#[test]
fn every_collection_is_laid_out_indexed_and_scored() {
    for (collection, rules, has_roster, other_kinds) in [
        ("personnel", "personnel.toml", true, false),
        ("drawings", "drawings.toml", true, false),
        ("payroll", "payroll.toml", false, true),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let job = folder.path().join("board");
        let job = job.to_str().unwrap();
        let options = "--headless --keep text --sheets 200 --seed 31 --strange 0.1 --json";
        let mut arguments = vec!["demo", job, "--collection", collection];
        arguments.extend(options.split(' '));
        let report = headword(arguments).exits(0).json();
        let file = |name: &str| Path::new(job).join(name);
        assert!(file("rules").join(rules).is_file(), "{collection}");
        assert_eq!(file("roster.csv").is_file(), has_roster, "{collection}");
        let truth = rows(&file("truth.csv"));
        assert_eq!(truth.len(), 200);
        let has = |column: &str, value: &str| truth.iter().any(|row| row[column] == value);
        assert!(has("layout", "unknown"), "{collection}");
        assert_eq!(has("kind", "divider"), other_kinds, "{collection}");
        for noise in ["default", "heavy"] {
            let score = &report["score"][noise];
            let count = |name: &str| score[name].as_u64().unwrap();
            let (right, fields) = (count("fields_right"), count("fields"));
            // A typist's slip here and there, and what it does to the rules.
            assert!(
                fields > 200 && right * 100 >= fields * 97,
                "{collection}: {score}"
            );
            assert!(score["strange"]["sheets"].as_u64().unwrap() > 0);
        }
    }
}

#[test]
fn a_share_beyond_one_is_refused() {
    headword(["demo", "/nowhere", "--strange", "1.5"])
        .exits(2)
        .says(&["--strange", "share from 0 to 1"]);
}
