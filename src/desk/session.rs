//! One person's sitting at a job: sheets claimed from the journal, opened for the desk, and entries written.

mod proof;
mod second;

use super::clerk::{DeskSheet, Done, FieldPlace, FrozenProposal, Plan, PlannedField};
use crate::job::{JobSettings, Proposer, SecondKeying, propose_again, reading_record};
use crate::journal::{
    Act, ClaimRequest, Desk, Entry, FormatVersion, Holder, JournalError, KeyedRecord, Keying,
    PassState, ProposalRecord, ReadingRecord, Result, SheetRecord, Store, Tally,
};
use crate::reading::{Lying, Reading, SheetReading};
use crate::review::{Lot, Proof};
use crate::rules::{FieldSpec, Source};
use crate::value::{SheetId, SheetState};
use second::keyed_twice;
use std::collections::{HashMap, HashSet, VecDeque};
use std::sync::Arc;

/// Sheets that are claimed at once: a few minutes' work, so that little waits for a clerk who went for coffee.
const RUN: usize = 12;
/// Sheets left of a run at which the next one is claimed.
const FEW: usize = 4;
/// How long a claim holds without a sign of life, in milliseconds.
const LEASE: i64 = 15 * 60 * 1_000;

/// What every sheet of a pass has in common; a second keying may be of chosen fields only.
pub fn plan(settings: &JobSettings, proposer: &Proposer, pass: u8) -> Plan {
    let second = &settings.quality.second_fields;
    let is_keyed = |field: &&FieldSpec| {
        pass == settings.keying.inspection()
            || pass < 2
            || second.is_empty()
            || second.iter().any(|name| *name.get_ref() == field.name)
    };
    let fields = proposer.rules().fields().iter().filter(is_keyed);
    Plan {
        fields: fields
            .map(|field| PlannedField {
                name: field.name.clone(),
                required: field.required,
            })
            .collect(),
        hold_reasons: settings.keying.hold.clone(),
        set_aside_reasons: settings.keying.set_aside.clone(),
        may_overrule: settings.keying.overrule,
        overrule_reasons: settings.keying.overrule_reasons.clone(),
    }
}

/// A sitting; several may go on at once, each in a process of its own.
pub struct Session<'a, S: Store> {
    pub store: &'a mut S,
    settings: &'a JobSettings,
    holder: Holder,
    pass: u8,
    /// All sheets in drawer order, and where each is.
    drawer: Vec<SheetId>,
    places: HashMap<SheetId, usize>,
    /// The same person's entries that stood when the sitting began, the last one at the end.
    own: Vec<(i64, SheetId)>,
    /// The sheets that this pass keys, where those are not all.
    among: Option<Arc<HashSet<SheetId>>>,
    /// These sheets and no others can be opened, and come with nothing filled in.
    is_sample: bool,
    /// What was decided with the client.
    proof: Proof,
    /// Claimed, not yet opened.
    queue: VecDeque<SheetId>,
    last: Option<SheetId>,
}

impl<'a, S: Store> Session<'a, S> {
    pub fn new(
        store: &'a mut S,
        settings: &'a JobSettings,
        holder: Holder,
        pass: u8,
    ) -> Result<Self> {
        let states = store.states(pass)?;
        let own = states
            .iter()
            .filter(|(_, state)| state.by.as_ref() == Some(&holder.by));
        let mut own: Vec<(i64, SheetId)> = own
            .filter_map(|(sheet, state)| Some((state.entry?, sheet.clone())))
            .collect();
        own.sort_unstable_by_key(|(entry, _)| *entry);
        let drawer: Vec<SheetId> = states.into_iter().map(|(sheet, _)| sheet).collect();
        let places = drawer.iter().cloned().zip(0..).collect();
        let is_part = pass > 1 && settings.quality.second != SecondKeying::All;
        let among = if pass == settings.keying.inspection() {
            let lot = Lot::of_job(&settings.quality, &drawer);
            let sample = lot.map_or_else(|_| Vec::new(), |lot| lot.sample);
            Some(Arc::new(sample.into_iter().collect()))
        } else if is_part {
            Some(Arc::new(keyed_twice(store, settings, &drawer)?))
        } else {
            None
        };
        let proof = Proof::of(&store.decisions()?);
        Ok(Self {
            own,
            among,
            is_sample: false,
            proof,
            store,
            settings,
            holder,
            pass,
            drawer,
            places,
            queue: VecDeque::new(),
            last: None,
        })
    }

