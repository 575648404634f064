//! How right proposals are on simulated sheets: `cargo bench --profile dev --no-default-features --bench proposal`.
//!
//! People get strips from a typist who slips to neighbouring keys, and a reader who confuses letters of like shape, reads a
//! few fields badly and some not at all, and thinks better of itself than it should. None of this is the model's own error process
//! (even edits at two rates). Prints how often the best value is what was typed, with and without the roster, and how
//! many values of each face are wrong. Arguments: sheets, seed. With `HEADWORD_SHOW` set, every value that is wrong
//! though sure is printed with its reasons.

use headword::proposal::{Before, Calibration, Evidence, Face, FieldPlan, RosterPlan, propose};
use headword::reading::Reading;
use headword::roster::{ColumnKind, Prior, Roster, Schema, Table};
use headword::rules::{Candidate, Extracted, Extraction, Source};
use headword::value::{CheckScheme, Probability, SheetKind};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::time::{Duration, Instant};

const FIELDS: [&str; 6] = ["surname", "forenames", "number", "from", "to", "part"];
const ROWS: usize = 3_000;

fn main() {
    let numbers: Vec<u64> = std::env::args()
        .filter_map(|argument| argument.parse().ok())
        .collect();
    let sheets = numbers.first().copied().unwrap_or(10_000) as usize;
    let seed = numbers.get(1).copied().unwrap_or(1);
    for (name, level) in [("default", DEFAULT), ("heavy", HEAVY)] {
        simulate(name, &level, sheets, seed);
    }
}

/// Rates of what goes wrong.
struct Level {
    /// A character typed as its neighbour on the keyboard.
    slip: f64,
    /// A field is read badly; characters misread in good and in bad fields.
    bad_field: f64,
    misread: [f64; 2],
    /// A field read as something else altogether.
    garbage: f64,
    /// The reader offers what was typed when it misreads it.
    offered: f64,
    /// A name cut apart the wrong way round, which the rules prefer.
    wrong_cut: f64,
}

const DEFAULT: Level = Level {
    slip: 0.001,
    bad_field: 0.05,
    misread: [0.002, 0.08],
    garbage: 0.002,
    offered: 0.85,
    wrong_cut: 0.01,
};
const HEAVY: Level = Level {
    slip: 0.003,
    bad_field: 0.25,
    misread: [0.01, 0.15],
    garbage: 0.01,
    offered: 0.7,
    wrong_cut: 0.03,
};

/// Letters of like shape.
const SHAPES: [&str; 14] = [
    "O0QDC", "I1LTJ", "B8R3", "S5", "Z27", "G6C", "E F", "HNM", "UVWY", "PFR", "A4", "KX", "9G",
    "MNW",
];
const KEYS: [&str; 4] = ["1234567890", "QWERTYUIOP", "ASDFGHJKL", "ZXCVBNM"];

fn like(random: &mut ChaCha8Rng, c: char, classes: &[&str], near: bool) -> char {
    let Some(class) = classes.iter().find(|class| class.contains(c)) else {
        return c;
    };
    let class: Vec<char> = class.chars().filter(|c| *c != ' ').collect();
    if near {
        let at = class.iter().position(|&other| other == c).unwrap_or(0);
        let to = if random.random::<bool>() {
            at + 1
        } else {
            at.wrapping_sub(1)
        };
        return class
            .get(to)
            .copied()
            .unwrap_or(class[at.saturating_sub(1)]);
    }
    let others: Vec<char> = class.into_iter().filter(|&other| other != c).collect();
    others[random.random_range(0..others.len())]
}

fn skewed(random: &mut ChaCha8Rng, count: usize) -> usize {
    let top = ((count as f64 + 8.0) / 8.0).ln();
    let drawn = (random.random::<f64>() * top).exp() * 8.0 - 8.0;
    (drawn as usize).min(count - 1)
}

