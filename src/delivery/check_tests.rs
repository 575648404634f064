use super::*;
use crate::delivery::RecordValue;
use crate::job::BatchSettings;
use crate::value::{SheetKind, SheetState};

/// A record from "field=value" words; `~` in a value stands for a blank.
fn record(sheet: &str, values: &str) -> Record {
    let values = values.split_whitespace().map(|word| {
        let (field, value) = word.split_once('=').unwrap();
        RecordValue {
            field: field.to_owned(),
            as_typed: value.replace('~', " "),
            ..RecordValue::default()
        }
    });
    Record {
        sheet: SheetId::new(sheet),
        kind: SheetKind::Record,
        state: SheetState::Keyed,
        values: values.collect(),
        ..Record::default()
    }
}

fn plan() -> CheckPlan {
    CheckPlan {
        required: vec!["number".to_owned(), "name".to_owned()],
        check_characters: vec![("number".to_owned(), CheckScheme::Iso7064Mod11_2)],
        parts: Some(PartFields {
            key: vec!["number".to_owned()],
            part: "part".to_owned(),
            parts: "parts".to_owned(),
        }),
        ..CheckPlan::default()
    }
}

/// Checks sheets named 1, 2, 3, ... and tells "code sheets: words".
fn check(records: &[&str], expected: &[(&str, &str)]) {
    let records: Vec<Record> = (1..)
        .zip(records)
        .map(|(n, values)| record(&n.to_string(), values))
        .collect();
    let batch = Batch {
        records: &records,
        ..Batch::default()
    };
    let checks = check_batch(&batch, &plan());
    let told: Vec<String> = checks
        .iter()
        .map(|check| {
            let sheets: Vec<&str> = check.sheets.iter().map(SheetId::as_str).collect();
            format!("{} {}", check.code, sheets.join(" "))
        })
        .collect();
    let codes: Vec<&str> = expected.iter().map(|(code, _)| *code).collect();
    assert_eq!(told, codes, "{checks:#?}");
    for (check, (_, words)) in checks.iter().zip(expected) {
        assert!(check.message.contains(words), "{check:?}");
    }
}

#[test]
fn finds_what_is_wrong_with_a_record() {
    check(&["number=0794-0 name=HALE part=1 parts=1"], &[]);
    check(
        &["number=0794-0 name=~", "name=", "number=0795-0 name=HALE"],
        &[
            ("required-empty 1", "no value for name"),
            ("required-empty 2", "no value for number, name"),
            ("check-character 3", "\"0795-0\""),
        ],
    );
    check(
        &[
            "number=0794-0 name=A part=3 parts=2",
            "number=079X name=B part=3A parts=\u{1b}[1m",
        ],
        &[
            ("part-beyond-total 1", "part 3 of 2"),
            ("part-missing 1", "lacks part 1 to 2 of 2"),
            ("part-not-a-number 2", "\"3A\""),
            ("part-not-a-number 2", "\"\u{fffd}[1m\""),
        ],
    );
}

#[test]
fn finds_what_is_wrong_among_parts() {
    check(
        &[
            "number=0794-0 name=A part=1 parts=9",
            "number=0794-0 name=A part=4 parts=9",
            "number=0794-0 name=A part=6 parts=9",
            "number=079X name=B part=1 parts=1",
        ],
        &[("part-missing 1 2 3", "lacks part 2 to 3, 5, 7 to 9 of 9")],
    );
    check(
        &[
            "number=079X name=B part=2 parts=2",
            "number=079X name=C part=2 parts=3",
            "number=079X name=D",
        ],
        &[
            ("part-doubled 1 2", "has part 2 2 times"),
            ("totals-differ 1 2 3", "2 and 3 parts"),
            ("part-empty 3", "no part number"),
        ],
    );
    check(
        &[
            "number=079X name=B part=1 parts=1",
            "number=079X name=B part=2 parts=2",
            "number=0794-0 name=B part=1 parts=2",
            "number=0794-0 name=B part=3 parts=4",
        ],
        &[
            ("totals-grew 1 2", "1 parts on its earlier sheets and 2"),
            ("totals-grew 3 4", "the last is taken as right"),
            ("part-missing 3 4", "lacks part 2, 4 of 4"),
        ],
    );
    // Absurd numbers cost nothing.
    check(
        &[
            "number=079X name=B part=1 parts=4294967295",
            "number=079X name=B part=4294967295 parts=4294967295",
            "number=0794-0 name=B part=99999999999999999999 parts=0",
        ],
        &[
            ("part-missing 1 2", "lacks part 2 to 4294967294"),
            ("part-not-a-number 3", "cannot be counted"),
            ("part-not-a-number 3", "\"0\""),
        ],
    );
}

