//! A reading in, a proposal out, with the rules and the roster of one job.

use super::settings::JobSettings;
use crate::journal::{ProposalRecord, ReadingRecord};
use crate::proposal::{Before, Calibration, Evidence, FieldPlan, Proposal, RosterPlan, propose};
use crate::reading::{CtcScorer, LineScorer, Reading};
use crate::roster::{ColumnKind, Prior, Roster, Schema, TableError};
use crate::rules::{Around, Extraction, FieldKind, RuleBook, band_colour};
use crate::strip::Lay;
use crate::value::{Finding, Probability, sha256_file, sha256_parts};
use std::sync::Arc;

/// Part of every proposal's key: raised when the same evidence would give another proposal.
const REVISION: &str = "5";

/// Proposes for any number of sheets; pure once it is made.
#[derive(Debug, Clone)]
pub struct Proposer {
    rules: Arc<RuleBook>,
    fields: Vec<FieldPlan>,
    roster: Option<Arc<LinkedRoster>>,
    calibration: Calibration,
    /// The collection that the job names; empty where it names none.
    collection: String,
    /// Hash of all that a proposal depends on beside the reading.
    key: String,
    /// Hash of all of that but what the rules take out of a reading.
    key_beside_rules: String,
}

/// The client's list, and which fields its columns hold.
#[derive(Debug)]
struct LinkedRoster {
    roster: Roster,
    /// (field, column).
    columns: Vec<(String, String)>,
    prior: Prior,
    schema: Schema,
    /// Hash of the rows and of how they are compared.
    key: String,
}

impl Proposer {
    /// Loads the roster that the job names; returns what was noticed in it.
    pub fn new(
        settings: &JobSettings,
        rules: impl Into<Arc<RuleBook>>,
    ) -> Result<(Self, Vec<Finding>), TableError> {
        let rules = rules.into();
        let loaded = roster_schema(settings, &rules).map(|schema| load(settings, schema));
        let (roster, findings) = match loaded.transpose()? {
            None => (None, Vec::new()),
            Some((roster, findings)) => (Some(Arc::new(roster)), findings),
        };
        Ok((Self::of(settings, rules, roster), findings))
    }

    /// The same with other rules; the roster is loaded again only where its columns are compared in another way then.
    pub fn with_rules(
        &self,
        settings: &JobSettings,
        rules: Arc<RuleBook>,
    ) -> Result<Self, TableError> {
        let schema = self.roster.as_ref().map(|linked| &linked.schema);
        if schema != roster_schema(settings, &rules).as_ref() {
            return Ok(Self::new(settings, rules)?.0);
        }
        Ok(Self::of(settings, rules, self.roster.clone()))
    }

    fn of(settings: &JobSettings, rules: Arc<RuleBook>, roster: Option<Arc<LinkedRoster>>) -> Self {
        let fields: Vec<FieldPlan> = rules
            .fields()
            .iter()
            .map(|field| FieldPlan::new(field, rules.not_above(&field.name)))
            .collect();
        let collection = settings.collection.clone().unwrap_or_default();
        let roster_key = roster.as_ref().map_or("", |linked| linked.key.as_str());
        Self {
            key: sha256_parts([REVISION, rules.hash(), roster_key, &collection]),
            key_beside_rules: sha256_parts([&format!("{fields:?}"), roster_key, &collection]),
            calibration: Calibration::default(),
            rules,
            fields,
            roster,
            collection,
        }
    }

    /// The rules, to be used beside this.
    pub fn shared_rules(&self) -> Arc<RuleBook> {
        self.rules.clone()
    }

    pub fn rules(&self) -> &RuleBook {
        &self.rules
    }

    pub fn roster(&self) -> Option<&Roster> {
        self.roster.as_ref().map(|linked| &linked.roster)
    }

    /// The fields that the roster holds, each with its column.
    pub fn roster_columns(&self) -> &[(String, String)] {
        self.roster.as_ref().map_or(&[], |linked| &linked.columns)
    }

