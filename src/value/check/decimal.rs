//! Check digits of decimal numbers by tables: Luhn, Verhoeff, Damm; and of freight containers, ISO 6346.
//!
//! Payloads are in upper case; `None` where one is empty or holds a character that the scheme does not know.

/// Luhn (ISO/IEC 7812-1, annex B): every second digit from the right doubled, its digits summed.
pub(super) fn luhn(payload: &[char]) -> Option<u32> {
    let sum = digits(payload)?
        .iter()
        .rev()
        .enumerate()
        .map(|(place, &digit)| match (place % 2, digit) {
            (0, 0..5) => digit * 2,
            (0, _) => digit * 2 - 9,
            _ => digit,
        })
        .sum::<u32>();
    Some((10 - sum % 10) % 10)
}

/// How Verhoeff's digits are exchanged at each place from the right, one application (J. Verhoeff, "Error detecting
/// decimal codes", 1969; from memory, checked against python-stdnum).
const VERHOEFF_PERMUTATION: [u32; 10] = [1, 5, 7, 6, 2, 8, 3, 0, 9, 4];

/// Verhoeff: products in the group of the turns and reflections of a regular pentagon.
pub(super) fn verhoeff(payload: &[char]) -> Option<u32> {
    let product = digits(payload)?
        .iter()
        .rev()
        .enumerate()
        .fold(0, |product, (place, &digit)| {
            let permuted =
                (0..(place + 1) % 8).fold(digit, |digit, _| VERHOEFF_PERMUTATION[digit as usize]);
            pentagon(product, permuted)
        });
    Some(if (1..5).contains(&product) {
        5 - product
    } else {
        product
    })
}

/// The product in that group: 0 to 4 are turns, 5 to 9 reflections.
fn pentagon(left: u32, right: u32) -> u32 {
    match (left < 5, right < 5) {
        (true, true) => (left + right) % 5,
        (true, false) => 5 + (left + right) % 5,
        (false, true) => 5 + (left - right) % 5,
        (false, false) => (left + 5 - right) % 5,
    }
}

/// A totally antisymmetric quasigroup of order 10 (H. M. Damm, "Total anti-symmetrische Quasigruppen", 2004; from
/// memory, checked against python-stdnum).
const DAMM: [[u32; 10]; 10] = [
    [0, 3, 1, 7, 5, 9, 8, 6, 4, 2],
    [7, 0, 9, 2, 1, 5, 4, 8, 6, 3],
    [4, 2, 0, 6, 8, 7, 1, 3, 5, 9],
    [1, 7, 5, 0, 9, 8, 3, 4, 2, 6],
    [6, 1, 2, 3, 0, 4, 5, 9, 7, 8],
    [3, 6, 7, 4, 2, 0, 9, 5, 8, 1],
    [5, 8, 6, 9, 7, 2, 0, 1, 3, 4],
    [8, 9, 4, 5, 3, 6, 2, 0, 1, 7],
    [9, 4, 3, 8, 6, 1, 7, 2, 0, 5],
    [2, 5, 8, 1, 4, 3, 6, 7, 9, 0],
];

pub(super) fn damm(payload: &[char]) -> Option<u32> {
    let digits = digits(payload)?;
    Some(
        digits
            .iter()
            .fold(0, |row, &digit| DAMM[row as usize][digit as usize]),
    )
}

/// Letters of the owner and the equipment category, then digits of the serial number.
const CONTAINER_LETTERS: usize = 4;
const CONTAINER_DIGITS: usize = 6;

/// ISO 6346: letters count 10 to 38 without the multiples of 11, each place twice the one before; the remainder modulo
/// 11, of which 10 is written 0.
pub(super) fn container(payload: &[char]) -> Option<u32> {
    if payload.len() != CONTAINER_LETTERS + CONTAINER_DIGITS {
        return None;
    }
    let mut sum = 0;
    for (place, &c) in payload.iter().enumerate() {
        let value = match c {
            'A'..='Z' if place < CONTAINER_LETTERS => {
                let letter = c as u32 - 'A' as u32;
                // A is 10; B, L and V step over 11, 22 and 33.
                10 + letter + letter.div_ceil(10)
            }
            '0'..='9' if place >= CONTAINER_LETTERS => c as u32 - '0' as u32,
            _ => return None,
        };
        sum += value << place;
    }
    Some(sum % 11 % 10)
}

fn digits(payload: &[char]) -> Option<Vec<u32>> {
    let digits: Option<Vec<u32>> = payload.iter().map(|c| c.to_digit(10)).collect();
    digits.filter(|digits| !digits.is_empty())
}
