//! The systems of ISO 7064: a few letters or digits whose weighted sum leaves a fixed remainder.

const DIGITS: &str = "0123456789";
const LETTERS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const BOTH: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";

/// One system; a character's value is its place in the alphabet.
#[derive(Debug, Clone, Copy)]
pub(super) enum System {
    /// The sum of value times radix to the power of its place from the right is 1 modulo the modulus.
    Pure {
        modulus: u32,
        radix: u32,
        payload: &'static str,
        /// What check characters are written with.
        check: &'static str,
        /// How many check characters there are.
        length: usize,
    },
    /// Sums modulo the size of the alphabet, doubled modulo one more.
    Hybrid { alphabet: &'static str },
}

pub(super) const MOD_11_2: System = System::Pure {
    modulus: 11,
    radix: 2,
    payload: DIGITS,
    check: "0123456789X",
    length: 1,
};
pub(super) const MOD_37_2: System = System::Pure {
    modulus: 37,
    radix: 2,
    payload: BOTH,
    check: "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*",
    length: 1,
};
/// Letters may stand in the payload as 10 to 35, each two digits, as in ISO 17442 and ISO 11649.
pub(super) const MOD_97_10: System = System::Pure {
    modulus: 97,
    radix: 10,
    payload: BOTH,
    check: DIGITS,
    length: 2,
};
pub(super) const MOD_661_26: System = System::Pure {
    modulus: 661,
    radix: 26,
    payload: LETTERS,
    check: LETTERS,
    length: 2,
};
pub(super) const MOD_1271_36: System = System::Pure {
    modulus: 1271,
    radix: 36,
    payload: BOTH,
    check: BOTH,
    length: 2,
};
pub(super) const MOD_11_10: System = System::Hybrid { alphabet: DIGITS };
pub(super) const MOD_27_26: System = System::Hybrid { alphabet: LETTERS };
pub(super) const MOD_37_36: System = System::Hybrid { alphabet: BOTH };

impl System {
    /// How many check values there are.
    pub fn forms(self) -> u32 {
        match self {
            Self::Pure { modulus, .. } => modulus,
            Self::Hybrid { alphabet } => alphabet.len() as u32,
        }
    }

    /// How many check characters there are.
    pub fn length(self) -> usize {
        match self {
            Self::Pure { length, .. } => length,
            Self::Hybrid { .. } => 1,
        }
    }

    /// Whether a character may be a check character.
    pub fn writes(self, c: char) -> bool {
        match self {
            Self::Pure { check, .. } => check.contains(c),
            Self::Hybrid { alphabet } => alphabet.contains(c),
        }
    }

    /// The check characters of a payload in upper case.
    pub fn check(self, payload: &[char]) -> Option<String> {
        let value = self.check_value(payload)?;
        match self {
            Self::Pure {
                check, length: 1, ..
            } => character(check, value).map(String::from),
            Self::Pure { check, radix, .. } => {
                // 97-10 is written 02 to 98 (ISO 13616 has it so), which leaves the same remainder as 00 to 96.
                let value = if check == DIGITS && value < 2 {
                    value + self.forms()
                } else {
                    value
                };
                [value / radix, value % radix]
                    .map(|value| character(check, value))
                    .into_iter()
                    .collect()
            }
            Self::Hybrid { alphabet } => character(alphabet, value).map(String::from),
        }
    }

    /// Whether the check characters are those of the payload; both in upper case.
    pub fn holds(self, payload: &[char], written: &[char]) -> bool {
        let (letters, radix) = match self {
            Self::Pure { check, radix, .. } => (check, radix),
            Self::Hybrid { alphabet } => (alphabet, 1),
        };
        let read = written
            .iter()
            .try_fold(0, |read, &c| Some(read * radix + value_of(letters, c)?));
        match (self.check_value(payload), read) {
            (Some(value), Some(read)) => read % self.forms() == value,
            _ => false,
        }
    }

    fn check_value(self, payload: &[char]) -> Option<u32> {
        if payload.is_empty() {
            return None;
        }
        match self {
            Self::Pure {
                modulus,
                radix,
                payload: alphabet,
                check,
                length,
            } => {
                let sum = payload.iter().try_fold(0, |sum, &c| {
                    let value = value_of(alphabet, c)?;
                    let is_two_digits = check == DIGITS && value >= radix;
                    let shifted = if is_two_digits { sum * radix } else { sum };
                    Some((shifted * radix + value) % modulus)
                })?;
                let sum = sum * radix.pow(length as u32) % modulus;
                Some((modulus + 1 - sum) % modulus)
            }
            Self::Hybrid { alphabet } => {
                let size = alphabet.len() as u32;
                let product = payload.iter().try_fold(size, |product, &c| {
                    let sum = (product + value_of(alphabet, c)?) % size;
                    Some(if sum == 0 { size } else { sum } * 2 % (size + 1))
                })?;
                Some((size + 1 - product) % size)
            }
        }
    }
}

fn value_of(alphabet: &str, c: char) -> Option<u32> {
    let at = alphabet.bytes().position(|letter| char::from(letter) == c);
    at.map(|at| at as u32)
}

fn character(alphabet: &str, value: u32) -> Option<char> {
    alphabet.chars().nth(value as usize)
}
