//! From pictures to the index, and again after changes.

use crate::support::{TestJob, demo_sheets, headword, rows, wait};
use std::collections::BTreeSet;
use std::fs;
use std::process::Command;

#[test]
fn the_demo_runs_from_pictures_to_the_index() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("board");
    let job = job.to_str().unwrap();
    headword(["demo", job, "--headless", "--sheets", "8", "--seed", "11"])
        .exits(0)
        .says(&[
            "8 sheets: 8 read",
            "against the truth",
            "out/draft/index.csv",
        ]);
    let path = |name: &str| std::path::Path::new(job).join(name);
    let truth = rows(&path("truth.csv"));
    assert_eq!(truth.len(), 8);
    let index = rows(&path("out/draft/index.csv"));
    let exceptions = rows(&path("out/draft/exceptions.csv"));
    for sheet in &truth {
        let name = &sheet["sheet"];
        let listed = |rows: &[std::collections::HashMap<String, String>]| {
            rows.iter().filter(|row| row["sheet"] == *name).count()
        };
        // A typed strip that was not found is an exception; a blank one is never in the index.
        assert_eq!(listed(&index) + listed(&exceptions), 1, "{name}");
        assert!(
            sheet["kind"] == "record" || listed(&index) == 0,
            "{name} is {}",
            sheet["kind"]
        );
    }
    assert_eq!(index.len() + exceptions.len(), truth.len());
    let names: BTreeSet<&str> = index.iter().map(|row| row["file_name"].as_str()).collect();
    assert_eq!(names.len(), index.len(), "file names are unique");
    // Most of what is read is right: the strips were read, not something else.
    let right = index.iter().filter(|row| {
        let of_sheet = truth.iter().find(|t| t["sheet"] == row["sheet"]);
        of_sheet.is_some_and(|truth| truth["number"] == row["number"])
    });
    assert!(right.count() * 2 > index.len(), "{index:#?}");
    python_reads_the_same(&path("out/draft/index.csv"), index.len());
}

#[test]
fn the_other_collections_run_from_pictures_to_the_index_too() {
    for (collection, rules, field) in [
        ("drawings", "drawings.toml", "number"),
        ("payroll", "payroll.toml", "title"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let job = folder.path().join("board");
        let options = ["--sheets", "6", "--seed", "11", "--noise", "default"];
        let mut arguments = vec!["demo", job.to_str().unwrap(), "--headless"];
        arguments.extend(["--collection", collection].iter().chain(&options));
        headword(arguments).exits(0).says(&[
            "6 sheets: 6 read",
            "against the truth",
            "out/draft/index.csv",
            rules,
        ]);
        let truth = rows(&job.join("truth.csv"));
        let index = rows(&job.join("out/draft/index.csv"));
        let exceptions = rows(&job.join("out/draft/exceptions.csv"));
        assert_eq!(index.len() + exceptions.len(), truth.len(), "{collection}");
        let right = index.iter().filter(|row| {
            let of_sheet = truth.iter().find(|truth| truth["sheet"] == row["sheet"]);
            of_sheet.is_some_and(|truth| truth[field] == row[field])
        });
        assert!(right.count() * 2 > index.len(), "{collection}: {index:#?}");
    }
}

/// Another program's idea of CSV.
fn python_reads_the_same(path: &std::path::Path, expected: usize) {
    let script = "import csv, sys; print(len(list(csv.DictReader(open(sys.argv[1], newline='', encoding='utf-8'), strict=True))))";
    match Command::new("python3")
        .args(["-c", script])
        .arg(path)
        .output()
    {
        Ok(output) => {
            let said = String::from_utf8_lossy(&output.stdout);
            assert_eq!(said.trim(), expected.to_string(), "{output:?}");
        }
        Err(fault) => eprintln!("not read back by python3: {fault}"),
    }
}

#[test]
fn only_new_and_changed_sheets_are_read_again() {
    let job = TestJob::of_sheets(4);
    let sheets = demo_sheets();
    let at = |index: usize| {
        let name = sheets[index].file_name().unwrap();
        job.file("sheets").join(name)
    };
    let counts = || {
        let run = job.run("read", ["--json"]);
        let json = run.json();
        ["sheets", "read", "unchanged", "vanished", "proposed"]
            .map(|key| json[key].as_u64().unwrap())
    };
    assert_eq!(counts(), [4, 4, 0, 0, 4]);
    assert_eq!(counts(), [4, 0, 4, 0, 0], "nothing changed");
    // Touched, the same in content.
    let bytes = fs::read(at(0)).unwrap();
    fs::write(at(0), bytes).unwrap();
    assert_eq!(counts(), [4, 0, 4, 0, 0], "only touched");
    // One replaced by another sheet's picture, one removed, one new.
    fs::copy(&sheets[6], at(0)).unwrap();
    fs::remove_file(at(1)).unwrap();
    fs::copy(&sheets[4], at(4)).unwrap();
    assert_eq!(
        counts(),
        [4, 2, 2, 1, 2],
        "one replaced, one removed, one new"
    );
    assert_eq!(counts(), [4, 0, 4, 0, 0], "and then nothing");
    // Rules changed: nothing is read, everything is proposed.
    let rules = job.file("rules/personnel.toml");
    let text = fs::read_to_string(&rules).unwrap();
    fs::write(&rules, text.replace("max = 99\n", "max = 98\n")).unwrap();
    let [_, read, .., proposed] = counts();
    assert_eq!((read, proposed >= 4), (0, true), "new rules");
}

#[test]
fn two_reads_at_once_end_well() {
    let job = TestJob::of_sheets(8);
    let both = [
        job.start("read", ["--workers", "1"]),
        job.start("read", ["--workers", "1"]),
    ];
    for child in both {
        let run = wait(child);
        assert!(matches!(run.code, Some(0 | 1)), "{run:#?}");
    }
    job.is_accounted_for();
    let run = job.run("read", ["--json"]);
    assert_eq!(run.json()["unchanged"], 8, "{run:#?}");
}
