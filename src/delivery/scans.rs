//! The scans below their folder: which files and folders are one each, and what they hold.

use super::{brief, is_portable};
use crate::value::{drawer_order, shown};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Folders within a scan's folder beyond this are not entered.
const DEEPEST: usize = 8;

/// What is wrong with the scans' folder.
#[derive(Debug, Error)]
pub enum ScanFault {
    #[error("{path}: expected a folder of scans, found: {cause}; see [scans] in job.toml")]
    Unreadable { path: String, cause: io::Error },
    #[error("scan {scan}: expected {expected}, found {found}; {advice}")]
    Unfit {
        scan: String,
        expected: &'static str,
        found: &'static str,
        advice: &'static str,
    },
}

/// One scan: a file, or a folder of images.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scan {
    /// Its path below the scans' folder, with `/` between the parts.
    pub name: String,
    pub files: Vec<ScanFile>,
    pub is_folder: bool,
}

/// A file of a scan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScanFile {
    pub path: PathBuf,
    /// Below the scan's folder; empty for a scan that is one file.
    pub within: String,
    pub bytes: u64,
    /// Modification time, in nanoseconds since 1970-01-01 UTC; 0 where the file system knows none.
    pub modified: i64,
}

/// The scans in drawer order. Folders for which `is_entered` holds have scans in them; any other folder is a scan.
/// Hidden files are left out.
///
/// # Errors
/// What cannot be delivered: links, which may lead anywhere, devices, names that are no UTF-8, empty folders.
pub fn list_scans(
    folder: &Path,
    is_entered: impl Fn(&str) -> bool,
) -> Result<Vec<Scan>, ScanFault> {
    let mut scans = Vec::new();
    enter(folder, "", &is_entered, &mut scans)?;
    scans.sort_by(|a, b| drawer_order(&a.name, &b.name));
    Ok(scans)
}

fn enter(
    folder: &Path,
    below: &str,
    is_entered: &impl Fn(&str) -> bool,
    scans: &mut Vec<Scan>,
) -> Result<(), ScanFault> {
    for (path, name) in entries(folder)? {
        let name = format!("{below}{name}");
        let found = fs::symlink_metadata(&path).map_err(|cause| unreadable(&path, cause))?;
        if found.is_dir() && is_entered(&name) {
            enter(&path, &format!("{name}/"), is_entered, scans)?;
            continue;
        }
        let mut files = Vec::new();
        let is_folder = found.is_dir();
        if is_folder {
            gather(&path, "", &name, 0, &mut files)?;
            if files.is_empty() {
                return Err(unfit(
                    &name,
                    "images in the folder",
                    "none",
                    "take the folder away",
                ));
            }
            files.sort_by(|a, b| drawer_order(&a.within, &b.within));
        } else {
            files.push(file(path, String::new(), &name)?);
        }
        scans.push(Scan {
            name,
            files,
            is_folder,
        });
    }
    Ok(())
}

fn gather(
    folder: &Path,
    below: &str,
    scan: &str,
    depth: usize,
    files: &mut Vec<ScanFile>,
) -> Result<(), ScanFault> {
    for (path, name) in entries(folder)? {
        if !is_portable(&name) {
            return Err(unfit(
                &format!("{scan}/{below}{name}"),
                "names of letters, digits, `.`, `_` and `-` in a scan's folder, which is delivered as it is",
                "another",
                "rename the file",
            ));
        }
        let within = format!("{below}{name}");
        let found = fs::symlink_metadata(&path).map_err(|cause| unreadable(&path, cause))?;
        if found.is_dir() && depth < DEEPEST {
            gather(&path, &format!("{within}/"), scan, depth + 1, files)?;
        } else {
            files.push(file(path, within, scan)?);
        }
    }
    Ok(())
}

