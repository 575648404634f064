//! The room as a whole: marks in, rules out that take what was marked.

use super::{Example, ExampleError, RuleFiles, add, candidates, suggest};
use crate::reading::{Line, Reading};
use crate::rules::{Around, Bench, BenchSheet, RuleBook, Styles};
use crate::value::{CheckScheme, SheetId};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const STARTER: &str = include_str!("../../../rules/personnel.toml");

fn reading(text: &str) -> Reading {
    Reading {
        lines: text.lines().map(|line| Line::certain(line, 0.97)).collect(),
    }
}

fn bench(texts: &[&str]) -> Bench {
    let sheets = texts.iter().enumerate().map(|(at, text)| BenchSheet {
        sheet: SheetId::new(format!("{at}.png")),
        reading: reading(text),
        band: None,
        width: None,
        keyed: None,
    });
    Bench::new("", sheets)
}

/// An example with pieces marked by their text.
fn marked(text: &str, marks: &[(&str, &str)]) -> Example {
    let mut example = Example::new(&reading(text));
    for (field, piece) in marks {
        let (line, range) = example
            .find(piece, 1)
            .unwrap_or_else(|| panic!("{piece} in {text}"));
        example.mark(line, range, field).unwrap();
    }
    example
}

fn files<'a>(files: &'a [(&'a str, &'a str)], styles: &'a Styles) -> RuleFiles<'a> {
    RuleFiles {
        files,
        edited: 0,
        styles,
    }
}

#[test]
fn the_first_candidate_is_the_strip_as_it_was_marked() {
    let styles = Styles::default();
    for (book, text, marks, expected) in [
        (
            "",
            "HARGREAVES, MARY ANN   NO. 4418",
            &[
                ("surname", "HARGREAVES"),
                ("forenames", "MARY ANN"),
                ("number", "4418"),
            ][..],
            "[[field]]\nname = \"surname\"\nkind = \"surname\"\n\n[[field]]\nname = \"forenames\"\n\
             kind = \"forenames\"\n\n[[field]]\nname = \"number\"\nkind = \"code\"\npattern = '\\d{4}'\n\n\
             [[rule]]\nname = \"surname, forenames, number\"\n\
             line = \"{surname}, {forenames} NO. {number}\"\n",
        ),
        // Known fields are used; lines stay lines.
        (
            STARTER,
            "CARD 204517-4\nMARY ANN HARGREAVES [SEE] 1931 TO 58",
            &[
                ("number", "204517-4"),
                ("forenames", "MARY ANN"),
                ("surname", "HARGREAVES"),
                ("from", "1931"),
                ("to", "58"),
            ],
            "[[rule]]\n\
             name = \"number above forenames, surname, from, to\"\n\
             lines = [\"CARD {number}\", \"{forenames} {surname} [[SEE]] {from} TO {to}\"]\n",
        ),
    ] {
        let example = marked(text, marks);
        let found = candidates(
            &example,
            &files(&[("r.toml", book)], &styles),
            &Bench::default(),
        );
        assert_eq!(found.unwrap()[0].fragment, expected);
    }
}

#[test]
fn other_readings_widen_what_the_example_alone_would_say() {
    let bench = bench(&[
        "ORME, JOHN   NO. 4419",
        "TRANT, A B   NO. 44190",
        "BEXLEY, RUTH   NO. 51",
        "QUAY, PETER   NO. 1204",
        "MINUTES OF THE DREDGING COMMITTEE",
        "HALL, JANE   NO. 991",
    ]);
    let styles = Styles::default();
    let example = marked(
        "HARGREAVES, MARY ANN   NO. 4418",
        &[
            ("surname", "HARGREAVES"),
            ("forenames", "MARY ANN"),
            ("number", "4418"),
        ],
    );
    let found = candidates(&example, &files(&[], &styles), &bench).unwrap();
    assert_eq!((found[0].fits, found[0].of), (5, 6), "{found:?}");
    assert!(!found[0].considered.is_empty());
    RuleBook::parse("r.toml", &add("", &found[0].fragment)).unwrap();
}

