//! What one rule takes out of one reading, and what a sheet's rules come to, in as little memory as figures need.

use super::keyed::{Column, Keyed, Mask};
use crate::rules::extract::{Fit, LEAST_PROBABILITY, probabilities};
use crate::rules::forward::{Depth, Profile};
use crate::rules::kind::FieldSpec;
use crate::rules::rule::Rule;
use crate::rules::slot::Slot;
use crate::rules::{ANY_RULE, RuleBook, Source, looks};
use std::sync::Arc;

/// A field's best value.
#[derive(Debug, Clone, PartialEq)]
pub struct TakenField {
    pub field: String,
    /// Which record of the strip it belongs to, from 0.
    pub record: usize,
    pub source: Source,
    pub value: String,
    /// The check character, where the field has one: holds or not.
    pub check_holds: Option<bool>,
}

/// What a rule takes out of a reading.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Taken {
    pub score: f64,
    another_layout: f64,
    holds: bool,
    pub fields: Vec<TakenField>,
    pub checks_kept: usize,
    pub checks_broken: usize,
    /// The columns of which the keyed value was taken.
    pub right: Mask,
    /// The columns of which something else decides than the strip: another sheet, a table, a default.
    pub open: Mask,
    /// Hash of the values on the best path.
    pub glance: u64,
    pub depth: Depth,
    /// How the rule aligned from place to place, for others to be compared with.
    pub profile: Option<Arc<Profile>>,
}

impl Taken {
    pub fn new(
        fit: &Fit,
        depth: Depth,
        book: &RuleBook,
        columns: &[Column],
        keyed: Option<&Keyed>,
    ) -> Self {
        let mut fields: Vec<TakenField> = Vec::new();
        for (slot, values) in fit.taken() {
            let best = &values.values[0];
            let is_ditto = slot.spec.ditto && looks::is_ditto(&best.value);
            fields.push(TakenField {
                field: slot.spec.name.clone(),
                record: slot.place.record,
                source: match is_ditto {
                    true => Source::Ditto,
                    false => Source::Strip,
                },
                value: best.value.clone(),
                check_holds: best.check_holds,
            });
        }
        for (field, value) in &fit.rule.constants {
            fields.push(TakenField {
                field: book.fields[*field].name.clone(),
                record: 0,
                source: Source::Constant,
                value: value.clone(),
                check_holds: None,
            });
        }
        let mut taken = Self {
            score: fit.score,
            another_layout: fit.another_layout(),
            holds: fit.holds(),
            fields,
            checks_kept: 0,
            checks_broken: 0,
            right: Mask::default(),
            open: Mask::default(),
            glance: fit.glance,
            depth,
            profile: None,
        };
        taken.judge(book, columns, keyed);
        taken
    }

    /// The same at first sight, where the best path takes what it took when `known` was worked out: the values are
    /// those then.
    pub fn like_known(
        mut self,
        known: &Self,
        rule: &Rule,
        book: &RuleBook,
        columns: &[Column],
        keyed: Option<&Keyed>,
    ) -> Self {
        self.fields.clone_from(&known.fields);
        for field in &mut self.fields {
            let is_own = |slot: &&Slot| slot.spec.name == field.field;
            let spec = rule.slots.iter().find(is_own).map(|slot| &slot.spec);
            let scheme = spec.and_then(|spec| spec.check.as_ref());
            field.check_holds = scheme.map(|scheme| scheme.holds(&field.value));
        }
        self.judge(book, columns, keyed);
        self
    }

    /// What the checks say of the values, and what was keyed.
    fn judge(&mut self, book: &RuleBook, columns: &[Column], keyed: Option<&Keyed>) {
        (self.checks_kept, self.checks_broken) = (0, 0);
        for record in 0..self.records() {
            let value_of = |name: &str| self.field(name, record).map(|field| field.value.as_str());
            let kept: Vec<bool> = book.checks_kept(value_of).flatten().collect();
            self.checks_kept += kept.iter().filter(|kept| **kept).count();
            self.checks_broken += kept.iter().filter(|kept| !**kept).count();
        }
        (self.right, self.open) = <_>::default();
        if let Some(keyed) = keyed {
            self.compare(book, columns, keyed);
        }
    }

