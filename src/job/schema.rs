//! A JSON Schema (draft 2020-12) of job files, so that editors complete and check them.

use super::{delivering, proof, quality};
use crate::figures::{AcceptableQuality, InspectionLevel};
use crate::rules::styles_schema;
use serde_json::{Value, json};

/// The schema of a job file.
pub fn job_schema() -> Value {
    let text = |description: &str| json!({ "type": "string", "description": description });
    let fields = |description: &str| json!({ "type": "array", "items": { "type": "string" }, "description": description });
    let section = |required: &[&str], properties: Value| {
        json!({
            "type": "object",
            "additionalProperties": false,
            "required": required,
            "properties": properties,
        })
    };
    let levels: Vec<String> = InspectionLevel::ALL
        .iter()
        .map(ToString::to_string)
        .collect();
    let percents: Vec<f64> = AcceptableQuality::all()
        .map(AcceptableQuality::percent)
        .collect();
    let mut schema = section(
        &["title", "sheets", "rules", "naming"],
        json!({
            "title": text("What the job is called"),
            "collection": text("The name of the collection, where rules ask for it"),
            "sheets": section(&["folder"], json!({ "folder": text("Where the pre-scan images are") })),
            "styles": section(&[], styles_schema()),
            "rules": section(&["files"], json!({ "files": fields("The rule files") })),
            "roster": section(&["file", "key", "columns"], json!({
                "file": text("The client's list, as CSV"),
                "key": text("The column that names a row"),
                "columns": {
                    "type": "object",
                    "additionalProperties": { "type": "string" },
                    "description": "Field of the rules to column of the roster",
                },
                "expected_share": {
                    "type": "number", "minimum": 0, "maximum": 1,
                    "description": "Share of sheets whose person or thing the roster holds",
                },
            })),
            "naming": section(&["pattern"], json!({
                "pattern": text("One file name a sheet"),
                "personal": { "enum": names(&delivering::PERSONAL), "description": "Whether names may say something of a person: surnames, dates and the like" },
            })),
            "parts": section(&["of", "part", "parts"], json!({
                "of": fields("What the sheets of one record have in common"),
                "part": text("The field that says which sheet it is"),
                "parts": text("The field that says how many there are"),
            })),
            "index": section(&[], json!({
                "columns": fields("The index's fields in their order; all of the rules unless said"),
                "as_typed": fields("Fields delivered as the strip has them, whatever the rule files say"),
                "as_roster": fields("Fields delivered as the roster has them"),
                "both": fields("Fields delivered both ways"),
                "edtf": fields("Dates that get a column in EDTF as well"),
                "full_text": { "type": "boolean", "description": "What was read on the strips goes along as strips.csv" },
            })),
            "keying": section(&[], json!({
                "passes": { "type": "integer", "minimum": 1, "maximum": 2, "description": "Keyings that every sheet gets, by different people" },
                "sees": { "enum": ["proposal", "picture"], "description": "What the first pass sees" },
                "second_sees": { "enum": ["proposal", "picture"], "description": "What the second pass sees" },
                "unfilled": { "type": "number", "minimum": 0, "maximum": 1, "description": "Share of sheets that come with nothing filled in" },
                "seed": { "type": "integer", "minimum": 0, "description": "Decides which sheets these are" },
                "overrule": { "type": "boolean", "description": "Whether values may be kept against a check, with a reason" },
                "hold": fields("Reasons offered for putting a sheet off"),
                "overrule_reasons": fields("Reasons offered for keeping a value against a check"),
                "set_aside": fields("Reasons offered for setting a sheet aside"),
            })),
            "batch": section(&[], json!({
                "sheets": { "type": "integer", "minimum": 0, "description": "Sheets that there should be in all" },
                "folders": {
                    "type": "object",
                    "additionalProperties": { "type": "integer", "minimum": 0 },
                    "description": "Batch, a folder below the sheets' folder, to the sheets that there should be in it",
                },
            })),
            "scans": section(&["folder"], json!({
                "folder": text("Where the scans are, one a sheet: files, or folders of images"),
                "name": text("Their names: {sheet} is the image's name without its ending, {digits} the last number in it"),
                "list": text("Or a CSV file with the columns sheet and scan; with neither, they pair by their order"),
                "in_any_order": { "type": "boolean", "description": "Scans need not come in the order of their sheets" },
                "in_step_by_time": { "type": "boolean", "description": "Scans have to have been made in the order of the sheets' images, by the files' times" },
                "frames": { "type": "integer", "minimum": 0, "maximum": delivering::MOST_FRAMES, "description": "Pages that a sheet has room for, such as 60, 98 or 270; the scans' pages are counted then" },
            })),
            "proof": section(&[], json!({
                "bulk": { "enum": names(&proof::BULK), "description": "What happens to keying and delivering before the client approved the proof" },
            })),
            "quality": section(&[], json!({
                "second": { "enum": names(&quality::SECOND), "description": "Which sheets are keyed a second time, where there are two passes" },
                "second_share": { "type": "number", "minimum": 0, "maximum": 1, "description": "Share of sheets that are keyed a second time whatever their faces" },
                "second_fields": fields("The fields that are keyed a second time; all unless said"),
                "same": { "type": "array", "items": { "enum": quality::SAME }, "description": "In what two keyings may differ and still agree" },
                "critical": fields("Fields in which an error counts as critical"),
                "unit": { "enum": names(&quality::UNITS), "description": "What the contract counts errors by" },
                "level": { "enum": levels, "description": "Inspection level of MIL-STD-105E" },
                "aql": { "enum": percents, "description": "Acceptable quality level: bad sheets in a hundred, in the long run" },
                "inspection": { "enum": names(&quality::INSPECTIONS), "description": "How strictly lots are judged" },
                "sample_seed": { "type": "integer", "minimum": 0, "description": "Decides which sheets of a lot are inspected" },
            })),
        }),
    );
    schema["$schema"] = json!("https://json-schema.org/draft/2020-12/schema");
    schema["title"] = json!("A job of headword");
    schema
}

