//! Times edits of a rule file on a bench that holds all readings.

use super::{number, sheets};
use headword::command::demo::{CollectionKind, readings};
use headword::rules::{Bench, BenchSheet, RuleBook};
use headword::value::SheetId;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// Until when sheets are worked out before the first figures are counted, from the keystroke on: a supervisor wants them
/// within 150 ms, and counting 20,000 sheets takes 10 to 15.
const WANTED: Duration = Duration::from_millis(130);
/// Sheets between two questions of the bench whether to go on.
const SHEETS_AT_A_TIME: usize = 8;
/// Sheets of which values were keyed: one in so many.
const KEYED: usize = 10;

/// An edit of the rule file: what it is, what stands there, and what is written instead, each time something else.
struct Edit {
    what: &'static str,
    old: &'static str,
    new: [&'static str; 2],
}

const EDITS: [Edit; 3] = [
    Edit {
        what: "a template changed",
        old: "   {from}-{to}   {part} OF {parts}\"\n",
        new: [
            "   {from}-{to}   SHEET {part} OF {parts}\"\n",
            "   {from} TO {to}   {part} OF {parts}\"\n",
        ],
    },
    Edit {
        what: "a field's pattern changed",
        old: r"pattern = '\d{6}-[\dX]'",
        new: [r"pattern = '\d{6}-?[\dX]'", r"pattern = '\d{5,6}-[\dX]'"],
    },
    Edit {
        what: "a rule added",
        old: "\n[[check]]",
        new: [
            concat!(
                "\n[[rule]]\nname = \"new\"\nlines = [\"{surname}, {forenames}\", ",
                "\"{number}   {from}-{to}   {part} OF {parts}\"]\n\n[[check]]"
            ),
            concat!(
                "\n[[rule]]\nname = \"new\"\nlines = [\"{surname}, {forenames}\", ",
                "\"{number}   {from}-{to}[   {part} OF {parts}]\"]\n\n[[check]]"
            ),
        ],
    },
];

/// The rule that is not there until it is added.
const ADDED: &str = "name above number, years, sheet";

/// Prints a table: for 1,000, 5,000 and 20,000 readings, the processor time of one thread from an edit until all sheets are
/// seen, and until all are done; the clock on two threads at the first figures, with how many sheets are seen and done
/// then, and when all are done; the sheets changed and the keyed values right in the end, and when all were seen.
pub fn run(seed: u64) {
    let most = number("--sheets", 20_000);
    println!(
        "| readings | edit | processor, ms: rule file read | all seen | all done | two threads, ms: first figures | of \
         sheets seen | done | all done | changed | at first sight | right | at first sight |\n\
         |---|---|---|---|---|---|---|---|---|---|---|---|---|"
    );
    for (what, kinds) in [
        ("personnel", &CollectionKind::ALL[..1]),
        ("all collections", &CollectionKind::ALL[..]),
    ] {
        let text: String = kinds.iter().map(|&kind| renamed(kind)).collect();
        let text = without(&text, ADDED);
        for count in [1_000, 5_000, 20_000] {
            if count <= most {
                time(what, kinds, &text, seed, count);
            }
        }
    }
}

fn time(what: &str, kinds: &[CollectionKind], text: &str, seed: u64, count: usize) {
    let each = count / kinds.len() + 1;
    let plans = kinds.iter().flat_map(|&kind| {
        let plans = sheets(kind, seed, each, 0.0).into_iter();
        plans.map(move |plan| (kind, plan))
    });
    let plans: Vec<_> = plans.take(count).collect();
    let start = Processor::now();
    let sheets = plans
        .iter()
        .enumerate()
        .map(|(at, (kind, plan))| BenchSheet {
            sheet: SheetId::new(format!("{at:06}.png")),
            reading: readings::reading(plan),
            band: None,
            width: None,
            keyed: (at % KEYED == 0).then(|| {
                let typed = plan.typed.iter();
                let named = |(name, value): (&str, &str)| (field(*kind, name), value.to_owned());
                typed.map(named).collect()
            }),
        });
    let mut bench = Bench::new("", sheets);
    let prepared = start.elapsed().as_secs_f64();
    let start = Processor::now();
    bench.put(book(text));
    bench.step(1, &|| true);
    bench.keep();
    println!(
        "| {count} | {what}, {} rules: prepared in {prepared:.1} s, worked out in {:.1} s ||||||||||||",
        book(text).rules().count(),
        start.elapsed().as_secs_f64()
    );
    for edit in EDITS {
        let [one, other] = edit.new.map(|new| {
            let edited = text.replacen(edit.old, new, 1);
            assert_ne!(edited, text, "{}", edit.what);
            edited
        });
        // The processor time on one thread: until all are seen, and until all are worked out.
        let start = Processor::now();
        bench.put(book(&one));
        let parsed = start.elapsed();
        let asked = AtomicUsize::new(0);
        let seen = || asked.fetch_add(1, Ordering::Relaxed) * SHEETS_AT_A_TIME < count;
        bench.step(1, &seen);
        let first_effect = bench.effect();
        let first = start.elapsed();
        bench.step(1, &|| true);
        let effect = bench.effect();
        let all = start.elapsed();
        bench.put(book(text));
        bench.step(1, &|| true);
        // The clock on two: what is seen when figures are wanted, when all is, and when all is worked out.
        let start = Instant::now();
        bench.put(book(&other));
        let at_wanted = bench.step(2, &|| start.elapsed() < WANTED);
        bench.effect();
        let wanted_took = start.elapsed();
        bench.step(2, &|| true);
        bench.effect();
        let all_took = start.elapsed();
        println!(
            "| {count} | {} | {:.0} | {:.0} | {:.0} | {:.0} | {} | {} | {:.0} | {} | {} | {} | {} |",
            edit.what,
            milliseconds(parsed),
            milliseconds(first),
            milliseconds(all),
            milliseconds(wanted_took),
            at_wanted.seen,
            at_wanted.done,
            milliseconds(all_took),
            effect.changed,
            first_effect.changed,
            effect.keyed.map_or(0, |keyed| keyed.right.now),
            first_effect.keyed.map_or(0, |keyed| keyed.right.now),
        );
        bench.put(book(text));
        bench.step(1, &|| true);
    }
}

fn book(text: &str) -> Arc<RuleBook> {
    let book = RuleBook::parse("all.toml", text);
    Arc::new(book.unwrap_or_else(|faults| panic!("{faults}")))
}

/// A collection's rule file with its fields under names of their own, so that several make one.
fn renamed(kind: CollectionKind) -> String {
    let particulars = kind.particulars();
    let mut text = particulars.rules.1.to_owned();
    for name in particulars.fields {
        let own = field(kind, name);
        text = text.replace(&format!("{{{name}}}"), &format!("{{{own}}}"));
        text = text.replace(&format!("name = \"{name}\""), &format!("name = \"{own}\""));
        for (before, behind) in [("that = \"", " "), (" ", "\"\n")] {
            let whole = |name: &str| format!("{before}{name}{behind}");
            text = text.replace(&whole(name), &whole(&own));
        }
    }
    text
}

/// What a field of a collection is called where several stand together.
fn field(kind: CollectionKind, name: &str) -> String {
    match kind {
        CollectionKind::Personnel => name.to_owned(),
        _ => format!("{}_{name}", kind.particulars().stem),
    }
}

/// A rule file without the rule of that name.
fn without(text: &str, rule: &str) -> String {
    let name = format!("rule]]\nname = \"{rule}\"");
    let sections = text
        .split("\n[[")
        .filter(|section| !section.starts_with(&name));
    sections.collect::<Vec<_>>().join("\n[[")
}

fn milliseconds(took: Duration) -> f64 {
    1e3 * took.as_secs_f64()
}

/// Processor time of this thread, from Linux's `/proc/thread-self/schedstat`, in nanoseconds.
pub struct Processor(u64);

impl Processor {
    pub fn now() -> Self {
        let text = std::fs::read_to_string("/proc/thread-self/schedstat").expect("Linux keeps it");
        let first = text.split_whitespace().next().and_then(|n| n.parse().ok());
        Self(first.expect("nanoseconds first"))
    }

    pub fn elapsed(&self) -> Duration {
        Duration::from_nanos(Self::now().0 - self.0)
    }
}
