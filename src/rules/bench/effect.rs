//! What an edit does: all sheets counted before and now, and the sheets that somebody should look at.

use super::keyed::Mask;
use super::taken::{Outcome, Taken};
use super::{Bench, Progress, TakenField};
use crate::value::SheetId;
use serde::Serialize;
use std::collections::BTreeMap;

/// A number before the edit, and what it is now.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Pair {
    pub before: usize,
    pub now: usize,
}

/// What rules take, against what was keyed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Agreement {
    /// Sheets of which something was keyed.
    pub sheets: usize,
    /// Values compared; those that only another sheet, a table or a default can give are left out.
    pub values: usize,
    pub right: Pair,
}

/// All sheets before and now. A sheet that was not seen yet counts as it was.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Effect {
    pub sheets: usize,
    /// Sheets seen by the present book, and those worked out in full.
    pub seen: usize,
    pub done: usize,
    /// Sheets by the rule that fits best; the present rules in their order, then those that are gone.
    pub rules: Vec<(String, Pair)>,
    pub fitted_by_none: Pair,
    /// Sheets that more than one rule fits.
    pub fitted_by_several: Pair,
    pub fields_filled: Pair,
    pub checks_kept: Pair,
    pub checks_broken: Pair,
    pub check_characters_holding: Pair,
    pub check_characters_failing: Pair,
    /// `None` where nothing was keyed.
    pub keyed: Option<Agreement>,
    /// Sheets that another rule fits, or of which a value is another.
    pub changed: usize,
    pub better: usize,
    pub worse: usize,
}

/// Sheets that belong together on a supervisor's desk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Group {
    FittedByNone,
    /// More than one rule fits.
    FittedBySeveral,
    /// Changed by the edits since what they are compared with; the worse first.
    Changed,
    Worse,
    /// A check between fields or a check character fails.
    FailingACheck,
    DisagreeingWithKeyed,
}

/// A field whose value is another one now; empty where there is none.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FieldDifference {
    pub field: String,
    pub before: String,
    pub now: String,
}

/// A sheet before and now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Difference {
    pub sheet: SheetId,
    pub rule_before: Option<String>,
    pub rule_now: Option<String>,
    pub fields: Vec<FieldDifference>,
    /// Why it is worse, in words; empty where it is not.
    pub worse: Vec<String>,
}

impl Bench {
    /// Everything counted.
    pub fn effect(&self) -> Effect {
        let Progress { seen, done, .. } = self.progress();
        let names = self.rules.iter().map(|rule| rule.name.to_string());
        let mut effect = Effect {
            sheets: self.sheets.len(),
            seen,
            done,
            rules: names.map(|name| (name, Pair::default())).collect(),
            ..Effect::default()
        };
        let mut places: BTreeMap<String, usize> = BTreeMap::new();
        for (at, (name, _)) in effect.rules.iter().enumerate() {
            places.entry(name.clone()).or_insert(at);
        }
        let mut keyed = Agreement::default();
        for at in 0..self.sheets.len() {
            let (before, now) = (&self.before[at], &self.now[at]);
            effect.count(&mut places, before, |pair| &mut pair.before);
            effect.count(&mut places, now, |pair| &mut pair.now);
            let (right_before, right_now, compared) = self.right(at);
            keyed.sheets += usize::from(self.sheets[at].keyed.is_some());
            keyed.values += compared.count();
            keyed.right.before += right_before.count();
            keyed.right.now += right_now.count();
            if !before.same(now) {
                effect.changed += 1;
                effect.better += usize::from(right_now.count() > right_before.count());
                effect.worse += usize::from(self.is_worse(at));
            }
        }
        effect.keyed = (keyed.sheets > 0).then_some(keyed);
        effect
    }

    /// The sheets of a group: their places in the drawer, ascending; of changed ones, the worse first.
    pub fn group(&self, group: Group) -> Vec<usize> {
        let changed = |at: usize| !self.before[at].same(&self.now[at]);
        let belongs = |&at: &usize| {
            let now = &self.now[at];
            match group {
                Group::FittedByNone => now.rule.is_none(),
                Group::FittedBySeveral => now.fitting > 1,
                Group::Changed => changed(at),
                Group::Worse => changed(at) && self.is_worse(at),
                Group::FailingACheck => now
                    .taken
                    .as_ref()
                    .is_some_and(|t| t.checks_broken > 0 || t.check_characters(false) > 0),
                Group::DisagreeingWithKeyed => {
                    let (_, right, compared) = self.right(at);
                    right.count() < compared.count()
                }
            }
        };
        let mut sheets: Vec<usize> = (0..self.sheets.len()).filter(belongs).collect();
        if group == Group::Changed {
            sheets.sort_by_key(|&at| !self.is_worse(at));
        }
        sheets
    }

    /// The rule that fits a sheet best now, and what it takes; `None` where none fits.
    pub fn fit(&self, at: usize) -> Option<(&str, &[TakenField])> {
        let outcome = &self.now[at];
        Some((outcome.rule.as_deref()?, outcome.fields()))
    }

    /// A sheet before and now.
    pub fn difference(&self, at: usize) -> Difference {
        let (before, now) = (&self.before[at], &self.now[at]);
        let (was, is) = (values(before), values(now));
        let value = |values: &BTreeMap<String, &str>, name: &str| {
            values.get(name).copied().unwrap_or_default().to_owned()
        };
        let mut names: Vec<&String> = was.keys().chain(is.keys()).collect();
        names.sort();
        names.dedup();
        let fields = names
            .into_iter()
            .filter(|name| was.get(*name) != is.get(*name));
        Difference {
            sheet: self.sheets[at].id.clone(),
            rule_before: before.rule.as_deref().map(str::to_owned),
            rule_now: now.rule.as_deref().map(str::to_owned),
            fields: fields
                .map(|name| FieldDifference {
                    field: name.clone(),
                    before: value(&was, name),
                    now: value(&is, name),
                })
                .collect(),
            worse: self.why_worse(at),
        }
    }

