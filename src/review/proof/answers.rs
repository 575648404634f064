//! A form that came back from the client, out of whatever spreadsheet it went through.

use super::lines::ANSWERS_COLUMNS;
use super::{BTreeMap, ClientAnswer, ProofItem};
use crate::roster::Table;
use crate::value::shown;
use std::collections::HashSet;

/// Words for a right value and for a wrong one, in lower case.
const YES: [&str; 7] = ["yes", "y", "right", "correct", "ok", "true", "✓"];
const NO: [&str; 5] = ["no", "n", "wrong", "incorrect", "false"];

/// What an apostrophe keeps from being a formula.
const ESCAPED: [char; 4] = ['=', '+', '-', '@'];

/// What could be taken of a form.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ReadAnswers {
    pub answers: Vec<ClientAnswer>,
    /// What could not be taken: each with its line and column, what was expected and found, and what to do.
    pub refused: Vec<String>,
    /// What was taken and is to be looked at all the same.
    pub noticed: Vec<String>,
}

/// Takes the answers out of a form. Its rows may come in any order, with columns added; what has no answer stays open.
///
/// `asked` is every line that was put to the client, by its number.
///
/// # Errors
/// It has no column of numbers, or none of answers.
pub fn read_answers(
    table: &Table,
    asked: &BTreeMap<u32, ProofItem>,
) -> Result<ReadAnswers, String> {
    let at = |title: &str| {
        let named = table.column(title);
        named.or_else(|| table.column(&title.replace(' ', "_")))
    };
    let columns = ANSWERS_COLUMNS.map(at);
    let [number, .., answer, correct] = columns;
    let (Some(number), true) = (number, answer.or(correct).is_some()) else {
        return Err(format!(
            "line 1: expected the columns {}, found {}; send back the file that came with the page, with answers filled in",
            ANSWERS_COLUMNS.join(", "),
            shown(&table.columns().join(", "))
        ));
    };
    let mut form = Form {
        table,
        columns,
        asked,
        read: ReadAnswers::default(),
        taken: BTreeMap::new(),
        untaken: HashSet::new(),
    };
    for row in 0..table.len() {
        form.row(row, number);
    }
    Ok(form.finished())
}

/// Places in [`ANSWERS_COLUMNS`].
const NUMBER: usize = 0;
const SHEET: usize = 1;
const FIELD: usize = 2;
const VALUE: usize = 3;
const ANSWER: usize = 5;
const CORRECT: usize = 6;

struct Form<'a> {
    table: &'a Table,
    columns: [Option<usize>; 7],
    asked: &'a BTreeMap<u32, ProofItem>,
    read: ReadAnswers,
    /// By number: the row, and its answer where there is one that can be taken.
    taken: BTreeMap<u32, (usize, Option<ClientAnswer>)>,
    /// Numbers of rows that could not be taken; no answer to a whole sheet speaks for these.
    untaken: HashSet<u32>,
}

