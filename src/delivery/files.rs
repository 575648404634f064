//! Finished files into their folder, all or none, whenever the program is stopped.

use super::is_portable;
use crate::value::shown;
use rustix::fs::{CWD, RenameFlags, renameat_with};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;
use thiserror::Error;

/// Begins the names of folders that are being made. What is left of a killed run is cleared away by the next.
const STAGING: &str = ".headword-new-";

/// Why files could not be put in their folder. The folder is as it was.
#[derive(Debug, Error)]
pub enum WriteError {
    #[error(
        "{file}: cannot be written ({source}); nothing was replaced; see that the folder exists, may be written to and has room, then run the command again"
    )]
    NotWritten { file: String, source: io::Error },
    #[error("{file}: expected a file name that is portable, found this; nothing was written")]
    Name { file: String },
    #[error(
        "{file}: expected only files of headword's in this folder, which is replaced as a whole; nothing was replaced; move it elsewhere and run the command again"
    )]
    Stranger { file: String },
}

/// Puts files into a folder of theirs, in place of all that was there before: a reader sees the old folder or the new
/// one, also after a kill or a power cut. `known` are the names of files that may be replaced; others keep it from
/// being done.
pub fn replace_folder(
    folder: &Path,
    files: &[(&str, Vec<u8>)],
    known: &[&str],
) -> Result<(), WriteError> {
    let failed = |path: &Path, source| WriteError::NotWritten {
        file: shown(&path.display().to_string()).into_owned(),
        source,
    };
    if let Some((name, _)) = files.iter().find(|(name, _)| !is_portable(name)) {
        return Err(WriteError::Name {
            file: shown(name).into_owned(),
        });
    }
    let parent = folder.parent().unwrap_or(Path::new("."));
    fs::create_dir_all(parent).map_err(|error| failed(parent, error))?;
    let _lock = locked(parent).map_err(|error| failed(parent, error))?;
    clear_away(parent).map_err(|error| failed(parent, error))?;
    let has_old = is_there(folder).map_err(|error| failed(folder, error))?;
    if has_old && let Some(name) = stranger(folder, known).map_err(|error| failed(folder, error))? {
        return Err(WriteError::Stranger {
            file: shown(&folder.join(name).display().to_string()).into_owned(),
        });
    }
    let mut builder = tempfile::Builder::new();
    builder.prefix(STAGING);
    // As the user's umask wants it, not private as temporary folders are.
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o777));
    let staging = builder
        .tempdir_in(parent)
        .map_err(|error| failed(parent, error))?;
    for (name, content) in files {
        write_synced(&staging.path().join(name), content)
            .map_err(|error| failed(&folder.join(name), error))?;
    }
    let finished = || {
        sync(staging.path())?;
        put_in_place(staging.path(), folder, has_old)?;
        sync(parent)
    };
    // Afterwards the staging folder is the old one, or gone; it is cleared away when it is dropped.
    finished().map_err(|error| failed(folder, error))
}

/// Keeps a second process from the folder until the lock is dropped.
pub(super) fn locked(folder: &Path) -> io::Result<File> {
    let lock = File::create(folder.join(".lock"))?;
    lock.try_lock().map_err(|error| match error {
        fs::TryLockError::WouldBlock => io::Error::new(
            io::ErrorKind::ResourceBusy,
            "another headword is writing there; wait for it",
        ),
        fs::TryLockError::Error(error) => error,
    })?;
    Ok(lock)
}

fn clear_away(parent: &Path) -> io::Result<()> {
    for entry in fs::read_dir(parent)? {
        let entry = entry?;
        if entry.file_name().to_string_lossy().starts_with(STAGING) {
            fs::remove_dir_all(entry.path())?;
        }
    }
    Ok(())
}

/// Whether the folder is there; an error where something else has its name.
fn is_there(folder: &Path) -> io::Result<bool> {
    match fs::symlink_metadata(folder) {
        Ok(found) if found.is_dir() => Ok(true),
        Ok(_) => Err(io::Error::new(
            io::ErrorKind::NotADirectory,
            "something that is no folder has its name",
        )),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(false),
        Err(error) => Err(error),
    }
}

fn stranger(folder: &Path, known: &[&str]) -> io::Result<Option<String>> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if !known.contains(&name.as_str()) || entry.file_type()?.is_dir() {
            return Ok(Some(name));
        }
    }
    Ok(None)
}

fn write_synced(path: &Path, content: &[u8]) -> io::Result<()> {
    let mut file = File::create_new(path)?;
    file.write_all(content)?;
    file.sync_all()
}

/// So that names, too, survive a power cut.
pub(super) fn sync(folder: &Path) -> io::Result<()> {
    File::open(folder)?.sync_all()
}

fn put_in_place(new: &Path, folder: &Path, has_old: bool) -> io::Result<()> {
    if !has_old {
        return fs::rename(new, folder);
    }
    match renameat_with(CWD, new, CWD, folder, RenameFlags::EXCHANGE) {
        Ok(()) => Ok(()),
        // File systems that cannot exchange two names: for a moment there is no folder of the name.
        Err(rustix::io::Errno::INVAL | rustix::io::Errno::NOSYS) => {
            let old = new.with_extension("old");
            fs::rename(folder, &old)?;
            fs::rename(new, folder)?;
            fs::remove_dir_all(old)
        }
        Err(error) => Err(error.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(out: &Path) -> Vec<String> {
        let entries = fs::read_dir(out).unwrap();
        let mut names: Vec<String> = entries
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn replaces_all_or_none() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("deep/out");
        let put = |files: &[(&str, &str)]| {
            let files: Vec<(&str, Vec<u8>)> = files
                .iter()
                .map(|(n, text)| (*n, text.as_bytes().to_vec()))
                .collect();
            replace_folder(&out, &files, &["a.csv", "b.csv"])
        };
        put(&[("a.csv", "1"), ("b.csv", "2")]).unwrap();
        // What a killed run left.
        fs::create_dir_all(folder.path().join("deep/.headword-new-x/y")).unwrap();
        put(&[("a.csv", "3")]).unwrap();
        assert_eq!(fs::read(out.join("a.csv")).unwrap(), b"3");
        assert_eq!(names(&out), ["a.csv"]);
        assert_eq!(names(out.parent().unwrap()), [".lock", "out"]);

        fs::write(out.join("notes.txt"), "mine").unwrap();
        let refused = put(&[("a.csv", "5")]).unwrap_err().to_string();
        assert!(refused.contains("notes.txt"), "{refused}");
        assert_eq!(fs::read(out.join("a.csv")).unwrap(), b"3");

        for name in ["../x", "", "a/b", "\u{1b}x"] {
            assert!(matches!(put(&[(name, "")]), Err(WriteError::Name { .. })));
        }
        let _other = locked(out.parent().unwrap()).unwrap();
        let refused = put(&[("a.csv", "5")]).unwrap_err().to_string();
        assert!(refused.contains("another headword"), "{refused}");
    }

    #[test]
    fn something_else_of_the_name_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("out");
        std::os::unix::fs::symlink("/", &out).unwrap();
        let refused = replace_folder(&out, &[("a.csv", vec![])], &["a.csv"]).unwrap_err();
        assert!(refused.to_string().contains("no folder"), "{refused}");
    }
}
