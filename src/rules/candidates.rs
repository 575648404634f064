//! The values that a slot may hold, each with its probability, over all ways through the reading.

use super::align::{self, Move, Step};
use super::automaton::{Automaton, Node, Role};
use super::cells::Table;
use super::hypotheses::{Hypotheses, Hypothesis, join};
use super::kind::{FieldKind, FieldSpec};
use super::meaning::{Meaning, meaning};
use super::mesh::{How, Mesh, Skipped, Spot};
use super::texts::{NO_TEXT, Texts};
use crate::value::CheckScheme;
use std::collections::HashMap;

/// Values followed at one place at a time: ten digits in each of eight places.
const WIDTH: usize = 80;
/// The same in free text, where no kind or check character could bring a rare value back.
const WIDTH_IN_TEXT: usize = 12;
/// Values followed in all of a slot's places together; where it may stand in more places than that allows, fewer are at
/// each, down to [`WIDTH_IN_TEXT`]. Slots of 400 drawn sheets stood in 8 places (median), 77 (99 %), 957 (at most); a list
/// of date ranges behind free text stands in more than 2,000 on noise, and took 3 s.
const FOLLOWED: usize = 160_000;
/// Values less probable than the best by more than this are dropped; natural log. One in 150.
const BAND: f32 = 5.0;
/// The same where the check character of the best value does not hold, and a rarer one may: one in 8,000.
pub(super) const WIDE_BAND: f32 = 9.0;
/// By how much a way has to be worse than the best for there to be a better one; natural log. Above rounding.
const BEATEN: f32 = 0.01;
/// Values handed on for a field.
const KEPT: usize = 12;
/// Probability that the check character of a correctly read code holds: typists err too.
const CHECK_HOLDS: f64 = 0.98;
/// Probability that a value that does not look like its kind is what was typed.
const OFF_PATTERN_TRUST: f64 = 0.3;
/// Why a value is never sure that takes a good digit for another one: typists slip, and the strip is what counts.
const OVERRULED: &str =
    "another character was taken than the one that was read, which is no common misreading";
/// The same for one that looks like its kind and is impossible, such as 31 FEB.
const IMPOSSIBLE_TRUST: f64 = 0.3;

/// Probability that a value is none that was thought of, however clear the reading.
const UNFORESEEN: f64 = 0.001;
/// The reader's alternatives are never believed to miss the truth more often than this leaves.
const LISTED_LEAST: f64 = 0.2;

/// A value with what speaks for it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Weighed {
    pub value: String,
    /// Relative to the other values of this slot and to "something else".
    pub weight: f64,
    pub start: Spot,
    pub end: Spot,
    pub check_holds: Option<bool>,
    pub doubt: Option<String>,
}

/// What a slot may hold.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Values {
    /// Best first; their weights and that of something else add up to 1.
    pub values: Vec<Weighed>,
    /// Natural log of how much the check character speaks for the rule.
    pub check_gain: f64,
}

impl Values {
    /// That one of them stands there.
    pub fn read(&self) -> f64 {
        self.values.iter().map(|value| value.weight).sum()
    }
}

/// How far a slot's texts are followed: how many at one place, and down to which log-probability.
#[derive(Debug, Clone, Copy)]
struct Within {
    width: usize,
    least: f32,
}

/// The search through one reading by one rule.
pub(super) struct Search<'a> {
    mesh: &'a Mesh,
    automaton: &'a Automaton,
    forward: &'a Table,
    backward: &'a Table,
    score: f32,
    /// The cells (mesh node, automaton node) on ways that are good enough, ascending.
    live: Vec<(usize, usize)>,
    /// For each mesh node, where its cells begin in `live`.
    first_live: Vec<usize>,
}

