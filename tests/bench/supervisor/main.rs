//! A scripted supervisor who starts from no rules: `cargo bench --profile dev --no-default-features --bench supervisor`.
//!
//! For each seed a job is drawn with layouts that no starter rule covers (see `layouts`), and read by the simulated reader.
//! The supervisor takes the first sheet of the largest group that no rule fits, marks its pieces, takes the first
//! candidate, and goes on until 95 % of the sheets are fitted. Prints the keystrokes by the model in `keys`, sheets looked
//! at, rules made, the share fitted, and how right the fields are. Then the same from the suggestions that twenty keyed
//! sheets give.
//!
//! Arguments: `--seed N` (first one), `--seeds N` (how many), `--sheets N` (2,000), `--show` (prints every rule taken).

#[path = "../arguments.rs"]
mod arguments;
mod keys;
mod layouts;

use arguments::number;
use headword::command::demo::{Collection, Settings, readings};
use headword::rules::example::{Candidate, Example, RuleFiles, add, candidates, groups};
use headword::rules::{Bench, BenchSheet, RuleBook, Styles};
use headword::value::SheetId;
use layouts::{Job, Sheet};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The share of sheets at which the supervisor stops.
const ENOUGH: f64 = 0.95;
/// Sheets that a supervisor looks at, at most.
const PATIENCE: usize = 60;

fn main() {
    let first = number("--seed", 1);
    let sheets = number("--sheets", 2_000);
    for seed in first..first + number("--seeds", 5) {
        let drawer = Drawer::new(seed, sheets);
        drawer.by_marking();
    }
}

/// A job's sheets, read.
struct Drawer {
    job: Job,
    sheets: Vec<Sheet>,
    bench: Bench,
}

/// What a supervisor did.
#[derive(Default)]
struct Work {
    text: String,
    keys: usize,
    looked_at: usize,
    given_up: usize,
    rules: usize,
    /// Names of fields typed before.
    known: Vec<String>,
    /// Processor time of the slowest answer, in seconds.
    slowest: f64,
}

impl Drawer {
    fn new(seed: u64, count: usize) -> Self {
        let job = Job::new(seed);
        let like = Collection::new(Settings {
            seed,
            ..Settings::default()
        })
        .sheet(0);
        let sheets: Vec<Sheet> = (0..count).map(|index| job.sheet(index)).collect();
        let read = sheets.iter().enumerate().map(|(index, sheet)| BenchSheet {
            sheet: SheetId::new(format!("{index:06}.png")),
            reading: readings::reading(&job.planned(sheet, index, like.clone())),
            band: None,
            width: None,
            keyed: None,
        });
        let bench = Bench::new("", read);
        Self { job, sheets, bench }
    }

    fn by_marking(mut self) {
        let mut work = Work::default();
        let mut passed: Vec<usize> = Vec::new();
        while self.fitted() < ENOUGH * self.sheets.len() as f64 && work.looked_at < PATIENCE {
            let unseen = |group: &Vec<usize>| group.iter().find(|at| !passed.contains(at)).copied();
            let Some(at) = groups(&self.bench).iter().find_map(unseen) else {
                break;
            };
            passed.push(at);
            work.looked_at += 1;
            if let Some(candidate) = self.mark(at, &mut work) {
                self.take(&candidate, &mut work);
            } else {
                work.given_up += 1;
            }
        }
        self.report("marking", &work);
    }

