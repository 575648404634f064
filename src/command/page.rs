//! What pages for people outside have in common: text that is harmless in them, and files put in place whole.

use super::CommandError;
use crate::value::shown;
use std::io::Write;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Harmless in text and attributes, whatever fields, rules and folders are called.
pub fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in shown(text).chars() {
        match c {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            c => escaped.push(c),
        }
    }
    escaped
}

/// Puts a page where it was wanted, whole or not at all.
pub fn put_page(path: &Path, page: impl AsRef<[u8]>) -> Result<(), CommandError> {
    Staged::beside(path, page)?.put()
}

/// A file that is written and has not its name yet: what is there of that name stays whole until then.
pub struct Staged {
    file: NamedTempFile,
    path: PathBuf,
}

impl Staged {
    /// Writes it in the folder where it is to be.
    pub fn beside(path: &Path, content: impl AsRef<[u8]>) -> Result<Self, CommandError> {
        if path.file_name().is_none() {
            return Err(CommandError::Input(format!(
                "{}: expected the name of a file, found none; write it out, as page.html",
                path.display()
            )));
        }
        let folder = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty());
        let written = || -> std::io::Result<NamedTempFile> {
            let mut file = NamedTempFile::new_in(folder.unwrap_or(Path::new(".")))?;
            file.write_all(content.as_ref())?;
            file.as_file().sync_all()?;
            Ok(file)
        };
        match written() {
            Ok(file) => Ok(Self {
                file,
                path: path.to_owned(),
            }),
            Err(fault) => Err(not_written(path, &fault)),
        }
    }

    pub fn put(self) -> Result<(), CommandError> {
        let done = self.file.persist(&self.path);
        done.map_err(|fault| not_written(&self.path, &fault.error))?;
        Ok(())
    }
}

fn not_written(path: &Path, fault: &std::io::Error) -> CommandError {
    CommandError::input(format!(
        "{}: it cannot be written: expected a folder that takes files, found {fault}; nothing was replaced",
        path.display()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_a_name_gets_into_a_page_as_markup() {
        assert_eq!(
            escaped("<b a='1'>&\"\u{1b}"),
            "&lt;b a=&#39;1&#39;&gt;&amp;&quot;\u{fffd}"
        );
    }
}