#[test]
fn finds_doubles() {
    check(
        &[
            "number=0794-0 name=A part=1 parts=1",
            "number=0794-0 name=A part=1 parts=1",
            "number=079X name=A part=1 parts=1",
        ],
        &[("duplicate-record 1 2", "2 records say the same")],
    );
    let mut records = [
        record("1", "number=0794-0 name=A"),
        record("2", "number=0794-0 name=A"),
    ];
    records[1].kind = SheetKind::RepeatScan;
    let batch = Batch {
        records: &records,
        content_hashes: &[
            (SheetId::new("10"), "x".to_owned()),
            (SheetId::new("3"), "y".to_owned()),
            (SheetId::new("9"), "x".to_owned()),
        ],
        without_proposal: &[SheetId::new("3")],
        roster_rows: Some((3_000, 2_988)),
        ..Batch::default()
    };
    let checks = check_batch(&batch, &plan());
    let told: Vec<_> = checks
        .iter()
        .map(|check| (check.code, check.sheets.len()))
        .collect();
    assert_eq!(
        told,
        [
            ("same-image", 2),
            ("no-proposal", 1),
            ("roster-rows-without-sheet", 0)
        ]
    );
    assert_eq!(checks[0].sheets[0].as_str(), "9");
    assert!(checks[2].message.starts_with("12 of 3000"));
}

#[test]
fn a_check_character_that_the_roster_mends_says_so() {
    let mut wrong = record("1", "number=0795-0 name=A");
    wrong.values[0].as_roster = Some("0794-0".to_owned());
    let batch = Batch {
        records: &[wrong],
        ..Batch::default()
    };
    assert!(
        check_batch(&batch, &plan())[0]
            .message
            .contains("row has 0794-0")
    );
}

#[test]
fn finds_odd_dates_and_what_the_rules_do_not_allow() {
    let rules = "[[field]]\nname = \"number\"\nkind = \"text\"\n[[field]]\nname = \"from\"\nkind = \"year\"\n\
                 [[field]]\nname = \"to\"\nkind = \"year\"\n[[field]]\nname = \"part\"\nkind = \"number\"\n\
                 [[field]]\nname = \"parts\"\nkind = \"number\"\n[[check]]\nthat = \"part <= parts\"\n\
                 [[rule]]\nname = \"r\"\nline = \"{number} {from} {to} {part} {parts}\"\n";
    let rules = RuleBook::parse("rules.toml", rules).unwrap();
    let records = [
        record("1", "number=1 from=1931 to=1958 part=1 parts=3"),
        record("2", "number=1 from=1931 to=1958 part=2 parts=3"),
        record("3", "number=1 from=1921 to=1958 part=3 parts=3"),
        record("4", "number=2 from=1958 to=1931 part=1 parts=1"),
        record("5", "number=3 from=1931 to=1958 part=2 parts=1"),
        record("6", "number=4 from=1931 to=~ part= parts="),
    ];
    let records: Vec<&Record> = records.iter().collect();
    let checks = check_sense(&records, &rules, plan().parts.as_ref());
    let told: Vec<String> = checks
        .iter()
        .map(|check| format!("{} {}: {}", check.code, check.sheets[0], check.message))
        .collect();
    for (told, says) in told.iter().zip([
        [
            "dates-go-back 3",
            "begins in 1921 with part 3 and in 1931 with part 2",
        ],
        ["odd-values 4", "from 1958 comes after to 1931"],
        [
            "odd-values 5",
            "[[check]] number 1 does not hold for 3, 1931",
        ],
    ]) {
        assert!(says.iter().all(|words| told.contains(words)), "{told}");
    }
    assert_eq!(told.len(), 3, "{told:#?}");
}

