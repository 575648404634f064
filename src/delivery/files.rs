//! Finished files into their folder, all or none.

use super::is_portable;
use crate::value::shown;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;
use tempfile::NamedTempFile;
use thiserror::Error;

/// Why files could not be put in their folder.
#[derive(Debug, Error)]
pub enum WriteError {
    #[error(
        "{file}: cannot be written ({source}); nothing was replaced; see that the folder exists, may be written to and has room, then run the command again"
    )]
    NotWritten { file: String, source: io::Error },
    #[error("{file}: expected a file name that is portable, found this; nothing was written")]
    Name { file: String },
    #[error(
        "{file}: could not take its place ({source}); these are new already: {done:?}; run the command again so that all files agree"
    )]
    HalfReplaced {
        file: String,
        done: Vec<String>,
        source: io::Error,
    },
}

/// Writes each file to a temporary one in `folder`, which is made where it is missing, and renames them only when all
/// are on disk. A reader never sees half a file.
pub fn write_together(folder: &Path, files: &[(&str, &[u8])]) -> Result<(), WriteError> {
    let tell = |name: &str| shown(&folder.join(name).display().to_string()).into_owned();
    let failed = |name: &str, source| WriteError::NotWritten {
        file: tell(name),
        source,
    };
    if let Some((name, _)) = files.iter().find(|(name, _)| !is_portable(name)) {
        return Err(WriteError::Name {
            file: shown(name).into_owned(),
        });
    }
    fs::create_dir_all(folder).map_err(|error| failed("", error))?;
    let mut written = Vec::new();
    for (name, content) in files {
        let temporary = write_beside(folder, name, content).map_err(|error| failed(name, error))?;
        written.push((*name, temporary));
    }
    let mut done: Vec<String> = Vec::new();
    for (name, temporary) in written {
        if let Err(error) = temporary.persist(folder.join(name)) {
            return Err(if done.is_empty() {
                failed(name, error.error)
            } else {
                WriteError::HalfReplaced {
                    file: tell(name),
                    done,
                    source: error.error,
                }
            });
        }
        done.push(name.to_owned());
    }
    // So that the new names, too, survive a power cut.
    #[cfg(unix)]
    File::open(folder)
        .and_then(|folder| folder.sync_all())
        .map_err(|error| failed("", error))?;
    Ok(())
}

fn write_beside(folder: &Path, name: &str, content: &[u8]) -> io::Result<NamedTempFile> {
    if folder.join(name).is_dir() {
        return Err(io::Error::new(
            io::ErrorKind::IsADirectory,
            "a folder of that name is in its place",
        ));
    }
    let mut builder = tempfile::Builder::new();
    builder.prefix(".headword-").suffix(".tmp");
    // As the user's umask wants it, not private as temporary files are.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(folder)?;
    file.write_all(content)?;
    file.as_file().sync_all()?;
    Ok(file)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn replaces_all_or_none() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("deep/out");
        let names = |out: &Path| {
            let mut names: Vec<String> = fs::read_dir(out)
                .unwrap()
                .map(|entry| entry.unwrap().file_name().into_string().unwrap())
                .collect();
            names.sort();
            names
        };
        write_together(&out, &[("a.csv", b"1"), ("b.csv", b"2")]).unwrap();
        write_together(&out, &[("a.csv", b"3"), ("b.csv", b"4")]).unwrap();
        assert_eq!(fs::read(out.join("a.csv")).unwrap(), b"3");
        assert_eq!(names(&out), ["a.csv", "b.csv"]);

        fs::create_dir(out.join("c.csv")).unwrap();
        let refused = write_together(&out, &[("a.csv", b"5"), ("c.csv", b"6")]).unwrap_err();
        assert!(
            refused.to_string().contains("nothing was replaced"),
            "{refused}"
        );
        assert_eq!(fs::read(out.join("a.csv")).unwrap(), b"3");
        assert_eq!(names(&out), ["a.csv", "b.csv", "c.csv"]);

        for name in ["../x", "", "a/b", "\u{1b}x"] {
            assert!(matches!(
                write_together(&out, &[(name, b"")]),
                Err(WriteError::Name { .. })
            ));
        }
    }
}
