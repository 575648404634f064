//! The starter rules on the demo's collections: `cargo bench --profile dev --no-default-features --bench rules`.
//!
//! Prints, for each collection, how often each field is taken as it was typed, how often all of a sheet's fields are, and
//! how often the kind of sheet is right: with the true text (rules alone) and with simulated readings; and of sheets
//! whose layout no rule covers, how many a rule was fitted to all the same. The roster has no say here.
//!
//! Arguments: `--collection NAME`, `--seed N`, `--sheets N`, `--heavy SHARE` (of sheets at heavy noise), `--failures N`
//! (prints so many of them), `--speed` (30 rules on 20,000 simulated readings, one core, instead), `--edits` (the time
//! from an edit of the rules to its figures, over up to 20,000 simulated readings, instead).

#[path = "arguments.rs"]
mod arguments;
#[path = "edits.rs"]
mod edits;

use arguments::{number, value};
use headword::command::demo::{
    Collection, CollectionKind, PlannedSheet, Settings, UNKNOWN_LAYOUT, readings,
};
use headword::figures::clopper_pearson_upper;
use headword::reading::Reading;
use headword::rules::{Around, Extraction, RuleBook, any_fits};
use headword::value::{SheetKind, sha256_parts};
use std::collections::BTreeMap;

fn main() {
    let seed = number("--seed", 1);
    if std::env::args().any(|argument| argument == "--speed") {
        return speed(seed, number("--sheets", 20_000));
    }
    if std::env::args().any(|argument| argument == "--edits") {
        return edits::run(seed);
    }
    let wanted = value("--collection");
    for kind in CollectionKind::ALL {
        let name = kind.particulars().stem;
        if wanted
            .as_deref()
            .is_none_or(|wanted| name.starts_with(wanted))
        {
            accuracy(
                kind,
                seed,
                number("--sheets", 1_000),
                number("--failures", 0),
            );
            strange(
                kind,
                seed,
                number("--sheets", 1_000),
                number("--failures", 0),
            );
        }
    }
}

fn book(kind: CollectionKind) -> RuleBook {
    let (name, text) = kind.particulars().rules;
    RuleBook::parse(name, text).unwrap_or_else(|faults| panic!("{faults}"))
}

fn sheets(kind: CollectionKind, seed: u64, sheets: usize, strange: f64) -> Vec<PlannedSheet> {
    let settings = Settings {
        kind,
        seed,
        sheets,
        strange,
        heavy_share: number("--heavy", 0.0),
        ..Settings::default()
    };
    Collection::new(settings).sheets().collect()
}

/// Counts of right ones and of all.
#[derive(Default, Clone, Copy)]
struct Share(usize, usize);

impl Share {
    fn add(&mut self, right: bool) {
        self.0 += usize::from(right);
        self.1 += 1;
    }
}

impl std::fmt::Display for Share {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let share = 100.0 * self.0 as f64 / self.1.max(1) as f64;
        write!(f, "{share:6.2} % of {}", self.1)
    }
}

fn accuracy(kind: CollectionKind, seed: u64, count: usize, mut failures: usize) {
    let book = book(kind);
    let plans = sheets(kind, seed, count, 0.0);
    for (what, read) in [
        (
            "true text",
            readings::faultless as fn(&PlannedSheet) -> Reading,
        ),
        ("simulated readings", readings::reading),
    ] {
        let (mut whole, mut kinds, mut fitted) =
            (Share::default(), Share::default(), Share::default());
        let mut by_field: BTreeMap<&str, Share> = BTreeMap::new();
        for plan in plans.iter().filter(|plan| !plan.lines.is_empty()) {
            let reading = read(plan);
            let found = book.extract(&reading, &Around::default());
            let best = found.first().filter(|_| any_fits(&found));
            let is_record = plan.kind == SheetKind::Record;
            fitted.add(best.is_some());
            kinds.add(best.is_some_and(|best| best.sheet == plan.kind));
            let wrong: Vec<&str> = plan
                .typed
                .iter()
                .filter(|(name, typed)| taken(best, name) != *typed)
                .map(|(name, _)| name)
                .collect();
            for (name, _) in plan.typed.iter().filter(|_| is_record) {
                by_field
                    .entry(name)
                    .or_default()
                    .add(!wrong.contains(&name));
            }
            if is_record {
                whole.add(wrong.is_empty());
            }
            if is_record && !wrong.is_empty() && failures > 0 {
                failures -= 1;
                println!(
                    "  {what}: {:?} read as {:?}: {:?} by {:?}",
                    plan.lines,
                    reading.text(),
                    wrong
                        .iter()
                        .map(|name| (*name, taken(best, name)))
                        .collect::<Vec<_>>(),
                    best.map(|best| &best.rule),
                );
            }
        }
        println!(
            "{} seed {seed}, {what}: every field {whole}",
            kind.particulars().stem
        );
        println!("  a rule fits {fitted}; kind of sheet {kinds}");
        for (name, share) in by_field {
            println!("  {name:<12} {share}");
        }
    }
}

