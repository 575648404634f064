//! Years of four digits: the same, off by one, a digit misread, two swapped.

use super::slips::is_swap;

/// Off by one (a record opened in December), and other digits misread or swapped, in years.
const OFF_BY_ONE: f64 = 0.01;
const DIGIT: f64 = 0.015;
const SWAPPED: f64 = 0.003;
/// Years outside the roster's own spread evenly over about two centuries.
pub const ELSEWHERE: f64 = 0.1 / 200.0;

/// How two years go together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Relation {
    Same,
    Off,
    Digit,
    Swapped,
    Other,
}

/// Years in four digits.
pub fn relation(row: &str, typed: &str) -> Relation {
    let number = |text: &str| text.parse::<i32>().unwrap_or(0);
    let wrong = row
        .bytes()
        .zip(typed.bytes())
        .filter(|(a, b)| a != b)
        .count();
    match (number(row) - number(typed)).abs() {
        0 => Relation::Same,
        1 => Relation::Off,
        _ if wrong == 1 => Relation::Digit,
        _ if is_swap(row, typed) => Relation::Swapped,
        _ => Relation::Other,
    }
}

/// P(typed | the row's year).
pub fn probability(row: &str, typed: &str) -> f64 {
    // A misread digit: one of four places, one of nine others.
    let digit = DIGIT / 36.0;
    match relation(row, typed) {
        Relation::Same => 1.0 - 2.0 * OFF_BY_ONE - DIGIT - SWAPPED,
        Relation::Off => OFF_BY_ONE + digit,
        Relation::Digit => digit,
        // Swapped: one of three pairs of neighbours.
        Relation::Swapped => SWAPPED / 3.0,
        Relation::Other => 0.0,
    }
}
