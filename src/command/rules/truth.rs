//! What is really on the sheets, as far as somebody says so: a CSV file with a column `sheet` and one a field.

use crate::value::shown;
use csv::StringRecord;
use std::collections::HashMap;
use std::path::Path;

/// The column that names the sheet.
const SHEET: &str = "sheet";
/// Faults told one by one.
const FAULTS_SHOWN: usize = 20;

/// The sheets' true values.
#[derive(Debug, Default)]
pub struct Truth {
    /// The columns beside `sheet`.
    pub columns: Vec<String>,
    /// By sheet: the values, in the columns' order.
    values: HashMap<String, Vec<String>>,
}

impl Truth {
    /// Reads the file.
    ///
    /// # Errors
    /// Every line that is no row of the table, in words, with its place.
    pub fn load(path: &Path) -> Result<Self, String> {
        let name = path.display();
        let mut reader = csv::ReaderBuilder::new()
            .flexible(true)
            .from_path(path)
            .map_err(|fault| {
                format!(
                    "{name}: expected a CSV file of true values, found: {fault}; check the path"
                )
            })?;
        let header = reader.headers().map_err(|fault| {
            format!(
                "{name}:1: expected a header line, found: {fault}; save the file as CSV in UTF-8"
            )
        })?;
        let header: Vec<String> = header
            .iter()
            .map(|column| column.trim_start_matches('\u{feff}').trim().to_owned())
            .collect();
        let Some(sheet_at) = header.iter().position(|column| column == SHEET) else {
            return Err(format!(
                "{name}:1: expected a column `{SHEET}` with the sheets' file names, found {}; \
                 name the columns in the first line, as sheet,surname,number",
                shown(&header.join(", "))
            ));
        };
        let mut truth = Self {
            columns: without(&header, sheet_at),
            values: HashMap::new(),
        };
        let (mut faults, mut more) = (Vec::new(), 0);
        let mut row = StringRecord::new();
        loop {
            let line = reader.position().line();
            let fault = match reader.read_record(&mut row) {
                Ok(false) => break,
                Err(fault) => format!("expected a row in UTF-8, found: {fault}; correct this line"),
                Ok(true) if row.len() != header.len() => format!(
                    "expected {} values as in the first line, found {}; correct this line",
                    header.len(),
                    row.len()
                ),
                Ok(true) => {
                    let row: Vec<String> = row.iter().map(str::to_owned).collect();
                    let sheet = row[sheet_at].clone();
                    match truth.values.insert(sheet, without(&row, sheet_at)) {
                        None => continue,
                        Some(_) => format!(
                            "expected every sheet once, found `{}` a second time; leave one out",
                            shown(&row[sheet_at])
                        ),
                    }
                }
            };
            if faults.len() < FAULTS_SHOWN {
                faults.push(format!("{name}:{line}: {fault}"));
            } else {
                more += 1;
            }
        }
        if more > 0 {
            faults.push(format!("... and {more} more faults"));
        }
        if faults.is_empty() {
            Ok(truth)
        } else {
            Err(faults.join("\n"))
        }
    }

    /// A sheet's true values with their columns; `None` where nothing is said of it.
    pub fn of(&self, sheet: &str) -> Option<impl Iterator<Item = (&str, &str)>> {
        let values = self.values.get(sheet)?.iter();
        let columns = self.columns.iter().map(String::as_str);
        Some(columns.zip(values.map(String::as_str)))
    }
}

fn without(row: &[String], at: usize) -> Vec<String> {
    let mut row = row.to_vec();
    row.remove(at);
    row
}
