//! Rules to choose from: what the search found, counted with all rules on a fair sample of the readings.

use super::draft::{Draft, add};
use super::evidence::Evidence;
use super::search::{Search, Trial, work};
use super::{Example, layout};
use crate::rules::kind::Styles;
use crate::rules::{Bench, Faults, RuleBook};
use serde::Serialize;
use std::sync::Arc;
use thiserror::Error;

/// The rule files as they stand, and the one that a rule would be added to.
#[derive(Debug, Clone, Copy)]
pub struct RuleFiles<'a> {
    /// (name, text)
    pub files: &'a [(&'a str, &'a str)],
    /// Index of the file that gets the new rule.
    pub edited: usize,
    pub styles: &'a Styles,
}

/// A rule to choose.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Candidate {
    /// The rule's name.
    pub name: String,
    /// What is added to the rule file: `[[field]]`s that are new and a `[[rule]]`.
    pub fragment: String,
    /// Of the readings counted that no rule fits so far, those that this one fits.
    pub fits: usize,
    /// Readings counted: all that no rule fits, or a sample of them.
    pub of: usize,
    /// All readings that no rule fits.
    pub unfitted: usize,
    /// Of the readings counted that other rules fit, those that this rule would take from them.
    pub takes_over: usize,
    pub fitted_counted: usize,
    /// Check characters on the readings counted that hold, and that fail.
    pub checks_holding: usize,
    pub checks_failing: usize,
    /// Keyed values on the readings counted that it takes, and those compared.
    pub keyed_right: usize,
    pub keyed: usize,
    /// Natural log of how much better than free text it explains the readings counted; candidates are in order by it.
    pub score: f64,
    /// What it takes from the example: field and value.
    pub takes: Vec<(String, String)>,
    /// What was considered, in words: one sentence each.
    pub considered: Vec<String>,
}

/// Why there is no rule to choose.
#[derive(Debug, Error)]
pub enum ExampleError {
    #[error("nothing is marked; mark at least one piece of the strip as the value of a field")]
    NothingMarked,
    #[error("the rule files are at fault; mend them first:\n{0}")]
    Rules(#[from] Faults),
    #[error(
        "no rule that was tried takes the marked pieces from this strip: {0}; mark more of it, choose other kinds, or take \
         another strip of the same layout"
    )]
    NoneFits(String),
}

/// Candidates handed on at most.
const MOST: usize = 4;
/// Work after which no more of them are counted; see [`work`].
const ENOUGH_COUNTED: usize = 150_000_000;

/// Rules that take the marked pieces from the example, those first that explain the readings best that no rule fits. The
/// bench's rules should be those of the files, worked out; the work is bounded however many readings there are.
///
/// # Errors
/// See [`ExampleError`]; what comes without one is never empty.
pub fn candidates(
    example: &Example,
    files: &RuleFiles,
    bench: &Bench,
) -> Result<Vec<Candidate>, ExampleError> {
    if example.marks().is_empty() {
        return Err(ExampleError::NothingMarked);
    }
    let book = files.book()?;
    let evidence = Evidence::gather(example, bench);
    let mut search = Search::new(example, &book, files.styles, bench, &evidence);
    let names: Vec<&str> = book.rules().collect();
    search.climb(layout::draft(example, book.fields(), &names, files.styles));
    let (found, considered) = search.found(MOST);
    if found.is_empty() {
        return Err(ExampleError::NoneFits(search.why_none()));
    }
    let mut sheets = evidence.counted.clone();
    sheets.extend(&evidence.fitted);
    let mut counted = bench.few(&sheets);
    let mut done = 0;
    let of_draft = |(draft, trial): &(Draft, Trial)| {
        if done > ENOUGH_COUNTED {
            return None;
        }
        let fragment = draft.fragment();
        let book = files.with(&fragment).ok()?;
        done += work(&book, &draft.name, &counted);
        counted.put(Arc::new(book));
        counted.step(1, &|| true);
        let mut candidate = Candidate {
            name: draft.name.clone(),
            fragment,
            fits: 0,
            of: evidence.counted.len(),
            unfitted: evidence.unfitted,
            takes_over: 0,
            fitted_counted: evidence.fitted.len(),
            checks_holding: 0,
            checks_failing: 0,
            keyed_right: 0,
            keyed: 0,
            score: 0.0,
            takes: trial.takes.clone().unwrap_or_default(),
            considered: considered.clone(),
        };
        for at in 0..counted.len() {
            candidate.count(&counted, at);
        }
        Some(candidate)
    };
    let mut candidates: Vec<Candidate> = found.iter().filter_map(of_draft).collect();
    if candidates.is_empty() {
        // The file cannot be added to as it is written.
        files.with(&found[0].0.fragment())?;
    }
    candidates.sort_by(|a, b| b.score.total_cmp(&a.score));
    if let Some((first, others)) = candidates.split_first_mut() {
        for other in others {
            other.considered.push(format!(
                "not the first: it fits {} of {} where the first one fits {}, and explains them worse by {:.0}",
                other.fits,
                other.of,
                first.fits,
                first.score - other.score
            ));
        }
    }
    Ok(candidates)
}

impl RuleFiles<'_> {
    /// The fields and checks of the files; they may be without rules yet.
    pub(super) fn book(&self) -> Result<RuleBook, Faults> {
        RuleBook::parse_all(self.files, self.styles).or_else(|faults| {
            let mut name = String::from("none");
            while self.files.iter().any(|(_, text)| text.contains(&name)) {
                name.push('-');
            }
            let none = format!("[[rule]]\nname = \"{name}\"\nsheet = \"blank\"\nline = \"-\"\n");
            let mut files = self.files.to_vec();
            files.push(("", &none));
            RuleBook::parse_all(&files, self.styles).map_err(|_| faults)
        })
    }

    /// The book with a fragment added.
    pub(super) fn with(&self, fragment: &str) -> Result<RuleBook, Faults> {
        let edited = self.files.get(self.edited);
        let text = add(edited.map_or("", |(_, text)| text), fragment);
        let mut files = self.files.to_vec();
        match files.get_mut(self.edited) {
            Some(file) => file.1 = &text,
            None => files.push(("rules.toml", &text)),
        }
        RuleBook::parse_all(&files, self.styles)
    }
}

impl Candidate {
    fn count(&mut self, bench: &Bench, at: usize) {
        let (Some((rule, taken)), Some(weighed)) = (bench.fit(at), bench.weighed(at)) else {
            return;
        };
        if rule != self.name {
            return;
        }
        if at >= self.of {
            self.takes_over += 1;
            return;
        }
        self.fits += 1;
        self.score += weighed.score;
        self.keyed += weighed.compared;
        self.keyed_right += weighed.right;
        for field in taken {
            self.checks_holding += usize::from(field.check_holds == Some(true));
            self.checks_failing += usize::from(field.check_holds == Some(false));
        }
    }
}
