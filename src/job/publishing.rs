//! Rules on their way into use: a draft beside the job's rule files, and its publication.

use super::replacing::put_in_place;
use super::{Job, JobError, rule_book, rule_files};
use crate::journal::{Act, Choice, Decision, Publication, SqliteStore, Store};
use crate::rules::RuleBook;
use crate::value::{SheetId, shown};
use serde::{Deserialize, Serialize};
use std::fs::{File, TryLockError};
use std::io::{self, Write};
use std::path::Path;
use std::sync::Arc;

/// The draft's file in a job's folder.
const DRAFT_FILE: &str = "rules-draft.json";

/// The pass whose keyings rules are compared with.
const FIRST_PASS: u8 = 1;
/// The file by which one person at a time works on the rules.
const SEAT_FILE: &str = "rules-desk.lock";

/// One person's right to work on a job's rules; given back when dropped, or when the process ends in any way.
#[derive(Debug)]
pub struct Seat {
    locked: File,
}

impl Drop for Seat {
    fn drop(&mut self) {
        // The file stays: whoever opened it before and locks it later must not lock another one than the next person.
        let _ = self.locked.set_len(0);
    }
}

/// The rule files of a job as somebody is changing them. Nothing of it is in use until it is published.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Draft {
    /// Who wrote it last; empty where that is not known.
    #[serde(default)]
    pub by: String,
    pub files: Vec<DraftFile>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DraftFile {
    /// As the job file has it.
    pub name: String,
    /// The rule file as it was when the draft was begun.
    pub base: String,
    pub text: String,
}

impl DraftFile {
    pub fn is_changed(&self) -> bool {
        self.text != self.base
    }
}

impl Draft {
    pub fn is_changed(&self) -> bool {
        self.files.iter().any(DraftFile::is_changed)
    }

    fn texts(&self) -> Vec<(String, String)> {
        let files = self.files.iter();
        files
            .map(|file| (file.name.clone(), file.text.clone()))
            .collect()
    }
}

impl Job {
    /// The same job over another connection to its journal, for a thread of its own. The roster is shared.
    pub fn alongside(&self) -> Result<Self, JobError> {
        Ok(Self {
            settings: self.settings.clone(),
            text: self.text.clone(),
            proposer: self.proposer.clone(),
            store: SqliteStore::open(&self.settings.folder.join(super::JOURNAL_FILE))?,
            findings: self.findings.clone(),
        })
    }
}

impl<S: Store> Job<S> {
    /// Takes the one seat at the job's rules.
    ///
    /// # Errors
    /// Somebody else sits there.
    pub fn take_seat(&self, person: &str) -> Result<Seat, JobError> {
        let path = self.settings.folder.join(SEAT_FILE);
        let not_kept = |cause| JobError::NotKept {
            path: path.clone(),
            what: "the lock of the rules",
            cause,
        };
        let mut options = File::options();
        let options = options.read(true).write(true).create(true).truncate(false);
        let mut locked = options.open(&path).map_err(not_kept)?;
        match locked.try_lock() {
            Err(TryLockError::WouldBlock) => {
                let by = std::fs::read_to_string(&path).unwrap_or_default();
                let by = match shown(by.trim()).into_owned() {
                    by if by.is_empty() => "somebody".to_owned(),
                    by => by,
                };
                return Err(JobError::SeatTaken { by });
            }
            // Where locks are not to be had, the check at publishing still holds.
            Err(TryLockError::Error(_)) | Ok(()) => {}
        }
        let written = locked
            .set_len(0)
            .and_then(|()| locked.write_all(person.as_bytes()));
        written.map_err(not_kept)?;
        Ok(Seat { locked })
    }

    /// The rule files as they stand on disk.
    pub fn rules_in_use(&self) -> Result<Draft, JobError> {
        let files = rule_files(&self.settings)?.into_iter();
        let files = files.map(|(name, text)| DraftFile {
            name,
            base: text.clone(),
            text,
        });
        Ok(Draft {
            by: String::new(),
            files: files.collect(),
        })
    }