    /// The values of a sheet that are not as keyed: field, what was keyed, what the rules take.
    pub fn unlike_keyed(&self, at: usize) -> Vec<(String, String, String)> {
        let Some(keyed) = &self.sheets[at].keyed else {
            return Vec::new();
        };
        let (_, right, compared) = self.right(at);
        let is = values(&self.now[at]);
        let wrong = compared.without(right).columns();
        wrong
            .map(|column| {
                let name = name(&self.columns[column].field, self.columns[column].record);
                let value = keyed.value(column).unwrap_or_default().to_owned();
                let now = is.get(&name).copied().unwrap_or_default().to_owned();
                (name, value, now)
            })
            .collect()
    }

    /// Sheets of which a keyed value was right before and is not now.
    pub fn newly_unlike_keyed(&self) -> Vec<usize> {
        let is_spoiled = |&at: &usize| {
            let (before, now, _) = self.right(at);
            before.without(now).count() > 0
        };
        (0..self.sheets.len()).filter(is_spoiled).collect()
    }

    /// The columns of a sheet that were right before, that are now, and those that are compared: those of which a value
    /// was keyed, of fields that the present book or the one before has, and that the strip decides.
    pub(super) fn right(&self, at: usize) -> (Mask, Mask, Mask) {
        let Some(keyed) = &self.sheets[at].keyed else {
            return <_>::default();
        };
        let (before, now) = (self.before[at].taken.as_ref(), self.now[at].taken.as_ref());
        let mut compared = keyed.known.and(self.columns_known);
        for taken in [before, now].into_iter().flatten() {
            compared = compared.without(taken.open);
        }
        let right = |taken: Option<&std::sync::Arc<Taken>>| {
            taken.map_or(keyed.empty, |taken| taken.right).and(compared)
        };
        (right(before), right(now), compared)
    }

    /// Whether fewer of a sheet's keyed values are right; where nothing was keyed, whether no rule fits any more or a
    /// value is gone whose check character held.
    fn is_worse(&self, at: usize) -> bool {
        match &self.sheets[at].keyed {
            Some(_) => {
                let (before, now, _) = self.right(at);
                now.count() < before.count()
            }
            None => !self.why_worse(at).is_empty(),
        }
    }

    fn why_worse(&self, at: usize) -> Vec<String> {
        let (before, now) = (&self.before[at], &self.now[at]);
        let is = values(now);
        let mut why = Vec::new();
        if let Some(keyed) = &self.sheets[at].keyed {
            let (was_right, is_right, _) = self.right(at);
            if is_right.count() >= was_right.count() {
                return why;
            }
            for column in was_right.without(is_right).columns() {
                let name = name(&self.columns[column].field, self.columns[column].record);
                let value = keyed.value(column).unwrap_or_default();
                let now = is.get(&name).copied().unwrap_or_default();
                why.push(format!("{name} was right, `{value}`, and is `{now}`"));
            }
            return why;
        }
        if let (Some(rule), None) = (&before.rule, &now.rule) {
            why.push(format!("`{rule}` fitted, and no rule does now"));
        }
        let holding = before.fields().iter();
        for field in holding.filter(|field| field.check_holds == Some(true)) {
            let name = name(&field.field, field.record);
            let mut others = now.fields().iter();
            let other = others.find(|o| o.field == field.field && o.record == field.record);
            let was = &field.value;
            match other {
                None => why.push(format!(
                    "{name} was `{was}`, whose check holds, and is empty"
                )),
                Some(other)
                    if other.check_holds == Some(false)
                        || (other.check_holds.is_none() && other.value != *was) =>
                {
                    let is = &other.value;
                    why.push(format!(
                        "{name} was `{was}`, whose check holds, and is `{is}`"
                    ));
                }
                Some(_) => {}
            }
        }
        why
    }
}

impl Effect {
    fn count(
        &mut self,
        places: &mut BTreeMap<String, usize>,
        outcome: &Outcome,
        side: impl Fn(&mut Pair) -> &mut usize,
    ) {
        *side(&mut self.fitted_by_several) += usize::from(outcome.fitting > 1);
        let (Some(rule), Some(taken)) = (&outcome.rule, &outcome.taken) else {
            *side(&mut self.fitted_by_none) += 1;
            return;
        };
        let at = match places.get(&**rule) {
            Some(at) => *at,
            None => {
                self.rules.push((rule.to_string(), Pair::default()));
                places.insert(rule.to_string(), self.rules.len() - 1);
                self.rules.len() - 1
            }
        };
        *side(&mut self.rules[at].1) += 1;
        *side(&mut self.fields_filled) += taken.fields.len();
        *side(&mut self.checks_kept) += taken.checks_kept;
        *side(&mut self.checks_broken) += taken.checks_broken;
        *side(&mut self.check_characters_holding) += taken.check_characters(true);
        *side(&mut self.check_characters_failing) += taken.check_characters(false);
    }
}

/// The name of a field of a record, counted from 0.
pub(super) fn name(field: &str, record: usize) -> String {
    match record {
        0 => field.to_owned(),
        _ => format!("{field}#{}", record + 1),
    }
}

fn values(outcome: &Outcome) -> BTreeMap<String, &str> {
    let fields = outcome.fields().iter();
    fields
        .map(|field| (name(&field.field, field.record), field.value.as_str()))
        .collect()
}