    pub fn tally(&self) -> Result<Tally> {
        if self.is_sample {
            return self.sample_tally();
        }
        let tally = self.store.tally(self.pass)?;
        Ok(Tally {
            sheets: self
                .among
                .as_ref()
                .map_or(tally.sheets, |among| among.len()),
            ..tally
        })
    }

    fn ask(&self, now: i64) -> ClaimRequest {
        ClaimRequest {
            holder: self.holder.clone(),
            pass: self.pass,
            count: RUN,
            now,
            lease: LEASE,
            behind: self.last.clone(),
            wanted: None,
            held: false,
            among: self.among.clone(),
        }
    }

    /// The next sheet that waits; none when all are done or in other hands. `held`: those that were put off.
    pub fn next(&mut self, now: i64, held: bool) -> Result<Option<DeskSheet>> {
        loop {
            if self.queue.is_empty() {
                let ask = ClaimRequest {
                    held,
                    ..self.ask(now)
                };
                self.queue = self.store.claim(&ask)?.into();
            }
            let Some(sheet) = self.queue.pop_front() else {
                return Ok(None);
            };
            let wanted = if held {
                SheetState::Held
            } else {
                SheetState::Waiting
            };
            let state = self.store.state(&sheet, self.pass)?;
            if state.state == wanted {
                self.store.renew(&self.holder, now + LEASE)?;
                return self.open(&sheet).map(Some);
            }
        }
    }

    /// Claims more before the sheets run out, so that those are prepared too and nobody waits for them.
    pub fn refill(&mut self, now: i64, held: bool) -> Result<()> {
        if self.queue.len() >= FEW {
            return Ok(());
        }
        let ask = ClaimRequest {
            held,
            behind: self.queue.back().or(self.last.as_ref()).cloned(),
            ..self.ask(now)
        };
        for sheet in self.store.claim(&ask)? {
            let is_known = self.last.as_ref() == Some(&sheet) || self.queue.contains(&sheet);
            if !is_known {
                self.queue.push_back(sheet);
            }
        }
        Ok(())
    }

    /// The sheets that come after the one in hand, for preparing their pictures.
    pub fn coming(&self, most: usize) -> Vec<SheetId> {
        self.queue.iter().take(most).cloned().collect()
    }

    /// A certain sheet, if nobody else has it.
    pub fn claim(&mut self, sheet: &SheetId, now: i64) -> Result<Option<DeskSheet>> {
        let ask = ClaimRequest {
            wanted: Some(sheet.clone()),
            ..self.ask(now)
        };
        match self.store.claim(&ask)?.first() {
            Some(sheet) => {
                let sheet = sheet.clone();
                self.open(&sheet).map(Some)
            }
            None => Ok(None),
        }
    }

    /// A certain sheet with what was keyed on it, if nobody else has it.
    pub fn claim_again(&mut self, sheet: &SheetId, now: i64) -> Result<Option<DeskSheet>> {
        let Some(mut opened) = self.claim(sheet, now)? else {
            return Ok(None);
        };
        opened.again = self.keying(sheet, &opened.state)?;
        Ok(Some(opened))
    }

    /// The sheet that a text means, with what was keyed on it.
    ///
    /// # Errors
    /// No sheet is meant, or somebody else has it.
    pub fn open_at(&mut self, text: &str, now: i64) -> Result<DeskSheet> {
        let text = text.to_owned();
        let meant = self.meant(&text);
        let sheet = meant.ok_or(JournalError::NoSuchSheet { text })?;
        let opened = self.claim_again(&sheet, now)?;
        opened.ok_or(JournalError::InOtherHands { sheet })
    }

    /// The sheet that a place in the drawer or a part of a name means, nearest behind the one in hand.
    pub fn meant(&self, text: &str) -> Option<SheetId> {
        let text = text.trim();
        if let Ok(place) = text.parse::<usize>()
            && (1..=self.drawer.len()).contains(&place)
        {
            return Some(self.drawer[place - 1].clone()).filter(|sheet| self.may_open(sheet));
        }
        if let Some(sheet) = self.drawer.iter().find(|sheet| sheet.as_str() == text) {
            return Some(sheet.clone()).filter(|sheet| self.may_open(sheet));
        }
        let wanted = text.to_lowercase();
        let from = self.place_of_last();
        let behind = self.drawer[from..].iter().chain(&self.drawer[..from]);
        let mut named = behind.filter(|sheet| {
            sheet.as_str().to_lowercase().contains(&wanted) && self.may_open(sheet)
        });
        named.next().cloned()
    }

