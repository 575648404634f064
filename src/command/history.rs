//! `headword history`: all that happened to one sheet.

use super::{CommandError, Exit, Report};
use crate::delivery::Deliveries;
use crate::job::Job;
use crate::journal::{
    Act, Entry, JournalError, KeyedField, KeyedSource, KeyedValue, ProposalRecord, ReadingRecord,
    Store, Taken,
};
use crate::review::Proof;
use crate::value::{SheetId, shown};
use jiff::{Timestamp, tz::TimeZone};
use serde::Serialize;
use std::collections::HashSet;
use std::fmt::Write;
use std::path::PathBuf;

/// Show what was read, proposed and keyed for one sheet, and by whom
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// The sheet's file name below the sheets folder, or the name of its delivered scan; of the first a part that no
    /// other has will do
    sheet: String,
}

#[derive(Debug, Serialize)]
struct History {
    sheet: SheetId,
    strip: Option<String>,
    proposal: Vec<(String, String)>,
    entries: Vec<Line>,
    /// What the client was asked, and said.
    client: Vec<(String, String)>,
}

#[derive(Debug, Serialize)]
struct Line {
    number: i64,
    undone: bool,
    #[serde(flatten)]
    entry: Entry,
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let job = Job::open(&arguments.job)?;
    let fault = |error: JournalError| CommandError::input(error);
    let mut sheets: Vec<SheetId> = Vec::new();
    for status in job.store.overview().map_err(fault)? {
        sheets.push(status.record.sheet);
    }
    let exact = SheetId::new(&arguments.sheet);
    // A sheet whose file is gone still has its history.
    let sheet = match job.store.sheet(&exact).map_err(fault)? {
        Some(record) => record.sheet,
        None => match delivered_as(&job, &arguments.sheet)? {
            Some(sheet) => sheet,
            None => find(&sheets, &arguments.sheet).map_err(CommandError::Input)?,
        },
    };
    let reading = job.store.reading(&sheet).map_err(fault)?;
    let proposal = job.store.proposal(&sheet).map_err(fault)?;
    let entries = job.store.history(&sheet).map_err(fault)?;
    let client = Proof::of(&job.store.decisions().map_err(fault)?).said_of(&sheet);
    let mut text = told(
        &sheet,
        reading.as_ref(),
        proposal.as_ref(),
        &entries,
        &TimeZone::system(),
    );
    for (asked, answer) in &client {
        let _ = writeln!(
            text,
            "the client, asked \"{}\": {}",
            shown(asked),
            shown(answer)
        );
    }
    let undone = undone(&entries);
    let line = |entry: Entry| Line {
        number: entry.number,
        undone: undone.contains(&entry.number),
        entry,
    };
    let history = History {
        sheet,
        strip: reading.map(|record| record.reading.text()),
        proposal: proposed(proposal.as_ref()),
        entries: entries.into_iter().map(line).collect(),
        client,
    };
    Ok(Report::new(text, &history, Exit::Done))
}

/// The sheet whose scan was delivered under this name, last or in an earlier delivery.
fn delivered_as(job: &Job, name: &str) -> Result<Option<SheetId>, CommandError> {
    let deliveries = Deliveries::look(&job.settings.out_folder()).map_err(CommandError::input)?;
    let mut sheets = deliveries
        .made
        .iter()
        .rev()
        .flat_map(|kept| &kept.ledger.sheets);
    let found = sheets.find(|delivered| delivered.name == name || delivered.file_name() == name);
    Ok(found.map(|delivered| delivered.sheet.clone()))
}

/// Names listed where none or several fit.
const LISTED: usize = 5;

