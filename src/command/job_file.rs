//! The text of a commented `job.toml`: one text for the demo's jobs and for new ones.

use std::fmt;
use std::path::{Path, PathBuf};

/// What a job file says; the comments around it are always the same.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct JobFile {
    pub title: String,
    pub sheets: PathBuf,
    pub rules: Vec<PathBuf>,
    pub roster: Option<RosterLines>,
    pub naming: String,
    pub parts: Option<PartLines>,
    /// Fields delivered both as typed and as the roster has them.
    pub both: Vec<String>,
    /// Folders below the sheets' folder, and how many sheets lie in each now: batches to be.
    pub batches: Vec<(String, usize)>,
}

/// The roster's section.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RosterLines {
    pub file: PathBuf,
    pub key: String,
    pub columns: Vec<ColumnLine>,
    /// Why the key is what it is, where that was guessed.
    pub key_note: Option<String>,
}

/// One field's line below `[roster.columns]`.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnLine {
    pub field: String,
    /// The roster's column; none where it was left open.
    pub column: Option<String>,
    /// Why, above the line.
    pub note: Option<String>,
}

/// Lines without notes, of fields and the columns that hold them.
pub fn columns(lines: &[(&str, &str)]) -> Vec<ColumnLine> {
    let line = |&(field, column): &(&str, &str)| ColumnLine {
        field: field.into(),
        column: Some(column.into()),
        note: None,
    };
    lines.iter().map(line).collect()
}

/// The section of the fields that number a record's sheets.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PartLines {
    pub of: Vec<String>,
    pub part: String,
    pub parts: String,
}

const ROSTER: &str = "\
# The client's list. `key` is the column that names a row; [roster.columns] says which field of the rules stands in
# which column. Fields that are not here are not compared with the roster.
";

const PARTS: &str = "# The fields that number the sheets of one record, as in \"2 OF 3\".\n";

impl fmt::Display for JobFile {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "\
# A job of headword: one client's work in one folder. Paths are relative to this file.
title = {}
# The name of the collection, where rules ask for it.
# collection = \"personnel\"

# The pre-scan images, one a sheet. Their names give the drawer order.
[sheets]
folder = {}

# How strips are taken apart; see the comments in the files.
[rules]
files = [{}]

# How dates, amounts and ranges are typed, where the rules do not say it.
# [styles]
# dates = {{ order = \"day-month\", window = 1900, languages = [\"english\"] }}
# decimal = \"point\"
# filing = \"unit-by-unit\"

{ROSTER}",
            text(&self.title),
            path(&self.sheets),
            list(self.rules.iter().map(|file| path(file)))
        )?;
        match &self.roster {
            Some(roster) => write!(f, "{roster}")?,
            None => f.write_str(
                "# [roster]\n# file = \"roster.csv\"\n# key = \"number\"\n#\n# [roster.columns]\n# number = \"number\"\n",
            )?,
        }
        write!(
            f,
            "
# One file name a sheet. {{part:0}} adds leading zeros, as many as the batch's largest number
# needs; {{sheet}} is the name of the sheet's image. Sheets that want the same name are listed by `headword check`.
# personal = \"refused\" keeps names of people, dates and free text out.
[naming]
pattern = {}
# personal = \"refused\"

{PARTS}",
            text(&self.naming)
        )?;
        match &self.parts {
            Some(parts) => write!(
                f,
                "[parts]\nof = [{}]\npart = {}\nparts = {}\n",
                list(parts.of.iter().map(|field| text(field))),
                text(&parts.part),
                text(&parts.parts)
            )?,
            None => f.write_str(
                "# [parts]\n# of = [\"number\"]\n# part = \"part\"\n# parts = \"parts\"\n",
            )?,
        }
        write!(
            f,
            "
# What the index says of a field: as typed on the strip, unless it is named here.
[index]
both = [{}]
# Dates that get a column in EDTF (ISO 8601-2) as well; what was read on the strips, for searching, as strips.csv.
# edtf = [\"from\"]
# full_text = true

# How sheets are keyed: by one or two people, and what each starts from: the proposal filled in, or the picture alone.
# `unfilled` is the share of sheets that come with nothing filled in all the same, chosen by `seed`; `overrule` lets a
# value be kept against a check, with a reason.
# [keying]
# passes = 1
# sees = \"proposal\"
# second_sees = \"picture\"
# unfilled = 0.02
# seed = 1
# overrule = true

# Sheets that there should be, by the client's listing or the labels of the boxes: in all, and in each batch, which is a
# folder below the sheets' folder. `headword check` lists every batch that lacks sheets or has too many.{}
# [batch]
# sheets = {}
#
# [batch.folders]
{}

# What happens to keying and delivering before the client has approved a proof of some sheets (`headword proof`):
# \"refused\", \"warned\" about, or \"free\".
# [proof]
# bulk = \"free\"

# What is delivered for each sheet: its scan, a file or a folder of images. {{sheet}} stands for the name of the sheet's
# image without its ending, {{digits}} for the last number in it; or list = \"pairs.csv\" names the pairs.
# `in_step_by_time` wants the files' times to run in the order of the sheets' images; `frames` are the pages that a sheet
# has room for: 60, 98, 270.
# [scans]
# folder = \"scans\"
# name = \"{{sheet}}.pdf\"
# in_step_by_time = true
# frames = 60
",
            list(self.both.iter().map(|field| text(field))),
            match self.batches.is_empty() {
                true => "",
                false => " The counts are those\n# of the images that lay there when this file was made: put in those of the labels.",
            },
            match self.batches.iter().map(|(_, sheets)| sheets).sum() {
                0 => 240,
                all => all,
            },
            batches(&self.batches)
        )
    }
}

