//! Rows found by what somebody types of them, letter by letter.

use super::Table;
use crate::value::comparison_form;

/// Stands before every cell, so that a cell's beginning can be asked for. No cell holds it.
const CELL: char = '\u{1}';
/// Longest text that is looked for, in characters.
const LONGEST: usize = 200;

/// All cells in the form in which they are compared, one after another.
#[derive(Debug)]
pub struct Searcher {
    text: String,
    /// Where each row ends in `text`.
    ends: Vec<usize>,
}

impl Searcher {
    pub fn prepare(table: &Table) -> Self {
        let mut text = String::new();
        let mut ends = Vec::with_capacity(table.len());
        for row in 0..table.len() {
            for column in 0..table.columns().len() {
                text.push(CELL);
                let form = comparison_form(table.cell(row, column));
                text.extend(form.chars().filter(|c| *c != CELL));
            }
            ends.push(text.len());
        }
        Self { text, ends }
    }

    /// Rows that hold every word.
    pub fn search(&self, text: &str, limit: usize) -> Vec<usize> {
        let text: String = text.chars().take(LONGEST).collect();
        let form = comparison_form(&text);
        let words: Vec<&str> = form.split_whitespace().collect();
        let Some(longest) = words.iter().max_by_key(|word| word.len()) else {
            return Vec::new();
        };
        let mut rows = Vec::new();
        for wanted in [format!("{CELL}{longest}"), (*longest).to_owned()] {
            let mut from = 0;
            while rows.len() < limit
                && let Some(at) = self.text[from..].find(&wanted)
            {
                let row = self.ends.partition_point(|end| *end <= from + at);
                let start = row.checked_sub(1).map_or(0, |before| self.ends[before]);
                let cells = &self.text[start..self.ends[row]];
                if words.iter().all(|word| cells.contains(word)) && !rows.contains(&row) {
                    rows.push(row);
                }
                from = self.ends[row];
            }
        }
        rows
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_found_anywhere_and_beginnings_first() {
        let csv =
            "number,surname,forenames\n1041,MACKAY,JOHN\n2377,KAY,JOHN HENRY\n3041,Käyser,Anna\n";
        let (table, _) = Table::from_reader(csv.as_bytes()).unwrap();
        let searcher = Searcher::prepare(&table);
        for (text, rows) in [
            ("kay", vec![1, 2, 0]),
            ("JOHN KAY", vec![0, 1]),
            ("henry", vec![1]),
            ("041", vec![0, 2]),
            ("23 77", vec![1]),
            ("nobody", vec![]),
            ("", vec![]),
            (" \u{1}", vec![]),
        ] {
            assert_eq!(searcher.search(text, 9), rows, "{text}");
        }
        assert_eq!(searcher.search("kay", 1), [1]);
    }
}
