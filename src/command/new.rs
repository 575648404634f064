//! `headword new`: a job made from images and a roster, with a guess at what the roster's columns hold.
//!
//! Images stay where they are: there are many, they are large, and nobody changes them. Rules and roster are copied
//! into the job: the index is checked against them, and stays provable when the client sends another list.

mod guess;
mod looks;
mod plan;

use super::job_file::{JobFile, RosterLines};
use super::report::{counted, exit_for};
use super::{CommandError, Report};
use crate::delivery::DeliveryPlan;
use crate::job::{JOB_FILE, Job, list_sheets};
use crate::journal::MemoryStore;
use crate::roster::Table;
use crate::rules::{RuleBook, Styles};
use crate::value::{Finding, shown};
use guess::guess;
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// The rules that a job starts with: their place in the job, and their text.
pub const STARTER_RULES: (&str, &str) = (
    "rules/personnel.toml",
    include_str!("../../rules/personnel.toml"),
);

/// Make a job from a folder of images and a roster
///
/// Writes JOB/job.toml with comments, the rules and a copy of the roster; guesses which column of the roster holds
/// which field, and says why. Look it over, then `headword read JOB`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder; made if it is not there
    job: PathBuf,
    /// The folder of the pre-scan images, one a sheet; they stay where they are
    #[arg(long, value_name = "DIR")]
    sheets: PathBuf,
    /// The client's list, a CSV file with a header line; copied into the job
    #[arg(long, value_name = "CSV")]
    roster: Option<PathBuf>,
    /// Rule files, copied into the job; the starter rules for personnel strips unless given
    #[arg(long, value_name = "FILE", num_args = 1..)]
    rules: Vec<PathBuf>,
}

/// A file that the job gets.
struct Copy {
    /// Below the job's folder.
    to: PathBuf,
    bytes: Vec<u8>,
}

#[derive(Debug, Serialize)]
struct Made {
    job: PathBuf,
    sheets: usize,
    rules: Vec<PathBuf>,
    /// Rows of the roster.
    rows: Option<usize>,
    key: Option<String>,
    columns: Vec<ColumnSaid>,
    naming: String,
    /// Folders below the sheets' folder, and the sheets in each.
    batches: Batches,
    findings: Vec<Finding>,
}

#[derive(Debug, Serialize)]
struct ColumnSaid {
    field: String,
    column: Option<String>,
    why: Option<String>,
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let folder = &arguments.job;
    if folder.join(JOB_FILE).symlink_metadata().is_ok() {
        return Err(CommandError::Input(format!(
            "{}: expected a folder without a job, found a job.toml in it; name another folder, or change that file",
            folder.display()
        )));
    }
    let (sheets, batches, mut findings) = sheets_of(&arguments.sheets)?;
    let (rule_files, rules, mut copies) = rules_of(folder, &arguments.rules)?;
    let mut file = JobFile {
        title: title(folder),
        sheets: place_in(folder, &arguments.sheets)?,
        rules: rule_files,
        batches,
        ..plan::plan(&rules)
    };
    let mut made = Made {
        job: folder.clone(),
        sheets,
        rules: file.rules.clone(),
        rows: None,
        key: None,
        columns: Vec::new(),
        naming: file.naming.clone(),
        batches: file.batches.clone(),
        findings: Vec::new(),
    };
    if let Some(path) = &arguments.roster {
        let (table, _) = Table::load(path)
            .map_err(|fault| CommandError::Input(format!("{}: {fault}", path.display())))?;
        let guess = guess(&table, rules.fields());
        let place = copy_or_name(folder, path, Path::new("roster.csv"), &mut copies)?;
        made.rows = Some(table.len());
        made.key = Some(guess.key.clone());
        made.columns
            .extend(guess.columns.iter().map(|line| ColumnSaid {
                field: line.field.clone(),
                column: line.column.clone(),
                why: line.note.clone(),
            }));
        let linked = |field: &String| {
            let mut lines = guess.columns.iter();
            lines.any(|line| line.field == *field && line.column.is_some())
        };
        file.both.retain(linked);
        file.roster = Some(RosterLines {
            file: place,
            key: guess.key,
            columns: guess.columns,
            key_note: Some(guess.key_note),
        });
    } else {
        file.both.clear();
    }
    let key_note = file
        .roster
        .as_ref()
        .and_then(|roster| roster.key_note.clone());
    write_job(folder, &copies, &file.to_string())?;
    // A job that does not open would be a fault of ours; the roster's findings come with it.
    let job = Job::with_store(folder, MemoryStore::default()).map_err(CommandError::ours)?;
    DeliveryPlan::new(&job.settings, &job.text, rules.fields()).map_err(CommandError::ours)?;
    findings.extend(job.findings);
    made.findings = findings;
    let exit = exit_for(&made.findings);
    Ok(Report::new(made.in_words(key_note.as_deref()), &made, exit))
}

