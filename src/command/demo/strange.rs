//! Strips that no starter rule covers: memos, stamps, and the usual values in another order under other labels.
//!
//! All invented, some of them near to a starter rule. They are drawn so that false fits can be counted: a rule that fits
//! one of them is wrong. Seeds below 1000 draw the first half of a list and the others the second half, so that what is tuned on the one is reported on
//! the other.

use super::contents::{Fields, Strange};
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;

/// Seeds from here on are for reporting.
const REPORTING: u64 = 1_000;

/// The layouts that a seed draws.
pub(super) fn of_seed(all: &'static [Strange], seed: u64) -> &'static [Strange] {
    let (tuning, reporting) = all.split_at(all.len() / 2);
    if seed < REPORTING { tuning } else { reporting }
}

const ROOMS: [&str; 6] = [
    "STRONG ROOM",
    "MUNIMENT ROOM",
    "SHIPPING OFFICE",
    "PILOT HOUSE",
    "TIME OFFICE",
    "STORES",
];
const MONTHS: [&str; 6] = ["JAN", "MAR", "MAY", "JUNE", "SEPT", "NOV"];

pub(super) const PERSONNEL: &[Strange] = &[
    memo,
    |_, random| (vec![serial(random)], &[]),
    |fields, random| {
        let [surname, forenames, number] = of(fields, ["surname", "forenames", "number"]);
        let grade = random.random_range(2..9);
        let lines = vec![format!(
            "FAMILY NAME: {surname}  GIVEN NAMES: {forenames}  GRADE {grade}  CARD {number}"
        )];
        (lines, &["surname", "forenames", "number"])
    },
    |fields, random| {
        let [surname, number] = of(fields, ["surname", "number"]);
        let lines = vec![
            format!("MEDICAL BOARD  {}", day(random)),
            format!("RE {surname}  NO {number}  SEE ALSO ACCIDENT BOOK"),
        ];
        (lines, &["surname", "number"])
    },
    |fields, random| {
        let [surname, forenames] = of(fields, ["surname", "forenames"]);
        let locker = random.random_range(10..400);
        let lines = vec![format!(
            "{surname}, {forenames}   LOCKER {locker}   KEY ISSUED {}",
            day(random)
        )];
        (lines, &["surname", "forenames"])
    },
    |fields, random| {
        let [surname, forenames, number] = of(fields, ["surname", "forenames", "number"]);
        let boat = random.random_range(2..30);
        let lines = vec![
            format!("BOARD NO. {number}    LIFEBOAT MUSTER {}", day(random)),
            format!("{forenames} {surname}    SERVED IN BOAT {boat}"),
        ];
        (lines, &["surname", "forenames", "number"])
    },
    loan,
    |_, random| {
        let (year, item) = (random.random_range(58..85), random.random_range(100..9_999));
        let shelf = random.random_range(1..40);
        let lines = vec![format!(
            "ACC. {year}/{item}   BAY {shelf}   BOX {}",
            item % 31
        )];
        (lines, &[])
    },
    |fields, random| {
        let [surname, forenames, from] = of(fields, ["surname", "forenames", "from"]);
        let lines = vec![
            format!("PENSIONER {forenames} {surname}"),
            format!("ENTD {from}  WIDOW PAID TO {}  CASE CLOSED", day(random)),
        ];
        (lines, &["surname", "forenames", "from"])
    },
    |fields, random| {
        let [surname, to] = of(fields, ["surname", "to"]);
        let folios = random.random_range(2..60);
        let lines = vec![format!(
            "{to}: {surname} -- DISCIPLINARY PAPERS, FOLIOS 1 TO {folios}, NOT TO BE COPIED"
        )];
        (lines, &["surname", "to"])
    },
    |fields, random| {
        let [surname, forenames, number] = of(fields, ["surname", "forenames", "number"]);
        let lines = vec![
            format!("BOARD NO. {number}    LAMP ROOM"),
            format!("{forenames} {surname}    BOOTS ISSUED {}", day(random)),
        ];
        (lines, &["surname", "forenames", "number"])
    },
    |fields, random| {
        let [surname, forenames, number] = of(fields, ["surname", "forenames", "number"]);
        let page = random.random_range(2..400);
        let lines = vec![format!(
            "{number}  {surname} {forenames}  PENSION FUND LEDGER  PAGE {page}"
        )];
        (lines, &["surname", "forenames", "number"])
    },
];

pub(super) const DRAWINGS: &[Strange] = &[
    memo,
    |_, random| (vec![serial(random)], &[]),
    |fields, random| {
        let [title, date] = of(fields, ["title", "date"]);
        let scale = [10, 20, 50, 100].choose(random).expect("scales");
        let lines = vec![
            format!("TITLE: {title}"),
            format!("SCALE 1 IN {scale}   DRAWN {date}   TRACED   CHECKED"),
        ];
        (lines, &["title", "date"])
    },
    |fields, random| {
        let [number] = of(fields, ["number"]);
        let lines = vec![format!(
            "SUPERSEDED BY {number}  WITHDRAWN {}  DO NOT ISSUE",
            day(random)
        )];
        (lines, &["number"])
    },
    |fields, random| {
        let [title] = of(fields, ["title"]);
        let tender = random.random_range(10..400);
        let lines = vec![format!(
            "{title}   TENDER {tender}   OPENED {}",
            day(random)
        )];
        (lines, &["title"])
    },
    loan,
    |fields, random| {
        let [title] = of(fields, ["title"]);
        let lot = random.random_range(1..60);
        let lines = vec![format!("CONTRACT {lot}, SITE PHOTOGRAPHS: {title}")];
        (lines, &["title"])
    },
    |fields, random| {
        let [number, title] = of(fields, ["number", "title"]);
        let prints = random.random_range(2..12);
        let lines = vec![
            format!(
                "{prints} PRINTS TO {}",
                ROOMS.choose(random).expect("rooms")
            ),
            format!("OF {title} ({number}), SIGNED FOR {}", day(random)),
        ];
        (lines, &["number", "title"])
    },
    |_, random| {
        let roll = random.random_range(100..999);
        let lines = vec![format!(
            "ROLL {roll}  FRAMES 0001 - {:04}  CAMERA 2",
            roll * 3
        )];
        (lines, &[])
    },
    |fields, random| {
        let [number, title] = of(fields, ["number", "title"]);
        let pattern = random.random_range(10..400);
        let lines = vec![
            format!("DRG. NO. {number}   MODEL SHOP COPY"),
            format!("{title}   PATTERN {pattern}"),
        ];
        (lines, &["number", "title"])
    },
];

pub(super) const PAYROLL: &[Strange] = &[
    memo,
    |_, random| (vec![serial(random)], &[]),
    |fields, random| {
        let [title] = of(fields, ["title"]);
        let (step, page) = (random.random_range(1..9), random.random_range(2..270));
        let lines = vec![format!(
            "JOB PR{:04}  STEP {step}  {title}  PAGES 1 THRU {page}  DRIVE B",
            page * 7
        )];
        (lines, &["title"])
    },
    |fields, random| {
        let [first, last] = of(fields, ["first", "last"]);
        let lines = vec![
            format!("RERUN AFTER TAPE FAULT {}", day(random)),
            format!("STARTS {first} STOPS {last} DISCARD WHEN NEXT SET COMES"),
        ];
        (lines, &["first", "last"])
    },
    |fields, random| {
        let [title, period] = of(fields, ["title", "period"]);
        let runs = random.random_range(3..40);
        let lines = vec![format!(
            "{title}   PERIOD ENDING {period}   INDEX TO RUNS 1 - {runs}"
        )];
        (lines, &["title", "period"])
    },
    loan,
    |_, random| {
        let volume = random.random_range(100_000..999_999);
        let lines = vec![format!(
            "VOL {volume}  GEN 0 OF 3  BLKSIZE 1330  {}",
            day(random)
        )];
        (lines, &[])
    },
    |fields, random| {
        let [period] = of(fields, ["period"]);
        let lines = vec![
            format!("AUDITORS COPY  {}", ROOMS.choose(random).expect("rooms")),
            format!(
                "ALL WAGES PAPERS FOR {period} ARE IN CABINET {}",
                random.random_range(2..9)
            ),
        ];
        (lines, &["period"])
    },
    |fields, random| {
        let [title, part] = of(fields, ["title", "part"]);
        let lines = vec![format!(
            "{title} * * MASTER NEGATIVE * * SET {part} DO NOT LEND * * {}",
            serial(random)
        )];
        (lines, &["title", "part"])
    },
    |fields, random| {
        let [title, first, last] = of(fields, ["title", "first", "last"]);
        let lines = vec![format!(
            "{first} - {last}   {title}   SPOOLED {}   COPY 2",
            day(random)
        )];
        (lines, &["title", "first", "last"])
    },
];

fn of<'a, const N: usize>(fields: &'a Fields, names: [&str; N]) -> [&'a str; N] {
    names.map(|name| fields.value(name))
}

