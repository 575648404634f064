//! The best path of a rule's automaton through a reading, and how good every other way is beside it.

use super::automaton::{Automaton, Role};
use super::mesh::{Arc, How, Mesh, Skip, Skipped};

/// Ways that are worse than the best at the same place by more than this are not followed; natural log. A sheet's whole
/// identifier is worth less.
const BEAM: f32 = 16.0;
const NEVER: f32 = f32::NEG_INFINITY;

/// One move of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Move {
    /// An arc's character is taken by a node.
    Take(Arc),
    /// Something read is passed over.
    Skip(Skip),
    /// A node's character is put back.
    PutBack,
}

#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    pub from: usize,
    pub made: Move,
    /// Mesh node and automaton node afterwards.
    pub to: usize,
    pub node: usize,
    pub weight: f32,
}

/// Best log-probabilities against free text for every pair of a mesh node and an automaton node. Few pairs have one, and
/// only those are visited.
#[derive(Debug)]
pub(super) struct Table {
    width: usize,
    cells: Vec<f32>,
    /// One bit for each pair that has one, in words of 64 automaton nodes.
    reached: Vec<u64>,
}

impl Table {
    fn new(mesh: &Mesh, automaton: &Automaton) -> Self {
        let width = automaton.nodes.len();
        Self {
            width,
            cells: vec![NEVER; mesh.len() * width],
            reached: vec![0; mesh.len() * width.div_ceil(64)],
        }
    }

    #[inline]
    pub fn get(&self, at: usize, node: usize) -> f32 {
        self.cells[at * self.width + node]
    }

    #[inline]
    pub fn row(&self, at: usize) -> &[f32] {
        &self.cells[at * self.width..(at + 1) * self.width]
    }

    #[inline]
    fn raise(&mut self, at: usize, node: usize, value: f32) {
        let cell = &mut self.cells[at * self.width + node];
        if value > *cell {
            *cell = value;
            self.reach(at, node);
        }
    }

    #[inline]
    fn reach(&mut self, at: usize, node: usize) {
        self.reached[at * self.width.div_ceil(64) + node / 64] |= 1 << (node % 64);
    }

    /// The first automaton node from `from` on that was reached at a place.
    #[inline]
    fn next(&self, at: usize, from: usize) -> Option<usize> {
        let words = self.width.div_ceil(64);
        let row = &self.reached[at * words..(at + 1) * words];
        let first = row.get(from / 64)? & (u64::MAX << (from % 64));
        if first != 0 {
            return Some(from / 64 * 64 + first.trailing_zeros() as usize);
        }
        let word = (from / 64 + 1..words).find(|&word| row[word] != 0)?;
        Some(word * 64 + row[word].trailing_zeros() as usize)
    }

    /// The last automaton node before `before` that was reached at a place.
    #[inline]
    fn previous(&self, at: usize, before: usize) -> Option<usize> {
        let words = self.width.div_ceil(64);
        let row = &self.reached[at * words..(at + 1) * words];
        let last = before.checked_sub(1)?;
        let first = row[last / 64] & (u64::MAX >> (63 - last % 64));
        let (word, bits) = if first != 0 {
            (last / 64, first)
        } else {
            let word = (0..last / 64).rev().find(|&word| row[word] != 0)?;
            (word, row[word])
        };
        Some(word * 64 + 63 - bits.leading_zeros() as usize)
    }

    /// The automaton nodes that were reached at a place, ascending.
    pub fn reached(&self, at: usize) -> impl Iterator<Item = usize> + '_ {
        let mut from = 0;
        std::iter::from_fn(move || {
            let node = self.next(at, from)?;
            from = node + 1;
            Some(node)
        })
    }
}

