//! The index as CSV (RFC 4180: CRLF, quotation marks where needed; UTF-8 without a mark), and a copy of it for
//! spreadsheets.
//!
//! In the index values stay as they are, those too that begin with `=`, `+`, `-` or `@`: this is the client's data, and a
//! changed value would be a wrong one.

use super::{FileNames, Record};
use crate::proposal::Face;
use crate::rules::Deliver;
use crate::value::{DateStyle, drawer_order, typed_dates};
use serde::{Deserialize, Serialize};
use std::collections::HashSet;

/// A field of the index.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Column {
    pub field: String,
    pub deliver: Deliver,
}

/// What the index holds.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct IndexLayout {
    pub columns: Vec<Column>,
    /// Dates that get a column in EDTF behind what is delivered of them, with the style in which they are typed.
    pub edtf: Vec<(String, DateStyle)>,
    /// With sheet and state, and each field's face and probability.
    pub draft: bool,
}

/// A column of the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Titled<'a> {
    pub title: String,
    pub content: Content<'a>,
}

/// What stands in a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Content<'a> {
    FileName,
    Sheet,
    State,
    AsTyped(&'a str),
    AsRoster(&'a str),
    Differs(&'a str),
    Edtf(&'a str, &'a DateStyle),
    Face(&'a str),
    Probability(&'a str),
}

/// A face's word; nothing for none.
pub(super) fn face(face: Option<Face>) -> &'static str {
    match face {
        Some(Face::Sure) => "sure",
        Some(Face::Look) => "look",
        Some(Face::Empty) => "empty",
        None => "",
    }
}

/// The index: file name first, one row a record, in drawer order, below a row of titles. Sheets that were set aside and
/// those that hold no record are not in it.
pub fn index_rows(records: &[Record], names: &FileNames, layout: &IndexLayout) -> Vec<Vec<String>> {
    let columns = layout.titled();
    let mut sorted: Vec<&Record> = records
        .iter()
        .filter(|record| record.is_indexed())
        .collect();
    sorted.sort_by(|a, b| drawer_order(a.sheet.as_str(), b.sheet.as_str()));
    let header = columns.iter().map(|column| column.title.clone()).collect();
    let rows = sorted.into_iter().map(|record| {
        columns
            .iter()
            .map(|column| cell(record, names, column.content))
            .collect()
    });
    std::iter::once(header).chain(rows).collect()
}

/// Rows as RFC 4180 wants them.
pub fn csv_of(rows: &[Vec<String>]) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    for row in rows {
        writer
            .write_record(row)
            .expect("rows of equal length into memory cannot fail");
    }
    writer
        .into_inner()
        .expect("flushing into memory cannot fail")
}

/// What a spreadsheet takes for the beginning of a formula (OWASP, "CSV Injection": these and the tab and the carriage
/// return; the full-width forms because some programs take them for the same).
const FORMULA_STARTS: [char; 10] = ['=', '+', '-', '@', '\t', '\r', '＝', '＋', '－', '＠'];

/// A copy for people who open CSV in a spreadsheet: values that it would take for formulas begin with an apostrophe, and
/// the file with the mark that tells spreadsheets that it is UTF-8.
pub fn spreadsheet_csv(rows: &[Vec<String>]) -> Vec<u8> {
    let escaped = |value: &String| match value.starts_with(FORMULA_STARTS) {
        true => format!("'{value}"),
        false => value.clone(),
    };
    let rows: Vec<Vec<String>> = rows
        .iter()
        .map(|row| row.iter().map(escaped).collect())
        .collect();
    let mut text = "\u{feff}".as_bytes().to_vec();
    text.extend(csv_of(&rows));
    text
}

impl IndexLayout {
    /// The file's columns. Titles of fields are the fields' names; a title of ours that a field already has gets a
    /// number.
    pub(super) fn titled(&self) -> Vec<Titled<'_>> {
        let mut contents = vec![Content::FileName];
        if self.draft {
            contents.extend([Content::Sheet, Content::State]);
        }
        for Column { field, deliver } in &self.columns {
            match deliver {
                Deliver::AsTyped => contents.push(Content::AsTyped(field)),
                Deliver::AsRoster => contents.push(Content::AsRoster(field)),
                Deliver::Both => contents.extend([
                    Content::AsTyped(field),
                    Content::AsRoster(field),
                    Content::Differs(field),
                ]),
            }
            let dates = self.edtf.iter().filter(|(dated, _)| dated == field);
            contents.extend(dates.map(|(field, style)| Content::Edtf(field, style)));
            if self.draft {
                contents.extend([Content::Face(field), Content::Probability(field)]);
            }
        }
        let mut taken = HashSet::new();
        let own: Vec<bool> = contents
            .iter()
            .map(|content| {
                let title = self.wanted_title(*content);
                content.field() == Some(title.as_str()) && taken.insert(title)
            })
            .collect();
        contents
            .into_iter()
            .zip(own)
            .map(|(content, own)| {
                let wanted = self.wanted_title(content);
                let title = if own {
                    wanted
                } else {
                    free_title(wanted, &taken)
                };
                taken.insert(title.clone());
                Titled { title, content }
            })
            .collect()
    }

    fn wanted_title(&self, content: Content) -> String {
        let both = |field: &str| {
            self.columns
                .iter()
                .any(|column| column.field == field && column.deliver == Deliver::Both)
        };
        match content {
            Content::FileName => "file_name".to_owned(),
            Content::Sheet => "sheet".to_owned(),
            Content::State => "state".to_owned(),
            Content::AsTyped(field) if both(field) => format!("{field}_as_typed"),
            Content::AsRoster(field) if both(field) => format!("{field}_as_roster"),
            Content::AsTyped(field) | Content::AsRoster(field) => field.to_owned(),
            Content::Differs(field) => format!("{field}_differs"),
            Content::Edtf(field, _) => format!("{field}_edtf"),
            Content::Face(field) => format!("{field}_face"),
            Content::Probability(field) => format!("{field}_probability"),
        }
    }
}

impl<'a> Content<'a> {
    fn field(self) -> Option<&'a str> {
        match self {
            Self::FileName | Self::Sheet | Self::State => None,
            Self::AsTyped(field)
            | Self::AsRoster(field)
            | Self::Differs(field)
            | Self::Edtf(field, _)
            | Self::Face(field)
            | Self::Probability(field) => Some(field),
        }
    }
}

