//! One file name a sheet: portable, told apart from every other, the same in whatever order the sheets come.

use super::pairing::stem;
use super::pattern::{LONGEST_EXTENSION, NamePattern, Piece};
use super::portable::{LONGEST_NAME, NOTHING, is_device, portable_value};
use super::{Check, Record, brief};
use crate::value::{Severity, SheetId, drawer_order, sha256_hex};
use std::collections::{BTreeMap, HashMap, HashSet};

/// Hexadecimal digits of the hash of a sheet's id that are put to a name that several sheets want: the first count
/// that tells all names apart. The last is the whole hash, so one always does.
const SUFFIX_DIGITS: [usize; 3] = [8, 16, 64];

/// Characters kept free for the ending that a scan brings, where the pattern has none.
const RESERVED: usize = 1 + LONGEST_EXTENSION;

/// Characters of a name beyond which its path may be too long for Windows programs: they open paths of 259 characters
/// (Microsoft, "Maximum Path Length Limitation": 260 with the closing zero; from memory), of which `delivery-0001`,
/// `data/sheets` and the separators take 26, and folders above them are left 100 (own choice).
const LONGEST_IN_PATH: usize = 259 - 26 - 100;

/// The names of a batch.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FileNames {
    names: BTreeMap<SheetId, String>,
    /// Names that several sheets want. In a draft each of these sheets has a name of its own made from its id; a
    /// delivery has to wait for somebody's decision.
    pub clashes: Vec<Clash>,
    /// What was changed to make values fit into names, in drawer order.
    pub changes: Vec<NameChange>,
}

/// A name that several sheets want, capital letters and small ones taken alike. A single sheet stands here where its
/// name happens to be what another sheet's name was made into.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Clash {
    pub name: String,
    /// In drawer order.
    pub sheets: Vec<SheetId>,
}

/// A change, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NameChange {
    pub sheet: SheetId,
    pub words: String,
}

impl FileNames {
    /// A sheet's name; none for sheets that are not delivered.
    pub fn get(&self, sheet: &SheetId) -> Option<&str> {
        self.names.get(sheet).map(String::as_str)
    }

    pub fn iter(&self) -> impl Iterator<Item = (&SheetId, &str)> {
        self.names
            .iter()
            .map(|(sheet, name)| (sheet, name.as_str()))
    }

    /// The clashes, and names that make paths too long, as checks of the batch.
    pub fn checks(&self) -> Vec<Check> {
        let clashes = self.clashes.iter().map(|clash| Check {
            severity: Severity::Warning,
            code: "same-file-name",
            sheets: clash.sheets.clone(),
            message: clash.words(),
        });
        let long = self.iter().filter(|(_, name)| name.len() > LONGEST_IN_PATH);
        let mut long: Vec<SheetId> = long.map(|(sheet, _)| sheet.clone()).collect();
        long.sort_by(|a, b| drawer_order(a.as_str(), b.as_str()));
        let long = (!long.is_empty()).then(|| Check {
            severity: Severity::Note,
            code: "long-path",
            sheets: long,
            message: "their file names are so long that Windows programs may not open them below several folders; cut \
                      fields in [naming], as in {surname:20}"
                .to_owned(),
        });
        clashes.chain(long).collect()
    }

    /// The names of a delivery, which were decided there.
    pub fn decided(names: BTreeMap<SheetId, String>) -> Self {
        Self {
            names,
            ..Self::default()
        }
    }
}

impl Clash {
    pub(super) fn words(&self) -> String {
        format!(
            "the file name {} is wanted more than once; say of each sheet whether it is a repeat scan, a true second \
             sheet or a keying error",
            self.name
        )
    }
}

/// Names for sheets without a record, made from their ids.
pub(super) fn exception_names<'a>(
    sheets: impl Iterator<Item = &'a SheetId>,
) -> BTreeMap<SheetId, String> {
    let sheets: Vec<&SheetId> = sheets.collect();
    let room = LONGEST_NAME - RESERVED;
    let stems: Vec<String> = sheets
        .iter()
        .map(|sheet| {
            let piece = Piece {
                text: portable_value(stem(sheet.as_str())),
                value: Some((String::new(), String::new())),
            };
            stem_of(vec![piece], room).0
        })
        .collect();
    let (names, _) = tell_apart(&sheets, &stems, "");
    sheets.into_iter().cloned().zip(names).collect()
}

/// Names every sheet with a record that goes into the index; of several records of a sheet the first names it.
pub fn name_sheets(records: &[Record], pattern: &NamePattern) -> FileNames {
    let mut naming: Vec<&Record> = Vec::new();
    let mut named = HashSet::new();
    for record in records.iter().filter(|record| record.is_indexed()) {
        if named.insert(&record.sheet) {
            naming.push(record);
        }
    }
    naming.sort_by(|a, b| drawer_order(a.sheet.as_str(), b.sheet.as_str()));

    let widths = pattern.widths(naming.iter().copied());
    let room = LONGEST_NAME - reserved(&pattern.extension);
    let (stems, mut words): (Vec<String>, Vec<Vec<String>>) = naming
        .iter()
        .map(|record| stem_of(pattern.pieces(record, &widths), room))
        .unzip();
    let sheets: Vec<&SheetId> = naming.iter().map(|record| &record.sheet).collect();
    let (names, clashes) = tell_apart(&sheets, &stems, &pattern.extension);
    for ((name, stem), words) in names.iter().zip(&stems).zip(&mut words) {
        let wanted = format!("{stem}{}", pattern.extension);
        if *name != wanted {
            words.push(format!(
                "{wanted} is wanted more than once; until that is decided it is {name}"
            ));
        }
    }
    let changes = sheets.iter().zip(words).flat_map(|(sheet, words)| {
        words.into_iter().map(|words| NameChange {
            sheet: (*sheet).clone(),
            words,
        })
    });
    FileNames {
        changes: changes.collect(),
        names: sheets.into_iter().cloned().zip(names).collect(),
        clashes,
    }
}

