//! What the net said, kept with the line: small enough to store for every sheet.

use super::alphabet::{BLANK, classes};
use super::columns::Columns;
use serde::{Deserialize, Serialize};

/// Probability below which a class is not stored for a column.
const STORED: f32 = 0.001;
/// Steps to a unit of the natural log in which probabilities are stored: within 3 %.
const STEPS: f32 = 16.0;
/// Probability from which a column counts as blank and nothing else.
const ONLY_BLANK: f32 = 0.999;

/// For every column the classes that may stand there, as bytes: 0 and a number of columns that are blank; or a number
/// of classes, and for each the class and its negative log probability in sixteenths.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Posterior(Vec<u8>);

impl Posterior {
    pub(super) fn of(columns: &Columns) -> Self {
        let mut bytes: Vec<u8> = Vec::new();
        // Where the count of a run of blank columns that may still grow stands.
        let mut run: Option<usize> = None;
        for column in 0..columns.count {
            let row = columns.column(column);
            if row[BLANK] >= ONLY_BLANK {
                match run.filter(|&at| bytes[at] < u8::MAX) {
                    Some(at) => bytes[at] += 1,
                    None => {
                        bytes.extend([0, 1]);
                        run = Some(bytes.len() - 1);
                    }
                }
                continue;
            }
            run = None;
            let stored: Vec<usize> = (0..row.len())
                .filter(|&class| row[class] >= STORED)
                .collect();
            bytes.push(stored.len() as u8);
            for class in stored {
                bytes.extend([
                    class as u8,
                    (-row[class].ln() * STEPS).round().clamp(0.0, 255.0) as u8,
                ]);
            }
        }
        Self(bytes)
    }

    /// Columns again; bytes that make no sense end them.
    pub(super) fn columns(&self) -> Columns {
        let mut rows: Vec<Vec<(usize, f32)>> = Vec::new();
        let mut bytes = self.0.iter().copied();
        while let Some(count) = bytes.next() {
            if count == 0 {
                let run = usize::from(bytes.next().unwrap_or(0));
                rows.extend(std::iter::repeat_n(vec![(BLANK, 1.0)], run));
                continue;
            }
            let row = (0..count).map_while(|_| {
                let class = usize::from(bytes.next()?);
                Some((class, (-f32::from(bytes.next()?) / STEPS).exp()))
            });
            rows.push(row.collect());
        }
        let mut columns = Columns::blank(rows.len());
        for (column, row) in rows.iter().enumerate() {
            for &(class, probability) in row.iter().filter(|(class, _)| *class < classes()) {
                columns.column_mut(column)[class] = probability;
            }
        }
        columns
    }
}

/// Two hexadecimal digits a byte.
impl From<Posterior> for String {
    fn from(posterior: Posterior) -> Self {
        posterior
            .0
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect()
    }
}

impl TryFrom<String> for Posterior {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        let digits: Option<Vec<u8>> = text
            .chars()
            .map(|c| c.to_digit(16).map(|digit| digit as u8))
            .collect();
        match digits {
            Some(digits) if digits.len() % 2 == 0 => Ok(Self(
                digits
                    .chunks(2)
                    .map(|pair| pair[0] * 16 + pair[1])
                    .collect(),
            )),
            _ => Err(format!(
                "a line's posterior: expected pairs of hexadecimal digits, found {} other characters",
                text.chars().count()
            )),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comes_back_within_its_steps() {
        let mut columns = Columns::blank(700);
        for column in 0..700 {
            columns.column_mut(column)[BLANK] = 1.0;
        }
        columns.column_mut(3)[..3].copy_from_slice(&[0.2, 0.7, 0.1]);
        columns.column_mut(699)[..3].copy_from_slice(&[0.01, 0.0, 0.99]);
        let posterior = Posterior::of(&columns);
        let stored = serde_json::to_string(&posterior).unwrap();
        assert!(stored.len() < 60, "{stored}");
        let again: Posterior = serde_json::from_str(&stored).unwrap();
        assert_eq!(again, posterior);
        let again = again.columns();
        assert_eq!(again.count, 700);
        for (a, b) in columns.values.iter().zip(&again.values) {
            assert!((a - b).abs() <= 0.032 * a, "{a} {b}");
        }
    }

    #[test]
    fn nonsense_is_no_posterior_or_an_empty_one() {
        assert!(serde_json::from_str::<Posterior>("\"0g\"").is_err());
        assert!(serde_json::from_str::<Posterior>("\"012\"").is_err());
        let cut: Posterior = serde_json::from_str("\"02ff\"").unwrap();
        assert_eq!(cut.columns().count, 1);
    }
}
