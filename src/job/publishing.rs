//! Rules on their way into use: a draft beside the job's rule files, and its publication.

use super::{Job, JobError, rule_book, rule_files};
use crate::journal::{Choice, Decision, Publication, SqliteStore, Store};
use crate::rules::RuleBook;
use serde::{Deserialize, Serialize};
use std::io::{self, Write};
use std::path::Path;
use std::sync::Arc;
use tempfile::NamedTempFile;

/// The draft's file in a job's folder.
const DRAFT_FILE: &str = "rules-draft.json";

/// The rule files of a job as somebody is changing them. Nothing of it is in use until it is published.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Draft {
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
    /// The draft that was kept, or one that changes nothing.
    pub fn draft(&self) -> Result<Draft, JobError> {
        let live = rule_files(&self.settings)?;
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
        let mut kept = kept.map_or_else(Vec::new, |draft| draft.files);
        let files = live.into_iter().map(|(name, text)| {
            let known = kept.iter().position(|file| file.name == name);
            match known.map(|at| kept.swap_remove(at)) {
                // A draft that somebody else put to use, or that changes nothing, needs no base of its own.
                Some(file) if file.is_changed() && file.text != text => file,
                _ => DraftFile {
                    name,
                    base: text.clone(),
                    text,
                },
            }
        });
        Ok(Draft {
            files: files.collect(),
        })
    }

    /// Keeps a draft on disk; one that changes nothing leaves none there.
    pub fn keep_draft(&self, draft: &Draft) -> Result<(), JobError> {
        let path = self.settings.folder.join(DRAFT_FILE);
        let kept = match draft.is_changed() {
            true => serde_json::to_string_pretty(draft)
                .map_err(io::Error::other)
                .and_then(|text| replace(&path, &text)),
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
            if file.is_changed() && file.base != *text && file.text != *text {
                return Err(JobError::ChangedSince { name: name.clone() });
            }
        }
        let changed = |(file, (_, text)): &(&DraftFile, &(String, String))| {
            file.is_changed() && file.text != *text
        };
        let changed: Vec<_> = draft.files.iter().zip(&live).filter(changed).collect();
        if changed.is_empty() {
            return Err(JobError::NothingToPublish);
        }
        let proposer = self.proposer.with_rules(&self.settings, rules)?;
        for (file, _) in changed {
            let path = self.settings.folder.join(&file.name);
            replace(&path, &file.text).map_err(|cause| JobError::NotKept {
                path,
                what: "the rules",
                cause,
            })?;
        }
        let version = self.published()?.map_or(0, |(_, last)| last.version) + 1;
        let publication = Publication {
            version,
            files: draft.texts(),
            ..publication
        };
        let choice = Choice::RulesPublished(publication);
        self.store.decide(&Decision::new(by, at, choice))?;
        self.proposer = proposer;
        self.keep_draft(&Draft { files: Vec::new() })?;
        Ok(version)
    }

    /// The publication that was made last, with who made it and when.
    pub fn published(&self) -> Result<Option<(Decision, Publication)>, JobError> {
        let decisions = self.store.decisions()?.into_iter().rev();
        let mut publications = decisions.filter_map(|decision| {
            let Choice::RulesPublished(publication) = decision.choice.clone() else {
                return None;
            };
            Some((decision, publication))
        });
        Ok(publications.next())
    }

    fn expect_fields(&self, rules: &RuleBook) -> Result<(), JobError> {
        super::expect_fields(&self.settings, &self.text, rules)
    }
}

/// Writes a file beside and puts it in the place of the one there: whoever looks sees the old text or the new one.
fn replace(path: &Path, text: &str) -> io::Result<()> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let mut beside = NamedTempFile::new_in(folder)?;
    if let Ok(known) = std::fs::metadata(path) {
        beside.as_file().set_permissions(known.permissions())?;
    }
    beside.write_all(text.as_bytes())?;
    beside.as_file().sync_all()?;
    beside.persist(path)?;
    std::fs::File::open(folder)?.sync_all()
}