impl Made {
    fn in_words(&self, key_note: Option<&str>) -> String {
        let folder = self.job.display();
        let mut text = format!("{folder}: a job of {}", counted(self.sheets, "sheet"));
        if let Some(rows) = self.rows {
            let _ = write!(text, " and a roster of {rows} rows");
        }
        text += "\n";
        if let (Some(key), Some(note)) = (&self.key, key_note) {
            let _ = writeln!(text, "roster key: the column {}\n  {note}", shown(key));
        }
        for line in &self.columns {
            let column = match &line.column {
                Some(column) => format!("the column {}", shown(column)),
                None => "no column".into(),
            };
            let why = shown(line.why.as_deref().unwrap_or_default()).into_owned();
            let _ = writeln!(text, "{}: {column}\n  {why}", shown(&line.field));
        }
        let _ = writeln!(text, "file names: {}", shown(&self.naming));
        if !self.batches.is_empty() {
            let batch = |(folder, count): &(String, usize)| format!("{} ({count})", shown(folder));
            let batches: Vec<String> = self.batches.iter().map(batch).collect();
            let _ = writeln!(
                text,
                "batches: {}\n  put the counts on their labels into [batch.folders], and check tells which lack sheets",
                batches.join(", ")
            );
        }
        for finding in &self.findings {
            let _ = writeln!(text, "{}: {}", finding.severity, finding.message);
        }
        let _ = writeln!(
            text,
            "Look over {folder}/{JOB_FILE} and {folder}/{}, then\n  headword read {folder}",
            self.rules[0].display()
        );
        text
    }
}

/// Folders and how many sheets lie in each.
type Batches = Vec<(String, usize)>;

/// How many images there are, and in which folders, where there are any.
fn sheets_of(folder: &Path) -> Result<(usize, Batches, Vec<Finding>), CommandError> {
    let (sheets, findings) = list_sheets(folder).map_err(|fault| {
        CommandError::Input(format!(
            "--sheets {}: expected a folder of sheet images, found: {fault}; check the path",
            folder.display()
        ))
    })?;
    if sheets.is_empty() {
        let mut text = format!(
            "--sheets {}: expected image files, one a sheet (PNG, JPEG or TIFF), found none; name the folder that \
             holds them",
            folder.display()
        );
        for finding in &findings {
            let _ = write!(text, "\n{}", finding.message);
        }
        return Err(CommandError::Input(text));
    }
    let mut batches: BTreeMap<&str, usize> = BTreeMap::new();
    for file in &sheets {
        if let Some((folder, _)) = file.sheet.as_str().rsplit_once('/') {
            *batches.entry(folder).or_default() += 1;
        }
    }
    let batches = batches
        .into_iter()
        .map(|(folder, count)| (folder.to_owned(), count));
    Ok((sheets.len(), batches.collect(), findings))
}

