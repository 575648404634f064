//! A drawer of jackets: which sheet stands where and what is typed on it, without pictures.

use super::fonts::FontUse;
use super::look::{Look, Noise, Trouble};
use super::people::{self, Person};
use super::typing::{Fields, Layout, in_three, slip};
use super::{Stream, random, weighted};
use crate::value::SheetKind;
use rand::{RngExt, seq::SliceRandom};
use rand_chacha::ChaCha8Rng;

/// How often a drawer's sheets are out of order, as shares of all sheets (of all people for `not_in_roster`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rates {
    /// Stands where it does not belong.
    pub misfiled: f64,
    /// Its person is not in the roster.
    pub not_in_roster: f64,
    /// Nothing is typed on its strip.
    pub blank: f64,
    /// One field is mistyped.
    pub slips: f64,
}

impl Default for Rates {
    /// Invented, of the size that bureaus speak of (common practice; no source).
    fn default() -> Self {
        Self {
            misfiled: 0.01,
            not_in_roster: 0.03,
            blank: 0.01,
            slips: 0.02,
        }
    }
}

/// The order in which a drawer is filed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Filing {
    #[default]
    Surname,
    Number,
}

/// What a collection is drawn from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    pub seed: u64,
    pub sheets: usize,
    /// Share of sheets at heavy noise, 0 to 1, spread evenly over the drawer.
    pub heavy_share: f64,
    pub fonts: FontUse,
    /// People in the roster; grows where the sheets need more.
    pub roster_size: usize,
    pub filing: Filing,
    pub rates: Rates,
    /// Every sheet has this trouble and no other, at default noise.
    pub trouble: Option<Trouble>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            seed: 1,
            sheets: 24,
            heavy_share: 0.5,
            fonts: FontUse::Tuning,
            roster_size: 3_000,
            filing: Filing::Surname,
            rates: Rates::default(),
            trouble: None,
        }
    }
}

impl Settings {
    /// The sheets that come with the crate, in `demo-data`: rates raised, so that few sheets show each kind of trouble.
    pub fn committed() -> Self {
        Self {
            rates: Rates {
                misfiled: 0.06,
                not_in_roster: 0.12,
                blank: 0.05,
                slips: 0.08,
            },
            ..Self::default()
        }
    }
}

/// Sheets a person has, with weights; 1.67 on average.
const PARTS: [(usize, f32); 4] = [(1, 0.55), (2, 0.28), (3, 0.12), (4, 0.05)];
/// Share of people with several sheets whose every sheet shows the whole service; the others' sheets share it out.
const WHOLE_SERVICE: f64 = 0.6;
/// Share of typists who break a second line in two.
const THREE_LINES: f64 = 0.02;
/// A misfiled sheet moves at least this many places.
const MISFILED_BY: usize = 3;

/// A drawer of sheets, planned; see [`Settings`].
#[derive(Debug, Clone)]
pub struct Collection {
    settings: Settings,
    roster: Vec<Person>,
    outsiders: Vec<Person>,
    slots: Vec<Slot>,
}

/// One sheet's place in the drawer.
#[derive(Debug, Clone, Copy)]
struct Slot {
    owner: Owner,
    part: usize,
    parts: usize,
    misfiled: bool,
    blank: bool,
}

/// Whose sheet it is: an index into the roster or into the outsiders.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Owner {
    Roster(usize),
    Outsider(usize),
}

/// One sheet as it will be drawn.
#[derive(Debug, Clone)]
pub struct PlannedSheet {
    pub seed: u64,
    /// Drawer position from 0.
    pub index: usize,
    pub noise: Noise,
    /// Record or blank.
    pub kind: SheetKind,
    pub layout: Layout,
    /// The typed lines, top to bottom; none on a blank strip.
    pub lines: Vec<String>,
    /// What is typed on the other sheet where two are in the image.
    pub beside: Vec<String>,
    /// As typed; all empty on a blank strip.
    pub typed: Fields,
    /// Whose sheet it is, as the roster has it or would have it.
    pub person: Person,
    pub in_roster: bool,
    pub misfiled: bool,
    /// Which field was mistyped and how.
    pub slip: Option<String>,
    pub look: Look,
}

