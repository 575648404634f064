//! Years as they are typed on strips, turned into EDTF.

use super::edtf::{Edtf, EdtfDate, End, Qualification};
use super::shown;
use thiserror::Error;

/// Years or a range of years as typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TypedYears {
    pub edtf: Edtf,
    /// Why the text may also mean something else; such a date is never sure.
    pub doubt: Option<&'static str>,
}

/// Why a text was not understood as years.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum YearsError {
    #[error(
        "years {:?}: expected 1952, 1952-61, 1952-1961, 1952 TO 1961, TO 1959, 1980-, C. 1950 or 195?; write the year \
         with four digits",
        shown(.0)
    )]
    NotUnderstood(String),
    #[error("years {:?}: the second year comes before the first; write the earlier year first", shown(.0))]
    OutOfOrder(String),
}

/// Words and signs between the two years of a range, longest first.
const BETWEEN: [&str; 8] = [" THROUGH ", " THRU ", " TO ", "–", "—", "‑", "-", "/"];
/// What stands before a year that ends a range without a beginning, longest first.
const UP_TO: [&str; 6] = ["UP TO ", "UNTIL ", "TILL ", "TO ", "–", "-"];
/// What stands before a year that begins a range without an end.
const FROM: [&str; 2] = ["FROM ", "SINCE "];
/// What stands after a year that begins a range without an end, longest first.
const ONWARD: [&str; 8] = [
    " TO PRESENT",
    " TO DATE",
    " ONWARDS",
    " ONWARD",
    " ON",
    "–",
    "—",
    "-",
];
/// What stands before an approximate year, longest first.
const ABOUT: [&str; 7] = ["CIRCA ", "ABOUT ", "CIRCA.", "CA.", "CA ", "C.", "C "];

/// Reads a year or a range of years in the styles that are typed on strips (common practice, no source).
///
/// A second year of two digits lies in the century of the first, or in the next where it would come before it.
///
/// ```
/// use headword::value::typed_years;
/// for (typed, edtf) in [
///     ("1952-61", "1952/1961"),
///     ("1952 TO 1961", "1952/1961"),
///     ("TO 1959", "../1959"),
///     ("1980-", "1980/.."),
///     ("C. 1950", "1950~"),
///     ("195?", "195X"),
/// ] {
///     assert_eq!(typed_years(typed)?.edtf.to_string(), edtf);
/// }
/// # Ok::<(), headword::value::YearsError>(())
/// ```
pub fn typed_years(typed: &str) -> Result<TypedYears, YearsError> {
    let not_understood = || YearsError::NotUnderstood(typed.chars().take(60).collect());
    let words: Vec<&str> = typed.split_whitespace().collect();
    let text = words.join(" ").to_uppercase();
    let plain = |edtf| TypedYears { edtf, doubt: None };
    let out_of_order = || YearsError::OutOfOrder(typed.chars().take(60).collect());

    if let Some(date) = single(&text) {
        return Ok(plain(Edtf::Date(date)));
    }
    if let Some(date) = UP_TO
        .iter()
        .find_map(|sign| single(text.strip_prefix(sign)?))
    {
        let edtf = Edtf::interval(End::Open, End::Date(date)).ok_or_else(not_understood)?;
        return Ok(plain(edtf));
    }
    let onward = ONWARD
        .iter()
        .find_map(|sign| single(text.strip_suffix(sign)?));
    if let Some(date) = onward.or_else(|| {
        FROM.iter()
            .find_map(|word| single(text.strip_prefix(word)?))
    }) {
        let edtf = Edtf::interval(End::Date(date), End::Open).ok_or_else(not_understood)?;
        return Ok(plain(edtf));
    }
    let text = text.strip_prefix("FROM ").unwrap_or(&text);
    let (start, second) = BETWEEN
        .iter()
        .find_map(|sign| {
            let (first, second) = text.split_once(sign)?;
            Some((single(first)?, second.trim()))
        })
        .ok_or_else(not_understood)?;
    let (end, doubt) = match single(second) {
        Some(end) => (end, None),
        None => short_year(start, second).ok_or_else(not_understood)?,
    };
    let edtf = Edtf::interval(End::Date(start), End::Date(end)).ok_or_else(out_of_order)?;
    Ok(TypedYears { edtf, doubt })
}