/// The rule files as the job names them, and compiled.
fn rules_of(
    folder: &Path,
    given: &[PathBuf],
) -> Result<(Vec<PathBuf>, RuleBook, Vec<Copy>), CommandError> {
    let mut copies = Vec::new();
    let mut named = Vec::new();
    let mut texts = Vec::new();
    if given.is_empty() {
        let (to, text) = STARTER_RULES;
        copies.push(Copy {
            to: to.into(),
            bytes: text.into(),
        });
        named.push(PathBuf::from(to));
        texts.push((to.to_owned(), text.to_owned()));
    }
    for path in given {
        let text = fs::read_to_string(path).map_err(|fault| {
            CommandError::Input(format!(
                "--rules {}: expected a rule file in UTF-8, found: {fault}; check the path",
                path.display()
            ))
        })?;
        let name = path.file_name().unwrap_or(path.as_os_str());
        let place = copy_or_name(folder, path, &Path::new("rules").join(name), &mut copies)?;
        if named.contains(&place) {
            return Err(CommandError::Input(format!(
                "--rules {}: expected rule files of different names, found {} twice; rename one",
                path.display(),
                place.display()
            )));
        }
        named.push(place);
        texts.push((path.display().to_string(), text));
    }
    let files: Vec<(&str, &str)> = texts
        .iter()
        .map(|(name, text)| (name.as_str(), text.as_str()))
        .collect();
    let book = RuleBook::parse_all(&files, &Styles::default()).map_err(CommandError::input)?;
    Ok((named, book, copies))
}

/// A file that lies in the job already is named where it is; any other is copied to `to`.
fn copy_or_name(
    folder: &Path,
    path: &Path,
    to: &Path,
    copies: &mut Vec<Copy>,
) -> Result<PathBuf, CommandError> {
    let place = place_in(folder, path)?;
    if place.is_relative() {
        return Ok(place);
    }
    let bytes = fs::read(path).map_err(|fault| {
        CommandError::Input(format!("{}: cannot be read: {fault}", path.display()))
    })?;
    copies.push(Copy {
        to: to.to_owned(),
        bytes,
    });
    Ok(to.to_owned())
}

/// How the job names something that exists: relative where it lies in the job's folder, absolute elsewhere.
fn place_in(folder: &Path, path: &Path) -> Result<PathBuf, CommandError> {
    let absolute = path.canonicalize().map_err(|fault| {
        CommandError::Input(format!("{}: {fault}; check the path", path.display()))
    })?;
    let place = match folder.canonicalize() {
        Ok(folder) => match absolute.strip_prefix(&folder) {
            Ok(inside) if inside.as_os_str().is_empty() => PathBuf::from("."),
            Ok(inside) => inside.to_owned(),
            Err(_) => absolute,
        },
        // A folder that is still to be made holds nothing.
        Err(_) => absolute,
    };
    match place.to_str() {
        Some(_) => Ok(place),
        None => Err(CommandError::Input(format!(
            "{}: expected a path in UTF-8, as job.toml is, found other bytes in it; rename it",
            path.display()
        ))),
    }
}

fn title(folder: &Path) -> String {
    let name = folder.canonicalize().ok();
    let name = name.as_deref().unwrap_or(folder).file_name();
    name.map_or_else(
        || "A job".into(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// Writes the job file last: before it is there, the folder is no job. Nothing that is there is overwritten.
fn write_job(folder: &Path, copies: &[Copy], job_file: &str) -> Result<(), CommandError> {
    for copy in copies {
        let path = folder.join(&copy.to);
        if fs::read(&path).is_ok_and(|bytes| bytes != copy.bytes) {
            return Err(CommandError::Input(format!(
                "{}: a file of that name is there and says something else; move it away, or name it with --rules or \
                 --roster",
                path.display()
            )));
        }
    }
    let write = |path: &Path, bytes: &[u8]| -> io::Result<()> {
        fs::create_dir_all(path.parent().unwrap_or(folder))?;
        match fs::OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(path)
        {
            Ok(mut file) => file.write_all(bytes),
            // The same text, as was seen above.
            Err(fault) if fault.kind() == io::ErrorKind::AlreadyExists && path.is_file() => Ok(()),
            Err(fault) => Err(fault),
        }
    };
    let files = copies
        .iter()
        .map(|copy| (folder.join(&copy.to), copy.bytes.as_slice()));
    for (path, bytes) in files.chain([(folder.join(JOB_FILE), job_file.as_bytes())]) {
        write(&path, bytes).map_err(|fault| {
            CommandError::Input(format!(
                "{}: cannot be written: {fault}; check the folder and its permissions",
                path.display()
            ))
        })?;
    }
    Ok(())
}
