//! Fields: their kinds, and all that a rule file may say of one.

use super::writing::Writing;
use crate::value::{CheckScheme, DateStyle, DecimalSign, FilingRules};
use serde::{Deserialize, Serialize};

/// What sort of value a field holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FieldKind {
    /// A family name: one word, a hyphenated pair, particles (`VAN DER`, `MC`), a suffix (`JR`).
    Surname,
    /// Up to four given names or initials.
    Forenames,
    /// Anything a pattern can say, in one piece.
    Code,
    /// A year of four digits; of two as well, where it ends a range.
    Year,
    /// A date in any style that is typed, to the day, the month or the year.
    Date,
    /// The same, or a range of dates, kept as one value.
    DateRange,
    /// A whole number.
    Number,
    /// The place of a sheet in its set as one value: `2 OF 3`, `2/3`, `3A`, `SUPPL. 1`.
    Part,
    /// From one name, letter or number to another: `AAR-BAK`.
    Range,
    /// A sum of money.
    Amount,
    /// A whole name, in inverted order or not.
    Person,
    /// One of a list of words.
    Choice,
    /// Free text.
    Text,
}

impl FieldKind {
    pub const ALL: [Self; 13] = [
        Self::Surname,
        Self::Forenames,
        Self::Person,
        Self::Code,
        Self::Year,
        Self::Date,
        Self::DateRange,
        Self::Number,
        Self::Part,
        Self::Range,
        Self::Amount,
        Self::Choice,
        Self::Text,
    ];

    /// The name used in rule files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Surname => "surname",
            Self::Forenames => "forenames",
            Self::Code => "code",
            Self::Year => "year",
            Self::Date => "date",
            Self::DateRange => "date-range",
            Self::Part => "part",
            Self::Range => "range",
            Self::Amount => "amount",
            Self::Person => "person",
            Self::Number => "number",
            Self::Choice => "choice",
            Self::Text => "text",
        }
    }

    /// Whether its values say who somebody is or something about somebody: names, dates, sums, free text. Numbers and
    /// codes say it only to those who have the list that resolves them.
    pub fn is_personal(self) -> bool {
        !matches!(self, Self::Code | Self::Number | Self::Part | Self::Choice)
    }

    /// Whether characters that the reader lost are put back inside a value of this kind.
    pub(super) fn puts_back(self) -> bool {
        matches!(
            self,
            Self::Code | Self::Choice | Self::Date | Self::DateRange | Self::Year | Self::Part
        )
    }

    /// Whether a character that could not be read is guessed inside a value of this kind.
    pub(super) fn guesses(self) -> bool {
        self.takes_off_pattern()
    }

    /// Whether a value that does not look like its kind is still taken, at a cost, so that one lost digit does not
    /// cost the whole sheet.
    pub(super) fn takes_off_pattern(self) -> bool {
        !matches!(
            self,
            Self::Surname | Self::Forenames | Self::Person | Self::Range | Self::Text
        )
    }
}

/// Years that a record may name when the file does not say.
pub(super) const YEARS: (u32, u32) = (1800, 2099);
/// Numbers when the file does not say.
pub(super) const NUMBERS: (u32, u32) = (0, 99_999);

/// The keys of styles, in a field and in the job file.
pub(crate) const STYLE_KEYS: [&str; 3] = ["dates", "decimal", "filing"];

/// How values are typed in a job, or in a field of it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Styles {
    pub dates: DateStyle,
    /// The sign before the decimals of amounts; none where strips have both.
    pub decimal: Option<DecimalSign>,
    /// What ranges of names are in order by.
    pub filing: FilingRules,
}

/// What the index gives of a field.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Deliver {
    /// What the strip says.
    #[default]
    AsTyped,
    /// What the linked roster row says; empty where there is none.
    AsRoster,
    /// Both, and whether they differ.
    Both,
}

/// Where a field's value comes from on a sheet whose strip does not say it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Carry {
    /// From the last divider before it in the drawer.
    Divider,
    /// From the record before it in the drawer.
    SheetBefore,
}

/// What a field is looked up by in a table of the rule file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Key {
    /// The value of this field.
    Field(String),
    /// The colour of the strip's band, as one of [`super::BAND_COLOURS`].
    Band,
}

/// A value that follows from another one through a table of the client's.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LookUp {
    pub by: Key,
    /// (key, value), in the file's order; keys in their comparison form.
    pub rows: Vec<(String, String)>,
}

/// A field as the rule file declares it.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldSpec {
    pub name: String,
    pub kind: FieldKind,
    /// An index row without it is incomplete.
    pub required: bool,
    /// How its last character follows from the others, for codes that have one.
    pub check: Option<CheckScheme>,
    /// The user's pattern, in the `regex` crate's syntax, instead of the kind's own.
    pub pattern: Option<String>,
    /// Smallest and largest number, or year of a `year`.
    pub window: (u32, u32),
    /// The words of a choice.
    pub words: Vec<String>,
    pub styles: Styles,
    /// What is done to the value before it is delivered, in this order.
    pub write: Vec<Writing>,
    /// Stands where neither the strip nor anything before it gives a value.
    pub default: Option<String>,
    /// A ditto mark on the strip stands for the value of the sheet before.
    pub ditto: bool,
    pub carry: Option<Carry>,
    pub look_up: Option<LookUp>,
    /// What the index gives of it, unless the job says otherwise.
    pub deliver: Option<Deliver>,
}

impl FieldSpec {
    /// A field of which nothing is said but its name and kind.
    pub fn new(name: impl Into<String>, kind: FieldKind) -> Self {
        Self {
            name: name.into(),
            kind,
            required: false,
            check: None,
            pattern: None,
            window: match kind {
                FieldKind::Year => YEARS,
                _ => NUMBERS,
            },
            words: Vec::new(),
            styles: Styles::default(),
            write: Vec::new(),
            default: None,
            ditto: false,
            carry: None,
            look_up: None,
            deliver: None,
        }
    }
}