/// The sheet that is meant: by its name without its ending, else by a part that no other sheet's name has.
pub(super) fn find(sheets: &[SheetId], wanted: &str) -> Result<SheetId, String> {
    let stem = |sheet: &&SheetId| {
        let name = sheet.as_str();
        let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
        stem == wanted || stem.rsplit('/').next() == Some(wanted)
    };
    let named: Vec<&SheetId> = sheets.iter().filter(stem).collect();
    let part = |sheet: &&SheetId| !wanted.is_empty() && sheet.as_str().contains(wanted);
    let found = match named.is_empty() {
        true => sheets.iter().filter(part).collect(),
        false => named,
    };
    if let [only] = found[..] {
        return Ok(only.clone());
    }
    let listed = |sheets: &[&SheetId]| {
        let names: Vec<String> = sheets
            .iter()
            .take(LISTED)
            .map(ToString::to_string)
            .collect();
        names.join(", ")
    };
    let wanted_shown = shown(wanted);
    if !found.is_empty() {
        let (count, names) = (found.len(), listed(&found));
        return Err(format!(
            "{wanted_shown}: expected one sheet, found {count} of that name ({names}); write more of it"
        ));
    }
    let mut near: Vec<&SheetId> = sheets.iter().collect();
    near.sort_by_cached_key(|sheet| strsim::osa_distance(sheet.as_str(), wanted));
    let names = listed(&near);
    Err(format!(
        "{wanted_shown}: expected a sheet of the job, found none of that name; the nearest are {names}"
    ))
}

fn undone(entries: &[Entry]) -> HashSet<i64> {
    let numbers = entries.iter().filter_map(|entry| match entry.act {
        Act::Undone { entry } => Some(entry),
        _ => None,
    });
    numbers.collect()
}

fn proposed(proposal: Option<&ProposalRecord>) -> Vec<(String, String)> {
    let fields = proposal.into_iter().flat_map(|p| &p.proposal.fields);
    fields
        .map(|field| (field.field.clone(), field.as_typed.clone()))
        .collect()
}

/// The history in words, times in `zone`.
fn told(
    sheet: &SheetId,
    reading: Option<&ReadingRecord>,
    proposal: Option<&ProposalRecord>,
    entries: &[Entry],
    zone: &TimeZone,
) -> String {
    let mut text = format!("{sheet}\n");
    let _ = match reading {
        None => writeln!(text, "not read yet"),
        Some(record) => {
            let strip = record.reading.text().replace('\n', " / ");
            writeln!(text, "read as: {}", shown(&strip))
        }
    };
    match proposal {
        None => text.push_str("nothing proposed yet\n"),
        Some(record) => {
            let rule = record.proposal.rule.as_deref().unwrap_or("no rule");
            let _ = writeln!(text, "proposed by {}:", shown(rule));
        }
    }
    for (field, value) in proposed(proposal) {
        let value = if value.is_empty() { "nothing" } else { &value };
        let _ = writeln!(text, "  {}: {}", shown(&field), shown(value));
    }
    let undone = undone(entries);
    for entry in entries {
        let when = match Timestamp::from_millisecond(entry.at) {
            Ok(at) => at
                .to_zoned_datetime(zone.clone())
                .strftime("%Y-%m-%d %H:%M:%S")
                .to_string(),
            Err(_) => "at an unknown time".to_owned(),
        };
        let mark = match undone.contains(&entry.number) {
            true => " (undone)",
            false => "",
        };
        let (number, by, pass) = (entry.number, shown(&entry.by), entry.pass);
        let did = act(&entry.act);
        let _ = writeln!(text, "{number}  {when}  {by}, pass {pass}: {did}{mark}");
        let records = match &entry.act {
            Act::Keyed(keying) => &keying.records[..],
            Act::Settled(settlement) => &settlement.records[..],
            _ => &[],
        };
        for (n, record) in records.iter().enumerate() {
            if records.len() > 1 {
                let _ = writeln!(text, "  record {}", n + 1);
            }
            for field in &record.fields {
                let _ = writeln!(text, "  {}", keyed(field));
            }
            if let Some(key) = &record.roster_key {
                let _ = writeln!(text, "  roster row {}", shown(key));
            }
        }
    }
    if entries.is_empty() {
        text.push_str("nobody has worked on it yet\n");
    }
    text
}

