//! The sheets of a second pass.

use crate::job::{JobSettings, SecondKeying};
use crate::journal::{Result, Store};
use crate::review::second_keying;
use crate::value::SheetId;
use std::collections::HashSet;

/// The sheets that get a second keying.
pub(super) fn keyed_twice<S: Store>(
    store: &S,
    settings: &JobSettings,
    drawer: &[SheetId],
) -> Result<HashSet<SheetId>> {
    let needs_proposals = settings.quality.second == SecondKeying::Doubtful;
    let mut chosen = HashSet::new();
    for sheet in drawer {
        let proposal = match needs_proposals {
            true => store.proposal(sheet)?.map(|record| record.proposal),
            false => None,
        };
        let seed = settings.keying.seed;
        if second_keying(&settings.quality, seed, sheet, proposal.as_ref()).is_some() {
            chosen.insert(sheet.clone());
        }
    }
    Ok(chosen)
}
