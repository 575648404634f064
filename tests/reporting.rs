//! A job keyed twice, settled and inspected, and what its report says.

use crate::support::headword;
use headword::job::Job;
use headword::journal::{
    Act, Desk, Entry, FormatVersion, KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying,
    ProposedValue, SETTLEMENT_PASS, Seen, Settlement, Store,
};
use headword::proposal::Proposal;
use headword::review::{Comparer, Decision, Reviewed, Take, merge};
use headword::value::SheetId;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

const SHEETS: usize = 120;
/// Every seventh surname is keyed wrong by the second clerk, who sees the picture alone; every sixtieth by both alike.
const WRONG: usize = 7;
const ALIKE: usize = 60;

fn keying(proposal: &Proposal, surname: Option<&str>, sees: bool) -> Keying {
    let fields = proposal.fields.iter().map(|field| {
        let is_surname = field.field == "surname";
        let text = surname.filter(|_| is_surname).unwrap_or(&field.as_typed);
        KeyedField {
            field: field.field.clone(),
            value: match text {
                "" => KeyedValue::NothingOnStrip,
                text => KeyedValue::Text(text.to_owned()),
            },
            as_roster: None,
            source: KeyedSource::Typed,
            proposed: Some(ProposedValue {
                value: field.as_typed.clone(),
                probability: field.probability,
                face: field.face,
            }),
            overruled: None,
        }
    });
    Keying {
        records: vec![KeyedRecord {
            fields: fields.collect(),
            roster_key: None,
        }],
        seen: Seen {
            proposal: sees,
            ..Seen::default()
        },
        keystrokes: 10,
        milliseconds: 5_000,
        ..Keying::default()
    }
}

fn append(store: &mut impl Store, sheet: &SheetId, by: &str, pass: u8, act: Act) {
    let entry = Entry {
        format: FormatVersion::CURRENT,
        number: 0,
        sheet: sheet.clone(),
        by: by.to_owned(),
        at: 0,
        pass,
        desk: Desk::Clerk,
        act,
        extra: Default::default(),
    };
    store.append(&entry, None).unwrap();
}

/// A job whose first ten sheets are keyed once, one is held, the rest keyed twice, settled and inspected.
fn reviewed_job() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job");
    let job = path.to_str().unwrap();
    let sheets = SHEETS.to_string();
    let options = [
        "--headless",
        "--keep",
        "readings",
        "--sheets",
        &sheets,
        "--seed",
        "31",
    ];
    let run = headword([&["demo", job][..], &options[..]].concat());
    assert!(matches!(run.code, Some(0 | 1)), "{run:#?}");
    let file = path.join("job.toml");
    let text = fs::read_to_string(&file).unwrap();
    let more = "[keying]\npasses = 2\n[quality]\ncritical = [\"surname\"]\naql = 4.0\n";
    fs::write(&file, format!("{text}\n{more}")).unwrap();
    let mut job = Job::open(&path).unwrap();
    let comparer = Comparer::new(&job.settings.quality, job.proposer.rules().fields());
    let proposals: Vec<(SheetId, Proposal)> = job
        .store
        .proposals()
        .unwrap()
        .map(|record| {
            record
                .map(|record| (record.sheet, record.proposal))
                .unwrap()
        })
        .collect();
    assert_eq!(proposals.len(), SHEETS);
    for (n, (sheet, proposal)) in proposals.iter().enumerate() {
        let store = &mut job.store;
        if n == 11 {
            let reason = "PIER, JOHN is written by hand".to_owned();
            append(store, sheet, "mia", 1, Act::Held { reason });
            continue;
        }
        let alike = (n % ALIKE == 20).then_some("ALIKE");
        append(
            store,
            sheet,
            "mia",
            1,
            Act::Keyed(keying(proposal, alike, true)),
        );
        if n < 10 {
            continue;
        }
        let wrong = alike.or((n % WRONG == 0).then_some("WRONG"));
        append(
            store,
            sheet,
            "kim",
            2,
            Act::Keyed(keying(proposal, wrong, false)),
        );
        let history = store.history(sheet).unwrap();
        let reviewed = Reviewed::of(&history, [1, 2], &comparer);
        let comparison = reviewed.comparison.as_ref().unwrap();
        if !comparison.is_agreed() {
            let (first, second) = (reviewed.first.unwrap(), reviewed.second.unwrap());
            let at = comparison.disputes().next().unwrap().at.clone();
            let take = Take::First;
            let merged = merge(first.1, second.1, comparison, &[Decision { at, take }]).unwrap();
            let settlement = Settlement {
                of: [first.0.number, second.0.number],
                records: merged.records,
                decided: merged.decided,
                ..Settlement::default()
            };
            append(
                store,
                sheet,
                "rio",
                SETTLEMENT_PASS,
                Act::Settled(settlement),
            );
        }
        append(
            store,
            sheet,
            "ada",
            3,
            Act::Keyed(keying(proposal, None, false)),
        );
    }
    (folder, path)
}

