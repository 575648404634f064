//! CTC's forward and backward passes: how probable a text is given the columns.

use super::alphabet::{BLANK, class_of};
use super::columns::Columns;
use crate::reading::{LatticeScorer, Line, LineScorer};

/// [`LineScorer`] by the CTC forward algorithm over the posterior that [`super::NetReader`] leaves in a line; lines of
/// other readers are scored by their lattice.
#[derive(Debug, Clone, Copy, Default)]
pub struct CtcScorer;

/// What any character has in any column, however sure the net is: a posterior's floor, and the probability of
/// characters that the net does not know.
const FLOOR: f64 = 1e-5;

impl LineScorer for CtcScorer {
    fn log_likelihood(&self, line: &Line, text: &str) -> f64 {
        let Some(posterior) = &line.posterior else {
            return LatticeScorer.log_likelihood(line, text);
        };
        let columns = posterior.columns();
        // Runs of spaces are one gap to the net.
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let classes: Vec<Option<usize>> = text.chars().map(class_of).collect();
        forward(columns.count, &classes, |column, class| {
            class.map_or(FLOOR, |class| columns.at(column, class).max(FLOOR))
        })
    }
}

/// Natural log of P(text | columns). State 2i is the blank before character i, 2i + 1 the character.
fn forward(
    count: usize,
    text: &[Option<usize>],
    probability: impl Fn(usize, Option<usize>) -> f64,
) -> f64 {
    let states = 2 * text.len() + 1;
    let mut mass = vec![0.0; states];
    let mut log_total = 0.0;
    for column in 0..count {
        let mut next = vec![0.0; states];
        for (state, next) in next.iter_mut().enumerate() {
            let class = class_at(text, state, Some(BLANK));
            let enter = if column == 0 {
                f64::from(state < 2)
            } else {
                entering(&mass, text, state)
            };
            *next = enter * probability(column, class);
        }
        let total: f64 = next.iter().sum();
        if total == 0.0 {
            return f64::NEG_INFINITY;
        }
        next.iter_mut().for_each(|mass| *mass /= total);
        log_total += total.ln();
        mass = next;
    }
    if count == 0 {
        return if text.is_empty() {
            0.0
        } else {
            f64::NEG_INFINITY
        };
    }
    let ends = mass[states - 1] + states.checked_sub(2).map_or(0.0, |last| mass[last]);
    log_total + ends.ln()
}

fn class_at<T: Copy>(text: &[T], state: usize, blank: T) -> T {
    if state % 2 == 1 {
        text[state / 2]
    } else {
        blank
    }
}

/// Mass that may enter a state from the column before.
fn entering<T: Copy + PartialEq>(mass: &[f64], text: &[T], state: usize) -> f64 {
    let mut enter = mass[state];
    if state > 0 {
        enter += mass[state - 1];
    }
    // From character to character, unless they are the same: then a blank must stand between.
    if state % 2 == 1 && state > 1 && text[state / 2] != text[state / 2 - 1] {
        enter += mass[state - 2];
    }
    enter
}

/// Forward and backward masses of a text, from which the weight of every small change to it follows.
pub(super) struct Passes<'a> {
    columns: &'a Columns,
    text: &'a [usize],
    /// P(columns up to here, in this state), each column scaled to add up to 1.
    before: Vec<Vec<f64>>,
    /// P(columns from here on, entering this state at this column), scaled so that the whole text has weight 1.
    after: Vec<Vec<f64>>,
    /// What each column was divided by.
    scales: Vec<f64>,
}

