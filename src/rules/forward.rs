//! The forward pass of an alignment: the best way from the start up to each cell.

use super::automaton::Automaton;
use super::cells::{NEVER, Table, each_bit};
use super::extract::HOPELESS;
use super::mesh::{How, Mesh};

/// Ways that are worse than the best at the same place by more than this are not followed; natural log. A sheet's whole
/// identifier is worth less.
const BEAM: f32 = 16.0;
/// The same at first sight. On 1,190 simulated readings of known layouts of seed 150 it lost the rule of 2; 6 lost 29.
const NARROW_BEAM: f32 = 8.0;
/// By how much a rule may explain the rest of a strip better than the best rule known so far does, which explains all of
/// it well; natural log, some seven letters of a label. Of 30 rules on 3,600 simulated readings at default noise and 3,000
/// at heavy noise, seeds 150 to 152, none that had a say fell behind by more.
const CATCH_UP: f32 = 25.0;

/// How much is asked of an alignment and of the values found by it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Depth {
    /// The best path, which is seldom lost.
    Glance,
    /// All that may stand there, with its probabilities.
    Full,
}

impl Depth {
    /// Ways that are worse than the best at the same place by more than this are not followed.
    fn beam(self) -> f32 {
        match self {
            Self::Glance => NARROW_BEAM,
            Self::Full => BEAM,
        }
    }

    /// By how much a rule may be worse than a good one at any place.
    fn lead(self) -> f32 {
        match self {
            Self::Glance => HOPELESS,
            Self::Full => HOPELESS + CATCH_UP,
        }
    }
}

/// The best log-probability of a rule at each place of a reading.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Profile(Box<[f32]>);

/// Aligns rules with readings; keeps its memory from one to the next.
#[derive(Debug, Default)]
pub(super) struct Aligner {
    spare: Vec<Table>,
    beam: f32,
    /// The best cell of each row so far; a row is whole before it is looked at.
    best: Vec<f32>,
    /// For each automaton node, the best way to come before it at this place.
    before: Vec<f32>,
    /// One bit for each node that has such a way, and for each whose way is worth following.
    ahead: Vec<u64>,
    hopeful: Vec<u64>,
    /// Those of the hopeful that took no letter yet at this place, and those that took no other character.
    left: [Vec<u64>; 2],
    /// The cells of this place from which ways are followed.
    here: Vec<(usize, f32)>,
}

impl Aligner {
    /// From the start up to each cell, and the best score of a whole path; minus infinity where there is none. Beside a
    /// rival, ways that fall behind it without hope are left early: the score then says no more than that.
    pub fn forward(
        &mut self,
        mesh: &Mesh,
        automaton: &Automaton,
        depth: Depth,
        rival: Option<&Profile>,
    ) -> (Table, f32) {
        let width = automaton.nodes.len();
        let mut table = self.table(mesh.len(), width);
        self.best.clear();
        self.best.resize(mesh.len(), NEVER);
        self.before.resize(width, NEVER);
        let words = width.div_ceil(64);
        self.ahead.resize(words, 0);
        self.hopeful.resize(words, 0);
        table.raise(0, 0, 0.0);
        self.best[0] = 0.0;
        self.beam = depth.beam();
        for at in 0..mesh.len() {
            let behind = rival.map_or(NEVER, |rival| rival.0[at] - depth.lead());
            let least = larger(self.best[at] - self.beam, behind);
            if self.best[at] >= least {
                self.leave(mesh, automaton, &mut table, at, least);
                self.take(mesh, automaton, &mut table, at, least);
            }
        }
        let score = score(&table, automaton, mesh);
        (table, score)
    }

    /// How the rule that was aligned last did from place to place.
    pub fn profile(&self) -> Profile {
        Profile(self.best.as_slice().into())
    }

    /// A table in which nothing was reached.
    pub fn table(&mut self, rows: usize, width: usize) -> Table {
        let mut table = self.spare.pop().unwrap_or_default();
        table.fit(rows, width);
        table
    }

    /// Takes a table back that is needed no more.
    pub fn recycle(&mut self, mut table: Table) {
        table.clear();
        self.spare.push(table);
    }

