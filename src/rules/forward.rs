//! The forward pass of an alignment: the best way from the start up to each cell.

use super::automaton::Automaton;
use super::cells::{NEVER, Table, each_bit};
use super::mesh::Mesh;

/// Ways that are worse than the best at the same place by more than this are not followed; natural log. A sheet's whole
/// identifier is worth less.
const BEAM: f32 = 16.0;

/// Aligns rules with readings; keeps its memory from one to the next.
#[derive(Debug, Default)]
pub(super) struct Aligner {
    spare: Vec<Table>,
    /// The best cell of each row so far; a row is whole before it is looked at.
    best: Vec<f32>,
    /// For each automaton node, the best way to come before it at this place.
    before: Vec<f32>,
    /// One bit for each node that has such a way, and for each whose way is worth following.
    ahead: Vec<u64>,
    hopeful: Vec<u64>,
}

impl Aligner {
    /// From the start up to each cell.
    pub fn forward(&mut self, mesh: &Mesh, automaton: &Automaton) -> Table {
        let width = automaton.nodes.len();
        let mut table = self.spare.pop().unwrap_or_default();
        table.fit(mesh.len(), width);
        self.best.clear();
        self.best.resize(mesh.len(), NEVER);
        self.before.resize(width, NEVER);
        let words = width.div_ceil(64);
        self.ahead.resize(words, 0);
        self.hopeful.resize(words, 0);
        table.raise(0, 0, 0.0);
        self.best[0] = 0.0;
        for at in 0..mesh.len() {
            let least = self.best[at] - BEAM;
            self.leave(mesh, automaton, &mut table, at, least);
            self.take(mesh, automaton, &mut table, at, least);
        }
        table
    }

    /// Takes a table back that is needed no more.
    pub fn recycle(&mut self, mut table: Table) {
        table.clear();
        self.spare.push(table);
    }

    /// From the cells of a row: over what is skipped, to the characters that were put back, and before those that are
    /// taken.
    #[inline]
    fn leave(
        &mut self,
        mesh: &Mesh,
        automaton: &Automaton,
        table: &mut Table,
        at: usize,
        least: f32,
    ) {
        let lost = automaton.takers.lost();
        let before = &mut self.before[..lost.len()];
        for word in 0..self.ahead.len() {
            let mut passed = 0;
            loop {
                let (cells, reached) = table.row_mut(at);
                let left = reached[word] & !passed;
                if left == 0 {
                    break;
                }
                // Putting back goes forwards only; round a loop it never helps.
                passed = left ^ (left - 1) | passed;
                let node = word * 64 + left.trailing_zeros() as usize;
                let here = cells[node];
                if here < least {
                    continue;
                }
                for &(target, weight) in automaton.edges(node) {
                    let target = target as usize;
                    let ahead = here + weight;
                    before[target] = before[target].max(ahead);
                    self.ahead[target / 64] |= 1 << (target % 64);
                    if target > node {
                        let put_back = ahead + lost[target];
                        if put_back >= least && put_back > cells[target] {
                            cells[target] = put_back;
                            reached[target / 64] |= 1 << (target % 64);
                        }
                    }
                }
                for skip in mesh.skips(at) {
                    let (to, value) = (skip.to as usize, here + skip.gain);
                    if value >= self.best[to] - BEAM {
                        table.raise(to, node, value);
                        self.best[to] = self.best[to].max(value);
                    }
                }
            }
        }
    }

    /// From before the nodes to behind them, by the characters that stand at this place. Ways that are hopeless beside
    /// others to the same place are not recorded.
    #[inline]
    fn take(
        &mut self,
        mesh: &Mesh,
        automaton: &Automaton,
        table: &mut Table,
        at: usize,
        least: f32,
    ) {
        let before = &mut self.before;
        for (word, (ahead, hopeful)) in self.ahead.iter().zip(&mut self.hopeful).enumerate() {
            *hopeful = each_bit(word, *ahead)
                .filter(|&node| before[node] >= least)
                .fold(0, |bits, node| bits | 1 << (node % 64));
        }
        for arc in mesh.arcs(at) {
            let best = &mut self.best[arc.to as usize];
            let (cells, reached) = table.row_mut(arc.to as usize);
            automaton.takers.each(arc, &self.hopeful, |node, worth| {
                let value = before[node] + worth;
                if value >= *best - BEAM && value > cells[node] {
                    cells[node] = value;
                    reached[node / 64] |= 1 << (node % 64);
                    *best = best.max(value);
                }
            });
        }
        for (word, ahead) in self.ahead.iter_mut().enumerate() {
            for node in each_bit(word, std::mem::take(ahead)) {
                before[node] = NEVER;
            }
        }
    }
}
