//! Jackets of 35 mm drawings, two rows of three images: which drawing stands where, and the layouts of the strip.

use super::calendar;
use super::collection::Settings;
use super::contents::{Contents, Fields, Filed, Particulars, Slot, csv_of, misfile};
use super::look::{Form, Made};
use super::register::{self, Drawing};
use super::typing::Gaps;
use super::{Stream, random, strange, weighted};
use crate::command::job_file::{ColumnLine, JobFile, PartLines, RosterLines, columns};
use jiff::civil::Date;
use rand::{RngExt, seq::SliceRandom};
use rand_chacha::ChaCha8Rng;

const RULES: (&str, &str) = (
    "rules/drawings.toml",
    include_str!("../../../rules/drawings.toml"),
);

pub(super) const PARTICULARS: Particulars = Particulars {
    stem: "drawing",
    fields: &["number", "title", "revision", "date", "part", "parts"],
    identifier: &["number"],
    slips: &[("number", 6), ("title", 3), ("date", 1)],
    rules: RULES,
    job,
    form: Form::Jacket35,
    strange: strange::DRAWINGS,
};

fn job() -> JobFile {
    let mut columns = columns(&[
        ("number", "number"),
        ("title", "title"),
        ("revision", "revision"),
    ]);
    columns.push(ColumnLine {
        field: "date".into(),
        column: None,
        note: Some("The strips write dates in several ways, the register in one.".into()),
    });
    JobFile {
        title: "Harbour board, drawing jackets".into(),
        sheets: "sheets".into(),
        rules: vec![RULES.0.into()],
        roster: Some(RosterLines {
            file: "roster.csv".into(),
            key: "number".into(),
            columns,
            key_note: None,
        }),
        naming: "{number}_{revision}_{part:0}of{parts:0}".into(),
        parts: Some(PartLines {
            of: vec!["number".into()],
            part: "part".into(),
            parts: "parts".into(),
        }),
        both: vec!["title".into(), "revision".into()],
        batches: Vec::new(),
    }
}

/// Share of jackets filmed before the latest revision of the register.
const OLDER: f64 = 0.12;
/// Share of drawings of one sheet whose strip says so.
const ONE_OF_ONE: f64 = 0.4;

/// A drawer of drawing jackets.
#[derive(Debug)]
pub(super) struct Drawings {
    register: Vec<Drawing>,
    strays: Vec<Drawing>,
    slots: Vec<Slot<Sheet>>,
}

#[derive(Debug, Clone, Copy)]
struct Sheet {
    drawing: Place,
    part: usize,
    /// The revision before the latest was filmed.
    older: bool,
    /// Says which sheet it is.
    counted: bool,
}

/// An index into the register or into the strays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Register(usize),
    Stray(usize),
}

impl Drawings {
    /// Plans which drawings there are, in the order of their numbers, and where each sheet stands.
    pub fn new(settings: &Settings) -> Self {
        let mut random = random(settings.seed, Stream::Drawer, 0);
        // A drawing has a sheet or more, so that no more drawings are needed than sheets.
        let register = register::register(settings.seed, settings.roster_size.max(settings.sheets));
        let mut members: Vec<usize> = (0..register.len()).collect();
        members.shuffle(&mut random);
        let mut taken = register
            .iter()
            .map(|drawing| drawing.number[..7].to_owned())
            .collect();
        let mut strays = Vec::new();
        let mut places: Vec<Place> = Vec::new();
        let mut total = 0;
        for member in members {
            if total >= settings.sheets {
                break;
            }
            if random.random_bool(settings.rates.not_in_roster) {
                let stray = register::stray(&mut random, &mut taken);
                total += stray.sheets;
                places.push(Place::Stray(strays.len()));
                strays.push(stray);
            } else {
                total += register[member].sheets;
                places.push(Place::Register(member));
            }
        }
        let drawing = |place: Place| match place {
            Place::Register(at) => &register[at],
            Place::Stray(at) => &strays[at],
        };
        places.sort_by_key(|&place| &drawing(place).number);
        let mut slots = Vec::new();
        for place in places {
            let sheets = drawing(place).sheets;
            let older = random.random_bool(OLDER);
            let counted = sheets > 1 || random.random_bool(ONE_OF_ONE);
            for part in 1..=sheets {
                let sheet = Sheet {
                    drawing: place,
                    part,
                    older,
                    counted,
                };
                slots.push(Slot::record(sheet, settings.rates.blank, &mut random));
            }
        }
        slots.truncate(settings.sheets);
        misfile(&mut slots, settings.rates.misfiled, &mut random);
        Self {
            register,
            strays,
            slots,
        }
    }

