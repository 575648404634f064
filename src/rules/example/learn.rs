//! What the other readings tell of the marked fields: their kinds, patterns, check characters, words.

use super::draft::{Field, Part};
use super::find::reads_as;
use super::guess::{guesses, is_named};
use super::search::Search;
use super::{layout, shape};
use crate::rules::kind::FieldKind;
use std::collections::BTreeMap;

/// Kinds tried for a field at most.
const KINDS: usize = 3;
/// Words of a choice at most; a longer list is a text.
const MOST_WORDS: usize = 60;
/// Readings on which a word must stand to be one of a choice.
const WORD_AGAIN: usize = 2;
/// Share of the values that must be words of the choice.
const WORDS_COVER: f64 = 0.8;
/// Readings a word, on average, from which words are taken for a choice where the field's name does not say so.
const CHOICE_FROM: usize = 4;
/// How much rarer than another word a word like it is that is a misreading of it.
const MISREAD: usize = 4;
/// A longer run of words counts as the word where it stands on this share of the readings that have its end.
const WHOLE_WORD: f64 = 0.6;
/// Distinct values from which on a largest number is believed; others may be twice as large.
const NUMBERS_FROM: usize = 4;
/// Values from which on patterns other than the example's own are believed.
const VALUES_FROM: usize = 3;
/// Share of the values that must contradict a known field's pattern before the rule says another one.
const PATTERN_FAILS: f64 = 0.5;

