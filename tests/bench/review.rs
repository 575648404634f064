//! What the proof of accuracy is worth, on jobs whose truth is known:
//! `cargo bench --profile dev --no-default-features --bench review -- --sheets 5000 --repetitions 1000 --lots 10000`.
//!
//! First, jobs that scripted clerks key twice: their true error rates beside the estimated ones, the errors that both
//! leave behind beside the estimate of them, and how often the 95 % intervals hold. A reviewer settles every dispute
//! rightly, so that only errors which nobody could see are left. Second, lots with a known number of bad sheets: how
//! many are accepted, beside the operating characteristic. `--seed` changes the draw. The estimate by errors in
//! different fields of a sheet was thought of on seed 100; the one reported is another.

#[path = "arguments.rs"]
mod arguments;

use arguments::number;
use headword::figures::{
    AcceptableQuality, Inspection, InspectionLevel, Interval, Share, hypergeometric_at_most,
};
use headword::journal::{
    Act, Desk, Entry, FormatVersion, KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying,
    ProposedValue, SETTLEMENT_PASS, Seen, Settlement,
};
use headword::proposal::Face;
use headword::review::{
    Comparer, Decision, Errors, Judged, LeftOver, Lot, Place, Reviewed, Ruling, Take, judge, merge,
};
use headword::value::{Probability, SheetId};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Fields of a sheet and the length of their values, in characters.
const FIELDS: [(&str, usize); 6] = [
    ("surname", 8),
    ("forenames", 12),
    ("number", 8),
    ("from", 4),
    ("to", 4),
    ("part", 6),
];

/// How a job's sheets and clerks are. All errors exchange one character of a value.
struct Script {
    name: &'static str,
    /// Share of what is hard to read: of strips, or of fields whatever strip they are on.
    hard: f64,
    by_field: bool,
    /// Probability that the first and the second clerk key a field wrong, on plain and on hard strips.
    errors: [[f64; 2]; 2],
    /// Probability that a wrong value is the one that the strip suggests: the same for both clerks.
    suggested: [f64; 2],
    /// Probability that a field is proposed as suggested, wrong; the first clerk then keeps it with this probability.
    proposed_wrong: [f64; 2],
    kept: f64,
    /// Probability that a field is called *look*, on plain and on hard strips.
    look: [f64; 2],
}

/// Rates as published for single keying: some 3 to 7 wrong fields in 1,000.
const SCRIPTS: [Script; 4] = [
    Script {
        name: "independent",
        hard: 0.0,
        by_field: false,
        errors: [[0.004, 0.004], [0.007, 0.007]],
        suggested: [0.1, 0.1],
        proposed_wrong: [0.0, 0.0],
        kept: 0.0,
        look: [0.1, 0.1],
    },
    Script {
        name: "hard strips",
        hard: 0.05,
        by_field: false,
        errors: [[0.0015, 0.0515], [0.0025, 0.0925]],
        suggested: [0.1, 0.5],
        proposed_wrong: [0.0, 0.0],
        kept: 0.0,
        look: [0.1, 0.8],
    },
    Script {
        name: "hard fields",
        hard: 0.05,
        by_field: true,
        errors: [[0.0015, 0.0515], [0.0025, 0.0925]],
        suggested: [0.1, 0.5],
        proposed_wrong: [0.0, 0.0],
        kept: 0.0,
        look: [0.1, 0.8],
    },
    Script {
        name: "hard strips, first sees proposal",
        hard: 0.05,
        by_field: false,
        errors: [[0.0010, 0.0200], [0.0025, 0.0925]],
        suggested: [0.1, 0.5],
        proposed_wrong: [0.005, 0.15],
        kept: 0.15,
        look: [0.1, 0.8],
    },
];

impl Script {
    /// Probability that a clerk keys a field wrong on a plain or hard strip.
    fn rate(&self, clerk: usize, hard: usize) -> f64 {
        let own = self.errors[clerk][hard];
        if clerk == 1 {
            return own;
        }
        let misled = self.proposed_wrong[hard] * self.kept;
        misled + (1.0 - misled) * own
    }

    fn mixed(&self, of: impl Fn(usize) -> f64) -> f64 {
        (1.0 - self.hard) * of(0) + self.hard * of(1)
    }

    /// True rates of characters, fields and sheets.
    fn truth(&self, clerk: usize) -> [f64; 3] {
        let length: usize = FIELDS.iter().map(|(_, length)| length).sum();
        let fields = FIELDS.len() as f64;
        let field = self.mixed(|hard| self.rate(clerk, hard));
        let sheet = match self.by_field {
            true => 1.0 - (1.0 - field).powf(fields),
            false => self.mixed(|hard| 1.0 - (1.0 - self.rate(clerk, hard)).powf(fields)),
        };
        [field * fields / length as f64, field, sheet]
    }
}

