use super::*;

/// Library of Congress, Extended Date/Time Format Specification, 4 February 2019: all 64 examples.
const EXAMPLES: &str = include_str!("../../../tests/data/published/edtf_examples.csv");
/// What the specification excludes, each row with its ground.
const INVALID: &str = include_str!("../../../tests/data/published/edtf_negative_examples.csv");

#[test]
fn reads_and_prints_the_published_examples() {
    let mut by_level = [0; 3];
    for record in csv::Reader::from_reader(EXAMPLES.as_bytes()).records() {
        let record = record.unwrap();
        let (level, text) = (record[0].parse::<usize>().unwrap(), &record[3]);
        let value: Edtf = text.parse().unwrap();
        assert_eq!(value.to_string(), text);
        let begins = !text.trim_start_matches(['[', '{']).starts_with(['/', '.']);
        let ends = !text.trim_end_matches([']', '}']).ends_with(['/', '.']);
        let (earliest, latest) = (value.earliest(), value.latest());
        assert_eq!(
            (earliest.is_some(), latest.is_some()),
            (begins, ends),
            "{text}"
        );
        assert!(!(begins && ends) || earliest <= latest, "{text}");
        by_level[level] += 1;
    }
    assert_eq!(by_level, [13, 24, 27]);
}

#[test]
fn refuses_what_the_specification_excludes() {
    let mut rows = 0;
    for record in csv::Reader::from_reader(INVALID.as_bytes()).records() {
        let record = record.unwrap();
        assert!(record[0].parse::<Edtf>().is_err(), "{record:?}");
        rows += 1;
    }
    assert_eq!(rows, 23);
}

#[test]
fn knows_the_first_and_the_last_day() {
    for (text, earliest, latest) in [
        ("1985", "1985-01-01", "1985-12-31"),
        ("1985-04", "1985-04-01", "1985-04-30"),
        ("2024-02", "2024-02-01", "2024-02-29"),
        ("1900-02", "1900-02-01", "1900-02-28"),
        ("1985-04-12", "1985-04-12", "1985-04-12"),
        ("1985-04-12T23:20:30-04", "1985-04-12", "1985-04-12"),
        ("1964/2008", "1964-01-01", "2008-12-31"),
        ("2004-02-01/2005-02", "2004-02-01", "2005-02-28"),
        ("195X", "1950-01-01", "1959-12-31"),
        ("19XX", "1900-01-01", "1999-12-31"),
        ("99XX", "9900-01-01", "9999-12-31"),
        ("2004-XX", "2004-01-01", "2004-12-31"),
        ("1985-XX-XX", "1985-01-01", "1985-12-31"),
        ("1985-02-XX", "1985-02-01", "1985-02-28"),
        ("1950~", "1950-01-01", "1950-12-31"),
        ("../1959", "none", "1959-12-31"),
        ("1980/..", "1980-01-01", "none"),
        ("/1959", "none", "1959-12-31"),
        ("1980/", "1980-01-01", "none"),
        ("Y170000002", "Y170000002-01-01", "Y170000002-12-31"),
        ("Y-170000002", "Y-170000002-01-01", "Y-170000002-12-31"),
        ("-1985", "-1985-01-01", "-1985-12-31"),
        ("-0004-02", "-0004-02-01", "-0004-02-29"),
        ("-19XX", "-1999-01-01", "-1900-12-31"),
        ("Y-17E7", "Y-170000000-01-01", "Y-170000000-12-31"),
        // The specification's words: between 1900 and 1999, between 171000000 and 171999999, between 338000 and 338999.
        ("1950S2", "1900-01-01", "1999-12-31"),
        ("Y171010000S3", "Y171000000-01-01", "Y171999999-12-31"),
        ("Y3388E2S3", "Y338000-01-01", "Y338999-12-31"),
        ("-1950S2", "-1999-01-01", "-1900-12-31"),
        // Another implementation's test suite gives these bounds.
        ("1953S3", "1950-01-01", "1959-12-31"),
        ("2001-29", "2001-09-01", "2001-11-30"),
        ("2001-34", "2001-04-01", "2001-06-30"),
        ("19XX-33", "1900-01-01", "1999-03-31"),
        ("156X-12-25", "1560-12-25", "1569-12-25"),
        ("XXXX-12-XX", "0000-12-01", "9999-12-31"),
        ("1XXX-12", "1000-12-01", "1999-12-31"),
        ("1984-1X", "1984-10-01", "1984-12-31"),
        ("1984-X2", "1984-02-01", "1984-12-31"),
        ("1984-XX-31", "1984-01-31", "1984-12-31"),
        // Of the 1560s, 1560, 1564 and 1568 have that day.
        ("156X-02-29", "1560-02-29", "1568-02-29"),
        ("2004-06-~01/2004-06-~20", "2004-06-01", "2004-06-20"),
        ("[1667,1668,1670..1672]", "1667-01-01", "1672-12-31"),
        ("[..1760-12-03]", "none", "1760-12-03"),
        ("[1760-01,1760-02,1760-12..]", "1760-01-01", "none"),
        ("{1960,1961-12}", "1960-01-01", "1961-12-31"),
    ] {
        let value: Edtf = text.parse().unwrap();
        let day = |date: Option<Day>| date.map_or("none".to_owned(), |date| date.to_string());
        assert_eq!(
            (day(value.earliest()).as_str(), day(value.latest()).as_str()),
            (earliest, latest),
            "{text}"
        );
    }
}

