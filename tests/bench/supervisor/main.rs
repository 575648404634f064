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
use headword::rules::example::{Candidate, Example, RuleFiles, add, candidates, groups, suggest};
use headword::rules::{Bench, BenchSheet, RuleBook, Styles};
use headword::value::SheetId;
use layouts::{Job, Sheet};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The share of sheets at which the supervisor stops.
const ENOUGH: f64 = 0.95;
/// Sheets that a supervisor looks at, at most.
const PATIENCE: usize = 60;
/// Sheets that are keyed before suggestions are asked for.
const KEYED: usize = 20;

fn main() {
    let first = number("--seed", 1);
    let sheets = number("--sheets", 2_000);
    for seed in first..first + number("--seeds", 5) {
        Drawer::new(seed, sheets, 0).by_marking();
        Drawer::new(seed, sheets, KEYED).by_suggestions();
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
    /// `keyed`: of how many sheets the values are keyed, evenly over the drawer.
    fn new(seed: u64, count: usize, keyed: usize) -> Self {
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
            keyed: (index % (count / keyed.max(1)).max(1) == 0 && keyed > 0)
                .then(|| sheet.typed.clone()),
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

    /// Keys some sheets, then takes the first suggestion again and again.
    fn by_suggestions(mut self) {
        let mut work = Work::default();
        let keyed = self
            .sheets
            .iter()
            .step_by(self.sheets.len() / KEYED)
            .take(KEYED);
        for sheet in keyed {
            work.looked_at += 1;
            work.keys += keys::key_sheet(&sheet.typed);
        }
        let styles = Styles::default();
        while self.fitted() < ENOUGH * self.sheets.len() as f64 {
            work.keys += keys::ASK;
            let start = Processor::now();
            let files = [("rules.toml", work.text.as_str())];
            let files = RuleFiles {
                files: &files,
                edited: 0,
                styles: &styles,
            };
            let suggestions =
                suggest(&files, &self.bench).unwrap_or_else(|fault| panic!("{fault}"));
            work.slowest = work.slowest.max(start.elapsed());
            let before = self.fitted();
            let Some(first) = suggestions.into_iter().next() else {
                break;
            };
            show(&first.sheet.to_string(), &first.candidate);
            work.keys += keys::TAKE;
            self.take(&first.candidate, &mut work);
            if self.fitted() <= before {
                break;
            }
        }
        self.report("twenty keyed sheets", &work);
    }

    /// Marks a sheet's pieces and takes the first candidate, if it fits more than the sheet itself.
    fn mark(&self, at: usize, work: &mut Work) -> Option<Candidate> {
        let sheet = &self.sheets[at];
        let mut example = Example::of_text(self.bench.text(at));
        work.keys += keys::SHOW_SHEET;
        let lines: Vec<String> = example.lines().collect();
        let mut cursor = (0, 0);
        // The eye finds misread values too.
        let values = sheet.typed.iter();
        let values: Vec<(String, &str)> = values
            .map(|(field, value)| (field.clone(), value.as_str()))
            .collect();
        let missing = example.mark_values(&values, &Styles::default()).missing;
        for mark in example.marks() {
            work.keys += keys::mark(&lines, &mut cursor, mark.line, &mark.range);
            work.keys += keys::name(&mark.field, &mut work.known);
        }
        if !missing.is_empty() {
            return None;
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
                show(self.bench.text(at), &best);
                work.keys += keys::TAKE;
                Some(best)
            }
            Err(why) => {
                if arguments::flag("--show") {
                    println!(
                        "--- {}\n    {:?}\n    {why}",
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
        // Of each kind: values right, values that stand on the reading as they were typed, all.
        let mut by_kind: BTreeMap<&str, [usize; 3]> = BTreeMap::new();
        let (mut whole, mut all) = (0, 0);
        // By layout and rule: sheets, and those of which the reader is right and a value is wrong.
        let mut by_rule: BTreeMap<(usize, &str), [usize; 2]> = BTreeMap::new();
        for (at, sheet) in self.sheets.iter().enumerate() {
            let Some((rule, taken)) = self.bench.fit(at) else {
                continue;
            };
            let mut is_right = true;
            let mut is_misread = false;
            for (name, value) in &sheet.typed {
                let found = taken.iter().find(|taken| taken.field == *name);
                let right = found.is_some_and(|taken| taken.value == *value);
                let counts = by_kind.entry(self.job.kind(name)).or_default();
                let is_read = self.bench.text(at).contains(value.as_str());
                let more = [right, is_read, true].map(usize::from);
                counts
                    .iter_mut()
                    .zip(more)
                    .for_each(|(count, more)| *count += more);
                is_right &= right;
                is_misread |= !is_read;
            }
            let too_much = taken
                .iter()
                .any(|t| !sheet.typed.iter().any(|(name, _)| *name == t.field));
            whole += usize::from(is_right && !too_much);
            let counts = by_rule.entry((sheet.layout, rule)).or_default();
            counts[0] += 1;
            counts[1] += usize::from(!is_right && !is_misread);
            if arguments::flag("--show") && !is_right && !is_misread && counts[1] < 3 {
                println!("    wrong: {:?} {:?}", self.bench.text(at), taken);
            }
            all += 1;
        }
        if arguments::flag("--show") {
            for ((layout, rule), [all, wrong]) in by_rule {
                println!("    layout {layout} by `{rule}`: {all}, {wrong} wrong though read right");
            }
        }
        let share = |part: usize, all: usize| 100.0 * part as f64 / all.max(1) as f64;
        let kinds = by_kind.iter().map(|(kind, [right, read, all])| {
            format!(
                "{kind} {:.1} ({:.1})",
                share(*right, *all),
                share(*read, *all)
            )
        });
        println!(
            "{how}, seed {}: {} keystrokes, {} sheets looked at ({} given up), {} rules, {:.2} % fitted; fields right, % (as the reader has them): \
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

/// Prints a rule that is taken, where that is asked for.
fn show(strip: &str, taken: &Candidate) {
    if !arguments::flag("--show") {
        return;
    }
    println!("--- {strip}\n{}", taken.fragment);
    println!(
        "    fits {} of {}, {} unfitted, takes over {}, score {:.0}",
        taken.fits, taken.of, taken.unfitted, taken.takes_over, taken.score
    );
    for told in &taken.considered {
        println!("    {told}");
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