    /// How many records the rule found on the strip.
    fn records(&self) -> usize {
        let last = self.fields.iter().map(|field| field.record).max();
        last.unwrap_or(0) + 1
    }

    /// A field of a record: its own, or that of the first record where it has none itself.
    pub fn field(&self, name: &str, record: usize) -> Option<&TakenField> {
        if record >= self.records() {
            return None;
        }
        let of = |record| {
            let mut fields = self.fields.iter();
            fields.find(|field| field.record == record && field.field == name)
        };
        of(record).or_else(|| of(0))
    }

    /// Compares with what was keyed.
    fn compare(&mut self, book: &RuleBook, columns: &[Column], keyed: &Keyed) {
        for (at, column) in columns.iter().enumerate() {
            if keyed.value(at).is_none() {
                continue;
            }
            let taken = self.field(&column.field, column.record);
            let text = taken.map_or("", |taken| taken.value.as_str());
            let is_ditto = taken.is_some_and(|taken| taken.source == Source::Ditto);
            let comes_later = |spec: &&FieldSpec| {
                spec.carry.is_some() || spec.look_up.is_some() || spec.default.is_some()
            };
            let mut specs = book.fields.iter();
            let spec = specs.find(|spec| spec.name == column.field);
            if is_ditto || (text.is_empty() && spec.filter(comes_later).is_some()) {
                self.open.set(at);
            } else if keyed.is(at, text) || keyed.is(at, &book.written(&column.field, text)) {
                self.right.set(at);
            }
        }
    }

    /// How many fields have a check character that holds, or does not.
    pub fn check_characters(&self, holding: bool) -> usize {
        let fields = self.fields.iter();
        fields
            .filter(|field| field.check_holds == Some(holding))
            .count()
    }
}

/// What the rules make of a sheet: the most probable one, if any is more probable than none of them.
#[derive(Debug, Clone, Default)]
pub(super) struct Outcome {
    pub rule: Option<Arc<str>>,
    pub taken: Option<Arc<Taken>>,
    /// The fingerprint of the rule's values.
    pub print: u64,
    /// How many rules fit.
    pub fitting: usize,
}

/// What a rule took, with the rule's name and the fingerprint of its values.
pub(super) struct Applied {
    pub rule: Arc<str>,
    pub print: u64,
    pub taken: Arc<Taken>,
}

impl Outcome {
    /// Weighs what rules took. `rules`: how many the book has.
    pub fn new(rules: usize, mut applied: Vec<Applied>) -> Self {
        applied.sort_by(|a, b| b.taken.score.total_cmp(&a.taken.score));
        let taken = applied.iter().map(|applied| &applied.taken);
        let weighed: Vec<(f64, f64)> = taken.map(|t| (t.score, t.another_layout)).collect();
        let probabilities = probabilities(rules, &weighed);
        let mut of_rules = 0.0;
        let mut best: Option<&Applied> = None;
        let mut fitting = 0;
        for (applied, probability) in applied.iter().zip(probabilities) {
            if applied.taken.holds && probability >= LEAST_PROBABILITY {
                of_rules += probability;
                best = best.or(Some(applied));
                fitting += 1;
            }
        }
        let best = best.filter(|_| of_rules >= ANY_RULE);
        Self {
            rule: best.map(|best| best.rule.clone()),
            taken: best.map(|best| best.taken.clone()),
            print: best.map_or(0, |best| best.print),
            fitting,
        }
    }

    pub fn fields(&self) -> &[TakenField] {
        self.taken.as_ref().map_or(&[], |taken| &taken.fields)
    }

    /// Whether both took the same by rules of the same name.
    pub fn same(&self, other: &Self) -> bool {
        let same_taken = match (&self.taken, &other.taken) {
            (Some(a), Some(b)) => Arc::ptr_eq(a, b) || a.fields == b.fields,
            (None, None) => true,
            _ => false,
        };
        same_taken && self.rule == other.rule
    }
}
