use super::*;
use crate::reading::Line;
use crate::rules::forward::Aligner;
use crate::rules::{Around, any_fits};
use std::sync::atomic::{AtomicBool, Ordering};

const FIELDS: &str = r#"
    [[field]]
    name = "surname"
    kind = "surname"
    [[field]]
    name = "number"
    kind = "code"
    pattern = '\d{6}-[\dX]'
    check = "iso7064-mod-11-2"
    [[field]]
    name = "from"
    kind = "year"
    [[field]]
    name = "to"
    kind = "year"
    [[check]]
    that = "from <= to"
"#;
const NAME_FIRST: &str =
    "\n[[rule]]\nname = \"name first\"\nline = \"{surname}   {number}   {from}-{to}\"\n";
const NUMBER_FIRST: &str = "\n[[rule]]\nname = \"number first\"\nline = \"{number}   {surname}\"\n";

/// Strips, and what was keyed on some.
const STRIPS: [(&str, &[(&str, &str)]); 6] = [
    (
        "HARGREAVES   204517-4   1931-1958",
        &[("surname", "Hargreaves"), ("number", "204517-4")],
    ),
    ("ORME   2O4517-4   1958-1931", &[]),
    (
        "204517-4   BELLAMY",
        &[("surname", "BELLAMY"), ("number", "204517-4")],
    ),
    ("204518-4   CRABTREE", &[]),
    ("NOTHING OF THE KIND, 12 GALLONS", &[]),
    ("   ", &[]),
];

fn book(rules: &[&str]) -> Arc<RuleBook> {
    let text = format!("{FIELDS}{}", rules.concat());
    Arc::new(RuleBook::parse("r.toml", &text).unwrap_or_else(|faults| panic!("{faults}")))
}

fn reading(text: &str) -> Reading {
    Reading {
        lines: vec![Line::certain(text, 0.97)],
    }
}

fn bench() -> Bench {
    let sheets = STRIPS
        .iter()
        .enumerate()
        .map(|(at, (text, keyed))| BenchSheet {
            sheet: SheetId::new(format!("{at}.png")),
            reading: reading(text),
            band: None,
            width: None,
            keyed: (!keyed.is_empty()).then(|| {
                let keyed = keyed.iter();
                keyed
                    .map(|(field, value)| ((*field).to_owned(), (*value).to_owned()))
                    .collect()
            }),
        });
    Bench::new("", sheets)
}

fn worked_out(bench: &mut Bench, book: &Arc<RuleBook>) {
    bench.put(book.clone());
    assert!(bench.step(2, &|| true).is_complete());
}

/// A sheet's rule and its values, where one fits.
type Fit = Option<(String, Vec<(String, String)>)>;

/// Every sheet's fit, as the bench has it.
fn by_bench(bench: &Bench) -> Vec<Fit> {
    let fits = (0..bench.len()).map(|at| bench.fit(at));
    fits.map(|fit| {
        let (rule, fields) = fit?;
        let values = fields.iter().map(|f| (f.field.clone(), f.value.clone()));
        Some((rule.to_owned(), values.collect()))
    })
    .collect()
}

/// The same as the rules themselves have it.
fn by_rules(book: &RuleBook) -> Vec<Fit> {
    let fits = STRIPS
        .iter()
        .map(|(text, _)| book.extract(&reading(text), &Around::default()));
    fits.map(|found| {
        let best = found.first().filter(|_| any_fits(&found))?;
        let fields = best.fields.iter();
        let values = fields.map(|f| (f.field.clone(), f.candidates[0].value.clone()));
        Some((best.rule.clone(), values.collect()))
    })
    .collect()
}

#[test]
fn edits_come_to_what_the_rules_make_of_all_sheets() {
    let mut bench = bench();
    let other = NUMBER_FIRST.replace("{number}   {surname}", "{number}   MR {surname}");
    let looser = FIELDS.replace("-[", "-?[");
    let looser = RuleBook::parse("r.toml", &format!("{looser}{NAME_FIRST}{NUMBER_FIRST}")).unwrap();
    let renamed = NAME_FIRST.replace("name first", "by name");
    for book in [
        book(&[NAME_FIRST]),
        book(&[NAME_FIRST, NUMBER_FIRST]),
        book(&[NAME_FIRST, &other]),
        Arc::new(looser),
        book(&[NUMBER_FIRST, &renamed]),
        book(&[NAME_FIRST, NUMBER_FIRST]),
        book(&[NUMBER_FIRST]),
    ] {
        worked_out(&mut bench, &book);
        assert_eq!(by_bench(&bench), by_rules(&book));
    }
}

