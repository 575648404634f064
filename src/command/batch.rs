//! A job's sheets as delivery sees them: what people keyed, and what is proposed where nobody has.

use super::CommandError;
use crate::delivery::{
    Accounts, Batch, Check, DeliveryPlan, FileNames, Links, Record, StripTexts, check_batch,
    name_sheets, standing, unused_rows,
};
use crate::job::{Job, SecondKeying};
use crate::journal::{JournalError, SheetRecord, Store};
use crate::reading::Line;
use crate::review::{Comparer, second_keying};
use crate::value::{Finding, Severity, SheetId, SheetKind, SheetState, sha256_file, shown};
use std::collections::{BTreeSet, HashSet};
use std::fs::{self, Metadata};
use std::path::Path;
use std::time::UNIX_EPOCH;

/// What counts for a sheet that nobody has finished.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// What is proposed, or keyed so far.
    Draft,
    /// Nothing: it is an exception.
    Keyed,
}

/// Records, names and checks of a whole job.
pub struct Delivery {
    pub plan: DeliveryPlan,
    /// Every sheet of the job, in drawer order.
    pub records: Vec<Record>,
    pub names: FileNames,
    pub checks: Vec<Check>,
    pub accounts: Accounts,
    /// What was read on the strips, where the job wants it delivered.
    pub texts: Option<StripTexts>,
    /// Sheets that were never read or proposed, and that nobody has keyed; `read` takes them.
    pub unread: Vec<SheetId>,
}

/// Entries looked through at a time.
const PAGE: usize = 1_000;

impl Delivery {
    pub fn of<S: Store>(job: &Job<S>, scope: Scope) -> Result<Self, CommandError> {
        let rules = job.proposer.rules();
        let plan = DeliveryPlan::new(&job.settings, &job.text, rules.fields())
            .map_err(CommandError::input)?;
        let gathered = Gathered::of(job, scope).map_err(CommandError::input)?;
        let Gathered {
            records,
            unread,
            files,
        } = gathered;
        let texts = match plan.full_text {
            true => Some(strip_texts(job, &records).map_err(CommandError::input)?),
            false => None,
        };
        let names = name_sheets(&records, &plan.naming);
        let batch = Batch {
            records: &records,
            content_hashes: &files.hashes,
            without_proposal: &unread,
            roster_rows: job.proposer.roster().map(|roster| {
                let unused = unused_rows(roster, &records).len();
                (roster.len(), roster.len() - unused)
            }),
            links: job.proposer.roster().map(|roster| Links {
                roster,
                columns: job.proposer.roster_columns(),
                delivered: &plan.checks.from_roster,
            }),
            rules: Some(rules),
        };
        let accounts = Accounts::of(&records, &unread, &job.settings.batch);
        let mut checks = check_batch(&batch, &plan.checks);
        checks.extend(accounts.checks());
        checks.extend(unfinished_roster(job)?);
        checks.extend(files.checks());
        checks.extend(names.checks());
        checks.sort_by_key(|check| std::cmp::Reverse(check.severity));
        Ok(Self {
            plan,
            records,
            names,
            checks,
            accounts,
            texts,
            unread,
        })
    }
}

/// The lines that were read on the strips of these records' sheets.
fn strip_texts<S: Store>(job: &Job<S>, records: &[Record]) -> Result<StripTexts, JournalError> {
    let mut texts = StripTexts::new();
    for record in records {
        if !texts.contains_key(&record.sheet)
            && let Some(read) = job.store.reading(&record.sheet)?
        {
            let lines = read.reading.lines.iter().map(Line::text);
            texts.insert(record.sheet.clone(), lines.collect());
        }
    }
    Ok(texts)
}

/// A newer roster that was decided on and is not in use.
fn unfinished_roster<S: Store>(job: &Job<S>) -> Result<Option<Check>, CommandError> {
    let open = job.unfinished_replacement()?;
    Ok(open.map(|(decision, _)| Check {
        severity: Severity::Warning,
        code: "roster-unfinished",
        sheets: Vec::new(),
        message: format!(
            "{} replaced the roster by a newer one, but the one before is still in use; run headword roster with the newer \
             file again",
            shown(&decision.by)
        ),
    }))
}

/// What the journal has of a job's sheets.
#[derive(Default)]
struct Gathered {
    records: Vec<Record>,
    unread: Vec<SheetId>,
    files: ImageFiles,
}

impl Gathered {
    fn of<S: Store>(job: &Job<S>, scope: Scope) -> Result<Self, JournalError> {
        let mut gathered = Self::default();
        let mut present = HashSet::new();
        let comparer = Comparer::new(&job.settings.quality, job.proposer.rules().fields());
        for status in job.store.overview()? {
            let sheet = status.record.sheet.clone();
            present.insert(sheet.clone());
            let path = job.settings.sheets_folder().join(sheet.as_str());
            gathered.files.add(&path, status.record);
            gathered.add(job, sheet, scope, &comparer)?;
        }
        if scope == Scope::Keyed {
            for sheet in vanished(&job.store, &present)? {
                let record = Record {
                    sheet,
                    reason: Some(
                        "its image is gone since it was keyed; bring the file back and read again"
                            .to_owned(),
                    ),
                    ..Record::default()
                };
                gathered.records.push(record);
            }
        }
        Ok(gathered)
    }

