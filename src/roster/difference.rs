//! What differs between a roster and the one that is to take its place, row by row, by their keys.

use super::{ColumnKind, Roster, fold};
use serde::Serialize;
use std::collections::HashMap;
use std::collections::hash_map::Entry;

/// Names that agree in fewer than half of their characters (Damerau and Levenshtein's distance) are no spellings of one
/// name. Our own choice: slips and accents change a character or two, an initial spelled out stays within its word.
const ALIKE: f64 = 0.5;

/// Every difference, in the order of the rosters' rows.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Difference {
    /// Rows before and now.
    pub rows: [usize; 2],
    pub columns_added: Vec<String>,
    pub columns_gone: Vec<String>,
    pub added: Vec<KeyedRow>,
    pub gone: Vec<GoneRow>,
    pub changed: Vec<ChangedRow>,
    /// Keys that stand in several rows of the new roster; the first counts.
    pub twice: Vec<KeyTwice>,
    /// Rows without a key, before and now, which cannot be compared.
    pub without_key: [usize; 2],
}

/// A row by its key, and the line of its file on which it begins.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct KeyedRow {
    pub key: String,
    pub line: u32,
}

/// A row that the new roster does not have.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct GoneRow {
    pub key: String,
    /// In the file before.
    pub line: u32,
    /// The key of the one added row that says the same in every other column that the job uses: perhaps it was
    /// renumbered.
    pub perhaps_now: Option<String>,
}

/// A row that says something else under the same key.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ChangedRow {
    pub key: String,
    pub line: u32,
    pub cells: Vec<ChangedCell>,
    /// Nothing that names the person or thing is like what it was: the key was given to another.
    pub is_another: bool,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ChangedCell {
    pub column: String,
    pub before: String,
    pub now: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct KeyTwice {
    pub key: String,
    pub lines: Vec<u32>,
}

impl Difference {
    pub fn is_empty(&self) -> bool {
        self.added.is_empty()
            && self.gone.is_empty()
            && self.changed.is_empty()
            && self.columns_added.is_empty()
            && self.columns_gone.is_empty()
    }

    /// Rows whose key names somebody or something else now.
    pub fn others(&self) -> impl Iterator<Item = &ChangedRow> {
        self.changed.iter().filter(|row| row.is_another)
    }
}

impl Roster {
    /// What differs in `newer`, which was prepared by the same schema.
    pub fn difference(&self, newer: &Self) -> Difference {
        let before = by_key(self);
        let now = by_key(newer);
        let columns: Vec<(usize, usize)> = (0..self.columns().len())
            .filter_map(|at| Some((at, newer.table.column(&self.columns()[at])?)))
            .collect();
        let missing = |from: &Self, of: &Self| -> Vec<String> {
            let columns = of.columns().iter();
            let is_missing = |column: &&String| from.table.column(column).is_none();
            columns.filter(is_missing).cloned().collect()
        };
        let mut found = Difference {
            rows: [self.len(), newer.len()],
            columns_added: missing(self, newer),
            columns_gone: missing(newer, self),
            without_key: [self, newer].map(|roster| {
                let rows = 0..roster.len();
                rows.filter(|&row| roster.key(row).is_empty()).count()
            }),
            ..Difference::default()
        };
        let mut values: HashMap<Vec<&str>, Vec<&str>> = HashMap::new();
        for (key, more) in &now.more {
            let rows = std::iter::once(&now.first[key]).chain(more);
            found.twice.push(KeyTwice {
                key: (*key).to_owned(),
                lines: rows.map(|&row| newer.table.line(row)).collect(),
            });
        }
        found.twice.sort_by_key(|twice| twice.lines[0]);
        for key in now
            .order
            .iter()
            .filter(|key| !before.first.contains_key(*key))
        {
            let beside = newer.beside_key(now.first[key]);
            values.entry(beside).or_default().push(key);
        }
        for key in &now.order {
            let row = now.first[key];
            let line = newer.table.line(row);
            let Some(&old) = before.first.get(key) else {
                let key = (*key).to_owned();
                found.added.push(KeyedRow { key, line });
                continue;
            };
            let cells: Vec<ChangedCell> = columns
                .iter()
                .filter_map(|&(was, is)| {
                    let (before, now) = (self.table.cell(old, was), newer.table.cell(row, is));
                    (before != now).then(|| ChangedCell {
                        column: self.columns()[was].clone(),
                        before: before.to_owned(),
                        now: now.to_owned(),
                    })
                })
                .collect();
            if !cells.is_empty() {
                let names = self.names().map(|column| {
                    let (was, is) = (self.cell(old, column), newer.cell(row, column));
                    (was.unwrap_or_default(), is.unwrap_or_default())
                });
                let is_another = is_another(names);
                found.changed.push(ChangedRow {
                    key: (*key).to_owned(),
                    line,
                    cells,
                    is_another,
                });
            }
        }
        for key in before
            .order
            .iter()
            .filter(|key| !now.first.contains_key(*key))
        {
            let row = before.first[key];
            let beside = self.beside_key(row);
            // One value is too little to know somebody by.
            let tells = beside.iter().filter(|cell| !cell.is_empty()).count() > 1;
            let again = values.get(&beside).filter(|keys| tells && keys.len() == 1);
            found.gone.push(GoneRow {
                key: (*key).to_owned(),
                line: self.table.line(row),
                perhaps_now: again.map(|keys| keys[0].to_owned()),
            });
        }
        found
    }

    /// The columns beside the key that name a person or a thing.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        let key = &self.columns()[self.key];
        let asked = self.asked.iter().filter(move |column| {
            use ColumnKind::{Forenames, Surname, Text};
            let is_key = column.name().eq_ignore_ascii_case(key);
            !is_key && matches!(column.kind(), Surname | Forenames | Text)
        });
        asked.map(super::compare::Column::name)
    }

    /// What the job uses of a row beside its key, folded.
    fn beside_key(&self, row: usize) -> Vec<&str> {
        let key = self.key;
        let columns = self
            .asked
            .iter()
            .filter_map(|column| self.table.column(column.name()));
        columns
            .filter(|&column| column != key)
            .map(|column| self.table.cell(row, column))
            .collect()
    }
}

