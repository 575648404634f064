//! Other layouts that the other readings speak for: misread words put right, what varies as a field, what may be missing.

use super::draft::{Draft, Field, Part};
use super::evidence::shape;
use super::find::stands_in;
use super::guess::guesses;
use super::layout;
use super::search::Search;
use std::collections::BTreeMap;
use std::ops::Range;

/// Readings from which on is believed that something varies or is dirt.
const BELIEVED_FROM: usize = 8;
/// Share of the readings below which what stands on the example is no part of the layout.
const SELDOM: f64 = 0.35;
/// How much more often another spelling must come to be the right one.
const MORE_OFTEN: usize = 2;
/// Readings without a piece that drafts are tried on, and from which on it may be missing at all.
const SHORTER: usize = 6;
const SHORTER_FROM: usize = 2;
/// Readings of a shape that are looked at for the words that they should have.
const LACKING: usize = 60;
/// Readings on which drafts are tried at most, those without a piece included.
const MOST_SHEETS: usize = 45;
/// Runs tried of those that the same readings may lack.
const SAME: usize = 4;
/// Pieces of a line that may be missing together.
const TOGETHER: usize = 8;

impl Search<'_> {
    /// Compares the unmarked words with those of other readings: another spelling that most have, dirt, numbers and words
    /// that differ from strip to strip.
    pub fn with_literals(&mut self, mut best: usize) -> usize {
        let texts: Vec<String> = self
            .evidence
            .alike
            .iter()
            .map(|at| self.bench.text(*at).to_uppercase())
            .collect();
        if texts.len() < BELIEVED_FROM {
            return best;
        }
        best = self.with_blanks(best);
        let mut line = 0;
        while line < self.tried[best].0.lines.len() {
            let mut at = 0;
            while at < self.tried[best].0.lines[line].len() {
                let draft = self.tried[best].0.clone();
                let Part::Literal(literal) = &draft.lines[line][at] else {
                    at += 1;
                    continue;
                };
                let having = texts.iter().filter(|text| stands_in(literal, text)).count();
                let is_word = literal.chars().filter(|c| c.is_alphanumeric()).count() > 1;
                if let Some((spelling, count)) =
                    is_word.then(|| better_spelling(literal, &texts)).flatten()
                {
                    let mut draft = draft.clone();
                    let what = format!(
                        "`{spelling}` instead of `{literal}`, as {count} of {} have it",
                        texts.len()
                    );
                    draft.lines[line][at] = Part::Literal(spelling);
                    best = self.vary(best, draft, &what);
                } else if (having as f64) < SELDOM * texts.len() as f64 {
                    best = self.without_literal(best, &draft, (line, at), (having, texts.len()));
                }
                at += 1;
            }
            line += 1;
        }
        best
    }

    /// Parts words that stand right at a value: the example may have lost a blank there.
    fn with_blanks(&mut self, mut best: usize) -> usize {
        for line in 0..self.tried[best].0.lines.len() {
            let parts = self.tried[best].0.lines[line].clone();
            for at in (1..parts.len()).rev() {
                let word = match (&parts[at - 1], &parts[at]) {
                    (Part::Literal(word), Part::Slot(_)) if word.ends_with(char::is_alphabetic) => {
                        word
                    }
                    (Part::Slot(_), Part::Literal(word))
                        if word.starts_with(char::is_alphabetic) =>
                    {
                        word
                    }
                    _ => continue,
                };
                let mut draft = self.tried[best].0.clone();
                draft.lines[line].insert(at, Part::Blank);
                best = self.vary(
                    best,
                    draft,
                    &format!("a blank between `{word}` and the value beside it"),
                );
            }
        }
        best
    }

    /// What hardly any other reading has as a field, or left out.
    fn without_literal(
        &mut self,
        mut best: usize,
        draft: &Draft,
        (line, at): (usize, usize),
        (having, of): (usize, usize),
    ) -> usize {
        let Part::Literal(literal) = &draft.lines[line][at] else {
            return best;
        };
        let only = format!("which only {having} of {of} have");
        let mut without = draft.clone();
        without.lines[line].remove(at);
        if without.lines[line].get(at) == Some(&Part::Blank)
            && (at == 0 || without.lines[line][at - 1] == Part::Blank)
        {
            without.lines[line].remove(at);
        }
        if without.lines[line].iter().all(|part| *part == Part::Blank) {
            without.lines.remove(line);
        }
        if !without.lines.is_empty() {
            best = self.vary(best, without, &format!("no `{literal}`, {only}"));
        }
        let core = literal.trim_matches(|c: char| !c.is_alphanumeric());
        if core.is_empty() {
            return best;
        }
        let name = free_name(draft, line, at, |name| {
            self.book.fields().iter().any(|spec| spec.name == name)
        });
        let kind = guesses(core, &name, self.styles)[0].kind;
        let mut varying = draft.clone();
        varying.fields.push(layout::of_kind(
            Field::new(&name, 0, kind),
            &[core.to_owned()],
        ));
        let start = literal.find(core).unwrap_or(0);
        let (before, behind) = (&literal[..start], &literal[start + core.len()..]);
        let mut parts = vec![Part::Slot(varying.fields.len() - 1)];
        if !before.is_empty() {
            parts.insert(0, Part::Literal(before.to_owned()));
        }
        if !behind.is_empty() {
            parts.push(Part::Literal(behind.to_owned()));
        }
        varying.lines[line].splice(at..=at, parts);
        self.vary(
            best,
            varying,
            &format!("`{core}`, {only}, as a field `{name}`"),
        )
    }

    /// Tries as optional what other readings lack: their shape is the example's without it.
    pub fn with_optional(&mut self, mut best: usize) -> usize {
        let draft = self.tried[best].0.clone();
        let mut found: Vec<(Segment, Vec<usize>)> = Vec::new();
        for (line, parts) in draft.lines.iter().enumerate() {
            for range in segments(parts) {
                let mut shorter = draft.lines.clone();
                shorter[line].drain(range.clone());
                let lacking = self.lacking(&shorter);
                if lacking.len() >= SHORTER_FROM {
                    found.push((Segment { line, range }, lacking));
                }
            }
        }
        // What most readings lack comes first; what overlaps with it is then no question any more.
        found.sort_by_key(|(_, lacking)| std::cmp::Reverse(lacking.len()));
        let mut sheets = self.evidence.alike.clone();
        found.retain(|(_, lacking)| {
            let has_room = sheets.len() < MOST_SHEETS;
            if has_room {
                let more = lacking
                    .iter()
                    .filter(|at| !self.evidence.alike.contains(at));
                sheets.extend(more.take(SHORTER));
            }
            has_room
        });
        if found.is_empty() {
            return best;
        }
        self.look_at(&sheets);
        best = self.attempt(draft.clone());
        let mut kept: Vec<Segment> = Vec::new();
        while !found.is_empty() {
            // Several runs may be what the same readings lack: ` 4418 SHEET 2 OF` and ` SHEET 2 OF 3`.
            let lacking = found[0].1.clone();
            let (same, others): (Vec<_>, Vec<_>) =
                found.into_iter().partition(|(_, other)| *other == lacking);
            found = others;
            let with = |segment: Segment| {
                let mut with = kept.clone();
                with.push(segment);
                with
            };
            let same = same.into_iter().map(|(segment, _)| segment);
            let free = same.filter(|segment| !kept.iter().any(|other| other.overlaps(segment)));
            let ways: Vec<Vec<Segment>> = free.take(SAME).map(with).collect();
            let tried = ways.into_iter().map(|way| {
                let draft = with_missing(&draft, &way);
                let at = self.attempt(draft);
                (self.tried[at].1.score, way)
            });
            let Some((_, way)) = tried.max_by(|a, b| a.0.total_cmp(&b.0)) else {
                continue;
            };
            let segment = &way[way.len() - 1];
            let shown = self.rendered(&draft.lines[segment.line][segment.range.clone()]);
            let what = format!(
                "`{}` as what may be missing, as on {} strips",
                shown.trim(),
                lacking.len()
            );
            let better = self.vary(best, with_missing(&draft, &way), &what);
            if better != best {
                kept = way;
            }
            best = better;
        }
        best
    }

    /// The readings whose shape is that of a layout with the example's values in it, but not the example's own, and that
    /// have its words.
    fn lacking(&self, lines: &[Vec<Part>]) -> Vec<usize> {
        let text: Vec<String> = lines.iter().map(|parts| self.rendered(parts)).collect();
        let text = text.join("\n");
        let own: Vec<String> = self.example.lines().collect();
        // A word less among others changes no shape.
        if shape(&text) == shape(&own.join("\n")) {
            return Vec::new();
        }
        let words = words(lines);
        let has_words = |at: &usize| {
            words
                .iter()
                .all(|word| stands_in(word, self.bench.text(*at)))
        };
        let sheets = self.evidence.of_shape(&text).iter().copied();
        sheets.take(LACKING).filter(has_words).collect()
    }
}

