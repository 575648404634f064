//! Values that mean harm: in names, in the index, as dates, in entries.

use crate::Plan;
use crate::hands::{HandKeyed, keyed, of_kind, record};
use crate::run::Tally;
use crate::support::rows;
use headword::delivery::{NamePattern, Record, RecordValue, csv_of, is_portable, name_sheets};
use headword::journal::{Act, KeyedValue, Store};
use headword::value::{DateStyle, Edtf, SheetId, SheetKind, SheetState, typed_dates};
use rand::seq::{IndexedRandom, SliceRandom};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::HashSet;
use std::path::Path;
use std::process::Command;

/// What programs, terminals, file systems and spreadsheets take for more than text.
const PIECES: [&str; 40] = [
    "../",
    "/etc/passwd",
    "..\\",
    "C:",
    "CON",
    "nul",
    "COM1.txt",
    "-rf",
    ".hidden",
    "\0",
    "\u{1b}[31m",
    "\u{202e}gpj",
    "\u{9b}2J",
    "\r\n",
    "\n",
    "\t",
    "%00",
    "%0A",
    "=1+2",
    "+44",
    "-1972",
    "@SUM(A1)",
    "\"",
    "'",
    ",",
    ";",
    "|",
    "007",
    "1E5",
    "1/2",
    "O'BRIEN",
    "Łoś",
    "Ⅷ",
    "ＡＢ",
    "\u{feff}",
    "\u{fffd}",
    "e\u{301}",
    "_x0041_",
    "$(reboot)",
    "🂡",
];

pub fn hostile(random: &mut ChaCha8Rng) -> String {
    if random.random_bool(0.02) {
        return "X".repeat(10_000);
    }
    let pieces = 0..random.random_range(0..5);
    pieces
        .map(|_| match random.random_bool(0.8) {
            true => (*PIECES.choose(random).expect("pieces")).to_owned(),
            false => random.random::<char>().to_string(),
        })
        .collect()
}

const PATTERNS: [&str; 4] = [
    "{a}",
    "{a:upper}_{b}[_{c:0}]",
    "{a}.{b:04}.tif",
    "{sheet}-{c:lower}",
];

/// Portable, different for every sheet whatever the case, and the same in whatever order the sheets come.
pub fn names(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
    for round in 0..500 * plan.times {
        let mut records: Vec<Record> = (0..20)
            .map(|number| Record {
                sheet: SheetId::new(format!("{}{number}.png", hostile(&mut random))),
                kind: SheetKind::Record,
                state: SheetState::Settled,
                values: ["a", "b", "c"]
                    .map(|field| RecordValue {
                        field: field.to_owned(),
                        as_typed: hostile(&mut random),
                        ..RecordValue::default()
                    })
                    .into(),
                ..Record::default()
            })
            .collect();
        let pattern = PATTERNS[round % PATTERNS.len()];
        let parsed = NamePattern::parse(pattern, &["a", "b", "c"]).expect("a pattern");
        let named = tally.tries(pattern, || name_sheets(&records, &parsed));
        let Some(named) = named else { continue };
        records.shuffle(&mut random);
        let again = name_sheets(&records, &parsed);
        tally.tried += records.len() - 1;
        let mut taken = HashSet::new();
        for record in &records {
            let name = named.get(&record.sheet).unwrap_or_default();
            let is_right = is_portable(name)
                && taken.insert(name.to_ascii_lowercase())
                && again.get(&record.sheet) == Some(name);
            tally.holds(is_right, || {
                format!("{name:?} of {:?}", record.sheet.as_str())
            });
        }
    }
    tally
}

/// A CSV file as Python's csv module reads it; none where there is no Python.
fn read_by_python(file: &Path) -> Option<Vec<Vec<String>>> {
    let program = "import csv, json, sys\n\
                   csv.field_size_limit(10**9)\n\
                   print(json.dumps(list(csv.reader(open(sys.argv[1], newline='', encoding='utf-8')))))";
    let done = Command::new("python3")
        .args(["-c", program])
        .arg(file)
        .output()
        .ok()?;
    done.status
        .success()
        .then(|| serde_json::from_slice(&done.stdout).expect("JSON of Python's"))
}

/// Tables of hostile values written and read by an independent reader.
pub fn csv(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed + 1);
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("t.csv");
    for _ in 0..plan.times {
        let table: Vec<Vec<String>> = (0..1_000)
            // Never a row of one empty value, which is no row to many readers; the index has more columns.
            .map(|_| [(); 3].map(|()| hostile(&mut random)).into())
            .collect();
        std::fs::write(&file, csv_of(&table)).expect("a file");
        let Some(read) = read_by_python(&file) else {
            return Tally::left_out("python3 is not there");
        };
        tally.tried += 3 * table.len();
        tally.holds(read.len() == table.len(), || format!("{} rows", read.len()));
        for (written, read) in table.iter().flatten().zip(read.iter().flatten()) {
            tally.holds(written == read, || {
                format!("{written:?} is read as {read:?}")
            });
        }
    }
    tally
}

