//! What codes look like: a pattern that the values at hand have in common, and the check character that they keep.

use super::guess::digit_like;
use crate::value::CheckScheme;
use std::collections::BTreeMap;
use std::fmt::Write;

/// Share of the values that must have a form for the pattern to allow it: rarer ones are misreadings.
const LEAST_SHARE: f64 = 0.1;
/// Forms that a pattern allows at most.
const MOST_FORMS: usize = 3;
/// Values from which on a letter that all of them have in one place counts as fixed.
const FIXED_FROM: usize = 8;
/// Values from which on a check character can be believed: a scheme of ten characters holds by chance in a tenth of all
/// codes, on six of them in one of a million.
const CHECKED_FROM: usize = 6;
/// Share of the values on which the check character must hold; the others are misread or mistyped.
const CHECK_HOLDS: f64 = 0.8;

/// A run of characters of one class.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Run {
    Digits(usize),
    Letters(usize),
    Mark(char),
    /// One character of the end that is a digit on some values and the same letter on the others.
    DigitOr(char),
}

/// What a value's form is beside the number of its characters.
type Form = Vec<u8>;

fn runs(value: &str) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for c in value.chars() {
        match (runs.last_mut(), c) {
            (Some(Run::Digits(n)), '0'..='9') => *n += 1,
            (_, '0'..='9') => runs.push(Run::Digits(1)),
            (Some(Run::Letters(n)), c) if c.is_alphabetic() => *n += 1,
            (_, c) if c.is_alphabetic() => runs.push(Run::Letters(1)),
            (_, c) => runs.push(Run::Mark(c)),
        }
    }
    runs
}

fn form(runs: &[Run]) -> Form {
    let byte = |run: &Run| match run {
        Run::Digits(_) | Run::DigitOr(_) => b'9',
        Run::Letters(_) => b'A',
        Run::Mark(c) => c.to_string().as_bytes()[0],
    };
    runs.iter().map(byte).collect()
}

/// A value with the letters between two digits as the digits that they look like.
fn repaired(value: &str) -> String {
    let characters: Vec<char> = value.chars().collect();
    let is_digit = |at: usize| characters.get(at).is_some_and(char::is_ascii_digit);
    let of = |(at, c): (usize, &char)| match at > 0 && is_digit(at - 1) && is_digit(at + 1) {
        true => digit_like(*c).unwrap_or(*c),
        false => *c,
    };
    characters.iter().enumerate().map(of).collect()
}

/// A pattern that these values have; `None` where there are none.
pub(super) fn pattern(values: &[String]) -> Option<String> {
    let values: Vec<String> = values.iter().map(|value| repaired(value)).collect();
    let end = end_letter(&values);
    let mut forms: BTreeMap<Form, Vec<(&str, Vec<Run>)>> = BTreeMap::new();
    for value in values.iter().filter(|value| !value.is_empty()) {
        let mut runs = runs(value);
        if let Some(letter) = end {
            with_end(&mut runs, value, letter);
        }
        forms.entry(form(&runs)).or_default().push((value, runs));
    }
    let mut forms: Vec<Vec<(&str, Vec<Run>)>> = forms.into_values().collect();
    forms.sort_by_key(|members| std::cmp::Reverse(members.len()));
    let least = LEAST_SHARE * values.len() as f64;
    let kept = forms.iter().take(MOST_FORMS).enumerate();
    let kept = kept
        .filter(|(at, members)| *at == 0 || (members.len() as f64 >= least && members.len() > 1));
    let patterns: Vec<String> = kept.map(|(_, members)| of_form(members)).collect();
    (!patterns.is_empty()).then(|| patterns.join("|"))
}

/// The letter that some of the values end with while the others have a digit there: a check character of 11.
fn end_letter(values: &[String]) -> Option<char> {
    let ends = |c: char| values.iter().filter(|value| value.ends_with(c)).count();
    let letter = 'X';
    let digits = values
        .iter()
        .filter(|v| v.ends_with(|c: char| c.is_ascii_digit()))
        .count();
    (ends(letter) > 0 && digits > 0).then_some(letter)
}

/// Takes the last character as a digit or that letter.
fn with_end(runs: &mut Vec<Run>, value: &str, letter: char) {
    match runs.last_mut() {
        Some(Run::Letters(1)) if value.ends_with(letter) => {
            runs.pop();
            runs.push(Run::DigitOr(letter));
        }
        Some(Run::Digits(n)) => {
            *n -= 1;
            if *n == 0 {
                runs.pop();
            }
            runs.push(Run::DigitOr(letter));
        }
        _ => {}
    }
}

