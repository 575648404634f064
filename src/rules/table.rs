//! `[[table]]`: the client's look-up tables, a code or the colour of a band to a value.

use super::fault::FaultList;
use super::section::Section;
use crate::value::comparison_form;

/// Rows of one table at most; a longer list is a roster.
const MAX_ROWS: usize = 2_000;

/// A table of the client's.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct LookUpTable {
    pub name: String,
    /// (key, value), in the file's order; keys in their comparison form.
    pub rows: Vec<(String, String)>,
}

/// The keys of a table.
pub(super) const KEYS: [&str; 2] = ["name", "rows"];

/// Reads one `[[table]]`; `None` where it is at fault.
pub(super) fn read(section: &Section, faults: &mut FaultList) -> Option<LookUpTable> {
    section.keys(faults, &KEYS);
    let name = section.name(faults, "name = \"departments\"");
    if section.get("rows").is_none() {
        faults.add(
            section.span.start,
            "the key `rows` in every table",
            "none",
            "Add rows = { QY = \"Quays\", CR = \"Cranes\" }",
        );
    }
    let listed = section.table(faults, "rows", "row")?;
    let names = listed.names();
    if names.is_empty() || names.len() > MAX_ROWS {
        faults.add(
            listed.span.start,
            format!("1 to {MAX_ROWS} rows"),
            format!("{}", names.len()),
            "Write rows = { QY = \"Quays\" }; a list of things to check against belongs into a roster",
        );
        return None;
    }
    let mut rows: Vec<(String, String)> = Vec::new();
    for (key, span) in names {
        let form = comparison_form(&key);
        if rows.iter().any(|(known, _)| *known == form) {
            faults.add(
                span.start,
                "every key once",
                format!("`{key}` a second time"),
                "Capitals and small letters are the same; leave one out",
            );
        }
        if let Some((value, _)) = listed.text(faults, &key) {
            rows.push((form, value));
        }
    }
    let (name, _) = name?;
    Some(LookUpTable { name, rows })
}
