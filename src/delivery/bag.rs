//! A bag made: scans under their new names and the index beside them, in a folder that gets its own name only when all
//! of it is there and was read back.
//!
//! A run that is killed leaves a folder that no other program takes for a delivery; the next run goes on in it.

use super::bagit::{self, Sum};
use super::files::sync;
use crate::value::{sha256_file, sha256_hex, shown};
use rustix::fs::{CWD, RenameFlags, renameat_with, syncfs};
use std::collections::HashSet;
use std::fs::{self, File};
use std::io::{self, Write};
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Why a bag could not be made. What is there of it stays, and the next run goes on.
#[derive(Debug, Error)]
pub enum BagError {
    #[error(
        "{file}: cannot be written ({source}); nothing was delivered; see that the folder may be written to and has room, \
         then run the command again, which goes on where this one stopped"
    )]
    NotWritten { file: String, source: io::Error },
    #[error(
        "{file}: cannot be read ({source}); nothing was delivered; bring the scan back and run the command again"
    )]
    NotRead { file: String, source: io::Error },
    #[error(
        "{file}: reads back otherwise than it was written, twice; nothing was delivered; the disk or the scan may be \
         failing, or somebody is changing the scan"
    )]
    Differs { file: String },
    #[error(
        "{file}: is there already; nothing was overwritten; move it away and run the command again"
    )]
    InTheWay { file: String },
}

/// A scan's file and where it goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BagFile {
    pub from: PathBuf,
    pub bytes: u64,
    /// Below the bag, beginning with [`bagit::PAYLOAD`].
    pub to: String,
}

/// What is in a bag to be.
#[derive(Debug, Clone, Default)]
pub struct BagPlan {
    pub scans: Vec<BagFile>,
    /// Lists and the index, with their paths below the bag.
    pub texts: Vec<(String, Vec<u8>)>,
    /// Lines of bag-info.txt.
    pub info: Vec<(&'static str, String)>,
    /// Link instead of copy, where the file system can.
    pub link: bool,
}

/// What a bag came to.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Made {
    /// Files of the payload, and their bytes.
    pub files: usize,
    pub bytes: u64,
    pub linked: usize,
    /// The scans' sums, in the plan's order.
    pub sums: Vec<String>,
}

/// Fills the folder `making` as the plan says, and reads everything back. `describe` gives the tag files that need the
/// scans' sums. `progress` is told of every scan that is done.
pub fn fill(
    making: &Path,
    plan: &BagPlan,
    describe: impl FnOnce(&Made) -> Vec<(String, Vec<u8>)>,
    mut progress: impl FnMut(),
) -> Result<Made, BagError> {
    let place = |path: &str| making.join(path);
    make_folder(making)?;
    make_folder(&place(bagit::PAYLOAD))?;
    clear_away(making, plan)?;
    let mut made = Made::default();
    let mut sums = Vec::new();
    let mut folders = HashSet::new();
    for scan in &plan.scans {
        let to = place(&scan.to);
        if let Some(parent) = to.parent()
            && folders.insert(parent.to_owned())
        {
            make_folder(parent)?;
        }
        let (sha256, is_linked) = put(scan, &to, plan.link)?;
        made.linked += usize::from(is_linked);
        made.bytes += scan.bytes;
        made.sums.push(sha256.clone());
        sums.push(Sum {
            path: scan.to.clone(),
            sha256,
        });
        progress();
    }
    for (path, content) in &plan.texts {
        made.bytes += content.len() as u64;
        sums.push(written(making, path, content)?);
    }
    made.files = sums.len();
    let mut info = plan.info.clone();
    info.push(("Payload-Oxum", format!("{}.{}", made.bytes, made.files)));
    let mut tags = vec![
        (
            bagit::DECLARATION.to_owned(),
            bagit::DECLARED.as_bytes().to_vec(),
        ),
        (bagit::INFO.to_owned(), bagit::info(&info).into_bytes()),
        (
            bagit::MANIFEST.to_owned(),
            bagit::manifest(&sums).into_bytes(),
        ),
    ];
    tags.extend(describe(&made));
    let mut tag_sums = Vec::new();
    for (path, content) in &tags {
        tag_sums.push(written(making, path, content)?);
    }
    let tag_sums = bagit::manifest(&tag_sums);
    written(making, bagit::TAG_MANIFEST, tag_sums.as_bytes())?;
    Ok(made)
}

/// Gives a filled folder its name; from here on it is a delivery. Nothing is ever replaced.
pub fn put_in_place(making: &Path, folder: &Path) -> Result<(), BagError> {
    let all = || -> io::Result<()> {
        // One flush for the whole file system costs less than one for each of twenty thousand files.
        syncfs(File::open(making)?)?;
        renameat_with(CWD, making, CWD, folder, RenameFlags::NOREPLACE)?;
        sync(folder.parent().unwrap_or(Path::new(".")))
    };
    all().map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => BagError::InTheWay { file: told(folder) },
        _ => not_written(folder, error),
    })
}

