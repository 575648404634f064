//! A check character that a client's rule file defines by weights and a modulus.

use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use thiserror::Error;

/// Largest modulus that one character can write: every letter and digit and a sign.
const MOST_MODULUS: u32 = 97;

/// The end of the payload at which the weights begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum WeightsFrom {
    Left,
    #[default]
    Right,
}

/// The remainder of a weighted sum, looked up in a table of check characters. The weights begin at the right
/// end of the payload, and its characters are digits, unless said otherwise.
///
/// ```
/// use headword::value::{CheckScheme, Weighted};
/// // ISBN of ten digits (ISO 2108:1992).
/// let weights = vec![2, 3, 4, 5, 6, 7, 8, 9, 10];
/// let isbn = Weighted::new(weights, 11, "0123456789X")?.complemented();
/// assert!(CheckScheme::Weighted(isbn).holds("0-306-40615-2"));
/// # Ok::<(), headword::value::WeightedError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "Definition", into = "Definition")]
pub struct Weighted(Definition);

#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Definition {
    /// Repeated as often as the payload needs.
    weights: Vec<u32>,
    #[serde(default)]
    from: WeightsFrom,
    modulus: u32,
    /// The check character of each remainder, in upper case.
    characters: String,
    /// Whether what lacks to the next multiple is written, not the remainder itself.
    #[serde(default)]
    complement: bool,
    /// Whether the payload may hold letters, A for 10 to Z for 35.
    #[serde(default)]
    letters: bool,
}

/// Why a definition cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum WeightedError {
    #[error(
        "expected at least one weight that is no multiple of {modulus}, found none: write the weight of each place, as in [2, 3, 4]"
    )]
    NoWeights { modulus: u32 },
    #[error(
        "expected a modulus from 2 to {MOST_MODULUS}, found {found}: write the number that the sum is divided by"
    )]
    Modulus { found: u32 },
    #[error("expected one check character for each remainder from 0 to {}, found {found}: write them in their order, as in \"0123456789X\"", modulus - 1)]
    Characters { modulus: u32, found: usize },
    #[error(
        "expected check characters that are printed, found {found:?}: write letters, digits or signs"
    )]
    Blank { found: char },
}

impl Weighted {
    /// A definition whose numbers fit each other. `characters` may be fewer than the modulus where codes with the
    /// other remainders are not given out, and may repeat one.
    pub fn new(weights: Vec<u32>, modulus: u32, characters: &str) -> Result<Self, WeightedError> {
        if !(2..=MOST_MODULUS).contains(&modulus) {
            return Err(WeightedError::Modulus { found: modulus });
        }
        let weights: Vec<u32> = weights.iter().map(|weight| weight % modulus).collect();
        if weights.iter().all(|&weight| weight == 0) {
            return Err(WeightedError::NoWeights { modulus });
        }
        if let Some(found) = characters
            .chars()
            .find(|c| c.is_whitespace() || c.is_control())
        {
            return Err(WeightedError::Blank { found });
        }
        let found = characters.chars().count();
        if found == 0 || found > modulus as usize {
            return Err(WeightedError::Characters { modulus, found });
        }
        Ok(Self(Definition {
            weights,
            from: WeightsFrom::Right,
            modulus,
            characters: characters.to_uppercase(),
            complement: false,
            letters: false,
        }))
    }

    /// The same with weights that begin at the left end.
    pub fn from_left(mut self) -> Self {
        self.0.from = WeightsFrom::Left;
        self
    }

    /// The same with what lacks to the next multiple of the modulus written, not the remainder itself.
    pub fn complemented(mut self) -> Self {
        self.0.complement = true;
        self
    }

    /// The same for payloads that may hold letters, A for 10 to Z for 35.
    pub fn with_letters(mut self) -> Self {
        self.0.letters = true;
        self
    }

    pub(super) fn writes(&self, c: char) -> bool {
        self.0.characters.contains(c)
    }

    pub(super) fn check(&self, payload: &[char]) -> Option<char> {
        if payload.is_empty() {
            return None;
        }
        let modulus = self.0.modulus;
        let weights = self.0.weights.iter().cycle();
        let radix = if self.0.letters { 36 } else { 10 };
        let values = payload.iter().map(|c| c.to_digit(radix));
        let add =
            |sum, (value, weight): (Option<u32>, &u32)| Some((sum + value? * weight) % modulus);
        let sum = match self.0.from {
            WeightsFrom::Left => values.zip(weights).try_fold(0, add),
            WeightsFrom::Right => values.rev().zip(weights).try_fold(0, add),
        }?;
        let remainder = if self.0.complement {
            (modulus - sum) % modulus
        } else {
            sum
        };
        self.0.characters.chars().nth(remainder as usize)
    }

    /// Inverse of the chance that a random character is the check character of a random payload.
    pub(super) fn forms(&self) -> f64 {
        let different: BTreeSet<char> = self.0.characters.chars().collect();
        let written = self.0.characters.chars().count();
        f64::from(self.0.modulus) * different.len() as f64 / written as f64
    }

    /// Whether no digit can be exchanged for another one unnoticed.
    pub(super) fn detects_substitutions(&self) -> bool {
        self.is_one_to_one()
            && self
                .0
                .weights
                .iter()
                .all(|&weight| self.tells_digits_apart(weight))
    }

    /// Whether no two neighbouring digits can change places unnoticed, the check digit among them.
    pub(super) fn detects_swaps(&self) -> bool {
        let modulus = self.0.modulus;
        let next = self.0.weights.iter().cycle().skip(1);
        let mut steps = self
            .0
            .weights
            .iter()
            .zip(next)
            .map(|(one, other)| one + modulus - other);
        // The check character's own weight in the sum that is a multiple of the modulus.
        let own = if self.0.complement { 1 } else { modulus - 1 };
        // From the left, any weight may be the last one.
        let last = match self.0.from {
            WeightsFrom::Left => &self.0.weights[..],
            WeightsFrom::Right => &self.0.weights[..1],
        };
        // Where a digit stands for another remainder, exchanging it with one of the payload is no plain swap.
        let mut written = self.0.characters.chars().zip(0..);
        written.all(|(c, remainder)| c.to_digit(10).is_none_or(|digit| digit == remainder))
            && self.is_one_to_one()
            && steps.all(|step| self.tells_digits_apart(step))
            && last
                .iter()
                .all(|weight| self.tells_digits_apart(weight + modulus - own))
    }

    fn is_one_to_one(&self) -> bool {
        let written: Vec<char> = self.0.characters.chars().collect();
        let different: BTreeSet<&char> = written.iter().collect();
        different.len() == written.len()
    }

    /// Whether two digits that differ still do so times `factor`.
    fn tells_digits_apart(&self, factor: u32) -> bool {
        (1..10).all(|difference: u32| !(difference * factor).is_multiple_of(self.0.modulus))
    }
}

impl TryFrom<Definition> for Weighted {
    type Error = WeightedError;

    fn try_from(definition: Definition) -> Result<Self, WeightedError> {
        let checked = Self::new(
            definition.weights,
            definition.modulus,
            &definition.characters,
        )?;
        Ok(Self(Definition {
            from: definition.from,
            complement: definition.complement,
            letters: definition.letters,
            ..checked.0
        }))
    }
}

impl From<Weighted> for Definition {
    fn from(weighted: Weighted) -> Self {
        weighted.0
    }
}
