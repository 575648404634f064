//! What every other room talks about: sheets, findings, probabilities, boxes, and the values an index holds.

mod amount;
mod check;
mod clean;
mod dates;
mod drawer;
mod edtf;
mod filing;
mod finding;
mod fold;
#[cfg(test)]
mod generated;
mod geometry;
mod hash;
mod part;
mod person;
mod probability;
mod sheet;
mod span;

pub use amount::{Amount, AmountError, DecimalSign, ReadAmount, amount_pattern};
pub use check::{CheckScheme, Detection, Weighted, WeightedError};
pub use clean::{is_obeyed, shown, thousands};
pub use dates::{
    DateOrder, DateStyle, Dates, DatesError, Doubt, Language, TypedDates, dates_pattern,
    typed_dates,
};
pub use drawer::drawer_order;
pub use edtf::{
    Day, Edtf, EdtfDate, EdtfDateTime, EdtfError, End, Member, Precision, Qualification, SetKind,
    Zone,
};
pub use filing::{FilingKey, FilingRules, filing_key};
pub use finding::{Finding, Severity, Station};
pub use fold::{comparison_form, without_diacritics};
pub use geometry::{Bounds, Point, Quad};
pub use hash::{sha256_file, sha256_hex, sha256_parts};
pub use part::{Part, PartError, PartKind, ReadPart, Total, part_pattern, set_is_complete};
pub use person::{NameOrder, Person};
pub use probability::Probability;
pub use sheet::{SheetId, SheetKind, SheetState};
pub use span::{Range, RangeError, ReadRange, range_pattern};