/// The first candidate for a strip of which pieces are marked, beside others.
fn first(strip: &str, marks: &[(&str, &str)], others: &[String], book: &str) -> super::Candidate {
    let texts: Vec<&str> = others.iter().map(String::as_str).chain([strip]).collect();
    let styles = Styles::default();
    let found = candidates(
        &marked(strip, marks),
        &files(&[("r.toml", book)], &styles),
        &bench(&texts),
    );
    found
        .unwrap_or_else(|fault| panic!("{strip}: {fault}"))
        .remove(0)
}

const NAMES: [&str; 6] = ["ORME", "TRANT", "BEXLEY", "HALL", "QUAYLE", "MARSH"];

/// So many strips, with a name and the place in the row.
fn strips(count: usize, strip: impl Fn(&str, usize) -> String) -> Vec<String> {
    (0..count)
        .map(|at| strip(NAMES[at % NAMES.len()], at))
        .collect()
}

#[test]
fn what_the_other_readings_say_stands_in_the_rule() {
    let luhn = |n: usize| {
        let payload = (4_000 + 37 * n).to_string();
        let check = CheckScheme::Luhn.check_character(&payload).unwrap();
        format!("{payload}-{check}")
    };
    const TRADES: [&str; 3] = ["PILOT", "COOK", "LOCK KEEPER"];
    let known = "[[field]]\nname = \"number\"\nkind = \"code\"\npattern = '\\d{6}'\n";
    for (what, strip, marks, others, book, expected) in [
        (
            "a check character that holds",
            "DALTON NO. 4000-2",
            &[("surname", "DALTON"), ("number", "4000-2")][..],
            strips(12, |name, at| format!("{name} NO. {}", luhn(at))),
            "",
            &["pattern = '\\d{4}-\\d'\ncheck = \"luhn\""][..],
        ),
        (
            "the words of a choice, though a name stands beside it",
            "DALTON COOK NO. 4418",
            &[("surname", "DALTON"), ("trade", "COOK"), ("number", "4418")],
            strips(24, |name, at| {
                format!("{name} {} NO. {}", TRADES[at % 3], 4_000 + at)
            }),
            "",
            &["words = [\"COOK\", \"LOCK KEEPER\", \"PILOT\"]"],
        ),
        (
            "what may be missing",
            "DALTON NO. 4418 SHEET 2 OF 3",
            &[
                ("surname", "DALTON"),
                ("number", "4418"),
                ("part", "2"),
                ("parts", "3"),
            ],
            strips(20, |name, at| match at % 2 {
                0 => format!("{name} NO. {} SHEET 1 OF 4", 4_000 + at),
                _ => format!("{name} NO. {}", 4_000 + at),
            }),
            "",
            &["line = \"{surname} NO. {number}[ SHEET {part} OF {parts}]\""],
        ),
        (
            "a number that nobody marked and that differs",
            "DALTON BAY 17 NO. 4418",
            &[("surname", "DALTON"), ("number", "4418")],
            strips(20, |name, at| {
                format!("{name} BAY {} NO. {}", 20 + at, 4_000 + at)
            }),
            "",
            &[
                "name = \"bay\"\nkind = \"number\"",
                "{surname} BAY {bay} NO. {number}",
            ],
        ),
        (
            "a misread word",
            "DALTON MUMBER 4418",
            &[("surname", "DALTON"), ("number", "4418")],
            strips(20, |name, at| format!("{name} NUMBER {}", 4_000 + at)),
            "",
            &["line = \"{surname} NUMBER {number}\""],
        ),
        (
            "another pattern of a known field",
            "DALTON NO. AB-17",
            &[("surname", "DALTON"), ("number", "AB-17")],
            strips(12, |name, at| {
                format!("{name} NO. {}-{}", ["QY", "CR"][at % 2], 20 + at)
            }),
            known,
            &["field = { number = { pattern = '[A-Z]{2}-\\d{2}' } }"],
        ),
        (
            "dates with the month first",
            "DALTON 3/14/52",
            &[("surname", "DALTON"), ("date", "3/14/52")],
            strips(12, |name, at| {
                format!("{name} {}/{}/5{}", 1 + at % 9, 13 + at, at % 10)
            }),
            "",
            &["dates = { order = \"month-day\" }"],
        ),
    ] {
        let candidate = first(strip, marks, &others, book);
        for expected in expected {
            assert!(
                candidate.fragment.contains(expected),
                "{what}: expected {expected} in\n{}\n{:#?}",
                candidate.fragment,
                candidate.considered
            );
        }
        assert_eq!(candidate.fits, candidate.of, "{what}");
    }
}

