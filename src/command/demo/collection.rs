//! A drawer of sheets: what is typed on each and how it looks, without pictures.

use super::contents::{CollectionKind, Contents, Fields, Filed};
use super::fonts::FontUse;
use super::look::{Look, Noise, Trouble};
use super::typing::{in_three, slip};
use super::{Stream, random, strange};
use crate::value::SheetKind;
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;
use std::sync::Arc;

/// How often a drawer's sheets are out of order, as shares of all sheets (of all people or drawings for `not_in_roster`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rates {
    /// Stands where it does not belong.
    pub misfiled: f64,
    /// Its person or drawing is not in the roster.
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

/// The order in which a drawer of personnel jackets is filed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Filing {
    #[default]
    Surname,
    Number,
}

/// What a collection is drawn from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    pub kind: CollectionKind,
    pub seed: u64,
    pub sheets: usize,
    /// Share of sheets at heavy noise, 0 to 1, spread evenly over the drawer.
    pub heavy_share: f64,
    pub fonts: FontUse,
    /// Rows in the roster, where there is one; grows where the sheets need more.
    pub roster_size: usize,
    /// For personnel jackets; the others have an order of their own.
    pub filing: Filing,
    pub rates: Rates,
    /// Share of records whose strip has a layout that no starter rule covers, 0 to 1.
    pub strange: f64,
    /// Every sheet has this trouble and no other, at default noise.
    pub trouble: Option<Trouble>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            kind: CollectionKind::default(),
            seed: 1,
            sheets: 24,
            heavy_share: 0.5,
            fonts: FontUse::Tuning,
            roster_size: 3_000,
            filing: Filing::Surname,
            rates: Rates::default(),
            strange: 0.0,
            trouble: None,
        }
    }
}

impl Settings {
    /// The sheets that come with the crate, in `demo-data`: rates raised, so that few sheets show each kind of trouble.
    pub fn committed(kind: CollectionKind) -> Self {
        let base = Self {
            kind,
            rates: Rates {
                misfiled: 0.06,
                not_in_roster: 0.12,
                blank: 0.05,
                slips: 0.08,
            },
            ..Self::default()
        };
        match kind {
            CollectionKind::Personnel => base,
            // Seeds whose six sheets are of several layouts and take little room.
            CollectionKind::Drawings => Self {
                seed: 13,
                sheets: 6,
                roster_size: 400,
                ..base
            },
            CollectionKind::Payroll => Self {
                seed: 11,
                sheets: 6,
                ..base
            },
        }
    }
}

/// Share of typists who break a second line in two.
const THREE_LINES: f64 = 0.02;

/// What the truth says of a layout that no starter rule covers.
pub const UNKNOWN_LAYOUT: &str = "unknown";

/// A drawer of sheets, planned; see [`Settings`].
#[derive(Debug, Clone)]
pub struct Collection {
    settings: Settings,
    contents: Arc<dyn Contents>,
}

/// One sheet as it will be drawn.
#[derive(Debug, Clone)]
pub struct PlannedSheet {
    /// What sort of collection it is from.
    pub collection: CollectionKind,
    pub seed: u64,
    /// Drawer position from 0.
    pub index: usize,
    pub noise: Noise,
    pub kind: SheetKind,
    /// The layout's name; [`UNKNOWN_LAYOUT`] where no starter rule covers it.
    pub layout: &'static str,
    /// The typed lines, top to bottom; none on a blank strip.
    pub lines: Vec<String>,
    /// What is typed on the other sheet where two are in the image.
    pub beside: Vec<String>,
    /// As typed; empty where the strip has no such value, all of them on a blank one.
    pub typed: Fields,
    /// The key of its row in the roster, as the roster has it; empty where it is in no row.
    pub roster_number: String,
    pub misfiled: bool,
    /// Which field was mistyped and how.
    pub slip: Option<String>,
    pub look: Look,
}

impl Collection {
    /// Plans the drawer: what there is and where each sheet stands. What is typed and how it looks is planned sheet by
    /// sheet, in [`Collection::sheet`].
    pub fn new(settings: Settings) -> Self {
        Self {
            settings,
            contents: settings.kind.contents(&settings),
        }
    }

