//! A bench for rules: what a book makes of all readings, worked out anew after an edit only where it may have changed.
//!
//! Readings are prepared once. For every rule that is known and every sheet the bench remembers how well the rule aligns
//! and what it took; so an edit costs what the edited rules cost, and taking it back costs nothing. The sheets are gone
//! through in steps, those first that the edit is likeliest to change, and figures can be asked for at any time.

mod effect;
mod few;
mod keyed;
mod taken;
#[cfg(test)]
mod tests;
mod work;

pub use effect::{Agreement, Difference, Effect, FieldDifference, Group, Pair};
pub use taken::TakenField;

use super::RuleBook;
use super::fingerprint::Fingerprint;
use super::forward::Depth;
use super::prepared::Prepared;
use super::rule::Rule;
use crate::reading::Reading;
use crate::value::SheetId;
use keyed::{Column, Keyed, MOST_COLUMNS, Mask};
use regex::Regex;
use std::collections::HashMap;
use std::sync::Arc;
use taken::{Outcome, Taken};
use work::Found;

/// Rules beside the book's own of which is remembered what they made of the sheets: what an edit can be taken back to.
/// One takes a quarter of a megabyte for 20,000 sheets, and what it took out of them.
const RULES_REMEMBERED: usize = 60;

/// A sheet as it comes to the bench.
#[derive(Debug, Clone)]
pub struct BenchSheet {
    pub sheet: SheetId,
    pub reading: Reading,
    /// Mean colour of the band behind the text, where it is not grey.
    pub band: Option<[u8; 3]>,
    /// Width of the strip in pixels, where it is known.
    pub width: Option<f64>,
    /// What was keyed, by field; those of the second record as `field#2`. Fields that could not be read are left out.
    pub keyed: Option<Vec<(String, String)>>,
}

/// A sheet with its reading made ready.
#[derive(Debug, Clone)]
struct Sheet {
    id: SheetId,
    /// The reading's best text, for those who write rules.
    text: Box<str>,
    prepared: Option<Arc<Prepared>>,
    band: Option<[u8; 3]>,
    width: Option<f64>,
    keyed: Option<Keyed>,
}

/// A rule that is or was in the book: its name, what it is told by.
#[derive(Debug, Clone)]
struct Known {
    name: Arc<str>,
    print: Fingerprint,
}

/// How far the sheets are worked out by the present book.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Progress {
    /// Sheets of which at least the best path is known.
    pub seen: usize,
    /// Sheets that are worked out in full.
    pub done: usize,
    pub of: usize,
}

impl Progress {
    pub fn is_complete(self) -> bool {
        self.done == self.of
    }
}

/// All sheets, and what the rules make of them.
#[derive(Debug, Default)]
pub struct Bench {
    sheets: Vec<Sheet>,
    columns: Vec<Column>,
    collection: String,
    book: Option<Arc<RuleBook>>,
    /// The book's rules, in its order.
    rules: Vec<Known>,
    /// For each alignment's fingerprint, the score of every sheet.
    scores: HashMap<u64, Vec<Score>>,
    /// For each fingerprint of values, what was taken from every sheet, where that was worked out.
    taken: HashMap<u64, Vec<Option<Arc<Taken>>>>,
    /// Fingerprints in use, the latest last.
    used: Vec<Fingerprint>,
    /// What the edits are compared with, and by which book.
    before: Vec<Outcome>,
    before_fields: Vec<String>,
    /// The columns of fields that the present book or the one before has.
    columns_known: Mask,
    now: Vec<Outcome>,
    /// Sheets that are still to be seen at all, and those still to be worked out in full; the next one last.
    unseen: Vec<u32>,
    seen: Vec<u32>,
}

/// The user's patterns of a rule's fields.
struct Patterns(Vec<(String, Regex)>);

impl Patterns {
    /// Whether these values look like their patterns.
    fn hold(&self, fields: &[TakenField]) -> bool {
        self.0.iter().all(|(name, pattern)| {
            let mut fields = fields.iter().filter(|field| field.field == *name);
            fields.all(|field| pattern.is_match(&field.value))
        })
    }
}

