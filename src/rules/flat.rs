//! A reading's positions in a row: what may have been typed at each of them, and what may be dirt.

use super::background::{self, Class};
use super::confusion;
use super::mesh::{How, Skip, Skipped, Spot};
use crate::reading::{Alternative, Position, Reading};

/// Alternatives of one position that are looked at, and characters of one alternative.
const MAX_ALTERNATIVES: usize = 12;
const MAX_CHARACTERS: usize = 4;
/// Alternatives less probable than this are left out.
const LEAST: f64 = 1e-5;
/// Doubt that no reader is without, whatever it claims: one character in a hundred. Measured error rates of line
/// readers on degraded strips lie between one and fifteen in a hundred.
const LEAST_DOUBT: f64 = 0.01;
/// Characters among which the doubt is shared where nothing better is known.
const TYPEWRITER: f64 = 40.0;
/// Probability that a blank counts for nothing: beside another one, beside a mark that typists put blanks round as they
/// please, at a line's end, within a word.
const DOUBLED_BLANK: f32 = 0.5;
const BLANK_AT_MARK: f32 = 0.1;
const BLANK_AT_END: f32 = 0.2;
const FALSE_BLANK: f32 = 0.01;
const JOINING_MARKS: &str = "-–—/.,:";
/// Probability that a character was read where none was typed; and in a short piece at either end of a line, where
/// frames and edges leave their marks.
const FALSE_CHARACTER: f32 = 0.01;
const FALSE_AT_END: f32 = 0.1;
/// The same for a piece of nothing but marks there: such dirt is read as `|`, `.`, `_` far more often than free text
/// has them, hence above 1.
const FALSE_MARK_AT_END: f32 = 2.0;
/// Longest piece at a line's end that may be a mark of the frame rather than typed; in characters.
const FRAME_MARK: usize = 2;
/// Probability that a whole line of the reading is none of the rule's.
const FALSE_LINE: f32 = 0.03;
/// Probability that the reader split a line, and that it ran two lines together.
const SPLIT: f32 = 0.01;
const MERGED: f32 = 0.01;
/// Probability that a letter is typed in the other case than it is read, where the slot insists on that case.
const OTHER_CASE: f64 = 0.02;
/// Small letters that differ from their capitals in size only.
const SAME_IN_BOTH_CASES: &str = "osvwxzu";
/// Probability that such a letter in a line of capitals is a capital.
const WRONG_CASE: f64 = 0.9;
/// Share of capitals among a line's letters from which it counts as typed in capitals.
const CAPITALS: f64 = 0.7;

/// What is gathered about a stretch of positions before the nodes are numbered.
#[derive(Debug, Clone, Copy)]
pub(super) struct Draft {
    pub characters: [char; MAX_CHARACTERS],
    pub length: usize,
    /// Index of the position behind.
    pub to: usize,
    pub probability: f64,
    pub how: How,
}

impl Draft {
    fn new(text: &[char], to: usize, probability: f64, how: How) -> Self {
        let mut characters = ['\0'; MAX_CHARACTERS];
        characters[..text.len()].copy_from_slice(text);
        Self {
            characters,
            length: text.len(),
            to,
            probability,
            how,
        }
    }

    pub fn text(&self) -> &[char] {
        &self.characters[..self.length]
    }
}

/// A reading's positions in a row, a line break (`None`) between lines.
pub(super) struct Flat<'a> {
    positions: Vec<Option<&'a Position>>,
    pub spots: Vec<Spot>,
    pub end: Spot,
    /// The best text at each position.
    pub best: Vec<&'a str>,
    /// For each position the one where its line begins and the one behind its last.
    lines: Vec<(usize, usize)>,
    line_of: Vec<usize>,
    /// For each line, the positions without what may be marks of the frame at its ends.
    cores: Vec<(usize, usize)>,
    /// For each line, whether it is typed in capitals.
    capitals: Vec<bool>,
    /// Log-probability of everything before a position: the reader's best claims, and those in free text.
    pub claimed: Vec<f32>,
    pub explained: Vec<f32>,
}

