//! How strips are typed: the gaps between the values, and the slips of those who typed them.

use super::contents::Fields;
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;

/// The gaps between the values of one strip, in blanks: most as wide as its typist's habit.
#[derive(Debug, Clone, Copy)]
pub struct Gaps {
    usual: usize,
}

impl Gaps {
    pub fn choose(random: &mut ChaCha8Rng) -> Self {
        Self {
            usual: random.random_range(2..=6),
        }
    }

    /// The next gap, two blanks at least.
    pub fn next(self, random: &mut ChaCha8Rng) -> String {
        let width = if random.random_bool(0.8) {
            self.usual
        } else {
            random.random_range(2..=7)
        };
        " ".repeat(width)
    }
}

/// Two lines as three: the second one is broken where its first field ends.
pub fn in_three(lines: Vec<String>) -> Vec<String> {
    let broken = |line: &String| {
        let (field, rest) = line.split_once("  ")?;
        Some([field.to_owned(), rest.trim_start().to_owned()])
    };
    match lines.get(1).and_then(broken) {
        Some([second, third]) => vec![lines[0].clone(), second, third],
        None => lines,
    }
}

/// What a typist's finger did wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Finger {
    Transposed,
    Dropped,
    Doubled,
    WrongKey,
    LetterForDigit,
}

/// Rows of a typewriter's keyboard; neighbours in a row are struck for one another.
const KEY_ROWS: [&str; 4] = ["1234567890-", "QWERTYUIOP", "ASDFGHJKL", "ZXCVBNM,."];

/// Spoils one of the fields, chosen by weight, and says which and how (`number transposed`).
///
/// One of them must be three characters long or longer.
pub fn slip(fields: &mut Fields, weights: &[(&str, u32)], random: &mut ChaCha8Rng) -> String {
    let total = weights.iter().map(|(_, weight)| weight).sum();
    loop {
        let mut at = random.random_range(0..total);
        let chosen = weights.iter().find(|(_, weight)| {
            let here = at < *weight;
            at = at.saturating_sub(*weight);
            here
        });
        let (name, _) = chosen.expect("the weights add up to the total");
        let finger = *[
            Finger::Transposed,
            Finger::Dropped,
            Finger::Doubled,
            Finger::WrongKey,
            Finger::LetterForDigit,
        ]
        .choose(random)
        .expect("fingers");
        let value = fields.get_mut(name);
        let Some(value) = value else { continue };
        if let Some(spoilt) = spoil(value, finger, random) {
            *value = spoilt;
            let how = match finger {
                Finger::Transposed => "transposed",
                Finger::Dropped => "dropped",
                Finger::Doubled => "doubled",
                Finger::WrongKey => "wrong key",
                Finger::LetterForDigit => "letter for digit",
            };
            return format!("{name} {how}");
        }
    }
}

/// The value with one slip of this kind at a random place; `None` where that changes nothing.
fn spoil(value: &str, finger: Finger, random: &mut ChaCha8Rng) -> Option<String> {
    let mut typed: Vec<char> = value.chars().collect();
    if typed.len() < 3 {
        return None;
    }
    let at = random.random_range(1..typed.len());
    if !typed[at].is_ascii_alphanumeric() || !typed[at - 1].is_ascii_alphanumeric() {
        return None;
    }
    match finger {
        Finger::Transposed => typed.swap(at - 1, at),
        Finger::Dropped => {
            typed.remove(at);
        }
        Finger::Doubled => typed.insert(at, typed[at]),
        Finger::WrongKey => {
            let row = KEY_ROWS.iter().find(|row| row.contains(typed[at]))?;
            let key = row.find(typed[at])?;
            let next = if random.random_bool(0.5) {
                key + 1
            } else {
                key.wrapping_sub(1)
            };
            typed[at] = row.chars().nth(next)?;
        }
        Finger::LetterForDigit => {
            typed[at] = match typed[at] {
                '0' => 'O',
                '1' => 'I',
                _ => return None,
            }
        }
    }
    let spoilt: String = typed.into_iter().collect();
    (spoilt != value).then_some(spoilt)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::demo::{Stream, random};

    #[test]
    fn a_slip_changes_exactly_the_field_it_names() {
        let right: Fields = [
            ("surname", "O'BRIEN"),
            ("forenames", "JOHN A"),
            ("number", "104210-1"),
            ("from", "1910"),
            ("part", "2"),
        ]
        .into_iter()
        .collect();
        let weights = [
            ("surname", 4),
            ("forenames", 2),
            ("number", 2),
            ("from", 1),
            ("part", 1),
        ];
        for sheet in 0..200 {
            let mut typed = right.clone();
            let slip = slip(&mut typed, &weights, &mut random(1, Stream::Typing, sheet));
            let changed: Vec<&str> = right
                .iter()
                .zip(typed.iter())
                .filter_map(|(right, typed)| (right != typed).then_some(right.0))
                .collect();
            assert_eq!(changed.len(), 1, "{slip}");
            assert!(slip.starts_with(changed[0]), "{slip} but {changed:?}");
        }
    }
}
