//! The job as a lot, and what its inspection found.

use super::{SamplingReport, SheetFacts};
use crate::figures::Share;
use crate::job::QualitySettings;
use crate::journal::Keying;
use crate::review::{Comparer, Comparison, Lot, Merged, Reviewed, judge};
use crate::value::SheetId;
use std::collections::HashSet;

/// The job as one lot. A sheet of the sample is bad where the inspection differs from what would be delivered, until
/// somebody looked at it: that errs on the client's side.
pub(super) fn sampling(
    quality: &QualitySettings,
    comparer: &Comparer,
    sheets: &[SheetFacts],
    pass: u8,
) -> Option<SamplingReport> {
    let all: Vec<SheetId> = sheets.iter().map(|facts| facts.sheet.clone()).collect();
    let lot = Lot::draw(
        &all,
        quality.level,
        quality.quality,
        quality.inspection,
        quality.sample_seed,
    )
    .ok()?;
    let mut found = Share::default();
    let sample = lot.sample.iter().collect::<HashSet<_>>();
    for facts in sheets.iter().filter(|facts| sample.contains(facts.sheet)) {
        if let Some(is_bad) = inspected(facts, comparer, pass) {
            found.count(is_bad);
        }
    }
    let verdict = judge(&lot.plan, lot.size, found);
    Some(SamplingReport { lot, pass, verdict })
}

/// Whether an inspected sheet is bad; none where it was not inspected by somebody who saw nothing of the proposal, or
/// has nothing to inspect yet.
fn inspected(facts: &SheetFacts, comparer: &Comparer, pass: u8) -> Option<bool> {
    let is_blind = |keying: &&Keying| !keying.seen.proposal && !keying.seen.suggestions;
    let keyed = Reviewed::of(facts.history, [1, 2], comparer);
    let truth = keyed.truth().map(Merged::into_keying);
    let differ = |one: &Keying, other: &Keying| !Comparison::of(one, other, comparer).is_agreed();
    if pass == 2 {
        // The inspection is the second keying itself: what is in dispute with it is bad, unless it was settled so.
        let (_, first) = keyed.first?;
        keyed.second.map(|(_, second)| second).filter(is_blind)?;
        return Some(truth.is_none_or(|truth| differ(first, &truth)));
    }
    let inspection = Reviewed::of(facts.history, [1, pass], comparer).second?.1;
    Some(inspection).filter(is_blind)?;
    Some(differ(&truth?, inspection))
}