/// Whether of values that name somebody, before and now, none is like the other: not for a new surname alone, nor for a
/// word more or less. What is empty before or now says nothing.
pub fn is_another<'a>(names: impl IntoIterator<Item = (&'a str, &'a str)>) -> bool {
    let mut compared = 0;
    for (before, now) in names {
        let (before, now) = (fold::code(before), fold::code(now));
        if before.is_empty() || now.is_empty() {
            continue;
        }
        let is_part = before.contains(&now) || now.contains(&before);
        if is_part || strsim::normalized_damerau_levenshtein(&before, &now) >= ALIKE {
            return false;
        }
        compared += 1;
    }
    compared > 0
}

/// Rows by their key, those without one left out.
#[derive(Default)]
struct ByKey<'a> {
    first: HashMap<&'a str, usize>,
    /// The rows behind the first, of keys that have any.
    more: HashMap<&'a str, Vec<usize>>,
    /// The keys, each once, in the order of the rows.
    order: Vec<&'a str>,
}

fn by_key(roster: &Roster) -> ByKey<'_> {
    let mut found = ByKey::default();
    for row in 0..roster.len() {
        let key = roster.key(row);
        if key.is_empty() {
            continue;
        }
        match found.first.entry(key) {
            Entry::Occupied(_) => found.more.entry(key).or_default().push(row),
            Entry::Vacant(free) => {
                free.insert(row);
                found.order.push(key);
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::roster::{Schema, Table};

    fn roster(text: &str) -> Roster {
        let (table, _) = Table::from_reader(text.as_bytes()).unwrap();
        let columns = [
            ("number", ColumnKind::Code),
            ("surname", ColumnKind::Surname),
            ("forenames", ColumnKind::Forenames),
        ];
        let schema = Schema {
            key: "number".to_owned(),
            columns: columns.map(|(name, kind)| (name.to_owned(), kind)).to_vec(),
        };
        Roster::prepare(table, &schema).unwrap().0
    }

    #[test]
    fn rows_are_compared_by_key_cell_by_cell() {
        let before = roster(
            "number,surname,forenames,born,team\n1,DALTON,MARY,1931,a\n2,QUAYLE,ANN,1940,a\n3,PIER,JOHN,1950,b\n\
             4,STILES,JESSIE,1920,b\n5,MOORE,KIM,1922,b\n,NOBODY,,,\n",
        );
        let now = roster(
            "Number,forenames,surname,born,grade\n2,ANN,QUAYLE-HART,1940,x\n9,JOHN,PIER,1950,y\n1,MARY,DALTON,1931,z\n\
             4,ROBERT,ANDERSEN,1960,w\n6,EVE,NEW,1970,\n6,EVA,NEW,1970,\n,,,,\n",
        );
        let found = before.difference(&now);
        assert_eq!(found.rows, [6, 7]);
        assert_eq!(
            (found.columns_added, found.columns_gone),
            (vec!["grade".into()], vec!["team".into()])
        );
        let added: Vec<_> = found
            .added
            .iter()
            .map(|row| (row.key.as_str(), row.line))
            .collect();
        assert_eq!(added, [("9", 3), ("6", 6)]);
        let gone: Vec<_> = found
            .gone
            .iter()
            .map(|row| (row.key.as_str(), row.line, row.perhaps_now.as_deref()))
            .collect();
        assert_eq!(gone, [("3", 4, Some("9")), ("5", 6, None)]);
        let changed: Vec<_> = found
            .changed
            .iter()
            .map(|row| (row.key.as_str(), row.line, row.cells.len(), row.is_another))
            .collect();
        assert_eq!(changed, [("2", 2, 1, false), ("4", 5, 3, true)]);
        assert_eq!(found.changed[0].cells[0].now, "QUAYLE-HART");
        assert_eq!(
            found.twice,
            [KeyTwice {
                key: "6".into(),
                lines: vec![6, 7]
            }]
        );
        assert_eq!(found.without_key, [1, 1]);
        assert!(before.difference(&before).is_empty());
    }

    #[test]
    fn another_is_who_shares_no_name() {
        for (names, another) in [
            (&[("DALTON", "DALTEN"), ("MARY", "MARY ANN")][..], false),
            (&[("DALTON", "HART"), ("MARY", "MARY")], false),
            (&[("DALTON", "ANDERSEN"), ("M", "MARY")], false),
            (&[("DALTON", "ANDERSEN"), ("MARY", "ROBERT")], true),
            (&[("MÜLLER", "MULLER"), ("", "ROBERT")], false),
            (&[("DALTON", ""), ("", "ROBERT")], false),
            (&[("Pump house, plan", "Gantry crane 3")], true),
            (&[("Pump house, plan", "PUMP HOUSE: PLAN (REVISED)")], false),
            (&[], false),
        ] {
            assert_eq!(is_another(names.iter().copied()), another, "{names:?}");
        }
    }
}