impl<'a> Search<'a> {
    pub fn new(
        mesh: &'a Mesh,
        automaton: &'a Automaton,
        forward: &'a Table,
        backward: &'a Table,
        score: f32,
    ) -> Self {
        let mut live = Vec::new();
        let mut first_live = Vec::with_capacity(mesh.len() + 1);
        for at in 0..mesh.len() {
            first_live.push(live.len());
            let through = |node: usize| forward.get(at, node) + backward.get(at, node);
            let good = backward
                .reached(at)
                .filter(|&node| through(node) >= score - WIDE_BAND);
            live.extend(good.map(|node| (at, node)));
        }
        first_live.push(live.len());
        Self {
            mesh,
            automaton,
            forward,
            backward,
            score,
            live,
            first_live,
        }
    }

    /// The index of a cell in `live`.
    #[inline]
    fn cell(&self, at: usize, node: usize) -> Option<usize> {
        let first = self.first_live[at];
        let cells = &self.live[first..self.first_live[at + 1]];
        let found = cells.binary_search_by_key(&node, |&(_, node)| node);
        found.ok().map(|index| first + index)
    }

    /// The values of a slot. `listed`: for a stretch, the probability that its true characters are among
    /// those that the reader listed.
    pub fn values(
        &self,
        slot: usize,
        spec: &FieldSpec,
        listed: impl Fn(Spot, Spot) -> f64,
    ) -> Values {
        let width = match spec.kind {
            FieldKind::Text => WIDTH_IN_TEXT,
            _ => WIDTH,
        };
        let mut found = self.texts(
            slot,
            Within {
                width,
                least: self.score - BAND,
            },
        );
        let Some((best, _)) = found.first() else {
            return Values::default();
        };
        if spec
            .check
            .as_ref()
            .is_some_and(|scheme| !scheme.holds(best))
        {
            found = self.texts(
                slot,
                Within {
                    width,
                    least: self.score - WIDE_BAND,
                },
            );
        }
        let best = &found[0].1;
        let (most, stands) = (best.weight, self.stretch(best));
        let mut values: Vec<Weighed> = Vec::new();
        let mut all = 0.0;
        let mut doubtful = 0.0;
        let mut other = 0.0;
        for (text, way) in &found {
            let mut weight = f64::from(way.weight - most).exp();
            all += weight;
            if way.doubtful {
                doubtful += weight;
            }
            if way.off_pattern {
                other += weight * (1.0 - OFF_PATTERN_TRUST);
                weight *= OFF_PATTERN_TRUST;
            }
            let value = tidy(text, spec);
            let doubt = match meaning(spec, &value) {
                Meaning::Understood { doubt: None } if way.overruled => Some(OVERRULED.to_owned()),
                Meaning::Understood { doubt } => doubt,
                Meaning::Impossible => {
                    other += weight * (1.0 - IMPOSSIBLE_TRUST);
                    weight *= IMPOSSIBLE_TRUST;
                    Some("it is no possible value of its kind".to_owned())
                }
            };
            match values.iter_mut().find(|known| known.value == value) {
                Some(known) => known.weight += weight,
                None => {
                    let (start, end) = self.stretch(way);
                    values.push(Weighed {
                        check_holds: spec.check.as_ref().map(|scheme| scheme.holds(&value)),
                        doubt,
                        value,
                        weight,
                        start,
                        end,
                    });
                }
            }
        }
        let listed = listed(stands.0, stands.1).clamp(LISTED_LEAST, 1.0 - UNFORESEEN);
        // What the reader did not list has its share; the confusions that were thought of are part of it.
        let unlisted = if doubtful < all {
            (all - doubtful) * (1.0 - listed) / listed - doubtful
        } else {
            all * (1.0 - listed) / listed
        };
        let unlisted = unlisted.max(all * UNFORESEEN);
        // The best way of all may read nothing here.
        let bypassed = if self.score > most + BEATEN {
            f64::from(self.score - most).exp()
        } else {
            0.0
        };
        let before = all + unlisted + bypassed;
        let passes = match spec
            .check
            .as_ref()
            .filter(|scheme| scheme.holds(&found[0].0))
        {
            Some(scheme) if scheme.detects().substitutions => {
                several_errors(listed) + one_error(listed) * check_ratio(scheme, false)
            }
            _ => 1.0,
        };
        other += unlisted * passes + bypassed;
        if let Some(scheme) = &spec.check {
            for value in &mut values {
                value.weight *= check_ratio(scheme, value.check_holds == Some(true));
            }
        }
        let after = values.iter().map(|v| v.weight).sum::<f64>() + other;
        for value in &mut values {
            value.weight /= after;
        }
        values.sort_by(|a, b| b.weight.total_cmp(&a.weight).then(a.value.cmp(&b.value)));
        values.truncate(KEPT);
        Values {
            values,
            check_gain: (after / before).ln(),
        }
    }

