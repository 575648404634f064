//! Pages of a TIFF file, counted along its directories (TIFF 6.0, section 2; BigTIFF likewise, with wider numbers).

use super::Pieces;
use std::collections::HashSet;
use std::io::{Read, Seek};

/// Directories beyond which a file is taken to mean harm; a fiche has hundreds of frames.
const MOST_PAGES: usize = 65_536;

/// The tag that says what a directory's picture is: bit 0 a reduced copy, bit 2 a mask. Neither is a page.
const SUBFILE_TYPE: u64 = 254;

/// None where the file is damaged before its last directory, or its directories go round.
pub fn pages(file: &mut Pieces<impl Read + Seek>) -> Option<u64> {
    let start = file.piece(0, 16)?;
    let is_big_endian = start.starts_with(b"MM");
    let number = |bytes: &[u8]| {
        let join = |number: u64, byte: &u8| number << 8 | u64::from(*byte);
        match is_big_endian {
            true => bytes.iter().fold(0, join),
            false => bytes.iter().rev().fold(0, join),
        }
    };
    let is_wide = number(start.get(2..4)?) == 43;
    // Bytes of a count of entries, of an entry, of an offset.
    let (counts, entries, offsets) = if is_wide { (8, 20, 8) } else { (2, 12, 4) };
    let mut next = number(start.get(offsets..2 * offsets)?);
    let mut seen = HashSet::new();
    let mut pages = 0;
    while next != 0 {
        if !seen.insert(next) || seen.len() > MOST_PAGES {
            return None;
        }
        let count = number(file.piece(next, counts)?.get(..counts)?);
        // A directory has one entry a tag, and there are 65,536 tags.
        let count = usize::try_from(count)
            .ok()
            .filter(|&count| count <= 1 << 16)?;
        let directory = file.piece(next + counts as u64, count * entries + offsets)?;
        let rows = directory.get(..count * entries)?.chunks(entries);
        let kind = rows
            .into_iter()
            .find(|row| number(&row[..2]) == SUBFILE_TYPE);
        // Its one value of four bytes stands in the entry itself, behind type and count.
        let kind = kind.map_or(0, |row| number(&row[4 + offsets..8 + offsets]));
        pages += u64::from(kind & 0b101 == 0);
        next = number(directory.get(count * entries..count * entries + offsets)?);
    }
    Some(pages)
}
