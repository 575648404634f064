//! A job's sheets proposed, those only whose reading, rules, roster or sheets before them changed.

use super::{Job, JobError, Proposer, Seen};
use crate::journal::{ProposalRecord, ReadingRecord, SheetStatus, Store};
use crate::proposal::Before;
use crate::rules::Extraction;
use crate::value::{SheetId, SheetKind, drawer_order};
use std::thread;

/// Sheets that are proposed at a time and kept in one transaction.
const BATCH: usize = 256;

impl<S: Store> Job<S> {
    /// Proposes for every sheet whose reading, rules, roster or sheets before it changed since. `progress` is told how
    /// many of how many were looked at; returns how many were proposed.
    pub fn propose(&mut self, mut progress: impl FnMut(usize, usize)) -> Result<usize, JobError> {
        let mut read = self.store.overview()?;
        read.retain(|status| status.reading_key.is_some());
        if self.proposer.looks_back() {
            read.sort_by(|a, b| drawer_order(a.record.sheet.as_str(), b.record.sheet.as_str()));
        } else {
            let proposer = &self.proposer;
            read.retain(|status| is_stale(proposer, status));
        }
        let (mut done, mut proposed) = (0, 0);
        let mut before = Before::default();
        for batch in read.chunks(BATCH) {
            let records = self.propose_batch(batch, &mut before)?;
            self.store.put_proposals(&records)?;
            done += batch.len();
            proposed += records.len();
            progress(done, read.len());
        }
        Ok(proposed)
    }

    /// Applies the rules on all cores; then proposes one sheet after the other, each with what stands before it.
    fn propose_batch(
        &self,
        batch: &[SheetStatus],
        before: &mut Before,
    ) -> Result<Vec<ProposalRecord>, JobError> {
        let proposer = &self.proposer;
        if !proposer.looks_back() {
            let readings = self.readings(batch)?;
            return Ok(on_all_cores(&readings, |reading| {
                let extractions = proposer.extract(&Seen::from(reading));
                proposer.record(reading, extractions, before)
            }));
        }
        let stale: Vec<SheetStatus> = batch
            .iter()
            .filter(|status| is_stale(proposer, status))
            .cloned()
            .collect();
        let readings = self.readings(&stale)?;
        let extracted: Vec<Vec<Extraction>> =
            on_all_cores(&readings, |reading| proposer.extract(&Seen::from(reading)));
        let mut extracted = readings.into_iter().zip(extracted).peekable();
        let mut records = Vec::new();
        for status in batch {
            let sheet = &status.record.sheet;
            let (reading, extractions) = match extracted.next_if(|(r, _)| r.sheet == *sheet) {
                Some(found) => found,
                None => {
                    let key = status.reading_key.as_deref().unwrap_or_default();
                    let kept = self.store.proposal(sheet)?;
                    let reading = self.store.reading(sheet)?;
                    match (kept, reading) {
                        (Some(kept), _) if kept.key == proposer.key_for(key, before) => {
                            before.pass(sheet, &kept.proposal);
                            continue;
                        }
                        // The rules say the same as before; only the sheets before it changed.
                        (Some(kept), Some(reading)) => (reading, kept.extractions),
                        _ => continue,
                    }
                }
            };
            let record = proposer.record(&reading, extractions, before);
            before.pass(sheet, &record.proposal);
            records.push(record);
        }
        Ok(records)
    }

    fn readings(&self, batch: &[SheetStatus]) -> Result<Vec<ReadingRecord>, JobError> {
        let mut readings = Vec::with_capacity(batch.len());
        for status in batch {
            readings.extend(self.store.reading(&status.record.sheet)?);
        }
        Ok(readings)
    }
}

