//! Pages of a PDF file, as its page tree says (ISO 32000-1, 7.5 and 7.7.3.2). Only the objects that lead there are read.

mod objects;

use super::Pieces;
use flate2::read::ZlibDecoder;
use objects::{Parser, Value};
use std::collections::{HashMap, HashSet};
use std::io::{Read, Seek};

/// Bytes before the end of a file in which its last cross-reference is named (annex H asks readers for 1,024).
const ENDS_WITHIN: u64 = 2_048;

/// Bytes that are read of an object, or of a cross-reference, at first, and where they do not hold it.
const WINDOWS: [usize; 2] = [1 << 16, 1 << 22];

/// Bytes of a stream once it is unpacked; cross-references and packed objects of a hundred thousand objects take less.
const MOST_UNPACKED: u64 = 1 << 22;

/// Cross-references of one file, one for each time that it was changed.
const MOST_SECTIONS: usize = 100;

/// None where the file is damaged, or encrypted with what leads to the pages packed.
pub fn pages(file: &mut Pieces<impl Read + Seek>) -> Option<u64> {
    let tail = file.bytes.saturating_sub(ENDS_WITHIN + file.begins);
    let end = file.piece(tail, ENDS_WITHIN as usize)?;
    let said = end.windows(9).rposition(|nine| nine == b"startxref")?;
    let last = Parser::new(&end[said + 9..]).value()?.number()?;
    let mut document = Document {
        file,
        places: HashMap::new(),
        root: None,
    };
    document.take_sections(last)?;
    let root = document.root.take()?;
    let root = document.resolved(root)?;
    let tree = document.resolved(root.get("Pages")?.clone())?;
    let count = document.resolved(tree.get("Count")?.clone())?;
    count.number()
}

/// Where an object is.
#[derive(Clone, Copy)]
enum Place {
    At(u64),
    /// Packed into the stream that is this object.
    In(u64),
}

struct Document<'a, R> {
    file: &'a mut Pieces<R>,
    places: HashMap<u64, Place>,
    root: Option<Value>,
}

