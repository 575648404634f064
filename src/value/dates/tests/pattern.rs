//! The pattern takes all that is typed in the styles, and is small.

use super::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use regex_syntax::hir::{Class, Hir, HirKind};
use std::collections::BTreeSet;

/// Number of positions of the automaton of a pattern: characters and classes, repetitions written out.
fn positions(hir: &Hir) -> usize {
    match hir.kind() {
        HirKind::Empty | HirKind::Look(_) => 0,
        HirKind::Literal(literal) => str::from_utf8(&literal.0).unwrap().chars().count(),
        HirKind::Class(_) => 1,
        HirKind::Repetition(repetition) => {
            positions(&repetition.sub) * repetition.max.expect("bounded") as usize
        }
        HirKind::Capture(capture) => positions(&capture.sub),
        HirKind::Concat(parts) | HirKind::Alternation(parts) => parts.iter().map(positions).sum(),
    }
}

#[test]
fn the_pattern_is_small() {
    for (languages, single, range) in [
        (&[Language::English][..], 370, 550),
        (&Language::ALL, 1_160, 1_580),
    ] {
        let style = style(DateOrder::DayMonth, languages);
        for (what, most) in [(Dates::Single, single), (Dates::Range, range)] {
            let hir = regex_syntax::parse(&dates_pattern(&style, what)).unwrap();
            let count = positions(&hir);
            assert!(count <= most, "{what:?} {languages:?}: {count} positions");
            assert!(hir.properties().look_set().is_empty());
            assert!(hir.properties().maximum_len().is_some());
        }
    }
}

fn pick<'a, T: ?Sized>(random: &mut ChaCha8Rng, choices: &[&'a T]) -> &'a T {
    choices[random.random_range(0..choices.len())]
}

/// A word of a language with one of these senses, some accents left out and a full stop put in.
fn word(
    random: &mut ChaCha8Rng,
    language: Language,
    wanted: impl Fn(words::Sense) -> bool,
) -> Option<String> {
    let entries = language.words().iter().filter(|(sense, _)| wanted(*sense));
    let phrases: Vec<&str> = entries
        .flat_map(|(_, phrases)| phrases.iter().copied())
        .collect();
    if phrases.is_empty() {
        return None;
    }
    let phrase = pick(random, &phrases);
    let (accents, stops, small) = (
        random.random_bool(0.5),
        random.random_bool(0.7),
        random.random_bool(0.3),
    );
    let kept = |c: char| if accents { c } else { tokens::plain(c) };
    let typed: String = phrase
        .chars()
        .filter(|&c| c != '.' || stops)
        .map(kept)
        .collect();
    Some(if small { typed.to_lowercase() } else { typed })
}

fn a_year(random: &mut ChaCha8Rng) -> String {
    let year = random.random_range(1850..2000);
    match random.random_range(0..12) {
        0 => format!("{}?", year / 10),
        1 => format!("{}??", year / 100),
        2..5 => format!("{:02}", year % 100),
        5 => format!("'{:02}", year % 100),
        6 => format!("{year}?"),
        _ => year.to_string(),
    }
}

/// One date in one of the styles, without what says that it is approximate.
fn a_date(random: &mut ChaCha8Rng, language: Language) -> String {
    use words::Sense::{Half, Month, Quarter, Season};
    let year = a_year(random);
    let (day, month) = (random.random_range(1..=28), random.random_range(1..=12));
    let name = word(random, language, |sense| matches!(sense, Month(_))).unwrap();
    let name = format!("{name}{}", pick(random, &["", "", "."]));
    let sign = pick(random, &["/", "-", ".", " / "]);
    match random.random_range(0..11) {
        0 => format!("{day} {name} {year}"),
        1 => format!("{day}-{name}-{year}"),
        2 => format!("{name} {day}, {year}"),
        3 => format!("{name} {year}"),
        4 => format!("{day}{sign}{month}{sign}{year}"),
        5 => format!("{month:02}/{year}"),
        6 => format!("1952-{month:02}-{day:02}"),
        7 => format!("1952 {name}"),
        8 => {
            let season = word(random, language, |sense| matches!(sense, Season(_))).unwrap();
            format!("{season} {year}")
        }
        9 => {
            let part = word(random, language, |sense| matches!(sense, Quarter | Half)).unwrap();
            if random.random() {
                format!("1{part} {year}")
            } else {
                format!("{part}2 {year}")
            }
        }
        _ => year,
    }
}

