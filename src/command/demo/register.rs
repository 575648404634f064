//! The harbour board's drawing register: invented drawings of invented works, from a seed.

use super::calendar;
use super::{Stream, random, weighted};
use jiff::civil::{Date, date};
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;
use serde::{Serialize, Serializer};
use std::collections::HashSet;

/// One row of the register.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Drawing {
    /// Two letters of the discipline, four digits of the work, two of the drawing within it: `CR-1042-03`.
    pub number: String,
    pub title: String,
    /// The latest: a letter without I and O.
    pub revision: String,
    /// Of the latest revision; written `12 MAR 1957`.
    #[serde(serialize_with = "in_words")]
    pub date: Date,
    /// The department that drew it.
    pub department: String,
    /// Sheets that the drawing has, each in a jacket of its own.
    pub sheets: usize,
}

fn in_words<S: Serializer>(date: &Date, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(&calendar::in_words(*date))
}

/// Years of latest revisions.
const FIRST_YEAR: i16 = 1938;
const LAST_YEAR: i16 = 1979;
/// Revision letters; I and O are left out, as they look like figures (common practice; no source).
const REVISIONS: [&str; 8] = ["A", "B", "C", "D", "E", "F", "G", "H"];
/// Drawings of one work, at most.
const IN_A_WORK: u32 = 24;

/// A department, its discipline's letters, the works that it draws, and their parts.
struct Discipline {
    letters: &'static str,
    department: &'static str,
    works: &'static [&'static str],
    parts: &'static [&'static str],
}

const DISCIPLINES: [Discipline; 8] = [
    Discipline {
        letters: "CR",
        department: "CRANES",
        works: &[
            "QUAY CRANE",
            "COALING CRANE",
            "GANTRY CRANE",
            "FLOATING CRANE",
            "COAL HOIST",
            "LUFFING CRANE",
        ],
        parts: &[
            "JIB",
            "SLEWING GEAR",
            "HOIST DRUM",
            "COUNTERWEIGHT",
            "DRIVER'S CABIN",
            "TRAVEL BOGIE",
            "CRANE RAILS",
            "BRAKE GEAR",
        ],
    },
    Discipline {
        letters: "QW",
        department: "QUAYS",
        works: &[
            "NORTH QUAY",
            "CORN QUAY",
            "TIMBER WHARF",
            "FISH QUAY",
            "EAST JETTY",
            "COAL STAITHE",
        ],
        parts: &[
            "FENDERS",
            "BOLLARDS",
            "SHEET PILING",
            "CAPPING BEAM",
            "PAVING",
            "DRAINS",
            "LADDERS AND CHAINS",
            "TIE RODS",
        ],
    },
    Discipline {
        letters: "LG",
        department: "LOCK GATES",
        works: &[
            "INNER LOCK",
            "OUTER LOCK",
            "BARGE LOCK",
            "DRY DOCK",
            "TIDAL BASIN",
        ],
        parts: &[
            "MITRE POST",
            "HEEL POST",
            "SLUICE",
            "GATE MACHINERY",
            "ANCHORAGE",
            "SILL",
            "CULVERT",
            "CAISSON",
        ],
    },
    Discipline {
        letters: "DR",
        department: "DREDGERS",
        works: &[
            "BUCKET DREDGER",
            "SUCTION DREDGER",
            "HOPPER BARGE",
            "GRAB DREDGER",
            "MUD PONTOON",
        ],
        parts: &[
            "BUCKET LADDER",
            "HOPPER DOORS",
            "PUMP CASING",
            "MOORING WINCH",
            "BOILER SEATING",
            "SPUD",
            "TOP TUMBLER",
            "SHAFTING",
        ],
    },
    Discipline {
        letters: "EL",
        department: "ELECTRICAL",
        works: &[
            "SUBSTATION",
            "QUAY LIGHTING",
            "SIGNAL STATION",
            "LEADING LIGHT",
            "PUMP HOUSE",
        ],
        parts: &[
            "WIRING",
            "CABLE DUCTS",
            "SWITCHBOARD",
            "TRANSFORMER",
            "EARTHING",
            "LANTERN",
            "FUSE BOARD",
        ],
    },
    Discipline {
        letters: "SH",
        department: "SHEDS",
        works: &[
            "TRANSIT SHED",
            "GRAIN SILO",
            "COLD STORE",
            "CUSTOMS HALL",
            "BONDED STORE",
        ],
        parts: &[
            "ROOF TRUSSES",
            "SLIDING DOORS",
            "FOUNDATIONS",
            "FLOOR SLAB",
            "GUTTERS",
            "CONVEYOR",
            "LOADING BANK",
        ],
    },
    Discipline {
        letters: "RW",
        department: "RAILWAYS",
        works: &[
            "SORTING SIDINGS",
            "TURNTABLE",
            "SWING BRIDGE",
            "WEIGHBRIDGE",
            "ENGINE SHED",
        ],
        parts: &[
            "POINTS",
            "DECK",
            "PIVOT PIER",
            "TRACK",
            "BUFFER STOPS",
            "GIRDERS",
            "PIT",
        ],
    },
    Discipline {
        letters: "BW",
        department: "BREAKWATERS",
        works: &[
            "WEST BREAKWATER",
            "PIERHEAD",
            "SEA WALL",
            "SLIPWAY",
            "GROYNE",
        ],
        parts: &[
            "PARAPET",
            "RUBBLE MOUND",
            "BLOCKS",
            "TOE",
            "ACCESS ROAD",
            "CRADLE",
        ],
    },
];

