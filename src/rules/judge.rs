//! What speaks against a value that somebody keyed.

use super::kind::{FieldKind, FieldSpec};
use super::meaning::{Meaning, meaning};
use super::rule::Rule;
use regex::{Regex, RegexBuilder};

/// Largest compiled pattern, in bytes; the patterns themselves were bounded when the rule file was read.
const PATTERN_SIZE: usize = 1 << 22;

/// One declaration of a field, ready to hold values against it at every letter.
#[derive(Debug, Clone)]
pub(super) struct Judge {
    spec: FieldSpec,
    /// The user's own pattern; one of another flavour of syntax judges nothing.
    whole: Option<Regex>,
}

/// For each field its own declaration, then those that rules make of it for their slots.
pub(super) fn judges(fields: &[FieldSpec], rules: &[Rule]) -> Vec<Vec<Judge>> {
    let of_field = |own: &FieldSpec| {
        let mut specs = vec![own];
        let slots = rules.iter().flat_map(|rule| &rule.slots);
        for spec in slots.map(|slot| &*slot.spec).filter(|s| s.name == own.name) {
            if !specs.contains(&spec) {
                specs.push(spec);
            }
        }
        specs.into_iter().map(Judge::new).collect()
    };
    fields.iter().map(of_field).collect()
}

/// What speaks against a value of a field, in words for the person at the keys; none where any of its declarations
/// takes it.
pub(super) fn objection(judges: &[Judge], value: &str) -> Option<String> {
    let (own, others) = judges.split_first()?;
    let objection = own.objection(value)?;
    let is_taken = others.iter().any(|other| other.objection(value).is_none());
    (!is_taken).then_some(objection)
}

impl Judge {
    fn new(spec: &FieldSpec) -> Self {
        let whole = |pattern: &String| {
            RegexBuilder::new(&format!("^(?:{pattern})$"))
                .size_limit(PATTERN_SIZE)
                .build()
                .ok()
        };
        Self {
            whole: spec.pattern.as_ref().and_then(whole),
            spec: spec.clone(),
        }
    }

    fn objection(&self, value: &str) -> Option<String> {
        let spec = &self.spec;
        if value.trim().is_empty() {
            return None;
        }
        if self
            .whole
            .as_ref()
            .is_some_and(|whole| !whole.is_match(value))
        {
            return Some("it does not look as the rules say".to_owned());
        }
        if let Some(check) = &spec.check
            && !check.holds(value)
        {
            let characters: Vec<char> = value.chars().collect();
            let end = characters.len().saturating_sub(check.check_length());
            let rest: String = characters[..end].iter().collect();
            return Some(match check.check_character(&rest) {
                Some(right) => format!("the check character of {rest} is {right}"),
                None => "its check character does not follow from the rest".to_owned(),
            });
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
[[field]]
name = "part"
kind = "number"
max = 99
[[rule]]
name = "r"
line = "{surname}"
[[rule]]
name = "many parts"
line = "{surname} {part}"
field.part = { max = 200 }
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
        check(
            "number",
            "000794-1",
            Some("check character of 000794- is 0"),
        );
        check("number", "00079-1", Some("as the rules say"));
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
        // What a rule's own declaration takes is taken.
        check("part", "150", None);
        check("part", "250", Some("from 0 to 99"));
    }
}
