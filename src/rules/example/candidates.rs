//! Rules to choose from: the example's draft varied, each variation compiled and fitted to other readings.

use super::draft::{Draft, Field, Part, add};
use super::evidence::Evidence;
use super::guess::guesses;
use super::{Example, layout, shape};
use crate::reading::{Line, Reading};
use crate::rules::kind::{FieldKind, Styles};
use crate::rules::{Bench, BenchSheet, Faults, RuleBook};
use crate::value::SheetId;
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
        "no rule that was tried takes the marked pieces from this strip: {0}; mark more of it, or choose other kinds"
    )]
    NoneFits(String),
}

/// Candidates handed on at most.
const MOST: usize = 5;
/// Kinds tried for a field at most.
const KINDS: usize = 3;
/// How much better a variation must explain the readings to be kept, in natural log: e^3 times, twenty times; less may be
/// chance, and what is longer must be worth reading.
const WORTH: f64 = 3.0;
/// How sure a reader is of its characters when the example's text is all there is.
const GIVEN_TEXT: f64 = 0.97;

/// Rules that take the marked pieces from the example, those first that explain the readings best that no rule fits. The
/// bench's rules should be those of the files, worked out; the work is bounded however many readings there are.
///
/// # Errors
/// See [`ExampleError`].
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
    let plain = layout::draft(example, book.fields(), &names, files.styles);
    search.climb(plain);
    search.finish(files, bench, &evidence)
}