impl<R: Read + Seek> Document<'_, R> {
    /// Reads the cross-references, the newest first; what they say first counts.
    fn take_sections(&mut self, last: u64) -> Option<()> {
        let mut due = vec![last];
        let mut seen = HashSet::new();
        while let Some(at) = due.pop() {
            if !seen.insert(at) {
                continue;
            }
            if seen.len() > MOST_SECTIONS {
                return None;
            }
            let trailer = self.section(at)?;
            if self.root.is_none() {
                self.root = trailer.get("Root").cloned();
            }
            // The older one last, so that it comes behind the packed part of this one.
            for key in ["Prev", "XRefStm"] {
                due.extend(trailer.get(key).and_then(Value::number));
            }
        }
        Some(())
    }

    /// One cross-reference, as a table or as a stream; gives its dictionary.
    fn section(&mut self, at: u64) -> Option<Value> {
        let is_table = self
            .file
            .piece(at, 64)?
            .trim_ascii_start()
            .starts_with(b"xref");
        if !is_table {
            let (dictionary, stream) = self.object(at)?;
            let unpacked = self.unpacked(&dictionary, at + stream as u64)?;
            self.take_rows(&dictionary, &unpacked)?;
            return Some(dictionary);
        }
        let table = |piece: &[u8]| {
            let mut parser = Parser::new(piece);
            parser.word(b"xref")?;
            let mut places = Vec::new();
            while parser.word(b"trailer").is_none() {
                let first = parser.value()?.number()?;
                for object in first..first.checked_add(parser.value()?.number()?)? {
                    let place = parser.value()?.number()?;
                    parser.value()?.number()?;
                    match parser.word(b"n") {
                        Some(()) => places.push((object, Place::At(place))),
                        None => parser.word(b"f")?,
                    }
                }
            }
            Some((places, parser.value()?))
        };
        let (places, trailer) = self.first_window(at, table)?;
        for (object, place) in places {
            self.places.entry(object).or_insert(place);
        }
        Some(trailer)
    }

    /// Takes the places that a cross-reference stream holds (7.5.8).
    fn take_rows(&mut self, dictionary: &Value, rows: &[u8]) -> Option<()> {
        let widths = dictionary.get("W")?.numbers()?;
        let [kinds, seconds, thirds] = widths[..] else {
            return None;
        };
        if widths.iter().any(|&width| width > 8) {
            return None;
        }
        let [kinds, seconds] = [kinds as usize, seconds as usize];
        let width = kinds + seconds + thirds as usize;
        let runs = match dictionary.get("Index") {
            Some(runs) => runs.numbers()?,
            None => vec![0, dictionary.get("Size")?.number()?],
        };
        let number = |bytes: &[u8]| {
            bytes
                .iter()
                .fold(0, |sum, &byte| sum << 8 | u64::from(byte))
        };
        let mut rows = rows.chunks_exact(width.max(1));
        for run in runs.chunks_exact(2) {
            for object in run[0]..run[0].checked_add(run[1])? {
                let Some(row) = rows.next() else {
                    return Some(());
                };
                let second = number(&row[kinds..kinds + seconds]);
                let place = match number(&row[..kinds]) {
                    1 => Place::At(second),
                    2 => Place::In(second),
                    0 if kinds == 0 => Place::At(second),
                    _ => continue,
                };
                self.places.entry(object).or_insert(place);
            }
        }
        Some(())
    }

    /// What a reference leads to; all else as it is.
    fn resolved(&mut self, value: Value) -> Option<Value> {
        let Value::Reference(object) = value else {
            return Some(value);
        };
        match *self.places.get(&object)? {
            Place::At(at) => Some(self.object(at)?.0),
            Place::In(stream) => {
                let Place::At(at) = *self.places.get(&stream)? else {
                    return None;
                };
                let (dictionary, begins) = self.object(at)?;
                let unpacked = self.unpacked(&dictionary, at + begins as u64)?;
                let first = usize::try_from(dictionary.get("First")?.number()?).ok()?;
                let mut parser = Parser::new(&unpacked);
                for _ in 0..dictionary.get("N")?.number()? {
                    let number = parser.value()?.number()?;
                    let offset = usize::try_from(parser.value()?.number()?).ok()?;
                    if number == object {
                        let at = first.checked_add(offset)?;
                        return Parser::new(unpacked.get(at..)?).value();
                    }
                }
                None
            }
        }
    }

    /// An object, and how many bytes behind its place its stream begins, if it has one.
    fn object(&mut self, at: u64) -> Option<(Value, usize)> {
        self.first_window(at, |piece| {
            let mut parser = Parser::new(piece);
            parser.value()?.number()?;
            parser.value()?.number()?;
            parser.word(b"obj")?;
            let value = parser.value()?;
            let stream = parser.word(b"stream").map(|()| parser.behind_line());
            Some((value, stream.unwrap_or_default()))
        })
    }

    /// What is made of the first piece at a place that is long enough for it.
    fn first_window<T>(&mut self, at: u64, make: impl Fn(&[u8]) -> Option<T>) -> Option<T> {
        let mut windows = WINDOWS.iter();
        windows.find_map(|&window| make(&self.file.piece(at, window)?))
    }

    /// A stream's bytes, as far as they are not packed otherwise than cross-references usually are.
    fn unpacked(&mut self, dictionary: &Value, at: u64) -> Option<Vec<u8>> {
        let mut unpacked = Vec::new();
        let filter = match dictionary.get("Filter") {
            Some(Value::Array(filters)) if filters.len() < 2 => filters.first(),
            filter => filter,
        };
        let packed = self.file.from(at)?;
        match filter {
            // Without its length, so that one that is wrong does no harm: the packed bytes say where they end.
            Some(Value::Name(name)) if name == "FlateDecode" => {
                let packed = ZlibDecoder::new(packed);
                packed.take(MOST_UNPACKED).read_to_end(&mut unpacked).ok()?;
            }
            None => {
                let length = dictionary.get("Length")?.number()?;
                let length = length.min(MOST_UNPACKED);
                packed.take(length).read_to_end(&mut unpacked).ok()?;
            }
            Some(_) => return None,
        }
        let parameters = match dictionary.get("DecodeParms") {
            Some(Value::Array(all)) => all.first(),
            parameters => parameters,
        };
        let said = |key: &str| parameters?.get(key)?.number();
        match said("Predictor").unwrap_or(1) {
            1 => Some(unpacked),
            10..=15 => {
                let columns = usize::try_from(said("Columns").unwrap_or(1)).ok()?;
                predicted(&unpacked, columns)
            }
            _ => None,
        }
    }
}

/// Rows of so many bytes as the filters of PNG say, of one byte a pixel (PNG, third edition, 9.2).
fn predicted(rows: &[u8], columns: usize) -> Option<Vec<u8>> {
    let mut before = vec![0; columns];
    let mut all = Vec::with_capacity(rows.len());
    for row in rows.chunks_exact(columns.checked_add(1)?) {
        let mut row_now = vec![0_u8; columns];
        for at in 0..columns {
            let (up, left, corner) = match at {
                0 => (before[0], 0, 0),
                _ => (before[at], row_now[at - 1], before[at - 1]),
            };
            let predictor = match row[0] {
                0 => 0,
                1 => left,
                2 => up,
                3 => ((u16::from(left) + u16::from(up)) / 2) as u8,
                4 => nearest(left, up, corner),
                _ => return None,
            };
            row_now[at] = row[at + 1].wrapping_add(predictor);
        }
        all.extend(&row_now);
        before = row_now;
    }
    Some(all)
}

/// Of three neighbours the one nearest to what they point to (PNG's Paeth predictor).
fn nearest(left: u8, up: u8, corner: u8) -> u8 {
    let aim = i16::from(left) + i16::from(up) - i16::from(corner);
    let neighbours = [left, up, corner];
    let distance = |neighbour: &u8| (aim - i16::from(*neighbour)).abs();
    neighbours.into_iter().min_by_key(distance).unwrap_or(left)
}
