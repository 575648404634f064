//! `headword rules --try`: what a changed rule file would do, on a job whose readings were made without a reader.

use crate::support::{Run, TestJob};
use headword::job::Job;
use headword::journal::{ReadingRecord, SheetRecord, Store};
use headword::reading::{Line, Reading};
use headword::value::SheetId;
use std::fs;
use std::path::PathBuf;

/// How sure the reader of these strips claims to be.
const CERTAINTY: f64 = 0.97;

const STRIPS: [&str; 4] = [
    "STILES, JESSIE   466112-2   1945-1954   1 OF 2",
    "STILES, JESSIE   466112-2   1945-1954   2 OF 2",
    "BERG, K P   118636-2   1908 - 1926   1 OF 1",
    "MINUTES OF THE DREDGING COMMITTEE",
];

/// A job with these strips as readings, `1.png` and so on, not proposed yet.
fn job(strips: &[&str]) -> TestJob {
    let folder = TestJob::of_sheets(0);
    let mut job = Job::open(folder.path()).unwrap();
    for (strip, at) in strips.iter().zip(1..) {
        let sheet = SheetId::new(format!("{at}.png"));
        let key = format!("reading {at}");
        let lines = vec![Line::certain(strip, CERTAINTY)];
        let record = SheetRecord::new(sheet.clone(), key.clone(), 0, 0);
        job.store.put_sheets(&[record]).unwrap();
        let reading = ReadingRecord::new(sheet, key, None, Reading { lines });
        job.store.put_readings(&[reading]).unwrap();
    }
    folder
}

/// The same, proposed by the rules as they are.
fn proposed_job() -> TestJob {
    let folder = job(&STRIPS);
    let proposed = Job::open(folder.path()).unwrap().propose(|_, _| ());
    assert_eq!(proposed.unwrap(), STRIPS.len());
    folder
}

fn rules(job: &TestJob) -> String {
    fs::read_to_string(job.file("rules/personnel.toml")).unwrap()
}

/// The job's rule file with one piece replaced by another, below another folder.
fn changed(job: &TestJob, old: &str, new: &str) -> PathBuf {
    let text = rules(job);
    assert!(text.contains(old), "{old}");
    let folder = job.file("tries");
    fs::create_dir_all(&folder).unwrap();
    let path = folder.join("personnel.toml");
    fs::write(&path, text.replace(old, new)).unwrap();
    path
}

fn try_file(job: &TestJob, file: &std::path::Path, more: &[&str]) -> Run {
    let mut arguments = vec!["--try", file.to_str().unwrap()];
    arguments.extend(more);
    job.run("rules", arguments)
}

/// Everything that the journal holds, as far as others see it.
fn kept(job: &TestJob) -> String {
    let job = Job::open(job.path()).unwrap();
    let proposals: Vec<_> = job.store.proposals().unwrap().map(Result::unwrap).collect();
    format!("{:?} {proposals:?}", job.store.overview().unwrap())
}

/// A field and a rule for the strip that no starter rule fits.
const MINUTES: &str = r#"
[[field]]
name = "committee"
kind = "text"
[[rule]]
name = "minutes"
line = "MINUTES OF THE {committee} COMMITTEE"
"#;

#[test]
fn the_same_rules_change_nothing() {
    let job = proposed_job();
    let before = kept(&job);
    let same = changed(&job, "", "");
    for run in [
        try_file(&job, &same, &["--json"]),
        job.run("rules", ["--try", "--json"]),
    ] {
        let json = run.exits(0).json();
        assert_eq!(
            (&json["sheets"], &json["not_proposed_before"]),
            (&4.into(), &0.into())
        );
        assert_eq!(
            json["fields_filled"],
            serde_json::json!({ "before": 21, "now": 21 })
        );
        assert_eq!(
            json["checks_kept"],
            serde_json::json!({ "before": 6, "now": 6 })
        );
        for list in ["changed", "worse", "newly_fitted", "fitted_no_more"] {
            assert_eq!(json[list], serde_json::json!([]), "{list}");
        }
    }
    assert_eq!(kept(&job), before);
}

