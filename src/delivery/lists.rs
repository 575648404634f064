//! The lists that go beside the index: where each value came from, what is not in the index and why, repeat scans, and
//! roster rows without a sheet.

use super::index::{csv_of, face};
use super::{FileNames, Legibility, Record, RecordValue};
use crate::journal::{Desk, KeyedSource};
use crate::roster::Roster;
use crate::value::{SheetId, SheetKind, SheetState, Station, drawer_order};
use jiff::Timestamp;
use std::collections::{BTreeMap, HashSet};

/// A sheet that is not in the index, or is there with a fault.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exception {
    pub sheet: SheetId,
    pub kind: SheetKind,
    pub state: SheetState,
    pub reason: String,
}

impl Exception {
    /// Why a record is an exception, if it is one: it holds no record, was put off or set aside, lacks something that
    /// people still have to do, a station failed, or some of it cannot be read.
    pub fn of(record: &Record) -> Option<Self> {
        let faults = record.faults();
        let reason = if !faults.is_empty() {
            faults.join("; ")
        } else if let Some(reason) = &record.reason {
            reason.clone()
        } else if record.kind != SheetKind::Record {
            // What a blank strip says of itself is the strip's finding; that no rule fits it follows.
            let of_strip = record
                .findings
                .iter()
                .filter(|f| f.station == Station::Strip);
            let why: String = of_strip.map(|f| format!("; {}", f.message)).collect();
            format!("not a record: {}{why}", record.kind)
        } else if matches!(record.state, SheetState::Held | SheetState::SetAside) {
            record.state.to_string()
        } else {
            let words = unread(record)?;
            format!("cannot be read: {words}")
        };
        Some(Self {
            sheet: record.sheet.clone(),
            kind: record.kind,
            state: record.state,
            reason,
        })
    }
}

/// The fields that cannot be read, wholly or in part; none where all can.
fn unread(record: &Record) -> Option<String> {
    let words = |value: &RecordValue| match value.legibility {
        Legibility::CannotBeRead => Some(value.field.clone()),
        Legibility::InPart => Some(format!("single characters of {}", value.field)),
        Legibility::Read | Legibility::NothingOnStrip => None,
    };
    let words: Vec<String> = record.values.iter().filter_map(words).collect();
    (!words.is_empty()).then(|| words.join(", "))
}

/// The sheets of which somebody should know: sheet, kind, state, reason.
pub fn exceptions_csv(exceptions: &[Exception]) -> Vec<u8> {
    let mut sorted: Vec<&Exception> = exceptions.iter().collect();
    sorted.sort_by(|a, b| drawer_order(a.sheet.as_str(), b.sheet.as_str()));
    let rows = sorted.into_iter().map(|exception| {
        vec![
            exception.sheet.as_str().to_owned(),
            exception.kind.to_string(),
            exception.state.to_string(),
            exception.reason.clone(),
        ]
    });
    list(&["sheet", "kind", "state", "reason"], rows)
}

/// Where each value of the index came from: one row a field of a record, in the order of the index.
///
/// `value` says whether it was read, `source` how the person came by it; `probability` and `face` are those of what was
/// proposed, whether or not it was taken; times are UTC (RFC 3339).
pub fn provenance_csv(records: &[Record], names: &FileNames) -> Vec<u8> {
    let mut sorted: Vec<&Record> = records
        .iter()
        .filter(|record| record.is_indexed())
        .collect();
    sorted.sort_by(|a, b| drawer_order(a.sheet.as_str(), b.sheet.as_str()));
    let mut rows = Vec::new();
    let mut number = 0;
    for (at, record) in sorted.iter().enumerate() {
        let is_same_sheet = at > 0 && sorted[at - 1].sheet == record.sheet;
        number = if is_same_sheet { number + 1 } else { 1 };
        let Some(entry) = &record.entry else { continue };
        for value in &record.values {
            rows.push(vec![
                names.get(&record.sheet).unwrap_or_default().to_owned(),
                record.sheet.as_str().to_owned(),
                number.to_string(),
                value.field.clone(),
                value.as_typed.clone(),
                match value.legibility {
                    Legibility::Read => "read",
                    Legibility::NothingOnStrip => "nothing on the strip",
                    Legibility::InPart => "single characters cannot be read",
                    Legibility::CannotBeRead => "cannot be read",
                }
                .to_owned(),
                value.source.map_or("", source).to_owned(),
                value.probability.map_or(String::new(), |p| p.to_string()),
                face(value.face).to_owned(),
                value.overruled.clone().unwrap_or_default(),
                record.roster_key.clone().unwrap_or_default(),
                entry.by.clone(),
                time(entry.at),
                entry.pass.to_string(),
                match entry.desk {
                    Desk::Clerk => "clerk",
                    Desk::Supervisor => "supervisor",
                    Desk::Reviewer => "reviewer",
                }
                .to_owned(),
                if entry.saw_proposal { "yes" } else { "no" }.to_owned(),
                entry.number.to_string(),
            ]);
        }
    }
    let header = [
        "file_name",
        "sheet",
        "record",
        "field",
        "as_typed",
        "value",
        "source",
        "probability",
        "face",
        "overruled",
        "roster_key",
        "by",
        "at",
        "pass",
        "desk",
        "saw_proposal",
        "entry",
    ];
    list(&header, rows.into_iter())
}

