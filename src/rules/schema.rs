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
