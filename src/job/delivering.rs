//! `[naming]`, `[index]`, `[batch]` and `[scans]` of `job.toml`: how many sheets there should be, and what is delivered
//! for each.

use super::quality::word;
use super::settings::{list, required};
use crate::rules::{FaultList, Section};
use std::collections::BTreeMap;
use std::path::PathBuf;
use toml::Spanned;

/// What the scans are called.
#[derive(Debug, Clone, PartialEq)]
pub struct Naming {
    pub pattern: Spanned<String>,
    /// Fields whose kinds say something of a person may stand in names.
    pub personal: bool,
}

/// What the index holds; every field as typed, in the rules' order, unless said otherwise.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Index {
    pub columns: Vec<Spanned<String>>,
    /// Fields delivered as the strip has them, whatever the rule files say.
    pub as_typed: Vec<Spanned<String>>,
    /// Fields delivered as the roster has them.
    pub as_roster: Vec<Spanned<String>>,
    /// Fields delivered both as typed and as the roster has them.
    pub both: Vec<Spanned<String>>,
    /// Dates that get a column in EDTF beside what is delivered of them.
    pub edtf: Vec<Spanned<String>>,
    /// What was read on the strips goes along, for searching.
    pub full_text: bool,
}

/// What is known of the sheets from outside: the client's listing, the labels of the boxes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BatchSettings {
    /// Sheets that there should be in all.
    pub sheets: Option<usize>,
    /// Sheets that there should be in each batch, which is a folder below the sheets' folder, as `box 1` or `drawer 2/box
    /// 1`.
    pub folders: BTreeMap<String, usize>,
}

impl BatchSettings {
    /// The batch that a folder's sheets belong to: the innermost that is listed.
    ///
    /// ```
    /// use headword::job::BatchSettings;
    /// let folders = [("box 1".to_owned(), 240), ("box 1/back".to_owned(), 12)].into();
    /// let batch = BatchSettings { sheets: None, folders };
    /// assert_eq!(batch.of("box 1/front"), Some("box 1"));
    /// assert_eq!(batch.of("box 1/back/a"), Some("box 1/back"));
    /// assert_eq!(batch.of("box 10"), None);
    /// ```
    pub fn of(&self, folder: &str) -> Option<&str> {
        let mut inner = folder;
        loop {
            if let Some((listed, _)) = self.folders.get_key_value(inner) {
                return Some(listed);
            }
            inner = inner.rsplit_once('/')?.0;
        }
    }
}

/// The scans, one a sheet: files, or folders of images.
#[derive(Debug, Clone, PartialEq)]
pub struct ScanSettings {
    pub folder: PathBuf,
    pub pairing: Pairing,
    /// Scans need not come in the order of their sheets.
    pub in_any_order: bool,
    /// Scans have to have been made in the order of the sheets' images, by the files' times.
    pub in_step_by_time: bool,
    /// Pages that a sheet has room for; none where they are not counted.
    pub frames: Option<u32>,
}

/// Which scan belongs to which sheet.
#[derive(Debug, Clone, PartialEq)]
pub enum Pairing {
    /// The first to the first, and so on.
    Order,
    /// By the scan's name: `{sheet}` stands for the name of the sheet's image without its ending, `{digits}` for the
    /// last number in it.
    Name(String),
    /// By a CSV file with the columns `sheet` and `scan`.
    List(PathBuf),
}

pub(super) const NAMING: [&str; 2] = ["pattern", "personal"];
pub(super) const PERSONAL: [(&str, bool); 2] = [("allowed", true), ("refused", false)];
pub(super) const INDEX: [&str; 6] = [
    "columns",
    "as_typed",
    "as_roster",
    "both",
    "edtf",
    "full_text",
];
pub(super) const BATCH: [&str; 2] = ["sheets", "folders"];
pub(super) const SCANS: [&str; 6] = [
    "folder",
    "name",
    "list",
    "in_any_order",
    "in_step_by_time",
    "frames",
];

/// Most frames that a job may say. Own choice, far beyond the 420 of the densest computer output (ISO 9923:1994).
pub(super) const MOST_FRAMES: u32 = 10_000;

/// `None` where it has no pattern.
pub(super) fn naming(section: &Section, faults: &mut FaultList) -> Option<Naming> {
    let pattern = required(section, faults, "pattern", "pattern = \"{number}\"");
    let personal = word(section, faults, "personal", &PERSONAL);
    Some(Naming {
        pattern: pattern?,
        personal: personal.unwrap_or(true),
    })
}

pub(super) fn index(section: &Section, faults: &mut FaultList) -> Index {
    Index {
        columns: list(section, faults, "columns"),
        as_typed: list(section, faults, "as_typed"),
        as_roster: list(section, faults, "as_roster"),
        both: list(section, faults, "both"),
        edtf: list(section, faults, "edtf"),
        full_text: section.flag(faults, "full_text"),
    }
}

