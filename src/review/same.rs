//! What counts as the same value, by the normalisation that the job states.

use super::compare::Verdict;
use crate::job::{QualitySettings, Sameness};
use crate::journal::KeyedValue;
use crate::rules::{FieldKind, FieldSpec};
use crate::value::{DateStyle, typed_dates};
use unicode_normalization::UnicodeNormalization;

/// Compares values as a job wants them compared.
#[derive(Debug, Clone, Default)]
pub struct Comparer {
    same: Sameness,
    /// Fields of dates, and how these are typed.
    dates: Vec<(String, DateStyle)>,
    /// Fields that are keyed a second time; all where there are none.
    only: Vec<String>,
    /// Fields that hold one of a few values.
    coded: Vec<String>,
}

impl Comparer {
    pub fn new(settings: &QualitySettings, fields: &[FieldSpec]) -> Self {
        let dates = fields
            .iter()
            .filter(|field| matches!(field.kind, FieldKind::Date | FieldKind::DateRange));
        let only = settings.second_fields.iter();
        let coded = fields
            .iter()
            .filter(|field| field.kind == FieldKind::Choice);
        Self {
            same: settings.same,
            dates: dates
                .map(|field| (field.name.clone(), field.styles.dates.clone()))
                .collect(),
            only: only.map(|field| field.get_ref().clone()).collect(),
            coded: coded.map(|field| field.name.clone()).collect(),
        }
    }

    /// The same, blind to case, blanks, punctuation and date forms: what it takes for the same means the same.
    pub(super) fn lenient(&self) -> Self {
        Self {
            same: Sameness {
                case: true,
                blanks: true,
                punctuation: true,
                dates: true,
            },
            ..self.clone()
        }
    }

    pub(super) fn with(&self, same: Sameness) -> Self {
        Self {
            same,
            ..self.clone()
        }
    }

    /// Whether a field is keyed a second time at all.
    pub fn is_compared(&self, field: &str) -> bool {
        self.only.is_empty() || self.only.iter().any(|only| only == field)
    }

    /// Whether a field holds one of a few values.
    pub(super) fn is_coded(&self, field: &str) -> bool {
        self.coded.iter().any(|coded| coded == field)
    }

    /// A value as one of the few of its field.
    pub(super) fn code(&self, value: &KeyedValue) -> String {
        text(value).map_or("cannot be read".to_owned(), |text| self.form(text))
    }

    /// How two values of a field stand to each other.
    pub fn compare(&self, field: &str, first: &KeyedValue, second: &KeyedValue) -> Verdict {
        if first == second {
            return Verdict::Same;
        }
        let same = match (text(first), text(second)) {
            (Some(first), Some(second)) => self.same_text(field, first, second),
            _ => false,
        };
        if same {
            Verdict::SameByJob
        } else {
            Verdict::Different
        }
    }

    /// Whether two texts of a field count as the same. Signs for characters that cannot be read always count.
    pub fn same_text(&self, field: &str, first: &str, second: &str) -> bool {
        first == second
            || self.form(first) == self.form(second)
            || self.same.dates && self.same_dates(field, first, second)
    }

    fn same_dates(&self, field: &str, first: &str, second: &str) -> bool {
        let Some((_, style)) = self.dates.iter().find(|(name, _)| name == field) else {
            return false;
        };
        match (typed_dates(first, style), typed_dates(second, style)) {
            (Ok(first), Ok(second)) => first.edtf == second.edtf,
            _ => false,
        }
    }

    /// A text with what the job does not count taken out, in Unicode's composed form (UAX 15, NFC).
    fn form(&self, text: &str) -> String {
        let mut form: String = text.nfc().collect();
        if self.same.punctuation {
            form = without_punctuation(&form);
        }
        if self.same.blanks || self.same.punctuation {
            form = form.split_whitespace().collect::<Vec<_>>().join(" ");
        }
        if self.same.case {
            form = form.to_uppercase();
        }
        form
    }
}

