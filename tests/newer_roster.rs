//! A job whose client sends a newer roster, and batches that lack sheets.

use crate::support::{Run, headword};
use headword::job::Job;
use headword::journal::{
    Act, Choice, Desk, Entry, FormatVersion, KeyedField, KeyedRecord, KeyedSource, KeyedValue,
    Keying, Store,
};
use headword::value::SheetId;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// A job of 20 sheets, of which all that are proposed with a row of the roster are keyed, as proposed.
fn keyed_job() -> (TempDir, PathBuf, Vec<(SheetId, String)>) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job");
    let name = path.to_str().unwrap();
    let run = headword([
        "demo",
        name,
        "--headless",
        "--keep",
        "readings",
        "--sheets",
        "20",
        "--seed",
        "31",
    ]);
    assert!(matches!(run.code, Some(0 | 1)), "{run:#?}");
    let mut job = Job::open(&path).unwrap();
    let proposals: Vec<_> = job.store.proposals().unwrap().map(Result::unwrap).collect();
    let mut linked = Vec::new();
    for record in proposals {
        let Some(link) = record.proposal.link else {
            continue;
        };
        let fields = record.proposal.fields.into_iter().map(|field| KeyedField {
            field: field.field,
            value: KeyedValue::Text(field.as_typed),
            as_roster: field.as_roster,
            source: KeyedSource::Proposal,
            proposed: None,
            overruled: None,
        });
        let keying = Keying {
            records: vec![KeyedRecord {
                fields: fields.collect(),
                roster_key: Some(link.key.clone()),
            }],
            ..Keying::default()
        };
        let entry = Entry {
            format: FormatVersion::CURRENT,
            number: 0,
            sheet: record.sheet.clone(),
            by: "mia".to_owned(),
            at: 0,
            pass: 1,
            desk: Desk::Clerk,
            act: Act::Keyed(keying),
            extra: Default::default(),
        };
        job.store.append(&entry, None).unwrap();
        linked.push((record.sheet, link.key));
    }
    (folder, path, linked)
}

/// The lines of the roster with these keys changed: taken out, or a cell replaced.
fn newer(job: &Path, change: impl Fn(&str, Vec<String>) -> Option<Vec<String>>) -> PathBuf {
    let mut reader = csv::Reader::from_path(job.join("roster.csv")).unwrap();
    let path = job.join("newer.csv");
    let mut writer = csv::Writer::from_path(&path).unwrap();
    writer.write_record(reader.headers().unwrap()).unwrap();
    for row in reader.records().map(Result::unwrap) {
        let cells: Vec<String> = row.iter().map(str::to_owned).collect();
        if let Some(cells) = change(&row[0], cells) {
            writer.write_record(cells).unwrap();
        }
    }
    writer.flush().unwrap();
    path
}

fn run(job: &Path, arguments: &[&str]) -> Run {
    headword([&["roster", job.to_str().unwrap()], arguments].concat())
}

