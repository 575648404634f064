//! Where a value stands in a strip's text, though some of it is misread, or the value is keyed in another style.

use super::guess::digit_like;
use super::{Example, Mark, named};
use crate::rules::Writing;
use crate::rules::kind::Styles;
use crate::value::typed_dates;
use std::ops::Range;

/// Cost of a character that another one is taken for, of a blank or mark too many or too few, of anything else, and of
/// an end amid a word. Own choice: a look-alike must be cheaper than half a wrong character.
const LOOK_ALIKE: f64 = 0.3;
const SLIGHT: f64 = 0.3;
const WRONG: f64 = 1.0;
const AMID_A_WORD: f64 = 0.5;
/// The most that a place may cost, for each character of the value. A fourth of the characters may be wrong; heavy noise
/// misreads a twentieth.
const MOST: f64 = 0.25;
/// Places that cost this much more than the best are none.
const AS_GOOD: f64 = 0.25;
/// Words that a date or another value in another style has at most.
const MOST_WORDS: usize = 8;

/// A place where a value may stand.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Place {
    pub line: usize,
    pub range: Range<usize>,
    pub cost: f64,
    /// How the value follows from what stands there, by the name of rule files.
    pub write: Option<String>,
}

/// What was found of the values of a sheet.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Found {
    /// Values that do not stand there.
    pub missing: Vec<String>,
    /// Values that may stand elsewhere just as well.
    pub ambiguous: usize,
    /// How far what stands there is from the values: about one for each wrong character.
    pub cost: f64,
}

impl Example {
    /// Marks values, given by field, where they stand; long ones first, so that a `2` is not looked for in a date.
    pub fn mark_values(&mut self, values: &[(String, &str)], styles: &Styles) -> Found {
        let mut found = Found::default();
        let mut order: Vec<&(String, &str)> = values.iter().collect();
        order.sort_by_key(|(_, value)| std::cmp::Reverse(value.chars().count()));
        for (field, value) in order {
            if named(field).is_none() {
                found.missing.push(field.clone());
                continue;
            }
            let is_free = |place: &Place| {
                let mut marks = self.marks.iter();
                !marks.any(|mark: &Mark| {
                    mark.line == place.line
                        && mark.range.start < place.range.end
                        && place.range.start < mark.range.end
                })
            };
            let mut places = self.places(value);
            places.retain(is_free);
            if places.is_empty() {
                places = self.places_by_meaning(value, styles);
                places.retain(is_free);
            }
            let Some(best) = places.first() else {
                found.missing.push(field.clone());
                continue;
            };
            let as_good = places
                .iter()
                .filter(|place| place.cost <= best.cost + AS_GOOD);
            found.ambiguous += usize::from(as_good.count() > 1);
            found.cost += best.cost;
            // A value that cannot be marked is as good as missing.
            if self.mark(best.line, best.range.clone(), field).is_err() {
                found.missing.push(field.clone());
            }
            let mut marks = self.marks.iter_mut();
            if let Some(mark) = marks.find(|mark| mark.field == *field) {
                mark.write.clone_from(&best.write);
            }
        }
        found
    }