impl Form<'_> {
    /// A cell, without what keeps it from being a formula; empty where the file has no such column.
    fn cell(&self, row: usize, column: usize) -> &str {
        let cell = self.columns[column].map_or("", |at| self.table.cell(row, at));
        match cell.strip_prefix('\'') {
            Some(rest) if rest.starts_with(ESCAPED) => rest,
            _ => cell,
        }
    }

    fn told(&self, row: usize, column: usize, words: &str) -> String {
        let at = self.columns[column].map_or(0, |at| at + 1);
        format!(
            "line {}, column {at} ({}): {words}",
            self.table.line(row),
            ANSWERS_COLUMNS[column]
        )
    }

    fn refuse(&mut self, row: usize, column: usize, words: &str) {
        let told = self.told(row, column, words);
        self.read.refused.push(told);
    }

    fn notice(&mut self, row: usize, column: usize, words: &str) {
        let told = self.told(row, column, words);
        self.read.noticed.push(told);
    }

    fn row(&mut self, row: usize, number_at: usize) {
        let width = self.table.columns().len();
        if (0..width).all(|at| self.table.cell(row, at).is_empty()) {
            return;
        }
        let number = self.table.cell(row, number_at).to_owned();
        let known = number.parse().ok().and_then(|number: u32| {
            let item = self.asked.get(&number)?;
            Some((number, item.clone()))
        });
        let Some((number, item)) = known else {
            let found = match number.is_empty() {
                true => "none".to_owned(),
                false => shown(&number).into_owned(),
            };
            let words = format!(
                "expected a number of the form, found {found}; the row is not taken, add what it says to the row of the \
                 sheet that it is about"
            );
            return self.refuse(row, NUMBER, &words);
        };
        let refused = self.read.refused.len();
        if self.is_in_step(row, number, &item) {
            let answer = self.answer(row, number, &item);
            self.keep(row, number, answer);
        }
        if self.read.refused.len() > refused {
            self.untaken.insert(number);
        }
    }

    /// Of two rows of one number either says nothing, or both say the same.
    fn keep(&mut self, row: usize, number: u32, answer: Option<ClientAnswer>) {
        match self.taken.get_mut(&number) {
            None => {
                self.taken.insert(number, (row, answer));
            }
            Some((_, earlier)) if earlier.is_none() => *earlier = answer,
            Some((_, earlier)) if answer.is_none() || *earlier == answer => {}
            Some((first, _)) => {
                let line = self.table.line(*first);
                self.taken.insert(number, (row, None));
                let words = format!(
                    "expected one answer to number {number}, found another than on line {line}; neither is taken, leave one"
                );
                self.refuse(row, ANSWER, &words);
            }
        }
    }

    /// Whether a row still says what it is about; a column sorted by itself puts all others out of step.
    fn is_in_step(&mut self, row: usize, number: u32, item: &ProofItem) -> bool {
        for (column, expected) in [(SHEET, item.sheet.as_str()), (FIELD, &item.about)] {
            let found = self.cell(row, column);
            if found.is_empty() || found == expected.trim() {
                continue;
            }
            let words = format!(
                "expected {} beside the number {number}, found {}; the row is not taken, for it may have got out of step: \
                 look whether a column was sorted without the others",
                shown(expected),
                shown(found)
            );
            self.refuse(row, column, &words);
            return false;
        }
        true
    }

    /// The answer in a row; none where there is none, or none that can be taken.
    fn answer(&mut self, row: usize, number: u32, item: &ProofItem) -> Option<ClientAnswer> {
        let words = self.cell(row, ANSWER).to_owned();
        let correct = self.cell(row, CORRECT).to_owned();
        let is_whole = !item.covers.is_empty();
        if !item.question.is_empty() && !is_whole {
            let said: Vec<String> = [words, correct]
                .into_iter()
                .filter(|said| !said.is_empty())
                .collect();
            return (!said.is_empty()).then(|| ClientAnswer {
                number,
                words: said.join("; "),
                ..ClientAnswer::default()
            });
        }
        if !is_whole && !self.is_unchanged(row, item, !correct.is_empty()) {
            return None;
        }
        let same = !correct.is_empty() && correct == item.value.trim();
        let is_right = match (meaning(&words), correct.is_empty()) {
            (Ok(None), true) => return None,
            (Ok(Some(true)), false) if !same => {
                let words = format!(
                    "expected no where another value is right, found {} beside {}; not taken, leave one of the two",
                    shown(&words),
                    shown(&correct)
                );
                self.refuse(row, ANSWER, &words);
                return None;
            }
            (Ok(Some(false)), false) if same => {
                let words = format!(
                    "expected another value than {} where it is wrong, found the same; not taken, write what is right",
                    shown(&item.value)
                );
                self.refuse(row, CORRECT, &words);
                return None;
            }
            (Ok(Some(is_right)), _) => is_right,
            (Ok(None), false) => same,
            (Err(()), _) => {
                let found = shown(&words);
                let words = format!(
                    "expected yes or no, found {found}; not taken, write yes or no here and what is right in `{}`",
                    ANSWERS_COLUMNS[CORRECT]
                );
                self.refuse(row, ANSWER, &words);
                return None;
            }
        };
        if !is_right && has_lost_zeros(&item.value, &correct) && correct.len() < item.value.len() {
            let words = format!(
                "expected as many digits as in {}, found {}; taken, but a spreadsheet may have dropped zeros in front",
                shown(&item.value),
                shown(&correct)
            );
            self.notice(row, CORRECT, &words);
        }
        Some(ClientAnswer {
            number,
            is_right: Some(is_right),
            words,
            correct: if is_right { String::new() } else { correct },
        })
    }

    /// Whether the value came back as it was sent, or as a spreadsheet makes numbers of it. Else nobody knows what the
    /// answer beside it is about.
    fn is_unchanged(&mut self, row: usize, item: &ProofItem, has_correct: bool) -> bool {
        let found = self.cell(row, VALUE).to_owned();
        if found.is_empty() || found == item.value.trim() {
            return true;
        }
        let (sent, came) = (shown(&item.value), shown(&found));
        if item.value.trim_start_matches('0') == found {
            let words = format!(
                "expected {sent}, found {came}: a spreadsheet dropped the zeros in front; taken, look whether it did so in \
                 `{}` too",
                ANSWERS_COLUMNS[CORRECT]
            );
            self.notice(row, VALUE, &words);
            return true;
        }
        if has_lost_letters(item.value.trim(), &found) {
            let words = format!(
                "expected {sent}, found {came}: a spreadsheet wrote ? for letters that its encoding lacks; taken, look \
                 whether it did so in `{}` too",
                ANSWERS_COLUMNS[CORRECT]
            );
            self.notice(row, VALUE, &words);
            return true;
        }
        if has_correct {
            let words = format!(
                "expected {sent}, found {came}; what stands in `{}` is taken",
                ANSWERS_COLUMNS[CORRECT]
            );
            self.notice(row, VALUE, &words);
            return true;
        }
        let words = format!(
            "expected {sent}, found {came}; the row is not taken: if {came} is right, write it in `{}`; if the spreadsheet \
             changed it, open the file with every column as text",
            ANSWERS_COLUMNS[CORRECT]
        );
        self.refuse(row, VALUE, &words);
        false
    }

    /// What was taken, with a yes to a whole sheet for each of its values that has no answer of its own.
    fn finished(mut self) -> ReadAnswers {
        let mut whole = Vec::new();
        for (number, (row, answer)) in &self.taken {
            let covers = &self.asked[number].covers;
            match answer.as_ref().and_then(|answer| answer.is_right) {
                Some(is_right) if !covers.is_empty() => {
                    whole.push((*row, is_right, covers.clone()))
                }
                _ => {}
            }
        }
        for (row, is_right, covers) in whole {
            let own: Vec<Option<bool>> = covers
                .iter()
                .map(|number| self.taken.get(number)?.1.as_ref()?.is_right)
                .collect();
            if !is_right && !own.contains(&Some(false)) {
                let words = "expected a no beside at least one value of the sheet, found none; taken, but nobody knows \
                             what is wrong: ask which value";
                self.notice(row, ANSWER, words);
            }
            if is_right && own.contains(&Some(false)) {
                let words = "expected no, for a value of this sheet is said to be wrong, found yes; it is taken for the \
                             other values";
                self.notice(row, ANSWER, words);
            }
            for (number, own) in covers.into_iter().zip(own) {
                if is_right && own.is_none() && !self.untaken.contains(&number) {
                    let answer = ClientAnswer {
                        number,
                        is_right: Some(true),
                        ..ClientAnswer::default()
                    };
                    self.taken.insert(number, (row, Some(answer)));
                }
            }
        }
        let taken = self.taken.into_values();
        self.read.answers = taken.filter_map(|(_, answer)| answer).collect();
        self.read
    }
}

/// Yes, no or nothing; else it is none of these.
fn meaning(words: &str) -> Result<Option<bool>, ()> {
    let word = words.trim().trim_end_matches(['.', '!']).to_lowercase();
    match word.as_str() {
        "" => Ok(None),
        word if YES.contains(&word) => Ok(Some(true)),
        word if NO.contains(&word) => Ok(Some(false)),
        _ => Err(()),
    }
}

/// Whether a text differs only in question marks where letters beyond ASCII stood.
fn has_lost_letters(value: &str, found: &str) -> bool {
    let same = |(sent, came): (char, char)| sent == came || came == '?' && !sent.is_ascii();
    value.chars().count() == found.chars().count() && value.chars().zip(found.chars()).all(same)
}

/// Whether a number with zeros in front may have stood here without them.
fn has_lost_zeros(value: &str, found: &str) -> bool {
    let is_number = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
    value.starts_with('0') && is_number(value) && is_number(found)
}
