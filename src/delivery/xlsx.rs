//! The index as a workbook in which every cell is text, so that leading zeros stay and nothing is taken for a formula.

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Workbook, XlsxError};
use std::borrow::Cow;
use thiserror::Error;

/// Limits of a worksheet (ECMA-376 leaves them open; Microsoft, "Excel specifications and limits").
const MOST_ROWS: usize = 1_048_576;
const MOST_COLUMNS: usize = 16_384;
/// UTF-16 code units of a cell.
const LONGEST_CELL: usize = 32_767;

/// Why there is no workbook. The index is whole as CSV.
#[derive(Debug, Error)]
pub enum XlsxFault {
    #[error(
        "index.xlsx was left out: a worksheet holds {MOST_ROWS} rows of {MOST_COLUMNS} cells, the index has {rows} of \
         {columns}; use index.csv"
    )]
    TooLarge { rows: usize, columns: usize },
    #[error(
        "index.xlsx was left out: a cell holds {LONGEST_CELL} characters, row {row} of the index has one of {found}; use \
         index.csv"
    )]
    TooLong { row: usize, found: usize },
    #[error("index.xlsx could not be made ({0}); use index.csv")]
    Workbook(#[from] XlsxError),
}

/// The rows, titles first, as a workbook with one sheet. The same rows give the same bytes.
pub fn xlsx_of(rows: &[Vec<String>]) -> Result<Vec<u8>, XlsxFault> {
    let columns = rows.iter().map(Vec::len).max().unwrap_or_default();
    if rows.len() > MOST_ROWS || columns > MOST_COLUMNS {
        return Err(XlsxFault::TooLarge {
            rows: rows.len(),
            columns,
        });
    }
    let text = Format::new().set_num_format("@");
    let title = Format::new().set_num_format("@").set_bold();
    let mut workbook = Workbook::new();
    // A file that tells the time would be another one at every run.
    let no_time = ExcelDateTime::from_ymd(2000, 1, 1)?;
    workbook.set_properties(&DocProperties::new().set_creation_datetime(&no_time));
    let sheet = workbook.add_worksheet().set_name("index")?;
    sheet.set_freeze_panes(1, 1)?;
    for (row, values) in rows.iter().enumerate() {
        for (column, value) in values.iter().enumerate() {
            let value = escaped(value);
            let found = value.encode_utf16().count();
            if found > LONGEST_CELL {
                return Err(XlsxFault::TooLong { row, found });
            }
            let format = if row == 0 { &title } else { &text };
            sheet.write_string_with_format(row as u32, column as u16, value, format)?;
        }
    }
    Ok(workbook.save_to_buffer()?)
}

/// Strings of a workbook stand for control characters by `_x000D_` and the like (ECMA-376-1, ST_Xstring); the library
/// writes those of control characters, so what only looks like one has its first sign written so.
fn escaped(value: &str) -> Cow<'_, str> {
    let looks = |at: usize| {
        let rest = &value.as_bytes()[at..];
        rest.len() >= 7
            && rest.starts_with(b"_x")
            && rest[2..6].iter().all(u8::is_ascii_hexdigit)
            && rest[6] == b'_'
    };
    if !(0..value.len()).any(looks) {
        return Cow::Borrowed(value);
    }
    let written = value.char_indices().map(|(at, c)| match looks(at) {
        true => "_x005F_".to_owned(),
        false => c.to_string(),
    });
    Cow::Owned(written.collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_looks_like_an_escape_is_escaped_and_what_is_too_long_is_refused() {
        for (value, written) in [
            ("_x0041_", "_x005F_x0041_"),
            ("é_x00e9_x000D_", "é_x005F_x00e9_x005F_x000D_"),
            ("_x41_ _x004_", "_x41_ _x004_"),
            ("_x004", "_x004"),
        ] {
            assert_eq!(escaped(value), written);
        }
        let row = |length: usize| vec![vec!["x".repeat(length)]];
        assert!(xlsx_of(&row(LONGEST_CELL)).is_ok());
        assert!(matches!(
            xlsx_of(&row(LONGEST_CELL + 1)),
            Err(XlsxFault::TooLong { row: 0, .. })
        ));
        let wide = vec![vec![String::new(); MOST_COLUMNS + 1]];
        assert!(matches!(xlsx_of(&wide), Err(XlsxFault::TooLarge { .. })));
    }
}