impl<'a> Flat<'a> {
    pub fn new(reading: &'a Reading) -> Self {
        let mut flat = Self {
            positions: Vec::new(),
            spots: Vec::new(),
            end: Spot {
                line: 0,
                position: 0,
            },
            best: Vec::new(),
            lines: Vec::new(),
            line_of: Vec::new(),
            cores: Vec::new(),
            capitals: Vec::new(),
            claimed: vec![0.0],
            explained: vec![0.0],
        };
        for (line, positions) in reading.lines.iter().map(|l| &l.positions).enumerate() {
            if positions.is_empty() {
                continue;
            }
            if !flat.positions.is_empty() {
                flat.push(None, flat.end);
            }
            let start = flat.positions.len();
            let mut before = Class::Blank;
            for (position, at) in positions.iter().zip(0..) {
                if position.alternatives.is_empty() {
                    continue;
                }
                flat.push(Some(position), Spot { line, position: at });
                before = flat.explain(position, before);
            }
            flat.lines.push((start, flat.positions.len()));
            let best = &flat.best[start..];
            let (before, behind) = (frame_marks(best.iter()), frame_marks(best.iter().rev()));
            flat.cores
                .push((start + before, flat.positions.len() - behind));
            flat.capitals.push(in_capitals(&flat.best[start..]));
            flat.end = Spot {
                line,
                position: positions.len(),
            };
        }
        flat
    }

    pub fn len(&self) -> usize {
        self.positions.len()
    }

    fn push(&mut self, position: Option<&'a Position>, spot: Spot) {
        self.line_of.push(self.lines.len());
        self.positions.push(position);
        self.spots.push(spot);
        self.best.push(position.map_or("\n", |p| p.best()));
        if position.is_none() {
            self.claimed.push(self.claimed[self.claimed.len() - 1]);
            self.explained
                .push(self.explained[self.explained.len() - 1]);
        }
    }

    /// Adds what free text makes of a position; returns the class of its best text's end.
    fn explain(&mut self, position: &Position, before: Class) -> Class {
        let (mut claim, mut explained) = (f32::NEG_INFINITY, f32::NEG_INFINITY);
        for alternative in &position.alternatives {
            let known = alternative.probability.get().max(LEAST).ln() as f32;
            let mut class = before;
            let mut text = 0.0;
            for c in alternative.text.chars() {
                text += background::log_probability(class, c);
                class = Class::of(c);
            }
            claim = claim.max(known);
            explained = explained.max(known + text);
        }
        self.claimed
            .push(self.claimed[self.claimed.len() - 1] + claim);
        self.explained
            .push(self.explained[self.explained.len() - 1] + explained);
        position.best().chars().last().map_or(before, Class::of)
    }

    /// Everything that may have been typed from a position on.
    pub fn drafts(&self, at: usize) -> Vec<Draft> {
        let mut drafts = Drafts(Vec::with_capacity(16));
        let Some(position) = self.positions[at] else {
            drafts.add(&['\n'], at + 1, 1.0, How::Read);
            drafts.add(&[' '], at + 1, f64::from(SPLIT), How::Confused('\n'));
            return drafts.0;
        };
        let alternatives = || position.alternatives.iter().take(MAX_ALTERNATIVES);
        let claimed: f64 = alternatives().map(|a| a.probability.get()).sum();
        let doubt = (1.0 - claimed).max(LEAST_DOUBT);
        let capitals = self.capitals[self.line_of[at]];
        for alternative in alternatives() {
            let claim = alternative.probability.get();
            let text: Vec<char> = alternative.text.chars().map(plain).collect();
            if text.is_empty() || text.len() > MAX_CHARACTERS || claim < LEAST {
                continue;
            }
            let slip = capitals && matches!(text[..], [c] if SAME_IN_BOTH_CASES.contains(c));
            let own = if slip { 1.0 - WRONG_CASE } else { 1.0 };
            drafts.add(&text, at + 1, claim * own, How::Read);
            if let [c] = text[..] {
                for &(typed, strength) in confusion::typed_for(c) {
                    if capitals && typed.is_lowercase() {
                        continue;
                    }
                    let chance = confusion::probability(strength, claim, doubt);
                    drafts.add(&[typed], at + 1, chance, How::Confused(c));
                }
                self.cases(at, c, claim, capitals, &mut drafts);
                if c == ' ' {
                    drafts.add(
                        &['\n'],
                        at + 1,
                        claim * f64::from(MERGED),
                        How::Confused(' '),
                    );
                }
            }
            self.runs(at, &alternative.text, claim, &mut drafts);
        }
        let read = position.best().chars().next().unwrap_or(' ');
        let guess = Draft::new(&[read], at + 1, doubt / TYPEWRITER, How::Any);
        drafts.0.push(guess);
        drafts.0
    }

