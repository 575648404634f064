//! Fields in, ranked rows of the client's roster out, with an explicit "none of these".
//!
//! A [`Table`] is the client's CSV as it came; a [`Roster`] is a table made ready for questions by a [`Schema`] that
//! says which columns hold what. A [`Query`] holds what a strip may say; [`Roster::rank`] answers with the rows that
//! may be meant. Prepare once, ask many times.
//!
//! The model is that of Fellegi and Sunter (1969): the weight of a row is a sum over columns of the log of
//! P(what was read | this row) / P(what was read | somebody not in the roster). Three things keep its probabilities
//! honest: the numerator allows for misreadings and slips (`slips`), every column may hold a value that has
//! nothing to do with the row (`compare`), and "not in the roster" has a prior and a likelihood of its own (`rank`).

mod compare;
mod difference;
mod fold;
mod names;
mod rank;
mod search;
mod slips;
mod spelling;
mod table;
mod whole;
mod years;

pub use difference::{
    ChangedCell, ChangedRow, Difference, GoneRow, KeyTwice, KeyedRow, is_another,
};
pub use table::{Table, TableError};

use crate::value::{Finding, Probability, Severity, Station};
use compare::Column;
use serde::{Deserialize, Serialize};
use slips::Slips;
use std::collections::HashMap;
use std::path::Path;
use std::sync::OnceLock;

/// What is known of a sheet when the roster is asked: per roster column, the values it may have with probabilities.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Query {
    /// Columns whose values were read independently of each other.
    pub columns: Vec<QueryColumn>,
    /// Columns whose values hang together, such as a surname and forenames cut out of one line in several ways.
    pub joint: Vec<QueryJoint>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct QueryColumn {
    /// The roster's column.
    pub column: String,
    /// Values as typed with their probabilities, best first; may be empty (not on the strip).
    pub values: Vec<(String, Probability)>,
}

/// Alternatives for several columns at once.
#[derive(Debug, Clone, PartialEq)]
pub struct QueryJoint {
    /// The roster's columns.
    pub columns: Vec<String>,
    /// One value for each column (empty: not on the strip), and the probability of them all together.
    pub values: Vec<(Vec<String>, Probability)>,
}

/// What is believed before anything is read.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Prior {
    /// Share of sheets whose person or thing the roster holds.
    pub in_roster: Probability,
}

/// Common practice, no source: a client's roster lacks up to one in ten of the people in old drawers.
pub const USUAL_SHARE_IN_ROSTER: f64 = 0.9;

impl Default for Prior {
    fn default() -> Self {
        Self {
            in_roster: Probability::new(USUAL_SHARE_IN_ROSTER),
        }
    }
}

/// The rows that may be meant, best first, and how probable it is that none of them is.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Ranking {
    pub rows: Vec<RankedRow>,
    /// Probability that the person or thing is not in the roster; with the rows' it adds up to 1 at most.
    pub none: Probability,
    /// Natural log of how much better the roster as a whole explains the query than the population does: it weighs
    /// one way of cutting a strip into fields against another.
    pub evidence: f64,
}

/// A row that may be meant.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RankedRow {
    /// Index into the roster's rows.
    pub row: usize,
    pub probability: Probability,
    /// The prior first, then each column; the weights add up to ln P(this row) / P(not in the roster).
    pub reasons: Vec<Reason>,
}

/// One column's part in a row's weight.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reason {
    /// Empty for the prior.
    pub column: String,
    /// Natural log of the likelihood ratio: this row against a person not in the roster.
    pub weight: f64,
    /// In words: "number agrees", "surname agrees but for one letter".
    pub words: String,
}

/// How a value goes with a row's cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Agreement {
    /// The same but for case, accents and signs; of forenames, the same words or their initials from the first on.
    Full,
    NotFull,
    /// One of the two says nothing.
    Silent,
}

/// How the values of a roster column are compared with what was typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ColumnKind {
    Surname,
    Forenames,
    /// A number or code: character by character, letters and digits only.
    Code,
    /// A year, or a date of which the year counts.
    Year,
    /// Anything else: compared as one string.
    Text,
}

/// Which of a table's columns are asked about, and which identifies a row.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Schema {
    pub key: String,
    pub columns: Vec<(String, ColumnKind)>,
}

