//! A page restated as the plainest TIFF that holds the same data, for decoders that know few kinds of TIFF.
//!
//! Strips or tiles of one plane become the strips of a picture one chunk wide, one below the other, upright and with the
//! first pixel in the highest bit; what the samples mean is left to [`super::samples`].

use super::page::{Page, compression, photometric};

/// Appended to Group 4 data: the decoder reads ahead, and trips where a file leaves the end-of-block code out.
const GROUP_4_MARGIN: [u8; 2] = [0xff; 2];

/// How a decoder is to take the data.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    /// Rows of bytes, whatever samples they hold.
    Bytes,
    /// Fax-coded rows of single bits, 1 black.
    Bits,
    /// JPEG streams of so many samples a pixel.
    Jpeg,
}

/// Types of values (TIFF 6.0, section 2).
const TYPE_SHORT: u16 = 3;
const TYPE_LONG: u16 = 4;
const TYPE_BYTES: u16 = 7;

/// The restated file of one plane, little-endian.
pub(super) fn restate(page: &Page, plane: usize, form: Form) -> Vec<u8> {
    let count = page.chunks_across() * page.chunks_down();
    let chunks = &page.chunks[plane * count..(plane + 1) * count];
    let margin: &[u8] = match page.compression {
        compression::GROUP_4 => &GROUP_4_MARGIN,
        _ => &[],
    };
    let data: usize = chunks.iter().map(|chunk| chunk.length + 3).sum();
    let mut file = Vec::with_capacity(data + page.jpeg_tables.len() + count * 8 + 256);
    file.extend(b"II\x2a\0\0\0\0\0");
    let mut offsets = Vec::with_capacity(count);
    for chunk in chunks {
        offsets.push(file.len() as u32);
        let bytes = page.data(*chunk);
        if page.is_bit_reversed && form != Form::Jpeg {
            file.extend(bytes.iter().map(|byte| byte.reverse_bits()));
        } else {
            file.extend(bytes);
        }
        file.extend(margin);
        pad(&mut file);
    }
    let height = (0..count).map(|index| page.chunk_rows(index)).sum::<u32>();
    let (width, bits, samples, photometric) = match form {
        Form::Bytes => (page.row_bytes() as u32, 8, 1, photometric::BLACK_IS_0),
        Form::Bits => (page.chunk_width, 1, 1, photometric::WHITE_IS_0),
        // Kept as they are: samples of YCbCr are turned into RGB later.
        Form::Jpeg => (
            page.chunk_width,
            8,
            page.samples as u16,
            match page.photometric {
                photometric::YCBCR => photometric::RGB,
                photometric::WHITE_IS_0 => photometric::BLACK_IS_0,
                other => other,
            },
        ),
    };
    let lengths = chunks
        .iter()
        .map(|chunk| (chunk.length + margin.len()) as u32);
    let mut entries = vec![
        longs(256, vec![width]),
        longs(257, vec![height]),
        (258, TYPE_SHORT, shorts(&vec![bits; samples as usize])),
        (259, TYPE_SHORT, shorts(&[page.compression as u16])),
        (262, TYPE_SHORT, shorts(&[photometric as u16])),
        longs(273, offsets),
        (277, TYPE_SHORT, shorts(&[samples])),
        longs(278, vec![page.chunk_height]),
        longs(279, lengths.collect()),
    ];
    if page.compression == compression::GROUP_3 {
        entries.push(longs(292, vec![page.t4_options]));
    }
    if !page.jpeg_tables.is_empty() {
        entries.push((347, TYPE_BYTES, page.jpeg_tables.to_vec()));
    }
    write_directory(&mut file, entries);
    file
}

/// A plane's chunks as they stand in the file, one below the other: all that data without compression need.
pub(super) fn joined(page: &Page, plane: usize) -> Vec<u8> {
    let count = page.chunks_across() * page.chunks_down();
    let chunks = &page.chunks[plane * count..(plane + 1) * count];
    let mut bytes: Vec<u8> = Vec::with_capacity(chunks.iter().map(|chunk| chunk.length).sum());
    chunks
        .iter()
        .for_each(|chunk| bytes.extend(page.data(*chunk)));
    if page.is_bit_reversed {
        bytes
            .iter_mut()
            .for_each(|byte| *byte = byte.reverse_bits());
    }
    bytes
}

fn pad(file: &mut Vec<u8>) {
    if !file.len().is_multiple_of(2) {
        file.push(0);
    }
}

fn longs(tag: u16, values: Vec<u32>) -> (u16, u16, Vec<u8>) {
    let bytes = values.iter().flat_map(|value| value.to_le_bytes());
    (tag, TYPE_LONG, bytes.collect())
}

fn shorts(values: &[u16]) -> Vec<u8> {
    values
        .iter()
        .flat_map(|value| value.to_le_bytes())
        .collect()
}

/// Appends the values that do not fit into an entry, then the directory, and points the header to it.
fn write_directory(file: &mut Vec<u8>, entries: Vec<(u16, u16, Vec<u8>)>) {
    let mut directory = (entries.len() as u16).to_le_bytes().to_vec();
    for (tag, kind, mut value) in entries {
        let size = match kind {
            TYPE_SHORT => 2,
            TYPE_LONG => 4,
            _ => 1,
        };
        let count = (value.len() / size) as u32;
        if value.len() > 4 {
            pad(file);
            let at = file.len() as u32;
            file.append(&mut value);
            value = at.to_le_bytes().to_vec();
        }
        value.resize(4, 0);
        directory.extend(tag.to_le_bytes());
        directory.extend(kind.to_le_bytes());
        directory.extend(count.to_le_bytes());
        directory.extend(value);
    }
    directory.extend([0; 4]);
    pad(file);
    let at = file.len() as u32;
    file[4..8].copy_from_slice(&at.to_le_bytes());
    file.extend(directory);
}
