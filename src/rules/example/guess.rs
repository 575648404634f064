//! What kind of value a marked piece holds, guessed from its text and from the name that somebody gave its field.

use crate::rules::kind::{FieldKind, Styles, YEARS};
use crate::value::{Part, typed_dates};
use regex::Regex;
use serde::Serialize;
use std::sync::LazyLock;

/// A kind that a piece may be of.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Guess {
    pub kind: FieldKind,
    /// The more, the likelier; to put guesses in order, not a probability.
    pub weight: f64,
    /// In a few words.
    pub why: String,
}

/// What speaks for a kind by the look of the text: a form that hardly anything else has, a form that it shares with few
/// others, one that many values have, one that anything has. Own choice, to order guesses before readings are counted.
const PLAIN_FORM: f64 = 8.0;
const LIKELY_FORM: f64 = 5.0;
const SHARED_FORM: f64 = 3.0;
const ANY_FORM: f64 = 1.0;
/// What the field's name adds.
const NAME_SAYS: f64 = 6.0;
/// Guesses that are weaker than the best by more are not made.
const FAR_BEHIND: f64 = 6.0;

/// Parts of field names, and the kinds that fields of such names usually have. Words of the trade; own choice.
const NAMES: [(&[&str], FieldKind); 13] = [
    (
        &["surname", "family", "last_name", "lastname"],
        FieldKind::Surname,
    ),
    (
        &["forename", "given", "first_name", "christian", "initial"],
        FieldKind::Forenames,
    ),
    (
        &["person", "name", "employee", "patient"],
        FieldKind::Person,
    ),
    (
        &["year", "from", "to", "born", "entered", "left"],
        FieldKind::Year,
    ),
    (
        &["years", "period", "dates", "served", "service", "span"],
        FieldKind::DateRange,
    ),
    (
        &[
            "date", "signed", "born", "died", "dated", "day", "period", "from", "to",
        ],
        FieldKind::Date,
    ),
    (
        &[
            "part", "parts", "sheet", "sheets", "fiche", "of", "page", "volume", "count",
        ],
        FieldKind::Number,
    ),
    (&["part", "sheet", "set"], FieldKind::Part),
    (
        &[
            "number",
            "no",
            "code",
            "ref",
            "reference",
            "id",
            "file",
            "card",
            "account",
            "key",
        ],
        FieldKind::Code,
    ),
    (
        &[
            "title",
            "subject",
            "description",
            "text",
            "remarks",
            "name",
            "vessel",
            "place",
        ],
        FieldKind::Text,
    ),
    (
        &[
            "grade",
            "department",
            "series",
            "trade",
            "rank",
            "station",
            "class",
        ],
        FieldKind::Choice,
    ),
    (&["range", "keys", "names"], FieldKind::Range),
    (
        &["amount", "total", "sum", "pay", "price"],
        FieldKind::Amount,
    ),
];

/// The kinds that a text may be of, the likeliest first; never empty.
pub(super) fn guesses(text: &str, field: &str, styles: &Styles) -> Vec<Guess> {
    let mut guesses: Vec<Guess> = Vec::new();
    let repaired = digits_repaired(text);
    let mut add = |kind: FieldKind, weight: f64, why: &str| match guesses
        .iter_mut()
        .find(|guess| guess.kind == kind)
    {
        Some(known) if known.weight >= weight => {}
        Some(known) => (known.weight, known.why) = (weight, why.to_owned()),
        None => guesses.push(Guess {
            kind,
            weight,
            why: why.to_owned(),
        }),
    };
    for text in [text, repaired.as_str()] {
        in_figures(text, styles, &mut add);
    }
    in_words(text, &mut add);
    add(FieldKind::Text, ANY_FORM, "text takes anything");
    // What the name says may be right though the text, misread, does not look like it.
    for kind in FieldKind::ALL
        .into_iter()
        .filter(|kind| may_hold(*kind, text))
    {
        if !names(field, kind) {
            continue;
        }
        match guesses.iter_mut().find(|guess| guess.kind == kind) {
            Some(guess) => {
                guess.weight += NAME_SAYS;
                guess.why += "; the field's name says so";
            }
            None => guesses.push(Guess {
                kind,
                weight: ANY_FORM + NAME_SAYS,
                why: "the field's name says so".to_owned(),
            }),
        }
    }
    guesses.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    let best = guesses[0].weight;
    guesses.retain(|guess| guess.weight >= best - FAR_BEHIND);
    guesses
}