impl Collection {
    /// Plans the drawer: who has how many sheets and where each stands. What is typed and how it looks is planned sheet
    /// by sheet, in [`Collection::sheet`].
    pub fn new(settings: Settings) -> Self {
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
        let mut slots = Vec::new();
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
        for (owner, parts) in owners {
            for part in 1..=parts {
                let blank = random.random_bool(settings.rates.blank);
                slots.push(Slot {
                    owner,
                    part,
                    parts,
                    misfiled: false,
                    blank,
                });
            }
        }
        slots.truncate(settings.sheets);
        for at in 0..slots.len() {
            let to = random.random_range(0..slots.len());
            if random.random_bool(settings.rates.misfiled) && at.abs_diff(to) >= MISFILED_BY {
                let slot = slots.remove(at);
                slots.insert(
                    to,
                    Slot {
                        misfiled: true,
                        ..slot
                    },
                );
            }
        }
        Self {
            settings,
            roster,
            outsiders,
            slots,
        }
    }

    /// What it was drawn from.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The board's people; their order is the roster file's.
    pub fn roster(&self) -> &[Person] {
        &self.roster
    }

    /// How many sheets the drawer holds.
    pub fn len(&self) -> usize {
        self.slots.len()
    }

    pub fn is_empty(&self) -> bool {
        self.slots.is_empty()
    }

    /// All sheets in drawer order, planned one at a time.
    pub fn sheets(&self) -> impl Iterator<Item = PlannedSheet> {
        (0..self.len()).map(|index| self.sheet(index))
    }

    /// The sheet at a drawer position from 0; panics beyond the last.
    pub fn sheet(&self, index: usize) -> PlannedSheet {
        let Settings {
            seed,
            heavy_share,
            rates,
            fonts,
            trouble,
            ..
        } = self.settings;
        let slot = self.slots[index];
        let (person, in_roster) = self.person(slot);
        // Heavy wherever the running share passes a whole number: even spread, exact count.
        let heavy_until = |count: usize| (count as f64 * heavy_share + 1e-9).floor();
        let heavy = trouble.is_none() && heavy_until(index + 1) > heavy_until(index);
        let noise = if heavy { Noise::Heavy } else { Noise::Default };
        let mut random = random(seed, Stream::Typing, index);
        let layouts = match trouble {
            Some(Trouble::TouchingLines | Trouble::ThreeLines) => &Layout::OF_TWO_LINES[..],
            _ => &Layout::ALL[..],
        };
        let layout = layouts[random.random_range(0..layouts.len())];
        let mut typed = Fields::default();
        let mut lines = Vec::new();
        let mut slipped = None;
        if !slot.blank {
            typed = self.fields(slot);
            if random.random_bool(rates.slips) {
                slipped = Some(slip(&mut typed, &mut random));
            }
            lines = layout.lines(&typed, &mut random);
            let three = match trouble {
                None => random.random_bool(THREE_LINES),
                Some(trouble) => trouble == Trouble::ThreeLines,
            };
            if three {
                lines = in_three(lines);
            }
        }
        let look = Look::choose((seed, index), noise, fonts, &lines, trouble);
        let beside = match look.scan.second {
            None => Vec::new(),
            Some(_) => self.neighbour(index, layout, &mut random),
        };
        PlannedSheet {
            seed,
            index,
            noise,
            kind: if slot.blank {
                SheetKind::Blank
            } else {
                SheetKind::Record
            },
            layout,
            look,
            lines,
            beside,
            typed,
            person: person.clone(),
            in_roster,
            misfiled: slot.misfiled,
            slip: slipped,
        }
    }

    /// Whose sheet it is, and whether the roster has them.
    fn person(&self, slot: Slot) -> (&Person, bool) {
        match slot.owner {
            Owner::Roster(at) => (&self.roster[at], true),
            Owner::Outsider(at) => (&self.outsiders[at], false),
        }
    }

