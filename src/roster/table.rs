//! The client's CSV file as it came: header, cells, and where each fault stands.

use super::listed;
use crate::value::{Finding, Severity, Station};
use std::io::Read;
use std::path::Path;

/// A CSV file in memory; every row has a cell for every column of the header.
#[derive(Debug, Clone, Default)]
pub struct Table {
    columns: Vec<String>,
    /// All cells one after another, row by row.
    text: String,
    /// Where each cell ends in `text`.
    ends: Vec<u32>,
    /// The line of the file on which each row begins, from 1.
    lines: Vec<u32>,
}

/// Why a roster cannot be used at all.
#[derive(Debug, thiserror::Error)]
pub enum TableError {
    #[error(
        "roster {path}: expected a CSV file that can be read, found: {source}; check the path and its permissions"
    )]
    Open {
        path: String,
        source: std::io::Error,
    },
    #[error(
        "roster: the file is empty; expected a header line with the names of the columns, then one line a row"
    )]
    Empty,
    #[error(
        "roster byte {at}: expected text, found a zero byte; the file is not CSV, export it again as CSV in UTF-8"
    )]
    NotText { at: usize },
    #[error(
        "roster line 1: expected a column named {column}, found: {found}; correct the job's column name or the file's header"
    )]
    MissingColumn { column: String, found: String },
    #[error("roster: {size} bytes are more than the 4 GiB that can be held; split the file")]
    TooLarge { size: usize },
    #[error("roster line {line}: {source}")]
    Csv { line: u64, source: csv::Error },
}

/// Separators that spreadsheets write, the standard's own first (RFC 4180: comma).
const SEPARATORS: [u8; 3] = [b',', b';', b'\t'];

impl Table {
    /// Reads a CSV file; see [`Table::from_reader`].
    pub fn load(path: &Path) -> Result<(Self, Vec<Finding>), TableError> {
        let open = |source| TableError::Open {
            path: path.display().to_string(),
            source,
        };
        let bytes = std::fs::read(path).map_err(open)?;
        Self::from_bytes(&bytes)
    }

    /// Reads CSV after RFC 4180, and what differs from it in ways that leave no doubt: a byte order mark, any line
    /// ends, semicolons or tabs for commas, UTF-16, Windows-1252, rows too short or too long. Each is a finding.
    pub fn from_reader(mut reader: impl Read) -> Result<(Self, Vec<Finding>), TableError> {
        let mut bytes = Vec::new();
        reader
            .read_to_end(&mut bytes)
            .map_err(|source| TableError::Open {
                path: "(stream)".to_owned(),
                source,
            })?;
        Self::from_bytes(&bytes)
    }

    fn from_bytes(bytes: &[u8]) -> Result<(Self, Vec<Finding>), TableError> {
        let mut findings = Vec::new();
        let decoded = decode(bytes, &mut findings)?;
        if decoded.trim().is_empty() {
            return Err(TableError::Empty);
        }
        if u32::try_from(decoded.len()).is_err() {
            return Err(TableError::TooLarge {
                size: decoded.len(),
            });
        }
        let table = parse(&decoded, &mut findings)?;
        if table.is_empty() {
            findings.push(Finding::new(
                Severity::Warning,
                Station::Roster,
                "roster-empty",
                "roster: expected one line a row after the header, found none; every sheet will be \"not in the roster\"",
            ));
        }
        Ok((table, findings))
    }

    /// The header's names.
    pub fn columns(&self) -> &[String] {
        &self.columns
    }

    /// Index of a column by its name; upper and lower case and blanks around it do not count.
    pub fn column(&self, name: &str) -> Option<usize> {
        let wanted = name.trim().to_lowercase();
        self.columns
            .iter()
            .position(|column| column.to_lowercase() == wanted)
    }

    /// Number of rows below the header.
    pub fn len(&self) -> usize {
        self.lines.len()
    }

    pub fn is_empty(&self) -> bool {
        self.lines.is_empty()
    }

    /// A cell without the blanks around it; both indices must exist.
    pub fn cell(&self, row: usize, column: usize) -> &str {
        let at = row * self.columns.len() + column;
        let start = if at == 0 { 0 } else { self.ends[at - 1] };
        &self.text[start as usize..self.ends[at] as usize]
    }

    /// The line of the file on which a row begins, from 1.
    pub fn line(&self, row: usize) -> u32 {
        self.lines[row]
    }
}

/// UTF-8, else UTF-16 by its mark, else Windows-1252.
fn decode(bytes: &[u8], findings: &mut Vec<Finding>) -> Result<String, TableError> {
    let mut note = |message: String| {
        let code = "roster-encoding";
        findings.push(Finding::new(
            Severity::Warning,
            Station::Roster,
            code,
            message,
        ));
    };
    if let [0xff, 0xfe, rest @ ..] | [0xfe, 0xff, rest @ ..] = bytes {
        let little = bytes[0] == 0xff;
        let units = rest.chunks_exact(2).map(|pair| match little {
            true => u16::from_le_bytes([pair[0], pair[1]]),
            false => u16::from_be_bytes([pair[0], pair[1]]),
        });
        note(
            "roster line 1: expected UTF-8, found UTF-16 by its first two bytes; read as that"
                .to_owned(),
        );
        return Ok(char::decode_utf16(units)
            .map(|unit| unit.unwrap_or(char::REPLACEMENT_CHARACTER))
            .collect());
    }
    if let Some(at) = bytes.iter().position(|&byte| byte == 0) {
        return Err(TableError::NotText { at });
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text.trim_start_matches('\u{feff}').to_owned()),
        Err(error) => {
            let before = &bytes[..error.valid_up_to()];
            let line = before.iter().filter(|&&byte| byte == b'\n').count() + 1;
            let start = before.iter().rposition(|&byte| byte == b'\n');
            let byte = error.valid_up_to() - start.map_or(0, |at| at + 1) + 1;
            note(format!(
                "roster line {line}, byte {byte}: expected UTF-8, found byte {:#04x}; the whole file is read as Windows-1252, look at names with accents or export it again as UTF-8",
                bytes[error.valid_up_to()]
            ));
            Ok(bytes.iter().map(|&byte| windows_1252(byte)).collect())
        }
    }
}