/// Whether fields of such a name are usually of this kind.
fn names(field: &str, kind: FieldKind) -> bool {
    let field = field.to_lowercase();
    let mut words = field.split(['_', '-', '#']).chain([field.as_str()]);
    words.any(|word| {
        let mut lists = NAMES.iter().filter(|(_, of)| *of == kind);
        lists.any(|(names, _)| {
            names.contains(&word)
                || names
                    .iter()
                    .any(|name| word.strip_suffix('s') == Some(name))
        })
    })
}

/// Whether a text may be of a kind that only its field's name speaks for.
fn may_hold(kind: FieldKind, text: &str) -> bool {
    let has_digit = text.chars().any(|c| c.is_ascii_digit());
    match kind {
        FieldKind::Surname | FieldKind::Forenames | FieldKind::Person => {
            text.chars().any(char::is_alphabetic)
        }
        FieldKind::Year | FieldKind::Number | FieldKind::Amount => {
            has_digit && !text.contains(char::is_whitespace)
        }
        FieldKind::Date | FieldKind::DateRange | FieldKind::Part => has_digit,
        // They want words, which other readings tell.
        FieldKind::Choice => text.chars().all(|c| c.is_alphabetic() || c.is_whitespace()),
        FieldKind::Code => !text.contains(char::is_whitespace),
        FieldKind::Range | FieldKind::Text => true,
    }
}

/// Whether the field's name speaks for a guess.
pub(super) fn is_named(guess: &Guess) -> bool {
    guess.why.ends_with("says so")
}

/// Numbers, codes, dates, parts, amounts.
fn in_figures(text: &str, styles: &Styles, add: &mut impl FnMut(FieldKind, f64, &str)) {
    static AMOUNT: LazyLock<Regex> =
        LazyLock::new(|| known(r"^\D{0,3}\d{1,3}(?:[,. ]?\d{3})*[.,]\d{2}\D{0,2}$"));
    if !text.chars().any(|c| c.is_ascii_digit()) {
        return;
    }
    let number = text
        .chars()
        .all(|c| c.is_ascii_digit())
        .then(|| text.parse::<u32>().ok());
    match (number.flatten(), text.len()) {
        (Some(year), 4) if (YEARS.0..=YEARS.1).contains(&year) => {
            add(
                FieldKind::Year,
                PLAIN_FORM,
                "four digits that may be a year",
            );
            add(FieldKind::Code, LIKELY_FORM, "digits without blanks");
            add(FieldKind::Number, SHARED_FORM, "a whole number");
        }
        (Some(_), 1..=3) => {
            add(FieldKind::Number, PLAIN_FORM, "a small whole number");
            add(FieldKind::Code, LIKELY_FORM, "digits without blanks");
            if text.len() == 2 {
                add(
                    FieldKind::Year,
                    SHARED_FORM,
                    "two digits that may be a year",
                );
            }
        }
        (Some(_), _) => {
            add(FieldKind::Code, PLAIN_FORM, "digits without blanks");
            add(FieldKind::Number, SHARED_FORM, "a whole number");
        }
        (None, _) if !text.contains(' ') => {
            add(
                FieldKind::Code,
                LIKELY_FORM,
                "figures and marks without blanks",
            );
        }
        (None, _) => add(
            FieldKind::Code,
            ANY_FORM,
            "figures with blanks between them",
        ),
    }
    let is_number = text.chars().all(|c| c.is_ascii_digit());
    if !is_number && let Ok(dates) = typed_dates(text, &styles.dates) {
        match dates.edtf.to_string().contains('/') {
            true => add(FieldKind::DateRange, PLAIN_FORM, "a range of dates"),
            false => {
                add(FieldKind::Date, PLAIN_FORM, "a date");
                add(
                    FieldKind::DateRange,
                    SHARED_FORM,
                    "a date, of which some may be ranges",
                );
            }
        }
    }
    if !is_number && Part::read(text).is_ok() {
        let weight = match text.to_uppercase().contains("OF") {
            true => PLAIN_FORM,
            false => LIKELY_FORM,
        };
        add(FieldKind::Part, weight, "the place of a sheet in its set");
    }
    if AMOUNT.is_match(text) {
        add(FieldKind::Amount, PLAIN_FORM, "a sum with decimals");
    }
}

