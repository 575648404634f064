//! The net's output as probabilities: for every column, one for each class.

use super::alphabet::{BLANK, character, class_of, classes};
use super::model::Logits;
use crate::reading::lattice::{CAPITALS, capital_of_shape};

/// The logits are divided by this before they become probabilities, fitted on faces kept out of training
/// (`training/train.py` prints it): temperature scaling, Guo et al., ICML 2017.
const TEMPERATURE: f32 = 1.1;

/// A line that the net finds hard on the whole is harder than it says. Of 32,607 characters on 800 tuning sheets those
/// said to be right with more than .9 in lines of a mean below .8 were right in .77, others in .997. So the temperature
/// rises by [`WARMER`] for each unit by which the mean falls short of [`CLEAR`]; then it is .87 and .997, and over all
/// lines what is said comes true within .02.
const CLEAR: f32 = 0.8;
const WARMER: f32 = 3.0;

/// Probabilities by column, then class.
#[derive(Debug, Clone)]
pub(super) struct Columns {
    pub values: Vec<f32>,
    pub count: usize,
    pub classes: usize,
}

impl Columns {
    pub fn of_logits(logits: &Logits) -> Self {
        let plain = Self::at_temperature(logits, TEMPERATURE);
        let short = CLEAR - plain.clearness();
        if short <= 0.0 {
            return plain;
        }
        Self::at_temperature(logits, TEMPERATURE + WARMER * short)
    }

    fn at_temperature(logits: &Logits, temperature: f32) -> Self {
        let (count, classes) = (logits.columns, logits.values.len() / logits.columns.max(1));
        let mut values = vec![0.0; count * classes];
        for (column, row) in values.chunks_exact_mut(classes.max(1)).enumerate() {
            for (class, value) in row.iter_mut().enumerate() {
                *value = logits.values[class * count + column] / temperature;
            }
            let highest = row.iter().copied().fold(f32::NEG_INFINITY, f32::max);
            row.iter_mut()
                .for_each(|value| *value = (*value - highest).exp());
            let total: f32 = row.iter().sum();
            row.iter_mut().for_each(|value| *value /= total);
        }
        Self {
            values,
            count,
            classes,
        }
    }

    /// Mean probability of the likeliest class where that is a character; 1 where none is.
    fn clearness(&self) -> f32 {
        let (mut sum, mut characters) = (0.0, 0);
        for row in self.values.chunks_exact(self.classes.max(1)) {
            let (class, &highest) = row
                .iter()
                .enumerate()
                .max_by(|a, b| a.1.total_cmp(b.1))
                .expect("a column has classes");
            if class != BLANK {
                (sum, characters) = (sum + highest, characters + 1);
            }
        }
        if characters == 0 {
            1.0
        } else {
            sum / characters as f32
        }
    }

    /// No character anywhere.
    pub fn blank(count: usize) -> Self {
        let classes = classes();
        Self {
            values: vec![0.0; count * classes],
            count,
            classes,
        }
    }

    pub fn at(&self, column: usize, class: usize) -> f64 {
        f64::from(self.values[column * self.classes + class])
    }

    pub fn column(&self, column: usize) -> &[f32] {
        &self.values[column * self.classes..][..self.classes]
    }

    pub fn column_mut(&mut self, column: usize) -> &mut [f32] {
        &mut self.values[column * self.classes..][..self.classes]
    }

    /// Where the line is typed in capitals, gives the small letters' probabilities to the capitals of their shape, as
    /// [`crate::reading::Line::settle_case`] does.
    pub fn settle_case(&mut self) {
        let mut letters = [0.0f32; 2];
        let cases: Vec<Option<(bool, usize)>> = (0..self.classes)
            .map(|class| {
                let c = (class != BLANK).then(|| character(class))?;
                let mut capital = capital_of_shape(c);
                let (first, more) = (capital.next()?, capital.next().is_some());
                let class = class_of(first).filter(|_| !more)?;
                c.is_alphabetic().then_some((c.is_uppercase(), class))
            })
            .collect();
        for column in 0..self.count {
            for (value, case) in self.column(column).iter().zip(&cases) {
                if let Some((capital, _)) = case {
                    letters[usize::from(*capital)] += value;
                }
            }
        }
        let [small, capital] = letters;
        if f64::from(capital) < CAPITALS * f64::from(small + capital) {
            return;
        }
        for column in 0..self.count {
            let row = self.column_mut(column);
            for (class, case) in cases.iter().enumerate() {
                if let Some((false, capital)) = *case {
                    row[capital] += row[class];
                    row[class] = 0.0;
                }
            }
        }
    }

    /// The classes of the best path and the columns of each, blanks left out.
    pub fn best_path(&self) -> Vec<(usize, std::ops::Range<usize>)> {
        let mut path: Vec<(usize, std::ops::Range<usize>)> = Vec::new();
        let mut before = BLANK;
        for column in 0..self.count {
            let row = self.column(column);
            let best = (0..row.len())
                .max_by(|&a, &b| row[a].total_cmp(&row[b]))
                .unwrap_or(BLANK);
            match path.last_mut() {
                Some((_, columns)) if best != BLANK && best == before => columns.end = column + 1,
                _ if best != BLANK => path.push((best, column..column + 1)),
                _ => {}
            }
            before = best;
        }
        path
    }
}
