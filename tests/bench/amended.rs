//! How well amended headings are told from ordinary ones:
//! `cargo bench --profile dev --no-default-features --bench amended -- --seed 7301 --sheets 300 --fonts reporting`.
//!
//! Draws, at default and at heavy noise, `--sheets` ordinary sheets and as many with each kind of amendment, and prints
//! how many get a finding, by kind. Sheets with a tick or a stamp's ring across their typing count apart: such a mark
//! is made by hand, so a finding on it is neither right nor a false alarm.
//!
//! `--only ordinary` draws one kind alone. `--signs FILE` writes how clear the clearest sign of each sheet is, from which the threshold was chosen on tuning
//! seeds. With `--train` it trains the net of `src/strip/amended.weights` on the tuning seeds instead and writes it.

#[path = "arguments.rs"]
mod arguments;
#[path = "amended/train.rs"]
mod train;

use arguments::{number, value};
use headword::command::demo::draw::{Drawn, draw};
use headword::command::demo::{Amendment, Collection, FontUse, Noise, PlannedSheet, Settings};
use headword::strip::{Found, amended, find, grey};
use headword::value::SheetKind;
use std::collections::BTreeMap;
use std::num::NonZero;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

fn main() {
    if std::env::args().any(|argument| argument == "--train") {
        let to = value("--to").unwrap_or_else(|| "src/strip/amended.weights".to_owned());
        train::train(number("--sheets", 8000), number("--epochs", 12), &to);
        return;
    }
    let fonts = match value("--fonts").as_deref() {
        Some("reporting") => FontUse::Reporting,
        _ => FontUse::Tuning,
    };
    report(
        number("--seed", 900),
        number("--sheets", 100),
        fonts,
        value("--only").as_deref(),
        value("--signs"),
    );
}

/// What a sheet of the report is drawn as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drawing {
    Ordinary,
    ShowsThrough,
    Amended(Amendment),
}

impl Drawing {
    pub fn all() -> impl Iterator<Item = Self> {
        let amended = Amendment::ALL.into_iter().map(Self::Amended);
        [Self::Ordinary, Self::ShowsThrough]
            .into_iter()
            .chain(amended)
    }

    pub fn apply(self, plan: &mut PlannedSheet) {
        plan.look.amendment = match self {
            Self::Amended(kind) => Some(kind),
            _ => None,
        };
        plan.look.shows_through = self == Self::ShowsThrough;
    }

    fn name(self) -> String {
        match self {
            Self::Ordinary => "ordinary".to_owned(),
            Self::ShowsThrough => "shows through".to_owned(),
            Self::Amended(kind) => kind.to_string(),
        }
    }
}

/// Does `work` for 0..count on all cores; the results come in order.
pub fn parallel<T: Send>(count: usize, work: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let threads = std::thread::available_parallelism().map_or(1, NonZero::get);
    let next = AtomicUsize::new(0);
    let results = Mutex::new(Vec::with_capacity(count));
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    if at >= count {
                        break;
                    }
                    let result = work(at);
                    results
                        .lock()
                        .expect("no worker panicked")
                        .push((at, result));
                }
            });
        }
    });
    let mut results = results.into_inner().expect("no worker panicked");
    results.sort_by_key(|(at, _)| *at);
    results.into_iter().map(|(_, result)| result).collect()
}

/// One sheet of the report.
struct Outcome {
    group: String,
    /// The findings' codes; `no strip` where none was found.
    codes: Vec<String>,
    /// Clearness of the clearest sign, in nats.
    clearness: f32,
    milliseconds: f64,
}

