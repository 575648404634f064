//! What speaks against a value that somebody keyed.

use super::kind::{FieldKind, FieldSpec};
use super::meaning::{Meaning, meaning};

/// What speaks against a value of a field, in words for the person at the keys; none where nothing does.
pub(super) fn objection(spec: &FieldSpec, value: &str) -> Option<String> {
    if value.trim().is_empty() {
        return None;
    }
    if let Some(check) = &spec.check
        && !check.holds(value)
    {
        return Some("its check character does not follow from the rest".to_owned());
    }
    if let Some(pattern) = &spec.pattern {
        // The pattern was read when the rules were; one of another flavour of syntax judges nothing.
        let whole = regex::Regex::new(&format!("^(?:{pattern})$"));
        if whole.is_ok_and(|whole| !whole.is_match(value)) {
            return Some("it does not look as the rules say".to_owned());
        }
    }
    match spec.kind {
        FieldKind::Choice if !spec.words.is_empty() && !has_word(spec, value) => {
            Some(format!("expected one of {}", spec.words.join(", ")))
        }
        FieldKind::Year | FieldKind::Number => match value.trim().parse::<u32>() {
            Err(_) => Some("expected a whole number".to_owned()),
            Ok(number) if !(spec.window.0..=spec.window.1).contains(&number) => Some(format!(
                "expected a number from {} to {}",
                spec.window.0, spec.window.1
            )),
            Ok(_) => None,
        },
        kind => match meaning(spec, value) {
            Meaning::Understood { .. } => None,
            Meaning::Impossible => Some(format!("it is no {} that there can be", kind.name())),
        },
    }
}

fn has_word(spec: &FieldSpec, value: &str) -> bool {
    let value = value.to_lowercase();
    spec.words.iter().any(|word| word.to_lowercase() == value)
}

#[cfg(test)]
mod tests {
    use crate::rules::RuleBook;

    const RULES: &str = r#"
[[field]]
name = "number"
kind = "code"
pattern = '\d{6}-[\dX]'
check = "iso7064-mod-11-2"
[[field]]
name = "from"
kind = "year"
[[field]]
name = "day"
kind = "date"
[[field]]
name = "trade"
kind = "choice"
words = ["CLERK", "PILOT"]
[[field]]
name = "surname"
kind = "surname"
[[rule]]
name = "r"
line = "{surname}"
"#;

    /// Whether anything speaks against the value, and a word that is said then.
    fn check(field: &str, value: &str, says: Option<&str>) {
        let rules = RuleBook::parse("r.toml", RULES).unwrap();
        let objection = rules.objection(field, value);
        match says {
            None => assert_eq!(objection, None, "{field} {value}"),
            Some(says) => {
                let found = objection.unwrap_or_else(|| panic!("{field} {value} was passed"));
                assert!(found.contains(says), "{found}");
            }
        }
    }

    #[test]
    fn says_what_speaks_against_a_value() {
        // 0794 has the check digit 0 in MOD 11-2: the usual example of ISO/IEC 7064, from memory.
        check("number", "000794-0", None);
        check("number", "000794-1", Some("check character"));
        check("number", "", None);
        check("from", "1952", None);
        check("from", "19S2", Some("whole number"));
        check("from", "3052", Some("from"));
        check("day", "28 FEB 1950", None);
        check("day", "31 FEB 1950", Some("no date"));
        check("trade", "pilot", None);
        check("trade", "PIRATE", Some("CLERK"));
        check("surname", "anything AT all", None);
        check("unknown", "x", None);
    }
}
