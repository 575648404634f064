//! `headword find`: sheets whose strip or fields say something like a text.

use super::{CommandError, Exit, Report};
use crate::job::Job;
use crate::journal::Store;
use crate::value::{SheetId, shown};
use serde::Serialize;
use std::fmt::Write;
use std::path::PathBuf;

/// Find sheets by what their strips say
///
/// Looks for the text in each strip's reading and proposed fields, without regard to case; every word of it must be
/// there. A word of five or more letters may be off by one letter.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// Words to look for
    #[arg(required = true)]
    text: Vec<String>,
}

#[derive(Debug, Serialize)]
struct Hit {
    sheet: SheetId,
    strip: String,
    fields: Vec<(String, String)>,
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let job = Job::open(&arguments.job)?;
    let wanted: Vec<String> = arguments
        .text
        .iter()
        .flat_map(|text| text.split_whitespace())
        .map(str::to_uppercase)
        .collect();
    let mut hits = Vec::new();
    let mut looked_at = 0;
    for reading in job.store.readings().map_err(CommandError::input)? {
        let reading = reading.map_err(CommandError::input)?;
        let proposal = job
            .store
            .proposal(&reading.sheet)
            .map_err(CommandError::input)?;
        let fields: Vec<(String, String)> = proposal
            .into_iter()
            .flat_map(|record| record.proposal.fields)
            .map(|field| (field.field, field.as_typed))
            .collect();
        let strip = reading.reading.text().replace('\n', " / ");
        let said: Vec<String> = std::iter::once(&strip)
            .chain(fields.iter().map(|(_, value)| value))
            .flat_map(|text| text.split_whitespace())
            .map(str::to_uppercase)
            .collect();
        looked_at += 1;
        if wanted
            .iter()
            .all(|word| said.iter().any(|other| is_like(other, word)))
        {
            hits.push(Hit {
                sheet: reading.sheet,
                strip,
                fields,
            });
        }
    }
    let mut text = String::new();
    for hit in &hits {
        let _ = writeln!(text, "{}  {}", hit.sheet, shown(&hit.strip));
    }
    let _ = writeln!(text, "{} of {looked_at} sheets", hits.len());
    let exit = if hits.is_empty() {
        Exit::Findings
    } else {
        Exit::Done
    };
    Ok(Report::new(text, &hits, exit))
}

/// Letters from which on a word may be off by one.
const TOLERANT_FROM: usize = 5;

fn is_like(said: &str, word: &str) -> bool {
    said.contains(word)
        || (word.chars().count() >= TOLERANT_FROM
            && strsim::osa_distance(said.trim_matches([',', '.']), word) <= 1)
}
