//! The weighted character automaton that a rule compiles to.
//!
//! Built after Glushkov: every character of the template or of a slot's pattern is a node, an edge says which node may
//! follow, with the natural log of its probability. There are no empty moves, so the alignment needs only "this node
//! took this character".

use super::charset::CharSet;
use super::looks;
use super::pattern::{Expr, MAX_NODES, Spread};
use super::slot::Slot;
use super::takers::Takers;
use super::template::{Piece, beside_mark, closes_range};
use std::sync::Arc;

/// Edges that one rule's automaton may have; the alignment's cost grows with it.
const MAX_EDGES: usize = 60_000;
/// Probability of another blank where the template has some.
const ANOTHER_BLANK: f32 = 0.3;
/// Probability that an optional piece is there.
const OPTIONAL_THERE: f32 = 0.5;
/// Probability that a slot's text does not look like its kind (a lost digit, a typist's slip beyond mending).
const OFF_PATTERN: f32 = 1e-3;
/// Probability that nothing of a slot was read.
const SLOT_LOST: f32 = 1e-4;
/// Probability that the strip ends early: cropped, torn, or never typed to its end.
const TAIL_LOST: f32 = 2e-3;
/// Probability that a blank, a mark, a letter or digit that was typed is not in the reading. Estimates from what page
/// readers lose on short typed strips: gaps often, faint commas and hyphens now and then, characters rarely.
const BLANK_LOST: f32 = 0.01;
/// The same for a blank beside a comma, a hyphen or another mark, where typists leave it out as well.
const BLANK_LOST_AT_MARK: f32 = 0.1;
const MARK_LOST: f32 = 0.03;
const CHARACTER_LOST: f32 = 0.004;

/// What a node belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Role {
    Start,
    Literal,
    Blank,
    Break,
    /// Index into the rule's slots.
    Slot(usize),
    /// The same slot, its text taken as it stands.
    OffPattern(usize),
}

impl Role {
    #[inline]
    pub fn slot(self) -> Option<usize> {
        match self {
            Self::Slot(slot) | Self::OffPattern(slot) => Some(slot),
            _ => None,
        }
    }
}

#[derive(Debug, Clone)]
pub(super) struct Node {
    pub set: Arc<CharSet>,
    pub spread: Spread,
    pub role: Role,
    /// Natural log of the probability that the reader lost this character; minus infinity where it cannot be put back.
    pub lost: f32,
    /// The character put back then.
    pub single: Option<char>,
    /// The characters of a small set, one of which stands where nothing readable does.
    pub few: Vec<char>,
}

impl Node {
    /// What may be put in where the character was lost or cannot be read.
    #[inline]
    pub fn guesses(&self) -> &[char] {
        if self.few.is_empty() {
            self.single.as_slice()
        } else {
            &self.few
        }
    }
}

#[derive(Debug, Clone)]
pub(super) struct Automaton {
    /// Node 0 is the start and takes no character.
    pub nodes: Vec<Node>,
    /// By source: (target, log-probability), targets ascending.
    edges: Vec<(u32, f32)>,
    first_edge: Vec<u32>,
    /// By target: (source, log-probability), sources ascending.
    edges_into: Vec<(u32, f32)>,
    first_edge_into: Vec<u32>,
    /// Log-probability that the rule ends behind a node.
    pub last: Vec<f32>,
    pub takers: Takers,
}

/// What may be done about a character that the reader did not see or did not know.
#[derive(Debug, Clone, Copy)]
struct Mending {
    puts_back: bool,
    guesses: bool,
}

impl Mending {
    const ALL: Self = Self {
        puts_back: true,
        guesses: true,
    };
    const NONE: Self = Self {
        puts_back: false,
        guesses: false,
    };
}

/// The rule is too large to align in reasonable time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TooLarge;

