//! Records in; checks over the batch, one portable file name a sheet, and the index out.
//!
//! Everything here is decided without touching a disk, except [`write_together`], which puts the finished files in
//! their folder.

mod check;
mod csvw;
mod files;
mod index;
mod names;
mod parts;
mod pattern;
mod plan;
mod portable;
mod record;

pub use check::{Batch, Check, CheckPlan, check_batch};
pub use csvw::csvw_metadata;
pub use files::{WriteError, write_together};
pub use index::{Column, Exception, IndexLayout, exceptions_csv, index_csv};
pub use names::{Clash, FileNames, NameChange, name_sheets};
pub use parts::PartFields;
pub use pattern::{NamePattern, PatternFault};
pub use plan::DeliveryPlan;
pub use portable::{is_portable, portable_value};
pub use record::{Record, RecordValue};

/// At most 60 characters of a text, harmless on a screen.
fn brief(text: &str) -> String {
    let start: String = text.chars().take(60).collect();
    let mark = if start.len() < text.len() { "..." } else { "" };
    format!("{}{mark}", crate::value::shown(&start))
}
