//! The values on the best path alone: what a rule takes at first sight, in a tenth of the time that all ways take.

use super::align::{Move, Step};
use super::automaton::{Automaton, Role};
use super::candidates::{Values, Weighed, check_ratio, tidy};
use super::mesh::{How, Mesh};
use super::slot::Slot;
use std::hash::{DefaultHasher, Hash, Hasher};

/// What the best path leaves for other values; so much is right that nothing needs to be weighed against it.
const OTHER: f64 = 0.01;

/// One entry for each slot; empty where the path reads nothing of it.
pub(super) fn values(
    path: &[Step],
    slots: &[Slot],
    automaton: &Automaton,
    mesh: &Mesh,
) -> Vec<Values> {
    let mut texts = vec![String::new(); slots.len()];
    let mut stretches: Vec<Option<(usize, usize)>> = vec![None; slots.len()];
    for step in path {
        let node = &automaton.nodes[step.node];
        let (Role::Slot(slot) | Role::OffPattern(slot)) = node.role else {
            continue;
        };
        let guess = node.guesses().first().copied();
        let taken = match step.made {
            Move::Take(arc) if arc.how == How::Any => guess,
            Move::Take(arc) => Some(arc.c),
            Move::PutBack => guess,
            Move::Skip(_) => None,
        };
        texts[slot].extend(taken);
        let stretch = stretches[slot].get_or_insert((step.from, step.to));
        stretch.1 = step.to;
    }
    let each = slots.iter().zip(texts).zip(stretches);
    each.map(|((slot, text), stretch)| {
        let Some((start, end)) = stretch.filter(|_| !text.is_empty()) else {
            return Values::default();
        };
        let value = tidy(&text, &slot.spec);
        let scheme = slot.spec.check.as_ref();
        let check_holds = scheme.map(|scheme| scheme.holds(&value));
        let gain = scheme.map(|scheme| check_ratio(scheme, check_holds == Some(true)).ln());
        Values {
            check_gain: gain.unwrap_or(0.0),
            values: vec![Weighed {
                value,
                weight: 1.0 - OTHER,
                start: mesh.spots[start],
                end: mesh.spots[end],
                check_holds,
                doubt: None,
            }],
        }
    })
    .collect()
}

/// Equal for equal values.
pub(super) fn hash(values: &[Values]) -> u64 {
    let mut hasher = DefaultHasher::new();
    for values in values {
        let value = values.values.first();
        value.map(|value| value.value.as_str()).hash(&mut hasher);
    }
    hasher.finish()
}