impl<'a> Passes<'a> {
    /// `None` where the columns cannot say the text.
    pub fn new(columns: &'a Columns, text: &'a [usize]) -> Option<Self> {
        let (count, states) = (columns.count, 2 * text.len() + 1);
        let mut before: Vec<Vec<f64>> = Vec::with_capacity(count);
        let mut scales = Vec::with_capacity(count);
        for column in 0..count {
            let mut row: Vec<f64> = (0..states)
                .map(|state| {
                    let enter = match before.last() {
                        None => f64::from(state < 2),
                        Some(mass) => entering(mass, text, state),
                    };
                    enter * columns.at(column, class_at(text, state, BLANK))
                })
                .collect();
            let total: f64 = row.iter().sum();
            if total <= 0.0 {
                return None;
            }
            row.iter_mut().for_each(|mass| *mass /= total);
            scales.push(total);
            before.push(row);
        }
        let last = before.last()?;
        let ends = last[states - 1] + if states > 1 { last[states - 2] } else { 0.0 };
        if ends <= 0.0 {
            return None;
        }
        let mut after = vec![vec![0.0; states]; count];
        for column in (0..count).rev() {
            for state in 0..states {
                let leave = if column + 1 == count {
                    f64::from(state + 2 >= states) / ends
                } else {
                    let next = &after[column + 1];
                    let mut leave = next[state];
                    if state + 1 < states {
                        leave += next[state + 1];
                    }
                    if state % 2 == 1
                        && state + 2 < states
                        && text[state / 2] != text[state / 2 + 1]
                    {
                        leave += next[state + 2];
                    }
                    leave
                };
                let class = class_at(text, state, BLANK);
                after[column][state] = leave * columns.at(column, class) / scales[column];
            }
        }
        Some(Self {
            columns,
            text,
            before,
            after,
            scales,
        })
    }

    /// Weight of the text with this class for its character `at`.
    pub fn replaced(&self, at: usize, class: usize) -> f64 {
        let enter: &[usize] = match at {
            0 => &[0],
            at if self.text[at - 1] == class => &[2 * at],
            at => &[2 * at, 2 * at - 1],
        };
        let leave: &[usize] = match self.text.get(at + 1) {
            Some(&next) if next != class => &[2 * at + 2, 2 * at + 3],
            _ => &[2 * at + 2],
        };
        self.through(class, enter, leave, at == 0, at + 1 == self.text.len())
    }

    /// Weight of the text with this class put in before its character `at`.
    pub fn inserted(&self, at: usize, class: usize) -> f64 {
        let enter: &[usize] = match at.checked_sub(1) {
            Some(before) if self.text[before] != class => &[2 * at, 2 * at - 1],
            _ => &[2 * at],
        };
        let leave: &[usize] = match self.text.get(at) {
            Some(&next) if next != class => &[2 * at, 2 * at + 1],
            _ => &[2 * at],
        };
        self.through(class, enter, leave, at == 0, at == self.text.len())
    }

    /// Weight of the text without its character `at`.
    pub fn removed(&self, at: usize) -> f64 {
        let (first, last) = (at == 0, at + 1 == self.text.len());
        let before: &[usize] = if first { &[] } else { &[2 * at - 1] };
        let after: &[usize] = if last { &[] } else { &[2 * at + 3] };
        let through_blank = self.through(BLANK, before, after, first, last);
        if first || last {
            return through_blank + self.straight_at_an_end(first, last);
        }
        if self.text[at - 1] == self.text[at + 1] {
            return through_blank;
        }
        let straight: f64 = (1..self.columns.count)
            .map(|column| self.before[column - 1][2 * at - 1] * self.after[column][2 * at + 3])
            .sum();
        through_blank + straight
    }

    /// Paths without an end character that have no blank in its place.
    fn straight_at_an_end(&self, first: bool, last: bool) -> f64 {
        let count = self.columns.count;
        match (first, last) {
            (true, false) => self.after[0][3],
            (false, true) => self.before[count - 1][2 * self.text.len() - 3] * self.end_weight(),
            _ => 0.0,
        }
    }

    /// What mass in the last column counts, relative to the text's own.
    fn end_weight(&self) -> f64 {
        let last = &self.before[self.columns.count - 1];
        let states = last.len();
        1.0 / (last[states - 1] + if states > 1 { last[states - 2] } else { 0.0 })
    }

