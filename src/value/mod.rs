//! What every other room talks about: sheets, findings, probabilities, boxes, and the values an index holds.

mod check;
mod clean;
mod drawer;
mod finding;
mod geometry;
mod probability;
mod sheet;

pub use check::CheckScheme;
pub use clean::shown;
pub use drawer::drawer_order;
pub use finding::{Finding, Severity, Station};
pub use geometry::{Bounds, Point, Quad};
pub use probability::Probability;
pub use sheet::{SheetId, SheetKind, SheetState};