    fn place_of_last(&self) -> usize {
        let last = self.last.as_ref();
        last.and_then(|last| self.places.get(last))
            .copied()
            .unwrap_or(0)
    }

    /// The sheet before the one in hand, in drawer order.
    pub fn before(&self) -> Option<SheetId> {
        let earlier = &self.drawer[..self.place_of_last()];
        let mut earlier = earlier.iter().rev().filter(|sheet| self.may_open(sheet));
        earlier.next().cloned()
    }

    fn open(&mut self, sheet: &SheetId) -> Result<DeskSheet> {
        self.last = Some(sheet.clone());
        self.look_up(sheet)
    }

    /// A sheet as it would come to the desk now.
    pub fn look_up(&self, sheet: &SheetId) -> Result<DeskSheet> {
        let place = self.places.get(sheet).copied().unwrap_or_default();
        let before = match place.checked_sub(1).map(|at| self.drawer[at].clone()) {
            Some(before) => {
                let keyed = self.keyed_records(&before)?;
                keyed.map(|records| (before, records))
            }
            None => None,
        };
        let record = self
            .store
            .sheet(sheet)?
            .ok_or_else(|| JournalError::UnknownSheet {
                sheet: sheet.clone(),
                what: "entry",
            })?;
        let reading = self.store.reading(sheet)?;
        let proposal = self.store.proposal(sheet)?;
        let mut opened = seen(self.settings, &record, self.pass, reading, proposal);
        opened.unfilled |= self.is_sample;
        opened.findings.splice(0..0, self.client_said(sheet));
        Ok(DeskSheet {
            place: place + 1,
            of: self.drawer.len(),
            state: self.store.state(sheet, self.pass)?,
            before,
            ..opened
        })
    }

    /// How a sheet's strip lay when it was read; none where none was found.
    pub fn lying(&self, sheet: &SheetId) -> Result<Option<Lying>> {
        let reading = self.store.reading(sheet)?;
        Ok(reading
            .and_then(|reading| reading.lay)
            .map(|lay| (&lay).into()))
    }

    /// What was keyed on a sheet in this pass and still counts.
    fn keyed_records(&self, sheet: &SheetId) -> Result<Option<Vec<KeyedRecord>>> {
        let keying = self.keying(sheet, &self.store.state(sheet, self.pass)?)?;
        Ok(keying.map(|keying| keying.records))
    }

    /// The keying that a sheet's state stands on.
    pub fn keying(&self, sheet: &SheetId, state: &PassState) -> Result<Option<Keying>> {
        let Some(number) = state.entry else {
            return Ok(None);
        };
        let history = self.store.history(sheet)?;
        let entry = history.into_iter().find(|entry| entry.number == number);
        Ok(entry.and_then(|entry| match entry.act {
            Act::Keyed(keying) => Some(keying),
            _ => None,
        }))
    }

    /// Writes down what was done with the sheet in hand.
    pub fn append(&mut self, sheet: &DeskSheet, act: Act, now: i64) -> Result<i64> {
        let entry = self.entry(&sheet.sheet, act, now);
        self.store.append(&entry, sheet.state.last)
    }

    /// Undoes an entry of one's own and opens its sheet again, with what was keyed.
    pub fn undo(&mut self, done: &Done, now: i64) -> Result<DeskSheet> {
        let last = self.store.state(&done.sheet, self.pass)?.last;
        let act = Act::Undone { entry: done.entry };
        let entry = self.entry(&done.sheet, act, now);
        self.store.append(&entry, last)?;
        if let Some(in_hand) = self.last.take().filter(|sheet| *sheet != done.sheet) {
            self.queue.push_front(in_hand);
        }
        match self.claim(&done.sheet, now)? {
            Some(mut sheet) => {
                sheet.again.clone_from(&done.keying);
                Ok(sheet)
            }
            None => Err(JournalError::NothingToUndo {
                sheet: done.sheet.clone(),
            }),
        }
    }

    fn entry(&self, sheet: &SheetId, act: Act, now: i64) -> Entry {
        Entry {
            format: FormatVersion::CURRENT,
            number: 0,
            sheet: sheet.clone(),
            by: self.holder.by.clone(),
            at: now,
            pass: self.pass,
            desk: Desk::Clerk,
            act,
            extra: Default::default(),
        }
    }

