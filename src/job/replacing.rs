//! The roster replaced by a newer one: the file before stays beside it, and the journal says who did it.
//!
//! The decision is journalled before the file is exchanged, so that no roster is ever in use that nobody decided on. What a
//! kill leaves between the two is told by [`Job::unfinished_replacement`], and done by replacing the roster again.

use super::{Job, JobError, prepare, proposer};
use crate::journal::{Choice, Decision, Replacement, Store};
use crate::roster::{Roster, Table};
use crate::value::{Finding, sha256_file, sha256_hex};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Begins the names of files that are being written.
const BEING_WRITTEN: &str = ".headword-roster-";

/// A roster that is to take the place of a job's.
#[derive(Debug)]
pub struct NewerRoster {
    bytes: Vec<u8>,
    /// SHA-256 of the file.
    pub hash: String,
    /// Prepared as the job's own is.
    pub roster: Roster,
    pub findings: Vec<Finding>,
}

impl<S: Store> Job<S> {
    /// Reads a roster as the job would.
    ///
    /// # Errors
    /// The job has no roster; the file cannot be read, has no rows, or lacks a column that the job names.
    pub fn newer_roster(&self, path: &Path) -> Result<NewerRoster, JobError> {
        let schema = proposer::roster_schema(&self.settings, self.proposer.rules());
        let schema = schema.ok_or(JobError::NoRoster)?;
        let bytes = fs::read(path)
            .map_err(|cause| JobError::unreadable(path, "the newer roster, a CSV file", cause))?;
        let (table, mut findings) = Table::from_reader(&bytes[..])?;
        if table.is_empty() {
            return Err(JobError::NoRows {
                path: path.to_owned(),
            });
        }
        let (roster, more) = Roster::prepare(table, &schema)?;
        findings.extend(more);
        Ok(NewerRoster {
            hash: sha256_hex(&bytes),
            bytes,
            roster,
            findings,
        })
    }

    /// SHA-256 of the job's roster file as it lies there.
    pub fn roster_hash(&self) -> Result<String, JobError> {
        let path = self.roster_path()?;
        let unreadable = |cause| JobError::unreadable(&path, "the job's roster", cause);
        sha256_file(&path).map_err(unreadable)
    }

    /// Puts a newer roster in the place of the job's, and keeps the one before beside it, under the name that is
    /// returned. Proposals are not made anew here.
    ///
    /// # Errors
    /// The roster lies outside the job, changed since it was opened (`before` is its hash), or cannot be written. Then it
    /// is as it was.
    pub fn replace_roster(
        &mut self,
        newer: &NewerRoster,
        by: &str,
        at: i64,
        replacement: Replacement,
    ) -> Result<String, JobError> {
        let path = self.roster_path()?;
        let not_kept = |cause| JobError::NotKept {
            path: path.clone(),
            what: "the roster",
            cause,
        };
        // Whoever else is at it has the lock, or has exchanged the file already and the hash tells.
        let lock = File::open(&path).map_err(not_kept)?;
        let is_alone = lock.try_lock().is_ok();
        let old = fs::read(&path).map_err(not_kept)?;
        if !is_alone || sha256_hex(&old) != replacement.before {
            return Err(JobError::RosterChanged { path });
        }
        clear_away(&path).map_err(not_kept)?;
        let kept_as = keep(&path, &old).map_err(not_kept)?;
        let is_decided = self
            .last_replacement()?
            .is_some_and(|(_, last)| last.before == replacement.before && last.after == newer.hash);
        if !is_decided {
            let replacement = Replacement {
                after: newer.hash.clone(),
                kept_as: kept_as.clone(),
                ..replacement
            };
            let choice = Choice::RosterReplaced(replacement);
            self.store.decide(&Decision::new(by, at, choice))?;
        }
        put_in_place(&path, &newer.bytes).map_err(not_kept)?;
        let (_, _, proposer, findings) = prepare(&self.settings.folder)?;
        self.proposer = proposer;
        self.findings = findings;
        Ok(kept_as)
    }

    /// A replacement that was decided and not carried out: the roster before it still lies there.
    pub fn unfinished_replacement(&self) -> Result<Option<(Decision, Replacement)>, JobError> {
        let Some((decision, last)) = self.last_replacement()? else {
            return Ok(None);
        };
        let is_open =
            last.before != last.after && self.roster_hash().is_ok_and(|hash| hash == last.before);
        Ok(is_open.then_some((decision, last)))
    }

    fn last_replacement(&self) -> Result<Option<(Decision, Replacement)>, JobError> {
        let decisions = self.store.decisions()?.into_iter().rev();
        let mut replacements = decisions.filter_map(|decision| match decision.choice.clone() {
            Choice::RosterReplaced(replacement) => Some((decision, replacement)),
            _ => None,
        });
        Ok(replacements.next())
    }

