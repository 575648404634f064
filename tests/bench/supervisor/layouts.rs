//! Jobs whose strips no starter rule covers: fields, layouts and values drawn from a seed, so that every seed has layouts
//! of its own.
//!
//! A job has four to eight fields and eight layouts. A layout takes some of the fields in an order of its own, with words
//! and signs before, behind and between them, on one line or two. All choices are invented after common practice.

use headword::command::demo::{Noise, PlannedSheet, people, register};
use headword::value::CheckScheme;
use rand::seq::{IndexedRandom, SliceRandom};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Layouts of a job.
const LAYOUTS: usize = 8;
/// Share of the sheets of which the reader is in doubt.
const HEAVY: f64 = 0.1;

/// What a field holds.
#[derive(Debug, Clone, PartialEq)]
enum Holds {
    Surname,
    Forenames,
    /// Both in one, the surname first or last.
    Person {
        inverted: bool,
    },
    /// By a pattern of its own, where `9` stands for a digit and `A` for a letter, with a check character or without.
    Code {
        shape: String,
        check: Option<CheckScheme>,
    },
    FirstYear,
    LastYear,
    Years,
    /// `day` of a date style.
    Date,
    Part,
    Parts,
    Choice(Vec<&'static str>),
    Title,
}

/// A job drawn from a seed.
#[derive(Debug)]
pub struct Job {
    seed: u64,
    fields: Vec<(String, Holds)>,
    layouts: Vec<(Layout, f64)>,
    people: Vec<people::Person>,
    titles: Vec<register::Drawing>,
}

/// A sheet's text and what is true of it.
#[derive(Debug)]
pub struct Sheet {
    pub layout: usize,
    pub lines: Vec<String>,
    /// By field, as typed; those that the strip has.
    pub typed: Vec<(String, String)>,
}

#[derive(Debug)]
struct Layout {
    pieces: Vec<Piece>,
    /// The style of its dates, of its years and of its parts: what stands between them.
    date: usize,
    between_years: &'static str,
    short_last_year: bool,
    between_parts: &'static str,
    /// Blanks of a gap.
    gap: usize,
}

#[derive(Debug)]
struct Piece {
    /// Indices of the fields: several where they belong together (surname and forenames, the years, part and parts).
    fields: Vec<usize>,
    label: &'static str,
    /// What stands between a name's two fields.
    joint: &'static str,
    /// Behind the piece: a sign without a gap, or nothing; `#` for a number that differs.
    behind: &'static str,
    /// Begins a line.
    on_new_line: bool,
    /// Share of the sheets that have it.
    share: f64,
}

const TRADES: [&str; 14] = [
    "PILOT", "CLERK", "DIVER", "FITTER", "WINCHMAN", "STOKER", "RIGGER", "COOPER", "PORTER",
    "COOK", "JOINER", "CRANEMAN", "WATCHMAN", "FOREMAN",
];
const YARDS: [&str; 8] = [
    "NORTH QUAY",
    "DRY DOCK",
    "EAST BASIN",
    "COAL WHARF",
    "TIMBER POND",
    "LOCK HOUSE",
    "SHORE",
    "DREDGER",
];
const HEADS: [&str; 8] = [
    "HARBOUR BOARD",
    "STAFF CARD",
    "PAID OFF",
    "DOCK OFFICE",
    "CLOSED SERIES",
    "CONFIDENTIAL",
    "BOARD MINUTE",
    "WAGES BOOK",
];

const STRAYS: [&str; 6] = ["BAY ", "BOX ", "SHELF ", "P. ", "LOCKER ", "REEL "];

const NUMBER_LABELS: [&str; 10] = [
    "NO. ",
    "NUMBER ",
    "FILE ",
    "REF: ",
    "CARD ",
    "REG. NO. ",
    "(",
    "A/C ",
    "#",
    "STAFF NO ",
];
const NAME_LABELS: [&str; 6] = [
    "NAME: ",
    "RE ",
    "MR ",
    "EMPLOYEE ",
    "PAPERS OF ",
    "SUBJECT ",
];
const YEAR_LABELS: [&str; 7] = [
    "SERVED ",
    "YEARS ",
    "FROM ",
    "IN POST ",
    "PERIOD ",
    "EMPLOYED ",
    "COVERS ",
];
const DATE_LABELS: [&str; 6] = ["DATED ", "BORN ", "SIGNED ", "D.O.B. ", "OPENED ", "ON "];
const PART_LABELS: [&str; 6] = ["SHEET ", "FICHE ", "PART ", "CARD ", "VOL. ", "SET "];
const CHOICE_LABELS: [&str; 5] = ["GRADE ", "TRADE: ", "DEPT. ", "AS ", "CLASS "];
const TITLE_LABELS: [&str; 5] = ["TITLE: ", "SUBJECT: ", "WORK ", "CONCERNING ", "JOB "];

impl Job {
    pub fn new(seed: u64) -> Self {
        let random = &mut ChaCha8Rng::seed_from_u64(seed);
        let fields = fields(random);
        let mut weights: Vec<f64> = (0..LAYOUTS).map(|at| 1.0 / (at as f64 + 1.5)).collect();
        let all: f64 = weights.iter().sum();
        weights.iter_mut().for_each(|weight| *weight /= all);
        Self {
            seed,
            layouts: weights
                .into_iter()
                .map(|weight| (layout(&fields, random), weight))
                .collect(),
            fields,
            people: people::roster(seed, 2_000),
            titles: register::register(seed, 600),
        }
    }

    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// The kind of value of a field, for figures.
    pub fn kind(&self, field: &str) -> &'static str {
        let found = self.fields.iter().find(|(name, _)| name == field);
        match found.map(|(_, holds)| holds) {
            Some(Holds::Surname) => "surname",
            Some(Holds::Forenames) => "forenames",
            Some(Holds::Person { .. }) => "whole name",
            Some(Holds::Code { .. }) => "code",
            Some(Holds::FirstYear | Holds::LastYear) => "year",
            Some(Holds::Years) => "range of years",
            Some(Holds::Date) => "date",
            Some(Holds::Part | Holds::Parts) => "part",
            Some(Holds::Choice(_)) => "choice",
            Some(Holds::Title) | None => "text",
        }
    }