    /// What it was drawn from.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The client's list as CSV with a header; none where the client has none.
    ///
    /// # Errors
    /// Rows that CSV cannot hold; none of those made here.
    pub fn roster(&self) -> csv::Result<Option<Vec<u8>>> {
        self.contents.roster()
    }

    /// How many sheets the drawer holds.
    pub fn len(&self) -> usize {
        self.contents.len()
    }

    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// All sheets in drawer order, planned one at a time.
    pub fn sheets(&self) -> impl Iterator<Item = PlannedSheet> {
        (0..self.len()).map(|index| self.sheet(index))
    }

    /// The sheet at a drawer position from 0; panics beyond the last.
    pub fn sheet(&self, index: usize) -> PlannedSheet {
        let Settings {
            kind: collection,
            seed,
            heavy_share,
            rates,
            fonts,
            trouble,
            ..
        } = self.settings;
        let particulars = collection.particulars();
        let Filed {
            kind,
            roster_number,
            misfiled,
            made,
        } = self.contents.filed(index);
        // Heavy wherever the running share passes a whole number: even spread, exact count.
        let heavy_until = |count: usize| (count as f64 * heavy_share + 1e-9).floor();
        let heavy = trouble.is_none() && heavy_until(index + 1) > heavy_until(index);
        let noise = if heavy { Noise::Heavy } else { Noise::Default };
        let mut random = random(seed, Stream::Typing, index);
        let of_two_lines = matches!(trouble, Some(Trouble::TouchingLines | Trouble::ThreeLines));
        let typed_as = self.contents.layout(index, of_two_lines, &mut random);
        let mut layout = typed_as;
        let mut typed = Fields::empty(particulars.fields);
        let mut lines = Vec::new();
        let mut slipped = None;
        if kind != SheetKind::Blank {
            typed = self.contents.values(index, layout);
            if random.random_bool(rates.slips) && kind == SheetKind::Record {
                slipped = Some(slip(&mut typed, particulars.slips, &mut random));
            }
            lines = self.contents.lines(index, layout, &typed, &mut random);
            let three = match trouble {
                None => random.random_bool(THREE_LINES),
                Some(trouble) => trouble == Trouble::ThreeLines,
            };
            if three {
                lines = in_three(lines);
            }
        }
        if kind == SheetKind::Record
            && let Some((strange, fields)) = self.strange(index, &typed)
        {
            layout = UNKNOWN_LAYOUT;
            lines = strange;
            slipped = slipped.filter(|slip| fields.iter().any(|field| slip.starts_with(field)));
            typed = typed.only(fields);
        }
        let look = Look::choose((seed, index), made, noise, fonts, &lines, trouble);
        let beside = match look.scan.second {
            None => Vec::new(),
            Some(_) => self.neighbour(index, typed_as, &mut random),
        };
        PlannedSheet {
            collection,
            seed,
            index,
            noise,
            kind,
            layout,
            look,
            lines,
            beside,
            typed,
            roster_number,
            misfiled,
            slip: slipped,
        }
    }

    /// What stands on the strip instead, and which of the fields, where its layout is one that no starter rule covers.
    fn strange(&self, index: usize, typed: &Fields) -> Option<(Vec<String>, &[&'static str])> {
        let Settings {
            kind,
            seed,
            strange,
            ..
        } = self.settings;
        let mut random = random(seed, Stream::Strange, index);
        if !random.random_bool(strange) {
            return None;
        }
        let layouts = strange::of_seed(kind.particulars().strange, seed);
        let layout = layouts.choose(&mut random)?;
        Some(layout(typed, &mut random))
    }

    /// What is typed on the next sheet, or on the one before the last.
    fn neighbour(&self, index: usize, layout: &str, random: &mut ChaCha8Rng) -> Vec<String> {
        let next = if index + 1 < self.len() {
            index + 1
        } else {
            index.saturating_sub(1)
        };
        let values = self.contents.values(next, layout);
        self.contents.lines(next, layout, &values, random)
    }
}

impl PlannedSheet {
    /// The image's file name; drawer positions count from 1.
    pub fn file_name(&self) -> String {
        let stem = self.collection.particulars().stem;
        let extension = self.look.format.extension();
        format!("{stem}-{:05}.{extension}", self.index + 1)
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
            ("not in roster", 0.03, 0.006, |s| s.roster_number.is_empty()),
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