/// The character that a byte stands for (Unicode's mapping table CP1252.TXT, from memory; its five unassigned bytes
/// stay as control characters, as the WHATWG encoding standard has them).
fn windows_1252(byte: u8) -> char {
    const HIGH: [char; 32] = [
        '€', '\u{81}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{8d}', 'Ž',
        '\u{8f}', '\u{90}', '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{9d}',
        'ž', 'Ÿ',
    ];
    match byte {
        0x80..=0x9f => HIGH[usize::from(byte - 0x80)],
        _ => char::from(byte),
    }
}

fn parse(text: &str, findings: &mut Vec<Finding>) -> Result<Table, TableError> {
    let separator = separator(text, findings);
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .from_reader(text.as_bytes());
    let mut table = Table::default();
    let (mut short, mut long) = (Vec::new(), Vec::new());
    let mut record = csv::StringRecord::new();
    let mut last_start = 0;
    loop {
        // The reader's own position stands before any line breaks that it skips; the record's is exact.
        match reader.read_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            Err(source) => {
                let line = source.position().map_or(0, csv::Position::line);
                return Err(TableError::Csv { line, source });
            }
        }
        let position = record
            .position()
            .cloned()
            .unwrap_or_else(csv::Position::new);
        let (line, start) = record_start(text, &position);
        last_start = start;
        if table.columns.is_empty() {
            table.columns = header(&record, findings);
            continue;
        }
        let width = table.columns.len();
        if record.len() < width {
            short.push(format!(
                "roster line {line}, column {}: expected {width} cells, found {}; the rest are taken as empty",
                record.len() + 1,
                record.len()
            ));
        } else if record
            .iter()
            .skip(width)
            .any(|cell| !cell.trim().is_empty())
        {
            long.push(format!(
                "roster line {line}, column {}: expected {width} cells, found {}; those beyond are not used, look for a comma that wants quotes",
                width + 1,
                record.len()
            ));
        }
        for at in 0..width {
            table.text.push_str(record.get(at).unwrap_or("").trim());
            table.ends.push(table.text.len() as u32);
        }
        table.lines.push(line as u32);
    }
    if text[last_start..].matches('"').count() % 2 == 1 {
        let line = text[..last_start].matches('\n').count() + 1;
        let message = format!(
            "roster line {line}: a quotation mark is opened and not closed before the end of the file; every line after it was taken into one cell, close it or double it"
        );
        let code = "roster-quote-open";
        findings.push(Finding::new(
            Severity::Warning,
            Station::Roster,
            code,
            message,
        ));
    }
    listed(findings, Severity::Warning, "roster-row-short", short);
    listed(findings, Severity::Warning, "roster-row-long", long);
    Ok(table)
}

/// The line and byte at which a record's text begins: its position may stand before blank lines and the second half
/// of a CRLF, which the reader skips with the record.
fn record_start(text: &str, position: &csv::Position) -> (u64, usize) {
    let at = (position.byte() as usize).min(text.len());
    let skipped = text[at..].len() - text[at..].trim_start_matches(['\r', '\n']).len();
    let breaks = text[at..at + skipped].matches('\n').count() as u64;
    (position.line() + breaks, at + skipped)
}

/// The separator that stands most often in the header.
fn separator(text: &str, findings: &mut Vec<Finding>) -> u8 {
    let header = text.trim_start().lines().next().unwrap_or("");
    let count = |separator: u8| header.bytes().filter(|&byte| byte == separator).count();
    let mut best = SEPARATORS[0];
    for candidate in SEPARATORS {
        if count(candidate) > count(best) {
            best = candidate;
        }
    }
    if best != SEPARATORS[0] {
        let found = if best == b'\t' { "tabs" } else { "semicolons" };
        let message = format!(
            "roster line 1: expected commas between the columns, found {found}; read as that"
        );
        let code = "roster-separator";
        findings.push(Finding::new(Severity::Note, Station::Roster, code, message));
    }
    best
}

/// The columns' names; what has none is named after its place, what is named twice keeps the name only once.
fn header(record: &csv::StringRecord, findings: &mut Vec<Finding>) -> Vec<String> {
    let mut columns: Vec<String> = Vec::new();
    for (at, cell) in record.iter().enumerate() {
        let (name, place) = (cell.trim(), at + 1);
        let earlier = columns
            .iter()
            .position(|column| column.eq_ignore_ascii_case(name));
        let fault = match (name.is_empty(), earlier) {
            (true, _) => "expected a name, found nothing".to_owned(),
            (_, Some(first)) => format!("the name {name} stands in column {} already", first + 1),
            _ => {
                columns.push(name.to_owned());
                continue;
            }
        };
        let message = format!(
            "roster line 1, column {place}: {fault}; it can be asked for as \"column {place}\""
        );
        let code = "roster-header";
        findings.push(Finding::new(
            Severity::Warning,
            Station::Roster,
            code,
            message,
        ));
        columns.push(format!("column {place}"));
    }
    columns
}

#[cfg(test)]
mod tests;
