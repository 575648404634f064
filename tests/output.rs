//! What is said, on which stream, in which form, with which exit code.

use crate::support::{TestJob, command, headword};
use std::fs;
use std::io::Read;
use std::process::Stdio;

#[test]
fn exit_codes_are_as_the_help_says() {
    let help = headword(["--help"]).exits(0).out;
    assert!(
        help.contains("Exit codes: 0 done, 1 done with findings"),
        "{help}"
    );
    headword(["--version"]).exits(0);
    // Arguments, exit code, and what is said.
    let cases: [(&[&str], i32, &[&str]); 6] = [
        (&[], 2, &["Usage"]),
        (&["no-such-command"], 2, &["no-such-command"]),
        (&["read"], 2, &["JOB"]),
        (
            &["read", "/no/such/job"],
            2,
            &["/no/such/job/job.toml", "expected a job's folder"],
        ),
        (
            &["read", "/no/such/job", "--workers", "0"],
            2,
            &["--workers"],
        ),
        (&["find", "/no/such/job"], 2, &["TEXT"]),
    ];
    for (arguments, code, says) in cases {
        headword(arguments).exits(code).says(says);
    }
}

#[test]
fn completions_and_manual_are_printed() {
    for shell in ["bash", "zsh", "fish"] {
        headword(["completions", shell])
            .exits(0)
            .says(&["headword", "index"]);
    }
    headword(["manual"])
        .exits(0)
        .says(&[".TH", "headword", "Exit codes"]);
}

#[test]
fn json_is_json_also_when_something_is_at_fault() {
    let job = TestJob::of_sheets(0);
    let path = job.path().to_str().unwrap();
    let commands: [&[&str]; 8] = [
        &["check", path],
        &["index", path],
        &["index", path, "--draft"],
        &["rules", path, "--counts"],
        &["rules", path, "--text", "STILES, JESSIE"],
        &["find", path, "STILES"],
        &["read", "/no/such/job"],
        &["new", path, "--sheets", path],
    ];
    for arguments in commands {
        let run = headword([arguments, &["--json"]].concat());
        assert!(matches!(run.code, Some(0..=2)), "{run:#?}");
        run.json();
    }
}

#[test]
fn an_index_before_keying_says_what_to_do() {
    let job = TestJob::of_sheets(0);
    job.run("index", [""; 0])
        .exits(1)
        .says(&["no sheet was keyed yet", "--draft"]);
}

#[test]
fn a_reader_that_goes_away_is_no_fault() {
    let job = TestJob::of_sheets(0);
    for arguments in [
        vec!["manual".into()],
        job.arguments("rules", ["--text", "STILES, JESSIE"]),
    ] {
        let mut child = command(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let mut err = String::new();
        child
            .stderr
            .take()
            .unwrap()
            .read_to_string(&mut err)
            .unwrap();
        let status = child.wait().unwrap();
        assert!(matches!(status.code(), Some(0 | 1)), "{status}: {err}");
        assert_eq!(err, "");
    }
}

/// What a terminal would obey, or a reader not see.
fn is_hostile(c: char) -> bool {
    (c.is_control() && c != '\n')
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

#[track_caller]
fn is_harmless(run: &crate::support::Run) {
    for text in [&run.out, &run.err] {
        assert!(!text.chars().any(is_hostile), "{text:?}");
    }
}

/// Cursor moved, colour, title set, text turned round, a line break.
const HOSTILE: &str = "a\u{1b}[2J\u{1b}]0;t\u{7}\u{202e}gpj\u{9b}31m\nb";

#[test]
fn hostile_names_are_shown_harmlessly() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join(HOSTILE);
    let sheets = job.join(HOSTILE);
    fs::create_dir_all(&sheets).unwrap();
    let path = |path: &std::path::Path| path.to_str().unwrap().to_owned();
    fs::write(sheets.join(format!("{HOSTILE}.png")), "no image").unwrap();
    fs::write(sheets.join(HOSTILE), "not even called one").unwrap();
    let roster = folder.path().join(format!("{HOSTILE}.csv"));
    fs::write(
        &roster,
        format!("number,\"{HOSTILE}\"\n466112-2,x\n466112-2,\"{HOSTILE}\"\n"),
    )
    .unwrap();
    let (job, sheets, roster) = (path(&job), path(&sheets), path(&roster));
    let commands: Vec<Vec<&str>> = vec![
        vec!["new", &job, "--sheets", &roster],
        vec!["new", &job, "--sheets", &sheets, "--roster", &roster],
        vec!["new", &job, "--sheets", &sheets],
        vec!["check", &job],
        vec!["rules", &job, "--counts"],
        vec!["rules", &job, "--text", HOSTILE],
        vec!["rules", &job, "--sheet", HOSTILE],
        vec!["find", &job, HOSTILE],
        vec!["index", &job, "--draft"],
        vec!["read", &sheets],
        vec!["read", &roster, HOSTILE],
        vec![HOSTILE],
    ];
    for arguments in &commands {
        for json in [&[][..], &["--json"]] {
            let run = headword([arguments, json].concat());
            assert!(matches!(run.code, Some(0..=2)), "{run:#?}");
            is_harmless(&run);
        }
    }
    assert!(std::path::Path::new(&job).join("job.toml").is_file());
    #[cfg(feature = "tesseract")]
    {
        is_harmless(&headword(["read", &job]).exits(1).says(&["found text"]));
        is_harmless(&headword(["index", &job, "--draft"]).exits(1));
        is_harmless(&headword(["check", &job]));
        is_harmless(&headword(["find", &job, "x"]).exits(1));
    }
}

#[cfg(feature = "tesseract")]
#[test]
fn sheets_are_found_and_rules_explained() {
    let job = TestJob::of_sheets(3);
    job.run("read", [""; 0]);
    let index = crate::support::rows(&{
        job.draft();
        job.file("out/draft/index.csv")
    });
    let (sheet, surname) = (&index[0]["sheet"], &index[0]["surname_as_typed"]);
    job.run("find", [surname]).exits(0).says(&[sheet]);
    job.run("find", ["NOBODYOFTHISNAME"])
        .exits(1)
        .says(&["0 of 3 sheets"]);
    job.run("rules", ["--counts"])
        .says(&["3 sheets", "fitted by no rule"]);
    job.run("rules", ["--sheet", sheet])
        .exits(0)
        .says(&["strip: ", surname]);
    job.run("rules", ["--sheet", "none.png"])
        .exits(2)
        .says(&["none.png", "headword read"]);
    job.run("rules", ["--text", "##"]).exits(1);
    for arguments in [
        vec!["read"],
        vec!["check"],
        vec!["index", "--draft"],
        vec!["find", surname],
        vec!["rules", "--sheet", sheet],
    ] {
        job.run(arguments[0], [&arguments[1..], &["--json"]].concat())
            .json();
    }
}