/// Proposes for one sheet that was read anew; `earlier` are the sheets before it in the drawer.
pub fn propose_again<S: Store>(
    store: &S,
    proposer: &Proposer,
    earlier: &[SheetId],
    reading: &ReadingRecord,
) -> crate::journal::Result<ProposalRecord> {
    let mut found = Vec::new();
    // Back to the last divider, with the last record behind it on the way.
    for sheet in earlier.iter().rev().filter(|_| proposer.looks_back()) {
        let Some(kept) = store.proposal(sheet)? else {
            continue;
        };
        let kind = kept.proposal.kind;
        if kept.proposal.rule.is_some()
            && (kind == SheetKind::Divider || kind == SheetKind::Record && found.is_empty())
        {
            found.push((sheet, kept.proposal));
        }
        if kind == SheetKind::Divider {
            break;
        }
    }
    let mut before = Before::default();
    for (sheet, proposal) in found.iter().rev() {
        before.pass(sheet, proposal);
    }
    let extractions = proposer.extract(&Seen::from(reading));
    Ok(proposer.record(reading, extractions, &before))
}

/// Whether a sheet's reading, the rules or the roster changed since it was proposed.
fn is_stale(proposer: &Proposer, status: &SheetStatus) -> bool {
    let base = status
        .reading_key
        .as_deref()
        .map(|key| proposer.base_key(key));
    let kept = status.proposal_key.as_deref();
    let kept = kept.and_then(|key| key.split(' ').next());
    base.as_deref() != kept
}

