//! What is particular to one kind of collection, and what all kinds have in common.

use super::collection::Settings;
use super::look::{Form, Made};
use super::{drawings, payroll, personnel};
use crate::command::job_file::JobFile;
use crate::value::SheetKind;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::fmt;
use std::sync::Arc;

/// The kinds of collection that the harbour board has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, clap::ValueEnum)]
pub enum CollectionKind {
    /// Personnel jackets: one person's 16 mm film, checked against the staff list
    #[default]
    Personnel,
    /// Jackets of 35 mm engineering drawings, checked against the drawing register
    Drawings,
    /// Payroll registers on computer-output microfiche, without a roster
    Payroll,
}

impl CollectionKind {
    pub const ALL: [Self; 3] = [Self::Personnel, Self::Drawings, Self::Payroll];

    /// What does not depend on the seed.
    pub fn particulars(self) -> &'static Particulars {
        match self {
            Self::Personnel => &personnel::PARTICULARS,
            Self::Drawings => &drawings::PARTICULARS,
            Self::Payroll => &payroll::PARTICULARS,
        }
    }

    /// What the sheets of a collection of this kind hold.
    pub(super) fn contents(self, settings: &Settings) -> Arc<dyn Contents> {
        match self {
            Self::Personnel => Arc::new(personnel::Personnel::new(settings)),
            Self::Drawings => Arc::new(drawings::Drawings::new(settings)),
            Self::Payroll => Arc::new(payroll::Payroll::new(settings)),
        }
    }
}

/// What every collection of a kind has, whatever its seed.
#[derive(Debug)]
pub struct Particulars {
    /// What the images' names begin with.
    pub stem: &'static str,
    /// The index fields, in the order of the truth's columns; none has the name of another column.
    pub fields: &'static [&'static str],
    /// The fields that tell a record's sheets from those of others.
    pub identifier: &'static [&'static str],
    /// Which fields are mistyped, by weight.
    pub slips: &'static [(&'static str, u32)],
    /// The starter rules: their path in the job and their text.
    pub rules: (&'static str, &'static str),
    /// The demo's job file, without what was asked for.
    pub job: fn() -> JobFile,
    /// How the sheets are made.
    pub form: Form,
    /// How strips are typed that no starter rule covers; see [`strange`](super::strange).
    pub strange: &'static [Strange],
}

/// The lines of a strip that no starter rule covers, and which of the fields stand on it.
pub type Strange = fn(&Fields, &mut ChaCha8Rng) -> (Vec<String>, &'static [&'static str]);

/// What the sheets of one collection hold, planned from its seed.
///
/// A sheet's layout is chosen first, then its values (a date is typed as the layout has it), then its lines; between
/// the values and the lines somebody may slip.
pub(super) trait Contents: fmt::Debug + Send + Sync {
    /// How many sheets the drawer holds.
    fn len(&self) -> usize;

    /// What stands at a drawer position from 0.
    fn filed(&self, index: usize) -> Filed;

    /// The name of the sheet's layout; one of two lines where that is asked for and the sheet has any.
    fn layout(&self, index: usize, of_two_lines: bool, random: &mut ChaCha8Rng) -> &'static str;

    /// What should be typed on the sheet, were it not blank.
    fn values(&self, index: usize, layout: &str) -> Fields;

    /// The typed lines, top to bottom, the gaps between the values varied.
    fn lines(
        &self,
        index: usize,
        layout: &str,
        values: &Fields,
        random: &mut ChaCha8Rng,
    ) -> Vec<String>;

    /// The client's list as CSV with a header; none where the client has none.
    fn roster(&self) -> csv::Result<Option<Vec<u8>>>;
}

/// What is known of a sheet before it is typed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Filed {
    pub kind: SheetKind,
    /// The key of its row in the roster; empty where it is in no row.
    pub roster_number: String,
    pub misfiled: bool,
    pub made: Made,
}

/// One sheet's place in the drawer.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slot<T> {
    pub what: T,
    pub kind: SheetKind,
    pub misfiled: bool,
}

impl<T> Slot<T> {
    /// A record's sheet, blank at the rate given.
    pub fn record(what: T, blank: f64, random: &mut ChaCha8Rng) -> Self {
        let kind = if random.random_bool(blank) {
            SheetKind::Blank
        } else {
            SheetKind::Record
        };
        Self {
            what,
            kind,
            misfiled: false,
        }
    }
}

/// A misfiled sheet moves at least this many places.
const MISFILED_BY: usize = 3;

/// Moves this share of the sheets to where they do not belong.
pub(super) fn misfile<T: Copy>(slots: &mut Vec<Slot<T>>, rate: f64, random: &mut ChaCha8Rng) {
    for at in 0..slots.len() {
        let to = random.random_range(0..slots.len());
        if random.random_bool(rate) && at.abs_diff(to) >= MISFILED_BY {
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
}

/// Rows as CSV with a header, as the client's list comes.
pub(super) fn csv_of<T: serde::Serialize>(rows: &[T]) -> csv::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.serialize(row)?;
    }
    writer
        .into_inner()
        .map_err(|fault| fault.into_error().into())
}

/// The fields of a strip as typed: name and value, in the collection's order.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash)]
pub struct Fields(Vec<(String, String)>);

impl Fields {
    /// Fields of these names without values.
    pub fn empty(names: &[&str]) -> Self {
        names.iter().map(|&name| (name, String::new())).collect()
    }

    /// The value, which may be empty; `None` where there is no field of that name.
    pub fn get(&self, name: &str) -> Option<&str> {
        let mut fields = self.iter();
        fields.find_map(|(known, value)| (known == name).then_some(value))
    }

    pub fn get_mut(&mut self, name: &str) -> Option<&mut String> {
        let mut fields = self.0.iter_mut();
        fields.find_map(|(known, value)| (known == name).then_some(value))
    }

    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
    }

    /// The value of a field that the collection has.
    pub(super) fn value(&self, name: &str) -> &str {
        self.get(name).unwrap_or_default()
    }

    /// The same fields, without the values of those not named.
    pub(super) fn only(mut self, names: &[&str]) -> Self {
        for (name, value) in &mut self.0 {
            if !names.contains(&name.as_str()) {
                value.clear();
            }
        }
        self
    }
}

impl<N: Into<String>, V: Into<String>> FromIterator<(N, V)> for Fields {
    fn from_iter<I: IntoIterator<Item = (N, V)>>(fields: I) -> Self {
        let fields = fields.into_iter();
        Self(
            fields
                .map(|(name, value)| (name.into(), value.into()))
                .collect(),
        )
    }
}