/// The stem of a name of at most `room` bytes, with the changes in words.
fn stem_of(mut pieces: Vec<Piece>, room: usize) -> (String, Vec<String>) {
    let mut changes: Vec<String> = pieces.iter().filter_map(value_change).collect();
    shorten(&mut pieces, room, &mut changes);
    let mut stem: String = pieces.into_iter().map(|piece| piece.text).collect();
    if stem.starts_with(['-', '.']) {
        changes.push(format!(
            "the name begins with _ and not with {}",
            &stem[..1]
        ));
        stem.replace_range(..1, "_");
    }
    stem.truncate(stem.trim_end_matches('.').len());
    if stem.is_empty() {
        changes.push(format!("nothing is left for the name; it is {NOTHING}"));
        stem = NOTHING.to_owned();
    }
    if is_device(&stem) {
        let device = stem.split('.').next().unwrap_or_default().len();
        changes.push(format!(
            "Windows keeps the name {} for itself; _ follows it",
            &stem[..device]
        ));
        stem.insert(device, '_');
        stem.truncate(room);
        stem.truncate(stem.trim_end_matches('.').len());
    }
    (stem, changes)
}

/// How a value had to change, in words.
fn value_change(piece: &Piece) -> Option<String> {
    let (field, value) = piece.value.as_ref()?;
    (piece.text != *value).then(|| {
        let value = brief(value);
        if value.is_empty() {
            format!("{field} is empty and is written {}", piece.text)
        } else {
            format!("{field} {value:?} is written {}", brief(&piece.text))
        }
    })
}

/// Cuts the longest values until all fits. The pattern's own text always does: a pattern is shorter than a name.
fn shorten(pieces: &mut [Piece], room: usize, changes: &mut Vec<String>) {
    loop {
        let length: usize = pieces.iter().map(|piece| piece.text.len()).sum();
        let longest = pieces
            .iter_mut()
            .filter(|piece| piece.value.is_some() && piece.text.len() > 1)
            .max_by_key(|piece| piece.text.len());
        match longest {
            Some(piece) if length > room => {
                let kept = piece.text.len().saturating_sub(length - room).max(1);
                piece.text.truncate(kept);
                if let Some((field, _)) = &piece.value {
                    changes.push(format!(
                        "{field} is cut to {kept} characters, for the name would be too long"
                    ));
                }
            }
            _ => return,
        }
    }
}

/// The names, no two of which are alike. Every sheet of those that want one name gets its id's hash, so that none
/// depends on which came first.
fn tell_apart(sheets: &[&SheetId], stems: &[String], extension: &str) -> (Vec<String>, Vec<Clash>) {
    // Per sheet, how many of SUFFIX_DIGITS it has climbed.
    let mut steps = vec![0; sheets.len()];
    loop {
        let names: Vec<String> = (0..sheets.len())
            .map(|at| match steps[at] {
                0 => format!("{}{extension}", stems[at]),
                step => suffixed(&stems[at], sheets[at], SUFFIX_DIGITS[step - 1], extension),
            })
            .collect();
        let mut climbed = false;
        for sharing in alike(&names)
            .into_iter()
            .filter(|sharing| sharing.len() > 1)
        {
            for at in sharing {
                if steps[at] < SUFFIX_DIGITS.len() {
                    steps[at] += 1;
                    climbed = true;
                }
            }
        }
        if !climbed {
            return (names, clashes(sheets, stems, extension, &steps));
        }
    }
}

fn reserved(extension: &str) -> usize {
    match extension.len() {
        0 => RESERVED,
        length => length,
    }
}

fn suffixed(stem: &str, sheet: &SheetId, digits: usize, extension: &str) -> String {
    let hash = &sha256_hex(sheet.as_str().as_bytes())[..digits];
    let room = LONGEST_NAME - reserved(extension) - 1 - digits;
    format!("{}-{hash}{extension}", &stem[..stem.len().min(room)])
}

/// Indices of the names that a file system without regard to case takes for one, each group in order.
fn alike(names: &[String]) -> Vec<Vec<usize>> {
    let mut groups: HashMap<String, Vec<usize>> = HashMap::new();
    for (at, name) in names.iter().enumerate() {
        groups
            .entry(name.to_ascii_lowercase())
            .or_default()
            .push(at);
    }
    let mut groups: Vec<_> = groups.into_values().collect();
    groups.sort();
    groups
}

/// The names that more than one sheet wants, and those that were wanted by one and made up for another.
fn clashes(sheets: &[&SheetId], stems: &[String], extension: &str, steps: &[usize]) -> Vec<Clash> {
    let wanted: Vec<String> = stems
        .iter()
        .map(|stem| format!("{stem}{extension}"))
        .collect();
    alike(&wanted)
        .into_iter()
        .filter(|sharing| sharing.iter().any(|&at| steps[at] > 0))
        .map(|sharing| Clash {
            name: wanted[sharing[0]].clone(),
            sheets: sharing.into_iter().map(|at| sheets[at].clone()).collect(),
        })
        .collect()
}

#[cfg(test)]
#[path = "names_tests.rs"]
mod tests;
