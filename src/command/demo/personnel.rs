//! Personnel jackets: whose sheet stands where, and the four layouts of the strip.

use super::collection::{Filing, Settings};
use super::contents::{Contents, Fields, Filed, Particulars, Slot, csv_of, misfile};
use super::look::{Form, Made};
use super::people::{self, Person};
use super::typing::Gaps;
use super::{Stream, random, strange, weighted};
use crate::command::job_file::{JobFile, PartLines, RosterLines, columns};
use crate::command::new::STARTER_RULES;
use rand::{RngExt, seq::SliceRandom};
use rand_chacha::ChaCha8Rng;

pub(super) const PARTICULARS: Particulars = Particulars {
    stem: "jacket",
    fields: &[
        "surname",
        "forenames",
        "number",
        "from",
        "to",
        "part",
        "parts",
    ],
    identifier: &["number"],
    slips: &[
        ("surname", 4),
        ("forenames", 2),
        ("number", 2),
        ("from", 1),
        ("to", 1),
    ],
    rules: STARTER_RULES,
    job,
    form: Form::Jacket16,
    strange: strange::PERSONNEL,
};

fn job() -> JobFile {
    JobFile {
        title: "Harbour board, personnel jackets".into(),
        sheets: "sheets".into(),
        rules: vec![STARTER_RULES.0.into()],
        roster: Some(RosterLines {
            file: "roster.csv".into(),
            key: "number".into(),
            columns: columns(&[
                ("surname", "surname"),
                ("forenames", "forenames"),
                ("number", "number"),
                ("from", "entered"),
                ("to", "left"),
            ]),
            key_note: None,
        }),
        naming: "{number}_{surname:upper}_{part:0}of{parts:0}".into(),
        parts: Some(PartLines {
            of: vec!["number".into()],
            part: "part".into(),
            parts: "parts".into(),
        }),
        both: vec!["surname".into(), "forenames".into()],
        batches: Vec::new(),
    }
}

/// Sheets a person has, with weights; 1.67 on average.
const PARTS: [(usize, f32); 4] = [(1, 0.55), (2, 0.28), (3, 0.12), (4, 0.05)];
/// Share of people with several sheets whose every sheet shows the whole service; the others' sheets share it out.
const WHOLE_SERVICE: f64 = 0.6;

/// A drawer of personnel jackets.
#[derive(Debug)]
pub(super) struct Personnel {
    seed: u64,
    roster: Vec<Person>,
    outsiders: Vec<Person>,
    slots: Vec<Slot<Sheet>>,
}

#[derive(Debug, Clone, Copy)]
struct Sheet {
    owner: Owner,
    part: usize,
    parts: usize,
}

/// Whose sheet it is: an index into the roster or into the outsiders.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Owner {
    Roster(usize),
    Outsider(usize),
}

impl Personnel {
    /// Plans who has how many sheets and where each stands.
    pub fn new(settings: &Settings) -> Self {
        let mut random = random(settings.seed, Stream::Drawer, 0);
        let mut parts = Vec::new();
        let mut total = 0;
        while total < settings.sheets {
            let count = weighted(&mut random, &PARTS);
            total += count;
            parts.push(count);
        }
        let roster = people::roster(settings.seed, settings.roster_size.max(parts.len()));
        let mut members: Vec<usize> = (0..roster.len()).collect();
        members.shuffle(&mut random);

        let mut taken = roster.iter().map(|person| person.number.clone()).collect();
        let mut outsiders = Vec::new();
        let mut owners: Vec<(Owner, usize)> = parts
            .into_iter()
            .zip(members)
            .map(|(count, member)| {
                if !random.random_bool(settings.rates.not_in_roster) {
                    return (Owner::Roster(member), count);
                }
                outsiders.push(people::outsider(&mut random, &roster, &mut taken));
                (Owner::Outsider(outsiders.len() - 1), count)
            })
            .collect();
        let person = |owner: Owner| match owner {
            Owner::Roster(index) => &roster[index],
            Owner::Outsider(index) => &outsiders[index],
        };
        owners.sort_by_key(|&(owner, _)| {
            let Person {
                number,
                surname,
                forenames,
                ..
            } = person(owner);
            match settings.filing {
                Filing::Surname => (surname, forenames, number),
                Filing::Number => (number, surname, forenames),
            }
        });
        let mut slots = Vec::new();
        for (owner, parts) in owners {
            for part in 1..=parts {
                let sheet = Sheet { owner, part, parts };
                slots.push(Slot::record(sheet, settings.rates.blank, &mut random));
            }
        }
        slots.truncate(settings.sheets);
        misfile(&mut slots, settings.rates.misfiled, &mut random);
        Self {
            seed: settings.seed,
            roster,
            outsiders,
            slots,
        }
    }

    fn person(&self, owner: Owner) -> &Person {
        match owner {
            Owner::Roster(at) => &self.roster[at],
            Owner::Outsider(at) => &self.outsiders[at],
        }
    }

    /// The years typed on this part's strip.
    fn service(&self, sheet: Sheet) -> (u16, u16) {
        let person = self.person(sheet.owner);
        let Person { entered, left, .. } = *person;
        // All sheets of a person agree on how they show the service.
        let key = person.number[..6].parse().unwrap_or(0);
        let whole = random(self.seed, Stream::Person, key).random_bool(WHOLE_SERVICE);
        let years = usize::from(left - entered);
        if whole || years < sheet.parts {
            return (entered, left);
        }
        let bound = |part: usize| entered + (years * part / sheet.parts) as u16;
        (bound(sheet.part - 1), bound(sheet.part))
    }
}