    fn stretch(&self, way: &Hypothesis) -> (Spot, Spot) {
        (self.mesh.spots[way.start], self.mesh.spots[way.end])
    }

    /// Every text of the slot within the band: text, log-weight, where, whether off its pattern.
    fn texts(&self, slot: usize, within: Within) -> Vec<(String, Hypothesis)> {
        let nodes = &self.automaton.nodes;
        let belongs = |node: &Node| node.role.slot() == Some(slot);
        let first = nodes.iter().position(belongs).unwrap_or(nodes.len());
        let last = nodes.iter().rposition(belongs).unwrap_or(0);
        // A slot's nodes follow each other.
        let is_inside = |node: usize| (first..=last).contains(&node);
        let places = self.live.iter().filter(|(_, node)| is_inside(*node));
        let room = FOLLOWED / places.count().max(1);
        let width = within.width.min(room.max(WIDTH_IN_TEXT));
        let within = Within { width, ..within };
        let leads_inside = |node: usize| {
            let targets = self.automaton.edges(node);
            targets
                .iter()
                .any(|&(target, _)| is_inside(target as usize))
        };
        let mut texts = Texts::new();
        let mut cells = vec![Hypotheses::default(); self.live.len()];
        let mut done: HashMap<u32, Hypothesis> = HashMap::new();
        // Ways into the slot come from nodes before it.
        for (index, &(at, node)) in self.live.iter().enumerate() {
            let through = self.forward.get(at, node) + self.backward.get(at, node);
            if through < within.least || node > last || !(is_inside(node) || leads_inside(node)) {
                continue;
            }
            let here = if is_inside(node) {
                std::mem::take(&mut cells[index]).into_ways()
            } else {
                vec![Hypothesis {
                    text: NO_TEXT,
                    weight: self.forward.get(at, node),
                    start: at,
                    end: at,
                    off_pattern: false,
                    doubtful: false,
                    overruled: false,
                }]
            };
            if here.is_empty() {
                continue;
            }
            if is_inside(node) && at + 1 == self.mesh.len() {
                leave(&mut done, &here, self.automaton.last[node], within.least);
            }
            let see = |step: Step, ahead: f32| match (is_inside(node), is_inside(step.node)) {
                (false, false) => {}
                (true, false) => leave(&mut done, &here, step.weight + ahead, within.least),
                (_, true) => {
                    if let Some(cell) = self.cell(step.to, step.node) {
                        let target = &mut cells[cell];
                        self.extend(&mut texts, target, &here, &step, ahead, within);
                    }
                }
            };
            align::each_move(self.mesh, self.automaton, self.backward, (at, node), see);
        }
        let mut found: Vec<_> = done
            .into_iter()
            .map(|(text, way)| (texts.get(text), way))
            .collect();
        found.sort_by(|a, b| b.1.weight.total_cmp(&a.1.weight).then(a.0.cmp(&b.0)));
        found
    }