/// The words of a source, as elsewhere in headword.
fn source(source: KeyedSource) -> &'static str {
    match source {
        KeyedSource::Typed => "typed",
        KeyedSource::Proposal => "proposal",
        KeyedSource::Alternative => "alternative",
        KeyedSource::Roster => "roster",
        KeyedSource::Ditto => "sheet before",
        KeyedSource::Carried => "carried",
    }
}

/// RFC 3339 in UTC; empty for what is beyond the calendar.
fn time(milliseconds: i64) -> String {
    Timestamp::from_millisecond(milliseconds).map_or(String::new(), |at| at.to_string())
}

/// The repeat scans: the sheet, the sheet before it that is none, its file name, who said so and when.
pub fn rescans_csv(records: &[Record], names: &FileNames) -> Vec<u8> {
    let mut sorted: Vec<&Record> = records.iter().collect();
    sorted.sort_by(|a, b| drawer_order(a.sheet.as_str(), b.sheet.as_str()));
    let mut rows = Vec::new();
    let mut before: Option<&SheetId> = None;
    for record in sorted {
        if record.kind != SheetKind::RepeatScan {
            before = Some(&record.sheet);
            continue;
        }
        let entry = record.entry.as_ref();
        rows.push(vec![
            record.sheet.as_str().to_owned(),
            before.map_or(String::new(), |sheet| sheet.as_str().to_owned()),
            before
                .and_then(|sheet| names.get(sheet))
                .unwrap_or_default()
                .to_owned(),
            entry.map_or(String::new(), |entry| entry.by.clone()),
            entry.map_or(String::new(), |entry| time(entry.at)),
        ]);
    }
    let header = ["sheet", "sheet_before", "file_name_of_it", "by", "at"];
    list(&header, rows.into_iter())
}

/// The lines that were read on each sheet's strip, for searching.
pub type StripTexts = BTreeMap<SheetId, Vec<String>>;

/// What was read on the strips of these records' sheets, a row a line: file name, sheet, number of the line from 1, and
/// the line as the reader has it, which nobody corrected.
pub fn strips_csv(records: &[Record], names: &FileNames, texts: &StripTexts) -> Vec<u8> {
    let mut sheets: Vec<&SheetId> = records.iter().map(|record| &record.sheet).collect();
    sheets.sort_by(|a, b| drawer_order(a.as_str(), b.as_str()));
    sheets.dedup();
    let rows = sheets.into_iter().flat_map(|sheet| {
        let lines = texts.get(sheet).map_or(&[][..], Vec::as_slice);
        (1..).zip(lines).map(|(number, line): (usize, _)| {
            vec![
                names.get(sheet).unwrap_or_default().to_owned(),
                sheet.as_str().to_owned(),
                number.to_string(),
                line.clone(),
            ]
        })
    });
    list(&["file_name", "sheet", "line", "as_read"], rows)
}

/// The roster's rows to whose keys no record is linked, as the client wrote them.
pub fn unused_roster_csv(roster: &Roster, records: &[Record]) -> Vec<u8> {
    let rows = unused_rows(roster, records).into_iter().map(|row| {
        let columns = roster.columns().iter();
        columns
            .map(|column| roster.cell(row, column).unwrap_or_default().to_owned())
            .collect()
    });
    let header: Vec<&str> = roster.columns().iter().map(String::as_str).collect();
    list(&header, rows)
}

/// The roster's rows to whose keys no record is linked.
pub fn unused_rows(roster: &Roster, records: &[Record]) -> Vec<usize> {
    let used: HashSet<&str> = records
        .iter()
        .filter(|record| record.is_indexed())
        .filter_map(|record| record.roster_key.as_deref())
        .collect();
    (0..roster.len())
        .filter(|&row| !used.contains(roster.key(row)))
        .collect()
}

fn list(header: &[&str], rows: impl Iterator<Item = Vec<String>>) -> Vec<u8> {
    let header: Vec<String> = header.iter().map(|&title| title.to_owned()).collect();
    csv_of(&std::iter::once(header).chain(rows).collect::<Vec<_>>())
}
