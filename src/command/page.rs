//! What pages for people outside have in common: text that is harmless in them, and files put in place whole.

use super::CommandError;
use crate::value::shown;
use std::io::Write;
use std::path::Path;
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

/// Puts a page, or a file beside it, where it was wanted, whole or not at all.
pub fn put_page(path: &Path, page: impl AsRef<[u8]>) -> Result<(), CommandError> {
    let folder = path.parent().unwrap_or(Path::new(""));
    let folder = if folder.as_os_str().is_empty() {
        Path::new(".")
    } else {
        folder
    };
    let Some(name) = path.file_name().and_then(|name| name.to_str()) else {
        return Err(CommandError::Input(format!(
            "{}: expected the name of a file, found none; write it out, as page.html",
            path.display()
        )));
    };
    let written = || -> std::io::Result<()> {
        // The page that is there stays whole until the new one is.
        let mut beside = NamedTempFile::new_in(folder)?;
        beside.write_all(page.as_ref())?;
        beside.as_file().sync_all()?;
        beside.persist(folder.join(name))?;
        Ok(())
    };
    written().map_err(|fault| {
        CommandError::input(format!(
            "{}: it cannot be written: expected a folder that takes files, found {fault}; nothing was replaced",
            path.display()
        ))
    })
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
