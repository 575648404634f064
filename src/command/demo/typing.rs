//! What is typed on a strip: the four layouts, their spacing, and the slips of those who typed them.

use super::weighted;
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};
use std::fmt;

/// The fields of a strip, as typed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Fields {
    pub surname: String,
    pub forenames: String,
    pub number: String,
    /// Year.
    pub from: String,
    /// Year.
    pub to: String,
    pub part: String,
    pub parts: String,
}

/// How the fields stand on the strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Layout {
    /// `SURNAME, FORENAMES   NUMBER   FROM-TO   n OF m`
    OneLine,
    /// `SURNAME, FORENAMES` over `NUMBER   FROM-TO   n OF m`
    NameOverNumber,
    /// `NUMBER  SURNAME FORENAMES  FROM TO TO  n/m`
    NumberFirst,
    /// `BOARD NO. NUMBER    SHEET n OF m` over `FORENAMES SURNAME    SERVED FROM - TO`
    Labelled,
}

impl Layout {
    pub const ALL: [Self; 4] = [
        Self::OneLine,
        Self::NameOverNumber,
        Self::NumberFirst,
        Self::Labelled,
    ];

    pub const OF_TWO_LINES: [Self; 2] = [Self::NameOverNumber, Self::Labelled];

    /// The typed lines, the gaps between the fields varied.
    pub fn lines(self, fields: &Fields, random: &mut ChaCha8Rng) -> Vec<String> {
        let Fields {
            surname,
            forenames,
            number,
            from,
            to,
            part,
            parts,
        } = fields;
        let wide = random.random_range(2..=6);
        let mut gap = |usual: usize| {
            let width = if random.random_bool(0.8) {
                usual
            } else {
                random.random_range(2..=7)
            };
            " ".repeat(width)
        };
        let (gap1, gap2, gap3) = (gap(wide), gap(wide), gap(wide));
        let comma = weighted(random, &[(", ", 0.85), (",", 0.08), (",  ", 0.07)]);
        let tight = weighted(random, &[("-", 0.75), (" - ", 0.25)]);
        let loose = weighted(random, &[(" - ", 0.75), ("-", 0.25)]);
        let slash = weighted(random, &[("/", 0.85), (" / ", 0.15)]);
        match self {
            Self::OneLine => vec![format!(
                "{surname}{comma}{forenames}{gap1}{number}{gap2}{from}{tight}{to}{gap3}{part} OF {parts}"
            )],
            Self::NameOverNumber => vec![
                format!("{surname}{comma}{forenames}"),
                format!("{number}{gap1}{from}{tight}{to}{gap2}{part} OF {parts}"),
            ],
            Self::NumberFirst => {
                let (gap1, gap2, gap3) = (&gap1[..2], &gap2[..2], &gap3[..2]);
                vec![format!(
                    "{number}{gap1}{surname} {forenames}{gap2}{from} TO {to}{gap3}{part}{slash}{parts}"
                )]
            }
            Self::Labelled => {
                let label = weighted(random, &[("BOARD NO. ", 0.8), ("BOARD NO ", 0.2)]);
                vec![
                    format!("{label}{number}{gap1}SHEET {part} OF {parts}"),
                    format!("{forenames} {surname}{gap2}SERVED {from}{loose}{to}"),
                ]
            }
        }
    }
}

impl fmt::Display for Layout {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::OneLine => "one-line",
            Self::NameOverNumber => "name-over-number",
            Self::NumberFirst => "number-first",
            Self::Labelled => "labelled",
        })
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

/// Spoils one field, and says which and how (`number transposed`).
pub fn slip(fields: &mut Fields, random: &mut ChaCha8Rng) -> String {
    loop {
        let (name, value) = match random.random_range(0..10) {
            0..4 => ("surname", &mut fields.surname),
            4..6 => ("forenames", &mut fields.forenames),
            6..8 => ("number", &mut fields.number),
            8 => ("from", &mut fields.from),
            _ => ("to", &mut fields.to),
        };
        let finger = *[
            Finger::Transposed,
            Finger::Dropped,
            Finger::Doubled,
            Finger::WrongKey,
            Finger::LetterForDigit,
        ]
        .choose(random)
        .expect("fingers");
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

    fn fields() -> Fields {
        Fields {
            surname: "O'BRIEN".into(),
            forenames: "JOHN A".into(),
            number: "104210-1".into(),
            from: "1910".into(),
            to: "1931".into(),
            part: "2".into(),
            parts: "3".into(),
        }
    }

    #[test]
    fn every_layout_types_every_field() {
        let fields = fields();
        for layout in Layout::ALL {
            for sheet in 0..50 {
                let lines = layout.lines(&fields, &mut random(1, Stream::Typing, sheet));
                let text = lines.join("\n");
                for value in [
                    &fields.surname,
                    &fields.forenames,
                    &fields.number,
                    &fields.from,
                    &fields.to,
                ] {
                    assert!(
                        text.contains(value.as_str()),
                        "{layout}: {value} missing in {text}"
                    );
                }
                let two_lines = matches!(layout, Layout::NameOverNumber | Layout::Labelled);
                assert_eq!(lines.len(), if two_lines { 2 } else { 1 });
            }
        }
    }

    #[test]
    fn a_slip_changes_exactly_the_field_it_names() {
        for sheet in 0..200 {
            let mut typed = fields();
            let slip = slip(&mut typed, &mut random(1, Stream::Typing, sheet));
            let right = fields();
            let changed: Vec<&str> = [
                ("surname", typed.surname != right.surname),
                ("forenames", typed.forenames != right.forenames),
                ("number", typed.number != right.number),
                ("from", typed.from != right.from),
                ("to", typed.to != right.to),
            ]
            .into_iter()
            .filter_map(|(name, changed)| changed.then_some(name))
            .collect();
            assert_eq!(changed.len(), 1, "{slip}");
            assert!(slip.starts_with(changed[0]), "{slip} but {changed:?}");
        }
    }
}