    /// The other case of a letter.
    fn cases(&self, at: usize, c: char, claim: f64, capitals: bool, drafts: &mut Drafts) {
        if capitals && SAME_IN_BOTH_CASES.contains(c) {
            let capital = [c.to_ascii_uppercase()];
            drafts.add(&capital, at + 1, claim * WRONG_CASE, How::Read);
        } else if c.is_ascii_alphabetic() {
            let other = (c as u8 ^ 0x20) as char;
            drafts.add(&[other], at + 1, claim * OTHER_CASE, How::OtherCase(c));
        }
    }

    /// Runs of characters (`rn` for `m`) that begin with the text read at a position.
    fn runs(&self, at: usize, text: &str, claim: f64, drafts: &mut Drafts) {
        for (read, typed) in confusion::runs() {
            let Some(mut rest) = read.strip_prefix(text) else {
                continue;
            };
            let mut to = at + 1;
            let mut claim = claim * confusion::RUN;
            while !rest.is_empty() {
                let next = self.positions.get(to).copied().flatten().and_then(|p| {
                    let starts = |a: &&Alternative| !a.text.is_empty() && rest.starts_with(&a.text);
                    p.alternatives.iter().find(starts)
                });
                let Some(next) = next else {
                    break;
                };
                rest = &rest[next.text.len()..];
                claim *= next.probability.get();
                to += 1;
            }
            if rest.is_empty() {
                let typed: Vec<char> = typed.chars().collect();
                let first = text.chars().next().unwrap_or(' ');
                drafts.add(&typed, to, claim, How::Confused(first));
            }
        }
    }

    /// Probability that a blank was read where none was typed: the wider the gap, the more.
    fn false_blank(&self, at: usize, line: (usize, usize)) -> f32 {
        let beside = |at: Option<usize>| match at.filter(|at| (line.0..line.1).contains(at)) {
            Some(at) => self.best[at].chars().next().map_or(Class::Blank, Class::of),
            None => Class::Blank,
        };
        let joins = |at: Option<usize>| {
            let text = at.and_then(|at| self.best.get(at));
            text.is_some_and(|text| !text.is_empty() && JOINING_MARKS.contains(text))
        };
        // Of several blanks the first is the one that counts.
        let left = beside(at.checked_sub(1));
        let core = self.cores[self.line_of[at]];
        let marks = |at: usize| self.best[at] != " " && self.is_in_piece_of_marks(at, line);
        let at_end = !(core.0..core.1).contains(&at)
            && ((at > line.0 && marks(at - 1)) || (at + 1 < line.1 && marks(at + 1)));
        if at_end {
            BLANK_AT_END
        } else if left == Class::Blank || at + 1 == line.1 {
            DOUBLED_BLANK
        } else if [at.checked_sub(1), Some(at + 1)]
            .iter()
            .any(|&at| joins(at))
        {
            BLANK_AT_MARK
        } else {
            FALSE_BLANK
        }
    }

