//! What an alignment did, in words.

use super::align::{Move, Step};
use super::automaton::Role;
use super::extract::Fit;
use super::kind::FieldSpec;
use super::mesh::{How, Mesh, Skipped, Spot};
use crate::reading::{Position, Reading};

/// The positions of a stretch, over line ends.
pub(super) fn positions(
    reading: &Reading,
    from: Spot,
    to: Spot,
) -> impl Iterator<Item = &Position> {
    (from.line..=to.line.min(reading.lines.len().saturating_sub(1))).flat_map(move |line| {
        let positions = &reading.lines[line].positions;
        let start = if line == from.line { from.position } else { 0 };
        let end = if line == to.line {
            to.position
        } else {
            positions.len()
        };
        positions[start.min(positions.len())..end.min(positions.len())].iter()
    })
}

/// The best text of a stretch.
pub(super) fn best_text(reading: &Reading, from: Spot, to: Spot) -> String {
    positions(reading, from, to).map(Position::best).collect()
}

/// What had to be tolerated on the best path, each thing once, in the order of the strip.
pub(super) fn tolerated(
    fit: &Fit,
    mesh: &Mesh,
    fields: &[FieldSpec],
    reading: &Reading,
) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut place = "at the start".to_owned();
    for step in &fit.path {
        let role = fit.rule.automaton.nodes[step.node].role;
        let inside = role
            .field()
            .map(|field| format!("in {}", fields[field].name));
        if let Some(noted) = note(step, fit, mesh, reading, inside.as_ref().unwrap_or(&place))
            && words.last() != Some(&noted)
        {
            words.push(noted);
        }
        if let Some(field) = role.field() {
            place = format!("after {}", fields[field].name);
            let off = format!("{} does not look like its kind", fields[field].name);
            if matches!(role, Role::OffPattern(_)) && !words.contains(&off) {
                words.push(off);
            }
        }
    }
    let passed = |field| {
        let nodes = &fit.rule.automaton.nodes;
        fit.path
            .iter()
            .any(|step| nodes[step.node].role.field() == Some(field))
    };
    for &field in fit.rule.slots.iter().filter(|&&field| !passed(field)) {
        words.push(format!("nothing was read of {}", fields[field].name));
    }
    words
}

/// What one step tolerated, if anything.
fn note(step: &Step, fit: &Fit, mesh: &Mesh, reading: &Reading, place: &str) -> Option<String> {
    let node = &fit.rule.automaton.nodes[step.node];
    let (from, to) = (mesh.spots[step.from], mesh.spots[step.to]);
    let read = || best_text(reading, from, to);
    match step.made {
        Move::PutBack => Some(match node.single {
            Some(' ') => format!("a blank is missing {place}"),
            Some(c) => format!("`{c}` is missing {place}"),
            None => format!("a character is missing {place}"),
        }),
        Move::Skip(skip) => match skip.what {
            Skipped::Nothing => None,
            Skipped::Blank => Some(format!("a blank too many {place}")),
            Skipped::Character => Some(format!("`{}` is left out {place}", read())),
            Skipped::Line => {
                let line = if from.position == 0 {
                    from.line
                } else {
                    to.line
                };
                Some(format!("line {} is left out", line + 1))
            }
        },
        Move::Take(arc) => match (arc.how, node.role) {
            (How::Read | How::OtherCase(_), _) => None,
            (_, Role::Break) => Some(format!("two lines were read as one {place}")),
            (How::Confused, _) if read().is_empty() => {
                Some(format!("one line was read as two {place}"))
            }
            (How::Confused, _) => Some(format!("`{}` stands for `{}` {place}", read(), arc.c)),
            (How::Any, _) => Some(match node.single {
                Some(c) => format!("`{}` stands for `{c}` {place}", read()),
                None => format!("`{}` is no possible character {place}", read()),
            }),
        },
    }
}
