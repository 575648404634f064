//! Scores a text against a line by the lattice alone, for readers that keep nothing finer.

use super::{Line, LineScorer};

/// Probability that the reader lost a character altogether, or saw one where there is none, per position.
/// From memory of typical line readers; a job's own figures replace it once sheets are keyed.
const LOST: f64 = 0.01;

/// Characters that a misread one may have been: what an alternative not in the lattice shares out.
const ALPHABET: f64 = 80.0;

/// The least that is left for "something else" at a position, however sure the reader was. A reader's certainty is
/// never better than this on type it was not made for.
const DOUBT_FLOOR: f64 = 1e-3;

/// [`LineScorer`] over the lattice's alternatives: the forward sum over all alignments of text and positions.
#[derive(Debug, Clone, Copy, Default)]
pub struct LatticeScorer;

impl LineScorer for LatticeScorer {
    fn log_likelihood(&self, line: &Line, text: &str) -> f64 {
        let text: Vec<char> = text.chars().collect();
        // reached[j]: probability of the positions so far with the first j characters of the text accounted for,
        // kept near 1 by `scale`, whose log is carried along.
        let mut reached = vec![0.0; text.len() + 1];
        reached[0] = 1.0;
        lose_characters(&mut reached);
        let mut log_scale = 0.0;
        for position in &line.positions {
            let mut next = vec![0.0; text.len() + 1];
            let listed: f64 = position
                .alternatives
                .iter()
                .map(|a| a.probability.get())
                .sum();
            let other = (1.0 - listed).max(DOUBT_FLOOR);
            let keep = 1.0 - other;
            let share = if listed > 0.0 { keep / listed } else { 0.0 };
            for (j, &so_far) in reached.iter().enumerate().filter(|(_, p)| **p > 0.0) {
                // A speck read as a character: nothing of the text stands here.
                next[j] += so_far * LOST / ALPHABET;
                if j < text.len() {
                    next[j + 1] += so_far * other / ALPHABET;
                }
                for alternative in &position.alternatives {
                    let mut end = j;
                    let agrees = alternative.text.chars().all(|c| {
                        end += 1;
                        text.get(end - 1) == Some(&c)
                    });
                    if agrees {
                        next[end] += so_far * alternative.probability.get() * share;
                    }
                }
            }
            lose_characters(&mut next);
            let scale = next.iter().cloned().fold(0.0, f64::max);
            if scale == 0.0 {
                return f64::NEG_INFINITY;
            }
            next.iter_mut().for_each(|p| *p /= scale);
            log_scale += scale.ln();
            reached = next;
        }
        reached[text.len()].ln() + log_scale
    }
}

/// Lets the reader have lost characters of the text between two positions.
fn lose_characters(reached: &mut [f64]) {
    for j in 1..reached.len() {
        reached[j] += reached[j - 1] * LOST;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Alternative;

    /// The likelier text must score higher.
    fn check(line: &Line, likelier: &str, less_likely: &str) {
        let (a, b) = (
            LatticeScorer.log_likelihood(line, likelier),
            LatticeScorer.log_likelihood(line, less_likely),
        );
        assert!(a > b, "{likelier}: {a}, {less_likely}: {b}");
    }

    #[test]
    fn prefers_what_the_lattice_holds() {
        let mut line = Line::certain("DALTQN 1O4", 0.9);
        check(&line, "DALTQN 1O4", "DALTON 1O4");
        check(&line, "DALTON 104", "MORRIS 104");
        check(&line, "DALTON 104", "DALTON 1044");
        line.positions[4]
            .alternatives
            .push(Alternative::new("O", 0.09));
        check(&line, "DALTON 104", "DALTEN 104");
    }

    #[test]
    fn takes_two_characters_for_one_position_and_none() {
        let mut line = Line::certain("HOmE", 0.9);
        line.positions[2]
            .alternatives
            .push(Alternative::new("RN", 0.09));
        check(&line, "HORNE", "HORE");
        line.positions[1].alternatives =
            vec![Alternative::new("", 0.6), Alternative::new("O", 0.4)];
        check(&line, "HmE", "HIE");
    }

    #[test]
    fn survives_long_texts_and_empty_ones() {
        let line = Line::certain(&"A".repeat(2_000), 0.5);
        assert!(
            LatticeScorer
                .log_likelihood(&line, &"A".repeat(2_000))
                .is_finite()
        );
        assert!(LatticeScorer.log_likelihood(&line, "").is_finite());
        assert_eq!(LatticeScorer.log_likelihood(&Line::default(), ""), 0.0);
    }
}
