//! Scripted people, who key a job whose answers are known.

use headword::desk::session::seen;
use headword::job::Job;
use headword::journal::{
    Act, Desk, Entry, FormatVersion, KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying,
    ProposedValue, SETTLEMENT_PASS, Seen, Store,
};
use headword::value::{SheetId, SheetKind};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::collections::HashMap;
use std::path::Path;

/// What is on each sheet: its kind, and its values by field.
pub type Truth = HashMap<String, (SheetKind, HashMap<String, String>)>;

/// Somebody who keys what is there, but for one exchanged letter in some fields.
pub struct Person {
    pub name: &'static str,
    pub pass: u8,
    /// Share of fields in which he or she errs.
    pub errors: f64,
}

impl Person {
    /// Keys these sheets, one after the other; the clock, in milliseconds, goes on by what each takes.
    pub fn keys(
        &self,
        job: &mut Job,
        sheets: &[SheetId],
        truth: &Truth,
        random: &mut ChaCha8Rng,
        clock: &mut i64,
    ) {
        let rules = job.proposer.rules().fields().iter();
        let fields: Vec<String> = rules.map(|field| field.name.clone()).collect();
        for sheet in sheets {
            let record = job.store.sheet(sheet).expect("a journal").expect("a sheet");
            let reading = job.store.reading(sheet).expect("a journal");
            let proposal = job.store.proposal(sheet).expect("a journal");
            let desk = seen(&job.settings, &record, self.pass, reading, proposal);
            let (kind, right) = &truth[sheet.as_str()];
            let proposed = desk.proposal.as_ref().map(|frozen| &frozen.proposal);
            let keyed = fields.iter().map(|field| {
                let right = right.get(field).cloned().unwrap_or_default();
                let said = proposed.and_then(|p| p.fields.iter().find(|f| f.field == *field));
                let value = match random.random_bool(self.errors) {
                    true => exchanged(&right, random.random()),
                    false => right,
                };
                KeyedField {
                    field: field.clone(),
                    source: match said {
                        Some(said) if desk.sees_proposal && said.as_typed == value => {
                            KeyedSource::Proposal
                        }
                        _ => KeyedSource::Typed,
                    },
                    value: match value.is_empty() {
                        true => KeyedValue::NothingOnStrip,
                        false => KeyedValue::Text(value),
                    },
                    as_roster: None,
                    proposed: said.map(|said| ProposedValue {
                        value: said.as_typed.clone(),
                        probability: said.probability,
                        face: said.face,
                    }),
                    overruled: None,
                }
            });
            let fields: Vec<KeyedField> = keyed.collect();
            let record_of = KeyedRecord {
                fields,
                roster_key: None,
            };
            let is_record = *kind == SheetKind::Record;
            let keystrokes = if desk.sees_proposal { 2 } else { 44 };
            let milliseconds = 3_000 + 200 * u64::from(keystrokes) + random.random_range(0..2_000);
            *clock += milliseconds as i64;
            let keying = Keying {
                kind: *kind,
                records: if is_record {
                    vec![record_of]
                } else {
                    Vec::new()
                },
                seen: Seen {
                    proposal: desk.sees_proposal && !desk.unfilled,
                    suggestions: desk.sees_proposal && !desk.unfilled,
                    content_hash: record.content_hash.clone(),
                    unfilled: desk.unfilled,
                    ..Seen::default()
                },
                keystrokes,
                milliseconds,
                ..Keying::default()
            };
            let act = Act::Keyed(keying);
            append(&mut job.store, sheet, self.name, self.pass, act, *clock);
        }
    }
}

/// Writes an entry down, whoever was there before.
pub fn append(store: &mut impl Store, sheet: &SheetId, by: &str, pass: u8, act: Act, at: i64) {
    let last = store.state(sheet, pass).expect("a state").last;
    let entry = Entry {
        format: FormatVersion::CURRENT,
        number: 0,
        sheet: sheet.clone(),
        by: by.to_owned(),
        at,
        pass,
        desk: match pass {
            SETTLEMENT_PASS => Desk::Reviewer,
            _ => Desk::Clerk,
        },
        act,
        extra: Default::default(),
    };
    store.append(&entry, last).expect("an entry");
}

/// One character another, or one where there is none.
fn exchanged(text: &str, choice: u32) -> String {
    let mut characters: Vec<char> = text.chars().collect();
    let letter = char::from(b'A' + (choice % 26) as u8);
    match characters.len() {
        0 => characters.push(letter),
        length => {
            let at = (choice / 26) as usize % length;
            characters[at] = match characters[at] {
                same if same == letter => 'X',
                digit if digit.is_ascii_digit() => char::from(b'0' + (choice % 10) as u8),
                _ => letter,
            };
        }
    }
    characters.into_iter().collect()
}

/// A demo's truth.csv; of several records of a sheet the last counts.
pub fn read_truth(path: &Path) -> Truth {
    let mut rows = csv::Reader::from_path(path).expect("the job's truth.csv");
    let header = rows.headers().expect("a header").clone();
    let mut truth = Truth::new();
    for row in rows.records().map(|row| row.expect("a row")) {
        let mut values: HashMap<String, String> = header
            .iter()
            .zip(row.iter())
            .map(|(a, b)| (a.to_owned(), b.to_owned()))
            .collect();
        let sheet = values.remove("sheet").expect("a sheet");
        let kind = values.remove("kind").unwrap_or_default();
        let kind = serde_json::from_value(kind.into()).unwrap_or(SheetKind::Record);
        truth.insert(sheet, (kind, values));
    }
    truth
}
