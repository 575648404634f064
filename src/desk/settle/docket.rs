//! The sheets in dispute: found in the journal, handed out one by one, settled.

use super::case::{Case, Keyed};
use super::reviewer::Done;
use super::verdict::settle;
use crate::desk::clerk::Knowledge;
use crate::desk::session::frozen;
use crate::job::JobSettings;
use crate::journal::{
    Act, ClaimRequest, Desk, Entry, FormatVersion, Holder, JournalError, Result, SETTLEMENT_PASS,
    Settlement, Store,
};
use crate::review::{Comparer, Comparison, HarmlessGroup, Reviewed, harmless_groups};
use crate::value::{SheetId, SheetState};
use std::collections::{BTreeMap, HashMap, HashSet};

/// How long a claim holds without a sign of life, in milliseconds.
const LEASE: i64 = 15 * 60 * 1_000;
/// Entries read at a time.
const PAGE: usize = 1_000;

/// One reviewer's sitting.
pub struct Docket<'a, S: Store> {
    pub store: &'a mut S,
    settings: &'a JobSettings,
    comparer: Comparer,
    holder: Holder,
    /// Sheets that were put off come too.
    held: bool,
    drawer: Vec<SheetId>,
    places: HashMap<SheetId, usize>,
    histories: HashMap<SheetId, Vec<Entry>>,
    /// The last entry that was looked at.
    seen: i64,
    /// Sheets in dispute that this person may settle, by their place in the drawer.
    open: BTreeMap<usize, SheetId>,
    /// Sheets in dispute that this person keyed.
    own: HashSet<SheetId>,
    settled: HashSet<SheetId>,
    in_hand: Option<SheetId>,
}

impl<'a, S: Store> Docket<'a, S> {
    pub fn new(
        store: &'a mut S,
        settings: &'a JobSettings,
        comparer: Comparer,
        holder: Holder,
        held: bool,
    ) -> Result<Self> {
        let states = store.states(SETTLEMENT_PASS)?.into_iter();
        let drawer: Vec<SheetId> = states.map(|(sheet, _)| sheet).collect();
        let mut docket = Self {
            store,
            settings,
            comparer,
            holder,
            held,
            places: drawer.iter().cloned().zip(0..).collect(),
            drawer,
            histories: HashMap::new(),
            seen: 0,
            open: BTreeMap::new(),
            own: HashSet::new(),
            settled: HashSet::new(),
            in_hand: None,
        };
        docket.look()?;
        Ok(docket)
    }

    /// Looks at what was written since.
    fn look(&mut self) -> Result<()> {
        let mut touched = HashSet::new();
        loop {
            let page = self.store.entries(self.seen, PAGE)?;
            let Some(last) = page.last() else { break };
            self.seen = last.number;
            for entry in page {
                touched.insert(entry.sheet.clone());
                self.histories
                    .entry(entry.sheet.clone())
                    .or_default()
                    .push(entry);
            }
        }
        for sheet in touched {
            let Some(&place) = self.places.get(&sheet) else {
                continue;
            };
            let history = &self.histories[&sheet];
            let reviewed = Reviewed::of(history, [1, 2], &self.comparer);
            let wanted = match self.held {
                true => SheetState::Held,
                false => SheetState::InDispute,
            };
            let is_disputed = reviewed
                .comparison
                .as_ref()
                .is_some_and(|comparison| !comparison.is_agreed());
            let is_open = reviewed.state == wanted && is_disputed;
            let may = reviewed.may_settle(&self.holder.by);
            self.open.remove(&place);
            self.own.remove(&sheet);
            self.settled.remove(&sheet);
            if reviewed.state == SheetState::Settled {
                self.settled.insert(sheet);
            } else if is_open && may {
                self.open.insert(place, sheet);
            } else if is_open {
                self.own.insert(sheet);
            }
        }
        Ok(())
    }

    /// Sheets in dispute that this person may settle, that he or she may not, and sheets settled.
    pub fn counts(&self) -> [usize; 3] {
        [self.open.len(), self.own.len(), self.settled.len()]
    }

    /// The next sheet in dispute behind the one in hand that nobody else has, from the start on again.
    pub fn next(&mut self, now: i64) -> Result<Option<Case>> {
        self.look()?;
        let from = self.place_in_hand().map_or(0, |at| at + 1);
        let behind = self.open.range(from..).chain(self.open.range(..from));
        let sheets: Vec<SheetId> = behind.map(|(_, sheet)| sheet.clone()).collect();
        self.first_free(sheets, now)
    }

    /// The sheet in dispute before the one in hand.
    pub fn before(&mut self, now: i64) -> Result<Option<Case>> {
        self.look()?;
        let from = self.place_in_hand().unwrap_or(0);
        let before = self.open.range(..from).rev();
        let sheets: Vec<SheetId> = before.map(|(_, sheet)| sheet.clone()).collect();
        self.first_free(sheets, now)
    }

    fn place_in_hand(&self) -> Option<usize> {
        self.places.get(self.in_hand.as_ref()?).copied()
    }

    fn first_free(&mut self, sheets: Vec<SheetId>, now: i64) -> Result<Option<Case>> {
        for sheet in sheets {
            if self.claim(&sheet, now)? {
                return self.open(&sheet).map(Some);
            }
        }
        Ok(None)
    }

    fn claim(&mut self, sheet: &SheetId, now: i64) -> Result<bool> {
        self.store.release(&self.holder)?;
        let ask = ClaimRequest {
            holder: self.holder.clone(),
            pass: SETTLEMENT_PASS,
            count: 1,
            now,
            lease: LEASE,
            behind: None,
            wanted: Some(sheet.clone()),
            held: false,
            among: None,
        };
        Ok(!self.store.claim(&ask)?.is_empty())
    }

