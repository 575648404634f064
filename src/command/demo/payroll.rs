//! Payroll registers on computer-output microfiche: runs of fiche, one report after another, month by month.
//!
//! A run's fiche follow each other: the same report and period, key ranges that go on, a count that goes up. There is no
//! roster. A title sheet may stand before a run, and targets before and after a few.

use super::calendar;
use super::collection::Settings;
use super::contents::{Contents, Fields, Filed, Particulars, Slot, misfile};
use super::look::{Form, Grid, Made};
use super::people;
use super::typing::Gaps;
use super::{Stream, random, strange, weighted};
use crate::command::job_file::{JobFile, PartLines};
use crate::value::SheetKind;
use jiff::ToSpan;
use jiff::civil::{Date, date};
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;

const RULES: (&str, &str) = (
    "rules/payroll.toml",
    include_str!("../../../rules/payroll.toml"),
);

pub(super) const PARTICULARS: Particulars = Particulars {
    stem: "fiche",
    fields: &["title", "period", "first", "last", "part", "parts"],
    identifier: &["title", "period", "part"],
    // A program types the headings; who keyed its control card may still slip.
    slips: &[("title", 3), ("period", 1), ("first", 2), ("last", 2)],
    rules: RULES,
    job,
    form: Form::Fiche,
    strange: strange::PAYROLL,
};

fn job() -> JobFile {
    JobFile {
        title: "Harbour board, payroll registers".into(),
        sheets: "sheets".into(),
        rules: vec![RULES.0.into()],
        roster: None,
        naming: "{title}_{period}_{part:0}of{parts:0}".into(),
        parts: Some(PartLines {
            of: vec!["title".into(), "period".into()],
            part: "part".into(),
            parts: "parts".into(),
        }),
        both: Vec::new(),
        batches: Vec::new(),
    }
}

/// Reports, and whether their pages follow the employees' names rather than their numbers.
const REPORTS: [(&str, bool); 8] = [
    ("PAYROLL REGISTER", true),
    ("DEDUCTIONS REGISTER", true),
    ("OVERTIME LISTING", false),
    ("PENSION CONTRIBUTIONS", true),
    ("TAX STATEMENT", false),
    ("EARNINGS LEDGER", false),
    ("LEAVE BALANCES", true),
    ("TIMEKEEPERS REPORT", false),
];
/// Fiche of a run, with weights.
const FICHE: [(usize, f32); 7] = [
    (1, 0.1),
    (2, 0.15),
    (3, 0.2),
    (5, 0.25),
    (8, 0.15),
    (12, 0.1),
    (14, 0.05),
];
/// Share of months in which a report is run.
const RUN: f64 = 0.6;
/// Share of runs with a title sheet before them, and with a target before and after them.
const TITLE_SHEET: f64 = 0.25;
const TARGETS: f64 = 0.06;
/// Share of fiche that begin with the name with which the one before ended.
const NAME_GOES_ON: f64 = 0.15;
/// Years of the first month.
const YEARS: std::ops::Range<i16> = 1_966..1_980;

/// A drawer of fiche.
#[derive(Debug)]
pub(super) struct Payroll {
    runs: Vec<Run>,
    slots: Vec<Slot<Sheet>>,
}

/// One report of one period.
#[derive(Debug)]
struct Run {
    title: &'static str,
    period: Date,
    /// First and last key of each fiche.
    ranges: Vec<(String, String)>,
    /// As its program prints it.
    layout: &'static str,
}

