//! Scripted people key a job whose answers are known, so that its report, its disputes and its delivery can be looked at.
//!
//! `cargo bench --profile dev --no-default-features --bench scripted -- --job DIR [--seed S] [--unsettled N]`, DIR being a
//! folder of `headword demo DIR --keep readings --sheets 5000`. Mia keys everything with the proposal before her, Kim
//! everything from the picture alone, Rio settles all but the last N disputes by what is on the strip, Zoe keys the sample
//! that the quality plan draws. Mia and Kim err once in 150 and once in 100 fields, each by one exchanged letter.

#[path = "arguments.rs"]
mod arguments;
#[path = "../scripted.rs"]
mod scripted;

use headword::job::Job;
use headword::journal::{Act, Entry, KeyedValue, SETTLEMENT_PASS, Settlement, Store, Taken};
use headword::review::{Comparer, Lot, Reviewed, about};
use headword::value::{SheetId, SheetState};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use scripted::{Person, Truth, append, read_truth};
use std::path::Path;

/// Fields in which each errs.
const MIA: f64 = 1.0 / 150.0;
const KIM: f64 = 1.0 / 100.0;
const ZOE: f64 = 1.0 / 500.0;
/// A working day's first minute, and what a sheet takes, in milliseconds.
const MORNING: i64 = 1_790_000_000_000;

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
    let inspection = job.settings.keying.inspection();
    let sample = Lot::of_job(&job.settings.quality, &sheets)
        .expect("a lot")
        .sample;
    let mut clock = MORNING;
    let person = |name, pass, errors| Person { name, pass, errors };
    let mut people = vec![(person("mia", 1, MIA), sheets.clone())];
    if job.settings.keying.passes == 2 {
        people.push((person("kim", 2, KIM), sheets.clone()));
    }
    people.push((person("zoe", inspection, ZOE), sample));
    for (person, sheets) in people {
        person.keys(&mut job, &sheets, &truth, &mut random, &mut clock);
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
