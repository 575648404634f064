//! `headword new`, and the faults of job and rule files.

use crate::support::{TestJob, headword, repository};
use std::fs;
use std::path::Path;

fn new(job: &Path, more: &[&str]) -> crate::support::Run {
    let sheets = repository("demo-data/sheets");
    let mut arguments = vec![
        "new",
        job.to_str().unwrap(),
        "--sheets",
        sheets.to_str().unwrap(),
    ];
    arguments.extend(more);
    headword(arguments)
}

/// Every file below a folder, with its content.
fn all_files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
        if entry.path().is_dir() {
            files.extend(all_files(&entry.path()));
        } else {
            files.push((
                entry.path().display().to_string(),
                fs::read(entry.path()).unwrap(),
            ));
        }
    }
    files.sort();
    files
}

#[test]
fn new_makes_a_job_that_opens() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("a job");
    let roster = repository("demo-data/roster.csv");
    let run = new(&job, &["--roster", roster.to_str().unwrap(), "--json"]).exits(0);
    let json = run.json();
    assert_eq!((&json["sheets"], &json["rows"]), (&24.into(), &3000.into()));
    assert_eq!(json["key"], "number");
    let written = fs::read_to_string(job.join("job.toml")).unwrap();
    for line in [
        "number = \"number\"",
        "# from = \"\"",
        "# guessed: ",
        "# left open: ",
        "[parts]",
    ] {
        assert!(written.contains(line), "{line} in {written}");
    }
    assert_eq!(
        fs::read(job.join("roster.csv")).unwrap(),
        fs::read(&roster).unwrap()
    );
    let job = job.to_str().unwrap();
    headword(["check", job]).exits(0);
    headword([
        "rules",
        job,
        "--text",
        "STILES, JESSIE   466112-2   1945-1954   1 OF 2",
    ])
    .exits(0)
    .says(&["466112-2"]);
}

#[test]
fn new_guesses_other_headers_and_says_what_is_open() {
    let folder = tempfile::tempdir().unwrap();
    let roster = folder.path().join("list.csv");
    let rows = "Family Name;Given Names;Staff\nSTILES;JESSIE ANN;466112-2\nWERNER;T J;494764-9\nWERNER;T J;494764-9\n";
    fs::write(&roster, rows).unwrap();
    let job = folder.path().join("job");
    new(&job, &["--roster", roster.to_str().unwrap()])
        // A key that stands twice is a finding.
        .exits(1)
        .says(&[
            "the column Family Name",
            "the column Given Names",
            "the column Staff",
            "left open",
            "494764-9",
        ]);
}

#[test]
fn new_refuses_and_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, text: &str| {
        let path = folder.path().join(name);
        fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let empty = folder.path().join("empty");
    fs::create_dir(&empty).unwrap();
    let letters = folder.path().join("letters");
    fs::create_dir(&letters).unwrap();
    fs::write(letters.join("letter.txt"), "").unwrap();
    let taken = folder.path().join("taken");
    fs::create_dir(&taken).unwrap();
    fs::write(taken.join("job.toml"), "title = 1").unwrap();
    let other_rules = folder.path().join("other rules");
    fs::create_dir_all(other_rules.join("rules")).unwrap();
    fs::write(other_rules.join("rules/personnel.toml"), "# mine").unwrap();
    let faulty = file(
        "faulty.toml",
        "[[field]]\nname = \"a b\"\nkind = \"cod\"\n[[rule]]\nlin = \"{x}\"\n",
    );
    let blank = file("blank.csv", "");
    let fresh = folder.path().join("fresh");
    let (fresh, sheets) = (fresh.to_str().unwrap(), repository("demo-data/sheets"));
    let sheets = sheets.to_str().unwrap();
    let [empty, letters, taken, other_rules] =
        [&empty, &letters, &taken, &other_rules].map(|p| p.to_str().unwrap());
    // Arguments after `new`, and what is said.
    let cases: [(&[&str], &[&str]); 9] = [
        (&[taken, "--sheets", sheets], &["taken", "found a job.toml"]),
        (
            &[fresh, "--sheets", "/no/such/folder"],
            &["/no/such/folder", "check the path"],
        ),
        (&[fresh, "--sheets", empty], &["empty", "found none"]),
        (&[fresh, "--sheets", letters], &["found none", "letter.txt"]),
        (
            &[fresh, "--sheets", sheets, "--roster", "/no/roster.csv"],
            &["/no/roster.csv", "check the path"],
        ),
        (
            &[fresh, "--sheets", sheets, "--roster", &blank],
            &["blank.csv", "the file is empty"],
        ),
        (
            &[fresh, "--sheets", sheets, "--rules", "/no/rules.toml"],
            &["/no/rules.toml", "check the path"],
        ),
        (
            &[fresh, "--sheets", sheets, "--rules", &faulty],
            &["faulty.toml:2:8", "faulty.toml:3:8", "faulty.toml:5:1"],
        ),
        (
            &[other_rules, "--sheets", sheets],
            &["rules/personnel.toml", "says something else"],
        ),
    ];
    let before = all_files(folder.path());
    for (arguments, says) in cases {
        headword([&["new"], arguments].concat()).exits(2).says(says);
        assert_eq!(all_files(folder.path()), before, "after {arguments:?}");
    }
}

#[test]
fn every_fault_of_a_rule_file_is_said_with_its_place() {
    let job = TestJob::of_sheets(0);
    let rules = "[[field]]\nname = \"number\"\nkind = \"coed\"\n\n[[field]]\nname = \"year\"\nkind = \"year\"\n\
                 min = 1990\nmax = 1900\n\n[[rule]]\nname = \"one\"\nline = \"{nmber} {year}\"\n";
    fs::write(job.file("rules/personnel.toml"), rules).unwrap();
    for verb in ["read", "check", "index"] {
        job.run(verb, [""; 0]).exits(2).says(&[
            "rules/personnel.toml:3:8",
            "personnel.toml:9:1",
            "personnel.toml:13:",
            "code",
            "number",
        ]);
    }
}

#[test]
fn faults_of_the_job_file_are_said_with_their_place() {
    let job = TestJob::of_sheets(0);
    let sound = fs::read_to_string(job.file("job.toml")).unwrap();
    // What is replaced, by what, and what is said.
    let cases: [(&str, &str, &[&str]); 7] = [
        ("[naming]", "[naming", &["job.toml:", "unclosed table"]),
        ("title = ", "titel = ", &["job.toml:2:1", "titel"]),
        (
            "both = [\"surname\"",
            "both = [\"surnme\"",
            &["job.toml:", "`surnme`", "surname, forenames"],
        ),
        (
            "part = \"part\"",
            "part = \"prat\"",
            &["job.toml:", "`prat`"],
        ),
        (
            "pattern = \"{number}",
            "pattern = \"{nmber}",
            &["job.toml:", "nmber"],
        ),
        (
            "\"rules/personnel.toml\"",
            "\"rules/none.toml\"",
            &["rules/none.toml", "a rule file"],
        ),
        (
            "key = \"number\"",
            "key = \"staff\"",
            &["roster line 1", "staff", "number, surname"],
        ),
    ];
    for (old, new, says) in cases {
        assert!(sound.contains(old), "{old}");
        fs::write(job.file("job.toml"), sound.replacen(old, new, 1)).unwrap();
        job.run("check", [""; 0]).exits(2).says(says);
    }
    fs::write(job.file("job.toml"), b"title = \"\xff\"").unwrap();
    job.run("check", [""; 0])
        .exits(2)
        .says(&["job.toml", "UTF-8"]);
}