impl Automaton {
    /// Compiles a rule's pieces.
    pub fn new(pieces: &[Piece], slots: &[Slot]) -> Result<Self, TooLarge> {
        let start = Node {
            set: Arc::default(),
            spread: Spread::Known,
            role: Role::Start,
            lost: f32::NEG_INFINITY,
            single: None,
            few: Vec::new(),
        };
        let mut builder = Builder {
            nodes: vec![start],
            edges: Vec::new(),
            early_ends: Vec::new(),
            slots,
        };
        let whole = builder.pieces(pieces, true)?;
        for &(target, weight) in &whole.first {
            builder.edges.push((0, target, weight));
        }
        Ok(builder.finish(&whole))
    }

    /// How much memory and time it takes: its edges, and the ranges of its sets, of which three are as large as an edge.
    pub fn size(&self) -> usize {
        let ranges: usize = self.nodes.iter().map(|node| node.set.ranges()).sum();
        self.edges.len() + ranges / 3
    }

    /// Edges that lead to a node: (source, log-probability).
    #[inline]
    pub fn edges_into(&self, node: usize) -> &[(u32, f32)] {
        let range = self.first_edge_into[node] as usize..self.first_edge_into[node + 1] as usize;
        &self.edges_into[range]
    }

    /// Edges that leave a node: (target, log-probability).
    #[inline]
    pub fn edges(&self, node: usize) -> &[(u32, f32)] {
        let range = self.first_edge[node] as usize..self.first_edge[node + 1] as usize;
        &self.edges[range]
    }
}

/// Where the edges of each node begin in a list sorted by node, and where the last one's end.
fn beginnings(nodes: impl Iterator<Item = u32>, count: usize) -> Vec<u32> {
    let mut first = vec![0u32; count + 1];
    for node in nodes {
        first[node as usize + 1] += 1;
    }
    for at in 0..count {
        first[at + 1] += first[at];
    }
    first
}

/// A part of the automaton under construction.
#[derive(Debug, Clone, Default)]
struct Part {
    first: Vec<(u32, f32)>,
    last: Vec<(u32, f32)>,
    /// Log-probability of nothing at all.
    empty: Option<f32>,
}

impl Part {
    fn nothing() -> Self {
        Self {
            empty: Some(0.0),
            ..Self::default()
        }
    }
}

struct Builder<'a> {
    nodes: Vec<Node>,
    edges: Vec<(u32, u32, f32)>,
    /// Nodes behind which a strip may end before its time, with the log-probability.
    early_ends: Vec<(u32, f32)>,
    slots: &'a [Slot],
}

