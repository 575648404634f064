//! Acceptance sampling by attributes: how many sheets of a lot to inspect, and with how many bad ones it still passes.
//!
//! Source: MIL-STD-105E (10 May 1989, public release), Table I (code letters), Table II-A (normal) and Table II-B
//! (tightened), single sampling, acceptable quality levels .10 to 4.0 %. Reduced inspection is left out: its limit
//! numbers (Table VIII) could not be read in a copy good enough to check them. A unit is a sheet, a *nonconforming* one
//! is a sheet with any wrong field.

use super::sampling_tables::{CODE_LETTERS, Cell, NORMAL, QUALITIES, TIGHTENED};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// How much is inspected for a lot's size: the general levels I to III, `II` unless there is a reason, and the special
/// levels S-1 to S-4 for small samples.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
pub enum InspectionLevel {
    #[serde(rename = "S-1")]
    S1,
    #[serde(rename = "S-2")]
    S2,
    #[serde(rename = "S-3")]
    S3,
    #[serde(rename = "S-4")]
    S4,
    I,
    #[default]
    II,
    III,
}

/// How strict a lot is judged: *tightened* after lots were rejected (see [`next_inspection`]).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Inspection {
    #[default]
    Normal,
    Tightened,
}

/// An acceptable quality level: the share of bad sheets that a process may have in the long run. It is no promise about
/// one lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct AcceptableQuality(usize);

/// How a lot is judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct SamplingPlan {
    /// The letter whose row of the table the plan stands in, after its arrows.
    pub code_letter: char,
    /// Sheets to inspect; the whole lot where the table asks for as many or more.
    pub sample_size: u64,
    /// The lot is accepted with as many bad sheets as this, or fewer.
    pub acceptance_number: u64,
    /// Every sheet is inspected: the number of bad ones is then known, not estimated.
    pub is_whole_lot: bool,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SamplingError {
    #[error("acceptable quality level: expected one of {levels} percent, found {found}; write {nearest}",
        levels = AcceptableQuality::listed())]
    NoSuchQuality { found: String, nearest: f64 },
    #[error(
        "inspection level: expected one of S-1, S-2, S-3, S-4, I, II, III, found {0}; write II unless the contract says otherwise"
    )]
    NoSuchLevel(String),
    #[error("lot: expected at least one sheet, found none; wait until sheets of the lot are keyed")]
    EmptyLot,
}

impl InspectionLevel {
    pub const ALL: [Self; 7] = [
        Self::S1,
        Self::S2,
        Self::S3,
        Self::S4,
        Self::I,
        Self::II,
        Self::III,
    ];

    /// Table I: the code letter of a lot.
    fn code_letter(self, lot: u64) -> char {
        let row = CODE_LETTERS.iter().find(|(most, _)| lot <= *most);
        let (_, letters) = row.expect("the last row has no end");
        char::from(letters[self as usize])
    }
}

impl fmt::Display for InspectionLevel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let names = ["S-1", "S-2", "S-3", "S-4", "I", "II", "III"];
        f.pad(names[*self as usize])
    }
}

impl FromStr for InspectionLevel {
    type Err = SamplingError;

    fn from_str(text: &str) -> Result<Self, SamplingError> {
        let mut levels = Self::ALL.into_iter();
        levels
            .find(|level| level.to_string() == text)
            .ok_or_else(|| SamplingError::NoSuchLevel(text.to_owned()))
    }
}

impl fmt::Display for Inspection {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Normal => "normal",
            Self::Tightened => "tightened",
        })
    }
}

impl AcceptableQuality {
    /// All levels of the tables, the strictest first.
    pub fn all() -> impl Iterator<Item = Self> {
        (0..QUALITIES.len()).map(Self)
    }

    /// Bad sheets in a hundred.
    pub fn percent(self) -> f64 {
        QUALITIES[self.0]
    }

    fn listed() -> String {
        let listed: Vec<String> = QUALITIES.iter().map(f64::to_string).collect();
        listed.join(", ")
    }
}

/// One percent, the commonest level in contracts for clerical work (common practice, no source).
impl Default for AcceptableQuality {
    fn default() -> Self {
        Self(5)
    }
}

impl TryFrom<f64> for AcceptableQuality {
    type Error = SamplingError;

    fn try_from(percent: f64) -> Result<Self, SamplingError> {
        match QUALITIES.iter().position(|level| *level == percent) {
            Some(place) => Ok(Self(place)),
            // The next stricter one keeps what was promised.
            None => Err(SamplingError::NoSuchQuality {
                found: percent.to_string(),
                nearest: *QUALITIES
                    .iter()
                    .rfind(|level| **level <= percent)
                    .unwrap_or(&QUALITIES[0]),
            }),
        }
    }
}

impl From<AcceptableQuality> for f64 {
    fn from(quality: AcceptableQuality) -> Self {
        quality.percent()
    }
}

impl fmt::Display for AcceptableQuality {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} %", self.percent())
    }
}

