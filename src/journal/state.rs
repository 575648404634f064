//! What a sheet's entries come to: the state that the journal keeps beside them, and that a replay must give again.

use super::entry::{Act, Entry};
use crate::value::SheetState;

/// Where one sheet stands in one pass.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PassState {
    /// [`SheetState::Waiting`], `Keyed`, `Held` or `SetAside`; what two passes come to together is for `review`.
    pub state: SheetState,
    /// The entry that made it so; none while the sheet waits untouched.
    pub entry: Option<i64>,
    /// Who made it so.
    pub by: Option<String>,
}

/// The state that these entries of one sheet and one pass come to, in the order of their numbers.
///
/// An undone entry counts as if it had never been; what stood before it counts again. An undoing of somebody else's
/// entry, or of one that is not there, does nothing (the store refuses it; here it is only kept from doing harm).
pub fn replay<'a>(entries: impl IntoIterator<Item = &'a Entry>) -> PassState {
    let mut standing: Vec<&Entry> = Vec::new();
    for entry in entries {
        match &entry.act {
            Act::Undone { entry: undone } => {
                standing.retain(|e| e.number != *undone || e.by != entry.by);
            }
            Act::Noted { .. } => {}
            Act::Keyed(_) | Act::Held { .. } | Act::SetAside { .. } | Act::Returned => {
                standing.push(entry);
            }
        }
    }
    let Some(last) = standing.last() else {
        return PassState::default();
    };
    let state = match last.act {
        Act::Keyed(_) => SheetState::Keyed,
        Act::Held { .. } => SheetState::Held,
        Act::SetAside { .. } => SheetState::SetAside,
        Act::Returned | Act::Noted { .. } | Act::Undone { .. } => SheetState::Waiting,
    };
    PassState {
        state,
        entry: Some(last.number),
        by: Some(last.by.clone()),
    }
}
