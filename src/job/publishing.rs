//! Rules on their way into use: a draft beside the job's rule files, and its publication.

use super::{Job, JobError, rule_book, rule_files};
use crate::journal::{Act, Choice, Decision, Publication, SqliteStore, Store};
use crate::rules::RuleBook;
use crate::value::SheetId;
use serde::{Deserialize, Serialize};
use std::fs::{File, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tempfile::NamedTempFile;

/// The draft's file in a job's folder.
const DRAFT_FILE: &str = "rules-draft.json";

/// The file by which one person at a time works on the rules.
const SEAT_FILE: &str = "rules-desk.lock";

/// One person's right to work on a job's rules; given back when dropped, or when the process ends in any way.
#[derive(Debug)]
pub struct Seat {
    path: PathBuf,
    _locked: File,
}

impl Drop for Seat {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.path);
    }
}

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
                return Err(JobError::SeatTaken { by });
            }
            // Where locks are not to be had, the check at publishing still holds.
            Err(TryLockError::Error(_)) | Ok(()) => {}
        }
        let written = locked
            .set_len(0)
            .and_then(|()| locked.write_all(person.as_bytes()));
        written.map_err(not_kept)?;
        Ok(Seat {
            path,
            _locked: locked,
        })
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
            files: files.collect(),
        })
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
        let mut kept = kept.map_or_else(Vec::new, |draft| draft.files);
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

    /// Sheets that were keyed before the rules in use were published, and from which these take other values than those
    /// before did and than were keyed; with the rules' version. `None` where there is none.
    pub fn keyed_unlike_rules(&self) -> Result<Option<(u32, Vec<SheetId>)>, JobError> {
        let Some((decision, publication)) = self.published()? else {
            return Ok(None);
        };
        let mut unlike = Vec::new();
        for sheet in publication.disagreeing {
            let keyed = self.store.history(&sheet)?.into_iter().rev();
            let mut keyed = keyed.filter(|entry| matches!(entry.act, Act::Keyed(_)));
            if keyed.next().is_some_and(|last| last.at <= decision.at) {
                unlike.push(sheet);
            }
        }
        Ok((!unlike.is_empty()).then_some((publication.version, unlike)))
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
    File::open(folder)?.sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::MemoryStore;
    use std::fs;

    const RULES: &str = "[[field]]\nname = \"surname\"\nkind = \"surname\"\n[[rule]]\nname = \"name\"\n\
                         line = \"{surname}\"\n";
    const JOB: &str = "title = \"T\"\nsheets = { folder = \"s\" }\nrules = { files = [\"a.toml\"] }\n\
                       naming = { pattern = \"{surname}\" }\n";

    fn job(folder: &Path) -> Job<MemoryStore> {
        fs::write(folder.join("job.toml"), JOB).unwrap();
        fs::write(folder.join("a.toml"), RULES).unwrap();
        Job::with_store(folder, MemoryStore::default()).unwrap()
    }

    fn with_text(draft: &Draft, text: &str) -> Draft {
        let mut draft = draft.clone();
        text.clone_into(&mut draft.files[0].text);
        draft
    }

    fn publish(job: &mut Job<MemoryStore>, draft: &Draft) -> Result<u32, JobError> {
        job.publish(draft, "sue", 1_700_000_000_000, Publication::default())
    }

    #[test]
    fn a_draft_is_kept_until_it_is_published_or_given_up() {
        let folder = tempfile::tempdir().unwrap();
        let mut job = job(folder.path());
        let live = folder.path().join("a.toml");
        let begun = job.draft().unwrap();
        assert!(!begun.is_changed());
        let better = with_text(&begun, &RULES.replace("{surname}", "NAME {surname}"));
        job.keep_draft(&better).unwrap();
        assert_eq!(job.draft().unwrap(), better);
        assert_eq!(fs::read_to_string(&live).unwrap(), RULES);

        let rules_before = job.proposer.rules().hash().to_owned();
        assert_eq!(publish(&mut job, &better).unwrap(), 1);
        assert_eq!(fs::read_to_string(&live).unwrap(), better.files[0].text);
        assert_ne!(job.proposer.rules().hash(), rules_before);
        assert!(!job.draft().unwrap().is_changed());
        assert!(!folder.path().join(DRAFT_FILE).exists());
        let (decision, publication) = job.published().unwrap().unwrap();
        assert_eq!((decision.by.as_str(), publication.version), ("sue", 1));
        assert_eq!(publication.files, better.texts());

        let again = with_text(&job.draft().unwrap(), RULES);
        assert_eq!(publish(&mut job, &again).unwrap(), 2);
        let same = job.draft().unwrap();
        assert!(matches!(
            publish(&mut job, &same),
            Err(JobError::NothingToPublish)
        ));
    }

    #[test]
    fn nobodys_change_is_undone_and_no_fault_is_published() {
        let folder = tempfile::tempdir().unwrap();
        let mut job = job(folder.path());
        let live = folder.path().join("a.toml");
        let draft = with_text(
            &job.draft().unwrap(),
            &RULES.replace("{surname}", "N {surname}"),
        );
        job.keep_draft(&draft).unwrap();
        let theirs = RULES.replace("{surname}", "M {surname}");
        fs::write(&live, &theirs).unwrap();
        // The draft stays what it was, with the base that it was begun from.
        assert_eq!(job.draft().unwrap(), draft);
        let refused = publish(&mut job, &draft).unwrap_err();
        assert!(
            matches!(refused, JobError::ChangedSince { .. }),
            "{refused}"
        );
        assert_eq!(fs::read_to_string(&live).unwrap(), theirs);

        fs::write(&live, RULES).unwrap();
        for faulty in ["", "[[rule]]", &RULES.replace("surname", "name")] {
            let refused = publish(&mut job, &with_text(&draft, faulty));
            assert!(matches!(refused, Err(JobError::Faults(_))), "{faulty}");
        }
        assert_eq!(fs::read_to_string(&live).unwrap(), RULES);
        assert_eq!(job.store.decisions().unwrap(), []);
    }

    #[test]
    fn one_person_at_a_time_sits_at_the_rules() {
        let folder = tempfile::tempdir().unwrap();
        let job = job(folder.path());
        let seat = job.take_seat("sue").unwrap();
        let refused = job.take_seat("kim").unwrap_err().to_string();
        assert!(refused.starts_with("sue sits"), "{refused}");
        drop(seat);
        drop(job.take_seat("kim").unwrap());
        assert!(!folder.path().join(SEAT_FILE).exists());
    }

    #[test]
    fn a_draft_that_cannot_be_understood_is_told_and_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let job = job(folder.path());
        let path = folder.path().join(DRAFT_FILE);
        fs::write(&path, "{ \"files\": 3 }").unwrap();
        let told = job.draft().unwrap_err().to_string();
        assert!(told.contains("move the file away"), "{told}");
        assert!(path.exists());
    }
}
