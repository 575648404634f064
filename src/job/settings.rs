//! `job.toml`: where a job's sheets, rules and roster are, and what it delivers.

use super::delivering::{self, BatchSettings, Index, Naming, ScanSettings};
use super::keying::{self, KeyingSettings};
use super::proof::{self, ProofSettings};
use super::quality::{self, QualitySettings};
use crate::rules::{
    Fault, FaultList, Faults, STYLE_KEYS, Section, Styles, all_of, document, styles,
};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use toml::Spanned;
use toml::de::DeValue;

/// The name of the file that makes a folder a job.
pub const JOB_FILE: &str = "job.toml";

/// Largest job file in bytes; one has a hundred lines.
const MAX_FILE: usize = 1 << 18;
/// A job file as it was written. Paths in it are relative to the job's folder.
#[derive(Debug, Clone, PartialEq)]
pub struct JobSettings {
    /// The job's folder.
    pub folder: PathBuf,
    pub title: String,
    /// The name of the collection that the sheets are from; rules may ask for it.
    pub collection: Option<String>,
    pub sheets: Sheets,
    /// How values are typed, where the rules do not say otherwise.
    pub styles: Styles,
    pub rules: Rules,
    pub roster: Option<RosterSettings>,
    pub naming: Naming,
    pub parts: Option<Parts>,
    pub index: Index,
    pub keying: KeyingSettings,
    pub batch: BatchSettings,
    pub scans: Option<ScanSettings>,
    pub quality: QualitySettings,
    pub proof: ProofSettings,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Sheets {
    pub folder: PathBuf,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    pub files: Vec<PathBuf>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct RosterSettings {
    pub file: PathBuf,
    /// The column that names a row.
    pub key: String,
    /// Field of the rules to column of the roster.
    pub columns: BTreeMap<Spanned<String>, String>,
    /// Share of sheets whose person or thing the roster holds.
    pub expected_share: Option<f64>,
}

/// The fields that number the sheets of one record, as in "2 OF 3".
#[derive(Debug, Clone, PartialEq)]
pub struct Parts {
    /// What the sheets of one record have in common.
    pub of: Vec<Spanned<String>>,
    pub part: Spanned<String>,
    pub parts: Spanned<String>,
}

impl JobSettings {
    /// Reads a job file's text; `folder` is where it lies.
    ///
    /// # Errors
    /// Every fault of the file, each with its place and what to write instead.
    pub fn parse(folder: &Path, text: &str) -> Result<Self, Faults> {
        let (table, mut faults) = document(JOB_FILE, text, "job file", MAX_FILE);
        let root = Section {
            what: "job file",
            table: &table,
            span: 0..text.len(),
        };
        let settings = read(&root, &mut faults, folder);
        match (settings, all_of([faults])) {
            (Some(settings), None) => Ok(settings),
            (_, Some(faults)) => Err(faults),
            (None, None) => unreachable!("what is missing is a fault"),
        }
    }

    /// The fields that the job file names and the rules do not have, each where it is named.
    pub fn unknown_fields(&self, text: &str, known: &[&str]) -> Vec<Fault> {
        let mut named: Vec<&Spanned<String>> = Vec::new();
        named.extend(self.roster.iter().flat_map(|roster| roster.columns.keys()));
        named.extend(
            self.parts
                .iter()
                .flat_map(|p| p.of.iter().chain([&p.part, &p.parts])),
        );
        let Index {
            columns,
            as_typed,
            as_roster,
            both,
            edtf,
            full_text: _,
        } = &self.index;
        named.extend(columns.iter().chain(as_typed).chain(as_roster));
        named.extend(both.iter().chain(edtf));
        named.extend(&self.quality.second_fields);
        named.extend(&self.quality.critical);
        named
            .into_iter()
            .filter(|field| !known.contains(&field.get_ref().as_str()))
            .map(|field| {
                fault_at(
                    text,
                    field.span().start,
                    "a field of the rule files",
                    &format!("`{}`", field.get_ref()),
                    &format!(
                        "Write one of {}, or declare it in a rule file",
                        known.join(", ")
                    ),
                )
            })
            .collect()
    }

    pub fn sheets_folder(&self) -> PathBuf {
        self.folder.join(&self.sheets.folder)
    }

    /// Where everything that headword makes for the client goes.
    pub fn out_folder(&self) -> PathBuf {
        self.folder.join("out")
    }
}

/// The keys of a job file, and those of each of its sections; in `[roster.columns]` fields name columns.
pub(super) const KEYS: [&str; 14] = [
    "title",
    "collection",
    "sheets",
    "styles",
    "rules",
    "roster",
    "naming",
    "parts",
    "index",
    "keying",
    "batch",
    "scans",
    "quality",
    "proof",
];
pub(super) const SHEETS: [&str; 1] = ["folder"];
pub(super) const RULES: [&str; 1] = ["files"];
pub(super) const ROSTER: [&str; 4] = ["file", "key", "columns", "expected_share"];
pub(super) const PARTS: [&str; 3] = ["of", "part", "parts"];

/// Reads the whole file; `None` where something is missing that has to be there.
fn read(root: &Section, faults: &mut FaultList, folder: &Path) -> Option<JobSettings> {
    root.keys(faults, &KEYS);
    let title = required(root, faults, "title", "title = \"Harbour board\"");
    let collection = root.text(faults, "collection").map(|(name, _)| name);
    let sheets = section(root, faults, "sheets", "section [sheets]", &SHEETS, true);
    let sheets = sheets.and_then(|sheets| {
        let folder = required(&sheets, faults, "folder", "folder = \"sheets\"")?;
        Some(Sheets {
            folder: folder.into_inner().into(),
        })
    });
    let own = section(
        root,
        faults,
        "styles",
        "section [styles]",
        &STYLE_KEYS,
        false,
    );
    let styles = own.map(|own| styles(&own, faults, &Styles::default()));
    let rules = section(root, faults, "rules", "section [rules]", &RULES, true);
    let rules = rules.map(|rules| {
        has(
            &rules,
            faults,
            "files",
            "files = [\"rules/personnel.toml\"]",
        );
        let files = list(&rules, faults, "files").into_iter();
        Rules {
            files: files.map(|file| file.into_inner().into()).collect(),
        }
    });
    let roster = section(root, faults, "roster", "section [roster]", &ROSTER, false);
    let has_roster = roster.is_some();
    let roster = roster.and_then(|roster| read_roster(&roster, faults));
    let what = "section [naming]";
    let naming = section(root, faults, "naming", what, &delivering::NAMING, true);
    let naming = naming.and_then(|naming| delivering::naming(&naming, faults));
    let parts = section(root, faults, "parts", "section [parts]", &PARTS, false);
    let parts = parts.and_then(|parts| {
        has(&parts, faults, "of", "of = [\"number\"]");
        let of = list(&parts, faults, "of");
        let part = required(&parts, faults, "part", "part = \"part\"");
        let parts = required(&parts, faults, "parts", "parts = \"parts\"");
        Some(Parts {
            of,
            part: part?,
            parts: parts?,
        })
    });
    let what = "section [index]";
    let index = section(root, faults, "index", what, &delivering::INDEX, false);
    let index = index.map(|index| delivering::index(&index, faults));
    let keying = section(
        root,
        faults,
        "keying",
        "section [keying]",
        &keying::KEYS,
        false,
    );
    let keying = keying.map(|keying| keying::read(&keying, faults));
    let batch = section(
        root,
        faults,
        "batch",
        "section [batch]",
        &delivering::BATCH,
        false,
    );
    let batch = batch.map(|batch| delivering::batch(&batch, faults));
    let scans = section(
        root,
        faults,
        "scans",
        "section [scans]",
        &delivering::SCANS,
        false,
    );
    let has_scans = scans.is_some();
    let scans = scans.and_then(|scans| delivering::scans(&scans, faults));
    let what = "section [quality]";
    let quality = section(root, faults, "quality", what, &quality::KEYS, false);
    let quality = quality.map(|quality| quality::read(&quality, faults));
    let what = "section [proof]";
    let proof = section(root, faults, "proof", what, &proof::KEYS, false);
    let proof = proof.map(|proof| proof::read(&proof, faults));
    Some(JobSettings {
        folder: folder.to_owned(),
        title: title?.into_inner(),
        collection,
        sheets: sheets?,
        styles: styles.unwrap_or_default(),
        rules: rules?,
        roster: if has_roster { Some(roster?) } else { None },
        naming: naming?,
        parts,
        index: index.unwrap_or_default(),
        keying: keying.unwrap_or_default(),
        batch: batch.unwrap_or_default(),
        scans: if has_scans { Some(scans?) } else { None },
        quality: quality.unwrap_or_default(),
        proof: proof.unwrap_or_default(),
    })
}

fn read_roster(section: &Section, faults: &mut FaultList) -> Option<RosterSettings> {
    let file = required(section, faults, "file", "file = \"roster.csv\"");
    let key = required(section, faults, "key", "key = \"number\"");
    has(
        section,
        faults,
        "columns",
        "[roster.columns] and below it number = \"number\"",
    );
    let mut columns = BTreeMap::new();
    if let Some(listed) = section.table(faults, "columns", "section [roster.columns]") {
        for (field, span) in listed.names() {
            if let Some((column, _)) = listed.text(faults, &field) {
                columns.insert(Spanned::new(span, field), column);
            }
        }
    }
    let expected_share = section.value::<f64>(faults, "expected_share");
    if let (Some(share), Some((_, value))) = (expected_share, section.get("expected_share"))
        && !(0.0..=1.0).contains(&share)
    {
        let at = value.span().start;
        let found = faults.standing_at(at);
        let advice = "Write expected_share = 0.95 where 95 sheets of 100 are in the roster";
        faults.add(at, "a share from 0 to 1", found, advice);
    }
    Some(RosterSettings {
        file: file?.into_inner().into(),
        key: key?.into_inner(),
        columns,
        expected_share,
    })
}

/// A section with its keys checked; one that has to be there is faulted where it is not.
fn section<'a, 'b>(
    root: &Section<'a, 'b>,
    faults: &mut FaultList,
    key: &str,
    what: &'static str,
    keys: &[&str],
    is_required: bool,
) -> Option<Section<'a, 'b>> {
    if is_required && !has(root, faults, key, &format!("[{key}] and its keys below it")) {
        return None;
    }
    let section = root.table(faults, key, what)?;
    section.keys(faults, keys);
    Some(section)
}

/// Whether a key is there; faulted where it is not, unless it may stand on a line that is no TOML.
fn has(section: &Section, faults: &mut FaultList, key: &str, example: &str) -> bool {
    let has = section.get(key).is_some();
    if !has && !faults.is_broken() {
        faults.add(
            section.span.start,
            format!("the key `{key}` in the {}", section.what),
            "none",
            format!("Add {example}"),
        );
    }
    has
}

pub(super) fn required(
    section: &Section,
    faults: &mut FaultList,
    key: &str,
    example: &str,
) -> Option<Spanned<String>> {
    if !has(section, faults, key, example) {
        return None;
    }
    let (text, span) = section.text(faults, key)?;
    Some(Spanned::new(span, text))
}

/// A list of texts, which may be empty.
pub(super) fn list(section: &Section, faults: &mut FaultList, key: &str) -> Vec<Spanned<String>> {
    match section.get(key).map(|(_, value)| value.get_ref()) {
        Some(DeValue::Array(items)) if items.is_empty() => Vec::new(),
        _ => {
            let texts = section.texts(faults, key).into_iter();
            texts.map(|(text, span)| Spanned::new(span, text)).collect()
        }
    }
}

/// A fault at a byte offset of the job file's text.
pub fn fault_at(text: &str, at: usize, expected: &str, found: &str, advice: &str) -> Fault {
    Fault::at(JOB_FILE, text, at, expected, found, advice)
}

#[cfg(test)]
mod tests {
    use super::*;

    const JOB: &str = r#"title = "Harbour board"
[sheets]
folder = "sheets"
[rules]
files = ["rules/personnel.toml"]
[naming]
pattern = "{number}"
[index]
both = ["surnme"]
"#;

    /// The fault's place and something its words say.
    fn check(text: &str, line: usize, column: usize, says: &str) {
        let faults = match JobSettings::parse(Path::new("."), text) {
            Ok(settings) => settings.unknown_fields(text, &["surname", "number"]),
            Err(faults) => faults.faults,
        };
        let fault = faults.first().expect("a fault");
        assert_eq!((fault.line, fault.column), (line, column), "{fault}");
        assert!(fault.to_string().contains(says), "{fault}");
    }

    #[test]
    fn faults_say_where_and_what_to_write() {
        check(JOB, 9, 9, "Write one of surname, number");
        check(&JOB.replace("title = ", "titel = "), 1, 1, "Write `title`");
        check(&JOB.replace("[rules]", "[rules"), 4, 7, "`");
        let number = JOB.replace("folder = \"sheets\"", "folder = 3");
        check(&number, 3, 10, "text in quotes");
        let roster =
            format!("{JOB}[roster]\nfile = \"r.csv\"\nkey = \"n\"\nexpected_share = 9.5\n");
        check(&roster, 10, 1, "the key `columns` in the section [roster]");
    }

    #[test]
    fn every_fault_is_told_at_once() {
        let text = "titel = 1\n[sheets]\nfolder = 3\n[rules]\nfiles = \"a\"\n[styles]\ndecimal = \"pont\"\n\
                    dates = { order = \"x\" }\n[naming]\n[parts]\nof = [1]\n[roster]\nexpected_share = 2\n\
                    [roster.columns]\na = 1\n[index]\nbth = []\n";
        let faults = JobSettings::parse(Path::new("."), text).unwrap_err();
        let places: Vec<(usize, usize)> =
            faults.faults.iter().map(|f| (f.line, f.column)).collect();
        let wanted = [
            (1, 1),
            (1, 1),
            (3, 10),
            (5, 9),
            (7, 11),
            (8, 19),
            (9, 1),
            (10, 1),
            (10, 1),
            (11, 7),
            (12, 1),
            (12, 1),
            (13, 18),
            (15, 5),
            (17, 1),
        ];
        assert_eq!(places, wanted, "{faults}");
    }

    #[test]
    fn paths_are_below_the_job() {
        let settings = JobSettings::parse(Path::new("/jobs/a"), JOB).unwrap();
        assert_eq!(settings.sheets_folder(), Path::new("/jobs/a/sheets"));
        assert_eq!(settings.roster, None);
    }
}
