//! What an alignment did, in words.

use super::align::{Move, Step};
use super::automaton::Role;
use super::extract::Fit;
use super::mesh::{How, Mesh, Skipped, Spot};
use crate::reading::{Position, Reading};
use std::collections::HashSet;

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
pub(super) fn tolerated(fit: &Fit, mesh: &Mesh, reading: &Reading) -> Vec<String> {
    let rule = fit.rule;
    let mut words: Vec<String> = Vec::new();
    let mut place = "at the start".to_owned();
    let mut passed = HashSet::new();
    for step in &fit.path {
        let role = rule.automaton.nodes[step.node].role;
        let slot = role.slot().map(|slot| rule.slots[slot].shown());
        let inside = slot.as_ref().map(|slot| format!("in {slot}"));
        if let Some(noted) = note(step, fit, mesh, reading, inside.as_ref().unwrap_or(&place))
            && words.last() != Some(&noted)
        {
            words.push(noted);
        }
        passed.extend(role.slot().map(|slot| rule.slots[slot].place.of()));
        if let Some(slot) = slot {
            let off = format!("{slot} does not look like its kind");
            place = format!("after {slot}");
            if matches!(role, Role::OffPattern(_)) && !words.contains(&off) {
                words.push(off);
            }
        }
    }
    for slot in &rule.slots {
        let nothing = format!("nothing was read of {}", slot.shown());
        let is_missing = !passed.contains(&slot.place.of()) && !slot.place.may_be_missing;
        if is_missing && !words.contains(&nothing) {
            words.push(nothing);
        }
    }
    for slot in &fit.out_of_place {
        words.push(format!(
            "{} stands elsewhere on the strip",
            rule.slots[*slot].shown()
        ));
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
            (How::Confused(_), _) if read().is_empty() => {
                Some(format!("one line was read as two {place}"))
            }
            (How::Confused(_), _) => Some(format!("`{}` stands for `{}` {place}", read(), arc.c)),
            (How::Any, _) => Some(match node.single {
                Some(c) => format!("`{}` stands for `{c}` {place}", read()),
                None => format!("`{}` is no possible character {place}", read()),
            }),
        },
    }
}