pub(super) fn batch(section: &Section, faults: &mut FaultList) -> BatchSettings {
    let sheets = section.value::<usize>(faults, "sheets");
    let mut folders = BTreeMap::new();
    let mut sum = 0_usize;
    if let Some(listed) = section.table(faults, "folders", "section [batch.folders]") {
        for (name, span) in listed.names() {
            let is_below = |part: &str| !matches!(part, "" | "." | "..");
            if !name.split('/').all(is_below) {
                faults.add(
                    span.start,
                    "the name of a folder below the sheets' folder",
                    format!("`{name}`"),
                    "Write \"box 1\" = 240, or \"drawer 2/box 1\" = 240 for a folder within a folder",
                );
            }
            if let Some(count) = listed.value::<usize>(faults, &name) {
                sum = sum.saturating_add(count);
                folders.insert(name, count);
            }
        }
    }
    if let Some((at, _)) = section
        .get("sheets")
        .filter(|_| sheets.is_some_and(|all| all < sum))
    {
        faults.add(
            at.start,
            format!("{sum} sheets at least, which the batches in [batch.folders] add up to"),
            format!("sheets = {}", sheets.unwrap_or_default()),
            "Correct one of the counts, or leave out `sheets`",
        );
    }
    BatchSettings { sheets, folders }
}

/// `None` where it has no folder or pairs in two ways.
pub(super) fn scans(section: &Section, faults: &mut FaultList) -> Option<ScanSettings> {
    let folder = section.required_text(faults, "folder", "folder = \"scans\"");
    let name = section.text(faults, "name");
    let list = section.text(faults, "list");
    let pairing = match (name, list) {
        (None, None) => Pairing::Order,
        (None, Some((list, _))) => Pairing::List(list.into()),
        (Some((name, span)), None) => {
            if name.contains("{sheet}") == name.contains("{digits}") {
                faults.add(
                    span.start,
                    "either {sheet} or {digits} in the scans' names",
                    format!("`{name}`"),
                    "Write name = \"{sheet}.pdf\"".to_owned(),
                );
            }
            Pairing::Name(name)
        }
        (Some((_, span)), Some(_)) => {
            let advice = "Leave out one of the two".to_owned();
            let expected = "one way of pairing scans with sheets";
            faults.add(span.start, expected, "name and list", advice);
            return None;
        }
    };
    Some(ScanSettings {
        folder: folder?.0.into(),
        pairing,
        in_any_order: section.flag(faults, "in_any_order"),
        in_step_by_time: section.flag(faults, "in_step_by_time"),
        frames: section.number(faults, "frames", MOST_FRAMES),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::JobSettings;
    use std::path::Path;

    const JOB: &str =
        "title = \"T\"\n[sheets]\nfolder = \"s\"\n[rules]\nfiles = []\n[naming]\npattern = \"x\"\n";

    #[test]
    fn says_how_scans_pair_and_faults_the_rest() {
        let parsed = |text: &str| JobSettings::parse(Path::new("."), &format!("{JOB}{text}"));
        assert_eq!(parsed("").unwrap().scans, None);
        let settings =
            parsed("[batch]\nsheets = 12\n[scans]\nfolder = \"f\"\nname = \"{sheet}.pdf\"\n");
        let settings = settings.unwrap();
        assert_eq!(settings.batch.sheets, Some(12));
        assert_eq!(
            settings.scans.unwrap().pairing,
            Pairing::Name("{sheet}.pdf".to_owned())
        );
        let batches =
            "[batch]\nsheets = 12\n[batch.folders]\n\"box 1\" = 5\n\"drawer 2/box 1\" = 7\n";
        let batches = parsed(batches).unwrap().batch;
        assert_eq!(
            (batches.folders["box 1"], batches.folders["drawer 2/box 1"]),
            (5, 7)
        );
        for faulty in [
            "[batch]\nsheets = -1\n",
            "[batch.folders]\na = -1\n",
            "[batch.folders]\n\"/a\" = 1\n",
            "[batch.folders]\n\"a/../b\" = 1\n",
            "[batch]\nsheets = 4\nfolders = { a = 2, b = 3 }\n",
            "[batch]\nfolders = 4\n",
            "[scans]\nname = \"{sheet}\"\n",
            "[scans]\nfolder = \"f\"\nname = \"scan.pdf\"\n",
            "[scans]\nfolder = \"f\"\nname = \"{sheet}\"\nlist = \"l.csv\"\n",
            "[scans]\nfolder = \"f\"\nin_any_order = 1\n",
            "[scans]\nfolder = \"f\"\nframes = \"60\"\n",
        ] {
            assert!(parsed(faulty).is_err(), "{faulty}");
        }
    }
}
