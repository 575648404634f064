//! Where two texts differ, character by character, for a screen to mark.

use serde::{Deserialize, Serialize};
use unicode_segmentation::UnicodeSegmentation;

/// Cells of the alignment at most; longer texts are marked whole between their common ends.
const MOST_CELLS: usize = 1 << 20;

/// A piece of one text: as in the other, or not.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Run {
    pub text: String,
    pub differs: bool,
}

/// Both texts in pieces: as few characters as possible differ (Levenshtein alignment), each as people count them
/// (grapheme clusters). What only one text has is marked there; the other then has nothing to mark.
///
/// ```
/// let [first, second] = headword::review::marked("PIER", "PEER");
/// let marked: Vec<&str> = first.iter().filter(|run| run.differs).map(|run| run.text.as_str()).collect();
/// assert_eq!((marked, second.len()), (vec!["I"], 3));
/// ```
pub fn marked(first: &str, second: &str) -> [Vec<Run>; 2] {
    let one: Vec<&str> = first.graphemes(true).collect();
    let other: Vec<&str> = second.graphemes(true).collect();
    let mut runs = [Vec::new(), Vec::new()];
    let head = common(one.iter(), other.iter());
    let tail = common(one[head..].iter().rev(), other[head..].iter().rev());
    let middle = [
        &one[head..one.len() - tail],
        &other[head..other.len() - tail],
    ];
    for (runs, text) in runs.iter_mut().zip([&one, &other]) {
        text[..head].iter().for_each(|c| push(runs, c, false));
    }
    align(middle, &mut runs);
    for (runs, text) in runs.iter_mut().zip([&one, &other]) {
        text[text.len() - tail..]
            .iter()
            .for_each(|c| push(runs, c, false));
    }
    runs
}

/// How many are the same from the beginning.
fn common<'a>(
    one: impl Iterator<Item = &'a &'a str>,
    other: impl Iterator<Item = &'a &'a str>,
) -> usize {
    one.zip(other)
        .take_while(|(one, other)| one == other)
        .count()
}

fn push(runs: &mut Vec<Run>, text: &str, differs: bool) {
    match runs.last_mut() {
        Some(run) if run.differs == differs => run.text.push_str(text),
        _ => runs.push(Run {
            text: text.to_owned(),
            differs,
        }),
    }
}

fn align([one, other]: [&[&str]; 2], runs: &mut [Vec<Run>; 2]) {
    let width = other.len() + 1;
    if (one.len() + 1).saturating_mul(width) > MOST_CELLS {
        one.iter().for_each(|c| push(&mut runs[0], c, true));
        other.iter().for_each(|c| push(&mut runs[1], c, true));
        return;
    }
    // Edits from each pair of places to the ends.
    let mut edits = vec![0_usize; (one.len() + 1) * width];
    for i in (0..=one.len()).rev() {
        for j in (0..=other.len()).rev() {
            edits[i * width + j] = match (one.get(i), other.get(j)) {
                (None, _) => other.len() - j,
                (_, None) => one.len() - i,
                (Some(a), Some(b)) => {
                    let both = edits[(i + 1) * width + j + 1] + usize::from(a != b);
                    let gap = edits[(i + 1) * width + j].min(edits[i * width + j + 1]) + 1;
                    both.min(gap)
                }
            };
        }
    }
    let (mut i, mut j) = (0, 0);
    while let (Some(a), Some(b)) = (one.get(i), other.get(j)) {
        let now = edits[i * width + j];
        if now == edits[(i + 1) * width + j + 1] + usize::from(a != b) {
            push(&mut runs[0], a, a != b);
            push(&mut runs[1], b, a != b);
            (i, j) = (i + 1, j + 1);
        } else if now == edits[(i + 1) * width + j] + 1 {
            push(&mut runs[0], a, true);
            i += 1;
        } else {
            push(&mut runs[1], b, true);
            j += 1;
        }
    }
    one[i..].iter().for_each(|c| push(&mut runs[0], c, true));
    other[j..].iter().for_each(|c| push(&mut runs[1], c, true));
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Both texts with what differs in brackets.
    fn check(first: &str, second: &str, shown: [&str; 2]) {
        let bracketed = marked(first, second).map(|runs| {
            let pieces = runs.into_iter().map(|run| match run.differs {
                true => format!("[{}]", run.text),
                false => run.text,
            });
            pieces.collect::<String>()
        });
        assert_eq!(bracketed, shown);
    }

    #[test]
    fn marks_as_little_as_it_can() {
        check("PIER", "PIER", ["PIER", "PIER"]);
        check("PIER", "PEER", ["P[I]ER", "P[E]ER"]);
        check("ST. JOHN", "ST JOHN", ["ST[.] JOHN", "ST JOHN"]);
        check("510036", "510063", ["5100[36]", "5100[63]"]);
        check("", "PIER", ["", "[PIER]"]);
        check("MACDONALD", "MCDONALDS", ["M[A]CDONALD", "MCDONALD[S]"]);
        check("E\u{301}A", "EA", ["[E\u{301}]A", "[E]A"]);
        let (long, longer) = ("AB".repeat(2_000), "BA".repeat(2_000));
        let runs = marked(&format!("X{long}Y"), &format!("X{longer}Y"));
        assert_eq!((runs[0].len(), runs[0][1].text.len()), (3, 4_000));
    }
}
