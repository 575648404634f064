//! A sheet by one set of rules and by another, compared; and all of them counted.

use super::truth::Truth;
use crate::job::Tried;
use crate::proposal::{Proposal, ProposedField};
use crate::rules::RuleBook;
use crate::value::SheetId;
use serde::Serialize;
use std::collections::BTreeMap;

/// A number before, and what it is now.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Pair {
    pub before: usize,
    pub now: usize,
}

/// What one set of rules makes of a sheet.
#[derive(Debug, Default)]
struct Outcome<'a> {
    rule: Option<&'a str>,
    /// Values that are not empty, by field; those of the second record under `name#2`.
    values: BTreeMap<String, &'a str>,
    /// Fields whose check character holds, and does not.
    holds: Vec<String>,
    fails: Vec<String>,
    checks_kept: usize,
    checks_broken: usize,
}

/// The name of a field of a record, counted from 0.
fn name(field: &str, record: usize) -> String {
    match record {
        0 => field.to_owned(),
        _ => format!("{field}#{}", record + 1),
    }
}

impl<'a> Outcome<'a> {
    fn new(proposal: &'a Proposal, book: &RuleBook) -> Self {
        let mut outcome = Self {
            rule: proposal.rule.as_deref(),
            ..Self::default()
        };
        let more = proposal.more.iter().map(|record| &record.fields);
        for (record, fields) in std::iter::once(&proposal.fields).chain(more).enumerate() {
            outcome.add(record, fields, book);
        }
        outcome
    }

    fn add(&mut self, record: usize, fields: &'a [ProposedField], book: &RuleBook) {
        let filled = || fields.iter().filter(|field| !field.as_typed.is_empty());
        for field in filled() {
            let name = name(&field.field, record);
            match book.check_holds(self.rule, &field.field, &field.as_typed) {
                Some(true) => self.holds.push(name.clone()),
                Some(false) => self.fails.push(name.clone()),
                None => {}
            }
            self.values.insert(name, &field.as_typed);
        }
        let value_of = |name: &str| {
            let field = filled().find(|field| field.field == name)?;
            Some(field.as_typed.as_str())
        };
        for kept in book.checks_kept(value_of).flatten() {
            match kept {
                true => self.checks_kept += 1,
                false => self.checks_broken += 1,
            }
        }
    }

    fn value(&self, field: &str) -> &'a str {
        self.values.get(field).copied().unwrap_or_default()
    }
}

/// A field whose value is another one now. Empty where there is none.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Change {
    pub field: String,
    pub before: String,
    pub now: String,
}

/// A sheet that another rule fits now, or of which a value changed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ChangedSheet {
    pub sheet: SheetId,
    pub rule_before: Option<String>,
    pub rule_now: Option<String>,
    pub fields: Vec<Change>,
}

/// A sheet that got worse, and how.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WorseSheet {
    pub sheet: SheetId,
    pub why: Vec<String>,
}

/// What was said of the sheets' true values.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Right {
    /// Sheets that were read and of which something is said.
    pub sheets: usize,
    /// Values compared, the empty ones too.
    pub values: usize,
    pub right: Pair,
    /// Sheets of which more is right now.
    pub better: Vec<SheetId>,
}

/// All sheets before and now.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Comparison {
    pub sheets: usize,
    /// Sheets that nothing had been proposed for.
    pub not_proposed_before: usize,
    /// Sheets by the rule that fits best; those of the rules now come first, in their order.
    pub rules: Vec<(String, Pair)>,
    pub fitted_by_none: Pair,
    pub fields_filled: Pair,
    pub checks_kept: Pair,
    pub checks_broken: Pair,
    pub check_characters_holding: Pair,
    pub check_characters_failing: Pair,
    pub newly_fitted: Vec<SheetId>,
    pub fitted_no_more: Vec<SheetId>,
    pub truth: Option<Right>,
    pub worse: Vec<WorseSheet>,
    pub changed: Vec<ChangedSheet>,
}

/// Compares sheet after sheet. Each side is judged by its own checks.
pub struct Comparer<'a> {
    before: &'a RuleBook,
    now: &'a RuleBook,
    truth: Option<&'a Truth>,
    pub comparison: Comparison,
}

impl<'a> Comparer<'a> {
    pub fn new(before: &'a RuleBook, now: &'a RuleBook, truth: Option<&'a Truth>) -> Self {
        let rules = now
            .rules()
            .map(|rule| (rule.to_owned(), Pair::default()))
            .collect();
        Self {
            before,
            now,
            truth,
            comparison: Comparison {
                rules,
                truth: truth.map(|_| Right::default()),
                ..Comparison::default()
            },
        }
    }

