//! A JSON Schema (draft 2020-12) of rule files, made from the names that the parser itself knows, so that editors
//! complete and check what the parser takes.

use super::around::BAND_COLOURS;
use super::kind::FieldKind;
use super::{field, rule, table, writing::Writing};
use crate::value::CheckScheme;
use serde_json::{Map, Value, json};

/// What each key of a section is for, and its schema; keys without an entry take any value.
fn properties(keys: &[&str], of: impl Fn(&str) -> Value) -> Value {
    let properties: Map<String, Value> = keys
        .iter()
        .map(|key| ((*key).to_owned(), of(key)))
        .collect();
    Value::Object(properties)
}

fn text(description: &str) -> Value {
    json!({ "type": "string", "description": description })
}

fn one_of(names: Vec<&str>, description: &str) -> Value {
    json!({ "enum": names, "description": description })
}

/// One of these, or a list of them.
fn one_or_more(one: Value, description: &str) -> Value {
    json!({
        "description": description,
        "anyOf": [one.clone(), { "type": "array", "items": one, "minItems": 1 }],
    })
}

/// The styles in which values are typed; job files have them for all fields.
pub fn styles_schema() -> Value {
    json!({
        "dates": {
            "type": "object",
            "description": "How dates are typed",
            "additionalProperties": false,
            "properties": {
                "order": { "enum": ["day-month", "month-day"] },
                "window": {
                    "type": "integer", "minimum": 0, "maximum": 9900,
                    "description": "First of the hundred years that a year of two digits lies in",
                },
                "languages": {
                    "type": "array",
                    "items": { "enum": ["english", "german", "french", "spanish", "dutch"] },
                },
                "fiscal-year-begins": { "type": "integer", "minimum": 1, "maximum": 12 },
            },
        },
        "decimal": { "enum": ["point", "comma"], "description": "The sign before the decimals" },
        "filing": {
            "enum": [
                "word-by-word", "letter-by-letter", "ala-1968", "lc-1980", "unit-by-unit", "united-states",
            ],
            "description": "What ranges of names are in order by",
        },
    })
}

fn of_field(key: &str) -> Value {
    let number = json!({ "type": "integer", "minimum": 0 });
    match key {
        "name" => text("What rules, screens and the index call it: letters, digits, - and _"),
        "kind" => one_of(
            FieldKind::ALL.map(FieldKind::name).into(),
            "What sort of value it is",
        ),
        "pattern" => text("What a value looks like, as a regular expression"),
        "check" => {
            let names: Vec<&str> = CheckScheme::ALL.iter().map(CheckScheme::name).collect();
            json!({
                "description": "How the last characters of a code follow from the others",
                "anyOf": [{ "enum": names }, {
                    "type": "object",
                    "required": ["weights", "modulus", "characters"],
                    "additionalProperties": false,
                    "properties": {
                        "weights": { "type": "array", "items": number, "minItems": 1 },
                        "modulus": { "type": "integer", "minimum": 2 },
                        "characters": { "type": "string" },
                        "from": { "enum": ["left", "right"] },
                        "complement": { "type": "boolean" },
                        "letters": { "type": "boolean" },
                    },
                }],
            })
        }
        "required" | "ditto" => json!({ "type": "boolean" }),
        "min" | "max" => number,
        "words" => json!({ "type": "array", "items": { "type": "string" }, "minItems": 1 }),
        "write" => {
            let plain: Vec<&str> = Writing::names()
                .filter(|name| !name.starts_with("padded"))
                .collect();
            let one = json!({ "anyOf": [{ "enum": plain }, { "pattern": "^padded to [0-9]+$" }] });
            one_or_more(one, "How the value is written in the index")
        }
        "default" => text("The value where there is no other"),
        "carry" => one_of(
            field::CARRIES.map(|(name, _)| name).into(),
            "Where the value comes from when the strip is silent",
        ),
        "deliver" => one_of(
            field::DELIVERS.map(|(name, _)| name).into(),
            "What the index gives",
        ),
        "look_up" => text("The name of the table that gives the value"),
        "by" => text("`band`, or the field whose value is looked up"),
        _ => styles_schema()[key].clone(),
    }
}

fn of_rule(key: &str) -> Value {
    let texts = json!({ "type": "object", "additionalProperties": { "type": "string" } });
    match key {
        "name" => text("What messages call it"),
        "line" => text("The strip's one line, with the fields' names in braces"),
        "lines" => {
            json!({ "type": "array", "items": { "type": "string" }, "minItems": 1, "description": "The strip's lines" })
        }
        "pattern" => {
            text("A regular expression with fields as named groups, in the place of a template")
        }
        "sheet" => one_of(
            rule::SHEETS.map(|(name, _)| name).into(),
            "What a sheet is that it fits",
        ),
        "when" => json!({
            "type": "object",
            "additionalProperties": false,
            "properties": properties(&rule::WHEN_KEYS, |key| match key {
                "band" => one_or_more(json!({ "enum": BAND_COLOURS }), "The colour of the strip's band"),
                _ => one_or_more(json!({ "type": "string" }), "The job's collection"),
            }),
        }),
        "field" => json!({
            "type": "object",
            "description": "What holds otherwise for fields within this rule",
            "additionalProperties": {
                "type": "object",
                "additionalProperties": false,
                "properties": properties(&field::OVERRIDES, of_field),
            },
        }),
        _ => texts,
    }
}

