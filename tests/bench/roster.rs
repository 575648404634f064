//! Speed and rightness of the roster search: `cargo bench --profile dev --no-default-features --bench roster`.
//!
//! Prints the time of a query over made-up rosters of 3,000 and 100,000 rows, and how often the right row comes first. With
//! `HEADWORD_FEBRL` set to a folder that holds FEBRL's dataset4a.csv and dataset4b.csv, links the second to the
//! first by given name, surname, social security number and date of birth.

use headword::roster::{ColumnKind, Prior, Query, QueryColumn, Roster, Schema, Table};
use headword::value::Probability;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::HashMap;
use std::path::Path;
use std::time::{Duration, Instant};

fn main() {
    for rows in [3_000, 100_000] {
        made_up(rows, 500);
    }
    match std::env::var("HEADWORD_FEBRL") {
        Ok(folder) => febrl(Path::new(&folder)),
        Err(_) => println!(
            "FEBRL4: skipped; set HEADWORD_FEBRL to the folder of dataset4a.csv and dataset4b.csv"
        ),
    }
}

const LETTERS: &[u8] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ";

/// A name-like word of two or three syllables.
fn word(random: &mut ChaCha8Rng) -> String {
    const STARTS: [&str; 20] = [
        "B", "C", "D", "F", "G", "H", "K", "L", "M", "N", "P", "R", "S", "T", "W", "BR", "CH",
        "ST", "TH", "",
    ];
    const HEARTS: [&str; 9] = ["A", "E", "I", "O", "U", "EA", "OO", "IE", "AR"];
    const ENDS: [&str; 10] = ["N", "R", "L", "S", "T", "D", "M", "CK", "LL", "SON"];
    let mut word = String::new();
    for _ in 0..random.random_range(1..3) {
        word += STARTS[random.random_range(0..STARTS.len())];
        word += HEARTS[random.random_range(0..HEARTS.len())];
    }
    word + ENDS[random.random_range(0..ENDS.len())]
}

/// Index that falls off like 1 / (k + 10), as names do.
fn skewed(random: &mut ChaCha8Rng, count: usize) -> usize {
    let top = ((count as f64 + 10.0) / 10.0).ln();
    let drawn = (random.random::<f64>() * top).exp() * 10.0 - 10.0;
    (drawn as usize).min(count - 1)
}

/// Every character is replaced, lost or doubled with this probability.
fn spoil(random: &mut ChaCha8Rng, text: &str, rate: f64) -> String {
    let mut spoilt = String::new();
    for c in text.chars() {
        if c == ' ' || random.random::<f64>() >= rate {
            spoilt.push(c);
            continue;
        }
        match random.random_range(0..6) {
            0 => {}
            1 => spoilt.extend([c, c]),
            _ if c.is_ascii_digit() => {
                spoilt.push(char::from(b'0' + random.random_range(0..10) as u8))
            }
            _ => spoilt.push(char::from(LETTERS[random.random_range(0..26)])),
        }
    }
    spoilt
}

