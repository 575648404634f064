//! The same harmless difference on many sheets, settled together: a list to look through before anything is written.

use crate::desk::clerk::{Code, Key};
use crate::review::HarmlessGroup;
use crate::value::SheetId;
use std::collections::BTreeSet;

/// Groups to choose from, or the one that was chosen.
#[derive(Debug, Clone, PartialEq)]
pub struct Bulk {
    pub groups: Vec<HarmlessGroup>,
    pub at: usize,
    pub chosen: Option<BulkChoice>,
}

/// A group being looked through.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BulkChoice {
    /// The form that counts, 0 or 1; none until one is chosen.
    pub form: Option<usize>,
    /// The member under the cursor.
    pub at: usize,
    /// Members that are left out.
    pub out: BTreeSet<usize>,
}

impl Bulk {
    pub fn new(groups: Vec<HarmlessGroup>) -> Self {
        Self {
            groups,
            at: 0,
            chosen: None,
        }
    }

    /// The group under the cursor.
    pub fn group(&self) -> Option<&HarmlessGroup> {
        self.groups.get(self.at)
    }

    /// The sheets that would be settled, once a form is chosen.
    pub fn confirmed(&self) -> Option<(usize, Vec<SheetId>)> {
        let chosen = self.chosen.as_ref()?;
        let members = self.group()?.members.iter().enumerate();
        let kept = members.filter(|(at, _)| !chosen.out.contains(at));
        Some((chosen.form?, kept.map(|(_, m)| m.sheet.clone()).collect()))
    }

    /// Moves in the list, chooses a form, leaves a member out; `false` where the key is none for it.
    pub fn press(&mut self, key: Key) -> bool {
        let groups = self.groups.len();
        let members = self.group().map_or(0, |group| group.members.len());
        let Some(chosen) = &mut self.chosen else {
            return step(&mut self.at, groups, key);
        };
        match key.code {
            Code::Left if !key.alt => chosen.form = Some(0),
            Code::Right if !key.alt => chosen.form = Some(1),
            Code::Delete | Code::Backspace => {
                let at = chosen.at;
                if !chosen.out.remove(&at) {
                    chosen.out.insert(at);
                }
            }
            _ => return step(&mut chosen.at, members, key),
        }
        true
    }
}

fn step(at: &mut usize, count: usize, key: Key) -> bool {
    *at = match key.code {
        Code::Up | Code::BackTab => at.saturating_sub(1),
        Code::Down | Code::Tab => (*at + 1).min(count.saturating_sub(1)),
        _ => return false,
    };
    true
}