#[test]
fn a_fault_says_where_and_what() {
    for (text, expected) in [
        (
            "1984-13",
            r#"date "1984-13", column 6: expected a month from 01 to 12, a part of the year from 21 to 41, or X for a digit left open, found "13""#,
        ),
        (
            "2023-02-29",
            r#"column 9: expected a day that the month has, such as 07, or X for a digit left open, found "29""#,
        ),
        (
            "1961/1952",
            r#"column 1: expected an interval with a date at one end at least that does not end before"#,
        ),
        ("", "found the end"),
        ("/", "expected an interval"),
        ("../..", "expected an interval"),
        ("..", "expected a date"),
        (
            "1952 ",
            r#"column 5: expected the end of the date, found " ""#,
        ),
        ("195X-02-30", "column 9: expected a day"),
        ("1951-2X", "column 6: expected a month"),
        ("1951-42", "a part of the year from 21 to 41"),
        ("1951-21-01", "column 9: expected a day"),
        ("-0000", "no year is before year 0 by nothing"),
        (
            "Y1985",
            "column 2: expected a year of five to eighteen digits",
        ),
        ("Y017000", "column 2: expected a year of five"),
        ("Y17E", "column 2: expected a year of five"),
        ("Y17E99", "column 2: expected a year of five"),
        ("Y99999999999999999999", "column 2: expected a year of five"),
        ("1950S5", "column 6: expected how many"),
        ("1950S0", "column 6: expected how many"),
        ("19XXS2", "expected a year without open digits before S"),
        ("Y17000-03", "column 7: expected the end of the date"),
        ("[]", "column 2: expected a year"),
        ("[1952", "column 6: expected a comma"),
        ("[1952}", "column 6: expected a comma"),
        ("[1952..,1953]", "column 8: expected a comma"),
        ("[1952,..1953]", "column 7: expected a year"),
        ("[1952-01..1953]", "column 11: expected a later date"),
        ("[1953..1952]", "column 8: expected a later date"),
        ("[1952]/1953", "column 7: expected the end"),
        ("1984-04-3XT10:00:00", "expected no time after"),
        (
            "1952-03T10:00:00",
            "column 8: expected no time after a date that is not known to the day",
        ),
        ("1985-04-12T24:00:00", "column 12: expected an hour"),
        (
            "1985-04-12T23:20:30-00:00",
            "column 21: expected Z or +00:00",
        ),
        ("１９５２", "expected a year of four digits"),
        ("19é2", "expected a year of four digits"),
        ("\u{1b}[31m", "found \"\u{fffd}[31m\""),
    ] {
        let message = text.parse::<Edtf>().unwrap_err().to_string();
        assert!(message.contains(expected), "{text:?}: {message}");
    }
}

#[test]
fn travels_as_its_text() {
    let value: Edtf = serde_json::from_str("\"1952/1961\"").unwrap();
    assert_eq!(serde_json::to_string(&value).unwrap(), "\"1952/1961\"");
    assert!(serde_json::from_str::<Edtf>("\"1961/1952\"").is_err());
}

