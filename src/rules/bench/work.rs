//! One sheet after the other worked out by the present book: what is known is taken over, the rest aligned.

use super::taken::{Applied, Outcome, Taken};
use super::{Bench, Score};
use crate::rules::cells::Table;
use crate::rules::extract::{RIVAL, WORKED_OUT, least_wanted};
use crate::rules::forward::{Aligner, Depth, Profile};
use crate::rules::{Around, RuleBook};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Sheets that a thread takes on at a time, between looks at whether to go on.
const SHEETS_AT_A_TIME: usize = 8;

/// A rule that aligns with a reading.
struct Scored {
    rule: usize,
    score: f32,
    /// Where it was aligned just now.
    table: Option<Table>,
    /// How it did from place to place, where that is known.
    profile: Option<Arc<Profile>>,
}

/// What was found out about one sheet.
pub(super) struct Found {
    pub sheet: usize,
    /// (Index of a rule, score).
    pub scores: Vec<(usize, Score)>,
    pub taken: Vec<(usize, Arc<Taken>)>,
    pub outcome: Outcome,
    /// Whether something of it was only glanced at.
    pub is_open: bool,
}

impl Bench {
    /// Works out sheets from the last one on backwards; what was found comes in that order.
    pub(super) fn work_through(
        &self,
        sheets: &[u32],
        book: &RuleBook,
        depth: Depth,
        threads: usize,
        go_on: &(impl Fn() -> bool + Sync),
    ) -> Vec<Found> {
        let next = AtomicUsize::new(0);
        let work = || {
            let mut aligner = Aligner::default();
            let mut found = Vec::new();
            while go_on() {
                let from = next.fetch_add(SHEETS_AT_A_TIME, Ordering::Relaxed);
                let few = sheets.iter().rev().enumerate().skip(from);
                let few = few.take(SHEETS_AT_A_TIME);
                if few.len() == 0 {
                    break;
                }
                found.extend(few.map(|(place, &at)| {
                    let found = self.work_out(at as usize, book, depth, &mut aligner);
                    (place, found)
                }));
            }
            found
        };
        let mut found = std::thread::scope(|scope| {
            let workers: Vec<_> = (1..threads.max(1)).map(|_| scope.spawn(work)).collect();
            let mut found = work();
            for worker in workers {
                found.extend(worker.join().expect("applying rules does not panic"));
            }
            found
        });
        // Whoever takes sheets on works them out, so what was found is a run from the first one.
        found.sort_by_key(|(place, _)| *place);
        found.into_iter().map(|(_, found)| found).collect()
    }

    /// What the book makes of a sheet.
    pub(super) fn work_out(
        &self,
        at: usize,
        book: &RuleBook,
        depth: Depth,
        aligner: &mut Aligner,
    ) -> Found {
        let sheet = &self.sheets[at];
        let mut found = Found {
            sheet: at,
            scores: Vec::new(),
            taken: Vec::new(),
            outcome: Outcome::default(),
            is_open: false,
        };
        let Some(prepared) = &sheet.prepared else {
            return found;
        };
        let around = Around {
            collection: &self.collection,
            band: sheet.band,
            width: sheet.width,
        };
        let mut scored: Vec<Scored> = Vec::new();
        let mut open: Vec<(usize, Score)> = Vec::new();
        for (rule, known) in self.rules.iter().enumerate() {
            if !book.rules[rule].when.holds(&around) {
                continue;
            }
            let taken = self.taken[&known.print.values][at].as_ref();
            match self.scores[&known.print.alignment][at] {
                // Its table is needed.
                Score::Known(_) if depth == Depth::Full && taken.is_none() => {
                    open.push((rule, Score::Unknown));
                }
                Score::Known(score) => scored.push(Scored {
                    rule,
                    score,
                    table: None,
                    profile: taken.and_then(|taken| taken.profile.clone()),
                }),
                score => open.push((rule, score)),
            }
        }
        // The rule that fitted before comes first: beside a good one the others are soon out of the question.
        let before = &self.now[at].rule;
        open.sort_by_key(|(rule, _)| Some(&self.rules[*rule].name) != before.as_ref());
        for (rule, score) in open {
            let wanted = least_wanted(scored.iter().map(|scored| scored.score));
            if matches!(score, Score::Below(bound) if bound <= wanted) {
                continue;
            }
            // At first sight nobody asks whether yet another rule would be better than a good one.
            let is_good = |scored: &Scored| scored.score >= RIVAL;
            if found.is_open && scored.iter().any(is_good) {
                break;
            }
            found.is_open = depth == Depth::Glance;
            let rival = scored.iter().filter(|scored| is_good(scored));
            let rival = rival.max_by(|a, b| a.score.total_cmp(&b.score));
            let rival = rival.and_then(|rival| rival.profile.as_deref());
            let automaton = &book.rules[rule].automaton;
            let (table, score) = aligner.forward(&prepared.mesh, automaton, depth, rival);
            // What is seen at a glance is not remembered: it may be a little too low.
            let remembered = match score >= wanted {
                true => Score::Known(score),
                false => Score::Below(wanted),
            };
            found
                .scores
                .extend((depth == Depth::Full).then_some((rule, remembered)));
            if score >= wanted {
                scored.push(Scored {
                    rule,
                    score,
                    table: Some(table),
                    profile: Some(Arc::new(aligner.profile())),
                });
            } else {
                aligner.recycle(table);
            }
        }
        scored.sort_by(|a, b| b.score.total_cmp(&a.score));
        let wanted = least_wanted(scored.iter().map(|scored| scored.score));
        let mut taken = Vec::new();
        for (place, scored) in scored.into_iter().enumerate() {
            let known = &self.rules[scored.rule];
            if place < WORKED_OUT && scored.score >= wanted {
                let remembered = self.taken[&known.print.values][at].clone();
                let made = remembered.unwrap_or_else(|| {
                    let rule = &book.rules[scored.rule];
                    let table = scored.table.unwrap_or_else(|| {
                        let automaton = &rule.automaton;
                        aligner.forward(&prepared.mesh, automaton, depth, None).0
                    });
                    let aligned = (&table, scored.score);
                    let fit = book.work_out(rule, prepared, &around, aligned, depth, aligner);
                    let (columns, keyed) = (&self.columns[..], sheet.keyed.as_ref());
                    let mut made = Taken::new(&fit, depth, book, columns, keyed);
                    if depth == Depth::Glance
                        && let Some(earlier) = self.worked_out(at, &known.name, made.glance)
                    {
                        made = made.like_known(earlier, rule, book, columns, keyed);
                    }
                    made.profile = scored.profile;
                    aligner.recycle(table);
                    let made = Arc::new(made);
                    match depth {
                        Depth::Glance => found.is_open = true,
                        Depth::Full => found.taken.push((scored.rule, made.clone())),
                    }
                    made
                });
                taken.push(Applied {
                    rule: known.name.clone(),
                    print: known.print.values,
                    taken: made,
                });
            } else if let Some(table) = scored.table {
                aligner.recycle(table);
            }
        }
        found.outcome = Outcome::new(self.rules.len(), taken);
        found
    }

    /// What a rule of this name took of a sheet earlier, where its best path took the same as now.
    fn worked_out(&self, at: usize, rule: &str, glance: u64) -> Option<&Taken> {
        let outcomes = [&self.now[at], &self.before[at]].into_iter();
        let mut earlier = outcomes
            .filter(|outcome| outcome.rule.as_deref() == Some(rule))
            .filter_map(|outcome| outcome.taken.as_deref());
        earlier.find(|taken| taken.depth == Depth::Full && taken.glance == glance)
    }
}