fn report(seed: u64, sheets: usize, fonts: FontUse, only: Option<&str>, signs: Option<String>) {
    let wanted = |drawing: &Drawing| only.is_none_or(|only| drawing.name() == only);
    let drawings: Vec<Drawing> = Drawing::all().filter(wanted).collect();
    let collections = [0.0, 1.0].map(|heavy_share| {
        Collection::new(Settings {
            seed,
            sheets,
            fonts,
            heavy_share,
            ..Settings::default()
        })
    });
    let total = collections.len() * drawings.len() * sheets;
    let outcomes = parallel(total, |at| {
        let (noise, rest) = (
            at / (drawings.len() * sheets),
            at % (drawings.len() * sheets),
        );
        let (drawing, index) = (drawings[rest / sheets], rest % sheets);
        let mut plan = collections[noise].sheet(index);
        drawing.apply(&mut plan);
        outcome(&plan, drawing)
    });
    let outcomes: Vec<Outcome> = outcomes.into_iter().flatten().collect();
    let mut groups: BTreeMap<&str, Vec<&Outcome>> = BTreeMap::new();
    for outcome in &outcomes {
        groups.entry(&outcome.group).or_default().push(outcome);
    }
    println!(
        "noise: drawn as                       sheets  noticed  amended  handwritten  no strip"
    );
    for (group, outcomes) in groups {
        let count = |codes: &[&str]| {
            let has = |outcome: &&&Outcome| {
                codes
                    .iter()
                    .any(|&code| outcome.codes.iter().any(|c| c == code))
            };
            100.0 * outcomes.iter().filter(has).count() as f64 / outcomes.len() as f64
        };
        println!(
            "{group:36} {:7} {:6.1} % {:6.1} % {:10.1} % {:7.1} %",
            outcomes.len(),
            count(&["amended", "handwritten"]),
            count(&["amended"]),
            count(&["handwritten"]),
            count(&["no strip"]),
        );
    }
    let mean = outcomes
        .iter()
        .map(|outcome| outcome.milliseconds)
        .sum::<f64>()
        / outcomes.len() as f64;
    println!(
        "{mean:.2} ms of processor time a sheet, mean of {}",
        outcomes.len()
    );
    if let Some(path) = signs {
        let row = |outcome: &Outcome| format!("{}\t{}\n", outcome.group, outcome.clearness);
        let rows: String = outcomes.iter().map(row).collect();
        std::fs::write(path, rows).expect("the file can be written");
    }
}

/// Draws and finds one sheet; `None` where it has no typing.
fn outcome(plan: &PlannedSheet, drawing: Drawing) -> Option<Outcome> {
    if plan.kind == SheetKind::Blank {
        return None;
    }
    let (drawn, found) = drawn_and_found(plan);
    let noise = match plan.noise {
        Noise::Default => "default",
        Noise::Heavy => "heavy",
    };
    let marked = match drawn.truth.amended.as_str() {
        "marked" => ", marked",
        _ => "",
    };
    let codes = found.findings.iter().map(|finding| finding.code.clone());
    let mut outcome = Outcome {
        group: format!("{noise}: {}{marked}", drawing.name()),
        codes: codes.collect(),
        clearness: f32::NEG_INFINITY,
        milliseconds: 0.0,
    };
    match found.strip {
        None => outcome.codes.push("no strip".to_owned()),
        Some(strip) => {
            let grey = grey::grey(&drawn.image);
            let clock = processor_milliseconds();
            let looks = amended::looks_of(&grey, &strip);
            outcome.milliseconds = processor_milliseconds() - clock;
            let signs = amended::signs(&looks, f32::NEG_INFINITY);
            outcome.clearness = signs
                .iter()
                .map(|sign| sign.clearness)
                .fold(f32::NEG_INFINITY, f32::max);
        }
    }
    Some(outcome)
}

pub fn drawn_and_found(plan: &PlannedSheet) -> (Drawn, Found) {
    let drawn = draw(plan);
    let found = find(&drawn.image);
    (drawn, found)
}

/// Processor time of this thread so far, which other programs on the machine do not lengthen: the first number of
/// Linux's `schedstat`, in nanoseconds.
fn processor_milliseconds() -> f64 {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").expect("Linux keeps it");
    let first = text
        .split(' ')
        .next()
        .and_then(|number| number.parse::<f64>().ok());
    first.expect("the file starts with a number") / 1e6
}
