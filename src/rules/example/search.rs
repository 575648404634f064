//! Drafts tried on the readings that look like the example, and on the example itself.

use super::Example;
use super::draft::{Draft, Field, Part};
use super::evidence::Evidence;
use super::find::reads_as;
use crate::reading::{Line, Reading};
use crate::rules::kind::Styles;
use crate::rules::{Around, Bench, BenchSheet, RuleBook, TakenField};
use crate::value::SheetId;
use std::sync::Arc;

/// How much better a variation must explain the readings to be kept, in natural log: e^3 times, twenty times; less may be
/// chance, and what is longer must be worth reading.
const WORTH: f64 = 3.0;
/// How sure a reader is of its characters when the example's text is all there is.
const GIVEN_TEXT: f64 = 0.97;

/// Work after which nothing more is varied, in edges of rules times characters of readings; a second of one core does 500
/// to 1,000 million.
const ENOUGH_WORK: usize = 300_000_000;

/// What a draft makes of the readings like the example.
#[derive(Debug, Clone, Default)]
pub(super) struct Trial {
    pub fits: usize,
    pub score: f64,
    /// What it takes from the example, where it fits it as it was marked.
    pub takes: Option<Vec<(String, String)>>,
}

/// Drafts tried and what came of them.
pub(super) struct Search<'a> {
    pub example: &'a Example,
    pub book: &'a RuleBook,
    pub styles: &'a Styles,
    pub bench: &'a Bench,
    pub evidence: &'a Evidence,
    /// The readings like the example; the example itself comes last.
    alike: Bench,
    /// Work done so far.
    work: usize,
    pub tried: Vec<(Draft, Trial)>,
    pub considered: Vec<String>,
}

impl<'a> Search<'a> {
    pub fn new(
        example: &'a Example,
        book: &'a RuleBook,
        styles: &'a Styles,
        bench: &'a Bench,
        evidence: &'a Evidence,
    ) -> Self {
        let mut search = Self {
            example,
            book,
            styles,
            bench,
            evidence,
            alike: Bench::default(),
            work: 0,
            tried: Vec::new(),
            considered: Vec::new(),
        };
        search.look_at(&evidence.alike);
        search
    }

    /// Tries the drafts on these readings from here on; what was tried before is forgotten but for the best few.
    pub fn look_at(&mut self, sheets: &[usize]) {
        self.alike = self.bench.few_bare(sheets);
        self.alike.push(BenchSheet {
            sheet: SheetId::new("example"),
            reading: self.example_reading(),
            band: None,
            width: None,
            keyed: None,
        });
        let best = self.found(2).0;
        self.tried.clear();
        for (draft, _) in best {
            self.attempt(draft);
        }
    }

    fn example_reading(&self) -> Reading {
        let lines = self.example.lines();
        Reading {
            lines: lines.map(|line| Line::certain(&line, GIVEN_TEXT)).collect(),
        }
    }

    /// Varies the draft step by step, and keeps what explains the readings better.
    pub fn climb(&mut self, plain: Draft) {
        let best = self.attempt(plain);
        let best = self.with_kinds(best);
        let best = self.with_literals(best);
        let best = self.with_values(best);
        self.with_optional(best);
    }

    /// The best drafts that take from the example what was marked, and what was considered.
    pub fn found(&self, most: usize) -> (Vec<(Draft, Trial)>, Vec<String>) {
        let good = self.tried.iter().filter(|(_, trial)| trial.takes.is_some());
        let mut good: Vec<(Draft, Trial)> = good.cloned().collect();
        good.sort_by(|a, b| b.1.score.total_cmp(&a.1.score));
        good.truncate(most);
        (good, self.considered.clone())
    }

    /// Tries a draft; the index of what came of it.
    pub fn attempt(&mut self, draft: Draft) -> usize {
        if let Some(known) = self.tried.iter().position(|(tried, _)| *tried == draft) {
            return known;
        }
        let trial = self.trial(&draft);
        self.tried.push((draft, trial));
        self.tried.len() - 1
    }

    fn trial(&mut self, draft: &Draft) -> Trial {
        let mut trial = Trial::default();
        let Some(book) = self.compiled(draft) else {
            return trial;
        };
        self.work += work(&book, &draft.name, &self.alike);
        self.alike.put(book);
        self.alike.step(1, &|| true);
        for at in 0..self.alike.len() {
            let (Some((_, taken)), Some(weighed)) = (self.alike.fit(at), self.alike.weighed(at))
            else {
                continue;
            };
            trial.score += weighed.score;
            match at + 1 == self.alike.len() {
                true => trial.takes = as_marked(self.example, draft, taken),
                false => trial.fits += 1,
            }
        }
        trial
    }

    fn compiled(&self, draft: &Draft) -> Option<Arc<RuleBook>> {
        let fragment = draft.fragment();
        self.book
            .beside(("candidate", &fragment), self.styles)
            .ok()
            .map(Arc::new)
    }