    /// Where the roster lies; nothing outside a job's folder is written.
    fn roster_path(&self) -> Result<PathBuf, JobError> {
        let wanted = self.settings.roster.as_ref().ok_or(JobError::NoRoster)?;
        let path = self.settings.folder.join(&wanted.file);
        let real = |path: &Path| {
            let unreadable = |cause| JobError::unreadable(path, "the job's roster", cause);
            path.canonicalize().map_err(unreadable)
        };
        let (path, folder) = (real(&path)?, real(&self.settings.folder)?);
        match path.starts_with(folder) {
            true => Ok(path),
            false => Err(JobError::RosterOutside { path }),
        }
    }
}

/// Keeps a roster's bytes beside it under the next free number; one that is kept already is not kept twice.
fn keep(path: &Path, bytes: &[u8]) -> io::Result<String> {
    let part =
        |part: Option<&std::ffi::OsStr>| part.unwrap_or_default().to_string_lossy().into_owned();
    let (stem, ending) = (part(path.file_stem()), part(path.extension()));
    let ending = if ending.is_empty() {
        ending
    } else {
        format!(".{ending}")
    };
    let mut beside = write_beside(path, bytes)?;
    for number in 1_u32.. {
        let name = format!("{stem}-replaced-{number:04}{ending}");
        let kept = path.with_file_name(&name);
        match beside.persist_noclobber(&kept) {
            Ok(_) => {
                sync_folder(path)?;
                return Ok(name);
            }
            Err(refused) if refused.error.kind() == io::ErrorKind::AlreadyExists => {
                if fs::read(&kept)? == bytes {
                    return Ok(name);
                }
                beside = refused.file;
            }
            Err(refused) => return Err(refused.error),
        }
    }
    unreachable!("there are more numbers than files in a folder")
}

/// Writes a file beside and puts it in the place of the one there: whoever looks sees the old one or the new one.
pub(super) fn put_in_place(path: &Path, bytes: &[u8]) -> io::Result<()> {
    write_beside(path, bytes)?.persist(path)?;
    sync_folder(path)
}

/// A file in the same folder, on disk, with the rights of the one there, if there is one.
fn write_beside(path: &Path, bytes: &[u8]) -> io::Result<NamedTempFile> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let mut beside = tempfile::Builder::new()
        .prefix(BEING_WRITTEN)
        .tempfile_in(folder)?;
    if let Ok(known) = fs::metadata(path) {
        beside.as_file().set_permissions(known.permissions())?;
    }
    beside.write_all(bytes)?;
    beside.as_file().sync_all()?;
    Ok(beside)
}

/// Takes away what a killed run was writing.
fn clear_away(path: &Path) -> io::Result<()> {
    for entry in fs::read_dir(path.parent().unwrap_or(Path::new(".")))? {
        let entry = entry?;
        if entry
            .file_name()
            .to_string_lossy()
            .starts_with(BEING_WRITTEN)
        {
            fs::remove_file(entry.path())?;
        }
    }
    Ok(())
}

