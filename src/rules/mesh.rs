//! A reading made ready for alignment: all its lines in one graph, with the characters that may have been misread.
//!
//! Nodes stand between positions; an arc takes one typed character and says how much better than free text it explains
//! what was read. Lines follow each other through a position that holds a line break.

use super::flat::{Draft, Flat};
use crate::reading::Reading;

/// Positions of a reading that are aligned at most; a header strip has two or three hundred.
pub(super) const MAX_POSITIONS: usize = 1_200;
/// How an arc's character came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum How {
    /// An alternative of the reader.
    Read,
    /// The other case of the alternative given, for slots that insist on one.
    OtherCase(char),
    /// Misread as one of them: the one given, or what begins with it.
    Confused(char),
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
    /// For each node, the position it stands before (or inside of).
    pub spots: Vec<Spot>,
    /// Visible characters of the best reading.
    pub visible: usize,
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
        Some(mesh)
    }

    /// How many nodes; the last one stands behind everything.
    #[inline]
    pub fn len(&self) -> usize {
        self.spots.len()
    }

    #[inline]
    pub fn arcs(&self, node: usize) -> &[Arc] {
        &self.arcs[self.first_arc[node] as usize..self.first_arc[node + 1] as usize]
    }

    #[inline]
    pub fn arcs_into(&self, node: usize) -> &[(u32, Arc)] {
        let range = self.first_arc_into[node] as usize..self.first_arc_into[node + 1] as usize;
        &self.arcs_into[range]
    }

    #[inline]
    pub fn skips_into(&self, node: usize) -> &[(u32, Skip)] {
        let range = self.first_skip_into[node] as usize..self.first_skip_into[node + 1] as usize;
        &self.skips_into[range]
    }

    #[inline]
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