#[derive(Debug, Clone, Copy)]
struct Sheet {
    run: usize,
    what: What,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum What {
    /// A fiche of the run, from 0.
    Fiche(usize),
    Title,
    Target(&'static str),
}

impl Payroll {
    /// Plans runs until there are sheets enough, and where each sheet stands.
    pub fn new(settings: &Settings) -> Self {
        let mut random = random(settings.seed, Stream::Drawer, 0);
        let names = people::surnames();
        // A report's program prints its headings one way, whatever the month.
        let layouts: Vec<&'static str> = REPORTS
            .iter()
            .map(|_| *LAYOUTS.choose(&mut random).expect("layouts"))
            .collect();
        let (mut runs, mut slots): (Vec<Run>, Vec<Slot<Sheet>>) = (Vec::new(), Vec::new());
        let year = random.random_range(YEARS);
        let mut month = date(year, random.random_range(1..=12), 1);
        while slots.len() < settings.sheets {
            for (&(title, by_name), layout) in REPORTS.iter().zip(&layouts) {
                if !random.random_bool(RUN) {
                    continue;
                }
                let fiche = weighted(&mut random, &FICHE);
                let ranges = if by_name {
                    name_ranges(&names, fiche, &mut random)
                } else {
                    number_ranges(fiche, &mut random)
                };
                let run = runs.len();
                let targets = random.random_bool(TARGETS);
                let mut add = |what, kind| {
                    slots.push(Slot {
                        what: Sheet { run, what },
                        kind,
                        misfiled: false,
                    });
                };
                if targets {
                    let text = TARGETS_BEFORE.choose(&mut random).expect("targets");
                    add(What::Target(text), SheetKind::Target);
                }
                if random.random_bool(TITLE_SHEET) {
                    add(What::Title, SheetKind::Divider);
                }
                for part in 0..fiche {
                    let blank = random.random_bool(settings.rates.blank);
                    let kind = if blank {
                        SheetKind::Blank
                    } else {
                        SheetKind::Record
                    };
                    add(What::Fiche(part), kind);
                }
                if targets {
                    add(What::Target("END OF FILE"), SheetKind::Target);
                }
                runs.push(Run {
                    title,
                    period: month.last_of_month(),
                    ranges,
                    layout,
                });
            }
            month += 1.month();
        }
        slots.truncate(settings.sheets);
        misfile(&mut slots, settings.rates.misfiled, &mut random);
        Self { runs, slots }
    }
}

impl Payroll {
    /// This layout, or the sheet's own where this one is for sheets of another kind.
    fn fitting<'a>(&self, index: usize, layout: &'a str) -> &'a str {
        let Sheet { run, what } = self.slots[index].what;
        match what {
            What::Title => TITLE_SHEET_LAYOUT,
            What::Fiche(_) if !LAYOUTS.contains(&layout) => self.runs[run].layout,
            What::Fiche(_) | What::Target(_) => layout,
        }
    }
}

/// Alphabetical ranges that follow each other without a gap.
fn name_ranges(names: &[&str], count: usize, random: &mut ChaCha8Rng) -> Vec<(String, String)> {
    // Shares of the alphabet, uneven as fiche fill up.
    let ends: Vec<usize> = (1..=count)
        .map(|part| {
            let room = names.len() / count;
            let end = part * room - random.random_range(1..=room / 4 + 1);
            if part == count {
                names.len() - 1 - random.random_range(0..3)
            } else {
                end
            }
        })
        .collect();
    let mut from = random.random_range(0..3);
    ends.into_iter()
        .map(|end| {
            let range = (names[from].to_owned(), names[end].to_owned());
            from = end + usize::from(!random.random_bool(NAME_GOES_ON));
            range
        })
        .collect()
}

/// Ranges of employee numbers that follow each other; numbers of people who left are missing.
fn number_ranges(count: usize, random: &mut ChaCha8Rng) -> Vec<(String, String)> {
    let mut from = random.random_range(10_001..10_400);
    (0..count)
        .map(|_| {
            let to = from + random.random_range(300..1_900);
            let range = (from.to_string(), to.to_string());
            from = to + random.random_range(1..12);
            range
        })
        .collect()
}

impl Contents for Payroll {
    fn len(&self) -> usize {
        self.slots.len()
    }