#[test]
fn sheets_that_lose_their_rule_or_a_number_whose_check_held_are_worse() {
    let job = proposed_job();
    let before = kept(&job);
    // The fields as they are, and one rule, for another strip.
    let text = rules(&job);
    let fields = text.split("[[rule]]\n").next().unwrap();
    let other = changed(&job, &text, &format!("{fields}{MINUTES}"));
    let run = try_file(&job, &other, &[]).exits(1);
    let run = run.says(&[
        "3 sheets fitted no more",
        "3 sheets got worse",
        "  1.png: ",
        "  3.png: ",
    ]);
    assert!(!run.out.contains("  4.png: `name"), "{run:#?}");
    let json = try_file(&job, &other, &["--json"]).exits(1).json();
    assert_eq!(
        json["fitted_no_more"],
        serde_json::json!(["1.png", "2.png", "3.png"])
    );
    assert_eq!(json["newly_fitted"], serde_json::json!(["4.png"]));
    // Another scheme, by which none of these numbers holds.
    let scheme = changed(&job, "\"iso7064-mod-11-2\"", "\"luhn\"");
    let json = try_file(&job, &scheme, &["--json"]).exits(1).json();
    assert_eq!(json["worse"].as_array().unwrap().len(), 3, "{json:#}");
    assert_eq!(json["check_characters_holding"]["before"], 3);
    assert_eq!(kept(&job), before);
}

#[test]
fn a_new_rule_shows_the_sheets_that_it_fits() {
    let job = proposed_job();
    let text = rules(&job);
    let more = changed(&job, &text, &format!("{text}{MINUTES}"));
    let json = try_file(&job, &more, &["--json"]).exits(0).json();
    assert_eq!(json["newly_fitted"], serde_json::json!(["4.png"]));
    assert_eq!(
        json["fitted_by_none"],
        serde_json::json!({ "before": 1, "now": 0 })
    );
    let changed = &json["changed"][0];
    assert_eq!(changed["rule_now"], "minutes");
    let field = serde_json::json!({ "field": "committee", "before": "", "now": "DREDGING" });
    assert_eq!(changed["fields"][0], field);
    try_file(&job, &more, &[]).exits(0).says(&[
        "1 sheet newly fitted: 4.png",
        "no rule -> `minutes`",
        "committee: `` -> `DREDGING`",
        "0 sheets got worse",
    ]);
}

#[test]
fn against_the_truth_right_fields_count() {
    let job = proposed_job();
    let truth = job.file("truth.csv");
    let rows = "sheet,noise,surname,number,part\n1.png,x,stiles,466112-2,1\n3.png,x,BERG,118636-2,1\n9.png,x,A,1,1\n";
    fs::write(&truth, rows).unwrap();
    let truth = truth.to_str().unwrap();
    let swapped = changed(
        &job,
        "\"{surname}, {forenames}   {number}",
        "\"{forenames}, {surname}   {number}",
    );
    let json = try_file(&job, &swapped, &["--json", "--truth", truth])
        .exits(1)
        .json();
    let right = &json["truth"];
    assert_eq!((&right["sheets"], &right["values"]), (&2.into(), &6.into()));
    assert_eq!(right["right"], serde_json::json!({ "before": 6, "now": 4 }));
    assert_eq!(json["worse"][0]["sheet"], "1.png");
    // Nobody says that 2.png is wrong, and its number holds.
    assert_eq!(json["worse"].as_array().unwrap().len(), 2, "{json:#}");
    // The other way round it is an improvement.
    let sound = rules(&job);
    fs::write(
        job.file("rules/personnel.toml"),
        fs::read_to_string(&swapped).unwrap(),
    )
    .unwrap();
    fs::write(&swapped, sound).unwrap();
    try_file(&job, &swapped, &["--truth", truth])
        .exits(0)
        .says(&[
            "2 sheets with more fields right: 1.png, 3.png",
            "of 6 on 2 sheets",
        ]);
}