    /// Marks a sheet's pieces and takes the first candidate, if it fits more than the sheet itself.
    fn mark(&self, at: usize, work: &mut Work) -> Option<Candidate> {
        let sheet = &self.sheets[at];
        let mut example = Example::of_text(self.bench.text(at));
        work.keys += keys::SHOW_SHEET;
        let lines: Vec<String> = example.lines().collect();
        let mut cursor = (0, 0);
        for (field, value) in &sheet.typed {
            // The eye finds a misread value too.
            let (line, range) = example
                .find(value, 1)
                .or_else(|| example.find_alike(value))?;
            work.keys += keys::mark(&lines, &mut cursor, line, &range);
            work.keys += keys::name(field, &mut work.known);
            if example.mark(line, range, field).is_err() {
                return None;
            }
        }
        work.keys += keys::ASK;
        let styles = Styles::default();
        let start = Processor::now();
        let files = [("rules.toml", work.text.as_str())];
        let files = RuleFiles {
            files: &files,
            edited: 0,
            styles: &styles,
        };
        let found = candidates(&example, &files, &self.bench);
        work.slowest = work.slowest.max(start.elapsed());
        match found {
            Ok(mut found) => {
                let best = found.remove(0);
                if arguments::value("--show").is_some() {
                    println!(
                        "--- {at} {:?}\n    {:?}\n{}",
                        self.bench.text(at),
                        sheet.typed,
                        best.fragment
                    );
                    println!(
                        "    fits {} of {}, {} unfitted, takes over {}, score {:.0}",
                        best.fits, best.of, best.unfitted, best.takes_over, best.score
                    );
                    for told in &best.considered {
                        println!("    {told}");
                    }
                }
                work.keys += keys::TAKE;
                Some(best)
            }
            Err(why) => {
                if arguments::value("--show").is_some() {
                    println!(
                        "--- {at} {:?}\n    {:?}\n    {why}",
                        self.bench.text(at),
                        sheet.typed
                    );
                }
                work.keys += keys::LEAVE;
                None
            }
        }
    }

    /// Adds a rule and applies all anew.
    fn take(&mut self, candidate: &Candidate, work: &mut Work) {
        work.text = add(&work.text, &candidate.fragment);
        work.rules += 1;
        let book =
            RuleBook::parse("rules.toml", &work.text).unwrap_or_else(|faults| panic!("{faults}"));
        self.bench.put(Arc::new(book));
        self.bench.step(2, &|| true);
    }

    fn fitted(&self) -> f64 {
        (0..self.bench.len())
            .filter(|at| self.bench.fit(*at).is_some())
            .count() as f64
    }

    fn report(&self, how: &str, work: &Work) {
        let mut by_kind: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
        let (mut whole, mut all) = (0, 0);
        for (at, sheet) in self.sheets.iter().enumerate() {
            let Some((_, taken)) = self.bench.fit(at) else {
                continue;
            };
            let mut is_right = true;
            for (name, value) in &sheet.typed {
                let found = taken.iter().find(|taken| taken.field == *name);
                let right = found.is_some_and(|taken| taken.value == *value);
                let counts = by_kind.entry(self.job.kind(name)).or_default();
                *counts = (counts.0 + usize::from(right), counts.1 + 1);
                is_right &= right;
            }
            let too_much = taken
                .iter()
                .any(|t| !sheet.typed.iter().any(|(name, _)| *name == t.field));
            whole += usize::from(is_right && !too_much);
            all += 1;
        }
        let share = |part: usize, all: usize| 100.0 * part as f64 / all.max(1) as f64;
        let kinds = by_kind
            .iter()
            .map(|(kind, (right, all))| format!("{kind} {:.2}", share(*right, *all)));
        println!(
            "{how}, seed {}: {} keystrokes, {} sheets looked at ({} given up), {} rules, {:.2} % fitted; fields right, %: \
             {}; whole sheets of the fitted {:.2}; slowest answer {:.2} s of processor time",
            self.job.seed(),
            work.keys,
            work.looked_at,
            work.given_up,
            work.rules,
            share(self.fitted() as usize, self.sheets.len()),
            kinds.collect::<Vec<_>>().join(", "),
            share(whole, all),
            work.slowest,
        );
    }
}

/// Processor time of this thread, from Linux's `/proc/thread-self/schedstat`, in nanoseconds.
struct Processor(u64);

impl Processor {
    fn now() -> Self {
        let text = std::fs::read_to_string("/proc/thread-self/schedstat").expect("Linux keeps it");
        let first = text.split_whitespace().next().and_then(|n| n.parse().ok());
        Self(first.expect("nanoseconds first"))
    }

    /// In seconds.
    fn elapsed(&self) -> f64 {
        (Self::now().0 - self.0) as f64 / 1e9
    }
}
