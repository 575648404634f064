//! One reading against all rules: which fit, how well, and what they take out.

use super::align::{self, Bent, Move, Step};
use super::around::Around;
use super::automaton::Automaton;
use super::candidates::{Search, Values, WIDE_BAND};
use super::cells::Table;
use super::forward::{Aligner, Depth, Profile};
use super::mesh::{Mesh, Skipped};
use super::prepared::{Places, Prepared};
use super::slot::Slot;
use super::words;
use super::{Candidate, Extracted, Extraction, Rule, RuleBook, Source, glance, looks};
use crate::reading::Reading;
use crate::value::Probability;
use std::collections::HashSet;

/// Least score of a rule that fits: it explains the reading e^2, seven times, better than free text does.
pub(super) const LEAST_SCORE: f64 = 2.0;
/// Greatest share of the visible characters that may have been bent to make a rule fit; beyond, it is another layout.
pub(super) const MOST_BENT: f64 = 0.3;
/// Least share of the slots of which something must have been read, lines left out of which nothing was.
pub(super) const LEAST_READ: f64 = 0.5;
/// How much less probable than a rule's own layout, before the reading is seen, one much like it is that has no rule.
const UNKNOWN_LAYOUT: f64 = 7e-4;
/// What a place that does not look like the rule (a lost comma, a word too many) speaks for such a layout; natural log,
/// about what it costs the rule.
const STRANGE_PLACE: f64 = 3.5;
/// The same for something of the rule that is not there: marks are lost now and then, whole values hardly ever.
const MISSING: f64 = 4.5;
/// Missing things that a line counts for which is another than the rule's.
const ANOTHER_LINE: usize = 3;
/// Least share of a field's values among everything that may stand there, for the field to be handed on.
const LEAST_VALUES: f64 = 0.05;
/// Least probability of an extraction that is handed on.
pub(super) const LEAST_PROBABILITY: f64 = 0.02;
/// Probability, before the reading is seen, that no rule is the right one: blank strips, targets, unknown layouts.
const NONE_PRIOR: f64 = 0.1;
/// Rules whose values are worked out at most.
pub(super) const WORKED_OUT: usize = 4;
/// A rule worse than the best by this much is not worked out, since no check brings it back; natural log.
pub(super) const HOPELESS: f32 = 15.0;
/// Least score of a rule beside which others are left early: it explains the strip e^10 times better than free text.
pub(super) const RIVAL: f32 = 10.0;
/// How much less probable a rule is of which a value stands elsewhere on the strip than the rule says.
const OUT_OF_PLACE: f64 = 0.02;
/// The most that check characters and sheet checks can add to a score; rules below the least score by more cannot fit.
const MOST_CHECK_GAIN: f64 = 8.0;

/// Ways that are as good as the best; natural log, above rounding.
const BEST_ONLY: f32 = 0.01;

/// A rule aligned with a reading.
pub(super) struct Fit<'a> {
    pub rule: &'a Rule,
    pub path: Vec<Step>,
    /// Hash of the values on the path.
    pub glance: u64,
    /// Against free text, the check characters and sheet checks included.
    pub score: f64,
    pub bent: Bent,
    /// One entry for each slot of the rule; empty where nothing was read of it.
    pub values: Vec<Values>,
    /// Slots whose values stand elsewhere on the strip than the rule says.
    pub out_of_place: Vec<usize>,
}

