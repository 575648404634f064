//! The kinds of values in slots, well read and badly.

use super::{book, extract, reading, value};

/// How sure the reader of these cases claims to be.
const CERTAINTY: f64 = 0.97;

/// A rule with one slot of a kind between two words.
fn rules(kind: &str, more: &str) -> String {
    format!(
        "[[field]]\nname = \"x\"\nkind = \"{kind}\"\n{more}\n[[rule]]\nname = \"r\"\nline = \"FILE {{x}} END\"\n"
    )
}

/// What each text becomes in a slot of a kind.
fn check(kind: &str, more: &str, cases: &[(&str, &str)]) {
    let book = book(&rules(kind, more));
    for &(read, expected) in cases {
        let extractions = extract(&book, &reading(&format!("FILE {read} END"), CERTAINTY));
        let best = extractions.first();
        let found = best.map_or("", |best| value(best, "x"));
        assert_eq!(found, expected, "{kind}: {read:?}\n{best:#?}");
    }
}

#[test]
fn dates_are_taken_in_every_style_and_their_misread_digits_put_right() {
    check(
        "date",
        "",
        &[
            ("12 MAR 1950", "12 MAR 1950"),
            ("MAR. 12, 1950", "MAR. 12, 1950"),
            ("3/4/52", "3/4/52"),
            ("1952-03-04", "1952-03-04"),
            ("C. 1950", "C. 1950"),
            ("N.D.", "N.D."),
            ("I2 MAR 1950", "12 MAR 1950"),
            ("12 MAR l95O", "12 MAR 1950"),
            ("12 MAR1950", "12 MAR1950"),
            ("12 NIAR 1950", "12 MAR 1950"),
        ],
    );
    check(
        "date-range",
        "",
        &[
            ("1952-61", "1952-61"),
            ("52-61", "52-61"),
            ("03/52 - 11/61", "03/52 - 11/61"),
            ("JAN 1952 TO DEC 1961", "JAN 1952 TO DEC 1961"),
            ("JAN 1952 T0 DEC 196I", "JAN 1952 TO DEC 1961"),
            ("TO 1959", "TO 1959"),
            ("1980-", "1980-"),
            ("195?", "195?"),
            ("1952/53", "1952/53"),
            ("12-15 MAR 1950", "12-15 MAR 1950"),
        ],
    );
    check(
        "date-range",
        "dates = { languages = [\"english\", \"german\", \"french\", \"spanish\", \"dutch\"] }",
        &[
            ("12. MÄRZ 1950", "12. MÄRZ 1950"),
            (
                "JANVIER 1952 AU DÉCEMBRE 1961",
                "JANVIER 1952 AU DÉCEMBRE 1961",
            ),
            ("ENERO 1952", "ENERO 1952"),
        ],
    );
}

#[test]
fn a_day_that_the_calendar_does_not_have_is_kept_and_less_believed() {
    let book = book(&rules("date", ""));
    let probability = |text: &str| {
        let extractions = extract(&book, &reading(text, CERTAINTY));
        let candidates = &extractions[0].fields[0].candidates;
        let found = candidates.iter().find(|c| text.contains(&c.value));
        found.map_or(0.0, |c| c.probability.get())
    };
    let (real, none) = (
        probability("FILE 28 FEB 1950 END"),
        probability("FILE 31 FEB 1950 END"),
    );
    assert!(real > 1.5 * none && none > 0.0, "{real} {none}");
}

#[test]
fn parts_ranges_amounts_and_whole_names_are_taken() {
    check(
        "part",
        "",
        &[
            ("2 OF 3", "2 OF 3"),
            ("2/3", "2/3"),
            ("3 OF ?", "3 OF ?"),
            ("3A", "3A"),
            ("II OF IV", "II OF IV"),
            ("SUPPL. 1", "SUPPL. 1"),
            ("SHEET 2 0F 3", "SHEET 2 OF 3"),
        ],
    );
    check(
        "range",
        "",
        &[
            ("AAR-BAK", "AAR-BAK"),
            ("AARON - BAKER", "AARON - BAKER"),
            ("10001-10450", "10001-10450"),
        ],
    );
    check(
        "amount",
        "",
        &[
            ("1,234.56", "1,234.56"),
            ("$12.50", "$12.50"),
            ("(12.50)", "(12.50)"),
        ],
    );
    check(
        "person",
        "",
        &[
            ("HARGREAVES, MARY ANN", "HARGREAVES, MARY ANN"),
            ("DE LA CRUZ, MARIA J.", "DE LA CRUZ, MARIA J."),
            ("MARY ANN HARGREAVES", "MARY ANN HARGREAVES"),
        ],
    );
}

#[test]
fn a_value_that_may_mean_two_things_says_so() {
    for (kind, text, doubtful) in [
        ("date", "3/4/1952", true),
        ("date", "13/4/1952", false),
        ("date-range", "1952/53", true),
        ("date-range", "1952-1961", false),
        ("amount", "1,234", true),
        ("part", "2-3", true),
        ("part", "2 OF 3", false),
    ] {
        let book = book(&rules(kind, ""));
        let extractions = extract(&book, &reading(&format!("FILE {text} END"), CERTAINTY));
        let best = &extractions[0].fields[0].candidates[0];
        assert_eq!(best.value, text);
        assert_eq!(best.doubt.is_some(), doubtful, "{kind}: {text:?} {best:?}");
    }
}
