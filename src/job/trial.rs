//! What changed rules would make of the sheets that were read, beside what was made of them. Nothing is kept.

use super::propose::on_all_cores;
use super::{Job, JobError, Proposer, Seen, proposer, read_text, rule_book, rule_files};
use crate::journal::{ProposalRecord, ReadingRecord, Store};
use crate::proposal::{Before, Proposal};
use crate::rules::Extraction;
use crate::value::SheetId;
use std::path::Path;

/// Sheets that are tried at a time; their readings are in memory together.
const BATCH: usize = 256;

/// A sheet's proposals by the rules before and by those that are tried.
#[derive(Debug, Clone, PartialEq)]
pub struct Tried {
    pub sheet: SheetId,
    /// `None` where the journal was asked and holds none.
    pub before: Option<Proposal>,
    pub now: Proposal,
}

/// A sheet's reading, and what the journal holds as proposed from it.
type Kept = (ReadingRecord, Option<ProposalRecord>);

impl<S: Store> Job<S> {
    /// A proposer by this job's rules with `file` in the place of the rule file of the same name.
    ///
    /// # Errors
    /// No rule file has that name, or several have; every fault of the rules, each with its place.
    pub fn proposer_with(&self, file: &Path) -> Result<Proposer, JobError> {
        let mut files = rule_files(&self.settings)?;
        let replaced: Vec<usize> = (0..files.len())
            .filter(|&at| Path::new(&files[at].0).file_name() == file.file_name())
            .collect();
        let &[at] = replaced.as_slice() else {
            let names: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
            return Err(JobError::ReplacesNone {
                file: file.to_owned(),
                matching: replaced.len(),
                known: names.join(", "),
            });
        };
        files[at] = (
            file.display().to_string(),
            read_text(file, "a rule file in UTF-8")?,
        );
        let rules = rule_book(&self.settings, &files)?;
        Ok(proposer(&self.settings, &self.text, rules)?.0)
    }

    /// Proposes for every sheet that was read by these rules, and hands it on beside what was proposed before: by the
    /// proposer given, else what the journal holds. In drawer order; `progress` is told how many of how many are done.
    pub fn try_rules(
        &self,
        before: Option<&Proposer>,
        now: &Proposer,
        mut progress: impl FnMut(usize, usize),
        mut each: impl FnMut(Tried),
    ) -> Result<(), JobError> {
        let mut read = self.store.overview()?;
        read.retain(|status| status.reading_key.is_some());
        let mut earlier = (Before::default(), Before::default());
        let mut done = 0;
        for batch in read.chunks(BATCH) {
            let mut sheets: Vec<Kept> = Vec::with_capacity(batch.len());
            for status in batch {
                let sheet = &status.record.sheet;
                if let Some(reading) = self.store.reading(sheet)? {
                    sheets.push((reading, self.store.proposal(sheet)?));
                }
            }
            let made_before = before.map(|before| propose(before, &sheets, &mut earlier.0, None));
            let alike = before.filter(|before| before.differs_in_rules_only(now));
            let known = alike.and(made_before.as_deref());
            let made_now = propose(now, &sheets, &mut earlier.1, known);
            let mut made_before = made_before.map(Vec::into_iter);
            for ((reading, kept), now) in sheets.into_iter().zip(made_now) {
                let before = match &mut made_before {
                    Some(made) => made.next().map(|made| made.proposal),
                    None => kept.map(|kept| kept.proposal),
                };
                each(Tried {
                    sheet: reading.sheet,
                    before,
                    now: now.proposal,
                });
            }
            done += batch.len();
            progress(done, read.len());
        }
        Ok(())
    }
}

/// What a proposer made of a sheet.
struct Made {
    extractions: Vec<Extraction>,
    proposal: Proposal,
}

/// What one proposer makes of sheets in drawer order. What the journal holds and still holds good is taken from there;
/// so is what the rules took out just as for `known`, the same sheets by a proposer that differs in rules only: to
/// propose takes ten times as long as to apply the rules.
fn propose(
    proposer: &Proposer,
    sheets: &[Kept],
    before: &mut Before,
    known: Option<&[Made]>,
) -> Vec<Made> {
    let extract = |(reading, kept): &Kept| -> Vec<Extraction> {
        let base = proposer.base_key(&reading.key);
        match kept {
            Some(kept) if kept.key.split(' ').next() == Some(&base) => kept.extractions.clone(),
            _ => proposer.extract(&Seen::from(reading)),
        }
    };
    let propose = |(reading, kept): &Kept, extractions: &[Extraction], before: &Before| match kept {
        Some(kept) if kept.key == proposer.key_for(&reading.key, before) => kept.proposal.clone(),
        _ => proposer.propose(&Seen::from(reading), extractions, before),
    };
    let numbered: Vec<(usize, &Kept)> = sheets.iter().enumerate().collect();
    if !proposer.looks_back() {
        let none = Before::default();
        return on_all_cores(&numbered, |&(at, sheet)| {
            let extractions = extract(sheet);
            let same = known
                .map(|known| &known[at])
                .filter(|known| known.extractions == extractions);
            let proposal = match same {
                Some(known) => known.proposal.clone(),
                None => propose(sheet, &extractions, &none),
            };
            Made {
                extractions,
                proposal,
            }
        });
    }
    let extracted = on_all_cores(sheets, extract);
    let each = sheets.iter().zip(extracted);
    each.map(|(sheet, extractions)| {
        let proposal = propose(sheet, &extractions, before);
        before.pass(&sheet.0.sheet, &proposal);
        Made {
            extractions,
            proposal,
        }
    })
    .collect()
}