/// The words of a setting.
fn names<T>(words: &[(&'static str, T)]) -> Vec<&'static str> {
    words.iter().map(|(word, _)| *word).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::JobSettings;
    use std::path::Path;

    /// The keys that the parser of a section says it knows, when it finds one that it does not.
    fn known(section: &str) -> Vec<String> {
        let job = "title = \"T\"\n[sheets]\nfolder = \"s\"\n[rules]\nfiles = []\n[naming]\npattern = \"x\"\n";
        let text = match section {
            "" => format!("nonsense = 1\n{job}"),
            "sheets" | "rules" | "naming" => job.replace(
                &format!("[{section}]"),
                &format!("[{section}]\nnonsense = 1"),
            ),
            _ => format!("{job}[{section}]\nnonsense = 1\n"),
        };
        let told = JobSettings::parse(Path::new("."), &text).unwrap_err();
        let mut faults = told.faults.iter();
        let fault = faults.find(|fault| fault.found == "`nonsense`");
        let (_, listed) = fault.expect("a fault").expected.split_once(": ").unwrap();
        let mut known: Vec<String> = listed.split(", ").map(str::to_owned).collect();
        known.sort();
        known
    }

    #[test]
    fn the_schema_has_the_keys_that_the_parser_knows() {
        let schema = job_schema();
        let keys = |of: &Value| {
            let mut keys: Vec<String> = of["properties"]
                .as_object()
                .unwrap()
                .keys()
                .cloned()
                .collect();
            keys.sort();
            keys
        };
        assert_eq!(keys(&schema), known(""));
        for section in [
            "sheets", "styles", "rules", "roster", "naming", "parts", "index", "keying", "quality",
            "batch", "scans", "proof",
        ] {
            assert_eq!(
                keys(&schema["properties"][section]),
                known(section),
                "{section}"
            );
        }
        assert!(JobSettings::parse(Path::new("."), "").is_err());
    }
}
