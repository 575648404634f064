//! Which automaton nodes take a character, and what that is worth: laid out so that an alignment finds all of them with
//! a few words of bits.

use super::automaton::Node;
use super::charset::CharSet;
use super::mesh::{Arc, How};
use super::pattern::Spread;

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
    sets: Vec<CharSet>,
    /// Nodes that know their character beforehand, so that it may stand for anything read.
    guessing: Vec<u64>,
    /// Nodes of free text.
    free: Vec<u64>,
    /// Nodes of names.
    names: Vec<u64>,
    /// For each node, what every character of it costs.
    each: Vec<f32>,
    /// For each node, the shape of the character it knows.
    shapes: Vec<Shape>,
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
            names: bits(&|node| node.spread == Spread::Name),
            each: nodes
                .iter()
                .map(|node| match node.spread {
                    Spread::Even(each) => each,
                    _ => 0.0,
                })
                .collect(),
            shapes: nodes
                .iter()
                .map(|node| known(node).map_or(Shape::Blank, Shape::of))
                .collect(),
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
    pub fn taking(&self, arc: &Arc, word: usize, among: u64) -> u64 {
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
    pub fn worth(&self, node: usize, arc: &Arc) -> f32 {
        let is_in = |bits: &[u64]| bits[node / 64] >> (node % 64) & 1 == 1;
        if arc.how == How::Any {
            return arc.gain + self.shapes[node].read_as(Shape::of(arc.c)).ln() + self.each[node];
        }
        if is_in(&self.free) {
            arc.fidelity
        } else if !is_in(&self.names) {
            arc.gain + self.each[node]
        } else if arc.c.is_alphabetic() {
            arc.gain + NAME_LETTER.ln()
        } else {
            arc.gain + NAME_MARK.ln()
        }
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
