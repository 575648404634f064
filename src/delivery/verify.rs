//! A bag read again: what is missing, changed or extra in it.

use super::bagit::{self, read_manifest};
use crate::value::{sha256_file, shown};
use serde::Serialize;
use std::collections::HashSet;
use std::fs;
use std::io;
use std::path::Path;

/// What a bag lacks of what its manifests say. Paths are below the bag.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Verified {
    /// Files that were read and are as they should be.
    pub sound: usize,
    pub missing: Vec<String>,
    pub changed: Vec<String>,
    /// Files that no manifest names.
    pub extra: Vec<String>,
    /// Why the folder cannot be trusted to be a bag at all.
    pub faults: Vec<String>,
}

/// Folders within folders beyond this are not entered; a delivery has a few.
const DEEPEST: usize = 32;

impl Verified {
    pub fn is_sound(&self) -> bool {
        self.missing.is_empty()
            && self.changed.is_empty()
            && self.extra.is_empty()
            && self.faults.is_empty()
    }
}

/// Reads every file of a bag and compares it with the manifests. `progress` is told of each.
pub fn verify(bag: &Path, mut progress: impl FnMut()) -> Verified {
    let mut verified = Verified::default();
    match fs::read_to_string(bag.join(bagit::DECLARATION)) {
        Ok(text) if text.starts_with("BagIt-Version: ") => {}
        Ok(_) => verified.faults.push(format!(
            "{}: expected it to begin with BagIt-Version, found something else",
            bagit::DECLARATION
        )),
        Err(error) => verified.faults.push(format!(
            "{}: expected a bag's declaration, found: {error}; name the folder that holds it",
            bagit::DECLARATION
        )),
    }
    // The tag manifest names the manifest, and itself stands in none.
    let mut named: HashSet<String> = HashSet::from([bagit::TAG_MANIFEST.to_owned()]);
    for file in [bagit::TAG_MANIFEST, bagit::MANIFEST] {
        let text = match fs::read_to_string(bag.join(file)) {
            Ok(text) => text,
            Err(error) => {
                verified
                    .faults
                    .push(format!("{file}: cannot be read ({error})"));
                continue;
            }
        };
        let (sums, faults) = read_manifest(file, &text);
        verified
            .faults
            .extend(faults.iter().map(ToString::to_string));
        for sum in sums {
            if (file == bagit::MANIFEST) != sum.path.starts_with(bagit::PAYLOAD) {
                let path = shown(&sum.path).into_owned();
                verified.faults.push(format!(
                    "{file}: names {path}, which belongs to the other manifest"
                ));
                continue;
            }
            let path = bag.join(&sum.path);
            let name = shown(&sum.path).into_owned();
            match fs::symlink_metadata(&path) {
                Err(error) if error.kind() == io::ErrorKind::NotFound => {
                    verified.missing.push(name)
                }
                Ok(found) if found.is_file() => match sha256_file(&path) {
                    Ok(sha256) if sha256 == sum.sha256 => verified.sound += 1,
                    _ => verified.changed.push(name),
                },
                // A link in a file's place may show the same content today and another tomorrow.
                _ => verified.changed.push(name),
            }
            progress();
            named.insert(sum.path);
        }
    }
    walk(bag, "", 0, &named, &mut verified);
    verified.extra.sort();
    verified
}

fn walk(
    folder: &Path,
    below: &str,
    depth: usize,
    named: &HashSet<String>,
    verified: &mut Verified,
) {
    let entries = fs::read_dir(folder).and_then(|entries| entries.collect::<io::Result<Vec<_>>>());
    let entries = match entries {
        Ok(entries) => entries,
        Err(error) => {
            let folder = shown(&folder.display().to_string()).into_owned();
            verified
                .faults
                .push(format!("{folder}: cannot be listed ({error})"));
            return;
        }
    };
    for entry in entries {
        let name = entry.file_name().to_string_lossy().into_owned();
        let path = format!("{below}{name}");
        let is_folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
        if is_folder && depth < DEEPEST {
            walk(
                &entry.path(),
                &format!("{path}/"),
                depth + 1,
                named,
                verified,
            );
        } else if !named.contains(&path) {
            verified.extra.push(shown(&path).into_owned());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delivery::bag::{BagFile, BagPlan, fill, put_in_place};
    use std::os::unix::fs::{MetadataExt, symlink};
    use std::path::PathBuf;

    /// A folder with two scans and a bag of them, and the bag's place.
    fn bagged(link: bool) -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path();
        let scans: Vec<BagFile> = ["a", "b"]
            .into_iter()
            .map(|name| {
                fs::write(root.join(name), name).unwrap();
                BagFile {
                    from: root.join(name),
                    bytes: 1,
                    to: format!("data/sheets/{name}.pdf"),
                }
            })
            .collect();
        let plan = BagPlan {
            scans,
            texts: vec![("data/index.csv".to_owned(), b"x\r\n".to_vec())],
            info: vec![("Bag-Count", "1 of 1".to_owned())],
            link,
        };
        let making = root.join("making");
        // What a killed run of another plan left: half a file, files that are not wanted.
        fs::create_dir_all(making.join("data/sheets/old")).unwrap();
        fs::write(making.join("data/sheets/a.pdf"), "").unwrap();
        fs::write(making.join("data/sheets/old/z.pdf"), "z").unwrap();
        fs::write(making.join("manifest-md5.txt"), "z").unwrap();
        let mut scans = 0;
        let made = fill(&making, &plan, |_| vec![], || scans += 1).unwrap();
        assert_eq!((made.files, made.bytes, scans), (3, 5, 2));
        assert_eq!(made.linked, if link { 2 } else { 0 });
        let bag = root.join("bag");
        put_in_place(&making, &bag).unwrap();
        assert!(!making.exists());
        assert!(
            fs::read_to_string(bag.join("bag-info.txt"))
                .unwrap()
                .ends_with("Payload-Oxum: 5.3\n")
        );
        let same = fs::metadata(root.join("a")).unwrap().ino()
            == fs::metadata(bag.join("data/sheets/a.pdf")).unwrap().ino();
        assert_eq!(same, link);
        fs::create_dir(&making).unwrap();
        let refused = put_in_place(&making, &bag).unwrap_err().to_string();
        assert!(refused.contains("nothing was overwritten"), "{refused}");
        (folder, bag)
    }

    #[test]
    fn tells_what_is_missing_changed_and_extra() {
        for link in [false, true] {
            let (_folder, bag) = bagged(link);
            let verified = verify(&bag, || {});
            assert!(verified.is_sound() && verified.sound == 6, "{verified:?}");
            fs::remove_file(bag.join("data/sheets/a.pdf")).unwrap();
            fs::write(bag.join("data/index.csv"), "y").unwrap();
            fs::write(bag.join("data/sheets/c.pdf"), "c").unwrap();
            let verified = verify(&bag, || {});
            assert_eq!(verified.missing, ["data/sheets/a.pdf"]);
            assert_eq!(verified.changed, ["data/index.csv"]);
            assert_eq!(verified.extra, ["data/sheets/c.pdf"]);
        }
        let (_folder, bag) = bagged(false);
        let file = bag.join("data/sheets/a.pdf");
        fs::rename(&file, bag.join("a")).unwrap();
        symlink(bag.join("a"), &file).unwrap();
        let verified = verify(&bag, || {});
        assert_eq!(verified.changed, ["data/sheets/a.pdf"]);
        assert_eq!(verified.extra, ["a"]);
        let no_bag = verify(&bag.join("data"), || {});
        assert_eq!(no_bag.faults.len(), 3, "{no_bag:?}");
    }
}