    /// What the same person did last before this sitting and what still counts, the last one at the end; at most so many.
    pub fn recall(&self, most: usize) -> Result<Vec<Done>> {
        let last = self.own[self.own.len().saturating_sub(most)..].iter();
        let mut done = Vec::new();
        for (number, sheet) in last {
            let mut entries = self.store.history(sheet)?.into_iter();
            let entry = entries.find(|entry| entry.number == *number);
            done.extend(entry.and_then(|entry| Done::of(sheet, &entry.act, *number)));
        }
        Ok(done)
    }

    /// Keeps what came of reading a sheet again, with a new proposal and a note in its history.
    pub fn keep_reading(
        &mut self,
        proposer: &Proposer,
        sheet: &SheetId,
        read: SheetReading,
        reader: &str,
        now: i64,
    ) -> Result<()> {
        let record = self
            .store
            .sheet(sheet)?
            .ok_or_else(|| JournalError::UnknownSheet {
                sheet: sheet.clone(),
                what: "reading",
            })?;
        let lying = read.lay.as_ref().map(Lying::from);
        let reading = reading_record(&record, read, reader);
        let place = self.places.get(sheet).copied().unwrap_or_default();
        let proposal = propose_again(self.store, proposer, &self.drawer[..place], &reading)?;
        self.store.put_readings(&[reading])?;
        self.store.put_proposals(&[proposal])?;
        let note = match lying {
            Some(lying) => format!(
                "read again: turned by {} degrees{}{}",
                lying.turned,
                if lying.mirrored { ", mirrored" } else { "" },
                if lying.inverted {
                    ", light on dark"
                } else {
                    ""
                }
            ),
            None => "read again, and no strip was found".to_owned(),
        };
        let last = self.store.state(sheet, self.pass)?.last;
        let entry = self.entry(sheet, Act::Noted { note }, now);
        self.store.append(&entry, last)?;
        Ok(())
    }

    /// Gives back what was claimed and not keyed.
    pub fn end(&mut self) -> Result<()> {
        self.store.release(&self.holder)
    }
}

/// A sheet as a pass sees it, without its place in the drawer and what was keyed.
pub fn seen(
    settings: &JobSettings,
    record: &SheetRecord,
    pass: u8,
    reading: Option<ReadingRecord>,
    proposal: Option<ProposalRecord>,
) -> DeskSheet {
    let has_no_strip = reading
        .as_ref()
        .is_none_or(|record| record.lay.is_none() && record.reading.lines.is_empty());
    let (reading, mut findings) = match reading {
        Some(record) => (record.reading, record.findings),
        None => Default::default(),
    };
    if let Some(proposal) = &proposal {
        findings.extend(proposal.proposal.findings.iter().cloned());
    }
    DeskSheet {
        sheet: record.sheet.clone(),
        pass,
        content_hash: record.content_hash.clone(),
        has_no_strip,
        proposal: proposal.map(|record| frozen(record, &reading)),
        reading,
        findings,
        sees_proposal: settings.keying.pass_sees_proposal(pass),
        unfilled: settings.keying.is_unfilled(&record.sheet),
        ..DeskSheet::default()
    }
}

/// A proposal with the places on the strip that its fields were taken from: by the best rule, or by the best of those that
/// have the field.
pub fn frozen(record: ProposalRecord, reading: &Reading) -> FrozenProposal {
    let mut places: Vec<FieldPlace> = Vec::new();
    for taken in record.extractions.iter().flat_map(|rule| &rule.fields) {
        let is_known =
            |place: &FieldPlace| (&place.field, place.record) == (&taken.field, taken.record);
        if places.iter().any(is_known) {
            continue;
        }
        let line = reading.lines.get(taken.line);
        let positions = line.and_then(|line| line.positions.get(taken.positions.clone()));
        let positions = positions.unwrap_or_default().iter();
        places.push(FieldPlace {
            field: taken.field.clone(),
            record: taken.record,
            characters: positions
                .map(|position| {
                    let best = &position.alternatives[0];
                    (best.text.clone(), position.bounds, best.probability.get())
                })
                .collect(),
            is_ditto: taken.source == Source::Ditto,
        });
    }
    FrozenProposal {
        key: record.key,
        proposal: record.proposal,
        places,
    }
}
