//! What the index's columns mean, for programs: metadata for CSV on the Web.
//!
//! Source: W3C Recommendation "Metadata Vocabulary for Tabular Data", 17 December 2015 (names of its terms from memory,
//! the text was not read).

use super::index::{Content, IndexLayout};
use serde_json::{Value, json};

/// Metadata for an index that lies beside it as `file`; to be called `file` with `-metadata.json` behind it.
pub fn csvw_metadata(file: &str, layout: &IndexLayout) -> Vec<u8> {
    let columns: Vec<Value> = layout
        .titled()
        .iter()
        .map(|column| {
            let (description, datatype) = describe(column.content);
            let base = match datatype {
                Datatype::Text => json!("string"),
                Datatype::YesOrNo => json!({"base": "boolean", "format": "yes|no"}),
                Datatype::Probability => json!({"base": "decimal", "minimum": 0, "maximum": 1}),
            };
            json!({"titles": column.title, "dc:description": description, "datatype": base})
        })
        .collect();
    let metadata = json!({
        "@context": "http://www.w3.org/ns/csvw",
        "url": file,
        "dialect": {"encoding": "utf-8", "lineTerminators": ["\r\n"], "header": true},
        "tableSchema": {"columns": columns},
    });
    let mut text = serde_json::to_string_pretty(&metadata).expect("a JSON value always prints");
    text.push('\n');
    text.into_bytes()
}

enum Datatype {
    Text,
    YesOrNo,
    Probability,
}

fn describe(content: Content) -> (String, Datatype) {
    match content {
        Content::FileName => ("name of the sheet's file".to_owned(), Datatype::Text),
        Content::Sheet => ("pre-scan image of the sheet".to_owned(), Datatype::Text),
        Content::State => ("how far the sheet has come".to_owned(), Datatype::Text),
        Content::AsTyped(field) => (
            format!("{field} as typed on the header strip"),
            Datatype::Text,
        ),
        Content::AsRoster(field) => (
            format!("{field} as in the linked roster row"),
            Datatype::Text,
        ),
        Content::Differs(field) => (
            format!("whether {field} differs between strip and roster"),
            Datatype::YesOrNo,
        ),
        Content::Edtf(field, _) => (
            format!(
                "{field} as typed on the header strip, in EDTF (ISO 8601-2); empty where it is no date"
            ),
            Datatype::Text,
        ),
        Content::Face(field) => (
            format!("how much of a look the proposed {field} needs"),
            Datatype::Text,
        ),
        Content::Probability(field) => (
            format!("probability that {field} is what the strip says"),
            Datatype::Probability,
        ),
    }
}