    /// The roster with what is believed of it before anything is read.
    pub fn roster_plan(&self) -> Option<RosterPlan<'_>> {
        self.roster.as_ref().map(|linked| RosterPlan {
            roster: &linked.roster,
            columns: &linked.columns,
            prior: linked.prior,
        })
    }

    /// Whether a sheet may take values from those before it, so that their order matters.
    pub fn looks_back(&self) -> bool {
        self.rules
            .fields()
            .iter()
            .any(|field| field.ditto || field.carry.is_some())
    }

    /// Whether both propose the same wherever their rules take the same out of a reading.
    pub fn differs_in_rules_only(&self, other: &Self) -> bool {
        self.key_beside_rules == other.key_beside_rules
    }

    /// What a proposal's key begins with that is made from the reading with this key.
    pub fn base_key(&self, reading_key: &str) -> String {
        sha256_parts([reading_key, &self.key])
    }

    /// The key of a proposal made from the reading with this key, with these sheets before it.
    pub fn key_for(&self, reading_key: &str, before: &Before) -> String {
        let base = self.base_key(reading_key);
        if self.looks_back() {
            format!("{base} {}", before.key())
        } else {
            base
        }
    }

    /// What the rules may ask of a sheet beside its text.
    pub fn around(&self, lay: Option<&Lay>) -> Around<'_> {
        Around {
            collection: &self.collection,
            band: lay.and_then(|lay| lay.band),
            width: lay.map(|lay| {
                let [left, right, ..] = lay.corners.0;
                (right.x - left.x).hypot(right.y - left.y)
            }),
        }
    }

    /// What the rules take out of a sheet's reading.
    pub fn extract(&self, sheet: &Seen) -> Vec<Extraction> {
        self.rules.extract(sheet.reading, &self.around(sheet.lay))
    }

    /// What is proposed from that, with these sheets before it.
    pub fn propose(&self, sheet: &Seen, extractions: &[Extraction], before: &Before) -> Proposal {
        let score = |line: usize, text: &str| {
            let lines = &sheet.reading.lines;
            lines.get(line).map_or(f64::NEG_INFINITY, |line| {
                CtcScorer.log_likelihood(line, text)
            })
        };
        propose(&Evidence {
            findings: sheet.findings,
            reading: sheet.reading,
            extractions,
            fields: &self.fields,
            roster: self.roster_plan(),
            calibration: self.calibration,
            before,
            band: band_colour(sheet.lay.and_then(|lay| lay.band)),
            scorer: Some(&score),
        })
    }

    /// The same for a reading from the journal, as the journal keeps it.
    pub fn record(
        &self,
        reading: &ReadingRecord,
        extractions: Vec<Extraction>,
        before: &Before,
    ) -> ProposalRecord {
        let proposal = self.propose(&Seen::from(reading), &extractions, before);
        let key = self.key_for(&reading.key, before);
        ProposalRecord::new(reading.sheet.clone(), key, extractions, proposal)
    }
}

/// A sheet as strip and reading left it.
#[derive(Debug, Clone, Copy)]
pub struct Seen<'a> {
    pub reading: &'a Reading,
    pub findings: &'a [Finding],
    /// None where no strip was found.
    pub lay: Option<&'a Lay>,
}

impl<'a> From<&'a ReadingRecord> for Seen<'a> {
    fn from(record: &'a ReadingRecord) -> Self {
        Self {
            reading: &record.reading,
            findings: &record.findings,
            lay: record.lay.as_ref(),
        }
    }
}

/// How the columns of the roster that the job names are compared; `None` where it names none.
pub(super) fn roster_schema(settings: &JobSettings, rules: &RuleBook) -> Option<Schema> {
    let wanted = settings.roster.as_ref()?;
    let columns = wanted.columns.iter();
    Some(Schema {
        key: wanted.key.clone(),
        columns: columns
            .map(|(field, column)| (column.clone(), column_kind(rules, field.get_ref())))
            .collect(),
    })
}

fn load(
    settings: &JobSettings,
    schema: Schema,
) -> Result<(LinkedRoster, Vec<Finding>), TableError> {
    let wanted = settings.roster.as_ref().expect("it has a schema");
    let path = settings.folder.join(&wanted.file);
    let (roster, findings) = Roster::load(&path, &schema)?;
    let prior = wanted
        .expected_share
        .map_or_else(Prior::default, |share| Prior {
            in_roster: Probability::new(share),
        });
    let content = sha256_file(&path).unwrap_or_default();
    let columns = wanted.columns.iter();
    let linked = LinkedRoster {
        roster,
        columns: columns
            .map(|(field, column)| (field.get_ref().clone(), column.clone()))
            .collect(),
        prior,
        key: sha256_parts([content, format!("{schema:?} {prior:?}")]),
        schema,
    };
    Ok((linked, findings))
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