    /// The sheet at a place of the drawer.
    pub fn sheet(&self, index: usize) -> Sheet {
        let random = &mut ChaCha8Rng::seed_from_u64(self.seed);
        random.set_stream(index as u64 + 1);
        let mut at = random.random::<f64>();
        let mut chosen = LAYOUTS - 1;
        for (place, (_, weight)) in self.layouts.iter().enumerate() {
            if at < *weight {
                chosen = place;
                break;
            }
            at -= weight;
        }
        let layout = &self.layouts[chosen].0;
        let values = self.values(layout, random);
        let mut lines = vec![String::new()];
        let mut typed = Vec::new();
        for piece in &layout.pieces {
            if !random.random_bool(piece.share) {
                continue;
            }
            if piece.on_new_line && !lines[0].is_empty() {
                lines.push(String::new());
            }
            let line = lines.last_mut().expect("a line");
            if !line.is_empty() {
                let more = random.random_range(0..3);
                *line += &" ".repeat(layout.gap + more);
            }
            *line += piece.label;
            for (place, &field) in piece.fields.iter().enumerate() {
                let (name, holds) = &self.fields[field];
                if place > 0 {
                    *line += match holds {
                        Holds::LastYear => layout.between_years,
                        Holds::Parts => layout.between_parts,
                        _ => piece.joint,
                    };
                }
                *line += &values[field];
                typed.push((name.clone(), values[field].clone()));
            }
            match piece.behind {
                // A number.
                "#" => *line += &random.random_range(2..90).to_string(),
                behind => *line += behind,
            }
        }
        Sheet {
            layout: chosen,
            lines,
            typed,
        }
    }

    /// The same sheet for the simulated reader, on a sheet planned for something else.
    pub fn planned(&self, sheet: &Sheet, index: usize, mut like: PlannedSheet) -> PlannedSheet {
        let random = &mut ChaCha8Rng::seed_from_u64(self.seed ^ index as u64);
        like.seed = self.seed;
        like.index = index;
        like.lines = sheet.lines.clone();
        like.noise = match random.random_bool(HEAVY) {
            true => Noise::Heavy,
            false => Noise::Default,
        };
        like
    }