impl SamplingPlan {
    /// The plan for a lot of so many sheets.
    ///
    /// An arrow of the table leads to the first plan above or below it, with that plan's own sample size.
    ///
    /// # Errors
    /// The lot is empty.
    ///
    /// ```
    /// use headword::figures::{AcceptableQuality, Inspection, InspectionLevel, SamplingPlan};
    /// let one_percent = AcceptableQuality::try_from(1.0)?;
    /// let plan = SamplingPlan::of(2_000, InspectionLevel::II, one_percent, Inspection::Normal)?;
    /// assert_eq!((plan.code_letter, plan.sample_size), ('K', 125));
    /// assert_eq!((plan.acceptance_number, plan.rejection_number()), (3, 4));
    /// # Ok::<(), headword::figures::SamplingError>(())
    /// ```
    pub fn of(
        lot: u64,
        level: InspectionLevel,
        quality: AcceptableQuality,
        inspection: Inspection,
    ) -> Result<Self, SamplingError> {
        if lot == 0 {
            return Err(SamplingError::EmptyLot);
        }
        let plan = Self::by_letter(level.code_letter(lot), quality, inspection);
        Ok(Self {
            sample_size: plan.sample_size.min(lot),
            is_whole_lot: plan.sample_size >= lot,
            ..plan
        })
    }

    /// Table II-A or II-B with its arrows followed.
    fn by_letter(letter: char, quality: AcceptableQuality, inspection: Inspection) -> Self {
        let table = match inspection {
            Inspection::Normal => &NORMAL,
            Inspection::Tightened => &TIGHTENED,
        };
        let row = table.iter().position(|row| row.0 == letter);
        let mut row = row.expect("both tables have all letters of Table I");
        loop {
            let (code_letter, sample_size, cells) = table[row];
            match cells[quality.0] {
                Cell::Down => row += 1,
                Cell::Up => row -= 1,
                Cell::Accept(acceptance_number) => {
                    return Self {
                        code_letter,
                        sample_size,
                        acceptance_number,
                        is_whole_lot: false,
                    };
                }
            }
        }
    }

    /// With so many bad sheets the lot is rejected.
    pub fn rejection_number(&self) -> u64 {
        self.acceptance_number + 1
    }

    pub fn accepts(&self, nonconforming: u64) -> bool {
        nonconforming <= self.acceptance_number
    }
}

