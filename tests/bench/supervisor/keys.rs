//! How many keys a supervisor presses, by a stated model: every key counts one, and nobody errs.
//!
//! The cursor stands on the strip's text and moves a word with each arrow key, from line to line with one key; a key begins a
//! mark and a key ends it, which takes whole words; where a piece begins or ends amid a word, the cursor moves by
//! characters there. Then the field is named: typed with Enter, or chosen from a list by its first letter and Enter where it
//! was named before.

use std::ops::Range;

/// To go to the group and its first sheet, and to begin an example of it.
pub const SHOW_SHEET: usize = 3;
/// To ask for the candidates; to take the first one; to leave without one.
pub const ASK: usize = 1;
pub const TAKE: usize = 1;
pub const LEAVE: usize = 1;

/// Moves the cursor, marks a piece.
pub fn mark(
    lines: &[String],
    cursor: &mut (usize, usize),
    line: usize,
    range: &Range<usize>,
) -> usize {
    let text: Vec<char> = lines[line].chars().collect();
    let mut keys = cursor.0.abs_diff(line);
    let from = if cursor.0 == line { cursor.1 } else { 0 };
    keys += steps(&text, from, range.start);
    keys += 1;
    keys += steps(&text, range.start, range.end);
    keys += 1;
    *cursor = (line, range.end);
    keys
}

/// Keys from one place of a line to another: by words as near as they lead, by characters from there.
fn steps(text: &[char], from: usize, to: usize) -> usize {
    let (from, to) = (from.min(to), from.max(to));
    let begins_word = |at: usize| at == 0 || text.get(at - 1).is_some_and(|c| c.is_whitespace());
    let ends_word = |at: usize| text.get(at).is_none_or(|c| c.is_whitespace());
    let is_stop = |at: usize| begins_word(at) || ends_word(at);
    // A word is one key, whether to its end or to the next one's start.
    let words = |from: usize, to: usize| {
        (from + 1..=to)
            .filter(|at| ends_word(*at) && !begins_word(*at))
            .count()
    };
    if is_stop(to) {
        return words(from, to).max(usize::from(from != to));
    }
    let before = (from..to).rev().find(|at| is_stop(*at)).unwrap_or(from);
    let behind = (to..=text.len())
        .find(|at| is_stop(*at))
        .unwrap_or(text.len());
    let near = (to - before).min(behind - to + 1);
    words(from, before) + near
}

/// Names the field of a mark.
pub fn name(field: &str, known: &mut Vec<String>) -> usize {
    if known.iter().any(|name| name == field) {
        return 2;
    }
    known.push(field.to_owned());
    field.chars().count() + 1
}

/// Keys a sheet's values from nothing: each with the key that goes on to the next field.
pub fn key_sheet(values: &[(String, String)]) -> usize {
    values
        .iter()
        .map(|(_, value)| value.chars().count() + 1)
        .sum()
}