    fn filed(&self, index: usize) -> Filed {
        let slot = &self.slots[index];
        let Sheet { run, what } = slot.what;
        let last = self.runs[run].ranges.len() - 1;
        Filed {
            kind: slot.kind,
            roster_number: String::new(),
            misfiled: slot.misfiled,
            made: Made {
                form: PARTICULARS.form,
                batch: run,
                filled: match what {
                    What::Fiche(at) if at < last => Some(1.0),
                    What::Fiche(_) => None,
                    // Its own page, or nothing.
                    What::Title => Some(1.0 / Grid::COMPUTER_OUTPUT.frames() as f32),
                    What::Target(_) => Some(0.0),
                },
            },
        }
    }

    fn layout(&self, index: usize, of_two_lines: bool, _: &mut ChaCha8Rng) -> &'static str {
        let Sheet { run, what } = self.slots[index].what;
        match what {
            What::Title => TITLE_SHEET_LAYOUT,
            What::Target(_) => TARGET_LAYOUT,
            What::Fiche(_) if of_two_lines => [TITLE_OVER_RANGE, LABELLED][run % 2],
            What::Fiche(_) => self.runs[run].layout,
        }
    }

    fn values(&self, index: usize, layout: &str) -> Fields {
        let Sheet { run, what } = self.slots[index].what;
        let layout = self.fitting(index, layout);
        let run = &self.runs[run];
        let title = || ("title", run.title.to_owned());
        let period = || ("period", typed_date(run.period, layout));
        let mut fields = Fields::empty(PARTICULARS.fields);
        let values = match what {
            What::Target(_) => Vec::new(),
            What::Title => vec![title(), period()],
            What::Fiche(at) => {
                let (first, last) = run.ranges[at].clone();
                let parts = run.ranges.len();
                // Zeros before the number, as the program's field has a fixed width.
                let count = |number: usize| match layout {
                    TITLE_OVER_RANGE => format!("{number:02}"),
                    _ => number.to_string(),
                };
                vec![
                    title(),
                    period(),
                    ("first", first),
                    ("last", last),
                    ("part", count(at + 1)),
                    ("parts", count(parts)),
                ]
            }
        };
        for (name, value) in values {
            if let Some(field) = fields.get_mut(name) {
                *field = value;
            }
        }
        fields
    }

    fn lines(
        &self,
        index: usize,
        layout: &str,
        values: &Fields,
        random: &mut ChaCha8Rng,
    ) -> Vec<String> {
        match self.slots[index].what.what {
            What::Target(text) => vec![text.to_owned()],
            What::Title | What::Fiche(_) => lines(self.fitting(index, layout), values, random),
        }
    }

    fn roster(&self) -> csv::Result<Option<Vec<u8>>> {
        Ok(None)
    }
}

/// `TITLE   PERIOD ENDING 31 MAR 1974   FIRST - LAST   FICHE n OF m`
const ONE_LINE: &str = "one-line";
/// `FIRST - LAST  TITLE  31/03/74  n/m`
const RANGE_FIRST: &str = "range-first";
/// `TITLE   PERIOD ENDING 31 MAR 1974` over `FIRST TO LAST   FICHE 0n OF 0m`
const TITLE_OVER_RANGE: &str = "title-over-range";
/// `REPORT: TITLE   DATE: 31/03/74` over `FROM: FIRST   TO: LAST   FICHE: n/m`
const LABELLED: &str = "labelled";
const LAYOUTS: [&str; 4] = [ONE_LINE, RANGE_FIRST, TITLE_OVER_RANGE, LABELLED];
/// `TITLE   PERIOD ENDING 31 MAR 1974` alone.
const TITLE_SHEET_LAYOUT: &str = "title-sheet";
const TARGET_LAYOUT: &str = "target";
const TARGETS_BEFORE: [&str; 4] = [
    "START OF FILE",
    "RESOLUTION TEST TARGET",
    "START OF FILE * * * HARBOUR BOARD COMPUTER SECTION",
    "TEST FICHE - DENSITY AND RESOLUTION",
];