/// What the switching rules ask for after these lots, oldest first, each with how it was inspected and whether it was
/// accepted at its first inspection; none where inspection stops until the work has improved.
///
/// Source: MIL-STD-105E, 4.7.1 (tightened once 2 of 5 or fewer consecutive lots were rejected), 4.7.2 (normal again
/// after 5 accepted) and 4.8 (stopped once 5 were rejected in one run of tightened inspection).
pub fn next_inspection(lots: &[(Inspection, bool)]) -> Option<Inspection> {
    /// Lots looked back at, in both directions of the switch.
    const LOOKED_BACK: usize = 5;
    const REJECTED_OF_THEM: usize = 2;
    const REJECTED_WHEN_TIGHTENED: usize = 5;
    let Some((now, _)) = lots.last() else {
        return Some(Inspection::Normal);
    };
    let run = lots.iter().rev().take_while(|(kind, _)| kind == now);
    let run: Vec<bool> = run.map(|(_, accepted)| *accepted).collect();
    let recent = &run[..run.len().min(LOOKED_BACK)];
    let rejected = |lots: &[bool]| lots.iter().filter(|accepted| !**accepted).count();
    match now {
        Inspection::Normal if rejected(recent) >= REJECTED_OF_THEM => Some(Inspection::Tightened),
        Inspection::Normal => Some(Inspection::Normal),
        Inspection::Tightened if rejected(&run) >= REJECTED_WHEN_TIGHTENED => None,
        Inspection::Tightened if recent.len() == LOOKED_BACK && rejected(recent) == 0 => {
            Some(Inspection::Normal)
        }
        Inspection::Tightened => Some(Inspection::Tightened),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CODE_LETTERS_CSV: &str =
        include_str!("../../tests/data/published/mil105e_code_letters.csv");
    const NORMAL_CSV: &str = include_str!("../../tests/data/published/mil105e_single_normal.csv");
    const TIGHTENED_CSV: &str =
        include_str!("../../tests/data/published/mil105e_single_tightened.csv");

    fn rows(text: &str) -> Vec<csv::StringRecord> {
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        reader.records().map(Result::unwrap).collect()
    }

    /// MIL-STD-105E, Table I: all 105 cells, at both ends of each row.
    #[test]
    fn code_letters_are_those_of_table_i() {
        let mut cells = 0;
        for row in rows(CODE_LETTERS_CSV) {
            let least: u64 = row[0].parse().unwrap();
            let most = row[1].parse().unwrap_or(u64::MAX);
            for (level, letter) in InspectionLevel::ALL.into_iter().zip(row.iter().skip(2)) {
                for lot in [least, most] {
                    assert_eq!(level.code_letter(lot).to_string(), letter, "{level} {lot}");
                }
                cells += 1;
            }
        }
        assert_eq!(cells, 105);
        assert_eq!(InspectionLevel::II.code_letter(1), 'A');
    }

    /// MIL-STD-105E, Tables II-A and II-B: 144 cells each as printed, and the plan that each leads to.
    #[test]
    fn plans_are_those_of_table_ii() {
        for (inspection, text, table) in [
            (Inspection::Normal, NORMAL_CSV, NORMAL),
            (Inspection::Tightened, TIGHTENED_CSV, TIGHTENED),
        ] {
            let rows = rows(text);
            assert_eq!(rows.len(), 144);
            for row in rows {
                let letter = row[0].parse().unwrap();
                let quality = AcceptableQuality::try_from(row[2].parse::<f64>().unwrap()).unwrap();
                let (_, size, cells) = table.iter().find(|row| row.0 == letter).unwrap();
                let printed = match cells[quality.0] {
                    Cell::Down => "down".to_owned(),
                    Cell::Up => "up".to_owned(),
                    Cell::Accept(number) => format!("{number}/{}", number + 1),
                };
                assert_eq!(
                    (size.to_string(), printed.as_str()),
                    (row[1].to_owned(), &row[3])
                );
                let plan = SamplingPlan::by_letter(letter, quality, inspection);
                let found = [
                    plan.code_letter.to_string(),
                    plan.sample_size.to_string(),
                    plan.acceptance_number.to_string(),
                    plan.rejection_number().to_string(),
                ];
                let wanted: Vec<&str> = row.iter().skip(4).collect();
                assert_eq!(found.to_vec(), wanted, "{row:?}");
            }
        }
    }

    fn check(lot: u64, percent: f64, plan: (char, u64, u64, bool)) {
        let quality = AcceptableQuality::try_from(percent).unwrap();
        let level = InspectionLevel::II;
        let found = SamplingPlan::of(lot, level, quality, Inspection::Normal).unwrap();
        let numbers = (
            found.code_letter,
            found.sample_size,
            found.acceptance_number,
            found.is_whole_lot,
        );
        assert_eq!(numbers, plan, "{lot} at {percent}");
    }

    /// Level II: lot 2,000 at 1.0 % (worked out from the tables); n=20 c=0, n=80 c=1 and n=500 c=7 at .65 % (Birolini,
    /// Reliability Engineering, Table 7.1); n=8 c=0 at 1.5 % (ISO 28590:2017, quoting ISO 2859-1).
    #[test]
    fn arrows_bring_their_own_sample_and_small_lots_are_inspected_whole() {
        check(2_000, 1.0, ('K', 125, 3, false));
        check(150, 0.65, ('F', 20, 0, false));
        check(1_200, 0.65, ('J', 80, 1, false));
        check(20_000, 0.65, ('M', 315, 5, false));
        check(100_000, 0.65, ('N', 500, 7, false));
        check(50, 1.5, ('D', 8, 0, false));
        check(2_000, 0.10, ('K', 125, 0, false));
        check(125, 0.10, ('K', 125, 0, true));
        check(126, 0.10, ('K', 125, 0, false));
        check(1, 4.0, ('B', 1, 0, true));
        check(3, 4.0, ('B', 3, 0, true));
    }

    #[test]
    fn what_is_not_in_the_tables_is_refused_with_advice() {
        let fault = AcceptableQuality::try_from(1.2).unwrap_err().to_string();
        assert!(fault.contains("found 1.2; write 1"), "{fault}");
        let fault = AcceptableQuality::try_from(0.01).unwrap_err().to_string();
        assert!(fault.ends_with("write 0.1"), "{fault}");
        assert!(AcceptableQuality::try_from(f64::NAN).is_err());
        assert!("IV".parse::<InspectionLevel>().is_err());
        assert_eq!("S-3".parse(), Ok(InspectionLevel::S3));
        let quality = AcceptableQuality::default();
        assert_eq!(quality.percent(), 1.0);
        let none = SamplingPlan::of(0, InspectionLevel::II, quality, Inspection::Normal);
        assert_eq!(none, Err(SamplingError::EmptyLot));
    }

    /// MIL-STD-105E, 4.7 and 4.8.
    #[test]
    fn switches_between_normal_and_tightened() {
        let lots = |text: &str| -> Vec<(Inspection, bool)> {
            let one = |c| match c {
                'a' => (Inspection::Normal, true),
                'r' => (Inspection::Normal, false),
                'A' => (Inspection::Tightened, true),
                _ => (Inspection::Tightened, false),
            };
            text.chars().map(one).collect()
        };
        for (history, next) in [
            ("", Some(Inspection::Normal)),
            ("aara", Some(Inspection::Normal)),
            ("araaaar", Some(Inspection::Normal)),
            ("araar", Some(Inspection::Tightened)),
            ("rr", Some(Inspection::Tightened)),
            ("rrAAAA", Some(Inspection::Tightened)),
            ("rrAAAAA", Some(Inspection::Normal)),
            ("rrARAAAA", Some(Inspection::Tightened)),
            ("rrRRARAAAAR", Some(Inspection::Tightened)),
            ("rrRRARAAAARR", None),
            // A run of normal inspection begins anew.
            ("rrAAAAAr", Some(Inspection::Normal)),
        ] {
            assert_eq!(next_inspection(&lots(history)), next, "{history}");
        }
    }
}
