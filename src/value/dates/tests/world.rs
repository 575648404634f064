//! Dates typed by others, and what other programs make of them.

use super::*;

/// Texts of the test suites of python-edtf and edtfy, with the value that each of them gives (edtfy in the signs of the
/// draft of 2012), ours, and where ours is not what both say, why.
const FREE_TEXT: &str = include_str!("../../../../tests/data/published/edtf_free_text.csv");

#[test]
fn agrees_where_two_references_agree() {
    let (mut both, mut one, mut neither, mut refused) = (0, 0, 0, 0);
    let pattern = whole(&DateStyle::default(), Dates::Range);
    for record in csv::Reader::from_reader(FREE_TEXT.as_bytes()).records() {
        let record = record.unwrap();
        let [text, python_edtf, edtfy, ours, note] = [0, 1, 2, 3, 4].map(|column| &record[column]);
        let edtfy = in_todays_signs(edtfy);
        let read = typed_dates(text, &style(DateOrder::MonthDay, &[Language::English]));
        let found = read.map_or_else(|_| String::new(), |dates| dates.edtf.to_string());
        assert_eq!(found, ours, "{text:?}");
        assert!(
            ours.is_empty() || pattern.is_match(text),
            "{text:?} does not fit the pattern"
        );
        let agreed = python_edtf == edtfy && !edtfy.is_empty();
        assert!(
            agreed && ours == edtfy || !note.is_empty(),
            "{text:?} needs a note"
        );
        assert_eq!(
            ours.is_empty(),
            note.starts_with("refused") || note.starts_with("no date"),
            "{text:?}"
        );
        *match (ours.is_empty(), ours == python_edtf, ours == edtfy) {
            (true, ..) => &mut refused,
            (_, true, true) => &mut both,
            (_, false, false) => &mut neither,
            _ => &mut one,
        } += 1;
    }
    assert_eq!((both, one, neither, refused), (64, 39, 6, 95));
}

/// A value of edtfy after the specification of 2019.
fn in_todays_signs(edtfy: &str) -> String {
    let value = edtfy.replace("?~", "%").replace(['u', 'x'], "X");
    let up_to = value
        .strip_prefix("[..,")
        .and_then(|rest| rest.strip_suffix(']'));
    let from = value
        .strip_prefix('[')
        .and_then(|rest| rest.strip_suffix(",..]"));
    match (up_to, from) {
        (Some(date), _) => format!("/{date}"),
        (_, Some(date)) => format!("{date}/"),
        _ => value,
    }
}

/// Dates in styles that leave no doubt, drawn by make_dateutil_dates.py, which stands beside the table.
#[test]
fn agrees_with_dateutil() {
    const DATES: &str = include_str!("../../../../tests/data/published/dateutil_dates.csv");
    let pattern = whole(&DateStyle::default(), Dates::Single);
    let mut rows = 0;
    let mut wrong = String::new();
    for record in csv::Reader::from_reader(DATES.as_bytes()).records() {
        let record = record.unwrap();
        let order = match &record[1] {
            "day-month" => DateOrder::DayMonth,
            "month-day" => DateOrder::MonthDay,
            other => panic!("{other}"),
        };
        let read = typed_dates(&record[0], &style(order, &[Language::English]));
        let found = read.map_or_else(|error| error.to_string(), |dates| dates.edtf.to_string());
        if found != record[2] {
            wrong += &format!(
                "{:?}: dateutil says {}, found {found}\n",
                &record[0], &record[2]
            );
        }
        if !pattern.is_match(&record[0]) {
            wrong += &format!("{:?} does not fit the pattern\n", &record[0]);
        }
        rows += 1;
    }
    assert!(wrong.is_empty(), "\n{wrong}");
    assert_eq!(rows, 372);
}