    pub fn add(&mut self, tried: &Tried) {
        let before = tried
            .before
            .as_ref()
            .map_or_else(Outcome::default, |p| Outcome::new(p, self.before));
        let now = Outcome::new(&tried.now, self.now);
        let all = &mut self.comparison;
        all.sheets += 1;
        all.not_proposed_before += usize::from(tried.before.is_none());
        all.count(&before, |pair| &mut pair.before);
        all.count(&now, |pair| &mut pair.now);
        match (before.rule, now.rule) {
            (None, Some(_)) => all.newly_fitted.push(tried.sheet.clone()),
            (Some(_), None) => all.fitted_no_more.push(tried.sheet.clone()),
            _ => {}
        }
        let why = match self.against_truth(&tried.sheet, &before, &now) {
            Some(why) => why,
            None => worse(&before, &now),
        };
        let all = &mut self.comparison;
        if !why.is_empty() {
            let sheet = tried.sheet.clone();
            all.worse.push(WorseSheet { sheet, why });
        }
        let names = before.values.keys().chain(now.values.keys());
        let names: std::collections::BTreeSet<&String> = names.collect();
        let fields: Vec<Change> = names
            .into_iter()
            .filter(|name| before.value(name) != now.value(name))
            .map(|name| Change {
                field: name.clone(),
                before: before.value(name).to_owned(),
                now: now.value(name).to_owned(),
            })
            .collect();
        if before.rule != now.rule || !fields.is_empty() {
            all.changed.push(ChangedSheet {
                sheet: tried.sheet.clone(),
                rule_before: before.rule.map(str::to_owned),
                rule_now: now.rule.map(str::to_owned),
                fields,
            });
        }
    }

    /// How the sheet got worse by its true values; `None` where none are known.
    fn against_truth(
        &mut self,
        sheet: &SheetId,
        before: &Outcome,
        now: &Outcome,
    ) -> Option<Vec<String>> {
        let values = self.truth?.of(sheet.as_str())?;
        let right = self.comparison.truth.as_mut()?;
        let (mut right_before, mut right_now) = (0, 0);
        let mut why = Vec::new();
        for (column, value) in values {
            let field = column.split('#').next().unwrap_or_default();
            let has = |book: &RuleBook| book.fields().iter().any(|spec| spec.name == field);
            if !has(self.before) && !has(self.now) {
                continue;
            }
            let is_right = |outcome: &Outcome, book: &RuleBook| {
                let typed = outcome.value(column);
                same(typed, value) || same(&book.written(field, typed), value)
            };
            let (was, is) = (is_right(before, self.before), is_right(now, self.now));
            right.values += 1;
            right_before += usize::from(was);
            right_now += usize::from(is);
            if was && !is {
                let now = now.value(column);
                why.push(format!("{column} was right, `{value}`, and is `{now}`"));
            }
        }
        right.sheets += 1;
        right.right.before += right_before;
        right.right.now += right_now;
        if right_now > right_before {
            right.better.push(sheet.clone());
        }
        // A field lost and another one won is a change for the better or the worse that only a person can judge; what
        // counts is how many are right.
        if right_now >= right_before {
            why.clear();
        }
        Some(why)
    }
}

impl Comparison {
    fn count(&mut self, outcome: &Outcome, side: impl Fn(&mut Pair) -> &mut usize) {
        match outcome.rule {
            None => *side(&mut self.fitted_by_none) += 1,
            Some(rule) => {
                let at = self.rules.iter().position(|(known, _)| known == rule);
                let at = at.unwrap_or_else(|| {
                    self.rules.push((rule.to_owned(), Pair::default()));
                    self.rules.len() - 1
                });
                *side(&mut self.rules[at].1) += 1;
            }
        }
        for (pair, count) in [
            (&mut self.fields_filled, outcome.values.len()),
            (&mut self.checks_kept, outcome.checks_kept),
            (&mut self.checks_broken, outcome.checks_broken),
            (&mut self.check_characters_holding, outcome.holds.len()),
            (&mut self.check_characters_failing, outcome.fails.len()),
        ] {
            *side(pair) += count;
        }
    }
}

/// How a sheet got worse where nobody says what is right: no rule fits any more, or a value whose check character held
/// is gone.
fn worse(before: &Outcome, now: &Outcome) -> Vec<String> {
    let mut why = Vec::new();
    if let (Some(rule), None) = (before.rule, now.rule) {
        why.push(format!("`{rule}` fitted, and no rule does now"));
    }
    for field in &before.holds {
        let (was, is) = (before.value(field), now.value(field));
        if is.is_empty() {
            why.push(format!(
                "{field} was `{was}`, whose check holds, and is empty"
            ));
        } else if now.fails.contains(field) || (!now.holds.contains(field) && was != is) {
            why.push(format!(
                "{field} was `{was}`, whose check holds, and is `{is}`"
            ));
        }
    }
    why
}

/// Equal but for case and the width of gaps.
fn same(a: &str, b: &str) -> bool {
    let words = |text: &str| text.to_uppercase();
    words(a).split_whitespace().eq(words(b).split_whitespace())
}
