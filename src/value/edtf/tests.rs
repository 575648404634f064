use super::*;

/// Library of Congress, Extended Date/Time Format Specification, 4 February 2019: all 64 examples.
const EXAMPLES: &str = include_str!("../../../tests/data/published/edtf_examples.csv");
/// What the specification excludes, each row with its ground.
const INVALID: &str = include_str!("../../../tests/data/published/edtf_negative_examples.csv");

#[test]
fn reads_and_prints_the_published_examples() {
    let mut by_level = [0; 3];
    let (mut unknown, mut beyond) = (Vec::new(), Vec::new());
    for record in csv::Reader::from_reader(EXAMPLES.as_bytes()).records() {
        let record = record.unwrap();
        let (level, text) = (record[0].parse::<usize>().unwrap(), &record[3]);
        match text.parse::<Edtf>() {
            Ok(value) => {
                assert_eq!(value.to_string(), text);
                by_level[level] += 1;
                if level == 2 {
                    beyond.push(text.to_owned());
                }
            }
            Err(error) if level == 0 => panic!("{error}"),
            Err(_) if level == 1 => unknown.push(text.to_owned()),
            Err(_) => {}
        }
    }
    assert_eq!(unknown, ["Y170000002", "Y-170000002", "2001-21", "-1985"]);
    // Examples of level 2 that are put together from what level 1 knows.
    assert_eq!(beyond, ["2004-06-11%", "2004-06-XX/2004-07-03"]);
    assert_eq!(by_level, [13, 20, 2]);
}

#[test]
fn refuses_what_the_specification_excludes() {
    let mut rows = 0;
    for record in csv::Reader::from_reader(INVALID.as_bytes()).records() {
        let record = record.unwrap();
        assert!(record[0].parse::<Edtf>().is_err(), "{record:?}");
        rows += 1;
    }
    assert_eq!(rows, 13);
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
    ] {
        let value: Edtf = text.parse().unwrap();
        let day = |date: Option<Date>| date.map_or("none".to_owned(), |date| date.to_string());
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
            r#"date "1984-13", column 6: expected a month from 01 to 12 or XX, found "13""#,
        ),
        (
            "2023-02-29",
            r#"column 9: expected a day that the month has, such as 07, or XX, found "29""#,
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
        (
            "195X-03",
            "column 6: expected nothing after a year with open digits",
        ),
        ("1985-XX-12", "column 9: expected a day"),
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
    const SCRAPS: [&str; 20] = [
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
    ];
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(8_601);
    let mut understood = 0;
    for _ in 0..100_000 {
        let count = random.random_range(0..6);
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