/// Names and words.
fn in_words(text: &str, add: &mut impl FnMut(FieldKind, f64, &str)) {
    static NAME: LazyLock<Regex> =
        LazyLock::new(|| known(r"^\p{L}[\p{L}\p{M}'’.-]*(?: \p{L}[\p{L}\p{M}'’.-]*)*$"));
    static INVERTED: LazyLock<Regex> =
        LazyLock::new(|| known(r"^\p{L}[\p{L}\p{M}'’.\- ]*, ?\p{L}[\p{L}\p{M}'’.\- ]*$"));
    static RANGE: LazyLock<Regex> = LazyLock::new(|| known(r"^\p{L}+ ?(?:-|–|TO) ?\p{L}+$"));
    let words = text.split_whitespace().count();
    if INVERTED.is_match(text) {
        add(
            FieldKind::Person,
            PLAIN_FORM,
            "a name with the surname first",
        );
    }
    if RANGE.is_match(text) {
        add(FieldKind::Range, SHARED_FORM, "from one name to another");
    }
    if NAME.is_match(text) {
        match words {
            1 => {
                add(FieldKind::Surname, LIKELY_FORM, "one word");
                add(FieldKind::Forenames, SHARED_FORM, "one word");
            }
            2..=4 => {
                add(FieldKind::Forenames, LIKELY_FORM, "a few words like names");
                add(FieldKind::Person, SHARED_FORM, "a few words like names");
                add(FieldKind::Surname, ANY_FORM, "a few words like names");
            }
            _ => {}
        }
        add(
            FieldKind::Choice,
            ANY_FORM,
            "words that may come again and again",
        );
    }
    match words {
        0..=1 => {}
        2..=3 => add(FieldKind::Text, SHARED_FORM, "several words"),
        _ => add(FieldKind::Text, LIKELY_FORM, "many words"),
    }
    let is_code = |c: char| c.is_ascii_uppercase() || matches!(c, '-' | '/' | '.');
    if words == 1 && text.chars().all(is_code) {
        add(FieldKind::Code, ANY_FORM, "capitals without blanks");
    }
}

/// The digits that letters were taken for, in runs of letters and digits that hold more digits; the strongest look-alikes
/// only.
fn digits_repaired(text: &str) -> String {
    let mut repaired = String::with_capacity(text.len());
    for run in text.split_inclusive(|c: char| !c.is_alphanumeric()) {
        let digits = run.chars().filter(char::is_ascii_digit).count();
        let letters = run.chars().filter(|c| c.is_alphabetic()).count();
        match digits > 0 && digits >= letters {
            true => repaired.extend(run.chars().map(|c| digit_like(c).unwrap_or(c))),
            false => repaired += run,
        }
    }
    repaired
}

/// The digit that a letter is most often taken for.
pub(super) fn digit_like(c: char) -> Option<char> {
    Some(match c {
        'O' | 'o' | 'Q' | 'D' => '0',
        'I' | 'l' | '|' | 'L' => '1',
        'Z' => '2',
        'S' => '5',
        'G' => '6',
        'B' => '8',
        _ => return None,
    })
}

fn known(pattern: &str) -> Regex {
    Regex::new(pattern).expect("a pattern of ours is well formed")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_are_of_the_kind_that_they_look_like() {
        use FieldKind::*;
        for (text, field, kind) in [
            ("HARGREAVES", "surname", Surname),
            ("MARY ANN", "forenames", Forenames),
            ("HARGREAVES, MARY ANN", "who", Person),
            ("MARY ANN HARGREAVES", "name", Person),
            ("204517-4", "number", Code),
            ("2O4517-4", "x", Code),
            ("4418", "x", Code),
            ("1931", "from", Year),
            ("I93I", "from", Year),
            ("58", "to", Year),
            ("1931-1958", "years", DateRange),
            ("03/52 - 11/61", "x", DateRange),
            ("12 MAR 1950", "x", Date),
            ("03/52", "from", Date),
            ("2", "part", Number),
            ("2 OF 3", "x", Part),
            ("2/3", "part", Part),
            ("1,204.50", "x", Amount),
            ("AAR-BAK", "range", Range),
            ("QUAY CRANE NO 4 JIB DETAILS", "x", Text),
            ("PILOT", "grade", Choice),
            ("C", "x", Surname),
            ("***", "x", Text),
        ] {
            let guesses = guesses(text, field, &Styles::default());
            assert_eq!(guesses[0].kind, kind, "{text} as {field}: {guesses:?}");
        }
    }
}