    /// Where a text stands, misread or not, the best place first; of equal ones the first on the strip.
    pub(super) fn places(&self, value: &str) -> Vec<Place> {
        let value: Vec<char> = value
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .chars()
            .collect();
        let most = MOST * value.len() as f64;
        let mut places = Vec::new();
        for (line, text) in self.lines.iter().enumerate() {
            let ends = aligned(&value, text);
            let good = ends.into_iter().filter(|(range, _)| !range.is_empty());
            let mut good: Vec<(Range<usize>, f64)> = good
                .map(|(range, cost)| {
                    let cost = cost + AMID_A_WORD * f64::from(ends_amid(text, &range));
                    (range, cost)
                })
                .filter(|(_, cost)| *cost <= most.max(LOOK_ALIKE))
                .collect();
            good.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.start.cmp(&b.0.start)));
            let mut kept: Vec<(Range<usize>, f64)> = Vec::new();
            for (range, cost) in good {
                if kept
                    .iter()
                    .all(|(other, _)| range.end <= other.start || other.end <= range.start)
                {
                    kept.push((range, cost));
                }
            }
            places.extend(kept.into_iter().map(|(range, cost)| Place {
                line,
                range,
                cost,
                write: None,
            }));
        }
        places.sort_by(|a, b| {
            let by_place = (a.line, a.range.start).cmp(&(b.line, b.range.start));
            a.cost.total_cmp(&b.cost).then(by_place)
        });
        places
    }

    /// Where something stands that means or is written as the value: a date in another style, a number with its zeros.
    fn places_by_meaning(&self, value: &str, styles: &Styles) -> Vec<Place> {
        let meant = typed_dates(value, &styles.dates)
            .ok()
            .map(|dates| dates.edtf);
        let padded = format!("padded to {}", value.chars().count());
        let writes: Vec<(String, Writing)> = WRITES
            .iter()
            .copied()
            .chain([padded.as_str()])
            .filter_map(|name| Some((name.to_owned(), Writing::parse(name)?)))
            .collect();
        let mut places = Vec::new();
        for (line, text) in self.lines.iter().enumerate() {
            for range in spans(text) {
                let piece: String = text[range.clone()].iter().collect();
                let repaired: String = piece.chars().map(|c| digit_like(c).unwrap_or(c)).collect();
                let is_meant = |piece: &str| {
                    let dates = typed_dates(piece, &styles.dates)
                        .ok()
                        .map(|dates| dates.edtf);
                    dates.is_some() && dates == meant
                };
                let written = writes.iter().find(|(_, writing)| {
                    [&piece, &repaired]
                        .into_iter()
                        .any(|piece| writing.apply(piece, styles).eq_ignore_ascii_case(value))
                });
                let (cost, write) = match written {
                    Some((name, _)) => (LOOK_ALIKE, Some(name.clone())),
                    None if is_meant(&piece) || is_meant(&repaired) => (2.0 * LOOK_ALIKE, None),
                    None => continue,
                };
                places.push(Place {
                    line,
                    range,
                    cost,
                    write,
                });
            }
        }
        // The longest of equal ones: all of a date, not its last year.
        places.sort_by(|a, b| {
            a.cost
                .total_cmp(&b.cost)
                .then(b.range.len().cmp(&a.range.len()))
        });
        let mut kept: Vec<Place> = Vec::new();
        for place in places {
            let apart = |other: &Place| {
                other.line != place.line
                    || place.range.end <= other.range.start
                    || other.range.end <= place.range.start
            };
            if kept.iter().all(apart) {
                kept.push(place);
            }
        }
        kept
    }
}

/// Whether a text is another one, but for case, gaps and a misread character in four.
pub(super) fn reads_as(text: &str, other: &str) -> bool {
    let text: Vec<char> = text.chars().collect();
    let other: Vec<char> = other.chars().collect();
    let most = (MOST * other.len() as f64).max(LOOK_ALIKE);
    // The whole of it: what is left over on both sides counts.
    let whole = aligned(&text, &other).pop();
    whole.is_some_and(|(range, cost)| {
        let before: f64 = other[..range.start].iter().map(|c| lost(*c)).sum();
        cost + before <= most
    })
}

/// Whether a word stands in a text, misread or not.
pub(super) fn stands_in(word: &str, text: &str) -> bool {
    !Example::of_text(text).places(word).is_empty()
}

/// Ways to write a value that are looked for, the more usual first.
const WRITES: [&str; 10] = [
    "edtf",
    "first year",
    "last year",
    "first day",
    "last day",
    "digits only",
    "surname first",
    "forenames first",
    "decimal point",
    "n of m",
];

/// For each end in the text, the cheapest range that ends there and reads as the value.
fn aligned(value: &[char], text: &[char]) -> Vec<(Range<usize>, f64)> {
    // Of the value's beginnings, one after the other: cost and start for each end in the text.
    let mut row: Vec<(f64, usize)> = (0..=text.len()).map(|at| (0.0, at)).collect();
    for &wanted in value {
        let mut next = Vec::with_capacity(row.len());
        next.push((row[0].0 + lost(wanted), row[0].1));
        for (at, &read) in text.iter().enumerate() {
            let changed = (row[at].0 + change(wanted, read), row[at].1);
            let missing = (row[at + 1].0 + lost(wanted), row[at + 1].1);
            let more: (f64, usize) = next[at];
            let more = (more.0 + lost(read), more.1);
            let best = [changed, missing, more]
                .into_iter()
                .min_by(|a, b| a.0.total_cmp(&b.0));
            next.push(best.expect("three ways"));
        }
        row = next;
    }
    row.into_iter()
        .enumerate()
        .map(|(end, (cost, start))| (start..end, cost))
        .collect()
}