impl Search<'_> {
    /// Tries the other kinds that new fields may be of; where a field's name speaks for some, only these.
    pub fn with_kinds(&mut self, mut best: usize) -> usize {
        for place in 0..self.example.marks().len() {
            let mark = &self.example.marks()[place];
            let field = &self.tried[best].0.fields[place];
            if field.is_known || mark.kind.is_some() {
                continue;
            }
            let piece = self.example.text(mark);
            let name = field.slot();
            let mut guesses = guesses(&piece, &mark.field, self.styles);
            if guesses.iter().any(is_named) {
                guesses.retain(is_named);
            }
            // The words of a choice are learnt from values.
            guesses.retain(|guess| guess.kind != FieldKind::Choice);
            for guess in guesses.into_iter().take(KINDS) {
                let mut draft = self.tried[best].0.clone();
                let field = &mut draft.fields[place];
                if field.kind == guess.kind {
                    continue;
                }
                let mut own = Field::new(&field.name, field.record, guess.kind);
                own.write.clone_from(&field.write);
                *field = layout::of_kind(own, std::slice::from_ref(&piece));
                best = self.vary(best, draft, &format!("{name} as {}", guess.kind.name()));
            }
        }
        best
    }

    /// Learns from the values that were taken.
    pub fn with_values(&mut self, mut best: usize) -> usize {
        let values = self.values(&self.tried[best].0.clone());
        for place in 0..self.tried[best].0.fields.len() {
            let field = self.tried[best].0.fields[place].clone();
            let mut own: Vec<String> = values[place]
                .iter()
                .filter(|value| !value.is_empty())
                .cloned()
                .collect();
            let all = own.len();
            own.sort();
            own.dedup();
            let (other, what) = match field.kind {
                FieldKind::Code => self.code(&field, &own),
                FieldKind::Number if !field.is_known => number(&field, &own),
                FieldKind::Date | FieldKind::DateRange if !field.is_known => dates(&field, &own),
                FieldKind::Choice if field.is_known => self.more_words(&field, &values[place]),
                FieldKind::Text | FieldKind::Surname | FieldKind::Forenames | FieldKind::Person
                    if !field.is_known && self.may_be_choice(place) =>
                {
                    match self.words(best, place, &values) {
                        Some(words) => choice(&field, words, all),
                        None => continue,
                    }
                }
                _ => continue,
            };
            if what.is_empty() {
                continue;
            }
            let mut draft = self.tried[best].0.clone();
            // What a date means does not show in how well it fits.
            let is_meant = other.month_first;
            draft.fields[place] = other;
            let what = format!("{} with {what}", field.slot());
            if is_meant {
                let other = self.attempt(draft);
                if self.tried[other].1.takes.is_some() {
                    self.tried[best].1.takes = None;
                    self.considered.push(format!("kept {what}"));
                    best = other;
                }
            } else {
                best = self.vary(best, draft, &what);
            }
        }
        best
    }

    /// The pattern and the check character that a code's values keep.
    fn code(&self, field: &Field, values: &[String]) -> (Field, String) {
        let mut other = field.clone();
        let mut what = Vec::new();
        let spec = self
            .book
            .fields()
            .iter()
            .find(|spec| spec.name == field.name);
        if let Some(spec) = spec.filter(|_| field.is_known) {
            let whole = spec
                .pattern
                .as_ref()
                .map(|pattern| regex::Regex::new(&format!("^(?:{pattern})$")));
            let Some(Ok(whole)) = whole else {
                return (other, String::new());
            };
            let failing = values.iter().filter(|value| !whole.is_match(value)).count();
            if (failing as f64) < PATTERN_FAILS * values.len() as f64 {
                return (other, String::new());
            }
        }
        if values.len() >= VALUES_FROM {
            other.pattern = shape::pattern(values).or(other.pattern);
        }
        if other.pattern != field.pattern {
            let pattern = other.pattern.as_deref().unwrap_or_default();
            what.push(format!(
                "the pattern {pattern} that {} values have",
                values.len()
            ));
        }
        if let Some((check, holding)) = shape::check(values) {
            other.check = Some(check);
            what.push(format!(
                "check {check}, which holds on {holding} of {} values",
                values.len()
            ));
        }
        (other, what.join(" and "))
    }

    /// The words that come again and again and that a known choice does not have yet.
    fn more_words(&self, field: &Field, values: &[String]) -> (Field, String) {
        let mut other = field.clone();
        let spec = self
            .book
            .fields()
            .iter()
            .find(|spec| spec.name == field.name);
        let known = spec.map_or(&[][..], |spec| &spec.words);
        let is_known = |value: &String| known.iter().any(|word| word.eq_ignore_ascii_case(value));
        let mut counts: BTreeMap<&String, usize> = BTreeMap::new();
        for value in values
            .iter()
            .filter(|value| !value.is_empty() && !is_known(value))
        {
            *counts.entry(value).or_default() += 1;
        }
        let again = counts.into_iter().filter(|(_, count)| *count > WORD_AGAIN);
        let new: Vec<String> = again.map(|(word, _)| word.clone()).collect();
        if new.is_empty() || known.len() + new.len() > MOST_WORDS {
            return (other, String::new());
        }
        let what = format!("the words {} beside those it has", new.join(", "));
        other.words = known.iter().cloned().chain(new).collect();
        (other, what)
    }

    /// Whether a field may be a choice: its name says so, or nothing says what it is.
    fn may_be_choice(&self, place: usize) -> bool {
        let Some(mark) = self.example.marks().get(place) else {
            return false;
        };
        if mark.kind.is_some() {
            return false;
        }
        let guesses = guesses(&self.example.text(mark), &mark.field, self.styles);
        let mut named = guesses.iter().filter(|guess| is_named(guess));
        let is_choice = |guess: &super::Guess| guess.kind == FieldKind::Choice;
        match named.clone().next() {
            Some(_) => named.any(is_choice),
            None => guesses.iter().any(is_choice),
        }
    }

    /// The words that come again and again in a field's place; `None` where they do not.
    fn words(&self, best: usize, place: usize, values: &[Vec<String>]) -> Option<Vec<String>> {
        let draft = &self.tried[best].0;
        // A name beside it without anything between may hold some of its words, or the other way round.
        let (before, behind) = neighbours(draft, place);
        let beside = before.or(behind);
        let contexts: Vec<Vec<&str>> = (0..values[place].len())
            .map(|reading| {
                let mut words: Vec<&str> = values[place][reading].split_whitespace().collect();
                match beside {
                    Some(beside) if before.is_some() => {
                        let more = values[beside][reading].split_whitespace();
                        words.splice(0..0, more);
                        words.reverse();
                    }
                    Some(beside) => words.extend(values[beside][reading].split_whitespace()),
                    None => {}
                }
                words
            })
            .collect();
        let longest = contexts.iter().map(Vec::len).max().unwrap_or(0);
        let mut counts: BTreeMap<&[&str], usize> = BTreeMap::new();
        for context in &contexts {
            for length in 1..=context.len() {
                *counts.entry(&context[..length]).or_default() += 1;
            }
        }
        let mut words: BTreeMap<String, usize> = BTreeMap::new();
        for context in contexts.iter().filter(|context| !context.is_empty()) {
            let mut length = if beside.is_some() { 1 } else { context.len() };
            while beside.is_some() && length < context.len().min(longest) {
                let longer = counts[&context[..=length]];
                if longer < WORD_AGAIN
                    || (longer as f64) < WHOLE_WORD * counts[&context[..length]] as f64
                {
                    break;
                }
                length += 1;
            }
            let mut word = context[..length].to_vec();
            if before.is_some() {
                word.reverse();
            }
            *words.entry(word.join(" ")).or_default() += 1;
        }
        let piece = self.example.text(&self.example.marks()[place]);
        let all: usize = words.values().sum();
        let mut kept: Vec<(String, usize)> = words
            .into_iter()
            .filter(|(_, count)| *count >= WORD_AGAIN)
            .collect();
        kept.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
        // Misreadings of a word that is more frequent are none.
        let mut chosen: Vec<(String, usize)> = Vec::new();
        for (word, count) in kept {
            let is_misread = |(other, often): &(String, usize)| {
                count * MISREAD <= *often && reads_as(&word, other)
            };
            if !chosen.iter().any(is_misread) {
                chosen.push((word, count));
            }
        }
        let covered: usize = chosen.iter().map(|(_, count)| count).sum();
        let is_named = guesses(&piece, &self.example.marks()[place].field, self.styles)
            .iter()
            .any(|guess| guess.kind == FieldKind::Choice && is_named(guess));
        let again = if is_named { 1 } else { CHOICE_FROM };
        let is_choice = !chosen.is_empty()
            && chosen.len() <= MOST_WORDS
            && covered as f64 >= WORDS_COVER * all as f64
            && all >= again * chosen.len();
        let mut words: Vec<String> = chosen.into_iter().map(|(word, _)| word).collect();
        if !words.iter().any(|word| reads_as(word, &piece)) {
            words.push(piece);
        }
        words.sort();
        is_choice.then_some(words)
    }
}