/// The patterns of the rules that are not among the earlier ones, by name.
fn edited_patterns(
    book: &RuleBook,
    rules: &[Known],
    earlier: &[Known],
) -> HashMap<Arc<str>, Patterns> {
    let patterns = |rule: &Rule| {
        let slots = rule.slots.iter().map(|slot| &slot.spec);
        let patterns = slots.filter_map(|spec| {
            let whole = format!("^(?:{})$", spec.pattern.as_ref()?);
            Some((spec.name.clone(), Regex::new(&whole).ok()?))
        });
        Patterns(patterns.collect())
    };
    let is_edited = |known: &Known| !earlier.iter().any(|other| other.print == known.print);
    let named = rules.iter().zip(&book.rules);
    named
        .filter(|(known, _)| is_edited(known))
        .map(|(known, rule)| (known.name.clone(), patterns(rule)))
        .collect()
}

/// How well a rule aligns with a sheet's reading, before its checks have a say.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Score {
    Unknown,
    /// Not as well as this, which was as much as mattered then.
    Below(f32),
    Known(f32),
}

impl Bench {
    /// Prepares the sheets, given in drawer order; `collection` is the one that the job names.
    pub fn new(collection: &str, sheets: impl IntoIterator<Item = BenchSheet>) -> Self {
        let mut bench = Self {
            collection: collection.to_owned(),
            ..Self::default()
        };
        for sheet in sheets {
            bench.push(sheet);
        }
        bench
    }

    /// One more sheet behind the others.
    pub(in crate::rules) fn push(&mut self, sheet: BenchSheet) {
        let keyed = sheet.keyed.as_ref().map(|values| self.keyed(values));
        self.sheets.push(Sheet {
            id: sheet.sheet,
            text: sheet.reading.text().into(),
            prepared: Prepared::new(&sheet.reading).map(Arc::new),
            band: sheet.band,
            width: sheet.width,
            keyed,
        });
        self.now.push(Outcome::default());
        self.before.push(Outcome::default());
    }

    /// Keyed values by column; the columns are added to where they are new.
    fn keyed(&mut self, values: &[(String, String)]) -> Keyed {
        let numbered = values.iter().filter_map(|(name, value)| {
            let column = Column::parse(name);
            let known = self.columns.iter().position(|known| *known == column);
            let at = known.or_else(|| {
                (self.columns.len() < MOST_COLUMNS).then(|| {
                    self.columns.push(column);
                    self.columns.len() - 1
                })
            })?;
            Some((at, value.as_str()))
        });
        Keyed::new(numbered.collect::<Vec<_>>())
    }

    pub fn len(&self) -> usize {
        self.sheets.len()
    }

    pub fn is_empty(&self) -> bool {
        self.sheets.is_empty()
    }

    /// The sheet at a place of the drawer.
    pub fn sheet(&self, at: usize) -> &SheetId {
        &self.sheets[at].id
    }

    /// The best text of a sheet's reading, with line breaks.
    pub fn text(&self, at: usize) -> &str {
        &self.sheets[at].text
    }