/// A client's list, ready for questions.
///
/// ```
/// use headword::roster::{ColumnKind, Prior, Query, QueryColumn, Roster, Schema, Table};
/// use headword::value::Probability;
///
/// let (table, _) = Table::from_reader(&b"number,surname\n1041,DALTON\n2377,QUAYLE\n"[..])?;
/// let columns = [("number", ColumnKind::Code), ("surname", ColumnKind::Surname)];
/// let columns = columns.map(|(name, kind)| (name.to_owned(), kind)).to_vec();
/// let (roster, _) = Roster::prepare(table, &Schema { key: "number".to_owned(), columns })?;
/// let surname = QueryColumn {
///     column: "surname".to_owned(),
///     values: vec![("QUAYIE".to_owned(), Probability::new(0.9))],
/// };
/// let query = Query { columns: vec![surname], ..Query::default() };
/// let ranking = roster.rank(&query, Prior::default(), 5);
/// assert_eq!(roster.key(ranking.rows[0].row), "2377");
/// assert_eq!(ranking.rows[0].reasons[1].words, "surname agrees but for one letter: QUAYIE / QUAYLE");
/// # Ok::<(), headword::roster::TableError>(())
/// ```
#[derive(Debug)]
pub struct Roster {
    table: Table,
    key: usize,
    /// In the schema's order.
    asked: Vec<Column>,
    /// Made when somebody first searches.
    searcher: OnceLock<search::Searcher>,
    /// The first row of each key, made when a row is first asked for by its key.
    by_key: OnceLock<HashMap<String, usize>>,
}

/// At most this many findings of one sort are listed; the rest are counted.
const LISTED_FINDINGS: usize = 20;

impl Roster {
    /// Reads a CSV file and makes it ready.
    pub fn load(path: &Path, schema: &Schema) -> Result<(Self, Vec<Finding>), TableError> {
        let (table, mut findings) = Table::load(path)?;
        let (roster, more) = Self::prepare(table, schema)?;
        findings.extend(more);
        Ok((roster, findings))
    }

    /// Makes a table ready for questions; findings name rows without a key and keys that stand twice.
    pub fn prepare(table: Table, schema: &Schema) -> Result<(Self, Vec<Finding>), TableError> {
        let find = |column: &String| {
            table
                .column(column)
                .ok_or_else(|| TableError::MissingColumn {
                    column: column.clone(),
                    found: table.columns().join(", "),
                })
        };
        let key = find(&schema.key)?;
        let asked = schema
            .columns
            .iter()
            .map(|(column, kind)| {
                let at = find(column)?;
                let cells = (0..table.len()).map(|row| table.cell(row, at));
                Ok(Column::prepare(column, *kind, cells))
            })
            .collect::<Result<_, _>>()?;
        let findings = key_findings(&table, key);
        let roster = Self {
            table,
            key,
            asked,
            searcher: OnceLock::new(),
            by_key: OnceLock::new(),
        };
        Ok((roster, findings))
    }

    /// The header's names.
    pub fn columns(&self) -> &[String] {
        self.table.columns()
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.table.len()
    }

    pub fn is_empty(&self) -> bool {
        self.table.len() == 0
    }

    /// A cell as the file has it; `None` where the roster has no such row or column.
    pub fn cell(&self, row: usize, column: &str) -> Option<&str> {
        let at = self.table.column(column)?;
        (row < self.len()).then(|| self.table.cell(row, at))
    }

    /// What identifies the row: the key column's cell, empty for a row that does not exist.
    pub fn key(&self, row: usize) -> &str {
        if row < self.len() {
            self.table.cell(row, self.key)
        } else {
            ""
        }
    }

    /// The kind of a column that is asked about.
    pub fn kind(&self, column: &str) -> Option<ColumnKind> {
        self.asked
            .iter()
            .find(|asked| asked.name() == column)
            .map(Column::kind)
    }

    /// The rows that may be meant, at most `limit` of them, by exact search over all rows.
    pub fn rank(&self, query: &Query, prior: Prior, limit: usize) -> Ranking {
        rank::rank(&self.asked, self.len(), query, prior, limit)
    }

    /// Rows that hold every word of a text somewhere, in any column, without regard to case and accents; those where
    /// a cell begins with the longest word come first. At most `limit`.
    pub fn search(&self, text: &str, limit: usize) -> Vec<usize> {
        let searcher = self
            .searcher
            .get_or_init(|| search::Searcher::prepare(&self.table));
        searcher.search(text, limit)
    }

