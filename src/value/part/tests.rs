use super::*;
use crate::value::generated;

fn part(typed: &str) -> Part {
    Part::read(typed)
        .unwrap_or_else(|error| panic!("{typed:?}: {error}"))
        .part
}

#[test]
fn reads_and_prints() {
    for (typed, printed, alternative) in [
        // RFC 8493, Bag-Count.
        ("1 of 2", "1 of 2", ""),
        ("4 of 4", "4 of 4", ""),
        ("3 of ?", "3 of ?", ""),
        ("89 of 145", "89 of 145", ""),
        ("2 OF 3", "2 of 3", ""),
        ("2OF3", "2 of 3", ""),
        ("02 OF 03", "2 of 3", ""),
        ("2/3", "2 of 3", ""),
        ("2 / ?", "2 of ?", ""),
        ("3 OF", "3 of ?", ""),
        ("3 OF __", "3 of ?", ""),
        ("2-3", "2 of 3", "2 to 3"),
        ("3-3", "3 of 3", ""),
        ("2 TO 3", "2 to 3", ""),
        ("2 & 3", "2 to 3", ""),
        ("2 AND 3 OF 5", "2-3 of 5", ""),
        ("1-3 OF 7", "1-3 of 7", ""),
        ("3A", "3A", ""),
        ("3a of 5", "3A of 5", ""),
        ("II OF IV", "2 of 4", ""),
        ("XXXIX", "39", ""),
        ("NO. 2", "2", ""),
        ("#2", "2", ""),
        ("PART 2", "2", ""),
        ("CARD NO. 2 OF 9", "2 of 9", ""),
        ("SHEET 2 OF 3", "2 of 3", ""),
        ("BLATT 2", "", ""),
        ("2 VON 3", "2 of 3", ""),
        ("SUPPL.", "supplement 1", ""),
        ("SUPP 2", "supplement 2", ""),
        ("ſupp 2", "supplement 2", ""),
        ("SUPPLEMENT II", "supplement 2", ""),
        ("ADD.", "addendum 1", ""),
        ("APPENDIX 1 OF 2", "appendix 1 of 2", ""),
        ("Index", "index 1", ""),
    ] {
        let read = Part::read(typed);
        let shown = read
            .as_ref()
            .map_or(String::new(), |read| read.part.to_string());
        assert_eq!(shown, printed, "{typed:?}: {read:?}");
        let Ok(read) = read else { continue };
        let other = read
            .alternative
            .map_or(String::new(), |part| part.to_string());
        assert_eq!(other, alternative, "{typed:?}");
        assert_eq!(part(&shown), read.part, "{typed:?} printed and read again");
    }
}

#[test]
fn refuses_what_is_no_part() {
    for (typed, message) in [
        ("", "as in 2 OF 3"),
        ("OF 3", "as in 2 OF 3"),
        ("JOHN", "as in 2 OF 3"),
        ("1952-61", "part 1952 of 61"),
        ("0 OF 3", "found \"0\""),
        ("5 OF 3", "part 5 of 3"),
        ("3-2", "part 3 of 2"),
        ("3-2 OF 5", "parts 3 to 2"),
        ("1 & 3", "as in 2 OF 3"),
        ("IIII", "found \"IIII\""),
        ("IC", "found"),
        ("999999999 OF 999999999", "from 1 to 9999"),
        ("٣ OF ٤", "as in 2 OF 3"),
    ] {
        let fault = Part::read(typed).expect_err(typed).to_string();
        assert!(fault.contains(message), "{typed:?}: {fault}");
    }
}

#[test]
fn knows_the_next_sheet() {
    for (before, next, continues) in [
        ("1 OF 3", "2 OF 3", true),
        ("1 OF 3", "2 OF 4", false),
        ("1 OF 3", "3 OF 3", false),
        ("2 OF 3", "2 OF 3", false),
        ("1 OF ?", "2 OF 3", true),
        ("1", "II", true),
        ("3", "3A", true),
        ("3", "3B", true),
        ("3A", "3B", true),
        ("3A", "3C", false),
        ("3B", "4", true),
        ("3A", "3", false),
        ("1-3 OF 7", "4 OF 7", true),
        ("1-3 OF 7", "4-6 OF 7", true),
        ("1-3 OF 7", "2 OF 7", false),
        ("3 OF 3", "SUPPL.", true),
        ("2 OF 3", "SUPPL.", false),
        ("3 OF 3", "SUPPL. 2", false),
        ("SUPPL. 1", "SUPPL. 2", true),
        ("SUPPL. 1", "INDEX", true),
        ("INDEX", "SUPPL. 1", false),
    ] {
        assert_eq!(
            part(next).continues(&part(before)),
            continues,
            "{before} then {next}"
        );
    }
    assert!(part("1 OF 3").begins() && !part("2 OF 3").begins() && !part("SUPPL. 1").begins());
}

#[test]
fn sorts_as_a_drawer_is_filed() {
    let filed = [
        "1 OF 4", "2 OF 4", "3", "3A", "3B", "4", "10", "SUPPL. 1", "SUPPL. 2", "INDEX",
    ]
    .map(part);
    let mut sorted = filed.clone();
    sorted.reverse();
    sorted.sort();
    assert_eq!(sorted, filed);
}

#[test]
fn knows_a_complete_set() {
    for (parts, complete) in [
        (vec!["1 OF 1"], true),
        (vec!["3 OF 3", "1 OF 3", "2 OF 3"], true),
        (vec!["1 OF ?", "2 OF ?", "3 OF 3"], true),
        (vec!["1", "2 OF 3", "3", "3A", "3B"], true),
        (vec!["1", "1B", "2 OF 2"], true),
        (vec!["1A", "1B", "2 OF 2"], true),
        (vec!["1-3 OF 5", "4-5 OF 5"], true),
        (
            vec!["1 OF 2", "2 OF 2", "SUPPL.", "SUPPL. 2", "INDEX"],
            true,
        ),
        (vec!["1 OF 2", "2 OF 2", "SUPPL. 2"], false),
        (vec!["1 OF 2", "2 OF 2", "2 OF 2"], false),
        (vec!["1 OF 2", "2 OF 3", "3 OF 3"], false),
        (vec!["1 OF 3", "3 OF 3"], false),
        (vec!["2 OF 2"], false),
        (vec!["1 OF 2"], false),
        (vec!["1B OF 1"], false),
        (vec!["1 OF 1", "1C"], false),
        (vec!["1", "2"], false),
        (vec![], false),
    ] {
        let read: Vec<Part> = parts.iter().map(|typed| part(typed)).collect();
        assert_eq!(set_is_complete(&read), complete, "{parts:?}");
    }
}

/// Whatever a slot takes is a part, or one whose numbers do not fit each other.
#[test]
fn reads_what_its_pattern_takes() {
    generated::check(part_pattern(), 150, |text| {
        !matches!(Part::read(text), Err(PartError::NotAPart { .. }))
    });
}