/// A run of parts of a line.
#[derive(Debug, Clone)]
struct Segment {
    line: usize,
    range: Range<usize>,
}

impl Segment {
    fn overlaps(&self, other: &Self) -> bool {
        self.line == other.line
            && self.range.start < other.range.end
            && other.range.start < self.range.end
    }
}

/// A draft of which some parts may be missing.
fn with_missing(draft: &Draft, segments: &[Segment]) -> Draft {
    let mut draft = draft.clone();
    let mut order: Vec<&Segment> = segments.iter().collect();
    // From the end, so that places before stay.
    order.sort_by_key(|segment| std::cmp::Reverse(segment.range.start));
    for Segment { line, range } in order {
        let missing: Vec<Part> = draft.lines[*line].drain(range.clone()).collect();
        draft.lines[*line].insert(range.start, Part::Optional(missing));
    }
    draft
}

/// The unmarked words of a layout.
fn words(lines: &[Vec<Part>]) -> Vec<&String> {
    let literals = lines.iter().flatten().filter_map(|part| match part {
        Part::Literal(text) => Some(text),
        _ => None,
    });
    let letters = |text: &str| text.chars().filter(|c| c.is_alphabetic()).count();
    literals.filter(|text| letters(text) > 1).collect()
}

/// Runs of parts that may be missing together: from one gap to the next, with the gap before, or behind at the start.
fn segments(parts: &[Part]) -> Vec<Range<usize>> {
    let mut gaps: Vec<usize> = (0..parts.len())
        .filter(|at| parts[*at] == Part::Blank)
        .collect();
    gaps.push(parts.len());
    let mut segments = Vec::new();
    for (first, &from) in gaps.iter().enumerate() {
        let ends = gaps[first + 1..].iter().take(TOGETHER);
        segments.extend(ends.map(|&to| from..to));
        // The start of the line up to this gap.
        if from < parts.len() && first < TOGETHER {
            segments.push(0..from + 1);
        }
    }
    segments.retain(|segment| segment.len() < parts.len() && segment.len() > 1);
    segments
}