    /// The sheets that come next, for preparing their pictures.
    pub fn coming(&self, most: usize) -> Vec<SheetId> {
        let from = self.place_in_hand().map_or(0, |at| at + 1);
        let behind = self.open.range(from..).take(most);
        behind.map(|(_, sheet)| sheet.clone()).collect()
    }

    fn open(&mut self, sheet: &SheetId) -> Result<Case> {
        self.in_hand = Some(sheet.clone());
        self.case(sheet)
    }

    fn case(&self, sheet: &SheetId) -> Result<Case> {
        let gone = || JournalError::UnknownSheet {
            sheet: sheet.clone(),
            what: "settlement",
        };
        let history = self.histories.get(sheet).ok_or_else(gone)?;
        let reviewed = Reviewed::of(history, [1, 2], &self.comparer);
        let keyed = |keying: Option<(&Entry, &crate::journal::Keying)>| {
            keying.map(|(entry, keying)| Keyed {
                entry: entry.number,
                keying: keying.clone(),
            })
        };
        let (first, second) = (keyed(reviewed.first), keyed(reviewed.second));
        let reading = self.store.reading(sheet)?;
        let has_no_strip = reading
            .as_ref()
            .is_none_or(|record| record.lay.is_none() && record.reading.lines.is_empty());
        let (reading, findings) =
            reading.map_or_else(Default::default, |record| (record.reading, record.findings));
        let proposal = self.store.proposal(sheet)?;
        Ok(Case {
            sheet: sheet.clone(),
            of: self.open.len(),
            first: first.ok_or_else(gone)?,
            second: second.ok_or_else(gone)?,
            comparison: reviewed.comparison.ok_or_else(gone)?,
            seed: self.settings.keying.seed,
            has_no_strip,
            proposal: proposal.map(|record| frozen(record, &reading)),
            reading,
            findings,
            last: self.store.state(sheet, SETTLEMENT_PASS)?.last,
        })
    }

    /// Writes down what was done with one sheet; gives the entry's number.
    pub fn append(
        &mut self,
        sheet: &SheetId,
        act: Act,
        after: Option<i64>,
        now: i64,
    ) -> Result<i64> {
        let entry = Entry {
            format: FormatVersion::CURRENT,
            number: 0,
            sheet: sheet.clone(),
            by: self.holder.by.clone(),
            at: now,
            pass: SETTLEMENT_PASS,
            desk: Desk::Reviewer,
            act,
            extra: Default::default(),
        };
        self.store.append(&entry, after)
    }

    /// The same harmless differences over all sheets that this person may settle.
    pub fn harmless(&mut self) -> Result<Vec<HarmlessGroup>> {
        self.look()?;
        let mut comparisons: Vec<(SheetId, Comparison)> = Vec::new();
        for sheet in self.open.values() {
            let reviewed = Reviewed::of(&self.histories[sheet], [1, 2], &self.comparer);
            comparisons.extend(reviewed.comparison.map(|c| (sheet.clone(), c)));
        }
        let sheets = comparisons.iter().map(|(sheet, c)| (sheet, c));
        Ok(harmless_groups(sheets, &self.comparer))
    }

    /// Settles those of the sheets whose only difference is the group's. Gives what was done, and how many sheets stay
    /// in dispute about something else or are in other hands.
    pub fn settle_group(
        &mut self,
        group: &HarmlessGroup,
        form: usize,
        sheets: &[SheetId],
        knowledge: &dyn Knowledge,
        now: i64,
    ) -> Result<(Done, usize)> {
        let bulk = format!("{}: {:?}, {}", group.field, group.sort, group.forms[form]);
        let (mut done, mut left) = (Done::default(), 0);
        for sheet in sheets {
            let decisions = group.take(form).filter(|(of, _)| *of == sheet);
            let decisions: Vec<_> = decisions.map(|(_, decision)| decision).collect();
            if !self.claim(sheet, now)? {
                left += 1;
                continue;
            }
            let case = self.case(sheet)?;
            let Ok(settlement) = settle(&case, &decisions, knowledge) else {
                left += 1;
                continue;
            };
            let act = Act::Settled(Settlement {
                bulk: Some(bulk.clone()),
                ..settlement
            });
            let number = self.append(sheet, act, case.last, now)?;
            done.entries.push((sheet.clone(), number));
        }
        done.words = format!(
            "{} sheets settled together, {}",
            done.entries.len(),
            group.field
        );
        self.look()?;
        Ok((done, left))
    }

    /// Undoes settlements of one's own, the last first, and opens the last sheet of them.
    pub fn undo(&mut self, done: &Done, now: i64) -> Result<Option<Case>> {
        for (sheet, entry) in done.entries.iter().rev() {
            let last = self.store.state(sheet, SETTLEMENT_PASS)?.last;
            self.append(sheet, Act::Undone { entry: *entry }, last, now)?;
        }
        self.look()?;
        match done.entries.first() {
            Some((sheet, _)) if self.claim(sheet, now)? => self.open(sheet).map(Some),
            _ => Ok(None),
        }
    }

    /// Gives back what was claimed and not settled.
    pub fn end(&mut self) -> Result<()> {
        self.store.release(&self.holder)
    }

    /// Sheets of the drawer.
    pub fn sheets(&self) -> usize {
        self.drawer.len()
    }
}
