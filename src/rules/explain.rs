//! Why a rule fits a reading or does not, piece by piece, in words.

use super::around::Around;
use super::automaton::Role;
use super::cells::Table;
use super::extract::{Fit, LEAST_READ, LEAST_SCORE, MOST_BENT};
use super::forward::{Aligner, Depth};
use super::mesh::Mesh;
use super::prepared::Prepared;
use super::{Rule, RuleBook, words};
use crate::reading::Reading;
use crate::value::shown;
use serde::Serialize;
use std::fmt;

/// Why a rule fits a reading, or where it breaks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Explanation {
    pub rule: String,
    /// The rule's template.
    pub template: Vec<String>,
    /// The reading's best text.
    pub text: String,
    /// Whether the rule fits and is the most probable one.
    pub chosen: bool,
    /// Natural log of how much better than free text the rule explains the reading, if it can at all.
    pub score: Option<f64>,
    /// The slots and what they took, in the order of the strip.
    pub pieces: Vec<Piece>,
    /// What was tolerated.
    pub tolerated: Vec<String>,
    /// Why the rule was chosen or not, one sentence.
    pub verdict: String,
}

/// What one slot took.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Piece {
    pub field: String,
    /// The best reading there.
    pub raw: String,
    /// The best values with their probabilities, and whether the check character holds.
    pub values: Vec<(String, f64, Option<bool>)>,
}

/// Values shown for a slot.
const VALUES_SHOWN: usize = 3;
/// Characters shown of what stands where a rule breaks.
const FOUND_SHOWN: usize = 12;

impl RuleBook {
    pub(super) fn explanation(
        &self,
        reading: &Reading,
        rule: &Rule,
        around: &Around,
    ) -> Explanation {
        let mut explanation = Explanation {
            rule: rule.name.clone(),
            template: rule.template.clone(),
            text: reading.text(),
            chosen: false,
            score: None,
            pieces: Vec::new(),
            tolerated: Vec::new(),
            verdict: String::new(),
        };
        let Some(prepared) = Prepared::new(reading) else {
            explanation.verdict =
                "nothing readable on the strip, or far more than a strip holds".to_owned();
            return explanation;
        };
        if !rule.when.holds(around) {
            explanation.verdict = rule.when.in_words(around);
            return explanation;
        }
        let mesh = &prepared.mesh;
        let mut aligner = Aligner::default();
        let (forward, score) = Aligner::default().forward(mesh, &rule.automaton, Depth::Full, None);
        if score == f32::NEG_INFINITY {
            explanation.verdict = breaking_point(reading, rule, mesh, &forward);
            return explanation;
        }
        let fit = {
            let aligned = (&forward, score);
            self.work_out(rule, &prepared, around, aligned, Depth::Full, &mut aligner)
        };
        explanation.score = Some(fit.score);
        explanation.pieces = pieces(&fit, reading);
        explanation.tolerated = words::tolerated(&fit, mesh, reading);
        let extractions = self.extractions(&prepared, reading, around);
        let own = extractions.iter().position(|e| e.rule == rule.name);
        explanation.chosen = own == Some(0);
        explanation.verdict = match (own, extractions.first()) {
            (Some(0), _) => format!(
                "fits, with probability {} among all rules and none of them",
                extractions[0].probability
            ),
            (Some(at), Some(best)) => format!(
                "fits, but `{}` explains the strip better by {:.1} (probability {} against {})",
                best.rule,
                best.score - fit.score,
                best.probability,
                extractions[at].probability
            ),
            (None, _) if fit.score < LEAST_SCORE => format!(
                "{}; free text explains the strip as well (score {:.1}, needed {LEAST_SCORE:.1})",
                breaking_point(reading, rule, mesh, &forward),
                fit.score
            ),
            (None, best) => unfit(&fit, best.map(|best| (best.rule.as_str(), best.score))),
            (Some(_), None) => unreachable!("its own extraction is there"),
        };
        explanation
    }
}

/// What the slots took.
fn pieces(fit: &Fit, reading: &Reading) -> Vec<Piece> {
    let slots = fit.rule.slots.iter().zip(&fit.values);
    slots
        .map(|(slot, values)| {
            let values = &values.values;
            let raw = values
                .first()
                .map(|best| words::best_text(reading, best.start, best.end));
            Piece {
                field: slot.shown(),
                raw: raw.unwrap_or_default().trim().to_owned(),
                values: values
                    .iter()
                    .take(VALUES_SHOWN)
                    .map(|v| (v.value.clone(), v.weight, v.check_holds))
                    .collect(),
            }
        })
        .collect()
}

