//! Which face a value wears: sure, look or empty.

use super::Face;
use super::join::Value;
use crate::roster::Agreement;
use crate::value::Probability;

/// Values below this are never *sure*: expected wrong once in 2,000.
pub const SURE: f64 = 1.0 - 1.0 / 2_000.0;
/// A rule less probable than this is doubtful, and so is all that it took out.
pub const RULE_SURE: f64 = 0.99;
/// A row less probable than this is doubtful, and so is a value that rests on it.
pub const LINK_SURE: f64 = 0.999;
/// A field rests on the roster when its value would be less probable than this without it.
pub const RESTS_ON_ROSTER: f64 = SURE;

/// What bears on a value's face beside its probability.
pub struct Circumstances<'a> {
    /// The strip has a finding that somebody should look at.
    pub strip_warned: bool,
    pub rule_probability: f64,
    /// Probability of the row that the sheet is linked to, where the roster holds the field.
    pub link: Option<f64>,
    /// How the value goes with the linked row, where the roster holds the field.
    pub agreement: Option<Agreement>,
    pub reader_suffices: bool,
    /// The linked row says the same, word for word; initials stand for words.
    pub row_says_so: bool,
    /// As many letters and digits were read as the value has: nothing was put in or left out to make it fit.
    pub read_whole: bool,
    /// It does not stand on the strip: the rule gives it to every sheet that it fits.
    pub certain_of_rule: bool,
    /// Why it may mean something else than it seems to.
    pub doubt: Option<&'a str>,
    /// Another field contradicts it.
    pub contradicted: bool,
    /// Number and name point to different rows.
    pub row_contested: bool,
}

/// The face, and what keeps it from being *sure* although it is probable enough.
pub fn face<'a>(
    value: &Value,
    shown: Probability,
    around: &Circumstances<'a>,
) -> (Face, Vec<&'a str>) {
    if value.value.is_empty() {
        return (Face::Empty, Vec::new());
    }
    let rests_on_roster = value.ruled < RESTS_ON_ROSTER;
    let link_doubtful = around.link.is_none_or(|link| link < LINK_SURE);
    // A typist may drop a forename that the roster has, and so may a reader: only the whole value vouches for itself.
    let row_agrees = around.row_says_so;
    let supported = value.check_holds == Some(true)
        || row_agrees
        || around.reader_suffices
        || around.certain_of_rule;
    let mut against: Vec<&str> = [
        (
            value.check_holds == Some(false),
            "its check character does not fit",
        ),
        (around.strip_warned, "the strip has a finding"),
        (around.rule_probability < RULE_SURE, "the rule is doubtful"),
        (
            around.agreement == Some(Agreement::NotFull),
            "it differs from the roster row",
        ),
        (
            around.agreement == Some(Agreement::Full) && !around.row_says_so,
            "the roster row has more or other words",
        ),
        (
            !around.read_whole,
            "more or fewer characters were read than it has",
        ),
        (
            !value.offered,
            "the roster put it forward, the reader did not",
        ),
        (around.contradicted, "another field contradicts it"),
        (
            around.row_contested && around.agreement.is_some(),
            "number and name point to different rows",
        ),
        (
            row_agrees && rests_on_roster && link_doubtful,
            "it rests on a roster row that is doubtful",
        ),
        (
            !supported,
            "nothing supports it but the reader's own opinion",
        ),
    ]
    .into_iter()
    .filter_map(|(holds, words)| holds.then_some(words))
    .collect();
    against.extend(around.doubt);
    if shown.get() >= SURE && against.is_empty() {
        (Face::Sure, against)
    } else {
        (Face::Look, against)
    }
}