/// Hostile values keyed, indexed by the program and read by Python.
pub fn index(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed + 2);
    for _ in 0..plan.times {
        let mut job = HandKeyed::of_sheets(60, "");
        let mut values = Vec::new();
        for number in 1..=60 {
            let mut one = record("x JO", None);
            let value = hostile(&mut random);
            one.fields[0].value = KeyedValue::Text(value.clone());
            one.fields[2].value = KeyedValue::Text(format!("{}{number}", hostile(&mut random)));
            job.does(number, "mia", 1, keyed(vec![one]));
            values.push(value);
        }
        let path = job.path().to_str().expect("a path").to_owned();
        tally.runs(&["check", &path]);
        tally.runs(&["index", &path]);
        let index = job.file("out/index/index.csv");
        let column = rows(&index)
            .into_iter()
            .map(|row| row["surname_as_typed"].clone());
        let mut readers = vec![column.collect::<Vec<String>>()];
        readers.extend(read_by_python(&index).map(|rows| {
            let column = rows.iter().skip(1).map(|row| row[1].clone());
            column.collect()
        }));
        if readers.len() == 1 {
            tally.note = "python3 is not there; read by the crate csv only".to_owned();
        }
        for read in readers {
            tally.tried += values.len();
            // An unreadable character is kept as it is; all else too.
            let lost = values
                .iter()
                .zip(&read)
                .filter(|(value, read)| value != read);
            let lost: Vec<_> = lost.collect();
            tally.holds(lost.is_empty() && read.len() == values.len(), || {
                format!("{lost:?}")
            });
        }
    }
    tally
}

const EDTF: [&str; 16] = [
    "1952",
    "1952-03",
    "1952-03-12",
    "195X",
    "1952?",
    "1950~",
    "1952-03%",
    "1952/1961",
    "1952-03/..",
    "../1959",
    "[1952,1954]",
    "{1667..1672}",
    "Y-17E7",
    "2001-21",
    "1985-04-12T23:20:30Z",
    "/1959",
];
const DATES: [&str; 12] = [
    "1952-61",
    "03/52 - 11/61",
    "JAN 1952 TO DEC 1961",
    "12 MAR 1950",
    "TO 1959",
    "1980-",
    "C. 1950",
    "195?",
    "1Q 1952",
    "WINTER 1952/53",
    "N.D.",
    "3/4/52",
];

fn mutated(sound: &str, random: &mut ChaCha8Rng) -> String {
    let mut text: Vec<char> = sound.chars().collect();
    for _ in 0..random.random_range(0..4) {
        let at = random.random_range(0..=text.len());
        let c = *b"0123456789-/.,?~%XY[]{}TZ:+ E"
            .choose(random)
            .expect("signs");
        match random.random_range(0..3) {
            0 => text.insert(at, char::from(c)),
            1 if at < text.len() => text[at] = char::from(c),
            _ => text.truncate(at),
        }
    }
    text.into_iter().collect()
}

/// What is understood is printed so that it is understood alike.
pub fn dates(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed + 3);
    let mut understood = 0;
    for round in 0..50_000 * plan.times {
        let is_edtf = round % 2 == 0;
        let sound = match is_edtf {
            true => EDTF.choose(&mut random),
            false => DATES.choose(&mut random),
        };
        let text = mutated(sound.expect("dates"), &mut random);
        let parsed = tally.tries(&text, || match is_edtf {
            true => text.parse::<Edtf>().ok(),
            false => {
                let dates = typed_dates(&text, &DateStyle::default());
                dates.ok().map(|dates| dates.edtf)
            }
        });
        if let Some(Some(edtf)) = parsed {
            understood += 1;
            let again = edtf.to_string().parse::<Edtf>();
            tally.holds(again.as_ref() == Ok(&edtf), || {
                format!("{text:?} gives {edtf}")
            });
        }
    }
    tally.note = format!("{understood} understood");
    tally
}

/// Random acts; the state that is kept is what a replay of the entries gives.
pub fn replayed(plan: Plan) -> Tally {
    let mut tally = Tally::default();
    let mut random = ChaCha8Rng::seed_from_u64(plan.seed + 4);
    let mut job = HandKeyed::of_sheets(10, "");
    let mut numbers = Vec::new();
    for _ in 0..2_000 * plan.times {
        let reason = hostile(&mut random);
        let act = match random.random_range(0..7) {
            0 => Act::Held { reason },
            1 => Act::SetAside { reason },
            2 => Act::Returned,
            3 => Act::Noted { note: reason },
            4 => of_kind(SheetKind::Divider),
            5 if !numbers.is_empty() => Act::Undone {
                entry: *numbers.choose(&mut random).expect("numbers"),
            },
            _ => keyed(vec![record("A B", None)]),
        };
        let sheet = SheetId::new(format!("{:04}.png", random.random_range(1..=10)));
        let pass = random.random_range(1..=2);
        let last = job.store.state(&sheet, pass).expect("a state").last;
        let entry = crate::batch::entry(&sheet, "mia", pass, 0, act);
        // Undoing somebody else's entry and the like is refused, which is no fault.
        let told = tally.tries("an entry", || job.store.append(&entry, last));
        numbers.extend(told.and_then(Result::ok));
    }
    let wrong = job.store.wrong_states().expect("states");
    tally.holds(wrong.is_empty(), || format!("{wrong:?}"));
    tally.note = format!("{} accepted", numbers.len());
    tally
}
