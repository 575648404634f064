//! Scripted people key a job whose answers are known, so that its report, its disputes and its delivery can be looked at.
//!
//! `cargo bench --profile dev --no-default-features --bench scripted -- --job DIR [--seed S] [--unsettled N]`, DIR being a
//! folder of `headword demo DIR --keep readings --sheets 5000`. Mia keys everything with the proposal before her, Kim
//! everything from the picture alone, Rio settles all but the last N disputes by what is on the strip, Zoe keys the sample
//! that the quality plan draws. Mia and Kim err once in 150 and once in 100 fields, each by one exchanged letter.

#[path = "arguments.rs"]
mod arguments;

use headword::desk::session::seen;
use headword::job::Job;
use headword::journal::{
    Act, Desk, Entry, FormatVersion, KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying,
    SETTLEMENT_PASS, Seen, Settlement, Store, Taken,
};
use headword::review::{Comparer, Lot, Reviewed, about};
use headword::value::{SheetId, SheetKind, SheetState};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::HashMap;
use std::path::Path;

/// Fields in which each errs.
const MIA: f64 = 1.0 / 150.0;
const KIM: f64 = 1.0 / 100.0;
const ZOE: f64 = 1.0 / 500.0;
/// A working day's first minute, and what a sheet takes, in milliseconds.
const MORNING: i64 = 1_790_000_000_000;

type Truth = HashMap<String, (SheetKind, HashMap<String, String>)>;

fn main() {
    let Some(folder) = arguments::value("--job") else {
        println!(
            "nothing keyed: name a job made by `headword demo DIR --keep readings` with --job DIR"
        );
        return;
    };
    let mut random = ChaCha8Rng::seed_from_u64(arguments::number("--seed", 1));
    let unsettled: usize = arguments::number("--unsettled", 12);
    let mut job = Job::open(Path::new(&folder)).expect("a job");
    let truth = read_truth(&job.settings.folder.join("truth.csv"));
    let overview = job.store.overview().expect("a journal");
    let sheets: Vec<SheetId> = overview.iter().map(|s| s.record.sheet.clone()).collect();
    let fields: Vec<String> = job
        .proposer
        .rules()
        .fields()
        .iter()
        .map(|f| f.name.clone())
        .collect();
    let inspection = job.settings.keying.inspection();
    let sample = Lot::of_job(&job.settings.quality, &sheets)
        .expect("a lot")
        .sample;
    let mut clock = MORNING;
    let mut people = vec![("mia", 1, MIA, sheets.clone())];
    if job.settings.keying.passes == 2 {
        people.push(("kim", 2, KIM, sheets.clone()));
    }
    people.push(("zoe", inspection, ZOE, sample));
    for (person, pass, errors, sheets) in people {
        for sheet in &sheets {
            let record = job.store.sheet(sheet).expect("a journal").expect("a sheet");
            let reading = job.store.reading(sheet).expect("a journal");
            let proposal = job.store.proposal(sheet).expect("a journal");
            let desk = seen(&job.settings, &record, pass, reading, proposal);
            let (kind, right) = &truth[sheet.as_str()];
            let proposed = desk.proposal.as_ref().map(|frozen| &frozen.proposal);
            let keyed = fields.iter().map(|field| {
                let right = right.get(field).cloned().unwrap_or_default();
                let said = proposed.and_then(|p| p.fields.iter().find(|f| f.field == *field));
                let value = match random.random_bool(errors) {
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
                    proposed: said.map(|said| headword::journal::ProposedValue {
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
            clock += milliseconds as i64;
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
            append(
                &mut job.store,
                sheet,
                person,
                pass,
                Act::Keyed(keying),
                clock,
            );
        }
    }
    settle(&mut job, &sheets, &truth, unsettled, clock);
}

fn settle(job: &mut Job, sheets: &[SheetId], truth: &Truth, unsettled: usize, mut clock: i64) {
    let comparer = Comparer::new(&job.settings.quality, job.proposer.rules().fields());
    let histories: Vec<(SheetId, Vec<Entry>)> = sheets
        .iter()
        .map(|sheet| (sheet.clone(), job.store.history(sheet).expect("a journal")))
        .collect();
    let disputed = histories.iter().filter_map(|(sheet, history)| {
        let reviewed = Reviewed::of(history, [1, 2], &comparer);
        (reviewed.state == SheetState::InDispute).then_some((sheet, reviewed))
    });
    let disputed: Vec<_> = disputed.collect();
    let count = disputed.len();
    println!(
        "{count} sheets in dispute, the last {} left",
        unsettled.min(count)
    );
    for (sheet, reviewed) in disputed.into_iter().take(count.saturating_sub(unsettled)) {
        let ((one, first), (other, second)) = reviewed.first.zip(reviewed.second).expect("two");
        let comparison = reviewed.comparison.expect("two keyings");
        let right = &truth[sheet.as_str()].1;
        let mut records = first.records.clone();
        for field in records.iter_mut().flat_map(|record| &mut record.fields) {
            let value = right.get(&field.field).cloned().unwrap_or_default();
            field.value = match value.is_empty() {
                true => KeyedValue::NothingOnStrip,
                false => KeyedValue::Text(value),
            };
        }
        let decided = comparison.disputes().map(|dispute| {
            let is_right = |value: &Option<KeyedValue>| {
                let mut fields = records.iter().flat_map(|record| &record.fields);
                fields.any(|field| Some(&field.value) == value.as_ref())
            };
            let taken = match (is_right(&dispute.first), is_right(&dispute.second)) {
                (true, _) => Taken::First,
                (_, true) => Taken::Second,
                _ => Taken::Third,
            };
            (about(&dispute.at, comparison.pairs.len()), taken)
        });
        clock += 6_000;
        let settlement = Settlement {
            of: [one.number, other.number],
            kind: second.kind,
            decided: decided.collect(),
            records,
            keystrokes: 2,
            milliseconds: 6_000,
            ..Settlement::default()
        };
        let act = Act::Settled(settlement);
        append(&mut job.store, sheet, "rio", SETTLEMENT_PASS, act, clock);
    }
}

fn append(store: &mut impl Store, sheet: &SheetId, by: &str, pass: u8, act: Act, at: i64) {
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

fn read_truth(path: &Path) -> Truth {
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
