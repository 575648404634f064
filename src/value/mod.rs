//! What every other room talks about: sheets, findings, probabilities, boxes, and the values an index holds.

mod check;
mod clean;
mod dates;
mod drawer;
mod edtf;
mod finding;
mod fold;
mod geometry;
mod hash;
mod person;
mod probability;
mod sheet;

pub use check::CheckScheme;
pub use clean::{is_obeyed, shown};
pub use dates::{
    DateOrder, DateStyle, Dates, DatesError, Doubt, Language, TypedDates, dates_pattern,
    typed_dates,
};
pub use drawer::drawer_order;
pub use edtf::{
    Day, Edtf, EdtfDate, EdtfDateTime, EdtfError, End, Member, Precision, Qualification, SetKind,
    Zone,
};
pub use finding::{Finding, Severity, Station};
pub use fold::{comparison_form, without_diacritics};
pub use geometry::{Bounds, Point, Quad};
pub use hash::{sha256_file, sha256_hex, sha256_parts};
pub use person::Person;
pub use probability::Probability;
pub use sheet::{SheetId, SheetKind, SheetState};
