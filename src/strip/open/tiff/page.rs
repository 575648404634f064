//! What the first page of a TIFF holds and where its data lie, as its directory says it.
//!
//! Nothing is decoded here and nothing is believed: sizes have bounds, and all of the data have to lie inside the file.

use super::directory::{Directory, TRUNCATED, corrupt};
use crate::strip::open::{MOST_FILE_BYTES, OpenError, check_size, unsupported};
use image::metadata::Orientation;

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
    /// The tags agree with each other and with the data on how many samples and chunks there are, and how long, and no
    /// other directory follows.
    pub is_regular: bool,
    /// Pages of the file; thumbnails, reduced copies and masks do not count.
    pub pages: usize,
}

/// Reads the first page of a TIFF or BigTIFF file, and counts the pages.
pub(super) fn first_page(file: &[u8]) -> Result<Page<'_>, OpenError> {
    let directory = Directory::first(file)?;
    directory.page(directory.pages())
}

impl<'a> Directory<'a> {
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
        check_size(width, height)?;
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
            return Err(unsupported("TIFF", "samples of different depths"));
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
            is_regular: (bits.len() == samples as usize || bits.len() == 1) && self.is_last(),
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
        // Strips may share their data, but not so that walking them takes forever.
        let total: u64 = chunks.iter().map(|chunk| chunk.length as u64).sum();
        if page.compression != compression::NONE && total > MOST_FILE_BYTES {
            return Err(corrupt(format!(
                "strips or tiles of {total} bytes in a file of {file}"
            )));
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
