//! Which automaton nodes take a character, and what that is worth: laid out so that an alignment finds all of them with
//! a few words of bits.

use super::automaton::Node;
use super::cells::each_bit;
use super::charset::CharSet;
use super::mesh::{Arc, How};
use super::pattern::Spread;
use std::sync::Arc as Shared;

/// How much rarer a mark or blank is read as something of another shape than a letter is read as another letter; and
/// a letter as a mark (worn type leaves specks) or a blank.
const MARK_AS_OTHER: f32 = 0.03;
const LETTER_AS_MARK: f32 = 0.5;
const LETTER_AS_BLANK: f32 = 0.05;
/// Log-probability of a mark (hyphen, apostrophe, period) and of a letter within a name.
const NAME_MARK: f32 = 0.01;
const NAME_LETTER: f32 = 0.97 / 26.0;
/// Characters whose takers are listed beforehand.
const ASCII: usize = 128;

/// The takers of an automaton's nodes. Sets of nodes are bits, in words of 64.
#[derive(Debug, Clone)]
pub(super) struct Takers {
    words: usize,
    /// For each ASCII character, the nodes that take it.
    ascii: Vec<u64>,
    sets: Vec<Shared<CharSet>>,
    /// Nodes that know their character beforehand, so that it may stand for anything read.
    guessing: Vec<u64>,
    /// Nodes of free text.
    free: Vec<u64>,
    /// For each node, what a letter of it costs, and what another character.
    letter: Vec<f32>,
    other: Vec<f32>,
    /// For each node that knows its character, what it costs where a blank, a mark, something tall was read.
    guess: [Vec<f32>; 3],
    /// For each node, what it costs where its character was lost.
    lost: Vec<f32>,
}

impl Takers {
    pub fn new(nodes: &[Node]) -> Self {
        let words = nodes.len().div_ceil(64);
        let known = |node: &Node| node.single.or(node.few.first().copied());
        let bits = |holds: &dyn Fn(&Node) -> bool| {
            let mut bits = vec![0; words];
            for (at, _) in nodes.iter().enumerate().filter(|(_, node)| holds(node)) {
                bits[at / 64] |= 1 << (at % 64);
            }
            bits
        };
        let cost = |node: &Node, in_name: f32| match node.spread {
            Spread::Even(each) => each,
            Spread::Name => in_name.ln(),
            Spread::Known | Spread::FreeText => 0.0,
        };
        let takes = |code: usize| {
            let c = char::from(code as u8);
            bits(&|node| node.set.contains(c))
        };
        Self {
            words,
            ascii: (0..ASCII).flat_map(takes).collect(),
            sets: nodes.iter().map(|node| node.set.clone()).collect(),
            guessing: bits(&|node| known(node).is_some()),
            free: bits(&|node| node.spread == Spread::FreeText),
            letter: nodes.iter().map(|node| cost(node, NAME_LETTER)).collect(),
            other: nodes.iter().map(|node| cost(node, NAME_MARK)).collect(),
            guess: [Shape::Blank, Shape::Mark, Shape::Tall].map(|read| {
                let shape = |node| known(node).map_or(read, Shape::of);
                let costs = nodes
                    .iter()
                    .map(|node| shape(node).read_as(read).ln() + cost(node, 1.0));
                costs.collect()
            }),
            lost: nodes.iter().map(|node| node.lost).collect(),
        }
    }

    /// What it is worth that a node takes an arc's character; `None` where it cannot.
    #[inline]
    pub fn take(&self, node: usize, arc: &Arc) -> Option<f32> {
        let (word, bit) = (node / 64, 1 << (node % 64));
        let taking = self.taking(arc, word, bit);
        (taking != 0).then(|| self.worth(node, arc))
    }

    /// Those nodes of a word's that take an arc's character.
    #[inline]
    fn taking(&self, arc: &Arc, word: usize, among: u64) -> u64 {
        match arc.how {
            // Any known character, or any of a few.
            How::Any => self.guessing[word] & among,
            // Only where the slot insists on the case.
            How::OtherCase(read) => {
                let insisting = among & !self.holding(read, word, among);
                self.holding(arc.c, word, insisting)
            }
            How::Read | How::Confused(_) => self.holding(arc.c, word, among),
        }
    }

    #[inline]
    fn holding(&self, c: char, word: usize, among: u64) -> u64 {
        if (c as usize) < ASCII {
            return self.ascii[c as usize * self.words + word] & among;
        }
        let mut left = among;
        let mut holding = 0;
        while left != 0 {
            let node = word * 64 + left.trailing_zeros() as usize;
            if self.sets[node].contains(c) {
                holding |= left & left.wrapping_neg();
            }
            left &= left - 1;
        }
        holding
    }

    /// What it is worth that a node takes an arc's character, which it can.
    #[inline]
    fn worth(&self, node: usize, arc: &Arc) -> f32 {
        if self.free[node / 64] >> (node % 64) & 1 == 1 {
            arc.fidelity
        } else {
            arc.gain + self.costs(arc)[node]
        }
    }

    /// What an arc's character costs each node, but those of free text.
    #[inline]
    pub fn costs(&self, arc: &Arc) -> &[f32] {
        match arc.how {
            How::Any => &self.guess[Shape::of(arc.c) as usize],
            _ if arc.c.is_alphabetic() => &self.letter,
            _ => &self.other,
        }
    }

    /// The nodes of a word, among some, that take an arc's character, each with what that is worth; returns their bits.
    #[inline]
    pub fn each(
        &self,
        arc: &Arc,
        word: usize,
        among: u64,
        costs: &[f32],
        mut see: impl FnMut(usize, f32),
    ) -> u64 {
        let taking = self.taking(arc, word, among);
        let free = taking & self.free[word];
        for node in each_bit(word, taking ^ free) {
            see(node, arc.gain + costs[node]);
        }
        for node in each_bit(word, free) {
            see(node, arc.fidelity);
        }
        taking
    }

    /// For each node, what it costs where its character was lost; minus infinity where it cannot be put back.
    #[inline]
    pub fn lost(&self) -> &[f32] {
        &self.lost
    }
}

/// Coarse shapes, which no reader mistakes for each other often.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Shape {
    Blank,
    Mark,
    Tall,
}

impl Shape {
    #[inline]
    fn of(c: char) -> Self {
        if c.is_whitespace() {
            Self::Blank
        } else if c.is_alphanumeric() {
            Self::Tall
        } else {
            Self::Mark
        }
    }

    /// How often this shape is read as another, against being read as another of its own.
    #[inline]
    fn read_as(self, read: Self) -> f32 {
        match self {
            _ if self == read => 1.0,
            Self::Tall if read == Self::Blank => LETTER_AS_BLANK,
            Self::Tall => LETTER_AS_MARK,
            Self::Blank | Self::Mark => MARK_AS_OTHER,
        }
    }
}