/// A value as text; none where somebody says that it cannot be read. An empty text says that nothing is there.
fn text(value: &KeyedValue) -> Option<&str> {
    match value {
        KeyedValue::Text(text) => Some(text),
        KeyedValue::NothingOnStrip => Some(""),
        KeyedValue::CannotBeRead => None,
    }
}

/// Full stops and apostrophes vanish, other signs of the list become blanks, unless a digit stands beside them: there a
/// sign belongs to a number, a date or a code. Question marks and all other signs stay: they mean something.
fn without_punctuation(text: &str) -> String {
    let characters: Vec<char> = text.chars().collect();
    let digit_at = |at: usize| characters.get(at).is_some_and(char::is_ascii_digit);
    let mut plain = String::with_capacity(text.len());
    for (at, &c) in characters.iter().enumerate() {
        let counts = digit_at(at + 1) || at > 0 && digit_at(at - 1);
        match c {
            '.' | '\'' | '’' | '‘' | '`' if !counts => {}
            ',' | ';' | ':' | '"' | '“' | '”' | '(' | ')' | '-' | '–' | '—' if !counts => {
                plain.push(' ');
            }
            c => plain.push(c),
        }
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::UNREADABLE;

    fn check(same: &[&str], first: &str, second: &str, is_same: bool) {
        let has = |name| same.contains(&name);
        let comparer = Comparer {
            same: Sameness {
                case: has("case"),
                blanks: has("blanks"),
                punctuation: has("punctuation"),
                dates: has("dates"),
            },
            dates: vec![("from".to_owned(), DateStyle::default())],
            only: vec![],
            coded: vec![],
        };
        for (a, b) in [(first, second), (second, first)] {
            assert_eq!(
                comparer.same_text("from", a, b),
                is_same,
                "{a} {b} {same:?}"
            );
        }
    }

    #[test]
    fn only_what_the_job_says_is_the_same() {
        check(&[], "PIER", "PIER", true);
        check(&[], "PIER", "Pier", false);
        check(&["case"], "PIER", "Pier", true);
        check(&["case"], "A  B", "A B", false);
        check(&["blanks"], " A  B", "A B", true);
        check(&["blanks"], "MC DONALD", "MCDONALD", false);
        check(&["punctuation"], "ST. JOHN'S", "ST JOHNS", true);
        check(&["punctuation"], "SMITH-JONES, A", "SMITH JONES A", true);
        check(&["blanks"], "ST. JOHN", "ST JOHN", false);
        // Beside digits signs count, and question marks always do.
        check(&["punctuation"], "3.50", "350", false);
        check(&["punctuation"], "-5", "5", false);
        check(&["punctuation"], "195?", "195", false);
        check(&["punctuation"], "1952-61", "1952 61", false);
        check(&["dates"], "1952-61", "1952-1961", true);
        check(&["dates"], "3 APR 1952", "3/4/1952", true);
        check(&["dates"], "1952-61", "1952-62", false);
        check(&["case"], "1952-61", "1952-1961", false);
        let unreadable = format!("PI{UNREADABLE}R");
        check(
            &["case", "blanks", "punctuation", "dates"],
            &unreadable,
            "PIR",
            false,
        );
        // One letter and two code points that make it.
        check(&[], "\u{c9}", "E\u{301}", true);
    }

    #[test]
    fn nothing_and_not_readable_are_values_too() {
        let comparer = Comparer::default();
        let text = |text: &str| KeyedValue::Text(text.to_owned());
        for (first, second, verdict) in [
            (KeyedValue::NothingOnStrip, text(" "), Verdict::SameByJob),
            (KeyedValue::NothingOnStrip, text("A"), Verdict::Different),
            (KeyedValue::CannotBeRead, text(""), Verdict::Different),
            (
                KeyedValue::CannotBeRead,
                KeyedValue::CannotBeRead,
                Verdict::Same,
            ),
            (
                KeyedValue::CannotBeRead,
                KeyedValue::NothingOnStrip,
                Verdict::Different,
            ),
            (text("a"), text("A"), Verdict::SameByJob),
        ] {
            assert_eq!(comparer.compare("surname", &first, &second), verdict);
        }
    }
}
