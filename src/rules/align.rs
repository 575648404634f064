//! The best path of a rule's automaton through a reading, and how good every other way is beside it.

use super::automaton::{Automaton, Role};
use super::cells::{NEVER, Table};
use super::mesh::{Arc, How, Mesh, Skip, Skipped, Turned};

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

/// From each cell to the end, for the cells on ways that are worse than the best whole one, of this score, by `band` at
/// most; into a table in which nothing was reached.
pub(super) fn backward(
    mesh: &Mesh,
    automaton: &Automaton,
    (forward, score): (&Table, f32),
    band: f32,
    table: &mut Table,
) {
    let least = score - band;
    let turned = Turned::new(mesh);
    let end = mesh.len() - 1;
    for (node, &last) in automaton.last.iter().enumerate() {
        if forward.get(end, node) + last >= least {
            table.raise(end, node, last);
        }
    }
    for at in (0..=end).rev() {
        let mut next = table.previous(at, automaton.nodes.len());
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
            for &(from, skip) in turned.skips_into(at) {
                reach(from as usize, node, on + skip.gain);
            }
            for &(from, arc) in turned.arcs_into(at) {
                if let Some(gain) = automaton.takers.take(node, &arc) {
                    for &(source, weight) in automaton.edges_into(node) {
                        reach(from as usize, source as usize, on + gain + weight);
                    }
                }
            }
            next = table.previous(at, node);
        }
    }
}

/// Every way on from a cell to one from which the end is reached, each with how good the best way from there is.
pub(super) fn each_move(
    mesh: &Mesh,
    automaton: &Automaton,
    backward: &Table,
    (at, node): (usize, usize),
    mut see: impl FnMut(Step, f32),
) {
    let step = |made, to, node, weight| Step {
        from: at,
        made,
        to,
        node,
        weight,
    };
    for &skip in mesh.skips(at) {
        let to = skip.to as usize;
        let ahead = backward.get(to, node);
        if ahead > NEVER {
            see(step(Move::Skip(skip), to, node, skip.gain), ahead);
        }
    }
    for &(target, weight) in automaton.edges(node) {
        let target = target as usize;
        let lost = automaton.nodes[target].lost;
        let ahead = backward.get(at, target);
        if target > node && lost > NEVER && ahead > NEVER {
            see(step(Move::PutBack, at, target, weight + lost), ahead);
        }
        for &arc in mesh.arcs(at) {
            let to = arc.to as usize;
            let ahead = backward.get(to, target);
            if ahead > NEVER
                && let Some(gain) = automaton.takers.take(target, &arc)
            {
                see(step(Move::Take(arc), to, target, weight + gain), ahead);
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
        each_move(mesh, automaton, backward, (at, node), |step, ahead| {
            let value = step.weight + ahead;
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
