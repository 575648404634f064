//! Drafts and publications of a job in a folder.

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

    // What stood before can be had again.
    assert_eq!(job.draft_of(0).unwrap().unwrap().files[0].text, RULES);
    assert!(!job.draft_of(1).unwrap().unwrap().is_changed());
    assert_eq!(job.draft_of(2).unwrap(), None);
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
fn a_publication_that_failed_halfway_is_completed() {
    let folder = tempfile::tempdir().unwrap();
    let mut job = job(folder.path());
    let begun = job.draft().unwrap();
    let draft = with_text(&begun, &RULES.replace("{surname}", "N {surname}"));
    // The file was exchanged, the decision not written.
    fs::write(folder.path().join("a.toml"), &draft.files[0].text).unwrap();
    assert_eq!(publish(&mut job, &draft).unwrap(), 1);
    assert_eq!(job.store.decisions().unwrap().len(), 1);
}

#[test]
fn a_file_that_the_draft_leaves_alone_must_not_have_changed_either() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("b.toml"), "# nothing yet\n").unwrap();
    let two = JOB.replace("\"a.toml\"", "\"a.toml\", \"b.toml\"");
    job(folder.path());
    fs::write(folder.path().join("job.toml"), two).unwrap();
    let mut job = Job::with_store(folder.path(), MemoryStore::default()).unwrap();
    let draft = with_text(
        &job.draft().unwrap(),
        &RULES.replace("{surname}", "N {surname}"),
    );
    fs::write(folder.path().join("b.toml"), "# theirs\n").unwrap();
    let refused = publish(&mut job, &draft).unwrap_err().to_string();
    assert!(refused.starts_with("b.toml was changed"), "{refused}");
}

#[test]
fn rules_outside_the_folder_are_not_written() {
    let folder = tempfile::tempdir().unwrap();
    let outside = tempfile::tempdir().unwrap();
    let mut job = job(folder.path());
    let live = folder.path().join("a.toml");
    let real = outside.path().join("real.toml");
    fs::rename(&live, &real).unwrap();
    std::os::unix::fs::symlink(&real, &live).unwrap();
    let draft = with_text(
        &job.draft().unwrap(),
        &RULES.replace("{surname}", "N {surname}"),
    );
    let refused = publish(&mut job, &draft).unwrap_err().to_string();
    assert!(refused.contains("outside the job's folder"), "{refused}");
    assert_eq!(fs::read_to_string(&real).unwrap(), RULES);
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