    /// The first row with this key.
    pub fn row_of(&self, key: &str) -> Option<usize> {
        let by_key = self.by_key.get_or_init(|| {
            let keys = (0..self.len()).map(|row| (self.key(row).to_owned(), row));
            // Later ones come first, so that the first stays.
            keys.rev().collect()
        });
        by_key.get(key).copied()
    }

    /// For each row, and each value that the strip may say in `column`: natural log of P(value | the row's cell) /
    /// P(value | any string of its length). All 0 for a row without a value there; `None` for a column that is not
    /// asked about. Only a typist's slips are allowed for: what the reader may have misread is not a matter of the row.
    pub fn likelihoods(
        &self,
        column: &str,
        values: &[&str],
        rows: &[usize],
    ) -> Option<Vec<Vec<f64>>> {
        let asked = self.asked.iter().find(|asked| asked.name() == column)?;
        let compared: Vec<_> = values
            .iter()
            .map(|value| asked.compare(value, Slips::Typed))
            .collect();
        let of_row = |&row: &usize| {
            let has_value = asked.has_value(row);
            let of_value = |compared: &compare::Compared| match has_value {
                true => asked.ratio(compared, row).ln() + compared.ln_lift,
                false => 0.0,
            };
            compared.iter().map(of_value).collect()
        };
        Some(rows.iter().map(of_row).collect())
    }

    /// How a value compares with the row's cell, in the words of [`Reason`]; `None` as for [`Self::agreement`].
    pub fn explain(&self, row: usize, column: &str, value: &str) -> Option<String> {
        let asked = self.asked(row, column)?;
        let compared = asked.compare(value, Slips::TypedAndRead);
        Some(asked.explain(&compared, row).1)
    }

    /// Whether a value is what a typist without slips may have made of the row's cell; `None` for a column that is
    /// not asked about or a row that does not exist.
    pub fn agreement(&self, row: usize, column: &str, value: &str) -> Option<Agreement> {
        Some(self.asked(row, column)?.agreement(row, value))
    }

    /// The row's value in the form in which `value` was typed: as many forenames, initials where it has initials,
    /// the year of a date. `None` where the row has nothing to say.
    pub fn as_typed_like(&self, row: usize, column: &str, value: &str) -> Option<String> {
        let cell = self.cell(row, column)?;
        let like = self.asked(row, column)?.as_typed_like(row, cell, value)?;
        Some(like).filter(|like| !like.is_empty())
    }

    fn asked(&self, row: usize, column: &str) -> Option<&Column> {
        let asked = self.asked.iter().find(|asked| asked.name() == column);
        asked.filter(|_| row < self.len())
    }
}

fn key_findings(table: &Table, key: usize) -> Vec<Finding> {
    let name = &table.columns()[key];
    let mut seen: HashMap<&str, usize> = HashMap::with_capacity(table.len());
    let (mut twice, mut empty) = (Vec::new(), Vec::new());
    for row in 0..table.len() {
        let value = table.cell(row, key);
        let line = table.line(row);
        if value.is_empty() {
            empty.push(format!(
                "roster line {line}, column {} ({name}): expected a key, found nothing; the row can be found but not told from others",
                key + 1
            ));
        } else if let Some(&first) = seen.get(value) {
            twice.push(format!(
                "roster line {line}, column {} ({name}): the key {} stands in line {} already; both rows are kept, correct one of them",
                key + 1,
                crate::value::shown(value),
                table.line(first)
            ));
        } else {
            seen.insert(value, row);
        }
    }
    let mut findings = Vec::new();
    listed(&mut findings, Severity::Warning, "roster-key-twice", twice);
    listed(&mut findings, Severity::Warning, "roster-key-empty", empty);
    findings
}

/// Adds the messages as findings, the first few in full and the rest as a count.
fn listed(findings: &mut Vec<Finding>, severity: Severity, code: &str, messages: Vec<String>) {
    let more = messages.len().saturating_sub(LISTED_FINDINGS);
    let shown = messages.into_iter().take(LISTED_FINDINGS);
    findings.extend(shown.map(|text| Finding::new(severity, Station::Roster, code, text)));
    if more > 0 {
        let text = format!("roster: {more} more findings like the last");
        findings.push(Finding::new(severity, Station::Roster, code, text));
    }
}

#[cfg(test)]
mod tests;
