//! A reading made ready for alignment: all its lines in one graph, with the characters that may have been misread.
//!
//! Nodes stand between positions; an arc takes one typed character and says how much better than free text it explains
//! what was read. Lines follow each other through a position that holds a line break.

use super::background::{self, Class};
use super::confusion;
use crate::reading::{Position, Reading};

/// Positions of a reading that are aligned at most; a header strip has two or three hundred.
pub(super) const MAX_POSITIONS: usize = 1_200;
/// Alternatives of one position that are looked at, and characters of one alternative.
const MAX_ALTERNATIVES: usize = 12;
const MAX_CHARACTERS: usize = 4;
/// Alternatives less probable than this are left out.
const LEAST: f64 = 1e-5;
/// Doubt that no reader is without, whatever it claims: one character in a hundred. Measured error rates of line readers on
/// degraded strips lie between one and fifteen in a hundred.
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

/// How an arc's character came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum How {
    /// An alternative of the reader.
    Read,
    /// The other case of the alternative given, for slots that insist on one.
    OtherCase(char),
    /// Misread as one of them.
    Confused,
    /// None of the alternatives: any character may stand there. The arc shows the one that was read.
    Any,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Arc {
    pub to: u32,
    pub c: char,
    /// Log-probability against free text.
    pub gain: f32,
    /// Log-probability against the reader's best alternative, without regard to what the text is like.
    pub fidelity: f32,
    pub how: How,
}

/// A move over a position that takes no typed character.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Skip {
    pub to: u32,
    pub gain: f32,
    pub what: Skipped,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Skipped {
    /// The reader itself says that perhaps nothing stands there.
    Nothing,
    Blank,
    Character,
    Line,
}

/// A place in the reading: index into `Reading::lines`, index into `Line::positions`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Spot {
    pub line: usize,
    pub position: usize,
}

#[derive(Debug, Clone, Default)]
pub(super) struct Mesh {
    arcs: Vec<Arc>,
    first_arc: Vec<u32>,
    skips: Vec<Skip>,
    first_skip: Vec<u32>,
    /// The same by the node that they lead to, each with the node that it leaves.
    arcs_into: Vec<(u32, Arc)>,
    first_arc_into: Vec<u32>,
    skips_into: Vec<(u32, Skip)>,
    first_skip_into: Vec<u32>,
    /// For each node, the ASCII characters of its arcs, one bit each; all bits where an arc has another one.
    masks: Vec<u128>,
    /// For each node, the position it stands before (or inside of).
    pub spots: Vec<Spot>,
    /// Visible characters of the best reading.
    pub visible: usize,
}

/// What is gathered about a stretch of positions before the nodes are numbered.
#[derive(Debug, Clone, Copy)]
struct Draft {
    characters: [char; MAX_CHARACTERS],
    length: usize,
    /// Index of the position behind.
    to: usize,
    probability: f64,
    how: How,
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

    fn text(&self) -> &[char] {
        &self.characters[..self.length]
    }
}

impl Mesh {
    /// `None` where the reading holds nothing visible, or more than any strip can.
    pub fn new(reading: &Reading) -> Option<Self> {
        let flat = Flat::new(reading);
        let visible = flat.best.iter().filter(|t| !t.trim().is_empty()).count();
        if visible == 0 || flat.spots.len() > MAX_POSITIONS {
            return None;
        }
        let drafts: Vec<Vec<Draft>> = (0..flat.len()).map(|at| flat.drafts(at)).collect();
        let mut mesh = Self {
            visible,
            ..Self::default()
        };
        // A position's own node, then one for each character but the last of its longer drafts.
        let inner = |drafts: &[Draft]| drafts.iter().map(|d| d.length - 1).sum::<usize>();
        let mut ids = vec![0u32];
        for drafts in &drafts {
            ids.push(ids[ids.len() - 1] + 1 + inner(drafts) as u32);
        }
        for (at, drafts) in drafts.iter().enumerate() {
            mesh.first_arc.push(mesh.arcs.len() as u32);
            mesh.first_skip.push(mesh.skips.len() as u32);
            mesh.spots.push(flat.spots[at]);
            mesh.skips.extend(flat.skips(at, &ids));
            let mut tails = Vec::new();
            let mut next = ids[at] + 1;
            for draft in drafts {
                let known = draft.probability.ln() as f32;
                let first = Arc {
                    to: if draft.length > 1 {
                        next
                    } else {
                        ids[draft.to]
                    },
                    c: draft.characters[0],
                    gain: known - (flat.explained[draft.to] - flat.explained[at]),
                    fidelity: known - (flat.claimed[draft.to] - flat.claimed[at]),
                    how: draft.how,
                };
                mesh.arcs.push(first);
                for (index, &c) in draft.text().iter().enumerate().skip(1) {
                    next += 1;
                    let last = index + 1 == draft.length;
                    tails.push(Arc {
                        to: if last { ids[draft.to] } else { next },
                        c,
                        gain: 0.0,
                        fidelity: 0.0,
                        how: draft.how,
                    });
                }
            }
            for tail in tails {
                mesh.first_arc.push(mesh.arcs.len() as u32);
                mesh.first_skip.push(mesh.skips.len() as u32);
                mesh.spots.push(flat.spots[at]);
                mesh.arcs.push(tail);
            }
        }
        mesh.spots.push(flat.end);
        // The last node has no way out.
        for _ in 0..2 {
            mesh.first_arc.push(mesh.arcs.len() as u32);
            mesh.first_skip.push(mesh.skips.len() as u32);
        }
        let count = mesh.len();
        (mesh.arcs_into, mesh.first_arc_into) =
            turned_round(&mesh.arcs, &mesh.first_arc, count, |arc| arc.to);
        (mesh.skips_into, mesh.first_skip_into) =
            turned_round(&mesh.skips, &mesh.first_skip, count, |skip| skip.to);
        mesh.masks = (0..mesh.len())
            .map(|node| {
                mesh.arcs(node)
                    .iter()
                    .fold(0, |mask, arc| match (arc.how, arc.c as u32) {
                        (How::Any, _) => mask,
                        (_, code @ 0..128) => mask | 1 << code,
                        _ => u128::MAX,
                    })
            })
            .collect();
        Some(mesh)
    }

