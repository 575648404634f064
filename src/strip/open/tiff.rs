//! A TIFF's directories, read with care: what the first page holds, where its data lie, how many pages there are.
//!
//! TIFF 6.0 (Adobe, 1992) and BigTIFF. Nothing is decoded here and nothing is believed: every offset is checked against
//! the file, loops between directories end the count, and the data of the page have to lie inside the file.

use super::OpenError;
use image::metadata::Orientation;
use std::collections::HashSet;

/// Values of the tag Compression.
pub(super) mod compression {
    pub const NONE: u32 = 1;
    pub const RUN_LENGTHS: u32 = 2;
    pub const GROUP_3: u32 = 3;
    pub const GROUP_4: u32 = 4;
    pub const LZW: u32 = 5;
    pub const OLD_JPEG: u32 = 6;
    pub const JPEG: u32 = 7;
    pub const DEFLATE: u32 = 8;
    pub const PACKBITS: u32 = 32_773;
    /// Deflate under the number it had before it was registered.
    pub const OLD_DEFLATE: u32 = 32_946;
}

/// Values of the tag PhotometricInterpretation.
pub(super) mod photometric {
    pub const WHITE_IS_0: u32 = 0;
    pub const BLACK_IS_0: u32 = 1;
    pub const RGB: u32 = 2;
    pub const PALETTE: u32 = 3;
    pub const CMYK: u32 = 5;
    pub const YCBCR: u32 = 6;
}

/// Tags that are asked for.
mod tag {
    pub const SUBFILE_TYPE: u16 = 254;
    pub const WIDTH: u16 = 256;
    pub const HEIGHT: u16 = 257;
    pub const BITS: u16 = 258;
    pub const COMPRESSION: u16 = 259;
    pub const PHOTOMETRIC: u16 = 262;
    pub const FILL_ORDER: u16 = 266;
    pub const STRIP_OFFSETS: u16 = 273;
    pub const ORIENTATION: u16 = 274;
    pub const SAMPLES: u16 = 277;
    pub const STRIP_ROWS: u16 = 278;
    pub const STRIP_BYTES: u16 = 279;
    pub const PLANES: u16 = 284;
    pub const T4_OPTIONS: u16 = 292;
    pub const PREDICTOR: u16 = 317;
    pub const COLOURS: u16 = 320;
    pub const TILE_WIDTH: u16 = 322;
    pub const TILE_HEIGHT: u16 = 323;
    pub const TILE_OFFSETS: u16 = 324;
    pub const TILE_BYTES: u16 = 325;
    pub const EXTRA_SAMPLES: u16 = 338;
    pub const SAMPLE_FORMAT: u16 = 339;
    pub const JPEG_TABLES: u16 = 347;
    pub const OLD_JPEG_OFFSET: u16 = 513;
    pub const OLD_JPEG_BYTES: u16 = 514;
}

/// Most pages that are counted; a file of more says "at least".
const MOST_PAGES: usize = 10_000;
/// Most entries that a directory may have; real ones have some dozens.
const MOST_ENTRIES: u64 = 4_096;
/// Most values that a tag may have: the largest picture in tiles of 16 x 16 pixels, four planes, has 1.9 million.
const MOST_VALUES: u64 = 2_000_000;
/// Longest side of a tile in pixels; real ones have some hundreds.
const LONGEST_TILE: u32 = 65_536;

/// A strip or a tile: where its data lie in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Chunk {
    pub offset: usize,
    pub length: usize,
}