/// Nothing of the record.
fn memo(_: &Fields, random: &mut ChaCha8Rng) -> (Vec<String>, &'static [&'static str]) {
    let room = ROOMS.choose(random).expect("rooms");
    let file = random.random_range(100..4_000);
    let lines = vec![format!(
        "MEMO TO HARBOUR MASTER RE {room} KEYS, FILE {file}/{}",
        char::from(b'A' + (file % 6) as u8)
    )];
    (lines, &[])
}

/// Nothing of the record.
fn loan(_: &Fields, random: &mut ChaCha8Rng) -> (Vec<String>, &'static [&'static str]) {
    let room = ROOMS.choose(random).expect("rooms");
    let lines = vec![
        format!("ON LOAN FROM {room}"),
        format!(
            "TO BE RETURNED BY {}, RING EXT. {}",
            day(random),
            random.random_range(20..99)
        ),
    ];
    (lines, &[])
}

/// As a numbering stamp prints it.
fn serial(random: &mut ChaCha8Rng) -> String {
    let number = random.random_range(1_000..999_999);
    ["", "NO ", "M/F "]
        .choose(random)
        .expect("heads")
        .to_string()
        + &format!("{number:07}")
}

fn day(random: &mut ChaCha8Rng) -> String {
    let month = MONTHS.choose(random).expect("months");
    format!(
        "{} {month} {}",
        random.random_range(1..29),
        random.random_range(60..85)
    )
}