fn free_title(wanted: String, taken: &HashSet<String>) -> String {
    std::iter::once(wanted.clone())
        .chain((2..).map(|number| format!("{wanted}_{number}")))
        .find(|title| !taken.contains(title))
        .unwrap_or(wanted)
}

fn cell(record: &Record, names: &FileNames, content: Content) -> String {
    let value = |field: &str| record.value(field);
    let roster = |field: &str| value(field).and_then(|value| value.as_roster.as_deref());
    match content {
        Content::FileName => names.get(&record.sheet).unwrap_or_default().to_owned(),
        Content::Sheet => record.sheet.as_str().to_owned(),
        Content::State => record.state.to_string(),
        Content::AsTyped(field) => record.as_typed(field).to_owned(),
        Content::AsRoster(field) => roster(field).unwrap_or_default().to_owned(),
        Content::Differs(field) => match roster(field) {
            None => String::new(),
            Some(text) if text == record.as_typed(field) => "no".to_owned(),
            Some(_) => "yes".to_owned(),
        },
        // What is no date to us stands beside it as it was typed.
        Content::Edtf(field, style) => typed_dates(record.as_typed(field), style)
            .map_or(String::new(), |dates| dates.edtf.to_string()),
        Content::Face(field) => face(value(field).and_then(|value| value.face)).to_owned(),
        Content::Probability(field) => value(field)
            .and_then(|value| value.probability)
            .map_or(String::new(), |probability| probability.to_string()),
    }
}

#[cfg(test)]
#[path = "index_tests.rs"]
mod tests;
