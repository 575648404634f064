//! What a sheet's entries come to: the state that the journal keeps beside them, and that a replay must give again;
//! and which entries are accepted at all.

use super::JournalError;
use super::entry::{Act, Entry};
use crate::value::SheetState;
use serde::{Deserialize, Serialize};

/// Where one sheet stands in one pass.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct PassState {
    /// [`SheetState::Waiting`], `Keyed`, `Settled`, `Held` or `SetAside`; what the passes come to together is for
    /// `review`.
    pub state: SheetState,
    /// The last entry of this pass that made or unmade a state; none while nobody touched the sheet.
    pub last: Option<i64>,
    /// The entry that the state stands on.
    pub entry: Option<i64>,
    /// Who made that entry.
    pub by: Option<String>,
    /// Everybody who ever keyed or settled the sheet in this pass, whether that still counts or not: they have seen it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub keyers: Vec<String>,
}

/// How many sheets stand where in a pass; the rest wait.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    pub sheets: usize,
    pub keyed: usize,
    pub held: usize,
    pub set_aside: usize,
}

impl Tally {
    /// Counts sheets of this state; waiting ones are the rest.
    pub fn add(&mut self, state: SheetState, count: usize) {
        match state {
            SheetState::Waiting => {}
            SheetState::Held => self.held += count,
            SheetState::SetAside => self.set_aside += count,
            _ => self.keyed += count,
        }
    }

    pub fn waiting(&self) -> usize {
        self.sheets
            .saturating_sub(self.keyed + self.held + self.set_aside)
    }
}

impl PassState {
    pub fn is_keyed(&self) -> bool {
        self.state == SheetState::Keyed
    }
}

/// The state that these entries of one sheet and one pass come to, in the order of their numbers.
///
/// An undone entry counts as if it had never been; what stood before it counts again. An undoing of somebody else's
/// entry, or of one that is not there, does nothing (the store refuses it; here it is only kept from doing harm).
pub fn replay<'a>(entries: impl IntoIterator<Item = &'a Entry>) -> PassState {
    let mut standing: Vec<&Entry> = Vec::new();
    let mut keyers: Vec<String> = Vec::new();
    let mut last = None;
    for entry in entries {
        let is_keying = matches!(entry.act, Act::Keyed(_) | Act::Settled(_));
        if is_keying && !keyers.contains(&entry.by) {
            keyers.push(entry.by.clone());
        }
        match &entry.act {
            Act::Undone { entry: undone } => {
                standing.retain(|e| e.number != *undone || e.by != entry.by);
            }
            Act::Noted { .. } => continue,
            Act::Keyed(_)
            | Act::Settled(_)
            | Act::Held { .. }
            | Act::SetAside { .. }
            | Act::Returned => standing.push(entry),
        }
        last = Some(entry.number);
    }
    let Some(top) = standing.last() else {
        return PassState {
            last,
            keyers,
            ..PassState::default()
        };
    };
    let state = match top.act {
        Act::Keyed(_) => SheetState::Keyed,
        Act::Settled(_) => SheetState::Settled,
        Act::Held { .. } => SheetState::Held,
        Act::SetAside { .. } => SheetState::SetAside,
        Act::Returned | Act::Noted { .. } | Act::Undone { .. } => SheetState::Waiting,
    };
    PassState {
        state,
        last,
        entry: Some(top.number),
        by: Some(top.by.clone()),
        keyers,
    }
}

/// Whether an entry may follow these, which are all of its sheet; `after` is [`PassState::last`] as its desk knew it.
///
/// # Errors
/// Somebody else was faster; an undoing of what is not the person's own standing entry; a second keying by who did the
/// first, or a settlement by who keyed. Nothing is written then.
pub fn accept(entry: &Entry, earlier: &[Entry], after: Option<i64>) -> Result<(), JournalError> {
    let sheet = || entry.sheet.clone();
    let pass: Vec<&Entry> = earlier.iter().filter(|e| e.pass == entry.pass).collect();
    if let Act::Noted { .. } = entry.act {
        return Ok(());
    }
    let now = replay(pass.iter().copied());
    if now.last != after {
        let by = pass.iter().rfind(|e| Some(e.number) == now.last);
        return Err(JournalError::Overtaken {
            sheet: sheet(),
            by: by.map_or_else(|| "somebody".to_owned(), |e| e.by.clone()),
            state: now.state,
        });
    }
    match &entry.act {
        Act::Undone { entry: undone } => {
            let target = pass.iter().find(|e| e.number == *undone);
            let stands = |e: &&&Entry| now.entry == Some(e.number);
            match target.filter(stands) {
                Some(target) if target.by == entry.by => Ok(()),
                Some(target) => Err(JournalError::NotOwn {
                    sheet: sheet(),
                    by: target.by.clone(),
                }),
                None => Err(JournalError::NothingToUndo { sheet: sheet() }),
            }
        }
        Act::Keyed(_) | Act::Settled(_) => {
            // Whoever keyed it before has seen it, whether that still counts or not.
            let same = earlier.iter().any(|other| {
                let is_keying = matches!(other.act, Act::Keyed(_) | Act::Settled(_));
                is_keying && other.pass != entry.pass && other.by == entry.by
            });
            match same {
                true => Err(JournalError::SamePerson {
                    sheet: sheet(),
                    by: entry.by.clone(),
                }),
                false => Ok(()),
            }
        }
        _ => Ok(()),
    }
}