/// The first page of a TIFF, as its directory describes it.
#[derive(Debug)]
pub(super) struct Page<'a> {
    pub file: &'a [u8],
    pub big_endian: bool,
    /// BigTIFF.
    pub is_big: bool,
    /// Pixels.
    pub width: u32,
    pub height: u32,
    /// Bits a sample, the same for all.
    pub bits: u32,
    /// Samples a pixel, those for transparency and other extras among them.
    pub samples: u32,
    /// What each extra sample is: 1 and 2 are transparency, multiplied into the colours or not.
    pub extra: Vec<u32>,
    /// 1 unsigned, 2 signed, 3 floating point.
    pub sample_format: u32,
    pub compression: u32,
    pub photometric: u32,
    /// The first pixel lies in the lowest bit of a byte (fill order 2).
    pub is_bit_reversed: bool,
    pub orientation: Orientation,
    /// Where the value of the orientation tag stands in the file.
    pub orientation_at: Option<usize>,
    /// Samples lie in planes of their own, one after the other.
    pub is_planar: bool,
    /// 2: samples are differences from their left neighbours.
    pub predictor: u32,
    pub t4_options: u32,
    /// Red, green and blue of each palette entry.
    pub colours: Vec<[u8; 3]>,
    pub jpeg_tables: &'a [u8],
    /// The stream that the tags of the old kind of JPEG point to, or what follows it too where they give no length.
    pub old_jpeg: Option<&'a [u8]>,
    pub is_tiled: bool,
    /// Size of a chunk in pixels: of a tile, or of a full strip.
    pub chunk_width: u32,
    pub chunk_height: u32,
    /// Row by row, plane by plane.
    pub chunks: Vec<Chunk>,
    /// The tags agree with each other and with the data on how many samples and chunks there are, and how long.
    pub is_regular: bool,
    /// Pages of the file; thumbnails, reduced copies and masks do not count.
    pub pages: usize,
}

fn corrupt(reason: impl Into<String>) -> OpenError {
    super::corrupt("TIFF", reason)
}

const TRUNCATED: OpenError = OpenError::Truncated { format: "TIFF" };

/// The file and how its numbers are written.
#[derive(Clone, Copy)]
struct Numbers<'a> {
    file: &'a [u8],
    big_endian: bool,
    /// BigTIFF: 8-byte offsets and counts.
    is_big: bool,
}

/// One directory entry: a tag's type, count, and where its values stand.
#[derive(Debug, Clone, Copy)]
struct Entry {
    kind: u16,
    count: u64,
    at: usize,
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

    /// An entry's values as unsigned numbers; all of them inside the file.
    fn values(&self, entry: Entry) -> Result<Vec<u64>, OpenError> {
        let size = size_of_kind(entry.kind);
        if !matches!(entry.kind, 1 | 3 | 4 | 7 | 13 | 16 | 18) {
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

/// Reads the directories of a TIFF or BigTIFF file: the first page, and how many there are.
pub(super) fn first_page(file: &[u8]) -> Result<Page<'_>, OpenError> {
    let big_endian = file.starts_with(b"MM");
    let mut numbers = Numbers {
        file,
        big_endian,
        is_big: false,
    };
    numbers.is_big = numbers.number(2, 2)? == 43;
    let first = numbers.offset(if numbers.is_big { 8 } else { 4 })?;
    let (entries, next) = numbers.directory(first)?;
    let pages = 1 + later_pages(&numbers, first, next);
    let tags = Tags { numbers, entries };
    tags.page(pages)
}

/// Counts the pages behind the first; a loop or a broken directory ends the count.
fn later_pages(numbers: &Numbers, first: usize, mut next: usize) -> usize {
    let mut seen = HashSet::from([first]);
    let mut pages = 0;
    while next != 0 && seen.len() < MOST_PAGES && seen.insert(next) {
        let Ok((entries, after)) = numbers.directory(next) else {
            break;
        };
        let kind = entries
            .iter()
            .find(|(number, _)| *number == tag::SUBFILE_TYPE);
        let kind = kind.and_then(|(_, entry)| numbers.values(*entry).ok()?.first().copied());
        // Bit 0 is a reduced copy, bit 2 a mask.
        if kind.unwrap_or(0) & 0b101 == 0 {
            pages += 1;
        }
        next = after;
    }
    pages
}

/// The first directory.
struct Tags<'a> {
    numbers: Numbers<'a>,
    entries: Vec<(u16, Entry)>,
}

impl<'a> Tags<'a> {
    fn entry(&self, number: u16) -> Option<Entry> {
        let found = self.entries.iter().find(|(known, _)| *known == number);
        found.map(|(_, entry)| *entry)
    }

    fn values(&self, number: u16) -> Result<Option<Vec<u64>>, OpenError> {
        self.entry(number)
            .map(|entry| self.numbers.values(entry))
            .transpose()
    }

    /// The tag's only or first value.
    fn value(&self, number: u16) -> Result<Option<u32>, OpenError> {
        let Some(entry) = self.entry(number).filter(|entry| entry.count > 0) else {
            return Ok(None);
        };
        let first = self.numbers.values(Entry { count: 1, ..entry })?;
        Ok(first
            .first()
            .map(|value| u32::try_from(*value).unwrap_or(u32::MAX)))
    }