impl Fit<'_> {
    pub fn holds(&self) -> bool {
        self.score >= LEAST_SCORE && self.bent.share <= MOST_BENT && self.read_share() >= LEAST_READ
    }

    /// Share of the slots of which something was read, lines left out of which nothing was.
    pub fn read_share(&self) -> f64 {
        let nodes = &self.rule.automaton.nodes;
        let read: HashSet<usize> = self
            .path
            .iter()
            .filter_map(|step| nodes[step.node].role.slot())
            .collect();
        let (mut taken, mut all) = (0, 0);
        for line in &self.rule.lines {
            let read_here = line
                .slots
                .clone()
                .filter(|slot| read.contains(slot))
                .count();
            taken += read_here;
            all += if read_here > 0 { line.wanted } else { 0 };
        }
        // A rule of words alone fits by its words.
        if self.rule.slots.is_empty() {
            return 1.0;
        }
        taken as f64 / all.max(1) as f64
    }

    /// The slots of which something was read, one for each field of a record: where alternatives of the template have the
    /// same field, the one that was read stands.
    pub fn taken(&self) -> Vec<(&Slot, &Values)> {
        let mut taken: Vec<(&Slot, &Values)> = Vec::new();
        for (slot, values) in self.rule.slots.iter().zip(&self.values) {
            if values.values.is_empty() || values.read() < LEAST_VALUES {
                continue;
            }
            match taken
                .iter_mut()
                .find(|(known, _)| known.place.of() == slot.place.of())
            {
                Some(known) if known.1.read() < values.read() => *known = (slot, values),
                Some(_) => {}
                None => taken.push((slot, values)),
            }
        }
        taken
    }

    /// Natural log of how well a layout that no rule describes would explain the reading: as well as this one, and what
    /// does not look like this one besides.
    pub fn another_layout(&self) -> f64 {
        let strange = self.bent.places as f64 * STRANGE_PLACE;
        self.score + strange + self.missing() as f64 * MISSING + UNKNOWN_LAYOUT.ln()
    }

    /// Places in which something of the rule is missing: slots on lines that were found; and lines that were not found
    /// while a line of the strip was left out, since that line then was something else.
    fn missing(&self) -> usize {
        let nodes = &self.rule.automaton.nodes;
        let read: HashSet<usize> = self
            .path
            .iter()
            .filter_map(|step| nodes[step.node].role.slot())
            .collect();
        let is_wanted = |slot: &usize| !self.rule.slots[*slot].place.may_be_missing;
        let (mut slots, mut lost_lines) = (0, 0);
        for line in &self.rule.lines {
            let of_line = || line.slots.clone();
            if of_line().any(|slot| read.contains(&slot)) {
                let wanted = of_line().filter(is_wanted);
                slots += wanted.filter(|slot| !read.contains(slot)).count();
            } else {
                lost_lines += usize::from(of_line().any(|slot| is_wanted(&slot)));
            }
        }
        let is_line =
            |step: &&Step| matches!(step.made, Move::Skip(skip) if skip.what == Skipped::Line);
        let left_out = self.path.iter().filter(is_line).count();
        slots + ANOTHER_LINE * left_out.min(lost_lines)
    }
}

impl RuleBook {
    fn fits(&self, prepared: &Prepared, around: &Around) -> Vec<Fit<'_>> {
        let mut aligner = Aligner::default();
        let mut scored: Vec<(&Rule, Table, f32)> = Vec::new();
        let mut rival: Option<(f32, Profile)> = None;
        for rule in self.rules.iter().filter(|rule| rule.when.holds(around)) {
            let wanted = least_wanted(scored.iter().map(|(_, _, score)| *score));
            let beside = rival.as_ref().map(|(_, profile)| profile);
            let (forward, score) =
                aligner.forward(&prepared.mesh, &rule.automaton, Depth::Full, beside);
            if rival.as_ref().is_none_or(|(best, _)| score > *best) && score >= RIVAL {
                rival = Some((score, aligner.profile()));
            }
            if score >= wanted {
                scored.push((rule, forward, score));
            } else {
                aligner.recycle(forward);
            }
        }
        scored.sort_by(|a, b| b.2.total_cmp(&a.2));
        let best = scored.first().map_or(0.0, |best| best.2);
        scored.retain(|(_, _, score)| *score >= best - HOPELESS);
        scored.truncate(WORKED_OUT);
        let mut fits: Vec<Fit> = scored
            .into_iter()
            .map(|(rule, forward, score)| {
                let aligned = (&forward, score);
                self.work_out(rule, prepared, around, aligned, Depth::Full, &mut aligner)
            })
            .collect();
        fits.sort_by(|a, b| b.score.total_cmp(&a.score));
        fits
    }

    /// Finds the values of a rule's slots, given how it aligns.
    pub(super) fn work_out<'a>(
        &'a self,
        rule: &'a Rule,
        prepared: &Prepared,
        around: &Around,
        (forward, score): (&Table, f32),
        depth: Depth,
        aligner: &mut Aligner,
    ) -> Fit<'a> {
        let Prepared { mesh, places } = prepared;
        let automaton: &Automaton = &rule.automaton;
        let band = match depth {
            Depth::Glance => BEST_ONLY,
            Depth::Full => WIDE_BAND,
        };
        let mut backward = aligner.table(mesh.len(), automaton.nodes.len());
        align::backward(mesh, automaton, (forward, score), band, &mut backward);
        let path = align::best_path(mesh, automaton, &backward);
        let at_first_sight = glance::values(&path, &rule.slots, automaton, mesh);
        let glance = glance::hash(&at_first_sight);
        let mut values: Vec<Values> = match depth {
            Depth::Glance => at_first_sight,
            Depth::Full => {
                let search = Search::new(mesh, automaton, forward, &backward, score);
                let listed = |from, to| places.listed(from, to);
                let slots = rule.slots.iter().enumerate();
                slots
                    .map(|(at, slot)| search.values(at, &slot.spec, listed))
                    .collect()
            }
        };
        aligner.recycle(backward);
        let mut gain: f64 = values.iter().map(|v| v.check_gain).sum();
        for check in &self.checks {
            gain += check.weigh(&mut values, &rule.slots);
        }
        let out_of_place: Vec<usize> = (0..values.len())
            .filter(|&at| stands_elsewhere(&rule.slots[at], &values[at], places, around))
            .collect();
        gain += out_of_place.len() as f64 * OUT_OF_PLACE.ln();
        Fit {
            rule,
            bent: align::bent(&path, automaton, mesh),
            path,
            glance,
            score: f64::from(score) + gain,
            values,
            out_of_place,
        }
    }

    pub(super) fn extractions(
        &self,
        prepared: &Prepared,
        reading: &Reading,
        around: &Around,
    ) -> Vec<Extraction> {
        let fits = self.fits(prepared, around);
        let weighed = fits.iter().map(|fit| (fit.score, fit.another_layout()));
        let probabilities = probabilities(self.rules.len(), &weighed.collect::<Vec<_>>());
        fits.iter()
            .zip(probabilities)
            .filter(|(fit, probability)| fit.holds() && *probability >= LEAST_PROBABILITY)
            .map(|(fit, probability)| self.extraction(fit, probability, &prepared.mesh, reading))
            .collect()
    }

    fn extraction(
        &self,
        fit: &Fit,
        probability: f64,
        mesh: &Mesh,
        reading: &Reading,
    ) -> Extraction {
        let taken = fit.taken().into_iter();
        let mut fields: Vec<Extracted> = taken
            .filter_map(|(slot, values)| extracted(slot, values, reading))
            .collect();
        let constants = fit.rule.constants.iter();
        fields.extend(constants.map(|(field, value)| constant(&self.fields[*field].name, value)));
        Extraction {
            rule: fit.rule.name.clone(),
            sheet: fit.rule.sheet,
            score: fit.score,
            probability: Probability::new(probability),
            fields,
            tolerated: words::tolerated(fit, mesh, reading),
        }
    }
}