#[test]
fn a_newer_roster_takes_the_place_and_concerned_sheets_are_listed_until_they_are_keyed_again() {
    let (_folder, job, linked) = keyed_job();
    let mut keys: Vec<&str> = linked.iter().map(|(_, key)| key.as_str()).collect();
    keys.sort_unstable();
    keys.dedup();
    let [gone, another, renamed] = [keys[0], keys[1], keys[2]];
    let of = |key: &str| -> Vec<&SheetId> {
        let sheets = linked.iter().filter(|(_, other)| other == key);
        sheets.map(|(sheet, _)| sheet).collect()
    };
    let header = fs::read_to_string(job.join("roster.csv")).unwrap();
    let header = header.lines().next().unwrap().to_owned();
    assert!(header.starts_with("number,surname,forenames"), "{header}");
    let path = newer(&job, |key, mut cells| {
        if key == another {
            (cells[1], cells[2]) = ("XYZZY".to_owned(), "QWWQ".to_owned());
        }
        if key == renamed {
            cells[1] += "-HART";
        }
        (key != gone).then_some(cells)
    });
    let path = path.to_str().unwrap();
    let before = fs::read(job.join("roster.csv")).unwrap();
    run(&job, &[path, "--dry-run"]).exits(1).says(&[
        "0 added, 1 gone, 2 changed",
        "another? surname",
        "Nothing was changed",
        "names have nothing in common",
    ]);
    assert_eq!(fs::read(job.join("roster.csv")).unwrap(), before);
    let replaced = run(&job, &[path, "--as", "ada", "--json"]).exits(1).json();
    let codes = |found: &serde_json::Value, list: &str| -> Vec<(String, String)> {
        let checks = found[list].as_array().unwrap().iter();
        let of_roster = checks.filter(|check| {
            let code = check["code"].as_str().unwrap();
            code.starts_with("roster-row-") && code != "roster-rows-without-sheet"
                || code == "roster-value-changed"
        });
        let mut codes: Vec<(String, String)> = of_roster
            .flat_map(|check| {
                let code = check["code"].as_str().unwrap().to_owned();
                let sheets = check["sheets"].as_array().unwrap().iter();
                sheets.map(move |sheet| (code.clone(), sheet.as_str().unwrap().to_owned()))
            })
            .collect();
        codes.sort();
        codes
    };
    let mut expected: Vec<(String, String)> = Vec::new();
    for (key, code) in [
        (gone, "roster-row-gone"),
        (another, "roster-row-another"),
        (renamed, "roster-value-changed"),
    ] {
        expected.extend(
            of(key)
                .into_iter()
                .map(|sheet| (code.to_owned(), sheet.to_string())),
        );
    }
    expected.sort();
    assert_eq!(codes(&replaced, "sheets"), expected);
    assert_eq!(replaced["kept_as"], "roster-replaced-0001.csv");
    assert_eq!(
        fs::read(job.join("roster-replaced-0001.csv")).unwrap(),
        before
    );
    assert_eq!(
        fs::read(job.join("roster.csv")).unwrap(),
        fs::read(path).unwrap()
    );
    let name = job.to_str().unwrap();
    let check = headword(["check", name, "--json"]).exits(1).json();
    assert_eq!(codes(&check, "checks"), expected);
    headword(["check", name])
        .exits(1)
        .says(&["headword key JOB --sheet NAME", "-HART"]);
    // What was proposed is proposed anew once, and by nobody again.
    assert_eq!(replaced["proposed"], 20);
    let opened = Job::open(&job).unwrap();
    let decisions = opened.store.decisions().unwrap();
    let Choice::RosterReplaced(replacement) = &decisions.last().unwrap().choice else {
        panic!("{decisions:?}");
    };
    assert_eq!(
        (
            decisions.last().unwrap().by.as_str(),
            replacement.gone,
            replacement.changed
        ),
        ("ada", 1, 2)
    );
    assert_eq!(replacement.concerned.len(), expected.len());
    drop(opened);
    run(&job, &[path])
        .exits(0)
        .says(&["byte for byte", "nothing to replace"]);
    // The one before comes back, and with it every link.
    let back = job.join("roster-replaced-0001.csv");
    run(&job, &[back.to_str().unwrap(), "--as", "ada"])
        .exits(1)
        .says(&[
            "No keyed sheet is linked to a row that is gone",
            "roster-replaced-0002.csv",
        ]);
    let check = headword(["check", name, "--json"]).exits(1).json();
    assert_eq!(codes(&check, "checks"), []);
}

#[test]
fn rosters_that_cannot_take_the_place_leave_all_as_it_was() {
    let (_folder, job, _) = keyed_job();
    let before = fs::read(job.join("roster.csv")).unwrap();
    let path = job.join("newer.csv");
    let text = path.to_str().unwrap();
    let cases: [(&[u8], &[&str]); 4] = [
        (b"", &["the file is empty"]),
        (
            b"number,surname,forenames,born\n",
            &["expected rows below the header"],
        ),
        (b"nr,name\n1,A\n", &["expected a column named number"]),
        (b"a\0b", &["zero byte"]),
    ];
    for (bytes, says) in cases {
        fs::write(&path, bytes).unwrap();
        run(&job, &[text, "--as", "ada"]).exits(2).says(says);
    }
    run(&job, &["/no/such.csv"])
        .exits(2)
        .says(&["/no/such.csv", "newer roster"]);
    assert_eq!(fs::read(job.join("roster.csv")).unwrap(), before);
    assert!(!job.join("roster-replaced-0001.csv").exists());
    // Another list altogether is told from a newer one.
    let other = newer(&job, |key, mut cells| {
        cells[0] = format!("9{key}");
        Some(cells)
    });
    run(&job, &[other.to_str().unwrap(), "--dry-run"])
        .exits(1)
        .says(&["the whole list, of the same client", "perhaps 9"]);
}