/// Where a rule stops explaining the strip better than free text does: what it expected there, what it found.
fn breaking_point(reading: &Reading, rule: &Rule, mesh: &Mesh, forward: &Table) -> String {
    let nodes = rule.automaton.nodes.len();
    let cells = (0..mesh.len()).flat_map(|at| (0..nodes).map(move |node| (at, node)));
    let best = cells.max_by(|a, b| forward.get(a.0, a.1).total_cmp(&forward.get(b.0, b.1)));
    let (at, node) = best.unwrap_or((0, 0));
    let end = mesh.spots[mesh.len() - 1];
    let rest = words::best_text(reading, mesh.spots[at], end);
    let rest: String = rest.trim().chars().take(FOUND_SHOWN).collect();
    let found = if rest.is_empty() {
        "the end".to_owned()
    } else {
        format!("`{rest}`")
    };
    let behind = match role_in_words(rule, node) {
        Some(role) => format!("behind {role} "),
        None => "at the start ".to_owned(),
    };
    let own = rule.automaton.nodes[node].role;
    let onwards = rule
        .automaton
        .edges(node)
        .iter()
        .map(|&(next, _)| next as usize);
    let wanted = onwards
        .filter(|&next| match rule.automaton.nodes[next].role {
            Role::Literal => true,
            role => role != own,
        })
        .find_map(|next| role_in_words(rule, next));
    match wanted {
        Some(wanted) => format!("does not fit: {behind}expected {wanted}, found {found}"),
        None => format!("does not fit: {behind}expected the end, found {found}"),
    }
}

/// What a node stands for; `None` for the start.
fn role_in_words(rule: &Rule, node: usize) -> Option<String> {
    Some(match rule.automaton.nodes[node].role {
        Role::Start => return None,
        Role::Literal => format!("`{}`", literal_at(rule, node)),
        Role::Blank => "a blank".to_owned(),
        Role::Break => "the end of the line".to_owned(),
        Role::Slot(slot) | Role::OffPattern(slot) => format!(
            "{} ({})",
            rule.slots[slot].shown(),
            rule.slots[slot].spec.kind.name()
        ),
    })
}

/// The template's word that a node belongs to.
fn literal_at(rule: &Rule, node: usize) -> String {
    let nodes = &rule.automaton.nodes;
    let is_literal = |&at: &usize| nodes[at].role == Role::Literal;
    let start = (0..node)
        .rev()
        .take_while(is_literal)
        .last()
        .unwrap_or(node);
    let word = (start..nodes.len()).take_while(is_literal);
    word.filter_map(|at| nodes[at].single).collect()
}

/// Why a rule that can be aligned is none of the extractions.
fn unfit(fit: &Fit, best: Option<(&str, f64)>) -> String {
    if fit.read_share() < LEAST_READ {
        return "does not fit: too few of its slots were read".to_owned();
    }
    if fit.bent.share > MOST_BENT {
        return format!(
            "does not fit: {:.0} of 100 characters would have to be tolerated, {:.0} are the most",
            fit.bent.share * 100.0,
            MOST_BENT * 100.0
        );
    }
    match best {
        Some((rule, score)) => format!(
            "could fit, but `{rule}` explains the strip so much better (by {:.1}) that this rule is out of the question",
            score - fit.score
        ),
        None => "could fit, but so much of the strip does not look like it that another layout is more probable"
            .to_owned(),
    }
}

impl fmt::Display for Explanation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "rule      {}", shown(&self.rule))?;
        for line in &self.template {
            writeln!(f, "template  {}", shown(line))?;
        }
        for line in self.text.lines() {
            writeln!(f, "strip     {}", shown(line))?;
        }
        // What a hopeless rule would have had to tolerate explains nothing; the verdict says where it breaks.
        let is_hopeless = self.score.is_some_and(|score| score < LEAST_SCORE);
        let pieces = self.pieces.iter().filter(|_| !is_hopeless);
        for piece in pieces {
            write!(f, "  {:<12} ", shown(&piece.field))?;
            if piece.values.is_empty() {
                write!(f, "nothing")?;
            }
            for (at, (value, probability, check)) in piece.values.iter().enumerate() {
                let check = match check {
                    Some(true) => ", check holds",
                    Some(false) => ", check fails",
                    None => "",
                };
                let or = if at > 0 { "; or " } else { "" };
                write!(f, "{or}`{}` ({probability:.3}{check})", shown(value))?;
            }
            match piece.values.first() {
                Some((value, ..)) if *value != piece.raw => {
                    writeln!(f, ", read as `{}`", shown(&piece.raw))?;
                }
                _ => writeln!(f)?,
            }
        }
        for tolerated in self.tolerated.iter().filter(|_| !is_hopeless) {
            writeln!(f, "tolerated {}", shown(tolerated))?;
        }
        if let Some(score) = self.score {
            writeln!(f, "score     {score:.1}")?;
        }
        writeln!(f, "verdict   {}", shown(&self.verdict))
    }
}