    /// Weight of all paths that come from the `enter` states, stay in a class for a while and go on to the `leave`
    /// states; `starts` and `ends`: the class may have the first, the last column.
    fn through(
        &self,
        class: usize,
        enter: &[usize],
        leave: &[usize],
        starts: bool,
        ends: bool,
    ) -> f64 {
        let count = self.columns.count;
        let (mut staying, mut weight) = (0.0, 0.0);
        for column in 0..count {
            let entering: f64 = if column == 0 {
                f64::from(starts)
            } else {
                enter
                    .iter()
                    .map(|&state| self.before[column - 1][state])
                    .sum()
            };
            staying = (staying + entering) * self.columns.at(column, class) / self.scales[column];
            weight += staying
                * if column + 1 == count {
                    if ends { self.end_weight() } else { 0.0 }
                } else {
                    leave
                        .iter()
                        .map(|&state| self.after[column + 1][state])
                        .sum()
                };
        }
        weight
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Columns over the blank and the first classes, the rest impossible.
    fn columns(rows: &[[f32; 4]]) -> Columns {
        let mut columns = Columns::blank(rows.len());
        for (column, row) in rows.iter().enumerate() {
            columns.column_mut(column)[..4].copy_from_slice(row);
        }
        columns
    }

    /// P(text) by writing out every path.
    fn by_hand(columns: &Columns, text: &[usize]) -> f64 {
        let mut total = 0.0;
        for path in 0..4usize.pow(columns.count as u32) {
            let classes: Vec<usize> = (0..columns.count)
                .map(|column| path / 4usize.pow(column as u32) % 4)
                .collect();
            let mut said = classes.clone();
            said.dedup();
            said.retain(|&class| class != BLANK);
            if said == text {
                total += (0..columns.count)
                    .map(|column| columns.at(column, classes[column]))
                    .product::<f64>();
            }
        }
        total
    }

    fn example() -> Columns {
        columns(&[
            [0.4, 0.3, 0.2, 0.1],
            [0.1, 0.5, 0.3, 0.1],
            [0.3, 0.2, 0.1, 0.4],
            [0.2, 0.6, 0.1, 0.1],
            [0.5, 0.1, 0.2, 0.2],
            [0.3, 0.1, 0.4, 0.2],
        ])
    }

    #[test]
    fn the_forward_pass_sums_every_path() {
        let columns = example();
        for text in [
            &[][..],
            &[1],
            &[1, 1],
            &[1, 3, 2],
            &[2, 2, 2],
            &[3, 1, 3, 1],
        ] {
            let classes: Vec<Option<usize>> = text.iter().map(|&class| Some(class)).collect();
            let found = forward(columns.count, &classes, |column, class| {
                columns.at(column, class.unwrap_or(BLANK))
            });
            let expected = by_hand(&columns, text);
            assert!((found.exp() - expected).abs() < 1e-9, "{text:?}");
        }
    }

    #[test]
    fn weights_of_changes_are_exact() {
        let columns = example();
        for text in [vec![1], vec![1, 1], vec![1, 3, 2], vec![2, 1, 2]] {
            let passes = Passes::new(&columns, &text).unwrap();
            let whole = by_hand(&columns, &text);
            let check = |what: &str, found: f64, changed: &[usize]| {
                let expected = by_hand(&columns, changed) / whole;
                assert!(
                    (found - expected).abs() < 1e-6 * (1.0 + expected),
                    "{text:?} {what} {changed:?}: {found}, expected {expected}"
                );
            };
            for at in 0..=text.len() {
                for class in 1..4 {
                    let mut changed = text.clone();
                    changed.insert(at, class);
                    // A class beside its like would be counted once for each of the two places.
                    let beside = at > 0 && text[at - 1] == class || text.get(at) == Some(&class);
                    if !beside {
                        check("inserted", passes.inserted(at, class), &changed);
                    }
                    if at < text.len() {
                        let mut changed = text.clone();
                        changed[at] = class;
                        check("replaced", passes.replaced(at, class), &changed);
                    }
                }
                if at < text.len() {
                    let mut changed = text.clone();
                    changed.remove(at);
                    check("removed", passes.removed(at), &changed);
                }
            }
        }
    }
}