    /// What a draft takes from many readings like the example: the values by field of the draft, in step with the readings;
    /// empty where there is none.
    pub fn values(&mut self, draft: &Draft) -> Vec<Vec<String>> {
        let mut values = vec![Vec::new(); draft.fields.len()];
        let Some(book) = self.compiled(draft) else {
            return values;
        };
        let mut many = self.bench.few_bare(&self.evidence.many);
        self.work += work(&book, &draft.name, &many);
        many.put(book);
        many.step(1, &|| true);
        for at in 0..many.len() {
            let Some((_, taken)) = many.fit(at) else {
                continue;
            };
            for (place, field) in draft.fields.iter().enumerate() {
                let taken = taken.iter().find(|taken| is_of(field, taken));
                values[place].push(taken.map(|taken| taken.value.clone()).unwrap_or_default());
            }
        }
        values
    }

    /// Tries a variation; the better of both.
    pub fn vary(&mut self, best: usize, draft: Draft, what: &str) -> usize {
        if self.work > ENOUGH_WORK {
            self.considered
                .push(format!("not tried, to answer in time: {what}"));
            return best;
        }
        let other = self.attempt(draft);
        if best == other {
            return best;
        }
        let (was, is) = (&self.tried[best].1, &self.tried[other].1);
        let (was_right, is_right) = (was.takes.is_some(), is.takes.is_some());
        let is_better = match (was_right, is_right) {
            (false, true) => true,
            (true, false) => false,
            _ => is.score > was.score + WORTH,
        };
        let told = format!(
            "{} {what}: fits {} of {} strips like this one instead of {}, and explains them {} by {:.0}{}",
            if is_better { "kept" } else { "left" },
            is.fits,
            self.alike.len() - 1,
            was.fits,
            if is.score >= was.score {
                "better"
            } else {
                "worse"
            },
            (is.score - was.score).abs(),
            if was_right && !is_right {
                ", but does not take what was marked"
            } else {
                ""
            },
        );
        self.considered.push(told);
        if is_better { other } else { best }
    }

    /// Why none of the drafts takes what was marked, by the first of them.
    pub fn why_none(&self) -> String {
        let Some((draft, _)) = self.tried.first() else {
            return "there is nothing to try".to_owned();
        };
        let Some(book) = self.compiled(draft) else {
            return "the rule as marked has faults".to_owned();
        };
        let reading = self.example_reading();
        let explained = book.explain(&reading, &Around::default(), &draft.name);
        let Some(explained) = explained else {
            return "the rule as marked does not fit".to_owned();
        };
        let differing =
            self.example
                .marks()
                .iter()
                .zip(&draft.fields)
                .filter_map(|(mark, field)| {
                    let piece = explained
                        .pieces
                        .iter()
                        .find(|piece| piece.field == field.slot())?;
                    let (marked, value) = (
                        self.example.text(mark),
                        piece.values.first().map(|(value, ..)| value),
                    );
                    let value = value.map_or("", String::as_str);
                    let kind = field.kind.name();
                    (!reads_as(value, &marked)).then(|| {
                        format!(
                            "as {kind}, {} would be `{value}` where `{marked}` is marked",
                            field.slot()
                        )
                    })
                });
        let differing: Vec<String> = differing.collect();
        match differing.is_empty() {
            true => format!("as marked, the rule {}", explained.verdict),
            false => differing.join(", "),
        }
    }

    /// The text that a line of a draft stands for on the example, some of its parts left out.
    pub fn rendered(&self, parts: &[Part]) -> String {
        let text = parts.iter().map(|part| match part {
            Part::Blank => " ".to_owned(),
            Part::Literal(text) => text.clone(),
            Part::Slot(field) => {
                let piece = self
                    .example
                    .marks()
                    .get(*field)
                    .map(|mark| self.example.text(mark));
                piece.unwrap_or_else(|| "1".to_owned())
            }
            Part::Optional(parts) => self.rendered(parts),
        });
        text.collect()
    }
}

/// The work of a rule on all sheets of a bench, in edges times characters.
pub(super) fn work(book: &RuleBook, rule: &str, bench: &Bench) -> usize {
    let rule = book.rules.iter().find(|known| known.name == rule);
    let edges = rule.map_or(0, |rule| rule.automaton.size());
    let characters: usize = (0..bench.len()).map(|at| bench.text(at).len()).sum();
    edges * characters
}

fn is_of(field: &Field, taken: &TakenField) -> bool {
    taken.field == field.name && taken.record == field.record
}

/// What a draft took from the example, if that is what was marked; misread characters may have been put right.
fn as_marked(
    example: &Example,
    draft: &Draft,
    taken: &[TakenField],
) -> Option<Vec<(String, String)>> {
    let marked = example.marks().iter().zip(&draft.fields);
    let values = marked.map(|(mark, field)| {
        let taken = taken.iter().find(|taken| is_of(field, taken))?;
        let is_same = reads_as(&taken.value, &example.text(mark));
        is_same.then(|| (mark.field.clone(), taken.value.clone()))
    });
    values.collect()
}