    /// How many nodes; the last one stands behind everything.
    pub fn len(&self) -> usize {
        self.spots.len()
    }

    pub fn arcs(&self, node: usize) -> &[Arc] {
        &self.arcs[self.first_arc[node] as usize..self.first_arc[node + 1] as usize]
    }

    pub fn arcs_into(&self, node: usize) -> &[(u32, Arc)] {
        let range = self.first_arc_into[node] as usize..self.first_arc_into[node + 1] as usize;
        &self.arcs_into[range]
    }

    pub fn skips_into(&self, node: usize) -> &[(u32, Skip)] {
        let range = self.first_skip_into[node] as usize..self.first_skip_into[node + 1] as usize;
        &self.skips_into[range]
    }

    /// The ASCII characters that may be taken from a node on, one bit each.
    pub fn mask(&self, node: usize) -> u128 {
        self.masks[node]
    }

    pub fn skips(&self, node: usize) -> &[Skip] {
        &self.skips[self.first_skip[node] as usize..self.first_skip[node + 1] as usize]
    }
}

/// Moves sorted by the node that they lead to, each with the node that it leaves; and where each node's begin.
fn turned_round<T: Copy>(
    moves: &[T],
    first: &[u32],
    nodes: usize,
    to: impl Fn(&T) -> u32,
) -> (Vec<(u32, T)>, Vec<u32>) {
    let from = |node: usize| {
        let moves = &moves[first[node] as usize..first[node + 1] as usize];
        moves.iter().map(move |&made| (node as u32, made))
    };
    let mut turned: Vec<(u32, T)> = (0..nodes).flat_map(from).collect();
    turned.sort_by_key(|(_, made)| to(made));
    let begin = |node: usize| turned.partition_point(|(_, made)| (to(made) as usize) < node) as u32;
    let first = (0..=nodes).map(begin).collect();
    (turned, first)
}

/// A reading's positions in a row, a line break (`None`) between lines.
struct Flat<'a> {
    positions: Vec<Option<&'a Position>>,
    spots: Vec<Spot>,
    end: Spot,
    /// The best text at each position.
    best: Vec<&'a str>,
    /// For each position the one where its line begins and the one behind its last.
    lines: Vec<(usize, usize)>,
    line_of: Vec<usize>,
    /// For each line, the positions without what may be marks of the frame at its ends.
    cores: Vec<(usize, usize)>,
    /// For each line, whether it is typed in capitals.
    capitals: Vec<bool>,
    /// Log-probability of everything before a position: the reader's best claims, and those in free text.
    claimed: Vec<f32>,
    explained: Vec<f32>,
}

impl<'a> Flat<'a> {
    fn new(reading: &'a Reading) -> Self {
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

    fn len(&self) -> usize {
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
    fn drafts(&self, at: usize) -> Vec<Draft> {
        let mut drafts = Drafts(Vec::with_capacity(16));
        let Some(position) = self.positions[at] else {
            drafts.add(&['\n'], at + 1, 1.0, How::Read);
            drafts.add(&[' '], at + 1, f64::from(SPLIT), How::Confused);
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
                    drafts.add(&[typed], at + 1, chance, How::Confused);
                }
                self.cases(at, c, claim, capitals, &mut drafts);
                if c == ' ' {
                    drafts.add(&['\n'], at + 1, claim * f64::from(MERGED), How::Confused);
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
                    let starts = |a: &&crate::reading::Alternative| {
                        !a.text.is_empty() && rest.starts_with(&a.text)
                    };
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
                drafts.add(&typed, to, claim, How::Confused);
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

    fn skips(&self, at: usize, ids: &[u32]) -> Vec<Skip> {
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

/// Probability that a letter is typed in the other case than it is read, where the slot insists on that case.
const OTHER_CASE: f64 = 0.02;
/// Small letters that differ from their capitals in size only.
const SAME_IN_BOTH_CASES: &str = "osvwxzu";
/// Probability that such a letter in a line of capitals is a capital.
const WRONG_CASE: f64 = 0.9;
/// Share of capitals among a line's letters from which it counts as typed in capitals.
const CAPITALS: f64 = 0.7;

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