/// What is drawn of a part.
const VIEWS: [&str; 12] = [
    "DETAILS",
    "GENERAL ARRANGEMENT",
    "SECTIONS",
    "ELEVATIONS",
    "PLAN",
    "ASSEMBLY",
    "REINFORCEMENT",
    "SETTING OUT",
    "REPAIRS",
    "AS FITTED",
    "DETAILS OF BOLTS",
    "SECTION A-A",
];

/// `count` drawings from a seed, in the order of their numbers.
pub fn register(seed: u64, count: usize) -> Vec<Drawing> {
    let mut random = random(seed, Stream::Roster, 0);
    let mut drawings = Vec::with_capacity(count);
    let mut taken = HashSet::new();
    while drawings.len() < count {
        drawings.extend(work(&mut random, &mut taken));
    }
    drawings.truncate(count);
    drawings.sort_by(|a, b| a.number.cmp(&b.number));
    drawings
}

/// A drawing that is not in the register, of a work that is in none of its rows.
pub(super) fn stray(random: &mut ChaCha8Rng, taken: &mut HashSet<String>) -> Drawing {
    let drawings = work(random, taken);
    drawings.into_iter().next().expect("a work has drawings")
}

fn day(random: &mut ChaCha8Rng) -> Date {
    let year = random.random_range(FIRST_YEAR..=LAST_YEAR);
    let month = random.random_range(1..=12);
    date(year, month, random.random_range(1..=28))
}

/// The drawings of one work; its number is added to those taken.
fn work(random: &mut ChaCha8Rng, taken: &mut HashSet<String>) -> Vec<Drawing> {
    let discipline = DISCIPLINES.choose(random).expect("disciplines");
    let number = loop {
        let number = format!(
            "{}-{:04}",
            discipline.letters,
            random.random_range(100..4_000)
        );
        if taken.insert(number.clone()) {
            break number;
        }
    };
    let work = discipline.works.choose(random).expect("works");
    let work = match random.random_range(0..3) {
        0 => format!("{work} NO {}", random.random_range(1..=9)),
        1 => format!("{work} {}", random.random_range(1..=9)),
        _ => (*work).to_owned(),
    };
    let drawn = random.random_range(2..=IN_A_WORK);
    let mut titles = HashSet::new();
    let first = day(random);
    (1..=drawn)
        .filter_map(|at| {
            let part = discipline.parts.choose(random).expect("parts");
            let view = VIEWS.choose(random).expect("views");
            let title = match weighted(random, &[(0, 0.8), (1, 0.1), (2, 0.1)]) {
                0 => format!("{work} {part} {view}"),
                1 => format!("{work}, {part}"),
                _ => format!("{work} {view}"),
            };
            if !titles.insert(title.clone()) {
                return None;
            }
            let revision = weighted(
                random,
                &[
                    (0, 0.35),
                    (1, 0.25),
                    (2, 0.18),
                    (3, 0.1),
                    (4, 0.06),
                    (6, 0.04),
                    (7, 0.02),
                ],
            );
            // Drawn within some years of each other.
            let date = calendar::before(first, random.random_range(0..60));
            Some(Drawing {
                number: format!("{number}-{at:02}"),
                title,
                revision: REVISIONS[revision].to_owned(),
                date,
                department: discipline.department.to_owned(),
                sheets: weighted(random, &[(1, 0.62), (2, 0.2), (3, 0.11), (5, 0.07)]),
            })
        })
        .collect()
}

impl Drawing {
    /// The revision before the latest and its date; the latest where there is none before.
    pub(super) fn revision_before(&self) -> (&str, Date) {
        let latest = REVISIONS.iter().position(|known| *known == self.revision);
        match latest {
            Some(at) if at > 0 => (
                REVISIONS[at - 1],
                calendar::before(self.date, 5 + at as u16),
            ),
            _ => (&self.revision, self.date),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_unique_and_titles_too_within_a_work() {
        let register = register(3, 2_000);
        let shape = regex::Regex::new(r"^[A-Z]{2}-\d{4}-\d{2}$").unwrap();
        let mut numbers = HashSet::new();
        let mut titles = HashSet::new();
        for drawing in &register {
            assert!(shape.is_match(&drawing.number), "{}", drawing.number);
            assert!(numbers.insert(&drawing.number), "{}", drawing.number);
            assert!(
                titles.insert((&drawing.number[..7], &drawing.title)),
                "{}",
                drawing.title
            );
            assert!(drawing.title.len() <= 60, "{}", drawing.title);
            let (revision, date) = drawing.revision_before();
            let is_first = drawing.revision == "A";
            assert_eq!(is_first, revision == drawing.revision);
            assert_eq!(is_first, date == drawing.date);
            assert!(date <= drawing.date);
        }
        assert_eq!(register.len(), 2_000);
    }

    #[test]
    fn a_stray_drawing_is_in_no_row() {
        let register = register(3, 300);
        let mut random = random(3, Stream::Drawer, 0);
        let mut taken = register
            .iter()
            .map(|drawing| drawing.number[..7].to_owned())
            .collect();
        for _ in 0..50 {
            let stray = stray(&mut random, &mut taken);
            assert!(
                register
                    .iter()
                    .all(|drawing| drawing.number != stray.number)
            );
        }
    }
}