/// The spelling that a word most often has on other readings, if that is not its own.
fn better_spelling(literal: &str, texts: &[String]) -> Option<(String, usize)> {
    let own = literal.to_uppercase();
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for text in texts {
        let mut words = text.split_whitespace();
        if let Some(word) = words.find(|word| super::find::reads_as(word, &own)) {
            *counts.entry(word).or_default() += 1;
        }
    }
    let own_count = counts.get(own.as_str()).copied().unwrap_or(0);
    let (word, count) = counts.into_iter().max_by_key(|(_, count)| *count)?;
    let is_better = word != own && count >= MORE_OFTEN * own_count.max(1);
    is_better.then(|| (word.to_owned(), count))
}

/// A name for a field that nobody named: the word before it, in small letters.
fn free_name(draft: &Draft, line: usize, at: usize, is_taken: impl Fn(&str) -> bool) -> String {
    let before = draft.lines[line][..at]
        .iter()
        .rev()
        .find_map(|part| match part {
            Part::Literal(text) => Some(text),
            _ => None,
        });
    let word: String = before
        .map(|text| {
            text.chars()
                .filter(|c| c.is_alphanumeric())
                .collect::<String>()
                .to_lowercase()
        })
        .unwrap_or_default();
    let word = if word.is_empty() {
        "other".to_owned()
    } else {
        word
    };
    let taken = |name: &str| is_taken(name) || draft.fields.iter().any(|field| field.name == name);
    if !taken(&word) {
        return word;
    }
    let mut numbers = 2..;
    numbers
        .find_map(|number| {
            let name = format!("{word}_{number}");
            (!taken(&name)).then_some(name)
        })
        .expect("there are numbers enough")
}