#[test]
fn what_was_aligned_once_is_not_aligned_again() {
    let mut bench = bench();
    let both = book(&[NAME_FIRST, NUMBER_FIRST]);
    worked_out(&mut bench, &both);
    let found = |bench: &Bench, book: &RuleBook, at| {
        let found = bench.work_out(at, book, Depth::Full, &mut Aligner::default());
        (found.scores.len(), found.taken.len())
    };
    assert_eq!(found(&bench, &both, 0), (0, 0));
    let edited = NUMBER_FIRST.replace("{surname}", "MR {surname}");
    let edited = book(&[NAME_FIRST, &edited]);
    bench.put(edited.clone());
    assert_eq!(found(&bench, &edited, 0).0, 1, "the edited rule");
    // A check concerns only the rules that have its fields.
    let text = format!("{FIELDS}{NAME_FIRST}{NUMBER_FIRST}").replace("<=", "<");
    let strict = Arc::new(RuleBook::parse("r.toml", &text).unwrap());
    bench.put(strict.clone());
    assert_eq!(found(&bench, &strict, 0), (1, 1));
    assert_eq!(found(&bench, &strict, 2), (0, 0));
    bench.put(both.clone());
    assert_eq!(found(&bench, &both, 0), (0, 0), "taken back");
}

#[test]
fn an_edit_is_counted_and_its_sheets_grouped() {
    let mut bench = bench();
    worked_out(&mut bench, &book(&[NAME_FIRST, NUMBER_FIRST]));
    bench.keep();
    assert_eq!(bench.effect().changed, 0);
    worked_out(&mut bench, &book(&[NAME_FIRST]));
    let effect = bench.effect();
    let pair = |before, now| Pair { before, now };
    assert_eq!(effect.fitted_by_none, pair(2, 4));
    assert_eq!(effect.fields_filled, pair(12, 8));
    assert_eq!(
        effect.rules,
        [
            ("name first".to_owned(), pair(2, 2)),
            ("number first".to_owned(), pair(2, 0))
        ]
    );
    assert_eq!(
        (effect.checks_kept, effect.checks_broken),
        (pair(1, 1), pair(1, 1))
    );
    assert_eq!((effect.changed, effect.better, effect.worse), (2, 0, 2));
    let keyed = effect.keyed.unwrap();
    assert_eq!(
        (keyed.sheets, keyed.values, keyed.right),
        (2, 4, pair(4, 2))
    );
    for (group, sheets) in [
        (Group::FittedByNone, vec![2, 3, 4, 5]),
        (Group::Changed, vec![2, 3]),
        (Group::Worse, vec![2, 3]),
        (Group::FailingACheck, vec![1]),
        (Group::DisagreeingWithKeyed, vec![2]),
        (Group::FittedBySeveral, vec![]),
    ] {
        assert_eq!(bench.group(group), sheets, "{group:?}");
    }
    let difference = bench.difference(2);
    assert_eq!(difference.rule_before.as_deref(), Some("number first"));
    assert_eq!(difference.rule_now, None);
    assert_eq!(difference.fields[1].before, "BELLAMY");
    assert_eq!(difference.worse.len(), 2, "{:?}", difference.worse);
}

#[test]
fn a_step_ends_when_it_is_told_and_goes_on_later() {
    let mut bench = bench();
    let all = book(&[NAME_FIRST, NUMBER_FIRST]);
    bench.put(all.clone());
    let nothing = Progress {
        seen: 0,
        done: 0,
        of: STRIPS.len(),
    };
    assert_eq!(bench.step(2, &|| false), nothing);
    assert_eq!(bench.effect().done, 0);
    let asked = AtomicBool::new(false);
    let once = || !asked.swap(true, Ordering::Relaxed);
    let progress = bench.step(1, &once);
    assert!(progress.seen > 0 && !progress.is_complete());
    bench.step(1, &|| true);
    assert_eq!(by_bench(&bench), by_rules(&all));
}
