//! A job's sheets as delivery sees them: one record a sheet, from the journal.

use super::CommandError;
use crate::delivery::{Batch, Check, DeliveryPlan, FileNames, Record, check_batch, name_sheets};
use crate::job::Job;
use crate::journal::Store;
use crate::value::{Finding, Severity, SheetId, SheetKind, SheetState};
use std::collections::HashSet;

/// Records, names and checks of a whole job.
pub struct Delivery {
    pub plan: DeliveryPlan,
    pub records: Vec<Record>,
    pub names: FileNames,
    pub checks: Vec<Check>,
    /// Sheets that were never read or proposed; `read` takes them.
    pub unread: Vec<SheetId>,
}

impl Delivery {
    /// Takes every sheet of the journal as it was proposed.
    pub fn of<S: Store>(job: &Job<S>) -> Result<Self, CommandError> {
        let rules = job.proposer.rules();
        let plan = DeliveryPlan::new(&job.settings, &job.text, rules.fields())
            .map_err(CommandError::input)?;
        let mut records = Vec::new();
        let mut unread = Vec::new();
        let mut hashes = Vec::new();
        let mut linked = HashSet::new();
        for status in job.store.overview().map_err(CommandError::input)? {
            let sheet = status.record.sheet;
            hashes.push((sheet.clone(), status.record.content_hash));
            let reading = job.store.reading(&sheet).map_err(CommandError::input)?;
            let proposal = job.store.proposal(&sheet).map_err(CommandError::input)?;
            let (Some(reading), Some(proposal)) = (reading, proposal) else {
                unread.push(sheet);
                continue;
            };
            let proposal = &proposal.proposal;
            let links = proposal.more.iter().map(|record| &record.link);
            let links = links.chain([&proposal.link]).flatten();
            linked.extend(links.map(|link| link.row));
            let written = |field: &str, value: &str| rules.written(field, value);
            let proposed = Record::proposed(&sheet, proposal, written);
            records.extend(
                proposed
                    .into_iter()
                    .map(|record| with(&reading.findings, record)),
            );
        }
        let names = name_sheets(&records, &plan.naming);
        let batch = Batch {
            records: &records,
            content_hashes: &hashes,
            without_proposal: &unread,
            roster_rows: job
                .proposer
                .roster()
                .map(|roster| (roster.len(), linked.len())),
        };
        let mut checks = check_batch(&batch, &plan.checks);
        checks.extend(names.checks());
        checks.sort_by_key(|check| std::cmp::Reverse(check.severity));
        Ok(Self {
            plan,
            records,
            names,
            checks,
            unread,
        })
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