#[cfg(test)]
mod tests {
    use crate::command::demo::{Collection, CollectionKind, Settings, UNKNOWN_LAYOUT};
    use crate::value::SheetKind;

    #[test]
    fn strange_strips_come_at_their_share_and_bear_the_fields_that_they_name() {
        for kind in CollectionKind::ALL {
            let settings = Settings {
                kind,
                seed: 8,
                sheets: 2_000,
                strange: 0.2,
                ..Settings::default()
            };
            let (mut records, mut strange, mut with_fields) = (0u32, 0u32, 0u32);
            for plan in Collection::new(settings).sheets() {
                records += u32::from(plan.kind == SheetKind::Record);
                if plan.layout != UNKNOWN_LAYOUT {
                    continue;
                }
                strange += 1;
                let text = plan.lines.join(" ");
                with_fields += u32::from(plan.typed.iter().any(|(_, value)| !value.is_empty()));
                for (name, value) in plan.typed.iter() {
                    assert!(text.contains(value), "{name} {value} is not in {text}");
                }
                assert!(plan.lines.len() < 3, "{text}");
            }
            let share = f64::from(strange) / f64::from(records);
            assert!((0.17..0.23).contains(&share), "{kind:?}: {share}");
            assert!(
                with_fields * 3 > strange,
                "{kind:?}: {with_fields} of {strange}"
            );
        }
    }

    #[test]
    fn what_is_reported_on_was_not_tuned_on() {
        for kind in CollectionKind::ALL {
            let has = |seed, words: &str| {
                let collection = Collection::new(Settings {
                    kind,
                    seed,
                    sheets: 400,
                    strange: 1.0,
                    ..Settings::default()
                });
                collection.sheets().any(|plan| plan.text().contains(words))
            };
            for (words, in_tuning) in [("MEMO TO", true), ("ON LOAN FROM", false)] {
                assert_eq!(has(9, words), in_tuning, "{kind:?}: {words}");
                assert_eq!(has(1_009, words), !in_tuning, "{kind:?}: {words}");
            }
        }
    }
}