fn sync_folder(path: &Path) -> io::Result<()> {
    File::open(path.parent().unwrap_or(Path::new(".")))?.sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::{MemoryStore, ReadingRecord, SheetRecord};
    use crate::reading::{Line, Reading};
    use crate::value::SheetId;
    use tempfile::TempDir;

    const RULES: &str = r#"
        [[field]]
        name = "surname"
        kind = "surname"
        [[field]]
        name = "number"
        kind = "code"
        pattern = '\d{4}'
        [[rule]]
        name = "sheet"
        line = "{surname}   NO. {number}"
    "#;
    const JOB: &str = "title = \"T\"\nsheets = { folder = \"s\" }\nrules = { files = [\"r.toml\"] }\n\
                       naming = { pattern = \"{number}\" }\n[roster]\nfile = \"people.csv\"\nkey = \"nr\"\n\
                       [roster.columns]\nnumber = \"nr\"\nsurname = \"name\"\n";
    const OLD: &str = "nr,name\n1041,DALTON\n2377,QUAYLE\n";
    const NEW: &str = "nr,name\n1041,DALTON-HART\n2378,QUAYLE\n";

    fn job() -> (TempDir, Job<MemoryStore>) {
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in [
            ("job.toml", JOB),
            ("r.toml", RULES),
            ("people.csv", OLD),
            ("new.csv", NEW),
        ] {
            fs::write(folder.path().join(name), text).unwrap();
        }
        let mut job = Job::with_store(folder.path(), MemoryStore::default()).unwrap();
        let sheet = SheetId::new("1.png");
        let reading = Reading {
            lines: vec![Line::certain("DALTON   NO. 1041", 0.97)],
        };
        let put = [SheetRecord::new(sheet.clone(), "hash".to_owned(), 1, 1)];
        job.store.put_sheets(&put).unwrap();
        let reading = ReadingRecord::new(sheet, "key".to_owned(), None, reading);
        job.store.put_readings(&[reading]).unwrap();
        (folder, job)
    }

    fn begun(job: &Job<MemoryStore>) -> Replacement {
        Replacement {
            before: job.roster_hash().unwrap(),
            added: 1,
            ..Replacement::default()
        }
    }

    #[test]
    fn the_one_before_is_kept_and_waiting_sheets_are_proposed_anew() {
        let (folder, mut job) = job();
        let file = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
        assert_eq!(job.propose(|_, _| ()).unwrap(), 1);
        let newer = job.newer_roster(&folder.path().join("new.csv")).unwrap();
        let replacement = begun(&job);
        let kept = job
            .replace_roster(&newer, "ada", 7, replacement.clone())
            .unwrap();
        assert_eq!(kept, "people-replaced-0001.csv");
        assert_eq!(
            (file(&kept), file("people.csv")),
            (OLD.to_owned(), NEW.to_owned())
        );
        let decisions = job.store.decisions().unwrap();
        assert_eq!(
            (decisions.len(), decisions[0].by.as_str(), decisions[0].at),
            (1, "ada", 7)
        );
        let Choice::RosterReplaced(found) = &decisions[0].choice else {
            panic!("{decisions:?}");
        };
        assert_eq!(
            (found.after.as_str(), found.added),
            (newer.hash.as_str(), 1)
        );
        assert_eq!(found.kept_as, kept);
        assert_eq!(job.unfinished_replacement().unwrap(), None);
        // By the newer roster, and only once.
        assert_eq!(job.propose(|_, _| ()).unwrap(), 1);
        let proposal = job
            .store
            .proposal(&SheetId::new("1.png"))
            .unwrap()
            .unwrap()
            .proposal;
        let surname = proposal
            .fields
            .iter()
            .find(|field| field.field == "surname")
            .unwrap();
        assert_eq!(surname.as_roster.as_deref(), Some("DALTON-HART"));
        assert_eq!(job.propose(|_, _| ()).unwrap(), 0);
        // Back again: the next number, and what was kept stays.
        fs::write(folder.path().join("new.csv"), OLD).unwrap();
        let newer = job.newer_roster(&folder.path().join("new.csv")).unwrap();
        let back = begun(&job);
        assert_eq!(
            job.replace_roster(&newer, "ada", 8, back).unwrap(),
            "people-replaced-0002.csv"
        );
        assert_eq!(
            (file(&kept), file("people.csv")),
            (OLD.to_owned(), OLD.to_owned())
        );
        // Who compared with a roster that is gone by now replaces nothing.
        let late = Replacement {
            before: "other".to_owned(),
            ..replacement
        };
        assert!(matches!(
            job.replace_roster(&newer, "kim", 9, late),
            Err(JobError::RosterChanged { .. })
        ));
        assert_eq!(job.store.decisions().unwrap().len(), 2);
    }

    #[test]
    fn what_a_kill_leaves_is_told_and_done_by_doing_it_again() {
        let (folder, mut job) = job();
        let newer = job.newer_roster(&folder.path().join("new.csv")).unwrap();
        let replacement = begun(&job);
        // Killed before the file was exchanged.
        let kept = keep(&folder.path().join("people.csv"), OLD.as_bytes()).unwrap();
        let choice = Choice::RosterReplaced(Replacement {
            after: newer.hash.clone(),
            kept_as: kept.clone(),
            ..replacement.clone()
        });
        job.store.decide(&Decision::new("ada", 7, choice)).unwrap();
        assert!(job.unfinished_replacement().unwrap().is_some());
        assert_eq!(
            job.replace_roster(&newer, "ada", 8, replacement).unwrap(),
            kept
        );
        assert_eq!(job.store.decisions().unwrap().len(), 1);
        assert_eq!(job.unfinished_replacement().unwrap(), None);
        let files = fs::read_dir(folder.path()).unwrap().count();
        assert_eq!(files, 5, "four and the one kept");
    }

    #[test]
    fn rosters_that_cannot_take_the_place_are_refused() {
        let (folder, mut job) = job();
        let path = folder.path().join("new.csv");
        for (text, says) in [
            ("nr\n1041\n", "expected a column named name"),
            ("nr,name\n", "expected rows"),
            ("", "the file is empty"),
        ] {
            fs::write(&path, text).unwrap();
            let fault = job.newer_roster(&path).unwrap_err().to_string();
            assert!(fault.contains(says), "{fault}");
        }
        fs::write(&path, NEW).unwrap();
        let newer = job.newer_roster(&path).unwrap();
        let outside = tempfile::NamedTempFile::new().unwrap();
        fs::write(outside.path(), OLD).unwrap();
        job.settings.roster.as_mut().unwrap().file = outside.path().to_owned();
        let fault = job.replace_roster(&newer, "ada", 1, Replacement::default());
        assert!(fault.unwrap_err().to_string().contains("outside the job"));
        job.settings.roster = None;
        assert!(
            job.newer_roster(&path)
                .unwrap_err()
                .to_string()
                .contains("[roster]")
        );
        assert_eq!(job.store.decisions().unwrap().len(), 0);
    }
}