/// A folder's entries that are not hidden, with their names.
fn entries(folder: &Path) -> Result<Vec<(PathBuf, String)>, ScanFault> {
    let listed = fs::read_dir(folder).map_err(|cause| unreadable(folder, cause))?;
    let mut entries = Vec::new();
    for entry in listed {
        let entry = entry.map_err(|cause| unreadable(folder, cause))?;
        match entry.file_name().into_string() {
            Ok(name) if name.starts_with('.') => {}
            Ok(name) => entries.push((entry.path(), name)),
            Err(name) => {
                let name = name.to_string_lossy();
                return Err(unfit(&name, "a name in UTF-8", "another", "rename it"));
            }
        }
    }
    Ok(entries)
}

fn file(path: PathBuf, within: String, scan: &str) -> Result<ScanFile, ScanFault> {
    let found = fs::symlink_metadata(&path).map_err(|cause| unreadable(&path, cause))?;
    if !found.is_file() {
        let kind = match found.is_symlink() {
            true => "a link, which may lead anywhere",
            false => "something else",
        };
        let advice = "put the file itself there";
        return Err(unfit(scan, "a file", kind, advice));
    }
    Ok(ScanFile {
        path,
        within,
        bytes: found.len(),
        modified: written(&found),
    })
}

/// When a file was last written, in nanoseconds since 1970-01-01 UTC; 0 where that is not known.
pub fn modified(path: &Path) -> i64 {
    fs::metadata(path).map_or(0, |found| written(&found))
}

fn written(file: &fs::Metadata) -> i64 {
    let at = file.modified().ok();
    let since = at.and_then(|at| at.duration_since(std::time::UNIX_EPOCH).ok());
    since.map_or(0, |since| since.as_nanos() as i64)
}

fn unreadable(path: &Path, cause: io::Error) -> ScanFault {
    ScanFault::Unreadable {
        path: shown(&path.display().to_string()).into_owned(),
        cause,
    }
}

fn unfit(
    scan: &str,
    expected: &'static str,
    found: &'static str,
    advice: &'static str,
) -> ScanFault {
    ScanFault::Unfit {
        scan: brief(scan),
        expected,
        found,
        advice,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;

    #[test]
    fn files_and_folders_are_scans_and_links_are_none() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path();
        for path in ["box", "11", "11/back", "box/3"] {
            fs::create_dir(root.join(path)).unwrap();
        }
        for path in [
            "9.pdf",
            ".hidden",
            "11/2.tif",
            "11/10.tif",
            "11/back/1.tif",
            "box/2.pdf",
            "box/3/1.tif",
        ] {
            fs::write(root.join(path), path).unwrap();
        }
        let listed = || list_scans(root, |folder| folder == "box");
        let told: Vec<String> = listed()
            .unwrap()
            .iter()
            .map(|scan| {
                let files: Vec<&str> = scan.files.iter().map(|file| file.within.as_str()).collect();
                format!("{}: {}", scan.name, files.join(" "))
            })
            .collect();
        assert_eq!(
            told,
            [
                "9.pdf: ",
                "11: 2.tif 10.tif back/1.tif",
                "box/2.pdf: ",
                "box/3: 1.tif"
            ]
        );

        for (path, says) in [
            ("12.pdf", "scan 12.pdf: expected a file, found a link"),
            ("11/x", "scan 11:"),
        ] {
            symlink("/etc/passwd", root.join(path)).unwrap();
            let told = listed().unwrap_err().to_string();
            assert!(told.contains(says), "{told}");
            fs::remove_file(root.join(path)).unwrap();
        }
        fs::write(root.join("11/a b.tif"), "").unwrap();
        assert!(listed().unwrap_err().to_string().contains("11/a b.tif"));
        fs::remove_file(root.join("11/a b.tif")).unwrap();
        fs::create_dir(root.join("13")).unwrap();
        assert!(
            listed()
                .unwrap_err()
                .to_string()
                .contains("scan 13: expected images")
        );
        let none = list_scans(&root.join("none"), |_| false).unwrap_err();
        assert!(none.to_string().contains("[scans] in job.toml"), "{none}");
    }
}