/// The fields right before and behind a slot with nothing but a blank between, of kinds that take words.
fn neighbours(draft: &super::draft::Draft, place: usize) -> (Option<usize>, Option<usize>) {
    let takes_words = |field: &usize| {
        matches!(
            draft.fields[*field].kind,
            FieldKind::Surname | FieldKind::Forenames | FieldKind::Person | FieldKind::Text
        )
    };
    for parts in &draft.lines {
        let Some(at) = parts.iter().position(|part| *part == Part::Slot(place)) else {
            continue;
        };
        let slot = |blank: Option<usize>, slot: Option<usize>| {
            (parts.get(blank?)? == &Part::Blank).then_some(())?;
            match parts.get(slot?)? {
                Part::Slot(field) => Some(*field).filter(takes_words),
                _ => None,
            }
        };
        return (
            slot(at.checked_sub(1), at.checked_sub(2)),
            slot(Some(at + 1), Some(at + 2)),
        );
    }
    (None, None)
}

fn choice(field: &Field, words: Vec<String>, all: usize) -> (Field, String) {
    let what = format!("the {} words that {all} readings have there", words.len());
    let mut other = Field::new(&field.name, field.record, FieldKind::Choice);
    other.words = words;
    (other, what)
}

/// A largest number, with room above those that were seen.
fn number(field: &Field, values: &[String]) -> (Field, String) {
    let mut other = field.clone();
    let numbers: Vec<u32> = values
        .iter()
        .filter_map(|value| value.parse().ok())
        .collect();
    let most = numbers.iter().max().copied().unwrap_or(0);
    // Distinct ones: of two sheets a set has no more.
    if numbers.len() < NUMBERS_FROM {
        return (other, String::new());
    }
    let Some(max) = [99, 999, 9_999].into_iter().find(|max| most <= max / 2) else {
        return (other, String::new());
    };
    other.max = Some(max);
    (
        other,
        format!("{max} as the largest number, seen up to {most}"),
    )
}

/// Whether dates in figures have the month first.
fn dates(field: &Field, values: &[String]) -> (Field, String) {
    let mut other = field.clone();
    let pairs = values.iter().filter_map(|value| {
        let mut numbers = value.split(|c: char| !c.is_ascii_digit());
        let number = |text: Option<&str>| text?.parse::<u32>().ok();
        let pair = (number(numbers.next())?, number(numbers.next())?);
        numbers.next().map(|_| pair)
    });
    let (mut day_first, mut month_first) = (0, 0);
    for (first, second) in pairs {
        day_first += usize::from((13..=31).contains(&first) && second <= 12);
        month_first += usize::from((13..=31).contains(&second) && first <= 12);
    }
    if month_first < 2 || month_first <= 4 * day_first {
        return (other, String::new());
    }
    other.month_first = true;
    (
        other,
        format!("the month first, as {month_first} dates must have it"),
    )
}