    /// What should be typed on a sheet.
    fn fields(&self, slot: Slot) -> Fields {
        let (person, _) = self.person(slot);
        let (from, to) = self.service(person, slot);
        Fields {
            surname: person.surname.clone(),
            forenames: person.forenames.clone(),
            number: person.number.clone(),
            from: from.to_string(),
            to: to.to_string(),
            part: slot.part.to_string(),
            parts: slot.parts.to_string(),
        }
    }

    /// What is typed on the next sheet, or on the one before the last.
    fn neighbour(&self, index: usize, layout: Layout, random: &mut ChaCha8Rng) -> Vec<String> {
        let next = if index + 1 < self.len() {
            index + 1
        } else {
            index.saturating_sub(1)
        };
        layout.lines(&self.fields(self.slots[next]), random)
    }

    /// The years typed on this part's strip.
    fn service(&self, person: &Person, slot: Slot) -> (u16, u16) {
        let Person { entered, left, .. } = *person;
        // All sheets of a person agree on how they show the service.
        let key = person.number[..6].parse().unwrap_or(0);
        let whole = random(self.settings.seed, Stream::Person, key).random_bool(WHOLE_SERVICE);
        let years = usize::from(left - entered);
        if whole || years < slot.parts {
            return (entered, left);
        }
        let bound = |part: usize| entered + (years * part / slot.parts) as u16;
        (bound(slot.part - 1), bound(slot.part))
    }
}

impl PlannedSheet {
    /// The image's file name; drawer positions count from 1.
    pub fn file_name(&self) -> String {
        let extension = self.look.format.extension();
        format!("jacket-{:05}.{extension}", self.index + 1)
    }

    /// What is typed, lines joined by ` / `.
    pub fn text(&self) -> String {
        self.lines.join(" / ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_are_those_of_the_settings() {
        let settings = Settings {
            seed: 5,
            sheets: 20_000,
            heavy_share: 0.25,
            ..Settings::default()
        };
        let collection = Collection::new(settings);
        assert_eq!(collection.len(), 20_000);
        let sheets: Vec<_> = collection.sheets().collect();
        let share = |is: fn(&PlannedSheet) -> bool| {
            sheets.iter().filter(|sheet| is(sheet)).count() as f64 / sheets.len() as f64
        };
        // Bounds: three standard deviations of a binomial share of 20,000, wider where sheets of a person go together.
        type Case = (&'static str, f64, f64, fn(&PlannedSheet) -> bool);
        let cases: [Case; 5] = [
            ("misfiled", 0.01, 0.003, |s| s.misfiled),
            ("not in roster", 0.03, 0.006, |s| !s.in_roster),
            ("blank", 0.01, 0.003, |s| s.kind == SheetKind::Blank),
            ("slips", 0.02, 0.004, |s| s.slip.is_some()),
            ("heavy", 0.25, 0.0001, |s| s.noise == Noise::Heavy),
        ];
        for (what, expected, tolerance, is) in cases {
            let found = share(is);
            assert!(
                (found - expected).abs() <= tolerance,
                "{what}: {found}, expected {expected}"
            );
        }
    }

    #[test]
    fn the_drawer_is_in_order_but_for_the_misfiled() {
        for (filing, key) in [
            (
                Filing::Surname,
                (|s| s.person.surname.clone()) as fn(&PlannedSheet) -> String,
            ),
            (Filing::Number, |s| s.person.number.clone()),
        ] {
            let settings = Settings {
                sheets: 2_000,
                filing,
                ..Settings::default()
            };
            let keys: Vec<String> = Collection::new(settings)
                .sheets()
                .filter(|sheet| !sheet.misfiled)
                .map(|sheet| key(&sheet))
                .collect();
            assert!(keys.is_sorted(), "{filing:?}");
        }
    }

    #[test]
    fn a_sheet_does_not_depend_on_the_others_being_asked_for() {
        let settings = Settings {
            sheets: 50,
            ..Settings::default()
        };
        let all: Vec<_> = Collection::new(settings)
            .sheets()
            .map(|s| s.text())
            .collect();
        assert_eq!(Collection::new(settings).sheet(37).text(), all[37]);
    }
}