    /// Whether a position lies in a piece, between blanks, that holds nothing but marks.
    fn is_in_piece_of_marks(&self, at: usize, line: (usize, usize)) -> bool {
        let class = |at: usize| self.best[at].chars().next().map_or(Class::Mark, Class::of);
        let all_marks = |side: &mut dyn Iterator<Item = usize>| {
            side.map(class)
                .take_while(|&c| c != Class::Blank)
                .all(|c| c == Class::Mark)
        };
        all_marks(&mut (line.0..=at).rev()) && all_marks(&mut (at..line.1))
    }

    pub fn skips(&self, at: usize, ids: &[u32]) -> Vec<Skip> {
        let mut skips = Vec::new();
        let line = self.lines[self.line_of[at]];
        let skip = |to: usize, gain, what| Skip {
            to: ids[to],
            gain,
            what,
        };
        match self.positions[at] {
            // The lines behind a break may be none of ours, up to the end.
            None => skips.push(skip(
                self.lines[self.line_of[at]].1,
                FALSE_LINE.ln(),
                Skipped::Line,
            )),
            Some(position) => {
                let best = position.best();
                if let Some(nothing) = position.alternatives.iter().find(|a| a.text.is_empty()) {
                    let known = nothing.probability.get().max(LEAST).ln() as f32;
                    let gain = known - (self.explained[at + 1] - self.explained[at]);
                    skips.push(skip(at + 1, gain, Skipped::Nothing));
                }
                if best.chars().all(char::is_whitespace) {
                    let chance = self.false_blank(at, line);
                    skips.push(skip(at + 1, chance.ln(), Skipped::Blank));
                } else {
                    let core = self.cores[self.line_of[at]];
                    let chance = if (core.0..core.1).contains(&at) {
                        FALSE_CHARACTER
                    } else if self.is_in_piece_of_marks(at, line) {
                        FALSE_MARK_AT_END
                    } else {
                        FALSE_AT_END
                    };
                    skips.push(skip(at + 1, chance.ln(), Skipped::Character));
                }
                // A first line that is none of ours, with its break.
                if at == line.0 && line.1 < self.len() {
                    skips.push(skip(line.1 + 1, FALSE_LINE.ln(), Skipped::Line));
                }
            }
        }
        skips
    }
}

struct Drafts(Vec<Draft>);

impl Drafts {
    /// Adds a way to read a stretch, or makes it more probable; the reader's own word goes before a confusion.
    fn add(&mut self, text: &[char], to: usize, probability: f64, how: How) {
        if probability < LEAST {
            return;
        }
        match self.0.iter_mut().find(|d| d.to == to && d.text() == text) {
            Some(known) => {
                if probability > known.probability {
                    known.probability = probability;
                }
            }
            None => self.0.push(Draft::new(text, to, probability, how)),
        }
    }
}

/// How many positions at this end of a line may be marks of the frame: short pieces, and marks before the first long one.
fn frame_marks<'a>(texts: impl Iterator<Item = &'a &'a str>) -> usize {
    let class = |text: &str| text.chars().next().map_or(Class::Mark, Class::of);
    let classes: Vec<Class> = texts.map(|text| class(text)).collect();
    let mut sure = 0;
    let mut piece = 0;
    for (at, &class) in classes.iter().enumerate() {
        if class == Class::Blank {
            (sure, piece) = (at + 1, 0);
            continue;
        }
        piece += 1;
        if piece > FRAME_MARK {
            let marks = classes[sure..].iter().take_while(|&&c| c == Class::Mark);
            return sure + marks.count();
        }
    }
    classes.len()
}

/// Whether most letters are capitals.
fn in_capitals(texts: &[&str]) -> bool {
    let letters = || {
        texts
            .iter()
            .flat_map(|t| t.chars())
            .filter(|c| c.is_alphabetic())
    };
    let capitals = letters().filter(|c| c.is_uppercase()).count();
    capitals as f64 >= CAPITALS * letters().count() as f64
}

/// Every sort of blank as a plain one.
fn plain(c: char) -> char {
    if c.is_whitespace() { ' ' } else { c }
}
