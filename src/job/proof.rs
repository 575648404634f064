//! `[proof]` of `job.toml`: whether the bulk waits for the client's approval; and what an approval is of.

use super::quality::word;
use super::{Job, JobSettings};
use crate::journal::Versions;
use crate::rules::{FaultList, Section};
use crate::value::{sha256_file, sha256_parts};

/// How a job is proved before the bulk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ProofSettings {
    pub bulk: Bulk,
}

/// What happens to keying and delivering before the client approved the proof.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Bulk {
    /// It is not done.
    Refused,
    /// It is done, and told.
    Warned,
    /// It is done.
    #[default]
    Free,
}

pub(super) const KEYS: [&str; 1] = ["bulk"];

/// Words of a job file and what they mean.
pub(super) const BULK: [(&str, Bulk); 3] = [
    ("refused", Bulk::Refused),
    ("warned", Bulk::Warned),
    ("free", Bulk::Free),
];

pub(super) fn read(section: &Section, faults: &mut FaultList) -> ProofSettings {
    ProofSettings {
        bulk: word(section, faults, "bulk", &BULK).unwrap_or_default(),
    }
}

impl<S> Job<S> {
    /// Rules, roster and naming as they are now.
    pub fn versions(&self) -> Versions {
        Versions {
            rules: self.proposer.rules().hash().to_owned(),
            roster: roster(&self.settings),
            naming: sha256_parts([self.settings.naming.pattern.get_ref()]),
        }
    }
}

/// Hash of the roster's file and of what its columns are taken for; empty where there is none.
fn roster(settings: &JobSettings) -> String {
    let Some(roster) = &settings.roster else {
        return String::new();
    };
    // A file that is gone has no content; a job whose roster is gone does not open.
    let content = sha256_file(&settings.folder.join(&roster.file)).unwrap_or_default();
    let columns = roster.columns.iter();
    let columns = columns.flat_map(|(field, column)| [field.get_ref().as_str(), column.as_str()]);
    sha256_parts(
        [content.as_str(), roster.key.as_str()]
            .into_iter()
            .chain(columns),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::MemoryStore;
    use std::path::Path;

    const JOB: &str = "title = \"T\"\nsheets = { folder = \"s\" }\nrules = { files = [\"r.toml\"] }\n\
                       naming = { pattern = \"{number}\" }\n";

    #[test]
    fn the_bulk_is_free_unless_the_job_says_otherwise() {
        let parsed = |text: &str| JobSettings::parse(Path::new("."), &format!("{JOB}{text}"));
        assert_eq!(parsed("").unwrap().proof.bulk, Bulk::Free);
        assert_eq!(parsed("[proof]\n").unwrap().proof.bulk, Bulk::Free);
        for (name, bulk) in BULK {
            let settings = parsed(&format!("[proof]\nbulk = \"{name}\"\n")).unwrap();
            assert_eq!(settings.proof.bulk, bulk);
        }
        for (faulty, says) in [
            (
                "[proof]\nbulk = \"refuse\"\n",
                "\"refused\" or \"warned\" or \"free\"",
            ),
            ("[proof]\nbulk = true\n", "text in quotes"),
            ("[proof]\nbulc = \"free\"\n", "bulk"),
        ] {
            let told = parsed(faulty).unwrap_err().to_string();
            assert!(told.contains(says), "{told}");
        }
    }

    #[test]
    fn a_version_changes_with_what_it_is_of() {
        let folder = tempfile::tempdir().unwrap();
        let write =
            |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
        let rules = "[[field]]\nname = \"number\"\nkind = \"number\"\n[[rule]]\nname = \"r\"\nline = \"{number}\"\n";
        let roster = "[roster]\nfile = \"r.csv\"\nkey = \"n\"\ncolumns = { number = \"n\" }\n";
        write("r.toml", rules);
        write("r.csv", "n,m\n1,2\n");
        let versions = |job: &str| {
            write("job.toml", job);
            let job = Job::with_store(folder.path(), MemoryStore::default());
            job.unwrap().versions()
        };
        let bare = versions(JOB);
        let with = versions(&format!("{JOB}{roster}"));
        assert_eq!(
            (bare.roster.as_str(), &bare.rules, &bare.naming),
            ("", &with.rules, &with.naming)
        );
        assert_ne!(with.roster, "");
        let renamed = versions(&JOB.replace("{number}", "n{number}"));
        assert_ne!(renamed.naming, bare.naming);
        write("r.csv", "n,m\n1,3\n");
        assert_ne!(versions(&format!("{JOB}{roster}")).roster, with.roster);
        write("r.toml", &format!("{rules}\n# a word\n"));
        assert_ne!(versions(JOB).rules, bare.rules);
    }
}