    /// Puts a book in the place of the one before. Nothing is worked out yet; what the book before had left undone is
    /// dropped.
    pub fn put(&mut self, book: Arc<RuleBook>) -> Progress {
        let rules: Vec<Known> = book
            .rules
            .iter()
            .map(|rule| Known {
                name: rule.name.as_str().into(),
                print: Fingerprint::new(rule, &book),
            })
            .collect();
        for Known { print, .. } in &rules {
            self.used.retain(|known| known != print);
            self.used.push(*print);
            let sheets = self.sheets.len();
            let scores = self.scores.entry(print.alignment);
            scores.or_insert_with(|| vec![Score::Unknown; sheets]);
            let taken = self.taken.entry(print.values);
            taken.or_insert_with(|| vec![None; sheets]);
        }
        let forgotten = self
            .used
            .len()
            .saturating_sub(rules.len() + RULES_REMEMBERED);
        for print in self.used.drain(..forgotten).collect::<Vec<_>>() {
            self.taken.remove(&print.values);
            if !self
                .used
                .iter()
                .any(|other| other.alignment == print.alignment)
            {
                self.scores.remove(&print.alignment);
            }
        }
        // First where an edited rule fitted whose patterns the values contradict, then where none does: a new or mended
        // one is meant for these. Then where an edited rule fitted, and last where others do.
        let patterns = edited_patterns(&book, &rules, &self.rules);
        let rank = |at: &u32| {
            let outcome = &self.now[*at as usize];
            let Some(rule) = &outcome.rule else {
                return 1;
            };
            if rules
                .iter()
                .any(|known| known.print.values == outcome.print)
            {
                return 3;
            }
            let holds = |patterns: &Patterns| patterns.hold(outcome.fields());
            if patterns.get(rule).is_some_and(holds) {
                2
            } else {
                0
            }
        };
        let mut order: Vec<u32> = (0..self.sheets.len() as u32).collect();
        order.sort_by_cached_key(rank);
        order.reverse();
        self.unseen = order;
        self.seen.clear();
        self.rules = rules;
        self.book = Some(book);
        self.know_columns();
        self.progress()
    }

    pub fn progress(&self) -> Progress {
        let of = self.sheets.len();
        let seen = of - self.unseen.len();
        Progress {
            seen,
            done: seen - self.seen.len(),
            of,
        }
    }

    /// Works sheets out on so many threads until all are done or `go_on` says no; it is asked between any few sheets.
    /// First all sheets are glanced at, then worked out in full.
    pub fn step(&mut self, threads: usize, go_on: &(impl Fn() -> bool + Sync)) -> Progress {
        let Some(book) = self.book.clone() else {
            return self.progress();
        };
        for depth in [Depth::Glance, Depth::Full] {
            let mut left = match depth {
                Depth::Glance => std::mem::take(&mut self.unseen),
                Depth::Full => std::mem::take(&mut self.seen),
            };
            let found = self.work_through(&left, &book, depth, threads, go_on);
            left.truncate(left.len() - found.len());
            let mut open = Vec::new();
            for found in found {
                open.extend(found.is_open.then_some(found.sheet as u32));
                self.remember(found);
            }
            match depth {
                Depth::Glance => {
                    // Those that were seen first are worked out first.
                    open.reverse();
                    self.seen.splice(0..0, open);
                    self.unseen = left;
                }
                Depth::Full => self.seen = left,
            }
            if !self.unseen.is_empty() {
                break;
            }
        }
        self.progress()
    }

    fn remember(&mut self, found: Found) {
        for (rule, score) in found.scores {
            if let Some(scores) = self.scores.get_mut(&self.rules[rule].print.alignment) {
                scores[found.sheet] = score;
            }
        }
        for (rule, taken) in found.taken {
            if let Some(known) = self.taken.get_mut(&self.rules[rule].print.values) {
                known[found.sheet] = Some(taken);
            }
        }
        self.now[found.sheet] = found.outcome;
    }

    /// Takes what the present book makes of the sheets as what further edits are compared with.
    pub fn keep(&mut self) {
        self.before = self.now.clone();
        self.before_fields = self.fields().map(str::to_owned).collect();
        self.know_columns();
    }

    fn know_columns(&mut self) {
        let mut known = Mask::default();
        for (at, column) in self.columns.iter().enumerate() {
            let has = |name: &str| name == column.field;
            if self.fields().any(has) || self.before_fields.iter().any(|name| has(name)) {
                known.set(at);
            }
        }
        self.columns_known = known;
    }

    /// The names of the present book's fields.
    fn fields(&self) -> impl Iterator<Item = &str> {
        let fields = self.book.iter().flat_map(|book| book.fields());
        fields.map(|field| field.name.as_str())
    }
}
