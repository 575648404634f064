//! What typed characters are misread as.
//!
//! Strengths are estimates, graded by eye on typewriter and line-printer faces and after the confusions that the
//! literature on page readers names again and again (O/0, I/1/l, S/5, B/8, rn/m); none is fitted to a job's sheets. A
//! slot's kind decides which typed characters are possible at all, so letters for digits can be generous here.

use std::collections::HashMap;
use std::sync::LazyLock;

/// How probable a confusion is, given what the reader claims for the character it read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Strength {
    /// The same shape in many faces: a fixed share of what the reader claims.
    Twin,
    /// Alike, one a letter and the other a digit or a mark: a smaller fixed share.
    Alike,
    /// Alike and of one class, so that both fit most slots: only what the reader's own doubt leaves.
    Sibling,
}

/// Share of the reader's claim that goes to a twin.
const TWIN: f64 = 0.12;
/// Share that goes to something alike of another class.
const ALIKE: f64 = 0.02;
/// Share of the reader's doubt that goes to each sibling.
const SIBLING_OF_DOUBT: f64 = 0.2;
/// The most that a sibling gets, however great the doubt.
const SIBLING_MOST: f64 = 0.02;

/// Probability that `typed` stands where the reader claims another character with `claim`, all alternatives given.
pub(super) fn probability(strength: Strength, claim: f64, doubt: f64) -> f64 {
    match strength {
        Strength::Twin => TWIN * claim,
        Strength::Alike => ALIKE * claim,
        Strength::Sibling => (SIBLING_OF_DOUBT * doubt).min(SIBLING_MOST) * claim,
    }
}

/// Groups whose members are taken for each other.
const GROUPS: &[(Strength, &str)] = &[
    (Strength::Twin, "0Oo"),
    (Strength::Twin, "1Il|"),
    (Strength::Twin, "-–—‐‑−_~"),
    (Strength::Twin, "'’‘`´"),
    (Strength::Twin, ".·•"),
    (Strength::Twin, ".,"),
    (Strength::Alike, "0Q"),
    (Strength::Alike, "0D"),
    (Strength::Alike, "0C"),
    (Strength::Alike, "1!/]["),
    (Strength::Alike, "1i"),
    (Strength::Alike, "5Ss"),
    (Strength::Alike, "5$"),
    (Strength::Alike, "8B&"),
    (Strength::Alike, "2Zz"),
    (Strength::Alike, "6Gb"),
    (Strength::Alike, "7T"),
    (Strength::Alike, "1T"),
    (Strength::Alike, "4A"),
    (Strength::Alike, "9g"),
    (Strength::Alike, "9q"),
    (Strength::Alike, "3E"),
    (Strength::Alike, "/I|l"),
    (Strength::Alike, ",;"),
    (Strength::Alike, ".:"),
    (Strength::Alike, ",'"),
    (Strength::Alike, "-="),
    (Strength::Alike, "-."),
    (Strength::Sibling, "OQ"),
    (Strength::Sibling, "OCG"),
    (Strength::Sibling, "OD"),
    (Strength::Sibling, "EF"),
    (Strength::Sibling, "PR"),
    (Strength::Sibling, "RK"),
    (Strength::Sibling, "HNM"),
    (Strength::Sibling, "MW"),
    (Strength::Sibling, "UV"),
    (Strength::Sibling, "VY"),
    (Strength::Sibling, "ILJT"),
    (Strength::Sibling, "BRPE"),
    (Strength::Sibling, "XKY"),
    (Strength::Sibling, "ceo"),
    (Strength::Sibling, "nhu"),
    (Strength::Sibling, "ao"),
    (Strength::Sibling, "ft"),
    (Strength::Sibling, "ij"),
    (Strength::Sibling, "vy"),
    (Strength::Sibling, "17"),
    (Strength::Sibling, "14"),
    (Strength::Sibling, "38"),
    (Strength::Sibling, "35"),
    (Strength::Sibling, "56"),
    (Strength::Sibling, "06"),
    (Strength::Sibling, "08"),
    (Strength::Sibling, "68"),
    (Strength::Sibling, "09"),
    (Strength::Sibling, "89"),
    (Strength::Sibling, "49"),
    (Strength::Sibling, "27"),
];

/// Several characters read for one typed, and one read for several: (read, typed).
const RUNS: &[(&str, &str)] = &[
    ("rn", "m"),
    ("m", "rn"),
    ("nn", "m"),
    ("cl", "d"),
    ("d", "cl"),
    ("vv", "w"),
    ("w", "vv"),
    ("VV", "W"),
    ("W", "VV"),
    ("ii", "u"),
    ("li", "h"),
    ("RN", "M"),
    ("IN", "M"),
    ("I-I", "H"),
    ("|-|", "H"),
    ("I)", "D"),
    ("|)", "D"),
    ("()", "O"),
    ("()", "0"),
    ("I<", "K"),
    ("|<", "K"),
    ("LI", "U"),
    ("'T", "T"),
    ("--", "-"),
];

/// Share of the reader's claim that goes to a run.
pub(super) const RUN: f64 = 0.01;

/// The typed characters that may have been read as `read`.
pub(super) fn typed_for(read: char) -> &'static [(char, Strength)] {
    static TYPED: LazyLock<HashMap<char, Vec<(char, Strength)>>> = LazyLock::new(|| {
        let mut typed: HashMap<char, Vec<(char, Strength)>> = HashMap::new();
        for &(strength, group) in GROUPS {
            for read in group.chars() {
                let others = group.chars().filter(|&other| other != read);
                let others = others.map(|other| (other, strength));
                typed.entry(read).or_default().extend(others);
            }
        }
        typed
    });
    TYPED.get(&read).map_or(&[], Vec::as_slice)
}

/// Every run that may have been read: (read, typed).
pub(super) fn runs() -> &'static [(&'static str, &'static str)] {
    RUNS
}