/// The schema of a rule file.
pub fn rules_schema() -> Value {
    let section = |keys: &[&str], required: &[&str], of: &dyn Fn(&str) -> Value| {
        json!({
            "type": "array",
            "items": {
                "type": "object",
                "additionalProperties": false,
                "required": required,
                "properties": properties(keys, of),
            },
        })
    };
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Rules of headword",
        "type": "object",
        "additionalProperties": false,
        "properties": {
            "field": section(&field::KEYS, &["name", "kind"], &of_field),
            "rule": section(&rule::KEYS, &["name"], &of_rule),
            "check": section(&["that"], &["that"], &|_| text("A comparison, as part <= parts")),
            "table": section(&table::KEYS, &["name", "rows"], &|key| match key {
                "rows" => json!({ "type": "object", "additionalProperties": { "type": "string" } }),
                _ => text("What fields look it up by"),
            }),
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::RuleBook;
    use crate::value::{DateOrder, DateStyle, DecimalSign, FilingRules, Language, Weighted};
    use serde::de::DeserializeOwned;
    use std::collections::BTreeSet;

    /// The names that a type says it knows, when it finds one that it does not.
    fn known<T: DeserializeOwned>(wrong: Value) -> BTreeSet<String> {
        let Err(fault) = serde_json::from_value::<T>(wrong) else {
            panic!("it is understood");
        };
        let fault = fault.to_string();
        let (_, listed) = fault.split_once("expected").expect("known names");
        let names = listed.split('`').skip(1).step_by(2);
        names.map(str::to_owned).collect()
    }

    /// The same of the parser of rule files.
    fn told(text: &str) -> BTreeSet<String> {
        let faults = RuleBook::parse("rules.toml", text).unwrap_err().faults;
        let fault = faults.iter().find(|fault| fault.found == "`zzz`");
        let expected = &fault.unwrap_or_else(|| panic!("{faults:?}")).expected;
        let (_, listed) = expected.split_once(": ").expect("known names");
        listed.split(", ").map(str::to_owned).collect()
    }

    fn words(schema: &Value) -> BTreeSet<String> {
        let words = schema["enum"].as_array().expect("a list of words").iter();
        words
            .map(|word| word.as_str().unwrap().to_owned())
            .collect()
    }

    fn keys(schema: &Value) -> BTreeSet<String> {
        let keys = schema["properties"].as_object().expect("an object").keys();
        keys.cloned().collect()
    }

    #[test]
    fn names_that_are_written_out_here_are_those_that_the_types_know() {
        let wrong = || json!("?");
        let styles = styles_schema();
        let dates = &styles["dates"];
        let of = &dates["properties"];
        let by_weights = of_field("check")["anyOf"][1].clone();
        let from = json!({ "weights": [1], "modulus": 2, "characters": "01", "from": "?" });
        for (schema, known) in [
            (words(&styles["decimal"]), known::<DecimalSign>(wrong())),
            (words(&styles["filing"]), known::<FilingRules>(wrong())),
            (keys(dates), known::<DateStyle>(json!({ "?": 1 }))),
            (words(&of["order"]), known::<DateOrder>(wrong())),
            (words(&of["languages"]["items"]), known::<Language>(wrong())),
            (keys(&by_weights), known::<Weighted>(json!({ "?": 1 }))),
            (
                words(&by_weights["properties"]["from"]),
                known::<Weighted>(from),
            ),
        ] {
            assert_eq!(schema, known);
        }
    }

    #[test]
    fn every_key_and_word_of_the_parser_is_in_the_schema_and_no_other() {
        let schema = rules_schema();
        let of = |section: &str| schema["properties"][section]["items"].clone();
        for section in ["field", "rule", "check", "table"] {
            let told = told(&format!("[[{section}]]\nzzz = 1"));
            assert_eq!(keys(&of(section)), told, "{section}");
        }
        let field = "[[field]]\nname = \"a\"\nkind = \"code\"\n";
        let rule = format!("{field}[[rule]]\nname = \"r\"\nline = \"{{a}}\"\n");
        let (of_field, of_rule) = (
            of("field")["properties"].clone(),
            of("rule")["properties"].clone(),
        );
        let when = &of_rule["when"];
        let overrides = &of_rule["field"]["additionalProperties"];
        assert_eq!(
            keys(overrides),
            told(&format!("{rule}field = {{ a = {{ zzz = 1 }} }}"))
        );
        assert_eq!(keys(when), told(&format!("{rule}when = {{ zzz = 1 }}")));
        let band = &when["properties"]["band"]["anyOf"][0];
        let mut write = words(&of_field["write"]["anyOf"][0]["anyOf"][0]);
        write.insert("padded to 6".to_owned());
        for (schema, text) in [
            (
                words(&of_field["kind"]),
                "[[field]]\nname = \"a\"\nkind = \"zzz\"".to_owned(),
            ),
            (words(&of_field["carry"]), format!("{field}carry = \"zzz\"")),
            (
                words(&of_field["deliver"]),
                format!("{field}deliver = \"zzz\""),
            ),
            (
                words(&of_field["check"]["anyOf"][0]),
                format!("{field}check = \"zzz\""),
            ),
            (write, format!("{field}write = \"zzz\"")),
            (words(&of_rule["sheet"]), format!("{rule}sheet = \"zzz\"")),
            (words(band), format!("{rule}when = {{ band = \"zzz\" }}")),
        ] {
            assert_eq!(schema, told(&text), "{text}");
        }
    }
}
