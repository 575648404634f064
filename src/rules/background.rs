//! Free text: what a reading would look like if no rule applied. Every rule has to explain it better than this.

/// What sort of character stands before another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Class {
    Blank,
    Letter,
    Digit,
    Mark,
}

impl Class {
    pub fn of(c: char) -> Self {
        if c.is_whitespace() {
            Self::Blank
        } else if c.is_alphabetic() {
            Self::Letter
        } else if c.is_numeric() {
            Self::Digit
        } else {
            Self::Mark
        }
    }
}

/// Probability of a blank, a letter, a digit, a mark (columns) behind each of them (rows). Estimates for typed lines
/// of words and numbers; deliberately broad, so that free text explains a line of names a little less well than a rule
/// for names does.
const NEXT: [[f32; 4]; 4] = [
    [0.05, 0.60, 0.25, 0.10],
    [0.18, 0.70, 0.04, 0.08],
    [0.18, 0.06, 0.64, 0.12],
    [0.25, 0.35, 0.35, 0.05],
];
/// Characters of each class that a typewriter has, letters without regard to case.
const SIZE: [f32; 4] = [1.0, 26.0, 10.0, 14.0];

/// Natural log of the probability of `c` behind a character of class `before`.
pub(super) fn log_probability(before: Class, c: char) -> f32 {
    if c == '\n' {
        // The number of lines is given, not explained.
        return 0.0;
    }
    let class = Class::of(c) as usize;
    (NEXT[before as usize][class] / SIZE[class]).ln()
}
