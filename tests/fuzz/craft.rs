//! Image files made by hand, where an encoder would not write what is wanted.

use std::collections::BTreeMap;

/// A directory entry: tag, type (3 SHORT, 4 LONG), count, and the value or where the values stand.
pub type Tag = (u16, u16, u32, u32);

/// A little-endian TIFF: its data, then a directory of tag, type, count and value; then where the next one is said to be.
pub fn tiff(data: &[u8], entries: &[Tag], next: u32) -> Vec<u8> {
    let mut bytes = b"II\x2a\0".to_vec();
    bytes.extend((8 + data.len() as u32).to_le_bytes());
    bytes.extend(data);
    bytes.extend((entries.len() as u16).to_le_bytes());
    for (tag, kind, count, value) in entries {
        bytes.extend(tag.to_le_bytes());
        bytes.extend(kind.to_le_bytes());
        bytes.extend(count.to_le_bytes());
        bytes.extend(value.to_le_bytes());
    }
    bytes.extend(next.to_le_bytes());
    bytes
}

/// A directory of one strip of `length` bytes behind the header; `more` replaces or adds tags.
pub fn one_strip(
    (width, height): (u32, u32),
    compression: u32,
    length: u32,
    more: &[Tag],
) -> Vec<Tag> {
    let mut entries = BTreeMap::from([
        (256, (256, 4, 1, width)),
        (257, (257, 4, 1, height)),
        (258, (258, 3, 1, 8)),
        (259, (259, 3, 1, compression)),
        (262, (262, 3, 1, 1)),
        (273, (273, 4, 1, 8)),
        (277, (277, 3, 1, 1)),
        (278, (278, 4, 1, height)),
        (279, (279, 4, 1, length)),
    ]);
    entries.extend(more.iter().map(|entry| (entry.0, *entry)));
    entries.into_values().collect()
}

/// CRC-32 as PNG has it (ISO/IEC 15948, annex D).
pub fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |mut crc, byte| {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 {
                0xedb8_8320 ^ (crc >> 1)
            } else {
                crc >> 1
            };
        }
        crc
    })
}