#[test]
fn the_files_on_disk_are_held_against_the_journal() {
    let job = proposed_job();
    let text = rules(&job) + MINUTES;
    fs::write(job.file("rules/personnel.toml"), text).unwrap();
    let before = kept(&job);
    job.run("rules", ["--try"])
        .exits(0)
        .says(&["1 sheet changed", "committee: `` -> `DREDGING`"]);
    assert_eq!(kept(&job), before);
    // Sheets that were never proposed are new.
    let fresh = self::job(&STRIPS);
    let json = fresh.run("rules", ["--try", "--json"]).exits(0).json();
    assert_eq!(
        (
            &json["not_proposed_before"],
            &json["fitted_by_none"]["before"]
        ),
        (&4.into(), &4.into())
    );
    assert_eq!(json["newly_fitted"].as_array().unwrap().len(), 3);
    assert!(kept(&fresh).ends_with(" []"));
}

#[test]
fn values_carried_from_sheets_before_come_along() {
    let job = proposed_job();
    let ditto = changed(
        &job,
        "kind = \"surname\"",
        "kind = \"surname\"\ncarry = \"sheet before\"",
    );
    let text = fs::read_to_string(&ditto).unwrap();
    let text = format!(
        "{text}\n[[rule]]\nname = \"minutes\"\nline = \"MINUTES OF THE {{forenames}} COMMITTEE\"\n"
    );
    fs::write(&ditto, text).unwrap();
    let json = try_file(&job, &ditto, &["--json"]).exits(0).json();
    let fields = json["changed"][0]["fields"].as_array().unwrap();
    let carried = fields
        .iter()
        .find(|field| field["field"] == "surname")
        .unwrap();
    assert_eq!(carried["now"], "BERG", "{json:#}");
}

#[test]
fn faults_are_all_told_with_their_places() {
    let job = proposed_job();
    let wrong = changed(&job, "kind = \"surname\"", "kind = \"surnme\"");
    let text = fs::read_to_string(&wrong).unwrap();
    fs::write(
        &wrong,
        format!("{text}\n[[rule]]\nname = \"x\"\nline = \"{{nmber}}\"\n"),
    )
    .unwrap();
    let truth = job.file("truth.csv");
    fs::write(&truth, "sheet,surname\n1.png\n2.png,A\n2.png,B\n").unwrap();
    let truth = truth.to_str().unwrap();
    try_file(&job, &wrong, &["--truth", truth]).exits(2).says(&[
        "tries/personnel.toml:",
        "expected a kind",
        "`nmber`",
        "truth.csv:2: expected 2 values",
        "truth.csv:4: expected every sheet once",
    ]);
    let other = job.file("other.toml");
    fs::write(&other, "").unwrap();
    try_file(&job, &other, &[])
        .exits(2)
        .says(&["other.toml", "rules/personnel.toml"]);
    try_file(&job, &job.file("none/personnel.toml"), &[])
        .exits(2)
        .says(&["none/personnel.toml"]);
    // A field that the job file names has to stay.
    let renamed = changed(&job, "name = \"part\"", "name = \"place\"");
    try_file(&job, &renamed, &[]).exits(2).says(&["`part`"]);
    let sound = changed(&job, "", "");
    fs::write(truth, "sheet,title\n1.png,A\n").unwrap();
    try_file(&job, &sound, &["--truth", truth])
        .exits(2)
        .says(&["no such field", "title"]);
    fs::write(truth, "file,surname\n1.png,A\n").unwrap();
    try_file(&job, &sound, &["--truth", truth])
        .exits(2)
        .says(&["a column `sheet`"]);
    job.run("rules", ["--truth", truth])
        .exits(2)
        .says(&["--try"]);
}