    /// A value for every field.
    fn values(&self, layout: &Layout, random: &mut ChaCha8Rng) -> Vec<String> {
        let person = self.people.choose(random).expect("people");
        let title = &self.titles.choose(random).expect("titles").title;
        let parts = *[1, 2, 2, 3, 3, 4, 5, 7, 12].choose(random).expect("parts");
        let part = random.random_range(1..=parts);
        let of = |holds: &Holds, random: &mut ChaCha8Rng| match holds {
            Holds::Surname => person.surname.clone(),
            Holds::Forenames => person.forenames.clone(),
            Holds::Person { inverted: true } => format!("{}, {}", person.surname, person.forenames),
            Holds::Person { inverted: false } => format!("{} {}", person.forenames, person.surname),
            Holds::Code { shape, check } => code(shape, check.as_ref(), random),
            Holds::FirstYear => person.entered.to_string(),
            Holds::LastYear if layout.short_last_year => format!("{:02}", person.left % 100),
            Holds::LastYear => person.left.to_string(),
            Holds::Years => match layout.short_last_year {
                true => format!(
                    "{}{}{:02}",
                    person.entered,
                    layout.between_years,
                    person.left % 100
                ),
                false => format!("{}{}{}", person.entered, layout.between_years, person.left),
            },
            Holds::Date => date(layout.date, random),
            Holds::Part => part.to_string(),
            Holds::Parts => parts.to_string(),
            Holds::Choice(words) => (*words.choose(random).expect("words")).to_owned(),
            Holds::Title => title.clone(),
        };
        self.fields
            .iter()
            .map(|(_, holds)| of(holds, random))
            .collect()
    }
}

/// A job's fields.
fn fields(random: &mut ChaCha8Rng) -> Vec<(String, Holds)> {
    let mut fields: Vec<(&str, Holds)> = Vec::new();
    match random.random_range(0..10) {
        0..6 => fields.extend([("surname", Holds::Surname), ("forenames", Holds::Forenames)]),
        6..8 => fields.push((
            "name",
            Holds::Person {
                inverted: random.random_bool(0.7),
            },
        )),
        _ => fields.push(("title", Holds::Title)),
    }
    let check = [
        None,
        None,
        Some(CheckScheme::Iso7064Mod11_2),
        Some(CheckScheme::Luhn),
        Some(CheckScheme::Damm),
        Some(CheckScheme::Verhoeff),
    ];
    let check = check.choose(random).expect("schemes").clone();
    fields.push((
        "number",
        Holds::Code {
            shape: code_shape(random),
            check,
        },
    ));
    if random.random_bool(0.8) {
        match random.random_bool(0.6) {
            true => fields.extend([("from", Holds::FirstYear), ("to", Holds::LastYear)]),
            false => fields.push(("years", Holds::Years)),
        }
    }
    if random.random_bool(0.5) {
        fields.push(("date", Holds::Date));
    }
    if random.random_bool(0.7) {
        fields.extend([("part", Holds::Part), ("parts", Holds::Parts)]);
    }
    if random.random_bool(0.4) {
        let (name, all): (_, &[&str]) = match random.random_bool(0.5) {
            true => ("trade", &TRADES),
            false => ("yard", &YARDS),
        };
        let count = random.random_range(3..=all.len());
        fields.push((
            name,
            Holds::Choice(all.sample(random, count).copied().collect()),
        ));
    }
    fields
        .into_iter()
        .map(|(name, holds)| (name.to_owned(), holds))
        .collect()
}

/// Digits, letters and marks of a code: three to nine characters.
fn code_shape(random: &mut ChaCha8Rng) -> String {
    let runs = random.random_range(1..=3);
    let mut shape = String::new();
    for run in 0..runs {
        if run > 0 {
            shape += ["-", "/", "", "."].choose(random).expect("marks");
        }
        let letters = run == 0 && runs > 1 && random.random_bool(0.5);
        let length = match (letters, runs) {
            (true, _) => random.random_range(1..=2),
            (false, 1) => random.random_range(4..=7),
            (false, _) => random.random_range(2..=5),
        };
        shape += &if letters { "A" } else { "9" }.repeat(length);
    }
    shape
}

fn code(shape: &str, check: Option<&CheckScheme>, random: &mut ChaCha8Rng) -> String {
    let drawn = |c: char, random: &mut ChaCha8Rng| match c {
        '9' => char::from(random.random_range(b'0'..=b'9')),
        'A' => char::from(random.random_range(b'A'..=b'Z')),
        c => c,
    };
    let code: String = shape.chars().map(|c| drawn(c, random)).collect();
    match check.and_then(|check| check.check_character(&code)) {
        Some(check) => format!("{code}-{check}"),
        None => code,
    }
}