/// The results in the order of the items.
pub(super) fn on_all_cores<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let share = items.len().div_ceil(cores).max(1);
    thread::scope(|scope| {
        let workers: Vec<_> = items
            .chunks(share)
            .map(|items| scope.spawn(|| items.iter().map(&work).collect::<Vec<_>>()))
            .collect();
        workers
            .into_iter()
            .flat_map(|worker| worker.join().expect("proposing does not panic"))
            .collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::{MemoryStore, SheetRecord};
    use crate::proposal::Face;
    use crate::reading::{Line, Reading};
    use crate::value::{Finding, Severity, Station};

    const RULES: &str = r#"
        [[field]]
        name = "drawer"
        kind = "text"
        carry = "divider"
        [[field]]
        name = "surname"
        kind = "surname"
        ditto = true
        [[field]]
        name = "number"
        kind = "code"
        pattern = '\d{4}'
        [[rule]]
        name = "divider"
        sheet = "divider"
        line = "DRAWER {drawer}"
        [[rule]]
        name = "sheet"
        line = "{surname}   NO. {number}"
    "#;
    const JOB: &str = "title = \"T\"\nsheets = { folder = \"s\" }\nrules = { files = [\"r.toml\"] }\n\
                       naming = { pattern = \"{number}\" }\n";

    fn reading(sheet: &str, text: &str) -> ReadingRecord {
        let lines = vec![Line::certain(text, 0.97)];
        let key = format!("{sheet} {text}");
        ReadingRecord::new(SheetId::new(sheet), key, None, Reading { lines })
    }

    fn job(folder: &std::path::Path, strips: &[(&str, &str)]) -> Job<MemoryStore> {
        std::fs::write(folder.join("job.toml"), JOB).unwrap();
        std::fs::write(folder.join("r.toml"), RULES).unwrap();
        let mut job = Job::with_store(folder, MemoryStore::default()).unwrap();
        for (sheet, text) in strips {
            let record = SheetRecord::new(SheetId::new(*sheet), (*sheet).to_owned(), 1, 1);
            job.store.put_sheets(&[record]).unwrap();
            job.store.put_readings(&[reading(sheet, text)]).unwrap();
        }
        job
    }

    /// A field of a sheet's proposal: value and face.
    fn field(job: &Job<MemoryStore>, sheet: &str, name: &str) -> (String, Face) {
        let record = job.store.proposal(&SheetId::new(sheet)).unwrap().unwrap();
        let mut fields = record.proposal.fields.into_iter();
        let field = fields.find(|field| field.field == name).unwrap();
        (field.as_typed, field.face)
    }

    #[test]
    fn values_are_carried_in_drawer_order_and_anew_when_the_divider_changes() {
        let folder = tempfile::tempdir().unwrap();
        // Stored out of order; 10 comes after 9.
        let mut job = job(
            folder.path(),
            &[
                ("10.png", "DITTO   NO. 4419"),
                ("9.png", "HARGREAVES   NO. 4418"),
                ("8.png", "DRAWER NORTH SHORE"),
                ("7.png", "ORME   NO. 4417"),
            ],
        );
        assert_eq!(job.propose(|_, _| ()).unwrap(), 4);
        let kind = |job: &Job<MemoryStore>, sheet: &str| {
            job.store
                .proposal(&SheetId::new(sheet))
                .unwrap()
                .unwrap()
                .proposal
                .kind
        };
        assert_eq!(kind(&job, "8.png"), SheetKind::Divider);
        assert_eq!(field(&job, "7.png", "drawer"), (String::new(), Face::Empty));
        for sheet in ["9.png", "10.png"] {
            assert_eq!(
                field(&job, sheet, "drawer"),
                ("NORTH SHORE".into(), Face::Look)
            );
            assert_eq!(field(&job, sheet, "surname").0, "HARGREAVES");
        }
        assert_eq!(field(&job, "10.png", "surname").1, Face::Look);

        assert_eq!(job.propose(|_, _| ()).unwrap(), 0, "nothing changed");
        let changed = reading("8.png", "DRAWER SOUTH QUAY");
        job.store.put_readings(&[changed]).unwrap();
        assert_eq!(
            job.propose(|_, _| ()).unwrap(),
            3,
            "the divider and what is behind it"
        );
        assert_eq!(field(&job, "10.png", "drawer").0, "SOUTH QUAY");
    }

    #[test]
    fn a_ditto_mark_with_nothing_before_it_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let mut job = job(folder.path(), &[("1.png", "DITTO   NO. 4419")]);
        job.propose(|_, _| ()).unwrap();
        assert_eq!(
            field(&job, "1.png", "surname"),
            (String::new(), Face::Empty)
        );
        let record = job.store.proposal(&SheetId::new("1.png")).unwrap().unwrap();
        let findings = &record.proposal.findings;
        assert!(
            findings
                .iter()
                .any(|finding| finding.code == "nothing-to-repeat")
        );
    }

    #[test]
    fn a_blank_sheet_is_proposed_as_one() {
        let folder = tempfile::tempdir().unwrap();
        let mut job = job(folder.path(), &[("1.png", "ORME   NO. 4417")]);
        let sheet = SheetId::new("2.png");
        let record = SheetRecord::new(sheet.clone(), "2".to_owned(), 1, 1);
        job.store.put_sheets(&[record]).unwrap();
        let mut blank = ReadingRecord::new(sheet, "k".into(), None, Reading::default());
        blank.findings = vec![Finding::new(
            Severity::Note,
            Station::Strip,
            "blank-strip",
            "it looks blank",
        )];
        job.store.put_readings(&[blank]).unwrap();
        job.propose(|_, _| ()).unwrap();
        let kind = |sheet: &str| {
            let record = job.store.proposal(&SheetId::new(sheet)).unwrap();
            record.unwrap().proposal.kind
        };
        assert_eq!(kind("1.png"), SheetKind::Record);
        assert_eq!(kind("2.png"), SheetKind::Blank);
    }

    #[test]
    fn one_sheet_read_again_is_proposed_as_among_the_others() {
        let folder = tempfile::tempdir().unwrap();
        let strips = [
            ("1.png", "DRAWER NORTH SHORE"),
            ("2.png", "ORME   NO. 4417"),
            ("3.png", "HARGREAVES   NO. 4418"),
            ("4.png", "~ ~ ~"),
            ("5.png", "DITTO   NO. 4419"),
        ];
        let mut job = job(folder.path(), &strips);
        job.propose(|_, _| ()).unwrap();
        let earlier: Vec<SheetId> = strips[..4].iter().map(|(s, _)| SheetId::new(*s)).collect();
        let sheet = SheetId::new("5.png");
        let reading = job.store.reading(&sheet).unwrap().unwrap();
        let again = propose_again(&job.store, &job.proposer, &earlier, &reading).unwrap();
        assert_eq!(job.store.proposal(&sheet).unwrap(), Some(again));
    }
}
