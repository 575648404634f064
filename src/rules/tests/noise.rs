//! Random true values typed through every template, disturbed, and taken out again.

use super::{extract, personnel, value};
use crate::reading::{Alternative, Line, Reading};
use crate::value::CheckScheme;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::time::Instant;

/// A made-up name: syllables, so that no list of names is favoured.
fn name(rng: &mut ChaCha8Rng) -> String {
    const ONSETS: [&str; 16] = [
        "B", "C", "D", "F", "G", "H", "K", "L", "M", "N", "P", "R", "S", "T", "V", "W",
    ];
    const RHYMES: [&str; 12] = [
        "A", "E", "I", "O", "AN", "EL", "IS", "OR", "UM", "ETT", "ARD", "ING",
    ];
    (0..rng.random_range(2..4))
        .map(|_| {
            let onset = ONSETS[rng.random_range(0..ONSETS.len())];
            let rhyme = RHYMES[rng.random_range(0..RHYMES.len())];
            format!("{onset}{rhyme}")
        })
        .collect()
}

/// A sheet's true values: surname, forenames, number, from, to, part, parts.
fn truth(rng: &mut ChaCha8Rng) -> [String; 7] {
    let forenames = match rng.random_range(0..4) {
        0 => name(rng),
        1 => format!("{} {}.", name(rng), &name(rng)[..1]),
        _ => format!("{} {}", name(rng), name(rng)),
    };
    let payload = format!("{:06}-", rng.random_range(0..1_000_000));
    let check = CheckScheme::Iso7064Mod11_2
        .check_character(&payload)
        .unwrap();
    let from = rng.random_range(1890..1950);
    let parts = rng.random_range(1..12);
    [
        name(rng),
        forenames,
        format!("{payload}{check}"),
        from.to_string(),
        (from + rng.random_range(0..45)).to_string(),
        rng.random_range(1..=parts).to_string(),
        parts.to_string(),
    ]
}

fn typed(
    layout: usize,
    [surname, forenames, number, from, to, part, parts]: &[String; 7],
) -> String {
    match layout {
        0 => format!("{surname}, {forenames}   {number}   {from}-{to}   {part} OF {parts}"),
        1 => format!("{surname}, {forenames}\n{number}   {from}-{to}   {part} OF {parts}"),
        2 => format!("{number}  {surname} {forenames}  {from} TO {to}  {part}/{parts}"),
        _ => format!(
            "BOARD NO. {number}    SHEET {part} OF {parts}\n{forenames} {surname}    SERVED {from} - {to}"
        ),
    }
}

/// Reads a line with `errors` disturbed characters in a hundred: half of them with the truth as second alternative, a
/// third taken for anything of the alphabet, the rest lost, or blanks lost and doubled.
fn read(rng: &mut ChaCha8Rng, text: &str, errors: u32) -> Line {
    const ALPHABET: &[u8] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.,-'/ ";
    let mut line = Line::certain(text, 0.97);
    let mut positions = Vec::new();
    for mut position in line.positions {
        if !rng.random_ratio(errors, 100) {
            positions.push(position);
            continue;
        }
        let wrong = char::from(ALPHABET[rng.random_range(0..ALPHABET.len())]);
        let truth = position.best().to_owned();
        match rng.random_range(0..12) {
            0..6 if truth != wrong.to_string() => {
                let doubt = rng.random_range(0.5..0.8);
                position.alternatives = vec![
                    Alternative::new(wrong, doubt),
                    Alternative::new(truth, 0.95 - doubt),
                ];
                positions.push(position);
            }
            6..10 => {
                position.alternatives = vec![Alternative::new(wrong, 0.8)];
                positions.push(position);
            }
            10 if truth == " " => positions.extend([position.clone(), position]),
            _ => {}
        }
    }
    line.positions = positions;
    line
}

/// Shares of sheets with a fitting rule; of numbers right; of sheets with years and sheet numbers right; of sheets with
/// names right, among those whose names were read right (no rule can know better).
fn rates(errors: u32, seed: u64) -> [f64; 4] {
    const SHEETS: usize = 400;
    let book = personnel();
    let fields = [
        "surname",
        "forenames",
        "number",
        "from",
        "to",
        "part",
        "parts",
    ];
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut right = [0usize; 4];
    let mut names_read = 0;
    for at in 0..SHEETS {
        let truth = truth(&mut rng);
        let text = typed(at % 4, &truth);
        let lines = text
            .lines()
            .map(|line| read(&mut rng, line, errors))
            .collect();
        let reading = Reading { lines };
        let text = reading.text();
        let readable = text.contains(&truth[0]) && text.contains(&truth[1]);
        names_read += usize::from(readable);
        let extractions = extract(&book, &reading);
        let Some(best) = extractions.first() else {
            continue;
        };
        let all = |range: std::ops::Range<usize>| {
            range
                .into_iter()
                .all(|at| value(best, fields[at]) == truth[at])
        };
        right[0] += 1;
        right[1] += usize::from(all(2..3));
        right[2] += usize::from(all(3..7));
        right[3] += usize::from(readable && all(0..2));
    }
    let of = [SHEETS, SHEETS, SHEETS, names_read];
    std::array::from_fn(|at| right[at] as f64 / of[at] as f64)
}

#[test]
fn random_sheets_come_out_right() {
    for (errors, floors) in [
        (0, [1.0, 0.99, 0.99, 0.97]),
        (2, [0.98, 0.94, 0.88, 0.93]),
        (6, [0.95, 0.83, 0.74, 0.90]),
    ] {
        let rates = rates(errors, 20_260 + u64::from(errors));
        let [fitting, number, rest, names] = rates;
        println!(
            "{errors} % errors: {fitting:.3} fit; right: {number:.3} numbers, {rest:.3} years and sheet numbers, \
             {names:.3} names that were read right"
        );
        let reached = rates.iter().zip(floors).all(|(rate, floor)| *rate >= floor);
        assert!(reached, "{rates:?}");
    }
}

#[test]
fn random_text_never_fits() {
    let book = personnel();
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    for _ in 0..300 {
        let words: Vec<String> = (0..rng.random_range(1..9))
            .map(|_| match rng.random_range(0..4) {
                0 => rng.random_range(0..100_000).to_string(),
                _ => name(&mut rng),
            })
            .collect();
        let text = words.join(" ");
        let lines = vec![read(&mut rng, &text, 10)];
        let extractions = extract(&book, &Reading { lines });
        assert!(extractions.is_empty(), "{text:?}: {extractions:#?}");
    }
}

/// Prints the time that one rule and four take on a line of 60 characters, the shortest of many, so that neighbours on
/// the machine do not count:
/// `cargo test --no-default-features --lib rules:: -- --ignored --nocapture speed`.
#[test]
#[ignore = "a measurement, not a check"]
fn speed() {
    const TIMES: usize = 500;
    let text = "HARGREAVES, ELIZABETH ANN   204517-4   1931-1958   2 OF 3   ";
    let reading = super::reading(text, 0.97);
    let all = include_str!("../../../rules/personnel.toml");
    let (fields, rules) = all.split_once("\n[[rule]]").unwrap();
    let one = rules.split("\n[[rule]]").next().unwrap();
    let one = format!("{fields}\n[[rule]]{one}");
    for (what, text) in [("one rule", one.as_str()), ("four rules", all)] {
        let book = super::book(text);
        let times = (0..TIMES).map(|_| {
            let start = Instant::now();
            std::hint::black_box(extract(&book, std::hint::black_box(&reading)));
            start.elapsed()
        });
        let took = times.min().unwrap().as_micros();
        println!("{what}: {took} µs a reading");
    }
}