    /// Takes the rule files as they are now, where somebody changed them since the job was opened.
    pub fn take_rules_in_use(&mut self) -> Result<(), JobError> {
        if let Ok(rules) = self.draft_rules(&self.rules_in_use()?)
            && rules.hash() != self.proposer.rules().hash()
        {
            self.proposer = self.proposer.with_rules(&self.settings, Arc::new(rules))?;
        }
        Ok(())
    }

    /// The draft that was kept, or one that changes nothing.
    pub fn draft(&self) -> Result<Draft, JobError> {
        let path = self.settings.folder.join(DRAFT_FILE);
        let kept: Option<Draft> = match path.exists() {
            false => None,
            true => {
                let text = super::read_text(&path, "the rules' draft")?;
                let draft = serde_json::from_str(&text);
                let refused = |cause: serde_json::Error| {
                    let cause = format!("{cause}; move the file away to begin a new draft");
                    let cause = io::Error::new(io::ErrorKind::InvalidData, cause);
                    JobError::unreadable(&path, "the rules' draft", cause)
                };
                Some(draft.map_err(refused)?)
            }
        };
        let (by, mut kept) = kept.map_or_else(Default::default, |draft| (draft.by, draft.files));
        let in_use = self.rules_in_use()?.files.into_iter();
        let files = in_use.map(|live| {
            let known = kept.iter().position(|file| file.name == live.name);
            match known.map(|at| kept.swap_remove(at)) {
                // A draft that somebody else put to use, or that changes nothing, needs no base of its own.
                Some(file) if file.is_changed() && file.text != live.text => file,
                _ => live,
            }
        });
        Ok(Draft {
            by,
            files: files.collect(),
        })
    }

    /// Keeps a draft on disk; one that changes nothing leaves none there.
    pub fn keep_draft(&self, draft: &Draft) -> Result<(), JobError> {
        let path = self.settings.folder.join(DRAFT_FILE);
        let kept = match draft.is_changed() {
            true => serde_json::to_string_pretty(draft)
                .map_err(io::Error::other)
                .and_then(|text| put_in_place(&path, text.as_bytes())),
            false => match std::fs::remove_file(&path) {
                Err(cause) if cause.kind() != io::ErrorKind::NotFound => Err(cause),
                _ => Ok(()),
            },
        };
        kept.map_err(|cause| JobError::NotKept {
            path,
            what: "the draft",
            cause,
        })
    }

    /// The rules of a draft.
    ///
    /// # Errors
    /// Every fault of the rule files, and every field that the job file names and they no longer have.
    pub fn draft_rules(&self, draft: &Draft) -> Result<RuleBook, JobError> {
        let rules = rule_book(&self.settings, &draft.texts())?;
        self.expect_fields(&rules)?;
        Ok(rules)
    }

    /// Puts a draft to use: the rule files are replaced, the decision is journalled. Proposals are not made anew here.
    ///
    /// # Errors
    /// The draft is faulty, changes nothing, or was begun from a rule file that somebody changed since; then nothing is
    /// changed.
    pub fn publish(
        &mut self,
        draft: &Draft,
        by: &str,
        at: i64,
        publication: Publication,
    ) -> Result<u32, JobError> {
        let rules = Arc::new(self.draft_rules(draft)?);
        let live = rule_files(&self.settings)?;
        for (file, (name, text)) in draft.files.iter().zip(&live) {
            if file.base != *text && file.text != *text {
                return Err(JobError::ChangedSince { name: name.clone() });
            }
        }
        if !draft.is_changed() {
            return Err(JobError::NothingToPublish);
        }
        let proposer = self.proposer.with_rules(&self.settings, rules)?;
        let both = draft.files.iter().zip(&live);
        let differing = both.filter(|(file, (_, text))| file.text != *text);
        for (file, _) in differing {
            let path = self.settings.folder.join(&file.name);
            let replaced = self
                .expect_inside(&path)
                .and_then(|()| put_in_place(&path, file.text.as_bytes()));
            replaced.map_err(|cause| JobError::NotKept {
                path,
                what: "the rules",
                cause,
            })?;
        }
        let version = self.published()?.map_or(0, |(_, last)| last.version) + 1;
        let publication = Publication {
            version,
            files: draft.texts(),
            replaced: live,
            entries_before: self.last_entry()?,
            ..publication
        };
        let choice = Choice::RulesPublished(publication);
        self.store.decide(&Decision::new(by, at, choice))?;
        self.proposer = proposer;
        // A draft that says what is in use already is none, so nothing is lost where it stays on disk.
        let _ = self.keep_draft(&Draft::default());
        Ok(version)
    }