/// What was taken for a field; empty where nothing was.
fn taken<'a>(best: Option<&'a Extraction>, name: &str) -> &'a str {
    let field = best.and_then(|best| best.fields.iter().find(|field| field.field == name));
    field.map_or("", |field| field.candidates[0].value.as_str())
}

fn strange(kind: CollectionKind, seed: u64, count: usize, mut failures: usize) {
    let book = book(kind);
    let (mut fitted, mut offered, mut all) = (0u64, 0u64, 0u64);
    for plan in sheets(kind, seed, count, 1.0) {
        if plan.layout != UNKNOWN_LAYOUT {
            continue;
        }
        for reading in [readings::faultless(&plan), readings::reading(&plan)] {
            all += 1;
            let found = book.extract(&reading, &Around::default());
            let Some(best) = found.first() else { continue };
            let is_fit = any_fits(&found);
            offered += 1;
            fitted += u64::from(is_fit);
            if failures > 0 && is_fit {
                failures -= 1;
                println!(
                    "  fitted to {:?}: {} with {:.3}, score {:.1}, {:?}",
                    reading.text(),
                    best.rule,
                    best.probability.get(),
                    best.score,
                    best.tolerated
                );
            }
        }
    }
    let most = clopper_pearson_upper(fitted, all, 0.95);
    println!(
        "{} seed {seed}: of {all} readings of layouts without a rule, one was fitted to {fitted} ({:.2} in 1,000; at most \
         {:.2} with 95 % confidence), and considered for {offered}",
        kind.particulars().stem,
        1e3 * fitted as f64 / all.max(1) as f64,
        1e3 * most,
    );
}

/// All starter rules under three names each, up to 30, on the readings of all collections.
fn speed(seed: u64, count: usize) {
    const RULES: usize = 30;
    let mut text = String::new();
    let mut rules = 0;
    let mut fields: Vec<String> = Vec::new();
    for copy in 0..RULES {
        for kind in CollectionKind::ALL {
            for section in kind.particulars().rules.1.split("\n[[").skip(1) {
                let name = section
                    .lines()
                    .find_map(|line| line.strip_prefix("name = "));
                let name = name.unwrap_or_default().to_owned();
                if section.starts_with("field]]") && !fields.contains(&name) {
                    text += &format!("\n[[{section}");
                    fields.push(name);
                } else if section.starts_with("rule]]") && rules < RULES {
                    let own = format!("\"{}{copy} {kind:?} ", &name[1..1]);
                    text += &format!(
                        "\n[[{}",
                        section.replacen("name = \"", &format!("name = {own}"), 1)
                    );
                    rules += 1;
                }
            }
        }
    }
    let book = RuleBook::parse("all.toml", &text).unwrap_or_else(|faults| panic!("{faults}"));
    let plans = CollectionKind::ALL.map(|kind| sheets(kind, seed, count / 3 + 1, 0.0));
    let readings: Vec<Reading> = plans
        .iter()
        .flatten()
        .take(count)
        .map(readings::reading)
        .collect();
    let start = edits::Processor::now();
    let found: Vec<Vec<Extraction>> = readings
        .iter()
        .map(|reading| book.extract(reading, &Around::default()))
        .collect();
    let took = start.elapsed().as_secs_f64();
    let fitted = found.iter().filter(|found| !found.is_empty()).count();
    println!(
        "{rules} rules on {} readings, one core: {took:.1} s of processor time, {:.0} µs a reading, {:.0} a rule and reading; one fits {fitted}",
        readings.len(),
        1e6 * took / readings.len() as f64,
        1e6 * took / readings.len() as f64 / rules as f64,
    );
    // Two versions that print the same take the same out of the same readings.
    let texts = found.iter().map(|found| format!("{found:?}"));
    println!("SHA-256 of all that was taken: {}", sha256_parts(texts));
}
