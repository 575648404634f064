//! The job as a lot, and what its inspection found.

use super::{SamplingReport, SheetFacts};
use crate::figures::Share;
use crate::job::QualitySettings;
use crate::journal::Keying;
use crate::review::{Comparer, Comparison, Lot, Merged, Reviewed, judge};
use crate::value::{SheetId, SheetState};
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
    let lot = Lot::of_job(quality, &all).ok()?;
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
    // What would be delivered: of a sheet that is keyed once, that keying.
    let delivered = match (&truth, keyed.state) {
        (Some(truth), _) => truth,
        (None, SheetState::Keyed) => keyed.first?.1,
        _ => return None,
    };
    Some(differ(delivered, inspection))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::{Act, Entry, SETTLEMENT_PASS, Seen, Settlement};
    use crate::review::testing::{entry, keying};

    fn keyed(number: i64, pass: u8, surname: &str, sees: bool) -> Entry {
        let seen = Seen {
            proposal: sees,
            ..Seen::default()
        };
        let keying = Keying {
            seen,
            ..keying(surname, "1")
        };
        entry(number, &format!("person {pass}"), pass, Act::Keyed(keying))
    }

    fn check(history: &[Entry], pass: u8, is_bad: Option<bool>) {
        let sheet = SheetId::new("a/1.png");
        let facts = SheetFacts {
            sheet: &sheet,
            history,
            rule: None,
            second: None,
        };
        let found = inspected(&facts, &Comparer::default(), pass);
        assert_eq!(found, is_bad, "{history:?}");
    }

    #[test]
    fn a_sheet_is_bad_where_a_blind_inspection_differs() {
        let first = keyed(1, 1, "PIER", true);
        let settled = |surname| {
            let settlement = Settlement {
                of: [1, 2],
                records: keying(surname, "1").records,
                ..Settlement::default()
            };
            entry(3, "rio", SETTLEMENT_PASS, Act::Settled(settlement))
        };
        // Keyed once: the second keying is the inspection, and a settlement has the last word.
        check(std::slice::from_ref(&first), 2, None);
        for (surname, sees, is_bad) in [
            ("PIER", false, Some(false)),
            ("PEER", false, Some(true)),
            ("PEER", true, None),
        ] {
            check(&[first.clone(), keyed(2, 2, surname, sees)], 2, is_bad);
        }
        let disputed = [first.clone(), keyed(2, 2, "PEER", false)];
        check(
            &[&disputed[..], &[settled("PIER")]].concat(),
            2,
            Some(false),
        );
        check(&[&disputed[..], &[settled("PEER")]].concat(), 2, Some(true));
        // Keyed twice: the third is laid beside what would be delivered, if that is known yet.
        let inspection = keyed(4, 3, "PIER", false);
        let with = |more: Entry| [&disputed[..], &[more, inspection.clone()]].concat();
        check(
            &[&disputed[..], std::slice::from_ref(&inspection)].concat(),
            3,
            None,
        );
        check(&with(settled("PIER")), 3, Some(false));
        check(&with(settled("PEER")), 3, Some(true));
        check(&[first, inspection], 3, Some(false));
    }
}