    /// Number of the last entry of the first pass; 0 where nothing was keyed.
    fn last_entry(&self) -> Result<i64, JobError> {
        let states = self.store.states(FIRST_PASS)?.into_iter();
        let last = states.filter_map(|(_, state)| state.last).max();
        Ok(last.unwrap_or_default())
    }

    /// Nothing outside the job's folder is written, by no name and no link.
    fn expect_inside(&self, path: &Path) -> io::Result<()> {
        let folder = self.settings.folder.canonicalize()?;
        match path.canonicalize()?.starts_with(&folder) {
            true => Ok(()),
            false => Err(io::Error::other(
                "it lies outside the job's folder, where headword writes nothing; copy it into the folder and name the copy \
                 in job.toml",
            )),
        }
    }

    /// The publication that was made last, with who made it and when.
    pub fn published(&self) -> Result<Option<(Decision, Publication)>, JobError> {
        Ok(self.publications()?.pop())
    }

    /// All publications, with who made each and when.
    pub fn publications(&self) -> Result<Vec<(Decision, Publication)>, JobError> {
        let decisions = self.store.decisions()?.into_iter();
        let versions = decisions.filter_map(|decision| {
            let Choice::RulesPublished(publication) = decision.choice.clone() else {
                return None;
            };
            Some((decision, publication))
        });
        Ok(versions.collect())
    }

    /// A draft that says what a version did; version 0 is what stood before the first. `None` where there is no such
    /// version. Files that the job had not then stay as they are.
    pub fn draft_of(&self, version: u32) -> Result<Option<Draft>, JobError> {
        let versions = self.publications()?;
        let texts = match version {
            0 => versions.first().map(|(_, first)| &first.replaced),
            _ => versions
                .iter()
                .find(|(_, known)| known.version == version)
                .map(|(_, known)| &known.files),
        };
        let Some(texts) = texts else {
            return Ok(None);
        };
        let mut draft = self.rules_in_use()?;
        for file in &mut draft.files {
            if let Some((_, text)) = texts.iter().find(|(name, _)| *name == file.name) {
                text.clone_into(&mut file.text);
            }
        }
        Ok(Some(draft))
    }

    /// Sheets that were keyed before the rules in use were published, and from which these take other values than those
    /// before did and than were keyed; with the rules' version. `None` where there is none.
    pub fn keyed_unlike_rules(&self) -> Result<Option<(u32, Vec<SheetId>)>, JobError> {
        let Some((_, publication)) = self.published()? else {
            return Ok(None);
        };
        let mut unlike = Vec::new();
        for sheet in publication.disagreeing {
            let is_keyed_since = self.store.history(&sheet)?.iter().any(|entry| {
                entry.pass == FIRST_PASS
                    && entry.number > publication.entries_before
                    && matches!(entry.act, Act::Keyed(_))
            });
            if !is_keyed_since {
                unlike.push(sheet);
            }
        }
        Ok((!unlike.is_empty()).then_some((publication.version, unlike)))
    }

    fn expect_fields(&self, rules: &RuleBook) -> Result<(), JobError> {
        super::expect_fields(&self.settings, &self.text, rules)
    }
}

#[cfg(test)]
mod tests;