#[test]
fn keyed_sheets_that_no_rule_fits_give_rules() {
    let keyed = |at: usize| match at {
        3 => Some(vec![
            ("surname", "Hall"),
            ("number", "4003"),
            ("from", "1931"),
        ]),
        7 => Some(vec![
            ("surname", "TRANT"),
            ("number", "4007"),
            ("from", "1931"),
        ]),
        _ => None,
    };
    let texts = strips(12, |name, at| {
        format!("RE {name} NO. {} SINCE 1931", 4_000 + at)
    });
    let sheets = texts.iter().enumerate().map(|(at, text)| BenchSheet {
        sheet: SheetId::new(format!("{at}.png")),
        reading: reading(text),
        band: None,
        width: None,
        keyed: keyed(at).map(|values| {
            let owned = |(field, value): (&str, &str)| (field.to_owned(), value.to_owned());
            values.into_iter().map(owned).collect()
        }),
    });
    let styles = Styles::default();
    let found = suggest(&files(&[], &styles), &Bench::new("", sheets)).unwrap();
    let [only] = found.as_slice() else {
        panic!("{found:?}");
    };
    assert_eq!((only.like, only.candidate.fits), (2, 12));
    assert_eq!((only.candidate.keyed_right, only.candidate.keyed), (6, 6));
    assert!(
        only.candidate
            .fragment
            .contains("line = \"RE {surname} NO. {number} SINCE {from}\"")
    );
}

#[test]
fn what_stands_in_the_way_is_said() {
    let styles = Styles::default();
    let none = Example::of_text("A B");
    assert!(matches!(
        candidates(&none, &files(&[], &styles), &Bench::default()),
        Err(ExampleError::NothingMarked)
    ));
    let example = marked("HALL NO. 4", &[("number", "4")]);
    assert!(matches!(
        candidates(
            &example,
            &files(&[("r.toml", "[[rule")], &styles),
            &Bench::default()
        ),
        Err(ExampleError::Rules(_))
    ));
}

/// Characters that strips, and templates and TOML, have a meaning for.
const ALPHABET: [&str; 24] = [
    "A", "B", "HALL", "MARY", "1", "20", "1952", " ", "  ", "\n", "-", "/", ",", ".", "{", "}",
    "[", "]", "<", "|", "\"", "\\", "'", "É",
];

#[test]
fn any_marks_on_any_text_give_rules_that_take_them() {
    const FIELDS: [&str; 8] = [
        "surname",
        "number",
        "from",
        "to",
        "part",
        "größe",
        "surname#2",
        "new_field",
    ];
    let styles = Styles::default();
    let mut fitted = 0;
    for seed in 0..120 {
        let random = &mut ChaCha8Rng::seed_from_u64(seed);
        let text: String = (0..random.random_range(1..24))
            .map(|_| ALPHABET[random.random_range(0..ALPHABET.len())])
            .collect();
        let mut example = Example::of_text(&text);
        for _ in 0..random.random_range(1..5) {
            let start = random.random_range(0..20);
            let _ = example.mark(
                random.random_range(0..3),
                start..start + random.random_range(0..9),
                FIELDS[random.random_range(0..FIELDS.len())],
            );
        }
        let book = if seed % 2 == 0 { STARTER } else { "" };
        let Ok(found) = candidates(
            &example,
            &files(&[("r.toml", book)], &styles),
            &Bench::default(),
        ) else {
            continue;
        };
        for candidate in found {
            let added = add(book, &candidate.fragment);
            let book = RuleBook::parse("r.toml", &added)
                .unwrap_or_else(|faults| panic!("{faults}\n{added}"));
            assert_eq!(candidate.takes.len(), example.marks().len());
            let fits = book.extract(&reading(&text), &Around::default());
            fitted += usize::from(fits.iter().any(|fit| fit.rule == candidate.name));
        }
    }
    assert!(fitted > 30, "{fitted}");
}