fn syllables(random: &mut ChaCha8Rng) -> String {
    const A: [&str; 24] = [
        "BAR", "BRI", "CAL", "COR", "DAL", "DUN", "EL", "FAR", "GIL", "HAR", "HOL", "KEN", "LAW",
        "MAR", "MOR", "NOR", "PAR", "RAN", "SHEL", "STAN", "TAN", "WAL", "WIN", "YAR",
    ];
    const B: [&str; 8] = ["", "", "", "I", "ING", "A", "ER", "DE"];
    const C: [&str; 16] = [
        "TON", "LEY", "FORD", "WICK", "MAN", "SON", "BY", "WELL", "HAM", "RIDGE", "DALE", "ROW",
        "NETT", "ARD", "KIN", "S",
    ];
    let pick =
        |random: &mut ChaCha8Rng, from: &[&'static str]| from[random.random_range(0..from.len())];
    format!(
        "{}{}{}",
        pick(random, &A),
        pick(random, &B),
        pick(random, &C)
    )
}

const FORENAMES: [&str; 40] = [
    "JOHN",
    "WILLIAM",
    "GEORGE",
    "MARY",
    "JAMES",
    "CHARLES",
    "ROBERT",
    "EDITH",
    "HENRY",
    "ANNIE",
    "THOMAS",
    "FRANK",
    "EDWARD",
    "RUTH",
    "ALICE",
    "ALBERT",
    "ARTHUR",
    "WALTER",
    "FLORENCE",
    "ERNEST",
    "HAROLD",
    "ELSIE",
    "FRED",
    "JEAN",
    "JANE",
    "JOAN",
    "ROSE",
    "HILDA",
    "ALFRED",
    "ELLEN",
    "EVELYN",
    "LEONARD",
    "STANLEY",
    "CATHERINE",
    "CLARA",
    "PERCY",
    "HERBERT",
    "SIDNEY",
    "IVY",
    "OLIVE",
];

type Person = [String; 5];

fn person(random: &mut ChaCha8Rng, surnames: &[String]) -> Person {
    let mut forenames = FORENAMES[skewed(random, 40)].to_owned();
    if random.random::<f64>() < 0.6 {
        forenames = forenames + " " + FORENAMES[skewed(random, 40)];
    }
    let from = random.random_range(1915..1965);
    let to = from + random.random_range(1..38);
    [
        surnames[skewed(random, surnames.len())].clone(),
        forenames,
        number(random),
        from.to_string(),
        to.to_string(),
    ]
}

fn number(random: &mut ChaCha8Rng) -> String {
    let payload = random.random_range(100_000..130_000).to_string();
    let check = CheckScheme::Iso7064Mod11_2.check_character(&payload);
    format!("{payload}-{}", check.expect("digits"))
}

/// What the typist puts on the strip.
fn typed(random: &mut ChaCha8Rng, level: &Level, person: &Person) -> [String; 6] {
    let mut forenames: Vec<&str> = person[1].split(' ').collect();
    if forenames.len() > 1 && random.random::<f64>() < 0.45 {
        if random.random::<bool>() {
            forenames.truncate(1)
        } else {
            forenames[1] = &forenames[1][..1]
        }
    } else if random.random::<f64>() < 0.04 {
        forenames.iter_mut().for_each(|name| *name = &name[..1]);
    }
    let part = random.random_range(1..4).to_string();
    let values = [
        person[0].clone(),
        forenames.join(" "),
        person[2].clone(),
        person[3].clone(),
        person[4].clone(),
        part,
    ];
    values.map(|value| {
        let slip = |c: char| {
            if random.random::<f64>() < level.slip {
                like(random, c, &KEYS, true)
            } else {
                c
            }
        };
        value.chars().map(slip).collect()
    })
}

/// What the reader makes of a field: candidates, best first.
fn read(random: &mut ChaCha8Rng, level: &Level, field: &str, truth: &str) -> Vec<Candidate> {
    let is_bad = random.random::<f64>() < level.bad_field;
    let rate = level.misread[usize::from(is_bad)];
    // A reader that knows it reads badly, but thinks it half as bad as it is.
    let doubt = rate * 0.5;
    let mut positions: Vec<Vec<(char, f64)>> = Vec::new();
    let is_garbage = random.random::<f64>() < level.garbage;
    for c in truth.chars() {
        let other = like(random, c, &SHAPES, false);
        if is_garbage && c != ' ' {
            positions.push(vec![(
                char::from(b'A' + random.random_range(0..26) as u8),
                0.98,
            )]);
        } else if random.random::<f64>() >= rate || other == c {
            positions.push(vec![(c, 1.0 - doubt), (other, doubt * 0.8)]);
        } else if random.random::<f64>() < 0.1 {
            // Lost without a trace.
        } else if random.random::<f64>() < level.offered {
            let sure = 0.5 + 0.45 * random.random::<f64>();
            positions.push(vec![(other, sure), (c, (1.0 - sure) * 0.9)]);
        } else {
            positions.push(vec![(other, 1.0 - doubt)]);
        }
    }
    let mut beam: Vec<(String, f64)> = vec![(String::new(), 1.0)];
    for position in positions {
        let longer = beam.iter().flat_map(|(text, p)| {
            position
                .iter()
                .map(move |(c, q)| (format!("{text}{c}"), p * q))
        });
        let mut longer: Vec<_> = longer.collect();
        longer.sort_by(|a, b| b.1.total_cmp(&a.1));
        longer.truncate(12);
        beam = longer;
    }
    let is_number = field == "number";
    let digits = |text: &str| {
        text.chars()
            .all(|c| c.is_ascii_digit() || c == '-' || c == 'X')
    };
    if is_number || matches!(field, "from" | "to" | "part") {
        // The rules know that only digits stand here.
        let kept: Vec<_> = beam
            .iter()
            .filter(|(text, _)| digits(text))
            .cloned()
            .collect();
        if !kept.is_empty() {
            beam = kept;
        }
    }
    let holds = |text: &str| is_number.then(|| CheckScheme::Iso7064Mod11_2.holds(text));
    for (text, p) in &mut beam {
        *p *= if holds(text) == Some(false) {
            0.02
        } else {
            1.0
        };
    }
    beam.sort_by(|a, b| b.1.total_cmp(&a.1));
    beam.truncate(8);
    let sum: f64 = beam.iter().map(|(_, p)| p).sum::<f64>() * (1.0 + doubt * 0.2);
    let candidate = |(value, p): (String, f64)| Candidate {
        doubt: None,
        check_holds: holds(&value),
        probability: Probability::new(p / sum),
        value,
    };
    beam.into_iter().map(candidate).collect()
}

fn extraction(rule: &str, probability: f64, fields: &[(&str, Vec<Candidate>)]) -> Extraction {
    let fields = fields.iter().map(|(field, candidates)| Extracted {
        record: 0,
        source: Source::Strip,
        field: (*field).to_owned(),
        line: 0,
        positions: 0..0,
        raw: candidates[0].value.clone(),
        candidates: candidates.clone(),
    });
    Extraction {
        sheet: SheetKind::Record,
        rule: rule.to_owned(),
        score: 0.0,
        probability: Probability::new(probability),
        fields: fields.collect(),
        tolerated: Vec::new(),
    }
}

#[derive(Default)]
struct Tally {
    read: usize,
    right: usize,
    /// (shown, wrong) by face: sure, look, empty.
    faces: [(usize, usize); 3],
}

fn simulate(name: &str, level: &Level, sheets: usize, seed: u64) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let surnames: Vec<String> = (0..1_200).map(|_| syllables(&mut random)).collect();
    let people: Vec<Person> = (0..ROWS).map(|_| person(&mut random, &surnames)).collect();
    let lines: Vec<String> = people.iter().map(|person| person.join(",")).collect();
    let (table, _) =
        Table::from_reader(format!("{}\n{}", FIELDS[..5].join(","), lines.join("\n")).as_bytes())
            .expect("a table");
    let kinds = [
        ColumnKind::Surname,
        ColumnKind::Forenames,
        ColumnKind::Code,
        ColumnKind::Year,
        ColumnKind::Year,
    ];
    let columns: Vec<_> = FIELDS
        .iter()
        .map(|name| name.to_string())
        .zip(kinds)
        .collect();
    let (roster, _) = Roster::prepare(
        table,
        &Schema {
            key: "number".to_owned(),
            columns,
        },
    )
    .expect("a roster");
    let columns: Vec<_> = FIELDS[..5]
        .iter()
        .map(|name| (name.to_string(), name.to_string()))
        .collect();
    let plans = FIELDS.map(|name| FieldPlan {
        name: name.to_owned(),
        required: false,
        not_above: (name == "from").then(|| "to".to_owned()),
        ..FieldPlan::default()
    });
    let reading = Reading::default();
    let mut tallies: [Tally; 6] = Default::default();
    let (mut all_right, mut no_look) = (0, 0);
    // Linked to the right row, to a wrong one, not linked, by whether the roster has the person.
    let mut links = [[0_usize; 3]; 2];
    // Links of probability .999 and more, and how many of them are wrong.
    let mut firm = (0, 0);
    let mut time = Duration::ZERO;
    for _ in 0..sheets {
        let kind = random.random::<f64>();
        let row = random.random_range(0..ROWS);
        let mut someone = if kind < 0.95 {
            people[row].clone()
        } else {
            person(&mut random, &surnames)
        };
        if (0.92..0.95).contains(&kind) {
            // A namesake who is not in the roster.
            someone[2] = number(&mut random);
            someone[3] = random.random_range(1915..1940).to_string();
            someone[4] = random.random_range(1941..1990).to_string();
        }
        let in_roster = kind < 0.92;
        let truth = typed(&mut random, level, &someone);
        let fields: Vec<_> = FIELDS
            .iter()
            .zip(&truth)
            .map(|(field, value)| (*field, read(&mut random, level, field, value)))
            .collect();
        let mut swapped = fields.clone();
        (swapped[0].1, swapped[1].1) = (fields[1].1.clone(), fields[0].1.clone());
        let extractions = match random.random::<f64>() {
            share if share < level.wrong_cut => vec![
                extraction("forenames first", 0.55, &swapped),
                extraction("surname first", 0.44, &fields),
            ],
            share if share < 5.0 * level.wrong_cut => vec![
                extraction("surname first", 0.9, &fields),
                extraction("forenames first", 0.09, &swapped),
            ],
            _ => vec![
                extraction("surname first", 0.9995, &fields),
                extraction("forenames first", 0.0004, &swapped),
            ],
        };
        let start = Instant::now();
        let proposal = propose(&Evidence {
            before: &Before::default(),
            band: "none",
            findings: &[],
            reading: &reading,
            extractions: &extractions,
            fields: &plans,
            roster: Some(RosterPlan {
                roster: &roster,
                columns: &columns,
                prior: Prior::default(),
            }),
            calibration: Calibration::default(),
            scorer: None,
        });
        time += start.elapsed();
        let mut right = 0;
        for ((field, tally), (truth, (_, candidates))) in
            proposal.fields.iter().zip(&mut tallies).zip(
                truth.iter().zip(
                    &extractions[0]
                        .fields
                        .iter()
                        .map(|f| (&f.field, &f.candidates))
                        .collect::<Vec<_>>(),
                ),
            )
        {
            let is_right = field.as_typed == *truth;
            tally.read += usize::from(candidates[0].value == *truth);
            tally.right += usize::from(is_right);
            right += usize::from(is_right);
            let (shown, wrong) = &mut tally.faces[match field.face {
                Face::Sure => 0,
                Face::Look => 1,
                Face::Empty => 2,
            }];
            *shown += 1;
            *wrong += usize::from(!is_right);
            if field.face == Face::Sure && !is_right && std::env::var("HEADWORD_SHOW").is_ok() {
                println!(
                    "    wrong though sure: {} is {} not {truth}; {:?}",
                    field.field, field.as_typed, field.reasons
                );
            }
        }
        all_right += usize::from(right == 6);
        no_look += usize::from(
            proposal.fields[..5]
                .iter()
                .all(|field| field.face == Face::Sure),
        );
        let linked = proposal
            .link
            .as_ref()
            .map(|link| in_roster && roster.key(link.row) == people[row][2]);
        let is_firm = proposal
            .link
            .as_ref()
            .is_some_and(|link| link.probability.get() >= 0.999);
        firm.0 += usize::from(is_firm);
        firm.1 += usize::from(is_firm && linked == Some(false));
        links[usize::from(in_roster)][match linked {
            Some(true) => 0,
            Some(false) => 1,
            None => 2,
        }] += 1;
    }
    println!(
        "{name} noise, {sheets} sheets, seed {seed}: {:.2} ms a proposal",
        time.as_secs_f64() * 1e3 / sheets as f64
    );
    println!("  field      read right  proposed right  sure (wrong)     look (wrong)   empty");
    let mut sure = (0, 0);
    for (field, tally) in FIELDS.iter().zip(&tallies) {
        let [s, l, e] = tally.faces;
        sure = (sure.0 + s.0, sure.1 + s.1);
        println!(
            "  {field:<10} {:>9}  {:>14}  {:>7} ({:>2})  {:>10} ({:>4})  {:>5}",
            tally.read, tally.right, s.0, s.1, l.0, l.1, e.0
        );
    }
    println!(
        "  all six right: {all_right}; all five roster fields sure: {no_look}; sure {} of them wrong {}",
        sure.0, sure.1
    );
    println!(
        "  in the roster: linked right {}, wrong {}, not {}; not in it: linked {}, not {}",
        links[1][0], links[1][1], links[1][2], links[0][1], links[0][2]
    );
    println!(
        "  links of probability 0.999 and more: {}, of them wrong {}",
        firm.0, firm.1
    );
}
