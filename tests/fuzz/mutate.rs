//! Sound image files made unsound: bits, pieces, and the fields that decoders trust.

use super::craft::crc32;
use rand::RngExt;
use rand::seq::IndexedRandom;
use rand_chacha::ChaCha8Rng;

/// Numbers on which size calculations break.
const EDGES: [u64; 14] = [
    0,
    1,
    2,
    7,
    0x7f,
    0xff,
    0x7fff,
    0xffff,
    30_000,
    65_537,
    0x7fff_ffff,
    0x8000_0000,
    0xffff_fffe,
    0xffff_ffff,
];

/// A change or two or three to a sound file, drawn by `random`.
pub fn mutated(sound: &[u8], random: &mut ChaCha8Rng) -> Vec<u8> {
    let mut bytes = sound.to_vec();
    let changes = *[1, 1, 1, 2, 3].choose(random).expect("there are numbers");
    for _ in 0..changes {
        if bytes.len() < 16 {
            break;
        }
        match random.random_range(0..10) {
            0 => flip_bits(&mut bytes, random),
            1 => bytes.truncate(random.random_range(0..bytes.len())),
            2 => move_piece(&mut bytes, random),
            3 => fill_piece(&mut bytes, random),
            _ => edit_fields(&mut bytes, random),
        }
    }
    bytes
}

fn flip_bits(bytes: &mut [u8], random: &mut ChaCha8Rng) {
    for _ in 0..random.random_range(1..=4) {
        let at = random.random_range(0..bytes.len());
        bytes[at] ^= 1 << random.random_range(0..8);
    }
}

/// A stretch of bytes, at most a quarter of the file.
fn piece(bytes: &[u8], random: &mut ChaCha8Rng) -> std::ops::Range<usize> {
    let length = random.random_range(1..=bytes.len().div_ceil(4));
    let start = random.random_range(0..=bytes.len() - length);
    start..start + length
}

/// A piece doubled, left out, or written over another place.
fn move_piece(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    let range = piece(bytes, random);
    let copy = bytes[range.clone()].to_vec();
    match random.random_range(0..3) {
        0 => {
            bytes.splice(range.start..range.start, copy);
        }
        1 => {
            bytes.drain(range);
        }
        _ => {
            let to = random.random_range(0..=bytes.len() - copy.len());
            bytes[to..to + copy.len()].copy_from_slice(&copy);
        }
    }
}

fn fill_piece(bytes: &mut [u8], random: &mut ChaCha8Rng) {
    let range = piece(bytes, random);
    let value = *[0, 0xff, 0x80].choose(random).expect("there are values");
    let is_noise = random.random_bool(0.3);
    for byte in &mut bytes[range] {
        *byte = if is_noise { random.random() } else { value };
    }
}

fn edit_fields(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    match bytes.as_slice() {
        [0x89, b'P', ..] => edit_png(bytes, random),
        [0xff, 0xd8, ..] => edit_jpeg(bytes, random),
        [b'I', b'I', ..] | [b'M', b'M', ..] => edit_tiff(bytes, random),
        _ => flip_bits(bytes, random),
    }
}

fn edge(random: &mut ChaCha8Rng, length: usize) -> u64 {
    match random.random_range(0..4) {
        0 => random.random_range(0..length as u64 + 16),
        1 => u64::from(random.random::<u32>()),
        _ => *EDGES.choose(random).expect("there are edges"),
    }
}

/// An unsigned number of `size` bytes.
struct Writer {
    is_big_endian: bool,
}

impl Writer {
    fn read(&self, bytes: &[u8], at: usize, size: usize) -> u64 {
        let Some(field) = bytes.get(at..at.saturating_add(size)) else {
            return 0;
        };
        let join = |number: u64, byte: &u8| number << 8 | u64::from(*byte);
        match self.is_big_endian {
            true => field.iter().fold(0, join),
            false => field.iter().rev().fold(0, join),
        }
    }

    fn write(&self, bytes: &mut [u8], at: usize, size: usize, number: u64) {
        let Some(field) = bytes.get_mut(at..at.saturating_add(size)) else {
            return;
        };
        let count = field.len();
        for (place, byte) in field.iter_mut().enumerate() {
            let shift = if self.is_big_endian {
                count - 1 - place
            } else {
                place
            };
            *byte = (number >> (8 * shift)) as u8;
        }
    }
}

