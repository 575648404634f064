//! Pages of the scans, against the frames that a sheet has.
//!
//! Only what says how many pages there are is read of a file, so that counting takes no longer for large scans.

mod pdf;
mod tiff;

use super::{Check, Scan, brief};
use crate::value::{Severity, SheetId};
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};

/// Bytes at the start of a file in which a PDF document may begin (ISO 32000-1, annex H, implementation note 13).
const PDF_BEGINS_WITHIN: usize = 1_024;

/// First bytes of TIFF and BigTIFF in both orders of bytes.
const TIFFS: [&[u8; 4]; 4] = [b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"];

/// First bytes of files that hold one picture: PNG, JPEG, GIF, BMP, JPEG 2000 in its container and bare.
const ONE_PICTURE: [&[u8]; 6] = [
    b"\x89PNG\r\n\x1a\n",
    b"\xff\xd8\xff",
    b"GIF8",
    b"BM",
    b"\0\0\0\x0cjP  \r\n\x87\n",
    b"\xff\x4f\xff\x51",
];

/// A file of which pieces are looked at.
struct Pieces<R> {
    file: R,
    bytes: u64,
    /// Where the document begins; places are counted from there.
    begins: u64,
}

impl<R: Read + Seek> Pieces<R> {
    fn of(mut file: R) -> Option<Self> {
        let bytes = file.seek(SeekFrom::End(0)).ok()?;
        Some(Self {
            file,
            bytes,
            begins: 0,
        })
    }

    /// Up to so many bytes from a place on; none where it lies outside the file.
    fn piece(&mut self, at: u64, most: usize) -> Option<Vec<u8>> {
        let mut piece = Vec::new();
        let from = self.from(at)?;
        from.take(most as u64).read_to_end(&mut piece).ok()?;
        Some(piece)
    }

    /// All that follows a place.
    fn from(&mut self, at: u64) -> Option<&mut R> {
        let at = at.checked_add(self.begins).filter(|&at| at < self.bytes)?;
        self.file.seek(SeekFrom::Start(at)).ok()?;
        Some(&mut self.file)
    }
}

/// The pages of a file by its content: those of a TIFF or PDF, one of another picture; none where it is neither or is
/// damaged.
fn pages_of(file: impl Read + Seek) -> Option<u64> {
    let mut pieces = Pieces::of(file)?;
    let start = pieces.piece(0, PDF_BEGINS_WITHIN)?;
    if TIFFS.iter().any(|magic| start.starts_with(*magic)) {
        return tiff::pages(&mut pieces);
    }
    if let Some(at) = start.windows(5).position(|five| five == b"%PDF-") {
        pieces.begins = at as u64;
        return pdf::pages(&mut pieces);
    }
    let is_picture = ONE_PICTURE.iter().any(|magic| start.starts_with(magic));
    is_picture.then_some(1)
}

/// The pages of a scan; none where they cannot be counted. What is no picture in a folder of pictures is passed over.
pub fn count_pages(scan: &Scan) -> Option<u64> {
    let counted = scan.files.iter().map(|file| {
        let pages = File::open(&file.path).ok().and_then(pages_of);
        match scan.is_folder {
            true => Some(pages.unwrap_or(0)),
            false => pages,
        }
    });
    counted.sum()
}

/// Scans with more pages than a sheet has frames, with none, and those whose pages cannot be counted.
pub fn check_pages(counted: &[(SheetId, &Scan, Option<u64>)], frames: u64) -> Vec<Check> {
    let mut checks = Vec::new();
    let mut uncounted = Vec::new();
    for (sheet, scan, pages) in counted {
        let message = match pages {
            None => {
                uncounted.push(sheet.clone());
                continue;
            }
            Some(0) => "holds no page; scan the sheet again".to_owned(),
            Some(pages) if *pages > frames => format!(
                "has {pages} pages, and a sheet has {frames} frames; see whether it holds two sheets or some pages \
                 twice, or correct frames in [scans]"
            ),
            Some(_) => continue,
        };
        checks.push(Check {
            severity: Severity::Warning,
            code: "page-count",
            sheets: vec![sheet.clone()],
            message: format!("its scan {} {message}", brief(&scan.name)),
        });
    }
    if !uncounted.is_empty() {
        checks.push(Check {
            severity: Severity::Note,
            code: "pages-not-counted",
            message: "the pages of their scans cannot be counted: no PDF or TIFF, a damaged or an encrypted one; see \
                      whether they open"
                .to_owned(),
            sheets: uncounted,
        });
    }
    checks
}

#[cfg(test)]
#[path = "pages_tests.rs"]
mod tests;