/// Killed at moments spread over the whole run, and run again: the roster is always the one before or the newer one, whole;
/// the newer one never without a decision; and what was begun is decided once. HEADWORD_KILLS says how often; 10 times
/// unless said.
#[test]
fn a_killed_replacement_leaves_a_whole_roster_and_is_done_by_doing_it_again() {
    let rounds: u32 = std::env::var("HEADWORD_KILLS").map_or(10, |rounds| rounds.parse().unwrap());
    let (_folder, job, _) = keyed_job();
    let name = job.to_str().unwrap();
    let path = newer(&job, |key, mut cells| {
        if key.starts_with('2') {
            cells[1] += "-HART";
        }
        Some(cells)
    });
    let other = job.join("other.csv");
    fs::copy(job.join("roster.csv"), &other).unwrap();
    let arguments =
        |path: &Path| ["roster", name, path.to_str().unwrap(), "--as", "ada"].map(str::to_owned);
    let start = std::time::Instant::now();
    headword(arguments(&path));
    let whole = start.elapsed();
    let (mut from, mut to) = (&path, &other);
    let mut decided = 1;
    for round in 0..rounds {
        let mut child = start_quietly(arguments(to));
        std::thread::sleep(whole * round / rounds);
        child.kill().unwrap();
        child.wait().unwrap();
        let [now, before, after] =
            [&job.join("roster.csv"), from, to].map(|path| fs::read(path).unwrap());
        assert!(now == before || now == after, "round {round}");
        let decisions = Job::open(&job).unwrap().store.decisions().unwrap().len();
        assert!(
            decisions == decided + 1 || now == before && decisions == decided,
            "round {round}"
        );
        let run = headword(arguments(to));
        assert!(matches!(run.code, Some(0 | 1)), "{run:#?}");
        decided += 1;
        let opened = Job::open(&job).unwrap();
        assert_eq!(fs::read(job.join("roster.csv")).unwrap(), after);
        assert_eq!(
            opened.store.decisions().unwrap().len(),
            decided,
            "round {round}"
        );
        assert!(opened.unfinished_replacement().unwrap().is_none());
        std::mem::swap(&mut from, &mut to);
    }
    for entry in fs::read_dir(&job).unwrap().map(Result::unwrap) {
        let name = entry.file_name().into_string().unwrap();
        assert!(!name.starts_with(".headword-roster-"), "{name}");
        if name.starts_with("roster-replaced-") {
            let kept = fs::read(entry.path()).unwrap();
            assert!(
                kept == fs::read(&path).unwrap() || kept == fs::read(&other).unwrap(),
                "{name}"
            );
        }
    }
}

fn start_quietly(arguments: [String; 5]) -> std::process::Child {
    let mut command = crate::support::command(arguments);
    let silent = std::process::Stdio::null;
    command.stdout(silent()).stderr(silent()).spawn().unwrap()
}

#[test]
fn every_batch_is_counted_against_its_label() {
    let folder = tempfile::tempdir().unwrap();
    let sheets = folder.path().join("sheets");
    let source = crate::support::demo_sheets();
    for (at, batch) in ["box 1", "box 1", "box 2"].iter().enumerate() {
        fs::create_dir_all(sheets.join(batch)).unwrap();
        let name = source[at].file_name().unwrap();
        fs::copy(&source[at], sheets.join(batch).join(name)).unwrap();
    }
    let job = folder.path().join("job");
    let name = job.to_str().unwrap();
    headword(["new", name, "--sheets", sheets.to_str().unwrap()])
        .exits(0)
        .says(&["batches: box 1 (2), box 2 (1)", "[batch.folders]"]);
    let file = job.join("job.toml");
    let text = fs::read_to_string(&file).unwrap();
    assert!(
        text.contains("# \"box 1\" = 2\n# \"box 2\" = 1\n"),
        "{text}"
    );
    let text = text.replace(
        "# [batch.folders]\n# \"box 1\" = 2\n# \"box 2\" = 1\n",
        "[batch.folders]\n\"box 1\" = 3\n\"box 9\" = 1\n",
    );
    fs::write(&file, &text).unwrap();
    // Sheets count once they are in the journal.
    let mut opened = Job::open(&job).unwrap();
    for file in headword::job::list_sheets(&sheets).unwrap().0 {
        let record = headword::journal::SheetRecord::new(file.sheet, "hash".to_owned(), 1, 1);
        opened.store.put_sheets(&[record]).unwrap();
    }
    drop(opened);
    headword(["check", name]).exits(1).says(&[
        "batch box 1: expected 3 sheets, found 2; look for the sheets that were not scanned",
        "batch box 9: expected 1 sheets, found 0; see that its folder",
        "in no batch that [batch.folders]",
        "batch box 1: 2 of 3 sheets",
    ]);
    fs::write(&file, format!("{text}\n[batch]\nsheets = 2\n")).unwrap();
    headword(["check", name])
        .exits(2)
        .says(&["job.toml:", "4 sheets at least"]);
}