/// From the start up to each cell.
pub(super) fn forward(mesh: &Mesh, automaton: &Automaton) -> Table {
    let mut table = Table::new(mesh, automaton);
    // The best cell of each row so far; a row is whole before it is looked at.
    let mut best = vec![NEVER; mesh.len()];
    table.raise(0, 0, 0.0);
    best[0] = 0.0;
    // For each automaton node, the best way to come before it at this place; and one bit for those that have one.
    let mut before = vec![NEVER; table.width];
    let mut ahead_of = vec![0u64; table.width.div_ceil(64)];
    let takers = &automaton.takers;
    for at in 0..mesh.len() {
        let least = best[at] - BEAM;
        let mut next = table.next(at, 0);
        while let Some(node) = next {
            // Putting back goes forwards only; round a loop it never helps.
            let here = table
                .get(at, node)
                .max(before[node] + automaton.nodes[node].lost);
            table.raise(at, node, here);
            if here >= least {
                for skip in mesh.skips(at) {
                    raise(&mut table, &mut best, skip.to, node, here + skip.gain);
                }
                for &(target, weight) in automaton.edges(node) {
                    let target = target as usize;
                    let known = &mut before[target];
                    *known = known.max(here + weight);
                    ahead_of[target / 64] |= 1 << (target % 64);
                    if target > node && *known + automaton.nodes[target].lost >= least {
                        table.reach(at, target);
                    }
                }
            }
            next = table.next(at, node + 1);
        }
        for word in 0..ahead_of.len() {
            let ahead = std::mem::take(&mut ahead_of[word]);
            if ahead == 0 {
                continue;
            }
            let hopeful = each_bit(word, ahead)
                .filter(|&node| before[node] >= least)
                .fold(0, |bits, node| bits | 1 << (node % 64));
            for arc in mesh.arcs(at) {
                for node in each_bit(word, takers.taking(arc, word, hopeful)) {
                    let value = before[node] + takers.worth(node, arc);
                    raise(&mut table, &mut best, arc.to, node, value);
                }
            }
            for node in each_bit(word, ahead) {
                before[node] = NEVER;
            }
        }
    }
    table
}

/// The nodes of a word's bits, ascending.
#[inline]
fn each_bit(word: usize, mut bits: u64) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let bit = (bits != 0).then(|| bits.trailing_zeros() as usize)?;
        bits &= bits - 1;
        Some(word * 64 + bit)
    })
}

/// Records a way to a cell ahead, unless it is hopeless beside others that lead to the same place.
#[inline]
fn raise(table: &mut Table, best: &mut [f32], to: u32, node: usize, value: f32) {
    let best = &mut best[to as usize];
    if value >= *best - BEAM {
        table.raise(to as usize, node, value);
        *best = best.max(value);
    }
}

/// The best score of a whole path; minus infinity where there is none.
pub(super) fn score(forward: &Table, automaton: &Automaton, mesh: &Mesh) -> f32 {
    forward
        .row(mesh.len() - 1)
        .iter()
        .zip(&automaton.last)
        .fold(NEVER, |best, (a, b)| best.max(a + b))
}

/// From each cell to the end, for the cells on ways that are worse than the best whole one by `band` at most.
pub(super) fn backward(mesh: &Mesh, automaton: &Automaton, forward: &Table, band: f32) -> Table {
    let mut table = Table::new(mesh, automaton);
    let least = score(forward, automaton, mesh) - band;
    let end = mesh.len() - 1;
    for (node, &last) in automaton.last.iter().enumerate() {
        if forward.get(end, node) + last >= least {
            table.raise(end, node, last);
        }
    }
    for at in (0..=end).rev() {
        let mut next = table.previous(at, table.width);
        while let Some(node) = next {
            let on = table.get(at, node);
            let mut reach = |from: usize, node: usize, value: f32| {
                if forward.get(from, node) + value >= least {
                    table.raise(from, node, value);
                }
            };
            let taker = &automaton.nodes[node];
            for &(source, weight) in automaton.edges_into(node) {
                let source = source as usize;
                if source < node {
                    reach(at, source, on + weight + taker.lost);
                }
            }
            for &(from, skip) in mesh.skips_into(at) {
                reach(from as usize, node, on + skip.gain);
            }
            for &(from, arc) in mesh.arcs_into(at) {
                if let Some(gain) = automaton.takers.take(node, &arc) {
                    for &(source, weight) in automaton.edges_into(node) {
                        reach(from as usize, source as usize, on + gain + weight);
                    }
                }
            }
            next = table.previous(at, node);
        }
    }
    table
}