/// One year of four digits, the last one or two perhaps `?`, perhaps with a word for "about" before it and a question
/// mark behind it.
fn single(text: &str) -> Option<EdtfDate> {
    let text = text.trim();
    let after_about = ABOUT.iter().find_map(|word| text.strip_prefix(word));
    // "C1950", but not the C of other words.
    let after_about = after_about.or_else(|| {
        text.strip_prefix('C')
            .filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
    });
    let year = after_about.unwrap_or(text).trim();
    if !year.is_ascii() || !(4..=5).contains(&year.len()) {
        return None;
    }
    let (year, mark) = year.split_at(4);
    let uncertain = match mark {
        "" => false,
        "?" => true,
        _ => return None,
    };
    let known = year.trim_end_matches('?');
    if known.len() < 2 || !known.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let first = format!("{known:0<4}").parse().ok()?;
    let date = EdtfDate::new(first, (4 - known.len()) as u8, None, None)?;
    Some(date.qualified(match (uncertain, after_about.is_some()) {
        (false, false) => Qualification::None,
        (true, false) => Qualification::Uncertain,
        (false, true) => Qualification::Approximate,
        (true, true) => Qualification::UncertainAndApproximate,
    }))
}

/// The two digits of a range's second year, with the century of its first.
fn short_year(start: EdtfDate, digits: &str) -> Option<(EdtfDate, Option<&'static str>)> {
    if digits.len() != 2 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let within: i16 = digits.parse().ok()?;
    let year = start.earliest().year as i16 / 100 * 100 + within;
    if year >= start.earliest().year as i16 {
        Some((EdtfDate::new(year, 0, None, None)?, None))
    } else {
        let doubt = if (1..=12).contains(&within) {
            "the second number may be a year of the next century or a month"
        } else {
            "the second year was taken to lie in the next century"
        };
        Some((EdtfDate::new(year + 100, 0, None, None)?, Some(doubt)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_the_styles_of_the_trade() {
        for (typed, edtf) in [
            ("1952", "1952"),
            ("1952-1961", "1952/1961"),
            ("1952 - 61", "1952/1961"),
            ("1952–61", "1952/1961"),
            ("1952-52", "1952/1952"),
            ("1952 thru 1961", "1952/1961"),
            ("FROM 1952 TO 61", "1952/1961"),
            ("1998-03", "1998/2003"),
            ("1898-1903", "1898/1903"),
            ("UP TO 1959", "../1959"),
            ("-1959", "../1959"),
            ("1980 -", "1980/.."),
            ("1980 TO DATE", "1980/.."),
            ("SINCE 1980", "1980/.."),
            ("C. 1950", "1950~"),
            ("C1950", "1950~"),
            ("ca. 1950?", "1950%"),
            ("CIRCA 1950-55", "1950~/1955"),
            ("1950?", "1950?"),
            ("195?", "195X"),
            ("19??", "19XX"),
            ("195?-1961", "195X/1961"),
            ("  1952   TO\t1961 ", "1952/1961"),
        ] {
            let read = typed_years(typed).map(|years| years.edtf.to_string());
            assert_eq!(read.as_deref(), Ok(edtf), "{typed:?}");
        }
    }

    #[test]
    fn says_when_a_century_was_guessed() {
        assert_eq!(typed_years("1952-61").unwrap().doubt, None);
        assert!(
            typed_years("1998-03")
                .unwrap()
                .doubt
                .unwrap()
                .contains("month")
        );
        assert!(
            typed_years("1998-20")
                .unwrap()
                .doubt
                .unwrap()
                .contains("century")
        );
    }

    #[test]
    fn refuses_what_is_no_year() {
        assert!(matches!(
            typed_years("1961-1952"),
            Err(YearsError::OutOfOrder(_))
        ));
        for typed in [
            "",
            "-",
            "TO",
            "52-61",
            "19520",
            "1952-6",
            "1952-611",
            "1???",
            "C.",
            "CAR 1950",
            "１９５２",
            "1952--61",
            "9999-01",
            "1952-\u{202e}61",
            "ſ1952",
            "é952",
        ] {
            let refused = typed_years(typed);
            assert!(
                matches!(refused, Err(YearsError::NotUnderstood(_))),
                "{typed:?}: {refused:?}"
            );
        }
        assert!(typed_years(&"1952-".repeat(100_000)).is_err());
    }
}