impl Builder<'_> {
    fn pieces(&mut self, pieces: &[Piece], outermost: bool) -> Result<Part, TooLarge> {
        let mut whole = Part::nothing();
        for (at, piece) in pieces.iter().enumerate() {
            let part = match piece {
                Piece::Literal(c) => self.node(
                    CharSet::any_case(*c),
                    Spread::Known,
                    Role::Literal,
                    Mending::ALL,
                )?,
                Piece::Break => {
                    let set = CharSet::from_ranges([('\n', '\n')]);
                    self.node(set, Spread::Known, Role::Break, Mending::NONE)?
                }
                Piece::Blank => {
                    let blank = CharSet::from_ranges([(' ', ' ')]);
                    let one = self.node(blank, Spread::Known, Role::Blank, Mending::ALL)?;
                    if beside_mark(pieces, at) {
                        let node = &mut self.nodes[one.first[0].0 as usize];
                        node.lost = BLANK_LOST_AT_MARK.ln();
                    }
                    let again = vec![(one.first[0].0, ANOTHER_BLANK.ln())];
                    self.connect(&one.last, &again)?;
                    one
                }
                Piece::Optional(pieces) => {
                    let inner = self.pieces(pieces, false)?;
                    choice([
                        (OPTIONAL_THERE, inner),
                        (1.0 - OPTIONAL_THERE, Part::nothing()),
                    ])
                }
                Piece::Choice(ways) => {
                    let share = 1.0 / ways.len() as f32;
                    let ways = ways
                        .iter()
                        .map(|way| Ok((share, self.pieces(way, false)?)))
                        .collect::<Result<Vec<_>, _>>()?;
                    choice(ways)
                }
                Piece::Pattern(expr) => self.expr(expr, Role::Literal, Mending::ALL)?,
                &Piece::Slot(at_slot) => {
                    let slot = &self.slots[at_slot];
                    let closes = closes_range(&pieces[..at], slot, self.slots);
                    let slot = self.slot(&looks::slot_expr(slot, closes), at_slot)?;
                    if outermost {
                        let early = slot
                            .last
                            .iter()
                            .map(|&(node, w)| (node, w + TAIL_LOST.ln()));
                        self.early_ends.extend(early);
                    }
                    slot
                }
            };
            whole = self.concat(whole, part)?;
        }
        Ok(whole)
    }

    fn slot(&mut self, expr: &Expr, slot: usize) -> Result<Part, TooLarge> {
        let kind = self.slots[slot].spec.kind;
        let mending = Mending {
            puts_back: kind.puts_back(),
            guesses: kind.guesses(),
        };
        let mut ways = vec![
            (1.0, self.expr(expr, Role::Slot(slot), mending)?),
            (SLOT_LOST, Part::nothing()),
        ];
        if kind.takes_off_pattern() {
            let off = self.expr(&looks::off_pattern(), Role::OffPattern(slot), Mending::NONE)?;
            ways.push((OFF_PATTERN, off));
        }
        Ok(choice(ways))
    }

    fn expr(&mut self, expr: &Expr, role: Role, mending: Mending) -> Result<Part, TooLarge> {
        match expr {
            Expr::Empty => Ok(Part::nothing()),
            Expr::One(set, spread) => self.node(set.clone(), *spread, role, mending),
            Expr::Concat(parts) => parts.iter().try_fold(Part::nothing(), |whole, part| {
                let part = self.expr(part, role, mending)?;
                self.concat(whole, part)
            }),
            Expr::Choice(ways) => {
                let ways = ways
                    .iter()
                    .map(|(share, way)| Ok((*share, self.expr(way, role, mending)?)))
                    .collect::<Result<Vec<_>, _>>()?;
                Ok(choice(ways))
            }
            Expr::Slot(slot, expr) => {
                let expr = looks::with_ditto(&self.slots[*slot], expr.as_ref().clone());
                self.slot(&expr, *slot)
            }
            &Expr::Repeat {
                ref expr,
                min,
                max,
                again,
            } => {
                let mut build = |builder: &mut Self| builder.expr(expr, role, mending);
                match max {
                    None => self.repeat_without_end(&mut build, min, again),
                    Some(max) => self.repeat_up_to(&mut build, min, max),
                }
            }
        }
    }

    fn repeat_without_end(
        &mut self,
        build: &mut impl FnMut(&mut Self) -> Result<Part, TooLarge>,
        min: u32,
        again: f32,
    ) -> Result<Part, TooLarge> {
        let mut whole = Part::nothing();
        for _ in 1..min {
            let part = build(self)?;
            whole = self.concat(whole, part)?;
        }
        let mut part = build(self)?;
        let more: Vec<_> = part
            .first
            .iter()
            .map(|&(node, w)| (node, w + again.ln()))
            .collect();
        self.connect(&part.last, &more)?;
        for (_, weight) in &mut part.last {
            *weight += (1.0 - again).ln();
        }
        if min == 0 {
            part = choice([(again, part), (1.0 - again, Part::nothing())]);
        }
        self.concat(whole, part)
    }

    fn repeat_up_to(
        &mut self,
        build: &mut impl FnMut(&mut Self) -> Result<Part, TooLarge>,
        min: u32,
        max: u32,
    ) -> Result<Part, TooLarge> {
        // Nested from the front: x(x(x)?)?, so that edges stay few. Every length alike: of r lengths still open, this
        // one has a share of 1/r.
        let mut parts = Vec::new();
        for _ in 0..max {
            parts.push(build(self)?);
        }
        let mut tail = Part::nothing();
        for (at, part) in (0..max).zip(parts).rev() {
            tail = self.concat(part, tail)?;
            if at >= min {
                let open = (max - at + 1) as f32;
                tail = choice([(1.0 - 1.0 / open, tail), (1.0 / open, Part::nothing())]);
            }
        }
        Ok(tail)
    }

    fn node(
        &mut self,
        set: CharSet,
        spread: Spread,
        role: Role,
        mending: Mending,
    ) -> Result<Part, TooLarge> {
        if self.nodes.len() >= MAX_NODES {
            return Err(TooLarge);
        }
        let single = set
            .single()
            .filter(|_| spread == Spread::Known && (mending.puts_back || mending.guesses));
        /// A check character has 11 forms; more are not worth guessing.
        const FEW: usize = 12;
        let few = match (role, spread) {
            (Role::Slot(_), Spread::Even(_) | Spread::Known) if mending.guesses => {
                set.few(FEW).unwrap_or_default()
            }
            _ => Vec::new(),
        };
        let lost = match single {
            _ if !mending.puts_back => f32::NEG_INFINITY,
            None if few.is_empty() => f32::NEG_INFINITY,
            None => (CHARACTER_LOST / few.len() as f32).ln(),
            Some(' ') => BLANK_LOST.ln(),
            Some(c) if c.is_alphanumeric() => CHARACTER_LOST.ln(),
            Some(_) => MARK_LOST.ln(),
        };
        let id = self.nodes.len() as u32;
        self.nodes.push(Node {
            set: Arc::new(set),
            spread,
            role,
            lost,
            single,
            few,
        });
        Ok(Part {
            first: vec![(id, 0.0)],
            last: vec![(id, 0.0)],
            empty: None,
        })
    }

    fn connect(&mut self, from: &[(u32, f32)], to: &[(u32, f32)]) -> Result<(), TooLarge> {
        if self.edges.len() + from.len() * to.len() > MAX_EDGES {
            return Err(TooLarge);
        }
        for &(source, out) in from {
            self.edges.extend(
                to.iter()
                    .map(|&(target, into)| (source, target, out + into)),
            );
        }
        Ok(())
    }

    fn concat(&mut self, a: Part, b: Part) -> Result<Part, TooLarge> {
        self.connect(&a.last, &b.first)?;
        let mut first = a.first;
        if let Some(skip) = a.empty {
            first.extend(b.first.iter().map(|&(node, w)| (node, w + skip)));
        }
        let mut last = b.last;
        if let Some(skip) = b.empty {
            last.extend(a.last.iter().map(|&(node, w)| (node, w + skip)));
        }
        let empty = a.empty.zip(b.empty).map(|(x, y)| x + y);
        Ok(Part { first, last, empty })
    }

    fn finish(mut self, whole: &Part) -> Automaton {
        let count = self.nodes.len();
        let mut last = vec![f32::NEG_INFINITY; count];
        for &(node, weight) in whole.last.iter().chain(&self.early_ends) {
            let best = &mut last[node as usize];
            *best = best.max(weight);
        }
        // Best first within a pair, then one edge a pair.
        self.edges
            .sort_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(b.2.total_cmp(&a.2)));
        self.edges
            .dedup_by_key(|&mut (source, target, _)| (source, target));
        let first_edge = beginnings(self.edges.iter().map(|edge| edge.0), count);
        let edges = self.edges.iter().map(|edge| (edge.1, edge.2)).collect();
        self.edges.sort_by_key(|edge| (edge.1, edge.0));
        Automaton {
            takers: Takers::new(&self.nodes),
            nodes: self.nodes,
            edges,
            first_edge,
            first_edge_into: beginnings(self.edges.iter().map(|edge| edge.1), count),
            edges_into: self.edges.iter().map(|edge| (edge.0, edge.2)).collect(),
            last,
        }
    }
}

/// One of several parts, each with its probability.
fn choice(ways: impl IntoIterator<Item = (f32, Part)>) -> Part {
    let mut whole = Part::default();
    for (share, part) in ways {
        let weight = share.ln();
        whole
            .first
            .extend(part.first.iter().map(|&(node, w)| (node, w + weight)));
        whole.last.extend(part.last);
        if let Some(empty) = part.empty {
            let empty = empty + weight;
            whole.empty = Some(whole.empty.map_or(empty, |best| best.max(empty)));
        }
    }
    whole
}