impl RuleFiles<'_> {
    /// The fields and checks of the files; they may be without rules yet.
    fn book(&self) -> Result<RuleBook, Faults> {
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
    fn with(&self, fragment: &str) -> Result<RuleBook, Faults> {
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

/// What a draft makes of the readings like the example.
#[derive(Debug, Clone, Default)]
struct Trial {
    fits: usize,
    score: f64,
    /// By field of the draft: the values that it takes.
    values: Vec<Vec<String>>,
    /// What it takes from the example, where it fits it as it was marked.
    takes: Option<Vec<(String, String)>>,
}

/// Drafts tried, on the readings like the example and on the example itself.
struct Search<'a> {
    example: &'a Example,
    book: &'a RuleBook,
    styles: &'a Styles,
    /// The example comes last.
    bench: Bench,
    tried: Vec<(Draft, Trial)>,
    considered: Vec<String>,
}

impl<'a> Search<'a> {
    fn new(
        example: &'a Example,
        book: &'a RuleBook,
        styles: &'a Styles,
        bench: &Bench,
        evidence: &Evidence,
    ) -> Self {
        let mut alike = bench.few_bare(&evidence.alike);
        alike.push(BenchSheet {
            sheet: SheetId::new("example"),
            reading: Reading {
                lines: example
                    .lines()
                    .map(|line| Line::certain(&line, GIVEN_TEXT))
                    .collect(),
            },
            band: None,
            width: None,
            keyed: None,
        });
        Self {
            example,
            book,
            styles,
            bench: alike,
            tried: Vec::new(),
            considered: Vec::new(),
        }
    }

    /// Tries a draft; the index of what came of it.
    fn attempt(&mut self, draft: Draft) -> usize {
        if let Some(known) = self.tried.iter().position(|(tried, _)| *tried == draft) {
            return known;
        }
        let trial = self.trial(&draft);
        self.tried.push((draft, trial));
        self.tried.len() - 1
    }

    fn trial(&mut self, draft: &Draft) -> Trial {
        let mut trial = Trial {
            values: vec![Vec::new(); draft.fields.len()],
            ..Trial::default()
        };
        let fragment = draft.fragment();
        let Ok(book) = self.book.beside(("candidate", &fragment), self.styles) else {
            return trial;
        };
        self.bench.put(Arc::new(book));
        self.bench.step(1, &|| true);
        for at in 0..self.bench.len() {
            let (Some((_, taken)), Some(weighed)) = (self.bench.fit(at), self.bench.weighed(at))
            else {
                continue;
            };
            let is_example = at + 1 == self.bench.len();
            trial.fits += usize::from(!is_example);
            trial.score += weighed.score;
            for (place, field) in draft.fields.iter().enumerate() {
                let of = |taken: &&_| is_of(field, taken);
                if let Some(taken) = taken.iter().find(of) {
                    trial.values[place].push(taken.value.clone());
                }
            }
            if is_example {
                trial.takes = as_marked(self.example, draft, taken);
            }
        }
        trial
    }

    /// Varies the draft step by step, and keeps what explains the readings better.
    fn climb(&mut self, plain: Draft) {
        let mut best = self.attempt(plain);
        best = self.with_kinds(best);
        best = self.with_values(best);
        self.with_optional(best);
    }

    /// Tries a variation; the better of both.
    fn vary(&mut self, best: usize, draft: Draft, what: &str) -> usize {
        let other = self.attempt(draft);
        let (was, is) = (&self.tried[best].1, &self.tried[other].1);
        if best == other {
            return best;
        }
        let is_better = is.takes.is_some() >= was.takes.is_some()
            && (is.score > was.score + WORTH || is.takes.is_some() > was.takes.is_some());
        let of = self.bench.len() - 1;
        let told = format!(
            "{what}: fits {} of {of} strips like this one instead of {}, and explains them {} by {:.0}",
            is.fits,
            was.fits,
            if is.score >= was.score {
                "better"
            } else {
                "worse"
            },
            (is.score - was.score).abs(),
        );
        self.considered.push(match is_better {
            true => format!("kept {told}"),
            false => format!("left {told}"),
        });
        if is_better { other } else { best }
    }

    /// Tries the other kinds that new fields may be of.
    fn with_kinds(&mut self, mut best: usize) -> usize {
        for place in 0..self.example.marks().len() {
            let mark = &self.example.marks()[place];
            let field = &self.tried[best].0.fields[place];
            if field.is_known || mark.kind.is_some() {
                continue;
            }
            let piece = self.example.text(mark);
            let (name, before) = (field.slot(), field.kind);
            let guesses = guesses(&piece, &mark.field, self.styles);
            for guess in guesses
                .into_iter()
                .take(KINDS)
                .filter(|guess| guess.kind != before)
            {
                let mut draft = self.tried[best].0.clone();
                let own = Field::new(
                    &draft.fields[place].name,
                    draft.fields[place].record,
                    guess.kind,
                );
                draft.fields[place] = layout::of_kind(own, &[piece.clone()]);
                let what = format!("{name} as {}", guess.kind.name());
                best = self.vary(best, draft, &what);
            }
        }
        best
    }

    /// Learns from the values that were taken: patterns and check characters of codes, words of choices.
    fn with_values(&mut self, mut best: usize) -> usize {
        for place in 0..self.tried[best].0.fields.len() {
            let (draft, trial) = &self.tried[best];
            let field = &draft.fields[place];
            let mut values = trial.values[place].clone();
            values.sort();
            values.dedup();
            let mut other = field.clone();
            let mut what = Vec::new();
            if field.kind == FieldKind::Code && !field.is_known {
                other.pattern = shape::pattern(&values).or(other.pattern);
                if other.pattern != field.pattern {
                    let pattern = other.pattern.as_deref().unwrap_or_default();
                    what.push(format!("pattern {pattern} from {} values", values.len()));
                }
                if let Some((check, holding)) = shape::check(&values) {
                    other.check = Some(check);
                    what.push(format!(
                        "check {check}, which holds on {holding} of {} values",
                        values.len()
                    ));
                }
            }
            if what.is_empty() {
                continue;
            }
            let what = format!("{} with {}", field.slot(), what.join(" and "));
            let mut draft = draft.clone();
            draft.fields[place] = other;
            best = self.vary(best, draft, &what);
        }
        best
    }

    /// Tries what may be missing: the end of each line from every slot on.
    fn with_optional(&mut self, mut best: usize) -> usize {
        for line in 0..self.tried[best].0.lines.len() {
            let parts = self.tried[best].0.lines[line].clone();
            for from in (1..parts.len())
                .rev()
                .filter(|&from| parts[from] == Part::Blank)
            {
                let has_slot =
                    |parts: &[Part]| parts.iter().any(|part| matches!(part, Part::Slot(_)));
                if !has_slot(&parts[from..]) || !has_slot(&parts[..from]) {
                    continue;
                }
                let mut draft = self.tried[best].0.clone();
                if draft.lines[line] != parts {
                    break;
                }
                let end = draft.lines[line].split_off(from);
                draft.lines[line].push(Part::Optional(end));
                let what = format!(
                    "the end of line {} from part {} on as optional",
                    line + 1,
                    from + 1
                );
                best = self.vary(best, draft, &what);
            }
        }
        best
    }

    /// The best drafts that take from the example what was marked, counted with all rules on a fair sample.
    fn finish(
        self,
        files: &RuleFiles,
        bench: &Bench,
        evidence: &Evidence,
    ) -> Result<Vec<Candidate>, ExampleError> {
        let mut good: Vec<&(Draft, Trial)> = self
            .tried
            .iter()
            .filter(|(_, trial)| trial.takes.is_some())
            .collect();
        good.sort_by(|a, b| b.1.score.total_cmp(&a.1.score));
        let mut sheets = evidence.counted.clone();
        sheets.extend(&evidence.fitted);
        let mut counted = bench.few(&sheets);
        let mut candidates = Vec::new();
        for (draft, trial) in good {
            let fragment = draft.fragment();
            let Ok(book) = files.with(&fragment) else {
                continue;
            };
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
                considered: self.considered.clone(),
            };
            for at in 0..counted.len() {
                candidate.count(&counted, at);
            }
            candidates.push(candidate);
            if candidates.len() == MOST {
                break;
            }
        }
        if candidates.is_empty() {
            let all = self.considered.join("; ");
            return Err(ExampleError::NoneFits(all));
        }
        candidates.sort_by(|a, b| b.score.total_cmp(&a.score));
        Ok(candidates)
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

fn is_of(field: &Field, taken: &crate::rules::TakenField) -> bool {
    taken.field == field.name && taken.record == field.record
}

/// What a draft took from the example, if that is what was marked; misread characters may have been put right.
fn as_marked(
    example: &Example,
    draft: &Draft,
    taken: &[crate::rules::TakenField],
) -> Option<Vec<(String, String)>> {
    let marked = example.marks().iter().zip(&draft.fields);
    let values: Option<Vec<_>> = marked
        .map(|(mark, field)| {
            let taken = taken.iter().find(|taken| is_of(field, taken))?;
            let is_same = alike(&taken.value, &example.text(mark));
            is_same.then(|| (mark.field.clone(), taken.value.clone()))
        })
        .collect();
    values
}

/// Whether two texts are the same but for case, gaps and characters that are taken for each other.
fn alike(a: &str, b: &str) -> bool {
    let form = |text: &str| -> String {
        let visible = text.chars().filter(|c| !c.is_whitespace());
        visible.flat_map(char::to_uppercase).map(family).collect()
    };
    form(a) == form(b)
}

/// One of the characters that a character is most often taken for.
fn family(c: char) -> char {
    match c {
        'O' | 'Q' | 'D' => '0',
        'I' | 'L' | '|' | '!' => '1',
        'Z' => '2',
        'S' => '5',
        'G' => '6',
        'B' => '8',
        '–' | '—' | '~' | '=' => '-',
        ',' | ':' | ';' => '.',
        c => c,
    }
}
