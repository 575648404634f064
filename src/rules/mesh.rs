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
        // Benches keep many.
        mesh.arcs.shrink_to_fit();
        mesh.skips.shrink_to_fit();
        mesh.spots.shrink_to_fit();
        mesh.first_arc.shrink_to_fit();
        mesh.first_skip.shrink_to_fit();
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
    pub fn skips(&self, node: usize) -> &[Skip] {
        &self.skips[self.first_skip[node] as usize..self.first_skip[node + 1] as usize]
    }
}

/// The moves of a mesh by the node that they lead to. Only few readings are gone through backwards, so they are put
/// together then.
pub(super) struct Turned {
    arcs: MovesInto<Arc>,
    skips: MovesInto<Skip>,
}

/// Moves sorted by the node that they lead to, each with the node that it leaves; and where each node's begin.
struct MovesInto<T> {
    moves: Vec<(u32, T)>,
    first: Vec<u32>,
}

impl Turned {
    pub fn new(mesh: &Mesh) -> Self {
        Self {
            arcs: MovesInto::new(&mesh.arcs, &mesh.first_arc, |arc| arc.to),
            skips: MovesInto::new(&mesh.skips, &mesh.first_skip, |skip| skip.to),
        }
    }

    #[inline]
    pub fn arcs_into(&self, node: usize) -> &[(u32, Arc)] {
        self.arcs.of(node)
    }

    #[inline]
    pub fn skips_into(&self, node: usize) -> &[(u32, Skip)] {
        self.skips.of(node)
    }
}

impl<T: Copy> MovesInto<T> {
    /// `first_move`: for each node where its moves begin, and where the last one's end.
    fn new(moves: &[T], first_move: &[u32], to: impl Fn(&T) -> u32) -> Self {
        let nodes = first_move.len() - 1;
        let mut first = vec![0u32; nodes + 1];
        for made in moves {
            first[to(made) as usize + 1] += 1;
        }
        for node in 0..nodes {
            first[node + 1] += first[node];
        }
        let mut next = first.clone();
        let mut turned: Vec<(u32, T)> = moves.iter().map(|&made| (0, made)).collect();
        for node in 0..nodes {
            for made in &moves[first_move[node] as usize..first_move[node + 1] as usize] {
                let place = &mut next[to(made) as usize];
                turned[*place as usize] = (node as u32, *made);
                *place += 1;
            }
        }
        Self {
            moves: turned,
            first,
        }
    }

    #[inline]
    fn of(&self, node: usize) -> &[(u32, T)] {
        &self.moves[self.first[node] as usize..self.first[node + 1] as usize]
    }
}
