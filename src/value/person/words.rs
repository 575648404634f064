//! Words that are no names of their own: titles, suffixes, particles, and what announces a former name.
//!
//! All in their comparison form without blanks. The lists are common practice in name authority work; no single source.

use super::super::comparison_form;

/// Titles before a name. Those that are given names as often (`DON`, `PRINCE`, `EARL`) are left out.
const TITLES: [&str; 63] = [
    "MR",
    "MRS",
    "MS",
    "MISS",
    "MISTER",
    "MASTER",
    "DR",
    "DOCTOR",
    "PROF",
    "PROFESSOR",
    "REV",
    "REVD",
    "REVEREND",
    "RT",
    "RTREV",
    "FATHER",
    "BROTHER",
    "SISTER",
    "RABBI",
    "HON",
    "HONORABLE",
    "RTHON",
    "SIR",
    "DAME",
    "LADY",
    "LORD",
    "CAPT",
    "CAPTAIN",
    "CPT",
    "MAJ",
    "MAJOR",
    "COL",
    "COLONEL",
    "LT",
    "LIEUT",
    "LIEUTENANT",
    "LTCOL",
    "LTGEN",
    "MAJGEN",
    "GEN",
    "GENERAL",
    "BRIG",
    "SGT",
    "SERGEANT",
    "CPL",
    "PVT",
    "CDR",
    "CMDR",
    "ADM",
    "ADMIRAL",
    "JUDGE",
    "HERR",
    "FRAU",
    "FRL",
    "FRAULEIN",
    "MME",
    "MLLE",
    "MONSIEUR",
    "SRA",
    "SRTA",
    "SENOR",
    "SENORA",
    "MEVR",
];

/// Suffixes of generation and rank behind a name.
const GENERATIONS: [&str; 18] = [
    "JR", "SR", "JNR", "SNR", "JUNIOR", "SENIOR", "II", "III", "IV", "VII", "VIII", "IX", "2ND",
    "3RD", "4TH", "2D", "3D", "4D",
];

/// Single letters that are suffixes only where nothing else fits: initials far more often.
const LETTER_GENERATIONS: [&str; 3] = ["I", "V", "VI"];

/// Degrees, orders and professions behind a name.
const DEGREES: [&str; 34] = [
    "ESQ", "ESQUIRE", "MD", "DDS", "DMD", "DVM", "PHD", "DPHIL", "EDD", "JD", "LLB", "LLD", "LLM",
    "DD", "RN", "LPN", "CPA", "CLU", "CFP", "PE", "BSC", "MSC", "MBA", "QC", "KC", "MP", "OBE",
    "CBE", "MBE", "FRS", "SJ", "OSB", "USN", "RET",
];

/// Degrees that are surnames or given names too: only behind a comma, or with full stops.
const DEGREES_OR_NAMES: [&str; 6] = ["BA", "BS", "MA", "MS", "DO", "AM"];

/// Particles that belong to the surname behind them when a name is given in direct order.
const PARTICLES: [&str; 52] = [
    "DE", "DEL", "DELA", "DELLA", "DELLO", "DEGLI", "DEI", "DES", "DI", "DA", "DAL", "DALLA", "DO",
    "DOS", "DAS", "DU", "LA", "LE", "LO", "LOS", "LAS", "VAN", "VANDE", "VANDER", "VANDEN", "VON",
    "VONDER", "VOM", "DER", "DEN", "TER", "TEN", "TE", "ZU", "ZUM", "ZUR", "AF", "AV", "ST", "STE",
    "SAN", "SANTA", "BIN", "IBN", "BINT", "BEN", "ABU", "AL", "EL", "MC", "MAC", "FITZ",
];

/// Particles that are never given names.
const NO_FORENAMES: [&str; 20] = [
    "DE", "DEL", "DELA", "DELLA", "DELLO", "DEGLI", "DER", "DOS", "DAS", "LOS", "LAS", "VANDE",
    "VANDER", "VANDEN", "VON", "VOM", "ZUM", "ZUR", "ST", "MC",
];

/// What announces a former or other name.
const FORMER: [&str; 14] = [
    "NEE",
    "BORN",
    "GEB",
    "GEBOREN",
    "GEBORENE",
    "FORMERLY",
    "FORMERLYKNOWNAS",
    "FORM",
    "FKA",
    "ALIAS",
    "AKA",
    "ALSOKNOWNAS",
    "KNOWNAS",
    "MAIDENNAME",
];

fn squashed(words: &str) -> String {
    comparison_form(words).replace(' ', "")
}

pub(super) fn is_title(word: &str) -> bool {
    let form = squashed(word);
    TITLES.contains(&form.as_str()) && !are_initials_by_stops(word, &form)
}

/// Whether the first word, or the first two together, cannot be a given name.
pub(super) fn begins_surname(words: &[&str]) -> bool {
    (1..=words.len().min(2))
        .any(|count| NO_FORENAMES.contains(&squashed(&words[..count].concat()).as_str()))
}

pub(super) fn is_particle(word: &str) -> bool {
    PARTICLES.contains(&squashed(word).as_str())
}

/// `J.R.` and `M.R.` are two initials; `JR`, `JR.` and `MR.` are not.
fn are_initials_by_stops(word: &str, form: &str) -> bool {
    has_inner_stop(word) && form.len() == 2
}

fn has_inner_stop(word: &str) -> bool {
    word.trim_end_matches('.').contains('.')
}

/// Whether a word behind a name is a suffix. `apart`: whether a comma sets it off.
pub(super) fn is_suffix(word: &str, apart: bool) -> bool {
    if word.contains(|c: char| c != '.' && !c.is_alphanumeric()) {
        return false;
    }
    let form = squashed(word);
    let form = form.as_str();
    GENERATIONS.contains(&form) && !are_initials_by_stops(word, form)
        || DEGREES.contains(&form)
        || (apart || has_inner_stop(word)) && DEGREES_OR_NAMES.contains(&form)
        || apart && LETTER_GENERATIONS.contains(&form)
}

/// Whether a word that would else be a surname is a suffix: no surname is one letter.
pub(super) fn is_suffix_for_want_of_better(word: &str) -> bool {
    is_suffix(word, true) && LETTER_GENERATIONS.contains(&squashed(word).as_str())
}

/// How many words from the first on announce a former name; 0 where they do not.
pub(super) fn former_marker(words: &[&str]) -> usize {
    (1..=words.len().min(3))
        .rev()
        .find(|&count| FORMER.contains(&squashed(&words[..count].concat()).as_str()))
        .unwrap_or(0)
}

#[cfg(test)]
pub(super) fn is_generation(word: &str) -> bool {
    let form = squashed(word);
    GENERATIONS.contains(&form.as_str()) || LETTER_GENERATIONS.contains(&form.as_str())
}
