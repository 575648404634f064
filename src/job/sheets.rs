//! The sheets of a job: which files below its sheets folder are images, in drawer order.

use crate::value::{Finding, Severity, SheetId, Station, drawer_order, shown};
use std::io;
use std::path::{Path, PathBuf};

/// File name extensions that mark an image of a sheet. What is inside decides later how it is opened.
const IMAGE_EXTENSIONS: [&str; 6] = ["png", "jpg", "jpeg", "tif", "tiff", "bmp"];

/// Folders within folders beyond this are not entered.
const DEEPEST: usize = 16;

/// One image file of the job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetFile {
    pub sheet: SheetId,
    pub path: PathBuf,
}

/// Lists the sheets below `folder` in drawer order. Everything with an image's name is a sheet, also a folder or an
/// empty file: it will get a finding of its own. What is left out is said in the findings; hidden files are not.
pub fn list_sheets(folder: &Path) -> io::Result<(Vec<SheetFile>, Vec<Finding>)> {
    let mut listing = Listing::default();
    listing.enter(folder, "", 0)?;
    listing
        .sheets
        .sort_by(|a, b| drawer_order(a.sheet.as_str(), b.sheet.as_str()));
    let findings = listing.findings();
    Ok((listing.sheets, findings))
}

#[derive(Default)]
struct Listing {
    sheets: Vec<SheetFile>,
    /// Names without an image's extension.
    others: Vec<String>,
    /// Entries that could not be taken, and why.
    refused: Vec<(String, &'static str)>,
}

impl Listing {
    fn enter(&mut self, folder: &Path, below: &str, depth: usize) -> io::Result<()> {
        for entry in std::fs::read_dir(folder)? {
            let entry = entry?;
            let name = entry.file_name();
            let Some(name) = name.to_str() else {
                let name = format!("{below}{}", name.to_string_lossy());
                self.refused
                    .push((name, "its name is not UTF-8; rename it"));
                continue;
            };
            if name.starts_with('.') {
                continue;
            }
            let id = format!("{below}{name}");
            let path = entry.path();
            if has_image_name(&path) {
                self.sheets.push(SheetFile {
                    sheet: SheetId::new(id),
                    path,
                });
            } else if entry.file_type()?.is_dir() {
                if depth == DEEPEST {
                    self.refused.push((id, "it lies too many folders deep"));
                } else if self.enter(&path, &format!("{id}/"), depth + 1).is_err() {
                    self.refused.push((id, "the folder cannot be listed"));
                }
            } else {
                self.others.push(id);
            }
        }
        Ok(())
    }

    fn findings(&self) -> Vec<Finding> {
        let mut findings: Vec<Finding> = self
            .refused
            .iter()
            .map(|(name, why)| {
                let message = format!("{} is left out: {why}", shown(name));
                Finding::new(Severity::Warning, Station::Job, "sheet-refused", message)
            })
            .collect();
        if let Some(first) = self.others.first() {
            let message = format!(
                "{} file(s) in the sheets folder are left out, since their names do not end in {}; the first is {}",
                self.others.len(),
                IMAGE_EXTENSIONS.join(", "),
                shown(first)
            );
            findings.push(Finding::new(
                Severity::Note,
                Station::Job,
                "not-an-image-name",
                message,
            ));
        }
        findings
    }
}

fn has_image_name(path: &Path) -> bool {
    let extension = path.extension().and_then(|extension| extension.to_str());
    extension.is_some_and(|extension| {
        IMAGE_EXTENSIONS
            .iter()
            .any(|known| known.eq_ignore_ascii_case(extension))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn every_file_with_an_image_name_is_a_sheet_in_drawer_order() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path();
        fs::create_dir(root.join("box 2")).unwrap();
        fs::create_dir(root.join("a folder.tif")).unwrap();
        for name in [
            "s10.PNG",
            "s9.jpg",
            "box 2/s1.tiff",
            "list.txt",
            ".hidden.png",
        ] {
            fs::write(root.join(name), "").unwrap();
        }
        let (sheets, findings) = list_sheets(root).unwrap();
        let names: Vec<&str> = sheets.iter().map(|file| file.sheet.as_str()).collect();
        assert_eq!(
            names,
            ["a folder.tif", "box 2/s1.tiff", "s9.jpg", "s10.PNG"]
        );
        assert_eq!(findings.len(), 1);
        assert!(findings[0].message.contains("list.txt"), "{findings:?}");
    }
}