    /// From the cells of a row: over what is skipped, to the characters that were put back, and before those that are
    /// taken.
    fn leave(
        &mut self,
        mesh: &Mesh,
        automaton: &Automaton,
        table: &mut Table,
        at: usize,
        least: f32,
    ) {
        let beam = self.beam;
        let lost = automaton.takers.lost();
        let before = &mut self.before[..lost.len()];
        let ahead_of = &mut self.ahead[..];
        let (cells, reached) = table.row_mut(at);
        let cells = &mut cells[..lost.len()];
        self.here.clear();
        for word in 0..ahead_of.len() {
            let mut passed = 0;
            loop {
                let left = reached[word] & !passed;
                if left == 0 {
                    break;
                }
                // Putting back goes forwards only; round a loop it never helps.
                passed |= left ^ (left - 1);
                let node = word * 64 + left.trailing_zeros() as usize;
                let here = cells[node];
                if here < least {
                    continue;
                }
                self.here.push((node, here));
                for &(target, weight) in automaton.edges(node) {
                    let target = target as usize;
                    let ahead = here + weight;
                    before[target] = larger(before[target], ahead);
                    ahead_of[target / 64] |= 1 << (target % 64);
                    if target > node {
                        let put_back = ahead + lost[target];
                        if put_back >= least && put_back > cells[target] {
                            cells[target] = put_back;
                            reached[target / 64] |= 1 << (target % 64);
                        }
                    }
                }
            }
        }
        for skip in mesh.skips(at) {
            let to = skip.to as usize;
            let (cells, reached) = table.row_mut(to);
            let mut best = self.best[to];
            for &(node, here) in &self.here {
                let value = here + skip.gain;
                if value > cells[node] && value >= best - beam {
                    cells[node] = value;
                    reached[node / 64] |= 1 << (node % 64);
                    best = larger(best, value);
                }
            }
            self.best[to] = best;
        }
    }

    /// From before the nodes to behind them, by the characters that stand at this place. Ways that are hopeless beside
    /// others to the same place are not recorded.
    fn take(
        &mut self,
        mesh: &Mesh,
        automaton: &Automaton,
        table: &mut Table,
        at: usize,
        least: f32,
    ) {
        let beam = self.beam;
        let before = &mut self.before[..automaton.nodes.len()];
        let hopeful = &mut self.hopeful[..];
        for (word, (ahead, hopeful)) in self.ahead.iter_mut().zip(&mut *hopeful).enumerate() {
            *hopeful = 0;
            for node in each_bit(word, std::mem::take(ahead)) {
                if before[node] >= least {
                    *hopeful |= 1 << (node % 64);
                } else {
                    before[node] = NEVER;
                }
            }
        }
        for left in &mut self.left {
            left.clear();
            left.extend_from_slice(hopeful);
        }
        let usual = mesh.arcs(at).first().map(|arc| arc.to);
        let mut lowest = [f32::INFINITY; 2];
        for arc in mesh.arcs(at) {
            let mut best = self.best[arc.to as usize];
            let (cells, reached) = table.row_mut(arc.to as usize);
            let cells = &mut cells[..before.len()];
            let costs = automaton.takers.costs(arc);
            // What took a character of the same sort that was worth more, and led to the same place, needs no other.
            let sort = match arc.how {
                _ if Some(arc.to) != usual => None,
                How::Any => None,
                _ => Some(usize::from(!arc.c.is_alphabetic())),
            };
            let sort = sort.filter(|&sort| arc.gain <= lowest[sort]);
            if let Some(sort) = sort {
                lowest[sort] = arc.gain;
            }
            for (word, &hopeful) in hopeful.iter().enumerate() {
                let among = sort.map_or(hopeful, |sort| self.left[sort][word]);
                if among == 0 {
                    continue;
                }
                let see = |node: usize, worth: f32| {
                    let value = before[node] + worth;
                    if value > cells[node] && value >= best - beam {
                        cells[node] = value;
                        reached[node / 64] |= 1 << (node % 64);
                        best = larger(best, value);
                    }
                };
                let taken = automaton.takers.each(arc, word, among, costs, see);
                if let Some(sort) = sort {
                    self.left[sort][word] = among & !taken;
                }
            }
            self.best[arc.to as usize] = best;
        }
        for (word, hopeful) in hopeful.iter().enumerate() {
            for node in each_bit(word, *hopeful) {
                before[node] = NEVER;
            }
        }
    }
}

/// The larger of two numbers that are numbers; `f32::max` looks whether they are.
#[inline]
fn larger(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

/// The best score of a whole path; minus infinity where there is none.
pub(super) fn score(forward: &Table, automaton: &Automaton, mesh: &Mesh) -> f32 {
    let ends = forward.reached(mesh.len() - 1);
    ends.map(|node| forward.get(mesh.len() - 1, node) + automaton.last[node])
        .fold(NEVER, larger)
}
