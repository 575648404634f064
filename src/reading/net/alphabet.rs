//! What the net can say: the same characters in the same order as `training/text.py`.

/// Class 0 is CTC's blank; character i of this is class i + 1. The first is the space between words.
pub(super) const ALPHABET: &str = concat!(
    " ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789",
    "-,./'&()?:#+*=$%@!\";_<>[]",
    "ÁÄÅÆÇÈÉÍÑÓÖØÚÜáäåæçèéíñóöøúü",
    "ß£½°§"
);

/// The class between characters.
pub(super) const BLANK: usize = 0;

/// Classes, the blank included.
pub(super) fn classes() -> usize {
    ALPHABET.chars().count() + 1
}

/// The class of a character, where the net knows it.
pub(super) fn class_of(c: char) -> Option<usize> {
    ALPHABET
        .chars()
        .position(|known| known == c)
        .map(|at| at + 1)
}

/// The character of a class other than the blank.
pub(super) fn character(class: usize) -> char {
    ALPHABET.chars().nth(class - 1).unwrap_or('\u{fffd}')
}