impl Contents for Personnel {
    fn len(&self) -> usize {
        self.slots.len()
    }

    fn filed(&self, index: usize) -> Filed {
        let slot = &self.slots[index];
        let roster_number = match slot.what.owner {
            Owner::Roster(at) => self.roster[at].number.clone(),
            Owner::Outsider(_) => String::new(),
        };
        Filed {
            kind: slot.kind,
            roster_number,
            misfiled: slot.misfiled,
            made: Made::alone(PARTICULARS.form, index),
        }
    }

    fn layout(&self, _: usize, of_two_lines: bool, random: &mut ChaCha8Rng) -> &'static str {
        let layouts: &[Layout] = if of_two_lines {
            &Layout::OF_TWO_LINES
        } else {
            &Layout::ALL
        };
        layouts[random.random_range(0..layouts.len())].name()
    }

    fn values(&self, index: usize, _: &str) -> Fields {
        let sheet = self.slots[index].what;
        let person = self.person(sheet.owner);
        let (from, to) = self.service(sheet);
        [
            ("surname", person.surname.clone()),
            ("forenames", person.forenames.clone()),
            ("number", person.number.clone()),
            ("from", from.to_string()),
            ("to", to.to_string()),
            ("part", sheet.part.to_string()),
            ("parts", sheet.parts.to_string()),
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
        let known = Layout::ALL.into_iter().find(|known| known.name() == layout);
        known.unwrap_or(Layout::OneLine).lines(values, random)
    }

    fn roster(&self) -> csv::Result<Option<Vec<u8>>> {
        csv_of(&self.roster).map(Some)
    }
}

/// How the fields stand on the strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Layout {
    /// `SURNAME, FORENAMES   NUMBER   FROM-TO   n OF m`
    OneLine,
    /// `SURNAME, FORENAMES` over `NUMBER   FROM-TO   n OF m`
    NameOverNumber,
    /// `NUMBER  SURNAME FORENAMES  FROM TO TO  n/m`
    NumberFirst,
    /// `BOARD NO. NUMBER    SHEET n OF m` over `FORENAMES SURNAME    SERVED FROM - TO`
    Labelled,
}

impl Layout {
    const ALL: [Self; 4] = [
        Self::OneLine,
        Self::NameOverNumber,
        Self::NumberFirst,
        Self::Labelled,
    ];

    const OF_TWO_LINES: [Self; 2] = [Self::NameOverNumber, Self::Labelled];

    fn name(self) -> &'static str {
        match self {
            Self::OneLine => "one-line",
            Self::NameOverNumber => "name-over-number",
            Self::NumberFirst => "number-first",
            Self::Labelled => "labelled",
        }
    }

    /// The typed lines, the gaps between the fields varied.
    fn lines(self, fields: &Fields, random: &mut ChaCha8Rng) -> Vec<String> {
        let value = |name| fields.value(name);
        let (surname, forenames, number) = (value("surname"), value("forenames"), value("number"));
        let (from, to, part, parts) = (value("from"), value("to"), value("part"), value("parts"));
        let gaps = Gaps::choose(random);
        let (gap1, gap2, gap3) = (gaps.next(random), gaps.next(random), gaps.next(random));
        let comma = weighted(random, &[(", ", 0.85), (",", 0.08), (",  ", 0.07)]);
        let tight = weighted(random, &[("-", 0.75), (" - ", 0.25)]);
        let loose = weighted(random, &[(" - ", 0.75), ("-", 0.25)]);
        let slash = weighted(random, &[("/", 0.85), (" / ", 0.15)]);
        match self {
            Self::OneLine => vec![format!(
                "{surname}{comma}{forenames}{gap1}{number}{gap2}{from}{tight}{to}{gap3}{part} OF {parts}"
            )],
            Self::NameOverNumber => vec![
                format!("{surname}{comma}{forenames}"),
                format!("{number}{gap1}{from}{tight}{to}{gap2}{part} OF {parts}"),
            ],
            Self::NumberFirst => {
                let (gap1, gap2, gap3) = (&gap1[..2], &gap2[..2], &gap3[..2]);
                vec![format!(
                    "{number}{gap1}{surname} {forenames}{gap2}{from} TO {to}{gap3}{part}{slash}{parts}"
                )]
            }
            Self::Labelled => {
                let label = weighted(random, &[("BOARD NO. ", 0.8), ("BOARD NO ", 0.2)]);
                vec![
                    format!("{label}{number}{gap1}SHEET {part} OF {parts}"),
                    format!("{forenames} {surname}{gap2}SERVED {from}{loose}{to}"),
                ]
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_drawer_is_in_order_but_for_the_misfiled() {
        type Case = (Filing, fn(&Person) -> &String);
        let keys: [Case; 2] = [
            (Filing::Surname, |person| &person.surname),
            (Filing::Number, |person| &person.number),
        ];
        for (filing, key) in keys {
            let drawer = Personnel::new(&Settings {
                sheets: 2_000,
                filing,
                ..Settings::default()
            });
            let filed = drawer.slots.iter().filter(|slot| !slot.misfiled);
            let keys: Vec<&String> = filed
                .map(|slot| key(drawer.person(slot.what.owner)))
                .collect();
            assert!(keys.is_sorted(), "{filing:?}");
        }
    }
}