    /// Carries hypotheses over one move inside the slot (or into it).
    fn extend(
        &self,
        texts: &mut Texts,
        target: &mut Hypotheses,
        here: &[Hypothesis],
        step: &Step,
        ahead: f32,
        within: Within,
    ) {
        let node = &self.automaton.nodes[step.node];
        let doubtful = match step.made {
            Move::Take(arc) => matches!(arc.how, How::Confused(_) | How::Any),
            Move::Skip(skip) => skip.what == Skipped::Character,
            Move::PutBack => true,
        };
        let overruled = match step.made {
            Move::Take(arc) => match arc.how {
                How::Confused(read) => node.set.contains(read) || is_digit_for_digit(read, arc.c),
                How::Any => node.set.contains(arc.c) || arc.c.is_ascii_digit(),
                How::Read | How::OtherCase(_) => false,
            },
            Move::Skip(skip) => {
                let mut read = self.mesh.arcs(step.from).iter();
                let stands = |c: char| node.set.contains(c) || c.is_ascii_digit();
                skip.what == Skipped::Character
                    && read.any(|arc| arc.how == How::Read && stands(arc.c))
            }
            Move::PutBack => false,
        };
        let mut put = |way: &Hypothesis, text: u32, weight: f32, taken: bool| {
            let entering = way.text == NO_TEXT;
            target.insert(
                within.width,
                Hypothesis {
                    text,
                    weight,
                    start: if entering { step.from } else { way.start },
                    end: if taken || entering { step.to } else { way.end },
                    doubtful: way.doubtful || doubtful,
                    overruled: way.overruled || overruled,
                    off_pattern: way.off_pattern || matches!(node.role, Role::OffPattern(_)),
                },
            );
        };
        for way in here {
            let weight = way.weight + step.weight;
            if weight + ahead < within.least {
                continue;
            }
            match step.made {
                Move::Skip(_) => put(way, way.text, weight, false),
                Move::PutBack => {
                    for &c in node.guesses() {
                        put(way, texts.with(way.text, c), weight, false);
                    }
                }
                Move::Take(arc) if arc.how == How::Any => {
                    for &c in node.guesses() {
                        put(way, texts.with(way.text, c), weight, true);
                    }
                }
                Move::Take(arc) => put(way, texts.with(way.text, arc.c), weight, true),
            }
        }
    }
}

/// Hands hypotheses that leave the slot to the finished ones.
fn leave(done: &mut HashMap<u32, Hypothesis>, here: &[Hypothesis], on: f32, least: f32) {
    for way in here {
        let whole = Hypothesis {
            weight: way.weight + on,
            ..*way
        };
        if whole.weight >= least {
            done.entry(whole.text)
                .and_modify(|known| *known = join(*known, whole))
                .or_insert(whole);
        }
    }
}

/// Of the ways in which a reading may be wrong, the share with one character wrong, `listed` being the probability of
/// none: as in a Poisson process.
fn one_error(listed: f64) -> f64 {
    -listed * listed.ln() / (1.0 - listed)
}

/// The share with several characters wrong, of which a check character lets pass what chance will have.
fn several_errors(listed: f64) -> f64 {
    1.0 - one_error(listed)
}

/// How much more probable a check character that holds (or does not) is for the code that was typed than for one that
/// was misread at random.
pub(super) fn check_ratio(scheme: &CheckScheme, holds: bool) -> f64 {
    let forms = scheme.forms();
    if holds {
        CHECK_HOLDS * forms
    } else {
        (1.0 - CHECK_HOLDS) * forms / (forms - 1.0)
    }
}

/// No reader's slip alone: digits are of shapes of their own, and where a year cannot begin with the digit read, a typist
/// may have struck it.
fn is_digit_for_digit(read: char, taken: char) -> bool {
    read.is_ascii_digit() && taken.is_ascii_digit()
}

/// A text as the field's kind writes it.
pub(super) fn tidy(text: &str, spec: &FieldSpec) -> String {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if spec.kind == FieldKind::Choice {
        let same = |word: &&String| word.to_lowercase() == text.to_lowercase();
        if let Some(word) = spec.words.iter().find(same) {
            return word.clone();
        }
    }
    text
}