fn act(act: &Act) -> String {
    match act {
        Act::Keyed(keying) => {
            let seen = match (keying.seen.proposal, keying.seen.suggestions) {
                (true, _) => "having seen the proposal",
                (false, true) => "having seen suggestions",
                (false, false) => "from the picture alone",
            };
            let (kind, keys) = (keying.kind, keying.keystrokes);
            let seconds = keying.milliseconds as f64 / 1000.0;
            format!("keyed as {kind}, {seen}; {keys} keystrokes in {seconds:.1} s")
        }
        Act::Settled(settlement) => {
            let decided: Vec<String> = settlement
                .decided
                .iter()
                .map(|(what, taken)| format!("{} ({})", shown(what), taken_from(*taken)))
                .collect();
            format!("settled as {}: {}", settlement.kind, decided.join(", "))
        }
        Act::Held { reason } => format!("put off: {}", shown(reason)),
        Act::SetAside { reason } => format!("set aside: {}", shown(reason)),
        Act::Returned => "returned to the waiting sheets".to_owned(),
        Act::Noted { note } => format!("noted: {}", shown(note)),
        Act::Undone { entry } => format!("undid entry {entry}"),
    }
}

fn taken_from(taken: Taken) -> &'static str {
    match taken {
        Taken::First => "as first keyed",
        Taken::Second => "as keyed second",
        Taken::Third => "otherwise",
    }
}

fn keyed(field: &KeyedField) -> String {
    let value = match &field.value {
        KeyedValue::Text(value) => shown(value).into_owned(),
        KeyedValue::NothingOnStrip => "nothing on the strip".to_owned(),
        KeyedValue::CannotBeRead => "cannot be read".to_owned(),
    };
    let source = match field.source {
        KeyedSource::Typed => "typed",
        KeyedSource::Proposal => "proposal",
        KeyedSource::Alternative => "alternative",
        KeyedSource::Roster => "roster",
        KeyedSource::Ditto => "sheet before",
        KeyedSource::Carried => "carried",
    };
    let mut text = format!("{}: {value} ({source})", shown(&field.field));
    if let Some(row) = &field.as_roster {
        let _ = write!(text, ", roster: {}", shown(row));
    }
    if let Some(reason) = &field.overruled {
        let _ = write!(text, ", kept against a check: {}", shown(reason));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::{Desk, FormatVersion, KeyedRecord, Keying};

    #[test]
    fn a_sheet_is_found_by_what_only_it_has() {
        let sheets = ["a/10.png", "a/100.png", "b/7x.png"].map(SheetId::new);
        for (wanted, found) in [
            ("a/10", Ok("a/10.png")),
            ("100", Ok("a/100.png")),
            ("7x", Ok("b/7x.png")),
            ("b/", Ok("b/7x.png")),
            ("a/", Err("found 2 of that name")),
            ("b/8x.png", Err("nearest are b/7x.png")),
            ("", Err("none of that name")),
        ] {
            match (find(&sheets, wanted), found) {
                (Ok(sheet), Ok(found)) => assert_eq!(sheet.as_str(), found),
                (Err(told), Err(says)) => assert!(told.contains(says), "{told}"),
                (other, _) => panic!("{wanted}: {other:?}"),
            }
        }
    }

    #[test]
    fn it_is_told_in_words_and_harmless() {
        let entry = |number, by: &str, act| Entry {
            format: FormatVersion::CURRENT,
            number,
            sheet: SheetId::new("1.png"),
            by: by.to_owned(),
            at: 0,
            pass: 1,
            desk: Desk::Clerk,
            act,
            extra: Default::default(),
        };
        let field = KeyedField {
            field: "surname".to_owned(),
            value: KeyedValue::Text("PI\u{1b}ER".to_owned()),
            as_roster: Some("PIERS".to_owned()),
            source: KeyedSource::Ditto,
            proposed: None,
            overruled: None,
        };
        let keying = Keying {
            records: vec![KeyedRecord {
                fields: vec![field],
                roster_key: None,
            }],
            keystrokes: 3,
            milliseconds: 1_500,
            ..Keying::default()
        };
        let entries = [
            entry(1, "a\u{202e}da", Act::Keyed(keying)),
            entry(2, "ada", Act::Undone { entry: 1 }),
        ];
        let sheet = SheetId::new("1.png");
        let expected = "1.png\nnot read yet\nnothing proposed yet\n\
            1  1970-01-01 00:00:00  a\u{fffd}da, pass 1: keyed as record, from the picture alone; 3 keystrokes in 1.5 s (undone)\n\
            \u{20} surname: PI\u{fffd}ER (sheet before), roster: PIERS\n\
            2  1970-01-01 00:00:00  ada, pass 1: undid entry 1\n";
        assert_eq!(told(&sheet, None, None, &entries, &TimeZone::UTC), expected);
    }
}
