//! What tells a rule that was edited from one that was not.

use super::RuleBook;
use super::automaton::Automaton;
use super::pattern::Spread;
use super::rule::Rule;
use std::collections::HashSet;
use std::hash::{DefaultHasher, Hash, Hasher};

/// Hashes of a rule: equal ones make the same of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Fingerprint {
    /// Of how well it aligns.
    pub alignment: u64,
    /// Of that, and of all that decides which values it takes and what the checks say of them.
    pub values: u64,
}

impl Fingerprint {
    pub fn new(rule: &Rule, book: &RuleBook) -> Self {
        let mut hasher = DefaultHasher::new();
        hash_automaton(&rule.automaton, &mut hasher);
        rule.when.collections.hash(&mut hasher);
        rule.when.bands.hash(&mut hasher);
        let alignment = hasher.finish();
        let mut fields: HashSet<usize> = HashSet::new();
        for slot in &rule.slots {
            fields.insert(slot.place.field);
            (
                slot.place.record,
                &slot.place.between,
                slot.place.may_be_missing,
            )
                .hash(&mut hasher);
            format!("{:?} {:?}", slot.spec, slot.on).hash(&mut hasher);
            format!("{:?}", book.fields[slot.place.field]).hash(&mut hasher);
        }
        for (field, value) in &rule.constants {
            fields.insert(*field);
            format!("{:?} {value}", book.fields[*field]).hash(&mut hasher);
        }
        for line in &rule.lines {
            (&line.slots, line.wanted).hash(&mut hasher);
        }
        format!("{:?}", rule.sheet).hash(&mut hasher);
        for check in &book.checks {
            if check.fields().iter().all(|field| fields.contains(field)) {
                check.text().hash(&mut hasher);
            }
        }
        Self {
            alignment,
            values: hasher.finish(),
        }
    }
}

fn hash_automaton(automaton: &Automaton, hasher: &mut impl Hasher) {
    for (at, node) in automaton.nodes.iter().enumerate() {
        node.set.hash(hasher);
        match node.spread {
            Spread::Known => 0u64,
            Spread::Even(each) => 1 << 32 | u64::from(each.to_bits()),
            Spread::Name => 2 << 32,
            Spread::FreeText => 3 << 32,
        }
        .hash(hasher);
        node.role.hash(hasher);
        node.lost.to_bits().hash(hasher);
        node.single.hash(hasher);
        node.few.hash(hasher);
        automaton.last[at].to_bits().hash(hasher);
        for &(target, weight) in automaton.edges(at) {
            (target, weight.to_bits()).hash(hasher);
        }
    }
}
