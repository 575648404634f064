//! Every sheet accounted for: how many there are of each kind and state, and which of them still need somebody.

use super::check::{Check, sheets_of};
use super::{Legibility, Record};
use crate::job::BatchSettings;
use crate::value::{Severity, SheetId, SheetKind, SheetState, shown};
use serde::Serialize;
use std::collections::{BTreeMap, HashMap};

/// How many sheets there are.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Accounts {
    /// Sheets that there should be, by the job.
    pub expected: Option<usize>,
    pub sheets: usize,
    /// Sheets by kind and state.
    pub counted: Vec<Count>,
    /// The batches that the job lists.
    pub batches: Vec<BatchCount>,
    /// Sheets of no batch that is listed, where any is.
    pub unlisted: Vec<SheetId>,
}

/// How many sheets of a batch there are.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BatchCount {
    /// Below the sheets' folder.
    pub folder: String,
    pub expected: usize,
    pub sheets: usize,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Count {
    pub kind: SheetKind,
    pub state: SheetState,
    pub sheets: usize,
}

impl Accounts {
    /// Counts the sheets of these records, which stand together by sheet, and those that were never read.
    pub fn of(records: &[Record], unread: &[SheetId], batch: &BatchSettings) -> Self {
        // By their words, so that the order is always the same.
        let mut counted: BTreeMap<(String, String), Count> = BTreeMap::new();
        let mut batches: BTreeMap<&str, usize> = BTreeMap::new();
        let mut unlisted = Vec::new();
        let mut add = |sheet: &SheetId, kind: SheetKind, state: SheetState| {
            let count = counted
                .entry((kind.to_string(), state.to_string()))
                .or_insert(Count {
                    kind,
                    state,
                    sheets: 0,
                });
            count.sheets += 1;
            let folder = sheet
                .as_str()
                .rsplit_once('/')
                .map_or("", |(folder, _)| folder);
            match batch.of(folder) {
                Some(listed) => *batches.entry(listed).or_default() += 1,
                None if batch.folders.is_empty() => {}
                None => unlisted.push(sheet.clone()),
            }
        };
        let mut before = None;
        for record in records {
            if before.replace(&record.sheet) != Some(&record.sheet) {
                add(&record.sheet, record.kind, record.state);
            }
        }
        for sheet in unread {
            add(sheet, SheetKind::Record, SheetState::Waiting);
        }
        let batches = batch.folders.iter().map(|(folder, &expected)| BatchCount {
            folder: folder.clone(),
            expected,
            sheets: batches.get(folder.as_str()).copied().unwrap_or_default(),
        });
        Self {
            expected: batch.sheets,
            sheets: counted.values().map(|count| count.sheets).sum(),
            counted: counted.values().cloned().collect(),
            batches: batches.collect(),
            unlisted,
        }
    }

    /// Whether there are as many as there should be, in all and in every batch.
    pub fn checks(&self) -> Vec<Check> {
        let mut checks = Vec::new();
        let mut add = |code, sheets: &[SheetId], message| {
            checks.push(Check {
                severity: Severity::Warning,
                code,
                sheets: sheets.to_vec(),
                message,
            });
        };
        if let Some(expected) = self.expected.filter(|&expected| expected != self.sheets) {
            let advice = advice(self.sheets, expected);
            let found = self.sheets;
            let message = format!(
                "expected {expected} sheets, found {found}; {advice}, or correct [batch] in job.toml"
            );
            add("sheet-count", &[], message);
        }
        for batch in self
            .batches
            .iter()
            .filter(|batch| batch.sheets != batch.expected)
        {
            let advice = match batch.sheets {
                0 => {
                    "see that its folder lies in the sheets' folder under that name, and that it was read"
                }
                sheets => advice(sheets, batch.expected),
            };
            let message = format!(
                "batch {}: expected {} sheets, found {}; {advice}, or correct [batch.folders] in job.toml",
                shown(&batch.folder),
                batch.expected,
                batch.sheets
            );
            add("batch-count", &[], message);
        }
        if !self.unlisted.is_empty() {
            let message = "in no batch that [batch.folders] in job.toml lists; add their folder and its count, or move \
                           them"
                .to_owned();
            add("batch-unlisted", &self.unlisted, message);
        }
        checks
    }
}

fn advice(found: usize, expected: usize) -> &'static str {
    match found < expected {
        true => "look for the sheets that were not scanned",
        false => "look for sheets scanned twice, or of another batch",
    }
}

/// What somebody still has to do, and what the client should be told of.
pub(super) fn check_states(records: &[Record]) -> Vec<Check> {
    let mut checks = Vec::new();
    let mut add = |severity, code, what: &dyn Fn(&Record) -> bool, message: &str| {
        let found: Vec<&Record> = records.iter().filter(|record| what(record)).collect();
        if !found.is_empty() {
            checks.push(Check {
                severity,
                code,
                sheets: sheets_of(&found),
                message: message.to_owned(),
            });
        }
    };
    let in_state = |state| move |record: &Record| record.state == state;
    add(
        Severity::Note,
        "not-keyed",
        &in_state(SheetState::Waiting),
        "nobody has keyed these; headword key takes them",
    );
    add(
        Severity::Warning,
        "in-dispute",
        &in_state(SheetState::InDispute),
        "their keyings differ; headword settle takes them",
    );
    add(
        Severity::Warning,
        "put-off",
        &in_state(SheetState::Held),
        "put off with a reason that headword history tells; key them or set them aside",
    );
    add(
        Severity::Note,
        "set-aside",
        &in_state(SheetState::SetAside),
        "set aside; they go to the client as exceptions",
    );
    let is_unread = |record: &Record| {
        let mut values = record.values.iter();
        values.any(|v| matches!(v.legibility, Legibility::InPart | Legibility::CannotBeRead))
    };
    add(
        Severity::Note,
        "cannot-be-read",
        &is_unread,
        "something on the strip cannot be read; these go to the client as exceptions too",
    );
    let is_overruled = |record: &Record| record.values.iter().any(|v| v.overruled.is_some());
    add(
        Severity::Note,
        "overruled",
        &is_overruled,
        "a value was kept against a check, with the reason that provenance.csv tells",
    );
    checks
}

/// The sheets whose images are not those that people had on the screen; `hashes` are those of the files now.
pub(super) fn check_images(records: &[Record], hashes: &[(SheetId, String)]) -> Option<Check> {
    let now: HashMap<&SheetId, &String> =
        hashes.iter().map(|(sheet, hash)| (sheet, hash)).collect();
    let is_changed = |record: &&Record| {
        let seen = record.entry.as_ref().map(|entry| &entry.content_hash);
        let seen = seen.filter(|hash| !hash.is_empty());
        seen.is_some_and(|seen| now.get(&record.sheet).is_some_and(|now| *now != seen))
    };
    let changed: Vec<&Record> = records.iter().filter(is_changed).collect();
    (!changed.is_empty()).then(|| Check {
        severity: Severity::Warning,
        code: "image-changed",
        sheets: sheets_of(&changed),
        message: "the image is another one than when the sheet was keyed; look at it and key it again if it needs it"
            .to_owned(),
    })
}