fn made_up(rows: usize, queries: usize) {
    let mut random = ChaCha8Rng::seed_from_u64(rows as u64);
    let surnames: Vec<_> = (0..(rows / 2).min(20_000))
        .map(|_| word(&mut random))
        .collect();
    let forenames: Vec<_> = (0..400).map(|_| word(&mut random)).collect();
    let people: Vec<[String; 5]> = (0..rows)
        .map(|row| {
            let surname = surnames[skewed(&mut random, surnames.len())].clone();
            let mut names = forenames[skewed(&mut random, 400)].clone();
            if random.random::<f64>() < 0.6 {
                names = names + " " + &forenames[skewed(&mut random, 400)];
            }
            let from = random.random_range(1920..1960);
            let to = from + random.random_range(1..40);
            [
                surname,
                names,
                (100_000 + row * 7).to_string(),
                from.to_string(),
                to.to_string(),
            ]
        })
        .collect();
    let header = ["surname", "forenames", "number", "from", "to"];
    let body: Vec<_> = people.iter().map(|person| person.join(",")).collect();
    let csv = format!("{}\n{}\n", header.join(","), body.join("\n"));
    let kinds = [
        ColumnKind::Surname,
        ColumnKind::Forenames,
        ColumnKind::Code,
        ColumnKind::Year,
        ColumnKind::Year,
    ];
    let schema = Schema {
        key: "number".to_owned(),
        columns: header.map(str::to_owned).into_iter().zip(kinds).collect(),
    };
    let start = Instant::now();
    let (table, _) = Table::from_reader(csv.as_bytes()).expect("a table");
    let (roster, _) = Roster::prepare(table, &schema).expect("a roster");
    println!(
        "{rows} rows: ready in {:.0} ms",
        start.elapsed().as_secs_f64() * 1e3
    );
    for (what, columns) in [
        ("name, number, years", &[0, 1, 2, 3, 4][..]),
        ("name, years", &[0, 1, 3, 4]),
    ] {
        for rate in [0.02, 0.05, 0.10] {
            let mut times = Vec::new();
            let mut right = 0;
            for _ in 0..queries {
                let row = random.random_range(0..rows);
                let columns = columns.iter().map(|&at| {
                    // Three alternatives a field, as a reader gives them: two spoilt apart, and the first again worse.
                    let typed = spoil(&mut random, &people[row][at], rate);
                    let values = [
                        (typed.clone(), 0.9),
                        (spoil(&mut random, &typed, 0.2), 0.06),
                        (spoil(&mut random, &typed, 0.3), 0.02),
                    ];
                    let values = values
                        .map(|(value, p)| (value, Probability::new(p)))
                        .to_vec();
                    QueryColumn {
                        column: header[at].to_owned(),
                        values,
                    }
                });
                let query = Query {
                    columns: columns.collect(),
                    joint: Vec::new(),
                };
                let start = Instant::now();
                let ranking = roster.rank(&query, Prior::default(), 5);
                times.push(start.elapsed());
                right += usize::from(ranking.rows.first().is_some_and(|first| first.row == row));
            }
            println!(
                "  {what}, {:>2.0} % errors a character: first {right} of {queries}; {}",
                rate * 100.0,
                spread(times)
            );
        }
    }
}

fn spread(mut times: Vec<Duration>) -> String {
    times.sort();
    let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize].as_secs_f64() * 1e3;
    format!(
        "p50 {:.2} ms, p99 {:.2} ms, worst {:.2} ms",
        at(0.5),
        at(0.99),
        at(1.0)
    )
}

fn febrl(folder: &Path) {
    const COLUMNS: [(&str, ColumnKind); 4] = [
        ("given_name", ColumnKind::Forenames),
        ("surname", ColumnKind::Surname),
        ("soc_sec_id", ColumnKind::Code),
        ("date_of_birth", ColumnKind::Code),
    ];
    let schema = Schema {
        key: "rec_id".to_owned(),
        columns: COLUMNS.map(|(name, kind)| (name.to_owned(), kind)).to_vec(),
    };
    let load = |file: &str| {
        Roster::load(&folder.join(file), &schema)
            .expect("a FEBRL file")
            .0
    };
    let (roster, queries) = (load("dataset4a.csv"), load("dataset4b.csv"));
    let number = |key: &str| key.split('-').nth(1).unwrap_or("").to_owned();
    let rows: HashMap<String, usize> = (0..roster.len())
        .map(|row| (number(roster.key(row)), row))
        .collect();
    let (mut right, mut times, mut levels) = (0, Vec::new(), [(0, 0); 3]);
    for at in 0..queries.len() {
        let columns = COLUMNS.map(|(name, _)| QueryColumn {
            column: name.to_owned(),
            values: vec![(
                queries.cell(at, name).unwrap_or("").to_owned(),
                Probability::ONE,
            )],
        });
        let query = Query {
            columns: columns.to_vec(),
            joint: Vec::new(),
        };
        let start = Instant::now();
        let ranking = roster.rank(&query, Prior::default(), 3);
        times.push(start.elapsed());
        let Some(first) = ranking.rows.first() else {
            continue;
        };
        let is_right = rows.get(&number(queries.key(at))) == Some(&first.row);
        right += usize::from(is_right);
        for (level, (shown, wrong)) in [0.5, 0.99, 0.999].iter().zip(&mut levels) {
            if first.probability.get() >= *level {
                *shown += 1;
                *wrong += usize::from(!is_right);
            }
        }
    }
    println!(
        "FEBRL4, {} queries: first {right} ({:.4}); {}",
        queries.len(),
        right as f64 / queries.len() as f64,
        spread(times)
    );
    for (level, (shown, wrong)) in ["0.5", "0.99", "0.999"].iter().zip(levels) {
        println!("  probability {level} and more: {shown}, of them wrong {wrong}");
    }
}
