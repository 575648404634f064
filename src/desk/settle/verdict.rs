//! What counts of a sheet once its differences are decided.

use super::case::Case;
use crate::desk::clerk::Knowledge;
use crate::journal::{KeyedRecord, KeyedValue, Settlement};
use crate::review::{Decision, Take, merge};

/// What counts of a sheet by these decisions; in words what is still open.
pub(super) fn settle(
    case: &Case,
    decisions: &[Decision],
    knowledge: &dyn Knowledge,
) -> Result<Settlement, String> {
    let (first, second) = (&case.first.keying, &case.second.keying);
    let following = case.comparison.disputes().map(|dispute| &dispute.at);
    let following = following.filter(|at| case.follows(at)).cloned();
    let following = following.map(|at| Decision {
        at,
        take: Take::Row(None),
    });
    let all: Vec<Decision> = decisions.iter().cloned().chain(following).collect();
    let mut merged =
        merge(first, second, &case.comparison, &all).map_err(|open| open.to_string())?;
    let was_linked = [first, second]
        .into_iter()
        .flat_map(|keying| &keying.records)
        .any(|record| record.roster_key.is_some());
    let says_none = |decision: &Decision| decision.take == Take::Row(None);
    if was_linked && !decisions.iter().any(says_none) {
        for record in &mut merged.records {
            link(record, knowledge);
        }
    }
    Ok(Settlement {
        of: [case.first.entry, case.second.entry],
        kind: merged.kind,
        records: merged.records,
        decided: merged.decided,
        ..Settlement::default()
    })
}

/// Links a record that lost its row to the one that its values mean now.
fn link(record: &mut KeyedRecord, knowledge: &dyn Knowledge) {
    if record.roster_key.is_some() {
        return;
    }
    let values: Vec<(&str, String)> = record
        .fields
        .iter()
        .filter_map(|field| match &field.value {
            KeyedValue::Text(text) => Some((field.field.as_str(), text.clone())),
            _ => None,
        })
        .collect();
    let likely = knowledge.likely(&values, 1);
    let Some(row) = likely.meant() else {
        return;
    };
    record.roster_key = Some(row.key.clone());
    for field in &mut record.fields {
        field.as_roster = row.says(&field.field).map(str::to_owned);
    }
}
