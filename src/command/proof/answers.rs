//! The form that came back from the client, read and recorded.

use super::stand::Stand;
use super::{Arguments, LISTED, decide, folder, proof_of};
use crate::command::report::counted;
use crate::command::{CommandError, Exit, Report};
use crate::job::Job;
use crate::journal::{AnswersRead, Choice, Store};
use crate::review::{Proof, ReadAnswers, read_answers};
use crate::roster::Table;
use crate::value::{sha256_file, sha256_hex, shown};
use serde_json::json;
use std::fmt::Write;
use std::io::ErrorKind;
use std::path::Path;

/// Reads a form and records what it answers.
pub fn read<S: Store>(
    arguments: &Arguments,
    job: &mut Job<S>,
    path: &Path,
) -> Result<Report, CommandError> {
    let folder = folder(arguments);
    let proof = proof_of(job)?;
    if proof.asked.is_empty() {
        return Err(CommandError::input(format!(
            "expected answers to a page that was written for the client, found that none was; run `headword proof \
             {folder} --page FILE.html` first"
        )));
    }
    let (content_hash, read, mut noticed) = form(path, &proof)?;
    let name = shown(&path.display().to_string()).into_owned();
    let mut text = String::new();
    let is_new = !proof.files.contains(&content_hash);
    if !is_new {
        let _ = writeln!(text, "{name} was read before: nothing new is recorded");
    } else if !read.answers.is_empty() {
        let answers = AnswersRead {
            file: name.clone(),
            content_hash,
            answers: read.answers.clone(),
            ..AnswersRead::default()
        };
        decide(arguments, job, Choice::AnswersRead(answers))?;
    }
    let right = read
        .answers
        .iter()
        .filter(|answer| answer.is_right == Some(true))
        .count();
    let wrong = read
        .answers
        .iter()
        .filter(|answer| answer.is_right == Some(false))
        .count();
    let _ = writeln!(
        text,
        "{name}: {} taken: {right} right, {wrong} wrong, {} to questions",
        counted(read.answers.len(), "answer"),
        read.answers.len() - right - wrong
    );
    if !read.refused.is_empty() {
        let _ = writeln!(text, "not taken: {}", read.refused.len());
        list(&mut text, &name, &read.refused);
    }
    noticed.extend(read.noticed.iter().cloned());
    if !noticed.is_empty() {
        let _ = writeln!(text, "to be looked at: {}", noticed.len());
        list(&mut text, &name, &noticed);
    }
    let proof = proof_of(job)?;
    let stand = Stand::of(job, &proof)?;
    let lacks = stand.lacks();
    if !lacks.is_empty() {
        text.push_str(match proof.sheets().is_empty() {
            true => "still open:\n",
            false => "before the client's approval can be recorded:\n",
        });
    }
    for line in &lacks {
        let _ = writeln!(text, "  {line}");
    }
    if lacks.is_empty() && !proof.sheets().is_empty() {
        let _ = writeln!(text, "next: `headword proof {folder} --approve --by NAME`");
    }
    let exit = match read.refused.len() + noticed.len() + lacks.len() {
        0 => Exit::Done,
        _ => Exit::Findings,
    };
    let json = json!({
        "answers": read.answers,
        "refused": read.refused,
        "noticed": noticed,
        "open": stand.open(),
        "wrong": stand.wrong(),
        "is_new": is_new,
    });
    Ok(Report::new(text, json, exit))
}

/// A form's hash, what can be taken of it, and what was noticed of the file itself.
fn form(path: &Path, proof: &Proof) -> Result<(String, ReadAnswers, Vec<String>), CommandError> {
    let name = shown(&path.display().to_string()).into_owned();
    let bytes = std::fs::read(path).map_err(|cause| {
        CommandError::input(format!(
            "{name}: expected the form as CSV, found that it cannot be read ({cause}); check the path"
        ))
    })?;
    if bytes.starts_with(b"PK") {
        return Err(CommandError::input(format!(
            "{name}: expected CSV, found a spreadsheet's own file; open it there and save it as CSV"
        )));
    }
    // The roster's reader calls every file so.
    let own = |words: &str| {
        words
            .replacen("roster", "", 1)
            .trim_start_matches([':', ' '])
            .to_owned()
    };
    let (table, findings) = Table::from_reader(&bytes[..])
        .map_err(|fault| CommandError::input(format!("{name}: {}", own(&fault.to_string()))))?;
    let read = read_answers(&table, &proof.asked)
        .map_err(|fault| CommandError::input(format!("{name}: {fault}")))?;
    // Other separators and encodings are no matter; what may have cost cells is.
    let is_utf_16 = bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]);
    let is_harmless = |code: &str| match code {
        "roster-separator" | "roster-empty" | "roster-header" => true,
        "roster-encoding" => is_utf_16,
        _ => false,
    };
    let findings = findings
        .iter()
        .filter(|finding| !is_harmless(&finding.code));
    let noticed = findings.map(|finding| own(&finding.message)).collect();
    Ok((sha256_hex(&bytes), read, noticed))
}

/// Whether there is a file that may hold what was not read yet: it is neither a form as it was written, nor one of which
/// every row was taken.
pub fn may_hold_unread(path: &Path, proof: &Proof) -> bool {
    let hash = match sha256_file(path) {
        Ok(hash) => hash,
        Err(cause) => return cause.kind() != ErrorKind::NotFound,
    };
    let is_taken = || form(path, proof).is_ok_and(|(_, read, _)| read.refused.is_empty());
    !(proof.forms.contains(&hash) || proof.files.contains(&hash) && is_taken())
}

fn list(text: &mut String, name: &str, lines: &[String]) {
    for line in lines.iter().take(2 * LISTED) {
        let _ = writeln!(text, "  {name} {line}");
    }
    if lines.len() > 2 * LISTED {
        let _ = writeln!(
            text,
            "  and {} more; --json has them all",
            lines.len() - 2 * LISTED
        );
    }
}