fn typed_date(date: Date, layout: &str) -> String {
    let (day, month, year) = (date.day(), date.month(), date.year());
    match layout {
        RANGE_FIRST | LABELLED => format!("{day:02}/{month:02}/{:02}", year % 100),
        _ => format!("{day:02} {} {year}", calendar::month(date)),
    }
}

fn lines(layout: &str, values: &Fields, random: &mut ChaCha8Rng) -> Vec<String> {
    let value = |name| values.value(name);
    let (title, period, first) = (value("title"), value("period"), value("first"));
    let (last, part, parts) = (value("last"), value("part"), value("parts"));
    let gaps = Gaps::choose(random);
    let mut gap = || gaps.next(random);
    let (gap1, gap2, gap3) = (gap(), gap(), gap());
    match layout {
        TITLE_SHEET_LAYOUT => vec![format!("{title}{gap1}PERIOD ENDING {period}")],
        TITLE_OVER_RANGE => vec![
            format!("{title}{gap1}PERIOD ENDING {period}"),
            format!("{first} TO {last}{gap2}FICHE {part} OF {parts}"),
        ],
        RANGE_FIRST => vec![format!(
            "{first} - {last}{gap1}{title}{gap2}{period}{gap3}{part}/{parts}"
        )],
        LABELLED => vec![
            format!("REPORT: {title}{gap1}DATE: {period}"),
            format!("FROM: {first}{gap2}TO: {last}{gap3}FICHE: {part}/{parts}"),
        ],
        _ => vec![format!(
            "{title}{gap1}PERIOD ENDING {period}{gap2}{first} - {last}{gap3}FICHE {part} OF {parts}"
        )],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::demo::{Collection, CollectionKind, PlannedSheet, Rates};
    use std::collections::HashSet;

    fn sheets() -> Vec<PlannedSheet> {
        let settings = Settings {
            kind: CollectionKind::Payroll,
            seed: 6,
            sheets: 3_000,
            rates: Rates {
                misfiled: 0.0,
                slips: 0.0,
                ..Rates::default()
            },
            ..Settings::default()
        };
        Collection::new(settings).sheets().collect()
    }

    #[test]
    fn fiche_of_a_run_follow_each_other() {
        let sheets = sheets();
        let mut followed = 0;
        for pair in sheets.windows(2) {
            let of = |at: usize, name| pair[at].typed.value(name).to_owned();
            let number = |at, name| of(at, name).parse::<usize>().unwrap_or(0);
            let is_record = pair.iter().all(|sheet| sheet.kind == SheetKind::Record);
            if !is_record || number(1, "part") == 1 {
                continue;
            }
            followed += 1;
            assert_eq!(number(1, "part"), number(0, "part") + 1);
            for same in ["title", "period", "parts"] {
                assert_eq!(of(0, same), of(1, same));
            }
            assert!(of(0, "first") <= of(0, "last"));
            assert!(of(0, "last") <= of(1, "first"));
            assert!(pair[0].layout == pair[1].layout);
            assert!(number(1, "part") <= number(1, "parts"));
        }
        assert!(followed > 1_500, "{followed}");
    }

    #[test]
    fn every_value_is_typed_and_no_two_fiche_are_the_same() {
        let sheets = sheets();
        let mut seen = HashSet::new();
        for sheet in &sheets {
            let text = sheet.lines.join(" ");
            for (name, value) in sheet.typed.iter() {
                assert!(text.contains(value), "{name} {value} is not in {text}");
            }
            let is_record = sheet.kind == SheetKind::Record;
            assert!(!is_record || seen.insert(sheet.typed.clone()), "{text}");
        }
        for kind in [SheetKind::Divider, SheetKind::Target, SheetKind::Blank] {
            let count = sheets.iter().filter(|sheet| sheet.kind == kind).count();
            assert!((10..300).contains(&count), "{count} of kind {kind}");
        }
    }
}