/// Copies or links a scan, unless it is there already; then reads both again. The sum, and whether it is a link.
fn put(scan: &BagFile, to: &Path, link: bool) -> Result<(String, bool), BagError> {
    for attempt in 0..2 {
        let link = link && attempt == 0;
        let is_linked = match standing(scan, to, link) {
            Some(is_linked) => is_linked,
            None => {
                if fs::symlink_metadata(to).is_ok() {
                    fs::remove_file(to).map_err(|error| not_written(to, error))?;
                }
                // Where the file system cannot link, it is copied.
                let is_linked = link && fs::hard_link(&scan.from, to).is_ok();
                if !is_linked {
                    copy(&scan.from, to)?;
                }
                is_linked
            }
        };
        let sum = sum_of(&scan.from)?;
        // A link is the scan itself: reading it again would say the same.
        if is_linked || sum_of(to)? == sum {
            return Ok((sum, is_linked));
        }
        fs::remove_file(to).map_err(|error| not_written(to, error))?;
    }
    Err(BagError::Differs { file: told(to) })
}

/// Whether a run before put the scan there, and as a link: none where it has to be put there again.
fn standing(scan: &BagFile, to: &Path, link: bool) -> Option<bool> {
    let there = fs::symlink_metadata(to).ok()?;
    let from = fs::symlink_metadata(&scan.from).ok()?;
    let is_same = there.is_file() && there.len() == from.len();
    let is_linked = (there.dev(), there.ino()) == (from.dev(), from.ino());
    (is_same && is_linked == link).then_some(is_linked)
}

fn sum_of(path: &Path) -> Result<String, BagError> {
    sha256_file(path).map_err(|source| BagError::NotRead {
        file: told(path),
        source,
    })
}

fn copy(from: &Path, to: &Path) -> Result<(), BagError> {
    let mut source = File::open(from).map_err(|source| BagError::NotRead {
        file: told(from),
        source,
    })?;
    let mut write = || -> io::Result<()> {
        let mut target = File::create_new(to)?;
        io::copy(&mut source, &mut target)?;
        // The scan's own time tells the client when it was made; not every file system keeps one.
        if let Ok(modified) = source.metadata().and_then(|found| found.modified()) {
            let _ = target.set_modified(modified);
        }
        Ok(())
    };
    write().map_err(|error| not_written(to, error))
}

/// Writes a text and reads it back.
fn written(bag: &Path, path: &str, content: &[u8]) -> Result<Sum, BagError> {
    let to = bag.join(path);
    let write = || -> io::Result<()> {
        if let Some(parent) = to.parent() {
            fs::create_dir_all(parent)?;
        }
        let mut file = File::create(&to)?;
        file.write_all(content)?;
        file.sync_all()
    };
    write().map_err(|error| not_written(&to, error))?;
    let sha256 = sha256_hex(content);
    match sum_of(&to)? == sha256 {
        true => Ok(Sum {
            path: path.to_owned(),
            sha256,
        }),
        false => Err(BagError::Differs { file: told(&to) }),
    }
}

fn make_folder(path: &Path) -> Result<(), BagError> {
    fs::create_dir_all(path).map_err(|error| not_written(path, error))
}

/// Takes away what another plan left in the folder. Only scans are kept: everything else is written anew.
fn clear_away(making: &Path, plan: &BagPlan) -> Result<(), BagError> {
    let planned: HashSet<PathBuf> = plan
        .scans
        .iter()
        .map(|scan| making.join(&scan.to))
        .collect();
    let mut parents: HashSet<&Path> = HashSet::new();
    for path in &planned {
        parents.extend(path.ancestors().skip(1).take_while(|path| *path != making));
    }
    fn walk(folder: &Path, planned: &HashSet<PathBuf>, parents: &HashSet<&Path>) -> io::Result<()> {
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            let path = entry.path();
            match entry.file_type()?.is_dir() {
                true if parents.contains(path.as_path()) => walk(&path, planned, parents)?,
                true => fs::remove_dir_all(&path)?,
                false if planned.contains(&path) => {}
                false => fs::remove_file(&path)?,
            }
        }
        Ok(())
    }
    walk(making, &planned, &parents).map_err(|error| not_written(making, error))?;
    make_folder(&making.join(bagit::PAYLOAD))
}

fn not_written(path: &Path, source: io::Error) -> BagError {
    BagError::NotWritten {
        file: told(path),
        source,
    }
}

fn told(path: &Path) -> String {
    shown(&path.display().to_string()).into_owned()
}
