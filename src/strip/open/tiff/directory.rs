//! A TIFF's directories, read with care: every offset is checked against the file, loops between directories end.
//!
//! TIFF 6.0 (Adobe, 1992) and BigTIFF.

use crate::strip::open::OpenError;
use std::collections::HashSet;

/// Most pages that are counted.
const MOST_PAGES: usize = 10_000;
/// The tag NewSubfileType.
const SUBFILE_TYPE: u16 = 254;
/// Most entries that a directory may have; real ones have some dozens.
const MOST_ENTRIES: u64 = 4_096;
/// Most values that a tag may have: the largest picture in tiles of 16 x 16 pixels, four planes, has 1.9 million.
const MOST_VALUES: u64 = 2_000_000;

/// A fault of the file, with what was found.
pub(super) fn corrupt(reason: impl Into<String>) -> OpenError {
    crate::strip::open::corrupt("TIFF", reason)
}

pub(super) const TRUNCATED: OpenError = OpenError::Truncated { format: "TIFF" };

/// The file and how its numbers are written.
#[derive(Clone, Copy)]
pub(super) struct Numbers<'a> {
    pub file: &'a [u8],
    pub big_endian: bool,
    /// BigTIFF: 8-byte offsets and counts.
    pub is_big: bool,
}

/// One directory entry: a tag's type, count, and where its values stand.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry {
    pub kind: u16,
    pub count: u64,
    /// Offset in the file, in bytes.
    pub at: usize,
}

impl<'a> Numbers<'a> {
    /// An unsigned number of 1, 2, 4 or 8 bytes.
    fn number(&self, at: usize, size: usize) -> Result<u64, OpenError> {
        let bytes = at.checked_add(size).and_then(|end| self.file.get(at..end));
        let bytes = bytes.ok_or(TRUNCATED)?;
        let join = |number: u64, byte: &u8| number << 8 | u64::from(*byte);
        Ok(if self.big_endian {
            bytes.iter().fold(0, join)
        } else {
            bytes.iter().rev().fold(0, join)
        })
    }

    fn offset(&self, at: usize) -> Result<usize, OpenError> {
        let offset = self.number(at, if self.is_big { 8 } else { 4 })?;
        usize::try_from(offset).map_err(|_| TRUNCATED)
    }

    /// A directory's entries, and the offset of the next directory (0: none).
    fn directory(&self, at: usize) -> Result<(Vec<(u16, Entry)>, usize), OpenError> {
        let (count_size, entry_size, room) = if self.is_big { (8, 20, 8) } else { (2, 12, 4) };
        let count = self.number(at, count_size)?;
        if count == 0 || count > MOST_ENTRIES {
            return Err(corrupt(format!("a directory of {count} entries")));
        }
        let first = at + count_size;
        let mut entries = Vec::new();
        for entry in 0..count as usize {
            let at = first + entry * entry_size;
            let kind = self.number(at + 2, 2)? as u16;
            let count = self.number(at + 4, room)?;
            let value = at + 4 + room;
            let fits = count
                .checked_mul(size_of_kind(kind))
                .is_some_and(|size| size <= room as u64);
            let at_value = if fits { value } else { self.offset(value)? };
            entries.push((
                self.number(at, 2)? as u16,
                Entry {
                    kind,
                    count,
                    at: at_value,
                },
            ));
        }
        let next = self
            .offset(first + count as usize * entry_size)
            .unwrap_or(0);
        Ok((entries, next))
    }

    /// An entry's values as unsigned numbers, all of them inside the file; negative ones come out huge.
    fn values(&self, entry: Entry) -> Result<Vec<u64>, OpenError> {
        let size = size_of_kind(entry.kind);
        if !matches!(entry.kind, 1 | 3 | 4 | 6..=9 | 13 | 16..=18) {
            return Err(corrupt(format!(
                "a tag of the unexpected type {}",
                entry.kind
            )));
        }
        if entry.count > MOST_VALUES {
            return Err(corrupt(format!("a tag of {} values", entry.count)));
        }
        let bytes = (entry.count * size) as usize;
        if entry
            .at
            .checked_add(bytes)
            .is_none_or(|end| end > self.file.len())
        {
            return Err(TRUNCATED);
        }
        (0..entry.count)
            .map(|index| self.number(entry.at + (index * size) as usize, size as usize))
            .collect()
    }
}

/// Bytes of one value by its type; 1 for types that are not known.
fn size_of_kind(kind: u16) -> u64 {
    match kind {
        3 | 8 => 2,
        4 | 9 | 11 | 13 => 4,
        5 | 10 | 12 | 16 | 17 | 18 => 8,
        _ => 1,
    }
}

/// The first directory of a file.
pub(super) struct Directory<'a> {
    pub numbers: Numbers<'a>,
    first: usize,
    entries: Vec<(u16, Entry)>,
    /// Offset of the next directory; 0: none.
    next: usize,
}

impl<'a> Directory<'a> {
    pub fn first(file: &'a [u8]) -> Result<Self, OpenError> {
        let mut numbers = Numbers {
            file,
            big_endian: file.starts_with(b"MM"),
            is_big: false,
        };
        numbers.is_big = numbers.number(2, 2)? == 43;
        let first = numbers.offset(if numbers.is_big { 8 } else { 4 })?;
        let (entries, next) = numbers.directory(first)?;
        Ok(Self {
            numbers,
            first,
            entries,
            next,
        })
    }

    /// Whether no other directory follows.
    pub fn is_last(&self) -> bool {
        self.next == 0
    }

    /// Counts the pages of the file. Reduced copies and masks are none; a loop or a broken directory ends the count.
    pub fn pages(&self) -> usize {
        let mut seen = HashSet::from([self.first]);
        let (mut pages, mut next) = (1, self.next);
        while next != 0 && pages < MOST_PAGES && seen.insert(next) {
            let Ok((entries, after)) = self.numbers.directory(next) else {
                break;
            };
            let kind = entries.iter().find(|(number, _)| *number == SUBFILE_TYPE);
            let kind =
                kind.and_then(|(_, entry)| self.numbers.values(*entry).ok()?.first().copied());
            // Bit 0 is a reduced copy, bit 2 a mask.
            if kind.unwrap_or(0) & 0b101 == 0 {
                pages += 1;
            }
            next = after;
        }
        pages
    }

    pub fn entry(&self, number: u16) -> Option<Entry> {
        let found = self.entries.iter().find(|(known, _)| *known == number);
        found.map(|(_, entry)| *entry)
    }

    pub fn values(&self, number: u16) -> Result<Option<Vec<u64>>, OpenError> {
        self.entry(number)
            .map(|entry| self.numbers.values(entry))
            .transpose()
    }

    /// The tag's only or first value.
    pub fn value(&self, number: u16) -> Result<Option<u32>, OpenError> {
        let Some(entry) = self.entry(number).filter(|entry| entry.count > 0) else {
            return Ok(None);
        };
        let first = self.numbers.values(Entry { count: 1, ..entry })?;
        Ok(first
            .first()
            .map(|value| u32::try_from(*value).unwrap_or(u32::MAX)))
    }
}
