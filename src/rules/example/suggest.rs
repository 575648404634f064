//! Rules suggested from sheets that no rule fits, but whose values somebody keyed.

use super::draft::Part;
use super::find::reads_as;
use super::{Candidate, Example, ExampleError, RuleFiles, candidates, layout};
use crate::rules::{Bench, FieldSpec, Group, Styles};
use crate::value::SheetId;
use serde::Serialize;

/// A rule suggested, with the sheet that it was made from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Suggestion {
    pub sheet: SheetId,
    /// Keyed sheets of its layout that were looked at, itself included.
    pub like: usize,
    /// Keyed values that do not stand on its strip.
    pub missing: Vec<String>,
    pub candidate: Candidate,
}

/// Keyed sheets that are looked at: enough for a dozen layouts, and quickly gone through.
const LOOKED_AT: usize = 150;
/// Suggestions at most. Each costs as much as an example.
const MOST: usize = 3;
/// Examples of one layout that are tried until one gives a rule.
const EXAMPLES: usize = 3;
/// Share of the values keyed that have to be found on a strip.
const FOUND: f64 = 0.6;

/// A keyed sheet with its values marked where they stand.
struct Marked {
    at: usize,
    example: Example,
    missing: Vec<String>,
    ambiguous: usize,
    cost: f64,
    /// Keyed sheets of the same layout but for something that they lack.
    lacking: usize,
    /// Its layout: each line's fields, and its words.
    fields: Vec<String>,
    words: Vec<String>,
}

/// Rules for the layouts of keyed sheets that no rule fits, those first that fit most of all unfitted sheets. Each stands
/// alone; after one is added the others are to be asked for anew.
///
/// # Errors
/// The rule files are at fault.
pub fn suggest(files: &RuleFiles, bench: &Bench) -> Result<Vec<Suggestion>, ExampleError> {
    let book = files.book()?;
    let keyed = bench.group(Group::FittedByNone).into_iter();
    let keyed: Vec<usize> = keyed.filter(|at| !bench.keyed_on(*at).is_empty()).collect();
    let step = keyed.len().div_ceil(LOOKED_AT).max(1);
    let marked = keyed.iter().step_by(step);
    let mut layouts: Vec<Vec<Marked>> = Vec::new();
    for marked in marked.filter_map(|at| Marked::new(*at, bench, book.fields(), files.styles)) {
        match layouts.iter_mut().find(|layout| layout[0].is_like(&marked)) {
            Some(layout) => layout.push(marked),
            None => layouts.push(vec![marked]),
        }
    }
    layouts.sort_by_key(|layout| std::cmp::Reverse(layout.len()));
    fold(&mut layouts);
    let mut suggestions = Vec::new();
    for mut layout in layouts {
        if suggestions.len() == MOST {
            break;
        }
        let like = layout.len() + layout[0].lacking;
        layout.sort_by(|a, b| {
            let doubts = |marked: &Marked| (marked.missing.len(), marked.ambiguous);
            doubts(a).cmp(&doubts(b)).then(a.cost.total_cmp(&b.cost))
        });
        let first = layout.into_iter().take(EXAMPLES).find_map(|marked| {
            let found = candidates(&marked.example, files, bench).ok()?;
            Some((marked, found.into_iter().next()?))
        });
        suggestions.extend(first.map(|(marked, candidate)| Suggestion {
            sheet: bench.sheet(marked.at).clone(),
            like,
            missing: marked.missing,
            candidate,
        }));
    }
    suggestions.sort_by_key(|suggestion| std::cmp::Reverse(suggestion.candidate.fits));
    Ok(suggestions)
}

/// Puts layouts to those that have all they have and more: what they lack may be missing.
fn fold(layouts: &mut Vec<Vec<Marked>>) {
    for at in (0..layouts.len()).rev() {
        let is_whole = |other: &Vec<Marked>| layouts[at][0].is_within(&other[0]);
        let whole = (0..layouts.len()).find(|other| *other != at && is_whole(&layouts[*other]));
        if let Some(whole) = whole {
            let lacking = layouts[at].len() + layouts[at][0].lacking;
            // Only what has everything is taken as an example.
            layouts[whole][0].lacking += lacking;
            layouts.remove(at);
        }
    }
    let size = |layout: &Vec<Marked>| layout.len() + layout[0].lacking;
    layouts.sort_by_key(|layout| std::cmp::Reverse(size(layout)));
}

impl Marked {
    /// `None` where too few of the values stand on the strip.
    fn new(at: usize, bench: &Bench, fields: &[FieldSpec], styles: &Styles) -> Option<Self> {
        let values = bench.keyed_on(at);
        let mut example = Example::of_text(bench.text(at));
        let found = example.mark_values(&values, styles);
        let enough = FOUND * values.len() as f64;
        if example.marks().is_empty() || (example.marks().len() as f64) < enough {
            return None;
        }
        let draft = layout::draft(&example, fields, &[], styles);
        let mut words = Vec::new();
        let mut names = Vec::new();
        for parts in &draft.lines {
            for part in parts {
                match part {
                    Part::Literal(text)
                        if text.chars().filter(|c| c.is_alphabetic()).count() > 1 =>
                    {
                        words.push(text.to_uppercase());
                    }
                    Part::Slot(field) => names.push(draft.fields[*field].slot()),
                    _ => {}
                }
            }
            names.push("\n".to_owned());
        }
        Some(Self {
            at,
            example,
            missing: found.missing,
            ambiguous: found.ambiguous,
            cost: found.cost,
            lacking: 0,
            fields: names,
            words,
        })
    }

    fn is_like(&self, other: &Self) -> bool {
        let mut words = self.words.iter().zip(&other.words);
        self.fields == other.fields
            && self.words.len() == other.words.len()
            && words.all(|(a, b)| reads_as(a, b))
    }

    /// Whether another layout has all fields and words of this one in their order, and more fields.
    fn is_within(&self, other: &Self) -> bool {
        fn in_order<'a>(
            few: &[String],
            mut all: impl Iterator<Item = &'a String>,
            is: fn(&str, &str) -> bool,
        ) -> bool {
            few.iter().all(|one| all.any(|other| is(one, other)))
        }
        self.fields.len() < other.fields.len()
            && in_order(&self.fields, other.fields.iter(), |a, b| a == b)
            && in_order(&self.words, other.words.iter(), reads_as)
    }
}
