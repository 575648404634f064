//! The demo from pictures to a delivery that another program finds valid, and a correction after it.

use super::deliver::sums;
use super::world::python;
use crate::scripted::{Person, append, read_truth};
use crate::support::{drawn_job, headword, rows};
use headword::job::Job;
use headword::journal::{Act, KeyedValue, Store};
use headword::value::SheetId;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::fs;
use std::path::Path;

/// Sheets drawn and read; enough for a divider, repeat scans or two parts of one jacket to be among them.
const SHEETS: usize = 16;

const VALIDATE: &str = "import bagit, sys\nbagit.Bag(sys.argv[1]).validate()\nprint('valid')";

#[track_caller]
fn is_valid(bag: &Path) {
    if let Some(told) = python("bagit", VALIDATE, bag) {
        assert_eq!(told.trim(), "valid");
    }
}

#[test]
fn the_demo_is_keyed_delivered_verified_and_amended() {
    let (_folder, path) = drawn_job(SHEETS, "default");
    let text = fs::read_to_string(path.join("job.toml")).unwrap();
    let scans = "[scans]\nfolder = \"scans\"\nname = \"{sheet}.pdf\"\n";
    fs::write(path.join("job.toml"), format!("{text}{scans}")).unwrap();
    let mut job = Job::open(&path).unwrap();
    let overview = job.store.overview().unwrap();
    let sheets: Vec<SheetId> = overview.into_iter().map(|s| s.record.sheet).collect();
    fs::create_dir(path.join("scans")).unwrap();
    for sheet in &sheets {
        let (stem, _) = sheet.as_str().rsplit_once('.').unwrap();
        fs::write(path.join("scans").join(format!("{stem}.pdf")), stem).unwrap();
    }
    let truth = read_truth(&path.join("truth.csv"));
    let mia = Person {
        name: "mia",
        pass: 1,
        errors: 0.0,
    };
    let (mut random, mut clock) = (ChaCha8Rng::seed_from_u64(1), 1_790_000_000_000);
    mia.keys(&mut job, &sheets, &truth, &mut random, &mut clock);

    let run =
        |verb: &str, more: &[&str]| headword([&[verb, path.to_str().unwrap()], more].concat());
    run("deliver", &[]).exits(0).says(&["delivery 1: "]);
    run("deliver", &["--verify"]).exits(0);
    let first = path.join("out/delivery-0001");
    is_valid(&first);
    let files = sums(&first.join("data/sheets"));
    let index = rows(&first.join("data/index.csv"));
    assert!(index.len() >= SHEETS / 2, "{index:#?}");
    assert!(
        index
            .iter()
            .all(|row| files.contains_key(&row["file_name"]))
    );
    let named: std::collections::BTreeSet<&String> =
        index.iter().map(|row| &row["file_name"]).collect();
    assert_eq!(named.len(), files.len());

    // Somebody finds a wrong surname.
    let row = &index[0];
    let provenance = rows(&first.join("data/provenance.csv"));
    let of_row = provenance
        .iter()
        .find(|one| one["file_name"] == row["file_name"]);
    let sheet = SheetId::new(of_row.unwrap()["sheet"].clone());
    let history = job.store.history(&sheet).unwrap();
    let Act::Keyed(mut keying) = history[0].act.clone() else {
        panic!("{history:?}");
    };
    let mut fields = keying.records[0].fields.iter_mut();
    let surname = fields.find(|field| field.field == "surname").unwrap();
    surname.value = KeyedValue::Text("CORRECTED".to_owned());
    append(
        &mut job.store,
        &sheet,
        "ada",
        1,
        Act::Keyed(keying),
        clock + 1,
    );
    run("deliver", &[])
        .exits(1)
        .says(&["1 sheet changed since"]);
    run("deliver", &["--amend", "a wrong name"])
        .exits(0)
        .says(&["delivery 2: 1 sheet"]);
    run("deliver", &["--verify"]).exits(0);
    let second = path.join("out/delivery-0002");
    is_valid(&second);
    let amended = rows(&second.join("data/amendments.csv"));
    assert_eq!(amended.len(), 1);
    assert_eq!(amended[0]["sheet"], sheet.as_str());
    assert!(
        amended[0]["changed"].ends_with("-> CORRECTED"),
        "{amended:?}"
    );
    assert!(amended[0]["old_name"].ends_with(&row["file_name"]));
    is_valid(&first);
}