const MONTHS: [&str; 12] = [
    "JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC",
];

fn date(style: usize, random: &mut ChaCha8Rng) -> String {
    let (day, month, year) = (
        random.random_range(1..29),
        random.random_range(1..=12usize),
        random.random_range(1921..1979),
    );
    let name = MONTHS[month - 1];
    match style {
        0 => format!("{day} {name} {year}"),
        1 => format!("{day}.{month}.{}", year % 100),
        2 => format!("{day:02}/{month:02}/{:02}", year % 100),
        3 => format!("{name} {day}, {year}"),
        4 => format!("{day}-{name}-{}", year % 100),
        _ => format!("{name} {year}"),
    }
}

/// A layout of some of the fields.
fn layout(fields: &[(String, Holds)], random: &mut ChaCha8Rng) -> Layout {
    let at = |wanted: &[Holds]| -> Vec<usize> {
        let of = |holds: &Holds| fields.iter().position(|(_, own)| own == holds);
        wanted.iter().filter_map(of).collect()
    };
    let mut groups: Vec<Vec<usize>> = vec![
        at(&[Holds::Surname, Holds::Forenames]),
        at(&[Holds::FirstYear, Holds::LastYear]),
        at(&[Holds::Part, Holds::Parts]),
    ];
    let alone =
        (0..fields.len()).filter(|field| !groups.iter().flatten().any(|known| known == field));
    groups.extend(alone.map(|field| vec![field]).collect::<Vec<_>>());
    groups.retain(|group| !group.is_empty());
    groups.shuffle(random);
    let lines = random.random_range(1..=2);
    let second_line = random.random_range(1..groups.len().max(2));
    let mut pieces: Vec<Piece> = Vec::new();
    if random.random_bool(0.25) {
        pieces.push(Piece {
            fields: Vec::new(),
            label: HEADS.choose(random).expect("heads"),
            joint: "",
            behind: "",
            on_new_line: false,
            share: 1.0,
        });
    }
    // Something that differs from strip to strip and that nobody wants in the index.
    let stray = random
        .random_bool(0.15)
        .then(|| random.random_range(0..groups.len()));
    for (place, mut group) in groups.into_iter().enumerate() {
        if stray == Some(place) {
            pieces.push(Piece {
                fields: Vec::new(),
                label: STRAYS.choose(random).expect("strays"),
                joint: "",
                behind: "#",
                on_new_line: false,
                share: 1.0,
            });
        }
        let holds = &fields[group[0]].1;
        // What a strip may lack: never its name or number.
        let (labels, often, may_lack): (&[&'static str], f64, bool) = match holds {
            Holds::Surname | Holds::Forenames | Holds::Person { .. } => (&NAME_LABELS, 0.2, false),
            Holds::Code { .. } => (&NUMBER_LABELS, 0.6, false),
            Holds::FirstYear | Holds::LastYear | Holds::Years => (&YEAR_LABELS, 0.4, false),
            Holds::Date => (&DATE_LABELS, 0.6, true),
            Holds::Part | Holds::Parts => (&PART_LABELS, 0.6, true),
            Holds::Choice(_) => (&CHOICE_LABELS, 0.4, false),
            Holds::Title => (&TITLE_LABELS, 0.2, false),
        };
        let label = match random.random_bool(often) {
            true => labels.choose(random).expect("labels"),
            false => "",
        };
        let mut joint = ", ";
        if *holds == Holds::Surname {
            joint = [", ", ", ", " ", " - "].choose(random).expect("joints");
            if random.random_bool(0.25) {
                group.reverse();
                joint = " ";
            }
        }
        let behind = match label {
            "(" => ")",
            _ if random.random_bool(0.12) => [",", ";", " -", ":"].choose(random).expect("signs"),
            _ => "",
        };
        pieces.push(Piece {
            fields: group,
            label,
            joint,
            behind,
            on_new_line: lines == 2 && place == second_line,
            share: if may_lack && random.random_bool(0.2) {
                0.7
            } else {
                1.0
            },
        });
    }
    Layout {
        pieces,
        date: random.random_range(0..6),
        between_years: ["-", " - ", " TO ", "/"].choose(random).expect("joints"),
        short_last_year: random.random_bool(0.25),
        between_parts: [" OF ", "/", " OF ", "-"].choose(random).expect("joints"),
        gap: random.random_range(2..=4),
    }
}
