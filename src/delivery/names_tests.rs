use super::*;
use crate::delivery::{RecordValue, is_portable, portable_value};
use crate::value::{SheetKind, SheetState};
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::process::Command;

const FIELDS: [&str; 4] = ["number", "surname", "part", "parts"];

fn record(sheet: &str, values: [&str; 4]) -> Record {
    let values = FIELDS.iter().zip(values).map(|(field, value)| RecordValue {
        field: (*field).to_owned(),
        as_typed: value.to_owned(),
        ..RecordValue::default()
    });
    Record {
        sheet: SheetId::new(sheet),
        kind: SheetKind::Record,
        state: SheetState::Settled,
        values: values.collect(),
        ..Record::default()
    }
}

fn names_of(records: &[Record], pattern: &str) -> FileNames {
    name_sheets(records, &NamePattern::parse(pattern, &FIELDS).unwrap())
}

#[test]
fn follows_the_pattern() {
    let mut records = vec![
        record("1.png", ["0794-0", "O'Brien", "1", "12"]),
        record("2.png", ["0794-0", "O'Brien", "12", "12"]),
        record("3.png", ["079X", "Łoś", "", ""]),
        record("4.png", ["", "con", "3A", "7"]),
    ];
    records[1].values[1].as_roster = Some("Obrian".to_owned());
    for (pattern, expected) in [
        (
            "{number}_{part}of{parts}",
            [
                "0794-0_1of12",
                "0794-0_12of12",
                "079X_unknownofunknown",
                "unknown_3Aof7",
            ],
        ),
        (
            "{surname:upper}[_{part:0}of{parts:0}].tif",
            [
                "OBRIEN_01of12.tif",
                "OBRIEN_12of12.tif",
                "LOS.tif",
                "CON_03Aof07.tif",
            ],
        ),
        (
            "{surname:2}_{part}_{number:4}",
            [
                "OB_1_0794",
                "OB_12_0794",
                "Lo_unknown_079X",
                "co_3A_unknown",
            ],
        ),
        (
            "{surname:roster:lower}-{part:04}",
            ["obrien-0001", "obrian-0012", "los-unknown", "con-0003A"],
        ),
        (
            "{surname}[.{part}]",
            ["OBrien.1", "OBrien.12", "Los", "con_.3A"],
        ),
    ] {
        let names = names_of(&records, pattern);
        let told: Vec<_> = names.iter().map(|(_, name)| name).collect();
        assert_eq!(told, expected, "{pattern}");
        assert!(names.clashes.is_empty());
    }
}

#[test]
fn says_every_change_in_words() {
    let records = [
        record("1.png", ["1", "Weiß", "", ""]),
        record("2.png", ["", "\u{1b}[31m", "", ""]),
        record("3.png", ["-9", &"X".repeat(400), "", ""]),
        record("4.png", ["nul", "", "", ""]),
    ];
    let words = |pattern: &str| -> Vec<String> {
        let changes = names_of(&records, pattern).changes;
        changes
            .into_iter()
            .map(|change| format!("{}: {}", change.sheet, change.words))
            .collect()
    };
    assert_eq!(
        words("{number}[_{surname}].tif"),
        [
            "1.png: surname \"Weiß\" is written Weiss",
            "2.png: number is empty and is written unknown",
            "2.png: surname \"\u{fffd}[31m\" is written 31m",
            "3.png: surname is cut to 248 characters, for the name would be too long",
            "3.png: the name begins with _ and not with -",
            "4.png: Windows keeps the name nul for itself; _ follows it",
        ]
    );
}

#[test]
fn sheets_that_want_one_name_all_wait() {
    let mut records = vec![
        record("b/2.png", ["5", "Hale", "", ""]),
        record("a/1.png", ["5", "HALE", "", ""]),
        record("c/3.png", ["6", "HALE", "", ""]),
        record("c/3.png", ["5", "HALE", "", ""]),
        record("c/4.png", ["5", "HALE", "", ""]),
    ];
    records[4].state = SheetState::SetAside;
    let names = names_of(&records, "{number}_{surname}.tif");
    let sheets: Vec<_> = names.clashes[0]
        .sheets
        .iter()
        .map(SheetId::as_str)
        .collect();
    assert_eq!(
        (names.clashes.len(), sheets),
        (1, vec!["a/1.png", "b/2.png"])
    );
    assert_eq!(names.get(&SheetId::new("c/3.png")), Some("6_HALE.tif"));
    assert_eq!(names.get(&SheetId::new("c/4.png")), None);
    let hash = &sha256_hex(b"a/1.png")[..8];
    assert_eq!(
        names.get(&SheetId::new("a/1.png")),
        Some(&*format!("5_HALE-{hash}.tif"))
    );
    assert_eq!(names.checks()[0].code, "same-file-name");
    let words: Vec<_> = names
        .changes
        .iter()
        .map(|change| change.words.as_str())
        .collect();
    assert_eq!(words.len(), 2);
    assert!(
        words[0].ends_with(&format!("it is 5_HALE-{hash}.tif")),
        "{words:?}"
    );

    // Somebody typed the very name that another sheet's would be made into.
    let made_up = format!("5_HALE-{hash}");
    records.push(record("d/5.png", [&made_up, "", "", ""]));
    let names = names_of(&records, "{number}[_{surname}].tif");
    let mut all: Vec<_> = names
        .iter()
        .map(|(_, name)| name.to_ascii_lowercase())
        .collect();
    all.sort();
    all.dedup();
    assert_eq!(all.len(), 4);
    assert_eq!(names.clashes.len(), 2);
}