/// Everything that the styles can say is taken whole by the pattern and understood.
#[test]
fn what_is_typed_in_the_styles_fits_the_pattern_and_is_understood() {
    use words::Sense;
    let mut random = ChaCha8Rng::seed_from_u64(1_952);
    let mut wrong = BTreeSet::new();
    for languages in Language::ALL
        .iter()
        .map(|language| vec![*language])
        .chain([Language::ALL.to_vec()])
    {
        let style = style(DateOrder::DayMonth, &languages);
        let (single, range) = (whole(&style, Dates::Single), whole(&style, Dates::Range));
        let mut understood = 0;
        for _ in 0..3_000 {
            let language = languages[random.random_range(0..languages.len())];
            let mut date = a_date(&mut random, language);
            let mut other = a_date(&mut random, language);
            // Two figures alone are no year beside a month or a day.
            let lone = |date: &str| date.len() <= 3 && !date.contains(' ');
            if lone(&date) != lone(&other) {
                (date, other) = ("1952".to_owned(), "1961".to_owned());
            }
            let mut lead =
                |wanted: Sense| word(&mut random, language, |sense| sense == wanted).unwrap();
            let (from, to, up_to, before) = (
                lead(Sense::From),
                lead(Sense::To),
                lead(Sense::UpTo),
                lead(Sense::Before),
            );
            let (onward, unknown) = (lead(Sense::Onward), lead(Sense::Unknown));
            let sign = pick(&mut random, &["-", " - ", "–"]);
            let (typed, one) = match random.random_range(0..10) {
                0..4 => (date, true),
                4 => (format!("{date}{sign}{other}"), false),
                5 => (format!("{date} {to} {other}"), false),
                6 => (format!("{from} {date} {to} {other}"), false),
                7 => (format!("{up_to} {date}"), false),
                8 => (format!("{date} {onward}"), false),
                _ if random.random() => (unknown, true),
                _ => (format!("{before} {date}"), false),
            };
            let read = typed_dates(&typed, &style);
            if !range.is_match(&typed) || one && !single.is_match(&typed) {
                wrong.insert(format!("{typed:?} does not match"));
            }
            match read {
                Ok(_) => understood += 1,
                // Years were drawn without an order.
                Err(DatesError::OutOfOrder(_)) if !one => {}
                Err(error) => {
                    wrong.insert(error.to_string());
                }
            }
        }
        assert!(understood > 2_000, "{languages:?}: {understood}");
    }
    let shown: Vec<&String> = wrong.iter().step_by(1 + wrong.len() / 60).collect();
    assert!(wrong.is_empty(), "{}: {shown:#?}", wrong.len());
}

/// A text that a pattern takes: every branch as likely as the others.
fn walk(hir: &Hir, random: &mut ChaCha8Rng, text: &mut String) {
    match hir.kind() {
        HirKind::Literal(literal) => text.push_str(str::from_utf8(&literal.0).unwrap()),
        HirKind::Class(Class::Unicode(class)) => {
            let ranges = class.ranges();
            let range = ranges[random.random_range(0..ranges.len())];
            text.push(random.random_range(range.start()..=range.end()));
        }
        HirKind::Repetition(repetition) => {
            for _ in 0..random.random_range(repetition.min..=repetition.max.unwrap()) {
                walk(&repetition.sub, random, text);
            }
        }
        HirKind::Concat(parts) => parts.iter().for_each(|part| walk(part, random, text)),
        HirKind::Alternation(parts) => {
            walk(&parts[random.random_range(0..parts.len())], random, text)
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn most_of_what_fits_the_pattern_is_understood() {
    let mut random = ChaCha8Rng::seed_from_u64(1_961);
    for (languages, what, least) in [
        (&[Language::English][..], Dates::Single, 0.5),
        (&[Language::English][..], Dates::Range, 0.5),
        (&Language::ALL, Dates::Single, 0.5),
        (&Language::ALL, Dates::Range, 0.5),
    ] {
        let style = style(DateOrder::DayMonth, languages);
        let hir = regex_syntax::parse(&dates_pattern(&style, what)).unwrap();
        let walks = 2_000;
        let understood = (0..walks).filter(|_| {
            let mut text = String::new();
            walk(&hir, &mut random, &mut text);
            !matches!(
                typed_dates(&text, &style),
                Err(DatesError::NotUnderstood(_))
            )
        });
        let share = understood.count() as f64 / f64::from(walks);
        assert!(share >= least, "{languages:?} {what:?}: {share}");
    }
}