/// What one job came to.
struct Outcome {
    errors: [Errors; 2],
    left_over: LeftOver,
    /// Fields in which both are wrong alike.
    residual: u64,
    /// Fields wrong in the first and the second keying.
    wrong: [u64; 2],
    disputes: Share,
}

fn main() {
    let sheets: usize = number("--sheets", 5_000);
    let repetitions: u64 = number("--repetitions", 1_000);
    let lots: u64 = number("--lots", 10_000);
    let seed: u64 = number("--seed", 9_100);
    for script in &SCRIPTS {
        one_job(script, sheets, seed);
    }
    for script in &SCRIPTS {
        many_jobs(script, sheets, repetitions, seed);
    }
    println!("\nlots accepted, of {lots} each, beside the operating characteristic\n");
    println!(
        "| lot | level, AQL, inspection | n, Ac | bad in lot | expected | accepted | off by, in standard deviations | interval of the lot holds |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for (size, inspection) in [
        (500, Inspection::Normal),
        (2_000, Inspection::Normal),
        (2_000, Inspection::Tightened),
    ] {
        many_lots(size, inspection, lots, seed);
    }
}

fn one_job(script: &Script, sheets: usize, seed: u64) {
    let outcome = job(script, sheets, seed);
    println!("\n{}: one job of {sheets} sheets\n", script.name);
    println!("| clerk | unit | true rate | estimated | 95 % interval |\n|---|---|---|---|---|");
    for clerk in 0..2 {
        let truth = script.truth(clerk);
        for (unit, truth, rate, interval) in estimates(&outcome.errors[clerk], truth) {
            let Interval { low, high } = interval;
            println!(
                "| {} | {unit} | {truth:.5} | {rate:.5} | {low:.5} to {high:.5} |",
                clerk + 1
            );
        }
    }
    println!(
        "\n{} and {} fields wrong; {} of {} in dispute ({:.2} in 1,000)",
        outcome.wrong[0],
        outcome.wrong[1],
        outcome.disputes.hits,
        outcome.disputes.of,
        outcome.disputes.per_thousand().unwrap_or_default()
    );
}