    fn drawing(&self, place: Place) -> &Drawing {
        match place {
            Place::Register(at) => &self.register[at],
            Place::Stray(at) => &self.strays[at],
        }
    }
}

impl Contents for Drawings {
    fn len(&self) -> usize {
        self.slots.len()
    }

    fn filed(&self, index: usize) -> Filed {
        let slot = &self.slots[index];
        let roster_number = match slot.what.drawing {
            Place::Register(at) => self.register[at].number.clone(),
            Place::Stray(_) => String::new(),
        };
        Filed {
            kind: slot.kind,
            roster_number,
            misfiled: slot.misfiled,
            made: Made::alone(PARTICULARS.form, index),
        }
    }

    fn layout(&self, _: usize, of_two_lines: bool, random: &mut ChaCha8Rng) -> &'static str {
        let layouts: &[&str] = if of_two_lines {
            &[NUMBER_OVER_TITLE, LABELLED]
        } else {
            &[ONE_LINE, NUMBER_OVER_TITLE, TITLE_FIRST, LABELLED]
        };
        layouts[random.random_range(0..layouts.len())]
    }

    fn values(&self, index: usize, layout: &str) -> Fields {
        let sheet = self.slots[index].what;
        let drawing = self.drawing(sheet.drawing);
        let (revision, date) = if sheet.older {
            drawing.revision_before()
        } else {
            (drawing.revision.as_str(), drawing.date)
        };
        let counted = |number: usize| {
            if sheet.counted {
                number.to_string()
            } else {
                String::new()
            }
        };
        [
            ("number", drawing.number.clone()),
            ("title", drawing.title.clone()),
            ("revision", revision.to_owned()),
            ("date", typed_date(date, layout)),
            ("part", counted(sheet.part)),
            ("parts", counted(drawing.sheets)),
        ]
        .into_iter()
        .collect()
    }

    fn lines(
        &self,
        _: usize,
        layout: &str,
        values: &Fields,
        random: &mut ChaCha8Rng,
    ) -> Vec<String> {
        lines(layout, values, random)
    }

    fn roster(&self) -> csv::Result<Option<Vec<u8>>> {
        csv_of(&self.register).map(Some)
    }
}

/// `NUMBER   TITLE   REV C   12 MAR 1957   SHEET n OF m`
const ONE_LINE: &str = "one-line";
/// `DRG. NO. NUMBER   REV. C   SHEET n OF m` over `TITLE   12.3.57`
const NUMBER_OVER_TITLE: &str = "number-over-title";
/// `TITLE   NUMBER/C   MAR 1957   SH. n/m`
const TITLE_FIRST: &str = "title-first";
/// `TITLE: TITLE` over `DRAWING NUMBER   ISSUE C   DATED 12-3-57   n OF m SHEETS`
const LABELLED: &str = "labelled";

fn typed_date(date: Date, layout: &str) -> String {
    let (day, month, short) = (date.day(), date.month(), date.year() % 100);
    match layout {
        NUMBER_OVER_TITLE => format!("{day}.{month}.{short:02}"),
        TITLE_FIRST => format!("{} {}", calendar::month(date), date.year()),
        LABELLED => format!("{day}-{month}-{short:02}"),
        _ => calendar::in_words(date),
    }
}