/// The pattern of values of one form.
fn of_form(members: &[(&str, Vec<Run>)]) -> String {
    let mut pattern = String::new();
    let places = members[0].1.len();
    for place in 0..places {
        let lengths = || {
            members
                .iter()
                .filter_map(|(_, runs)| match runs.get(place) {
                    Some(Run::Digits(n) | Run::Letters(n)) => Some(*n),
                    _ => None,
                })
        };
        let (least, most) = (lengths().min().unwrap_or(1), lengths().max().unwrap_or(1));
        match &members[0].1[place] {
            Run::Digits(_) => pattern += &repeated(r"\d", least, most),
            Run::Letters(_) => {
                let words: Vec<&str> = members
                    .iter()
                    .map(|(value, _)| nth_run(value, place))
                    .collect();
                match words.iter().all(|word| *word == words[0]) && words.len() >= FIXED_FROM {
                    true => pattern += words[0],
                    false => pattern += &repeated("[A-Z]", least, most),
                }
            }
            // Outside of classes a hyphen means itself, and patterns are read by people.
            Run::Mark('-') => pattern.push('-'),
            Run::Mark(c) => pattern += &regex::escape(&c.to_string()),
            Run::DigitOr(letter) => {
                let _ = write!(pattern, r"[\d{letter}]");
            }
        }
    }
    pattern
}

/// The characters of a value's run.
fn nth_run(value: &str, place: usize) -> &str {
    let class = |c: char| match c {
        '0'..='9' => 0,
        c if c.is_alphabetic() => 1,
        _ => 2,
    };
    let mut start = 0;
    let mut at = 0;
    let mut last: Option<u8> = None;
    for (index, c) in value.char_indices() {
        let class = class(c);
        if last.is_some_and(|last| last != class || class == 2) {
            if at == place {
                return &value[start..index];
            }
            at += 1;
            start = index;
        }
        last = Some(class);
    }
    match at == place {
        true => &value[start..],
        false => "",
    }
}

fn repeated(class: &str, least: usize, most: usize) -> String {
    match (least, most) {
        (1, 1) => class.to_owned(),
        (least, most) if least == most => format!("{class}{{{least}}}"),
        (least, most) => format!("{class}{{{least},{most}}}"),
    }
}

/// A check scheme that holds on the values, with the number of those on which it does; the values should be distinct.
pub(super) fn check(values: &[String]) -> Option<(&'static str, usize)> {
    if values.len() < CHECKED_FROM {
        return None;
    }
    let schemes = CheckScheme::ALL.iter();
    let held = schemes.map(|scheme| {
        let holding = values.iter().filter(|value| scheme.holds(value)).count();
        (scheme.name(), holding)
    });
    let best = held.max_by_key(|(_, holding)| *holding)?;
    (best.1 as f64 >= CHECK_HOLDS * values.len() as f64).then_some(best)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn owned(values: &[&str]) -> Vec<String> {
        values.iter().map(|value| (*value).to_owned()).collect()
    }

    #[test]
    fn patterns_are_what_values_have_in_common() {
        for (values, expected) in [
            (&["204517-4"][..], r"\d{6}-\d"),
            (&["204517-4", "100000-X"], r"\d{6}-[\dX]"),
            (&["4418", "44190"], r"\d{4,5}"),
            (&["CR-1042-03", "QY-0001-11"], r"[A-Z]{2}-\d{4}-\d{2}"),
            (&["2O4517", "204518"], r"\d{6}"),
            (&["A17", "A18", "417", "418"], r"\d{3}|[A-Z]\d{2}"),
            (&["C"], "[A-Z]"),
        ] {
            assert_eq!(pattern(&owned(values)).unwrap(), expected, "{values:?}");
        }
        let fixed: Vec<String> = (10..20).map(|n| format!("HB{n}")).collect();
        assert_eq!(pattern(&fixed).unwrap(), r"HB\d{2}");
        // One misread value in twenty allows nothing.
        let mut many: Vec<String> = (1_000..1_019).map(|n| n.to_string()).collect();
        many.push("10#1".to_owned());
        assert_eq!(pattern(&many).unwrap(), r"\d{4}");
        assert_eq!(pattern(&[]), None);
    }

    #[test]
    fn check_characters_are_believed_when_enough_values_keep_them() {
        let codes = |scheme: &CheckScheme| -> Vec<String> {
            (204_517..204_527)
                .map(|n| format!("{n}-{}", scheme.check_character(&n.to_string()).unwrap()))
                .collect()
        };
        for scheme in [
            CheckScheme::Iso7064Mod11_2,
            CheckScheme::Luhn,
            CheckScheme::Damm,
        ] {
            let mut codes = codes(&scheme);
            assert_eq!(check(&codes), Some((scheme.name(), 10)));
            codes[3] = "204520-?".to_owned();
            assert_eq!(check(&codes), Some((scheme.name(), 9)));
            assert_eq!(check(&codes[..3]), None);
        }
        let none: Vec<String> = (0..20).map(|n| format!("{}", 20_000 + 7 * n)).collect();
        assert_eq!(check(&none), None);
    }
}