/// Unit, true rate, estimated rate and interval.
fn estimates(errors: &Errors, truth: [f64; 3]) -> [(&'static str, f64, f64, Interval); 3] {
    let rate = |share: Share| share.rate().unwrap_or_default();
    let [characters, fields, sheets] = truth;
    let confidence = 0.95;
    [
        (
            "characters",
            characters,
            rate(errors.characters.all),
            errors.characters.interval(confidence),
        ),
        (
            "fields",
            fields,
            rate(errors.fields.all),
            errors.fields.interval(confidence),
        ),
        (
            "sheets",
            sheets,
            rate(errors.sheets),
            errors.sheets.interval(confidence),
        ),
    ]
}

fn many_jobs(script: &Script, sheets: usize, repetitions: u64, seed: u64) {
    // By unit: intervals that hold, as they are and without regard to clusters.
    let mut holds = [[Share::default(); 2]; 3];
    let [mut residual, mut pooled, mut chapman, mut strata, mut seen] = [0.0; 5];
    let [mut across, mut left, mut proposals, mut dependent] = [0.0; 4];
    for repetition in 0..repetitions {
        let outcome = job(script, sheets, seed + 1 + repetition);
        for clerk in 0..2 {
            let errors = &outcome.errors[clerk];
            let all = [errors.characters.all, errors.fields.all, errors.sheets];
            let found = estimates(errors, script.truth(clerk));
            for ((holds, (_, truth, _, interval)), all) in holds.iter_mut().zip(found).zip(all) {
                let has = |interval: Interval| (interval.low..=interval.high).contains(&truth);
                holds[0].count(has(interval));
                holds[1].count(has(all.interval(0.95)));
            }
        }
        let estimate = &outcome.left_over;
        let all = estimate.all();
        residual += outcome.residual as f64;
        seen += all.neither as f64;
        pooled += all.only_first as f64 * all.only_second as f64 / all.both as f64;
        chapman += estimate.chapman().0;
        strata += estimate.lincoln_petersen();
        across += estimate.across_fields().0;
        left += estimate.fields().0;
        proposals += estimate.wrong_proposals_left().unwrap_or_default();
        dependent += f64::from(u8::from(estimate.is_dependent()));
    }
    let n = repetitions as f64;
    println!("\n{}: {repetitions} jobs of {sheets} sheets\n", script.name);
    println!(
        "| 95 % intervals that hold | with sheets as clusters | as if independent |\n|---|---|---|"
    );
    for (unit, holds) in ["characters", "fields", "sheets"].into_iter().zip(holds) {
        let percent = holds.map(|share| 100.0 * share.rate().unwrap_or_default());
        println!("| {unit} | {:.1} % | {:.1} % |", percent[0], percent[1]);
    }
    println!("\n| a job, on average | fields |\n|---|---|");
    for (what, sum) in [
        ("neither right, truly", residual + seen),
        ("of these seen, since they differ", seen),
        ("of these left over", residual),
        ("neither right, Lincoln-Petersen over all fields", pooled),
        ("neither right, Chapman over all fields", chapman),
        ("neither right, Lincoln-Petersen by field and face", strata),
        (
            "neither right, by errors in different fields of a sheet",
            across,
        ),
        ("left over at least, as reported", left),
        ("of these wrong proposals, as reported", proposals),
        ("share of jobs in which dependence is noticed", dependent),
    ] {
        println!("| {what} | {:.3} |", sum / n);
    }
}

/// One job: keyed twice, settled, and judged by what was agreed and settled, as a report does.
fn job(script: &Script, sheets: usize, seed: u64) -> Outcome {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let comparer = Comparer::default();
    let mut outcome = Outcome {
        errors: Default::default(),
        left_over: LeftOver::default(),
        residual: 0,
        wrong: [0; 2],
        disputes: Share::default(),
    };
    for n in 0..sheets {
        let sheet = SheetId::new(format!("box {}/{n:05}.png", n / 500));
        let right: Vec<String> = FIELDS
            .iter()
            .map(|(_, length)| text(&mut random, *length))
            .collect();
        let [first, second] = keyings(script, &right, &mut random);
        for ((one, other), right) in first.iter().zip(&second).zip(&right) {
            let wrong = [one, other].map(|field| text_of(field) != right);
            outcome.wrong[0] += u64::from(wrong[0]);
            outcome.wrong[1] += u64::from(wrong[1]);
            outcome.residual += u64::from(wrong == [true, true] && one.value == other.value);
        }
        let mut history = vec![
            entry(1, 1, "mia", keyed(first, script.kept > 0.0), &sheet),
            entry(2, 2, "kim", keyed(second, false), &sheet),
        ];
        let reviewed = Reviewed::of(&history, [1, 2], &comparer);
        let comparison = reviewed.comparison.as_ref().expect("two keyings");
        for compared in &comparison.places {
            outcome
                .disputes
                .count(comparison.disputes().any(|d| d.at == compared.at));
        }
        if !comparison.is_agreed() {
            history.push(settle(&reviewed, &right, &sheet));
        }
        let reviewed = Reviewed::of(&history, [1, 2], &comparer);
        let truth = reviewed.truth().expect("agreed or settled").into_keying();
        let (_, first) = reviewed.first.expect("a first keying");
        let (_, second) = reviewed.second.expect("a second keying");
        for (clerk, keying) in [first, second].into_iter().enumerate() {
            let about = (&sheet, ["mia", "kim"][clerk], None);
            let judged = Judged::of(keying, &truth, &comparer, about);
            outcome.errors[clerk].add(&judged, &[]);
        }
        outcome.left_over.add(first, second, &truth, &comparer);
    }
    outcome
}

fn text(random: &mut ChaCha8Rng, length: usize) -> String {
    (0..length)
        .map(|_| char::from(random.random_range(b'A'..=b'Z')))
        .collect()
}

fn text_of(field: &KeyedField) -> &str {
    match &field.value {
        KeyedValue::Text(text) => text,
        _ => "",
    }
}

/// A value with one character exchanged: at a place and to a letter that `choice` says.
fn exchanged(text: &str, choice: u32) -> String {
    let mut bytes = text.as_bytes().to_vec();
    let at = choice as usize % bytes.len();
    let step = 1 + (choice / 64 % 25) as u8;
    bytes[at] = b'A' + (bytes[at] - b'A' + step) % 26;
    String::from_utf8(bytes).expect("letters")
}

/// What both clerks key of a sheet.
fn keyings(script: &Script, right: &[String], random: &mut ChaCha8Rng) -> [Vec<KeyedField>; 2] {
    let mut hard = usize::from(random.random_bool(script.hard));
    let mut keyings = [Vec::new(), Vec::new()];
    for ((name, _), right) in FIELDS.iter().zip(right) {
        if script.by_field {
            hard = usize::from(random.random_bool(script.hard));
        }
        let suggested = exchanged(right, random.random());
        let face = match random.random_bool(script.look[hard]) {
            true => Face::Look,
            false => Face::Sure,
        };
        let is_misread = random.random_bool(script.proposed_wrong[hard]);
        let proposed = if is_misread { &suggested } else { right };
        for (clerk, keying) in keyings.iter_mut().enumerate() {
            let is_misled = clerk == 0 && is_misread && random.random_bool(script.kept);
            let value = if is_misled {
                suggested.clone()
            } else if !random.random_bool(script.errors[clerk][hard]) {
                right.clone()
            } else if random.random_bool(script.suggested[hard]) {
                suggested.clone()
            } else {
                exchanged(right, random.random())
            };
            keying.push(KeyedField {
                field: (*name).to_owned(),
                value: KeyedValue::Text(value),
                as_roster: None,
                source: KeyedSource::Typed,
                proposed: Some(ProposedValue {
                    value: proposed.clone(),
                    probability: Probability::new(0.99),
                    face,
                }),
                overruled: None,
            });
        }
    }
    keyings
}

fn keyed(fields: Vec<KeyedField>, sees: bool) -> Act {
    Act::Keyed(Keying {
        records: vec![KeyedRecord {
            fields,
            roster_key: None,
        }],
        seen: Seen {
            proposal: sees,
            ..Seen::default()
        },
        ..Keying::default()
    })
}

fn entry(number: i64, pass: u8, by: &str, act: Act, sheet: &SheetId) -> Entry {
    Entry {
        format: FormatVersion::CURRENT,
        number,
        sheet: sheet.clone(),
        by: by.to_owned(),
        at: 0,
        pass,
        desk: Desk::Clerk,
        act,
        extra: Default::default(),
    }
}

/// A reviewer who sees what is on the strip.
fn settle(reviewed: &Reviewed, right: &[String], sheet: &SheetId) -> Entry {
    let comparison = reviewed.comparison.as_ref().expect("two keyings");
    let decisions: Vec<Decision> = comparison
        .disputes()
        .map(|compared| {
            let Place::Field(_, name) = &compared.at else {
                panic!("only fields differ")
            };
            let place = FIELDS.iter().position(|(field, _)| field == name);
            let right = KeyedValue::Text(right[place.expect("a field")].clone());
            let take = if compared.first.as_ref() == Some(&right) {
                Take::First
            } else if compared.second.as_ref() == Some(&right) {
                Take::Second
            } else {
                Take::Value(right)
            };
            let at = compared.at.clone();
            Decision { at, take }
        })
        .collect();
    let (first, second) = (reviewed.first.unwrap(), reviewed.second.unwrap());
    let merged = merge(first.1, second.1, comparison, &decisions).expect("all decided");
    let settlement = Settlement {
        of: [first.0.number, second.0.number],
        kind: merged.kind,
        records: merged.records,
        decided: merged.decided,
        ..Settlement::default()
    };
    entry(3, SETTLEMENT_PASS, "rio", Act::Settled(settlement), sheet)
}

/// Lots of the plan's acceptable quality, and of the quality that it accepts one time in ten.
fn many_lots(size: u64, inspection: Inspection, lots: u64, seed: u64) {
    let sheets: Vec<SheetId> = (0..size)
        .map(|n| SheetId::new(format!("{n:05}.png")))
        .collect();
    let quality = AcceptableQuality::default();
    let level = InspectionLevel::II;
    let plan = Lot::draw(&sheets, level, quality, inspection, seed)
        .expect("a lot")
        .plan;
    let limiting = judge(&plan, size, Share::default()).curve.limiting;
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    for share in [quality.percent() / 100.0, limiting] {
        let bad = (share * size as f64).round() as u64;
        let expected = hypergeometric_at_most(plan.acceptance_number, plan.sample_size, bad, size);
        let (mut accepted, mut holds) = (Share::default(), Share::default());
        for _ in 0..lots {
            let is_bad = draw_bad(size, bad, &mut random);
            let seed = random.random();
            let lot = Lot::draw(&sheets, level, quality, inspection, seed).expect("a lot");
            let mut found = Share::default();
            for sheet in &lot.sample {
                let at: usize = sheet.as_str()[..5].parse().expect("a number");
                found.count(is_bad[at]);
            }
            let verdict = judge(&plan, size, found);
            accepted.count(verdict.ruling == Ruling::Accepted);
            let limits = verdict.bad_in_lot.expect("the whole sample is inspected");
            holds.count((limits.low..=limits.high).contains(&bad));
        }
        let rate = accepted.rate().unwrap_or_default();
        let deviation = (expected * (1.0 - expected) / lots as f64).sqrt();
        println!(
            "| {size} | {level}, {quality}, {inspection} | {}, {} | {bad} | {expected:.4} | {rate:.4} | {:+.2} | {:.1} % |",
            plan.sample_size,
            plan.acceptance_number,
            (rate - expected) / deviation,
            100.0 * holds.rate().unwrap_or_default()
        );
    }
}

/// Which sheets of a lot are bad: so many, anywhere.
fn draw_bad(size: u64, bad: u64, random: &mut ChaCha8Rng) -> Vec<bool> {
    let mut is_bad = vec![false; size as usize];
    let mut left = bad;
    while left > 0 {
        let at = random.random_range(0..size as usize);
        left -= u64::from(!is_bad[at]);
        is_bad[at] = true;
    }
    is_bad
}