/// Commented lines of `[batch.folders]`; an example where no folder is known.
fn batches(batches: &[(String, usize)]) -> String {
    let example = [("box 1".to_owned(), 240)];
    let listed = match batches.is_empty() {
        true => &example[..],
        false => batches,
    };
    let line = |(folder, sheets): &(String, usize)| format!("# {} = {sheets}\n", key(folder));
    listed.iter().map(line).collect()
}

impl fmt::Display for RosterLines {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "[roster]\nfile = {}", path(&self.file))?;
        note(f, self.key_note.as_deref())?;
        writeln!(f, "key = {}\n\n[roster.columns]", text(&self.key))?;
        for line in &self.columns {
            note(f, line.note.as_deref())?;
            match &line.column {
                Some(column) => writeln!(f, "{} = {}", key(&line.field), text(column))?,
                None => writeln!(f, "# {} = \"\"", key(&line.field))?,
            }
        }
        Ok(())
    }
}

/// Control characters would end the comment.
fn note(f: &mut fmt::Formatter<'_>, note: Option<&str>) -> fmt::Result {
    match note {
        Some(note) => writeln!(f, "# {}", crate::value::shown(note)),
        None => Ok(()),
    }
}

/// A TOML basic string on one line, whatever it holds.
fn text(value: &str) -> String {
    let mut quoted = String::from("\"");
    for c in value.chars() {
        match c {
            '"' | '\\' => quoted.extend(['\\', c]),
            c if c.is_control() => quoted += &format!("\\u{:04X}", u32::from(c)),
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}

fn path(path: &Path) -> String {
    text(&path.display().to_string())
}

fn list(items: impl Iterator<Item = String>) -> String {
    items.collect::<Vec<_>>().join(", ")
}

/// A key without quotes where TOML allows it.
fn key(field: &str) -> String {
    let is_bare = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    if !field.is_empty() && field.chars().all(is_bare) {
        field.to_owned()
    } else {
        text(field)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::JobSettings;

    #[test]
    fn whatever_it_holds_it_is_read_back() {
        let hostile = "a \"b\" \\ c\n[x]\u{1b}[31m # d 'e'";
        let file = JobFile {
            title: hostile.into(),
            sheets: hostile.into(),
            rules: vec!["rules/a.toml".into(), hostile.into()],
            roster: Some(RosterLines {
                file: hostile.into(),
                key: hostile.into(),
                columns: vec![
                    ColumnLine {
                        field: "Größe".into(),
                        column: Some(hostile.into()),
                        note: Some(hostile.into()),
                    },
                    ColumnLine {
                        field: "open".into(),
                        column: None,
                        note: None,
                    },
                ],
                key_note: Some(hostile.into()),
            }),
            naming: "{number}".into(),
            parts: None,
            both: vec!["Größe".into()],
            batches: vec![(hostile.into(), 3)],
        };
        let settings = JobSettings::parse(Path::new("."), &file.to_string()).unwrap();
        let roster = settings.roster.unwrap();
        let columns: Vec<(&str, &str)> = roster
            .columns
            .iter()
            .map(|(field, column)| (field.get_ref().as_str(), column.as_str()))
            .collect();
        assert_eq!(settings.title, hostile);
        assert_eq!(settings.sheets.folder, Path::new(hostile));
        assert_eq!(roster.key, hostile);
        assert_eq!(columns, [("Größe", hostile)]);
    }

    #[test]
    fn sections_left_out_stay_as_comments() {
        let file = JobFile {
            title: "T".into(),
            naming: "{number}".into(),
            ..Default::default()
        };
        let settings = JobSettings::parse(Path::new("."), &file.to_string()).unwrap();
        assert_eq!((settings.roster, settings.parts), (None, None));
        // The batches' lines are TOML once their signs are taken away.
        let file = JobFile {
            batches: vec![("box \"1\"".into(), 3), ("b".into(), 4)],
            ..file
        };
        let text = file.to_string();
        let (before, after) = text.split_once("# [batch]\n").unwrap();
        let (batch, after) = after.split_once("\n# What").unwrap();
        let text = format!(
            "{before}[batch]\n{}\n# What{after}",
            batch.replace("# ", "")
        );
        let settings =
            JobSettings::parse(Path::new("."), &text).unwrap_or_else(|f| panic!("{f} in {text}"));
        assert_eq!(settings.batch.folders["box \"1\""], 3);
        assert_eq!(
            (settings.batch.sheets, settings.batch.folders["b"]),
            (Some(7), 4)
        );
    }
}