/// A directory entry's tag, type, count or value; or where the next directory is said to be.
fn edit_tiff(bytes: &mut [u8], random: &mut ChaCha8Rng) {
    let numbers = Writer {
        is_big_endian: bytes[0] == b'M',
    };
    let is_big = numbers.read(bytes, 2, 2) == 43;
    let (place, count_size, entry_size, room) = if is_big { (8, 8, 20, 8) } else { (4, 2, 12, 4) };
    let directory = numbers.read(bytes, place, room) as usize;
    if directory >= bytes.len() {
        return;
    }
    let count = numbers.read(bytes, directory, count_size).min(64) as usize;
    let entry = random.random_range(0..count.max(1));
    let at = directory + count_size + entry * entry_size;
    let value_at = at + 4 + room;
    let length = bytes.len();
    match random.random_range(0..8) {
        0 => numbers.write(bytes, at, 2, random.random_range(250..540)),
        1 => numbers.write(bytes, at + 2, 2, random.random_range(0..20)),
        2 => numbers.write(bytes, at + 4, room, edge(random, length)),
        3 => {
            // The next directory: this one, the header, or anywhere.
            let next = directory + count_size + count * entry_size;
            let to = match random.random_range(0..3) {
                0 => directory as u64,
                1 => 8,
                _ => edge(random, length),
            };
            numbers.write(bytes, next, room, to);
        }
        4 => numbers.write(bytes, directory, count_size, edge(random, length)),
        // Values that fit lie in the entry, others where it points.
        5 => {
            let target = numbers.read(bytes, value_at, room) as usize;
            numbers.write(bytes, target, 4, edge(random, length));
        }
        _ => {
            let kind = numbers.read(bytes, at + 2, 2);
            let size = if kind == 3 { 2 } else { room };
            numbers.write(bytes, value_at, size, edge(random, length));
        }
    }
}

/// A segment's length, a field of the frame or scan header, or a segment left out or doubled.
fn edit_jpeg(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    let numbers = Writer {
        is_big_endian: true,
    };
    // Segments up to the scan data: where the marker stands, and how long all of it is.
    let mut segments = Vec::new();
    let mut at = 2;
    while at + 4 <= bytes.len() && bytes[at] == 0xff {
        let length = 2 + numbers.read(bytes, at + 2, 2) as usize;
        segments.push((at, length));
        if bytes[at + 1] == 0xda {
            break;
        }
        at += length;
    }
    let Some((at, length)) = segments.choose(random).copied() else {
        return flip_bits(bytes, random);
    };
    let end = (at + length).min(bytes.len());
    match random.random_range(0..6) {
        0 => {
            let value = edge(random, length);
            numbers.write(bytes, at + 2, 2, value);
        }
        1 => bytes[at + 1] = random.random_range(0xc0..=0xff),
        2 => {
            bytes.drain(at..end);
        }
        3 => {
            let copy = bytes[at..end].to_vec();
            bytes.splice(at..at, copy);
        }
        _ => {
            let within = random.random_range(0..(end - at).clamp(1, 24));
            let value = edge(random, length);
            numbers.write(bytes, at + within, random.random_range(1..=2), value);
        }
    }
}

/// A chunk's length, name or content with its checksum repaired; or a chunk left out or doubled.
fn edit_png(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    let numbers = Writer {
        is_big_endian: true,
    };
    let mut chunks = Vec::new();
    let mut at = 8;
    while at + 12 <= bytes.len() {
        let length = numbers.read(bytes, at, 4) as usize;
        if at + 12 + length > bytes.len() {
            break;
        }
        chunks.push((at, length));
        at += 12 + length;
    }
    let Some((at, length)) = chunks.choose(random).copied() else {
        return flip_bits(bytes, random);
    };
    match random.random_range(0..6) {
        0 => {
            let value = edge(random, length);
            numbers.write(bytes, at, 4, value);
        }
        1 => {
            bytes.drain(at..at + 12 + length);
        }
        2 => {
            let copy = bytes[at..at + 12 + length].to_vec();
            let (to, _) = *chunks.choose(random).expect("there is one");
            bytes.splice(to..to, copy);
        }
        _ if length > 0 => {
            let within = random.random_range(0..length);
            let size = *[1, 2, 4].choose(random).expect("there are sizes");
            let value = edge(random, length);
            numbers.write(bytes, at + 8 + within, size, value);
            let end = at + 8 + length;
            let checksum = crc32(&bytes[at + 4..end]);
            numbers.write(bytes, end, 4, u64::from(checksum));
        }
        _ => {}
    }
}
