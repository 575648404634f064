//! What the cells of a field look like, and how many of a column's cells do.

use crate::roster::Table;
use crate::rules::{FieldKind, FieldSpec};
use regex::Regex;

/// Rows looked at, spread over the roster.
const SAMPLE: usize = 2_000;

/// What a cell of a field looks like.
pub enum Looks<'a> {
    Pattern(Option<Regex>, &'a FieldSpec),
    Name,
    Year(u32, u32),
    Word(&'a [String]),
    Anything,
}

impl<'a> Looks<'a> {
    pub fn like(field: &'a FieldSpec) -> Self {
        match (&field.pattern, field.kind) {
            (Some(pattern), _) => {
                Self::Pattern(Regex::new(&format!("^(?i:{pattern})$")).ok(), field)
            }
            (None, FieldKind::Code) => {
                Self::Pattern(Regex::new("^(?i:[A-Z./-]*[0-9][A-Z0-9./-]*)$").ok(), field)
            }
            (None, FieldKind::Surname | FieldKind::Forenames) => Self::Name,
            (None, FieldKind::Year) => Self::Year(field.window.0, field.window.1),
            (None, FieldKind::Choice) => Self::Word(&field.words),
            (None, _) => Self::Anything,
        }
    }

    pub fn is(&self, cell: &str) -> bool {
        match self {
            Self::Pattern(pattern, field) => {
                pattern
                    .as_ref()
                    .is_some_and(|pattern| pattern.is_match(cell))
                    && field.check.as_ref().is_none_or(|check| check.holds(cell))
            }
            Self::Name => {
                cell.chars().any(char::is_alphabetic)
                    && cell
                        .chars()
                        .all(|c| c.is_alphabetic() || " '’.-".contains(c))
            }
            Self::Year(first, last) => {
                cell.len() == 4
                    && cell
                        .parse::<u32>()
                        .is_ok_and(|year| (*first..=*last).contains(&year))
            }
            Self::Word(words) => words.iter().any(|word| word.eq_ignore_ascii_case(cell)),
            Self::Anything => true,
        }
    }
}

/// The same in words.
pub fn looks(field: &FieldSpec) -> String {
    match (&field.pattern, &field.check) {
        (Some(pattern), Some(_)) => format!("{pattern} with a check character that holds"),
        (Some(pattern), None) => pattern.clone(),
        (None, Some(_)) => "codes whose check character holds".into(),
        (None, None) => match field.kind {
            FieldKind::Surname | FieldKind::Forenames => "names".into(),
            FieldKind::Year => format!("years from {} to {}", field.window.0, field.window.1),
            FieldKind::Code => "codes".into(),
            FieldKind::Choice => "its words".into(),
            _ => "text".into(),
        },
    }
}

/// Share of the filled cells of a column for which something holds; none where no cell is filled.
pub fn share(table: &Table, column: usize, holds: impl Fn(&str) -> bool) -> Option<f64> {
    let step = table.len().div_ceil(SAMPLE).max(1);
    let cells = (0..table.len())
        .step_by(step)
        .map(|row| table.cell(row, column));
    let (mut filled, mut holding) = (0_u32, 0_u32);
    for cell in cells.filter(|cell| !cell.is_empty()) {
        filled += 1;
        holding += u32::from(holds(cell));
    }
    (filled > 0).then(|| f64::from(holding) / f64::from(filled))
}