    fn page(&self, pages: usize) -> Result<Page<'a>, OpenError> {
        let size = |number, name| {
            self.value(number)?
                .filter(|size| *size > 0)
                .ok_or_else(|| corrupt(format!("no {name}")))
        };
        let (width, height) = (
            size(tag::WIDTH, "image width")?,
            size(tag::HEIGHT, "image height")?,
        );
        super::check_size(width, height)?;
        let samples = self.value(tag::SAMPLES)?.unwrap_or(1);
        if !(1..=64).contains(&samples) {
            return Err(corrupt(format!("{samples} samples a pixel")));
        }
        let bits = self.values(tag::BITS)?.unwrap_or_else(|| vec![1]);
        // Some writers give one value for all samples, some give values for samples that there are not.
        let depth = bits.first().copied().unwrap_or(1);
        if bits
            .iter()
            .take(samples as usize)
            .any(|other| *other != depth)
        {
            return Err(super::unsupported("TIFF", "samples of different depths"));
        }
        if !(1..=64).contains(&depth) {
            return Err(corrupt(format!("{depth} bits a sample")));
        }
        let compression = self.value(tag::COMPRESSION)?.unwrap_or(compression::NONE);
        let photometric = self.value(tag::PHOTOMETRIC)?.unwrap_or(match compression {
            compression::RUN_LENGTHS | compression::GROUP_3 | compression::GROUP_4 => {
                photometric::WHITE_IS_0
            }
            _ if samples >= 3 => photometric::RGB,
            _ => photometric::BLACK_IS_0,
        });
        let extra = self.values(tag::EXTRA_SAMPLES)?.unwrap_or_default();
        let orientation = self.value(tag::ORIENTATION).unwrap_or(None);
        let jpeg_tables = match self.entry(tag::JPEG_TABLES) {
            Some(entry) => {
                let end = entry.at.checked_add(entry.count as usize);
                let tables = end.and_then(|end| self.numbers.file.get(entry.at..end));
                tables.ok_or(TRUNCATED)?
            }
            None => &[],
        };
        let mut page = Page {
            file: self.numbers.file,
            big_endian: self.numbers.big_endian,
            is_big: self.numbers.is_big,
            width,
            height,
            bits: depth as u32,
            samples,
            extra: extra.iter().map(|kind| *kind as u32).collect(),
            sample_format: self.value(tag::SAMPLE_FORMAT)?.unwrap_or(1),
            compression,
            photometric,
            is_bit_reversed: self.value(tag::FILL_ORDER)? == Some(2),
            orientation: orientation
                .and_then(|value| Orientation::from_exif(u8::try_from(value).ok()?))
                .unwrap_or(Orientation::NoTransforms),
            orientation_at: orientation
                .and(self.entry(tag::ORIENTATION))
                .map(|entry| entry.at),
            is_planar: samples > 1 && self.value(tag::PLANES)? == Some(2),
            predictor: self.value(tag::PREDICTOR)?.unwrap_or(1),
            t4_options: self.value(tag::T4_OPTIONS)?.unwrap_or(0),
            colours: self.colours()?,
            jpeg_tables,
            old_jpeg: self.old_jpeg()?,
            is_tiled: self.entry(tag::TILE_OFFSETS).is_some(),
            chunk_width: width,
            chunk_height: height,
            chunks: Vec::new(),
            is_regular: bits.len() == samples as usize || bits.len() == 1,
            pages,
        };
        if page.is_tiled {
            page.chunk_width = size(tag::TILE_WIDTH, "tile width")?;
            page.chunk_height = size(tag::TILE_HEIGHT, "tile height")?;
            if page.chunk_width.max(page.chunk_height) > LONGEST_TILE {
                return Err(corrupt("a tile larger than any picture"));
            }
        } else {
            let rows = self.value(tag::STRIP_ROWS)?.filter(|rows| *rows > 0);
            page.chunk_height = rows.unwrap_or(height).min(height);
        }
        // Old JPEG keeps its data where tags of its own say.
        if compression != compression::OLD_JPEG {
            let (chunks, is_regular) = self.chunks(&page)?;
            page.chunks = chunks;
            page.is_regular &= is_regular;
        }
        Ok(page)
    }