#[test]
fn a_job_is_reported_in_figures_text_and_a_page() {
    let (_folder, job) = reviewed_job();
    let path = job.to_str().unwrap();
    let page = job.join("out/report.html");
    let arguments = ["report", path, "--json", "--html", page.to_str().unwrap()];
    let report = headword(arguments).exits(0).json();
    let twice = SHEETS - 11;
    let at = |pointer: &str| {
        let found = report.pointer(pointer);
        found
            .unwrap_or_else(|| panic!("{pointer} in {report:#}"))
            .clone()
    };
    // 20 and 80 are wrong alike; of the sevens from 10 on, 14 to 119, none is one of these.
    let settled = (10..SHEETS).filter(|n| n % WRONG == 0 && *n != 11).count();
    assert_eq!(at("/states/settled"), settled);
    assert_eq!(at("/states/keyed twice"), twice - settled);
    assert_eq!(
        (at("/states/keyed"), at("/states/held")),
        (10.into(), 1.into())
    );
    assert_eq!(at("/exceptions/held: another reason"), 1);
    assert_eq!(at("/disagreements/double"), twice);
    assert_eq!(at("/disagreements/by_field/surname/hits"), settled);
    assert_eq!(at("/errors/0/fields/hits"), 0);
    assert_eq!(at("/errors/1/critical_fields/hits"), settled);
    assert_eq!(at("/errors/1/critical_fields/of"), twice);
    assert_eq!(at("/errors/1/by_person"), serde_json::json!({}));
    assert_eq!(at("/passes/0/keyed"), SHEETS - 1);
    assert_eq!(at("/passes/0/keystrokes_an_hour"), 7_200.0);
    assert_eq!(at("/passes/1/waiting"), 11);
    assert_eq!(at("/errors/1/drawn_fields"), serde_json::Value::Null);
    // Lot 120, level II: F, 20 sheets; at 4.0 % two of them may be bad.
    assert_eq!(at("/sampling/lot/plan/acceptance_number"), 2);
    let sample = at("/sampling/lot/sample");
    assert_eq!(sample.as_array().unwrap().len(), 20);
    let found = at("/sampling/verdict/found/of").as_u64().unwrap();
    assert!((10..=20).contains(&found), "{found}");

    let html = fs::read_to_string(&page).unwrap();
    assert!(html.contains("<svg") && html.contains("operating characteristic"));
    for foreign in ["<script", "http://", "https://", "src=", "@import"] {
        assert!(!html.contains(foreign), "{foreign}");
    }
    let text = headword(["report", path]).exits(0);
    text.says(&[
        "PROGRESS",
        "ACCEPTANCE SAMPLING",
        "or more, are wrong alike",
        "promises nothing about this one",
    ]);
    // Nothing of the strips, and nobody's name.
    let whole = format!("{html}{report}");
    for secret in ["ALIKE", "WRONG", "PIER", "mia", "kim", "rio"] {
        assert!(!whole.contains(secret), "{secret}");
    }
    let people = headword(["report", path, "--json", "--people"])
        .exits(0)
        .json();
    let by_kim = people.pointer("/errors/1/by_person/kim/hits");
    assert_eq!(by_kim, Some(&settled.into()));
    keep_for_a_look(&page);
    // Keyed twice by chance alone: fewer wait, and what holds for the job is told apart.
    let file = job.join("job.toml");
    let text = fs::read_to_string(&file).unwrap();
    let share = "[quality]\nsecond = \"share\"\nsecond_share = 0.5\n";
    fs::write(&file, text.replace("[quality]\n", share)).unwrap();
    let drawn = headword(["report", path, "--json"]).exits(0).json();
    let count = |pointer: &str| drawn.pointer(pointer).and_then(|n| n.as_u64()).unwrap();
    let (of, all) = (
        count("/errors/1/drawn_sheets/of"),
        count("/errors/1/sheets/of"),
    );
    assert!(of > 30 && of < 80 && all == twice as u64, "{of} of {all}");
    assert!(count("/passes/1/waiting") < 11);
}

/// Where `HEADWORD_KEEP` names a folder, the page stays there to be looked at.
fn keep_for_a_look(page: &Path) {
    if let Some(folder) = std::env::var_os("HEADWORD_KEEP") {
        fs::copy(page, Path::new(&folder).join("report.html")).unwrap();
    }
}

#[test]
fn a_job_that_nobody_keyed_is_reported_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job");
    let job = path.to_str().unwrap();
    let run = headword([
        "demo",
        job,
        "--headless",
        "--keep",
        "readings",
        "--sheets",
        "20",
        "--seed",
        "31",
    ]);
    assert!(matches!(run.code, Some(0 | 1)), "{run:#?}");
    headword(["report", job])
        .exits(0)
        .says(&["waiting", "open until", "NOT MEASURED"]);
    let nowhere = path.join("job.toml/page.html");
    headword(["report", job, "--html", nowhere.to_str().unwrap()])
        .exits(2)
        .says(&["cannot be written"]);
}
