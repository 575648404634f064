//! A reading in, a proposal out, with the rules and the roster of one job.

use super::settings::JobSettings;
use crate::journal::{ProposalRecord, ReadingRecord};
use crate::proposal::{Calibration, Evidence, FieldPlan, Proposal, RosterPlan, propose};
use crate::reading::{LatticeScorer, LineScorer, Reading};
use crate::roster::{ColumnKind, Prior, Roster, Schema, TableError};
use crate::rules::{Extraction, FieldKind, RuleBook};
use crate::value::{Finding, Probability, sha256_file, sha256_parts};

/// Part of every proposal's key: raised when the same evidence would give another proposal.
const REVISION: &str = "2";

/// Proposes for any number of sheets; pure once it is made.
#[derive(Debug)]
pub struct Proposer {
    rules: RuleBook,
    fields: Vec<FieldPlan>,
    roster: Option<LinkedRoster>,
    calibration: Calibration,
    /// Hash of all that a proposal depends on beside the reading.
    key: String,
}

/// The client's list, and which fields its columns hold.
#[derive(Debug)]
struct LinkedRoster {
    roster: Roster,
    /// (field, column).
    columns: Vec<(String, String)>,
    prior: Prior,
}

impl Proposer {
    /// Loads the roster that the job names; returns what was noticed in it.
    pub fn new(
        settings: &JobSettings,
        rules: RuleBook,
    ) -> Result<(Self, Vec<Finding>), TableError> {
        let (roster, findings, roster_key) = match &settings.roster {
            None => (None, Vec::new(), String::new()),
            Some(wanted) => {
                let path = settings.folder.join(&wanted.file);
                let columns: Vec<(String, String)> = wanted
                    .columns
                    .iter()
                    .map(|(field, column)| (field.get_ref().clone(), column.clone()))
                    .collect();
                let schema = Schema {
                    key: wanted.key.clone(),
                    columns: columns
                        .iter()
                        .map(|(field, column)| (column.clone(), column_kind(&rules, field)))
                        .collect(),
                };
                let (roster, findings) = Roster::load(&path, &schema)?;
                let prior = wanted
                    .expected_share
                    .map_or_else(Prior::default, |share| Prior {
                        in_roster: Probability::new(share),
                    });
                let content = sha256_file(&path).unwrap_or_default();
                let key = sha256_parts([content, format!("{schema:?} {prior:?}")]);
                (
                    Some(LinkedRoster {
                        roster,
                        columns,
                        prior,
                    }),
                    findings,
                    key,
                )
            }
        };
        let fields = rules
            .fields()
            .iter()
            .map(|field| FieldPlan {
                name: field.name.clone(),
                required: field.required,
                not_above: rules.not_above(&field.name).map(str::to_owned),
            })
            .collect();
        let key = sha256_parts([REVISION, rules.hash(), &roster_key]);
        let calibration = Calibration::default();
        Ok((
            Self {
                rules,
                fields,
                roster,
                calibration,
                key,
            },
            findings,
        ))
    }

    pub fn rules(&self) -> &RuleBook {
        &self.rules
    }

    pub fn roster(&self) -> Option<&Roster> {
        self.roster.as_ref().map(|linked| &linked.roster)
    }

    /// The key of a proposal made from the reading with this key.
    pub fn key_for(&self, reading_key: &str) -> String {
        sha256_parts([reading_key, &self.key])
    }

    /// What the rules take out of a reading, and what is proposed from it.
    pub fn propose(&self, reading: &Reading, findings: &[Finding]) -> (Vec<Extraction>, Proposal) {
        let extractions = self.rules.extract(reading);
        let score = |line: usize, text: &str| {
            reading.lines.get(line).map_or(f64::NEG_INFINITY, |line| {
                LatticeScorer.log_likelihood(line, text)
            })
        };
        let proposal = propose(&Evidence {
            findings,
            reading,
            extractions: &extractions,
            fields: &self.fields,
            roster: self.roster.as_ref().map(|linked| RosterPlan {
                roster: &linked.roster,
                columns: &linked.columns,
                prior: linked.prior,
            }),
            calibration: self.calibration,
            scorer: Some(&score),
        });
        (extractions, proposal)
    }

    /// The same for a reading from the journal, as the journal keeps it.
    pub fn record(&self, reading: &ReadingRecord) -> ProposalRecord {
        let (extractions, proposal) = self.propose(&reading.reading, &reading.findings);
        let key = self.key_for(&reading.key);
        ProposalRecord::new(reading.sheet.clone(), key, extractions, proposal)
    }
}

/// How a roster column is compared: by the kind of the field that it holds.
fn column_kind(rules: &RuleBook, field: &str) -> ColumnKind {
    let kind = rules
        .fields()
        .iter()
        .find(|spec| spec.name == field)
        .map(|spec| spec.kind);
    match kind {
        Some(FieldKind::Surname) => ColumnKind::Surname,
        Some(FieldKind::Forenames) => ColumnKind::Forenames,
        Some(FieldKind::Code | FieldKind::Number) => ColumnKind::Code,
        Some(FieldKind::Year) => ColumnKind::Year,
        _ => ColumnKind::Text,
    }
}