    fn old_jpeg(&self) -> Result<Option<&'a [u8]>, OpenError> {
        let Some(offset) = self.value(tag::OLD_JPEG_OFFSET)? else {
            return Ok(None);
        };
        let rest = self.numbers.file.get(offset as usize..).ok_or(TRUNCATED)?;
        match self.value(tag::OLD_JPEG_BYTES)? {
            Some(length @ 1..) => rest.get(..length as usize).ok_or(TRUNCATED).map(Some),
            _ => Ok(Some(rest)),
        }
    }

    /// The palette: all reds, all greens, all blues, 16 bits each.
    fn colours(&self) -> Result<Vec<[u8; 3]>, OpenError> {
        let all = self.values(tag::COLOURS)?.unwrap_or_default();
        let count = all.len() / 3;
        // Some writers left the values at 8 bits.
        let shift = if all.iter().all(|value| *value < 256) {
            0
        } else {
            8
        };
        let channel = |entry: usize, channel: usize| (all[channel * count + entry] >> shift) as u8;
        Ok((0..count)
            .map(|entry| [channel(entry, 0), channel(entry, 1), channel(entry, 2)])
            .collect())
    }

    /// The strips or tiles, each inside the file and as long as it has to be; whether the tags list just these.
    fn chunks(&self, page: &Page) -> Result<(Vec<Chunk>, bool), OpenError> {
        let (offsets, lengths) = if page.is_tiled {
            (tag::TILE_OFFSETS, tag::TILE_BYTES)
        } else {
            (tag::STRIP_OFFSETS, tag::STRIP_BYTES)
        };
        let offsets = self
            .values(offsets)?
            .ok_or_else(|| corrupt("no place of its data"))?;
        let lengths = self.values(lengths)?.unwrap_or_default();
        let planes = if page.is_planar {
            page.samples as usize
        } else {
            1
        };
        let expected = page.chunks_across() * page.chunks_down() * planes;
        if offsets.len() < expected {
            return Err(corrupt(format!(
                "{} strips or tiles, {expected} expected",
                offsets.len()
            )));
        }
        let file = self.numbers.file.len();
        let mut chunks = Vec::with_capacity(expected);
        let mut is_regular = offsets.len() == expected && lengths.len() == expected;
        for (index, offset) in offsets[..expected].iter().enumerate() {
            let offset = usize::try_from(*offset)
                .ok()
                .filter(|offset| *offset < file);
            let offset = offset.ok_or(TRUNCATED)?;
            let needed = (page.compression == compression::NONE).then(|| page.chunk_bytes(index));
            let listed = lengths
                .get(index)
                .map(|length| usize::try_from(*length).unwrap_or(usize::MAX));
            // Lengths are left out, 0 or wrong in some old files: plain data need none, other data may go to the end.
            let length = needed
                .or(listed.filter(|length| *length > 0))
                .unwrap_or(file - offset);
            is_regular &= listed == Some(length);
            if length > file - offset {
                return Err(TRUNCATED);
            }
            chunks.push(Chunk { offset, length });
        }
        Ok((chunks, is_regular))
    }
}

impl Page<'_> {
    pub fn chunks_across(&self) -> usize {
        self.width.div_ceil(self.chunk_width) as usize
    }

    pub fn chunks_down(&self) -> usize {
        self.height.div_ceil(self.chunk_height) as usize
    }

    pub fn data(&self, chunk: Chunk) -> &[u8] {
        &self.file[chunk.offset..chunk.offset + chunk.length]
    }

    /// Samples that lie beside each other in a chunk.
    pub fn samples_together(&self) -> u32 {
        if self.is_planar { 1 } else { self.samples }
    }

    /// Bytes of a chunk's row when decoded.
    pub fn row_bytes(&self) -> usize {
        let bits =
            u64::from(self.chunk_width) * u64::from(self.bits) * u64::from(self.samples_together());
        bits.div_ceil(8) as usize
    }

    /// Rows of a chunk; the last strip of a plane has only what is left, tiles are always full.
    pub fn chunk_rows(&self, index: usize) -> u32 {
        let row = (index / self.chunks_across() % self.chunks_down()) as u32;
        if self.is_tiled {
            self.chunk_height
        } else {
            self.chunk_height.min(self.height - row * self.chunk_height)
        }
    }

    fn chunk_bytes(&self, index: usize) -> usize {
        // Subsampled colour has fewer; at least this much is asked for.
        let share = if self.photometric == photometric::YCBCR {
            3
        } else {
            1
        };
        self.row_bytes() * self.chunk_rows(index) as usize / share
    }
}