/// Seeded scraps of dates in any order: whatever is understood prints as it was written and has its days in order.
#[test]
fn what_is_understood_prints_as_it_was() {
    use rand::{RngExt, SeedableRng};
    const SCRAPS: [&str; 30] = [
        "1952",
        "2004",
        "-02",
        "-30",
        "-12",
        "-29",
        "-XX",
        "19XX",
        "195X",
        "/",
        "..",
        "?",
        "~",
        "%",
        "T23:20:30",
        "Z",
        "+04:30",
        "-04",
        "Y",
        "é",
        "Y17",
        "000",
        "E7",
        "S3",
        "[",
        "]",
        ",",
        "-1X",
        "-24",
        "-",
    ];
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(8_601);
    let mut understood = 0;
    for _ in 0..100_000 {
        let count = random.random_range(0..7);
        let text: String = (0..count)
            .map(|_| SCRAPS[random.random_range(0..SCRAPS.len())])
            .collect();
        if let Ok(value) = text.parse::<Edtf>() {
            assert_eq!(value.to_string(), text);
            if let (Some(earliest), Some(latest)) = (value.earliest(), value.latest()) {
                assert!(earliest <= latest, "{text}");
            }
            understood += 1;
        }
    }
    assert!(understood > 1_000, "{understood}");
}

/// The codes and their names as the specification lists them: quarters, thirds and halves lie where their names say,
/// and each kind together fills the year.
#[test]
fn parts_of_the_year_fill_it() {
    const CODES: &str = include_str!("../../../tests/data/published/edtf_season_codes.csv");
    let (mut rows, mut days) = (0, std::collections::BTreeMap::new());
    for record in csv::Reader::from_reader(CODES.as_bytes()).records() {
        let record = record.unwrap();
        let value: Edtf = format!("2001-{}", &record[0]).parse().unwrap();
        assert_eq!(value.precision(), Some(Precision::PartOfYear));
        let (first, last) = (value.earliest().unwrap(), value.latest().unwrap());
        let length = (last.date().unwrap() - first.date().unwrap()).get_days() + 1;
        assert!((59..=184).contains(&length), "{record:?}: {length} days");
        let name = record[1].trim_end_matches(|c: char| c.is_ascii_digit() || c == ' ');
        let kind = [
            "Quarter",
            "Quadrimester",
            "Semestral",
            "Northern",
            "Southern",
        ];
        let kind = kind
            .into_iter()
            .find(|kind| name.contains(kind))
            .unwrap_or("anywhere");
        *days.entry(kind).or_insert(0) += length;
        rows += 1;
    }
    assert_eq!(rows, 21);
    assert_eq!(days.len(), 6);
    assert!(days.values().all(|&days| days == 365), "{days:?}");
}

#[test]
fn a_qualification_holds_for_what_is_at_its_left() {
    for (text, expected) in [
        ("1984", Qualification::None),
        ("2004-06~-11", Qualification::Approximate),
        ("?2004-06-~11", Qualification::UncertainAndApproximate),
        ("2004-%06-11", Qualification::UncertainAndApproximate),
        ("2004?-06-11", Qualification::Uncertain),
    ] {
        let Ok(Edtf::Date(date)) = text.parse() else {
            panic!("{text}")
        };
        assert_eq!(date.qualification(), expected, "{text}");
        assert_eq!(
            date.qualified(Qualification::None).qualification(),
            Qualification::None
        );
    }
    let date = EdtfDate::new(1984, 0, Some(2), None).unwrap();
    assert_eq!(
        date.qualified(Qualification::Uncertain).to_string(),
        "1984-02?"
    );
}

#[test]
fn dates_are_made_only_where_the_calendar_has_them() {
    for (made, expected) in [
        (EdtfDate::new(1952, 0, None, None), Some("1952")),
        (EdtfDate::new(1952, 1, None, None), Some("195X")),
        (EdtfDate::new(0, 4, None, None), Some("XXXX")),
        (EdtfDate::new(52, 0, Some(34), None), Some("0052-34")),
        (
            EdtfDate::new(1952, 0, Some(2), Some(29)),
            Some("1952-02-29"),
        ),
        (EdtfDate::new(1953, 0, Some(2), Some(29)), None),
        (EdtfDate::new(1953, 5, None, None), None),
        (EdtfDate::new(1953, 0, Some(34), Some(1)), None),
        (EdtfDate::new(1953, 0, None, Some(1)), None),
        (EdtfDate::new(1953, 0, Some(13), None), None),
        (EdtfDate::new(-1, 0, None, None), None),
        (EdtfDate::new(10_000, 0, None, None), None),
    ] {
        assert_eq!(made.map(|date| date.to_string()).as_deref(), expected);
    }
}

#[test]
fn are_put_in_the_order_of_time() {
    let ordered = [
        "../1959",
        "Y-17000",
        "-1985",
        "1952-03-01",
        "1952-03",
        "1953",
        "1953/1961",
        "1953/..",
        "Y17000",
    ]
    .map(|text| text.parse::<Edtf>().unwrap());
    let mut sorted = ordered.to_vec();
    sorted.reverse();
    sorted.sort_by(Edtf::chronological);
    assert_eq!(sorted, ordered);
}