fn change(wanted: char, read: char) -> f64 {
    let plain = |c: char| {
        if c.is_whitespace() {
            ' '
        } else {
            c.to_uppercase().next().unwrap_or(c)
        }
    };
    let (wanted, read) = (plain(wanted), plain(read));
    if wanted == read {
        0.0
    } else if family(wanted) == family(read) {
        LOOK_ALIKE
    } else if lost(wanted) < WRONG && lost(read) < WRONG {
        SLIGHT
    } else {
        WRONG
    }
}

fn lost(c: char) -> f64 {
    if c.is_alphanumeric() { WRONG } else { SLIGHT }
}

/// One of the characters that a character in capitals is most often taken for.
pub(super) fn family(c: char) -> char {
    match c {
        '!' => '1',
        '–' | '—' | '~' | '=' => '-',
        ',' | ':' | ';' => '.',
        c => digit_like(c).unwrap_or(c),
    }
}

/// How many ends of a range lie amid a word.
fn ends_amid(text: &[char], range: &Range<usize>) -> u8 {
    let is_word = |at: Option<usize>| {
        at.and_then(|at| text.get(at))
            .is_some_and(|c| c.is_alphanumeric())
    };
    let at_start = is_word(range.start.checked_sub(1)) && is_word(Some(range.start));
    let at_end = is_word(range.end.checked_sub(1)) && is_word(Some(range.end));
    u8::from(at_start) + u8::from(at_end)
}

/// Every run of up to eight words, with the marks between them.
fn spans(text: &[char]) -> Vec<Range<usize>> {
    let mut words: Vec<Range<usize>> = Vec::new();
    for (at, c) in text.iter().enumerate() {
        if !c.is_alphanumeric() {
            continue;
        }
        match words.last_mut() {
            Some(word) if word.end == at => word.end = at + 1,
            _ => words.push(at..at + 1),
        }
    }
    let from = 0..words.len();
    from.flat_map(|from| {
        let ends = words[from..].iter().take(MOST_WORDS);
        ends.map(|end| words[from].start..end.end)
            .collect::<Vec<_>>()
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_found_though_misread_or_in_another_style() {
        let text = "HARGRFAVES, MARY  ANN   2O4517-4\n03/52 - 11/61  SHEET 2 OF 12";
        for (value, piece) in [
            ("Hargreaves", "HARGRFAVES"),
            ("MARY ANN", "MARY  ANN"),
            ("204517-4", "2O4517-4"),
            ("2", "2"),
            ("12", "12"),
            ("03/52 - 11/61", "03/52 - 11/61"),
            ("1952-03/1961-11", "03/52 - 11/61"),
            ("1961-11", "11/61"),
            ("1952-03", "03/52"),
            ("ORME", ""),
        ] {
            let mut example = Example::of_text(text);
            let found = example.mark_values(&[("x".to_owned(), value)], &Styles::default());
            assert_eq!(example.piece("x"), piece, "{value}: {found:?}");
            assert_eq!(found.missing.is_empty(), !piece.is_empty(), "{value}");
        }
    }

    #[test]
    fn long_values_are_found_before_short_ones() {
        let mut example = Example::of_text("1952 HALL 2/2  NO. 1952-2");
        let values = [
            ("part", "2"),
            ("parts", "2"),
            ("number", "1952-2"),
            ("year", "1952"),
        ];
        let values = values.map(|(field, value)| (field.to_owned(), value));
        let found = example.mark_values(&values, &Styles::default());
        let starts: Vec<(&str, usize)> = example
            .marks()
            .iter()
            .map(|mark| (mark.field.as_str(), mark.range.start))
            .collect();
        assert_eq!(
            starts,
            [("year", 0), ("part", 10), ("parts", 12), ("number", 19)]
        );
        assert!(found.missing.is_empty(), "{found:?}");
        assert_eq!(found.ambiguous, 1);
    }
}