fn lines(layout: &str, values: &Fields, random: &mut ChaCha8Rng) -> Vec<String> {
    let value = |name| values.value(name);
    let (number, title, revision) = (value("number"), value("title"), value("revision"));
    let (date, part, parts) = (value("date"), value("part"), value("parts"));
    let gaps = Gaps::choose(random);
    let mut gap = || gaps.next(random);
    let (gap1, gap2, gap3, gap4) = (gap(), gap(), gap(), gap());
    let revised = weighted(random, &[("REV ", 0.6), ("REV. ", 0.3), ("REV", 0.1)]);
    let slash = weighted(random, &[("/", 0.85), (" / ", 0.15)]);
    // The sheet's own count comes last where there is one.
    let sheet = |gap: &str, label: &str, between: &str, end: &str| {
        if part.is_empty() {
            String::new()
        } else {
            format!("{gap}{label}{part}{between}{parts}{end}")
        }
    };
    match layout {
        NUMBER_OVER_TITLE => {
            let label = weighted(random, &[("DRG. NO. ", 0.6), ("DRG NO ", 0.4)]);
            let sheet = sheet(&gap2, "SHEET ", " OF ", "");
            vec![
                format!("{label}{number}{gap1}{revised}{revision}{sheet}"),
                format!("{title}{gap3}{date}"),
            ]
        }
        TITLE_FIRST => {
            let sheet = sheet(&gap3, "SH. ", slash, "");
            vec![format!(
                "{title}{gap1}{number}/{revision}{gap2}{date}{sheet}"
            )]
        }
        LABELLED => {
            let sheet = sheet(&gap3, "", " OF ", " SHEETS");
            vec![
                format!("TITLE: {title}"),
                format!("DRAWING {number}{gap1}ISSUE {revision}{gap2}DATED {date}{sheet}"),
            ]
        }
        _ => {
            let sheet = sheet(&gap4, "SHEET ", " OF ", "");
            vec![format!(
                "{number}{gap1}{title}{gap2}{revised}{revision}{gap3}{date}{sheet}"
            )]
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::demo::{Collection, CollectionKind, PlannedSheet};

    fn sheets(sheets: usize) -> Vec<PlannedSheet> {
        let settings = Settings {
            kind: CollectionKind::Drawings,
            seed: 5,
            sheets,
            ..Settings::default()
        };
        Collection::new(settings).sheets().collect()
    }

    #[test]
    fn jackets_of_a_drawing_follow_each_other_and_every_value_is_typed() {
        let sheets = sheets(3_000);
        for sheet in &sheets {
            let text = sheet.lines.join(" ");
            for (name, value) in sheet.typed.iter() {
                assert!(text.contains(value), "{name} {value} is not in {text}");
            }
        }
        let filed: Vec<&PlannedSheet> = sheets
            .iter()
            .filter(|sheet| !sheet.misfiled && !sheet.roster_number.is_empty())
            .collect();
        assert!(filed.is_sorted_by_key(|sheet| &sheet.roster_number));
        type Share = (&'static str, f64, fn(&PlannedSheet) -> bool);
        let shares: [Share; 2] = [
            ("mistyped number", 0.012, |sheet| {
                sheet
                    .slip
                    .as_ref()
                    .is_some_and(|slip| slip.starts_with("number"))
            }),
            ("without a count", 0.24, |sheet| {
                sheet.typed.value("part").is_empty()
            }),
        ];
        for (what, expected, is) in shares {
            let share = sheets.iter().filter(|sheet| is(sheet)).count() as f64 / 3_000.0;
            assert!((share / expected - 1.0).abs() < 0.5, "{what}: {share}");
        }
    }

    #[test]
    fn some_jackets_show_an_older_revision_than_the_register() {
        let settings = Settings {
            sheets: 1_000,
            ..Settings::default()
        };
        let drawings = Drawings::new(&settings);
        let older = drawings.slots.iter().filter(|slot| {
            let drawing = drawings.drawing(slot.what.drawing);
            slot.what.older && drawing.revision_before().0 != drawing.revision
        });
        let older = older.count();
        assert!((40..160).contains(&older), "{older} of 1000");
    }
}