/// Every way on from a cell.
pub(super) fn each_move(
    mesh: &Mesh,
    automaton: &Automaton,
    at: usize,
    node: usize,
    mut see: impl FnMut(Step),
) {
    for &skip in mesh.skips(at) {
        see(Step {
            from: at,
            made: Move::Skip(skip),
            to: skip.to as usize,
            node,
            weight: skip.gain,
        });
    }
    for &(target, weight) in automaton.edges(node) {
        let target = target as usize;
        let taker = &automaton.nodes[target];
        if target > node && taker.lost > NEVER {
            see(Step {
                from: at,
                made: Move::PutBack,
                to: at,
                node: target,
                weight: weight + taker.lost,
            });
        }
        for &arc in mesh.arcs(at) {
            if let Some(gain) = automaton.takers.take(target, &arc) {
                see(Step {
                    from: at,
                    made: Move::Take(arc),
                    to: arc.to as usize,
                    node: target,
                    weight: weight + gain,
                });
            }
        }
    }
}

/// The best path, from the start to the end of the reading.
pub(super) fn best_path(mesh: &Mesh, automaton: &Automaton, backward: &Table) -> Vec<Step> {
    let mut path = Vec::new();
    let (mut at, mut node) = (0, 0);
    loop {
        let mut best: Option<(f32, Step)> = None;
        each_move(mesh, automaton, at, node, |step| {
            let value = step.weight + backward.get(step.to, step.node);
            if value > best.map_or(NEVER, |(known, _)| known) {
                best = Some((value, step));
            }
        });
        let ending = if at + 1 == mesh.len() {
            automaton.last[node]
        } else {
            NEVER
        };
        match best {
            Some((value, step)) if value > ending => {
                path.push(step);
                (at, node) = (step.to, step.node);
            }
            _ => return path,
        }
    }
}

/// How much of a reading a path had to bend.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Bent {
    /// Visible characters put back, passed over or guessed, and half for each that was taken for another, against all
    /// visible characters.
    pub share: f64,
    /// Places, a slot or what stands between two slots, in which something does not look like the rule at all.
    pub places: usize,
}

/// Strange steps that make one place: a word of the template of which one or two characters are wrong was misread; one
/// with more is another word.
const STEPS_OF_A_PLACE: usize = 2;

/// Looks along a path for what was bent.
pub(super) fn bent(path: &[Step], automaton: &Automaton, mesh: &Mesh) -> Bent {
    let mut characters = 0.0;
    let mut places = 0;
    let (mut place, mut steps) = (Role::Start, 0usize);
    for step in path {
        let node = &automaton.nodes[step.node];
        // Blanks and words between two slots are one place.
        let here = match node.role {
            Role::Blank | Role::Break => Role::Literal,
            role => role,
        };
        if here != place {
            places += steps.div_ceil(STEPS_OF_A_PLACE);
            place = here;
            steps = usize::from(matches!(here, Role::OffPattern(_)));
        }
        let (cost, strange) = match step.made {
            Move::Take(arc) => match arc.how {
                How::Read | How::OtherCase(_) => (0.0, false),
                // The strip station cuts lines apart: two lines in one are hardly ever its fault.
                How::Confused(_) => (0.5, node.role == Role::Break),
                How::Any => (1.0, true),
            },
            Move::PutBack if node.role == Role::Blank => (0.0, false),
            Move::PutBack => (1.0, true),
            Move::Skip(skip) => match skip.what {
                Skipped::Character => (1.0, skip.gain < DIRT),
                Skipped::Nothing | Skipped::Blank | Skipped::Line => (0.0, false),
            },
        };
        characters += cost;
        steps += usize::from(strange);
    }
    Bent {
        share: characters / mesh.visible as f64,
        places: places + steps.div_ceil(STEPS_OF_A_PLACE),
    }
}

/// Passing over a character that costs more than this is no dirt of the frame; natural log.
const DIRT: f32 = -3.0;