/// The least score of a rule that may have a say beside rules of these scores.
pub(super) fn least_wanted(scores: impl Iterator<Item = f32>) -> f32 {
    let least = (LEAST_SCORE - MOST_CHECK_GAIN) as f32;
    scores.fold(least, |least, score| least.max(score - HOPELESS))
}

/// The probability of each fit, given its score and that of a layout near to it that no rule describes; the best comes
/// first. `rules`: how many there are.
pub(super) fn probabilities(rules: usize, fits: &[(f64, f64)]) -> Vec<f64> {
    let prior = ((1.0 - NONE_PRIOR) / rules as f64).ln();
    // Rules that cannot hold still take their share, each with the unknown layouts near to it: a strip that one of them
    // explains best is none of another's. What a worse rule lacks says nothing for a layout better than the best's.
    let mut weights: Vec<f64> = fits.iter().map(|(score, _)| score + prior).collect();
    weights.push(NONE_PRIOR.ln());
    let most = fits.first().map_or(0.0, |(_, another)| *another);
    weights.extend(fits.iter().map(|(_, another)| another.min(most) + prior));
    let highest = weights.iter().fold(f64::NEG_INFINITY, |a, &b| a.max(b));
    let all: f64 = weights.iter().map(|weight| (weight - highest).exp()).sum();
    weights.truncate(fits.len());
    let share = |weight: f64| (weight - highest).exp() / all;
    weights.into_iter().map(share).collect()
}

/// Whether a slot's best value stands elsewhere on the strip than its rule says.
fn stands_elsewhere(slot: &Slot, values: &Values, places: &Places, around: &Around) -> bool {
    let (Some(region), Some(best)) = (slot.on, values.values.first()) else {
        return false;
    };
    !places.stands_in(region, best.start, best.end, around)
}

/// A value that a rule gives every sheet that it fits.
fn constant(field: &str, value: &str) -> Extracted {
    Extracted {
        field: field.to_owned(),
        record: 0,
        source: Source::Constant,
        line: 0,
        positions: 0..0,
        candidates: vec![Candidate {
            value: value.to_owned(),
            probability: Probability::new(1.0),
            check_holds: None,
            doubt: None,
        }],
        raw: value.to_owned(),
    }
}

fn extracted(slot: &Slot, values: &Values, reading: &Reading) -> Option<Extracted> {
    let best = values.values.first()?;
    let (start, end) = (best.start, best.end);
    let length = reading.lines.get(start.line)?.positions.len();
    let last = if end.line == start.line {
        end.position
    } else {
        length
    };
    let is_ditto = slot.spec.ditto && looks::is_ditto(&best.value);
    Some(Extracted {
        field: slot.spec.name.clone(),
        record: slot.place.record,
        source: if is_ditto {
            Source::Ditto
        } else {
            Source::Strip
        },
        line: start.line,
        positions: start.position..last.max(start.position),
        candidates: values
            .values
            .iter()
            .map(|value| Candidate {
                value: value.value.clone(),
                probability: Probability::new(value.weight),
                check_holds: value.check_holds,
                doubt: value.doubt.clone(),
            })
            .collect(),
        raw: words::best_text(reading, start, end).trim().to_owned(),
    })
}