#[test]
fn what_people_did_is_accounted_for() {
    let mut records = Vec::new();
    for (n, state) in (1..).zip([
        SheetState::Waiting,
        SheetState::Held,
        SheetState::SetAside,
        SheetState::InDispute,
        SheetState::Keyed,
        SheetState::Keyed,
    ]) {
        let mut record = record(&n.to_string(), &format!("number=0794-0 name=A{n}"));
        record.state = state;
        records.push(record);
    }
    records[4].values[1].legibility = Legibility::CannotBeRead;
    records[4].values[1].as_typed.clear();
    records[5].values[0].overruled = Some("as on the film".to_owned());
    let of = |hash: &str| crate::delivery::KeyedBy {
        number: 1,
        by: "mia".to_owned(),
        at: 0,
        pass: 1,
        desk: crate::journal::Desk::Clerk,
        saw_proposal: true,
        content_hash: hash.to_owned(),
    };
    records[4].entry = Some(of("old"));
    records[5].entry = Some(of("y"));
    let hashes = ["x", "y"].map(str::to_owned);
    let hashes = [SheetId::new("5"), SheetId::new("6")]
        .into_iter()
        .zip(hashes);
    let batch = Batch {
        records: &records,
        content_hashes: &hashes.collect::<Vec<_>>(),
        roster_rows: Some((1, 1)),
        ..Batch::default()
    };
    let checks = check_batch(
        &batch,
        &CheckPlan {
            parts: None,
            ..plan()
        },
    );
    let told: Vec<(&str, &str)> = checks
        .iter()
        .map(|check| (check.code, check.sheets[0].as_str()))
        .collect();
    assert_eq!(
        told,
        [
            ("not-keyed", "1"),
            ("in-dispute", "4"),
            ("put-off", "2"),
            ("set-aside", "3"),
            ("cannot-be-read", "5"),
            ("overruled", "6"),
            ("image-changed", "5"),
            ("not-in-roster", "5"),
        ]
    );
    let unread = ["box 1/7", "box 2/8"].map(SheetId::new);
    let batch = BatchSettings {
        sheets: Some(9),
        folders: [("box 1".to_owned(), 1), ("box 3".to_owned(), 4)].into(),
    };
    let accounts = crate::delivery::Accounts::of(&records, &unread, &batch);
    assert_eq!(accounts.sheets, 8);
    assert_eq!(accounts.counted.len(), 5);
    let told = accounts.checks();
    let told: Vec<_> = told
        .iter()
        .map(|check| (check.code, check.message.as_str()))
        .collect();
    assert_eq!(
        told.iter().map(|(code, _)| *code).collect::<Vec<_>>(),
        ["sheet-count", "batch-count", "batch-unlisted"]
    );
    assert!(
        told[0]
            .1
            .contains("expected 9 sheets, found 8; look for the sheets")
    );
    assert!(
        told[1]
            .1
            .contains("batch box 3: expected 4 sheets, found 0; see that its folder")
    );
    // Six without a folder and one of a folder that is not listed.
    assert_eq!(accounts.unlisted.len(), 7);
    let none = crate::delivery::Accounts::of(&records, &unread, &BatchSettings::default());
    assert!(none.checks().is_empty() && none.unlisted.is_empty());
    let batch = BatchSettings {
        sheets: None,
        folders: [("box 1".to_owned(), 0)].into(),
    };
    let many = crate::delivery::Accounts::of(&records, &unread, &batch).checks();
    assert!(
        many[0]
            .message
            .contains("expected 0 sheets, found 1; look for sheets scanned twice"),
        "{many:?}"
    );
    let csv = String::from_utf8(checks_csv(&checks)).unwrap();
    assert_eq!(
        csv.lines().count(),
        1 + checks.iter().map(|c| c.sheets.len()).sum::<usize>()
    );
}