    fn add<S: Store>(
        &mut self,
        job: &Job<S>,
        sheet: SheetId,
        scope: Scope,
        comparer: &Comparer,
    ) -> Result<(), JournalError> {
        let rules = job.proposer.rules();
        let written = |field: &str, value: &str| rules.written(field, value);
        let history = job.store.history(&sheet)?;
        let now = standing(&history, wants_second(job, &sheet)?, comparer);
        let lacks = now.lacks.filter(|_| scope == Scope::Keyed);
        if let Some(entry) = now.entry {
            for mut record in Record::keyed(entry, &now, written) {
                record.reason = record.reason.or_else(|| lacks.map(str::to_owned));
                self.records.push(record);
            }
            return Ok(());
        }
        if lacks.is_some() {
            self.records.push(Record {
                sheet,
                reason: lacks.map(str::to_owned),
                ..Record::default()
            });
            return Ok(());
        }
        let reading = job.store.reading(&sheet)?;
        match (reading, job.store.proposal(&sheet)?) {
            (Some(reading), Some(proposal)) => {
                let proposed = Record::proposed(&sheet, &proposal.proposal, written);
                let proposed = proposed.into_iter();
                self.records
                    .extend(proposed.map(|record| with(&reading.findings, record)));
            }
            _ => self.unread.push(sheet),
        }
        Ok(())
    }
}

/// Whether the job has a sheet keyed twice.
pub(super) fn wants_second<S: Store>(job: &Job<S>, sheet: &SheetId) -> Result<bool, JournalError> {
    let (quality, keying) = (&job.settings.quality, &job.settings.keying);
    if keying.passes < 2 {
        return Ok(false);
    }
    // Only where doubt decides does the proposal have to be read.
    let proposal = match quality.second {
        SecondKeying::Doubtful => job.store.proposal(sheet)?,
        _ => None,
    };
    let proposal = proposal.map(|record| record.proposal);
    Ok(second_keying(quality, keying.seed, sheet, proposal.as_ref()).is_some())
}

/// The sheets' image files as they are now.
#[derive(Default)]
struct ImageFiles {
    /// SHA-256 of each that can be read.
    hashes: Vec<(SheetId, String)>,
    /// Those that are not there any more, or cannot be read.
    gone: Vec<SheetId>,
}

impl ImageFiles {
    /// A file of the same size and time is taken to be the same; another is read.
    fn add(&mut self, path: &Path, known: SheetRecord) {
        let same = |found: &Metadata| {
            let modified = found.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
            let modified = i64::try_from(modified.as_nanos()).ok()?;
            (found.len() == known.bytes && modified == known.modified).then_some(())
        };
        let hash = match fs::metadata(path) {
            Ok(found) if same(&found).is_some() => Ok(known.content_hash),
            Ok(_) => sha256_file(path),
            Err(error) => Err(error),
        };
        match hash {
            Ok(hash) => self.hashes.push((known.sheet, hash)),
            Err(_) => self.gone.push(known.sheet),
        }
    }

    fn checks(self) -> Option<Check> {
        (!self.gone.is_empty()).then(|| Check {
            severity: Severity::Warning,
            code: "image-gone",
            sheets: self.gone,
            message: "the image file is gone or cannot be read; bring it back".to_owned(),
        })
    }
}

/// The sheets on which people worked and whose images are gone.
fn vanished<S: Store>(
    store: &S,
    present: &HashSet<SheetId>,
) -> Result<BTreeSet<SheetId>, JournalError> {
    let mut gone = BTreeSet::new();
    let mut after = 0;
    loop {
        let page = store.entries(after, PAGE)?;
        let Some(last) = page.last() else {
            return Ok(gone);
        };
        after = last.number;
        let sheets = page.into_iter().map(|entry| entry.sheet);
        gone.extend(sheets.filter(|sheet| !present.contains(sheet)));
    }
}

/// The draft record of a sheet with what strip and reading noticed. A strip on which nothing is typed makes the sheet
/// blank.
fn with(findings: &[Finding], mut record: Record) -> Record {
    if findings.iter().any(|finding| finding.code == "blank-strip") {
        record.kind = SheetKind::Blank;
    }
    for finding in findings {
        if !record.findings.contains(finding) {
            record.findings.push(finding.clone());
        }
    }
    debug_assert_eq!(record.state, SheetState::Waiting);
    record
        .findings
        .sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    record
}

/// The worst that was found, if anything was.
pub fn worst(checks: &[Check]) -> Option<Severity> {
    checks.iter().map(|check| check.severity).max()
}
