//! `job.toml`: where a job's sheets, rules and roster are, and what it delivers.

use crate::rules::{FAULTS_SHOWN, Fault, Faults, Styles};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use toml::Spanned;
use toml::de::DeTable;

/// The name of the file that makes a folder a job.
pub const JOB_FILE: &str = "job.toml";

/// Largest job file in bytes; one has a hundred lines.
const MAX_FILE: usize = 1 << 18;
/// Longest part of a line or message of TOML that a fault repeats, in characters.
const MOST_SHOWN: usize = 120;

/// A job file as it was written. Paths in it are relative to the job's folder.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JobSettings {
    /// The job's folder.
    #[serde(skip)]
    pub folder: PathBuf,
    pub title: String,
    /// The name of the collection that the sheets are from; rules may ask for it.
    #[serde(default)]
    pub collection: Option<String>,
    pub sheets: Sheets,
    /// How values are typed, where the rules do not say otherwise.
    #[serde(default)]
    pub styles: Styles,
    pub rules: Rules,
    pub roster: Option<RosterSettings>,
    pub naming: Naming,
    #[serde(default)]
    pub parts: Option<Parts>,
    #[serde(default)]
    pub index: Index,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sheets {
    pub folder: PathBuf,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rules {
    pub files: Vec<PathBuf>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RosterSettings {
    pub file: PathBuf,
    /// The column that names a row.
    pub key: String,
    /// Field of the rules to column of the roster.
    pub columns: BTreeMap<Spanned<String>, String>,
    /// Share of sheets whose person or thing the roster holds.
    #[serde(default)]
    pub expected_share: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Naming {
    pub pattern: Spanned<String>,
}

/// The fields that number the sheets of one record, as in "2 OF 3".
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Parts {
    /// What the sheets of one record have in common.
    pub of: Vec<Spanned<String>>,
    pub part: Spanned<String>,
    pub parts: Spanned<String>,
}

/// What the index holds; every field as typed, in the rules' order, unless said otherwise.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Index {
    #[serde(default)]
    pub columns: Vec<Spanned<String>>,
    /// Fields delivered as the strip has them, whatever the rule files say.
    #[serde(default)]
    pub as_typed: Vec<Spanned<String>>,
    /// Fields delivered as the roster has them.
    #[serde(default)]
    pub as_roster: Vec<Spanned<String>>,
    /// Fields delivered both as typed and as the roster has them.
    #[serde(default)]
    pub both: Vec<Spanned<String>>,
}

impl JobSettings {
    /// Reads a job file's text; `folder` is where it lies.
    ///
    /// # Errors
    /// Every line that is not TOML; or the first thing that is TOML and not a job file.
    pub fn parse(folder: &Path, text: &str) -> Result<Self, Faults> {
        if text.len() > MAX_FILE {
            let expected = format!("a job file of at most {MAX_FILE} bytes");
            let found = format!("{} bytes", text.len());
            let advice = "Check that it is the right file";
            let faults = vec![fault_at(text, 0, &expected, &found, advice)];
            return Err(Faults { faults, more: 0 });
        }
        let (_, errors) = DeTable::parse_recoverable(text);
        let shown = errors.iter().take(FAULTS_SHOWN);
        let faults: Vec<Fault> = shown.map(|error| toml_fault(text, error)).collect();
        if !faults.is_empty() {
            let more = errors.len() - faults.len();
            return Err(Faults { faults, more });
        }
        match toml::from_str::<Self>(text) {
            Ok(settings) => Ok(Self {
                folder: folder.to_owned(),
                ..settings
            }),
            Err(error) => Err(Faults {
                faults: vec![toml_fault(text, &error)],
                more: 0,
            }),
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
        } = &self.index;
        named.extend(columns.iter().chain(as_typed).chain(as_roster).chain(both));
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

fn toml_fault(text: &str, error: &toml::de::Error) -> Fault {
    let at = error.span().map_or(0, |span| span.start);
    let line = text
        .get(at..)
        .and_then(|rest| rest.lines().next())
        .unwrap_or_default();
    let short = |text: &str| -> String { text.chars().take(MOST_SHOWN).collect() };
    let line = short(line);
    let found = if line.is_empty() {
        "the end of the line".into()
    } else {
        format!("`{line}`")
    };
    fault_at(
        text,
        at,
        &format!(
            "a line of a job file (TOML says: {})",
            short(error.message().trim())
        ),
        &found,
        "Correct this line; `headword demo` makes a job file to compare with",
    )
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
        check(&JOB.replace("title = ", "titel = "), 1, 1, "titel");
        check(&JOB.replace("[rules]", "[rules"), 4, 7, "`");
        check(
            &JOB.replace("folder = \"sheets\"", "folder = 3"),
            3,
            10,
            "string",
        );
    }

    #[test]
    fn paths_are_below_the_job() {
        let settings = JobSettings::parse(Path::new("/jobs/a"), JOB).unwrap();
        assert_eq!(settings.sheets_folder(), Path::new("/jobs/a/sheets"));
        assert_eq!(settings.roster, None);
    }
}
