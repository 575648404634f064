//! Settings, messages, and what holds for every text.

use super::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeSet;

#[test]
fn a_style_is_a_setting() {
    let read = |text: &str| toml::from_str::<DateStyle>(text);
    assert_eq!(read("").unwrap(), DateStyle::default());
    let all = "order = \"month-day\"\nwindow = 1930\nlanguages = [\"english\", \"dutch\"]\nfiscal-year-begins = 7\n";
    let style = read(all).unwrap();
    assert_eq!(
        style,
        DateStyle {
            order: DateOrder::MonthDay,
            window: 1930,
            languages: vec![Language::English, Language::Dutch],
            fiscal_year_begins: Some(7),
        }
    );
    assert_eq!(toml::to_string(&style).unwrap(), all);
    for (text, expected) in [
        (
            "window = 9901",
            "window 9901: expected the first of a hundred years",
        ),
        (
            "fiscal-year-begins = 13",
            "fiscal-year-begins 13: expected a month",
        ),
        ("languages = [\"latin\"]", "unknown variant `latin`"),
        ("colour = 1", "unknown field `colour`"),
    ] {
        let message = read(text).unwrap_err().to_string();
        assert!(message.contains(expected), "{text}: {message}");
    }
}

#[test]
fn two_digits_lie_in_the_window() {
    let style = DateStyle {
        window: 1930,
        ..DateStyle::default()
    };
    check(
        &style,
        &[
            ("52", "1952 TwoDigitYear"),
            ("12 MAR 29", "2029-03-12 TwoDigitYear"),
            ("12 MAR 30", "1930-03-12 TwoDigitYear"),
            ("98-03", "1998/2003 NextCentury"),
        ],
    );
    let latest = DateStyle {
        window: 9900,
        ..DateStyle::default()
    };
    check(
        &latest,
        &[("99", "9999 TwoDigitYear"), ("99-03", "not understood")],
    );
}

#[test]
fn an_error_says_what_to_do() {
    for (typed, expected) in [
        (
            "HARBOUR",
            "dates \"HARBOUR\": expected a date or a range, such as 1952",
        ),
        ("31 FEB 1950", "the calendar has no such day"),
        ("1961-1952", "write the earlier date first"),
        ("\u{1b}[31m", "\u{fffd}[31m"),
    ] {
        let message = typed_dates(typed, &DateStyle::default())
            .unwrap_err()
            .to_string();
        assert!(message.contains(expected), "{typed:?}: {message}");
    }
}

/// Seeded scraps of dates in any order: nothing panics, what is understood is EDTF that reads back the same, and it fits
/// the pattern.
#[test]
fn what_is_understood_is_edtf() {
    const SCRAPS: [&str; 34] = [
        "1952", "52", "9999", "0", "31", "12", "3", "MAR", "FÉV", "SPRING", "Q", "-", " - ", "/",
        ".", ",", " ", "?", "'", "TO", "FROM", "C.", "S", "ER", "TH", "OF", "FY", "WINTER",
        "BEFORE", "N.D.", "X", "AND", "ON", "~",
    ];
    let mut random = ChaCha8Rng::seed_from_u64(1_961);
    let style = style(DateOrder::MonthDay, &Language::ALL);
    let pattern = whole(&style, Dates::Range);
    let mut missed = BTreeSet::new();
    let mut understood = 0;
    for _ in 0..100_000 {
        let count = random.random_range(1..8);
        let typed: String = (0..count)
            .map(|_| SCRAPS[random.random_range(0..SCRAPS.len())])
            .collect();
        if let Ok(dates) = typed_dates(&typed, &style) {
            let text = dates.edtf.to_string();
            assert_eq!(text.parse::<Edtf>().as_ref(), Ok(&dates.edtf), "{typed:?}");
            let single_blanks = typed.split_whitespace().collect::<Vec<&str>>().join(" ");
            if !pattern.is_match(&single_blanks) {
                missed.insert(single_blanks);
            }
            understood += 1;
        }
    }
    assert!(understood > 1_000, "{understood}");
    assert!(missed.is_empty(), "{missed:?} do not fit the pattern");
}