/// A seeded text of what names must not hold, and of what they may.
fn hostile(random: &mut ChaCha8Rng) -> String {
    const BITS: [&str; 30] = [
        "A",
        "b",
        "7",
        "-",
        "_",
        ".",
        "..",
        "/",
        "\\",
        " ",
        "\u{0}",
        "\u{1b}[2J",
        "\u{202e}",
        "é",
        "ß",
        "İ",
        "ﬁ",
        "／",
        "．",
        "Ж",
        "漢",
        "👍🏽",
        "\u{301}",
        "CON",
        "nul",
        "COM1",
        "'",
        "\"",
        "\r\n",
        "=",
    ];
    let length = if random.random_bool(0.05) {
        400
    } else {
        random.random_range(0..8)
    };
    (0..length)
        .map(|_| BITS[random.random_range(0..BITS.len())])
        .collect()
}

#[test]
fn names_are_portable_and_distinct_whatever_the_values_and_the_order() {
    const PATTERNS: [&str; 5] = [
        "{number}",
        "{surname:upper}[_{part:0}of{parts:0}].tif",
        "[{part}].[{number:020}]",
        "{surname:lower}{number}{part}{parts}",
        "[{part}][.{number}].pdf",
    ];
    let mut random = ChaCha8Rng::seed_from_u64(20_240_229);
    let mut all = Vec::new();
    for round in 0..40 {
        let mut records: Vec<Record> = (0..50)
            .map(|n| {
                let values: [String; 4] = std::array::from_fn(|_| hostile(&mut random));
                let sheet = format!("{}{round}/{n}", hostile(&mut random));
                record(&sheet, values.each_ref().map(String::as_str))
            })
            .collect();
        for pattern in PATTERNS {
            let names = names_of(&records, pattern);
            let mut folded: Vec<String> = names
                .iter()
                .map(|(_, name)| name.to_ascii_lowercase())
                .collect();
            assert_eq!(folded.len(), records.len());
            folded.sort();
            folded.dedup();
            assert_eq!(folded.len(), records.len(), "{pattern}");
            for (sheet, name) in names.iter() {
                assert!(is_portable(name), "{sheet} with {pattern}: {name:?}");
                all.push(name.to_owned());
            }
            records.shuffle(&mut random);
            assert_eq!(
                names_of(&records, pattern),
                names,
                "{pattern} in another order"
            );
        }
        let value = portable_value(&records[0].values[0].as_typed);
        assert_eq!(portable_value(&value), value);
    }
    ask_pathchk(&all);
}

/// `pathchk` of the GNU core utilities as a second opinion. Its `-p` also holds names to 14 bytes, which no system of
/// today asks for; so it gets them in pieces of 14.
fn ask_pathchk(names: &[String]) {
    let pieces: Vec<&str> = names
        .iter()
        .flat_map(|name| {
            name.as_bytes()
                .chunks(14)
                .map(|piece| std::str::from_utf8(piece).unwrap())
        })
        .collect();
    let mut known = Command::new("pathchk");
    if known.args(["-p", "x"]).output().is_err() {
        eprintln!("skipped: pathchk is not installed");
        return;
    }
    let refuses = |option: &str, names: &[&str]| {
        let output = Command::new("pathchk")
            .args([option, "--"])
            .args(names)
            .output()
            .unwrap();
        (!output.status.success()).then(|| String::from_utf8_lossy(&output.stderr).into_owned())
    };
    assert!(
        refuses("-p", &["a b"]).is_some() && refuses("-P", &["-a"]).is_some(),
        "the oracle sleeps"
    );
    for some in pieces.chunks(2_000) {
        assert_eq!(refuses("-p", some), None);
    }
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    for some in names.chunks(2_000) {
        assert_eq!(refuses("-P", some), None);
    }
}

#[test]
fn names_too_long_for_paths_of_windows_are_told() {
    let records = [
        record("1.png", ["1", &"X".repeat(LONGEST_IN_PATH - 2), "", ""]),
        record("2.png", ["2", &"X".repeat(LONGEST_IN_PATH - 1), "", ""]),
    ];
    let checks = names_of(&records, "{number}_{surname}").checks();
    let told: Vec<(&str, &[SheetId])> = checks.iter().map(|c| (c.code, &c.sheets[..])).collect();
    assert_eq!(told, [("long-path", &[SheetId::new("2.png")][..])]);
}
