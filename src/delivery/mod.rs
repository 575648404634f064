//! Records in; checks over the batch, one portable file name a sheet, and the index out.
//!
//! Everything here is decided without touching a disk, except [`replace_folder`], which puts finished files in their
//! folder.

mod accounts;
mod bag;
mod bagit;
mod check;
mod consignment;
mod csvw;
mod dates;
mod deliveries;
mod files;
mod index;
mod ledger;
mod links;
mod lists;
mod names;
mod pages;
mod pairing;
mod parts;
mod pattern;
mod plan;
mod portable;
mod ranges;
mod record;
mod scans;
mod standing;
mod verify;
mod xlsx;

pub use accounts::{Accounts, BatchCount, Count};
pub use bag::{BagError, BagFile, BagPlan, Made, fill, put_in_place};
pub use bagit::PAYLOAD;
pub use check::{Batch, Check, CheckPlan, check_batch, checks_csv};
pub use consignment::{
    Change, Consigned, Consigning, Consignment, amendments_csv, consign, is_open, scan_name,
};
pub use csvw::csvw_metadata;
pub use deliveries::{Deliveries, DeliveriesError, Kept, LEDGER};
pub use files::{WriteError, replace_folder};
pub use index::{Column, IndexLayout, csv_of, index_rows, spreadsheet_csv};
pub use ledger::{
    Delivered, DeliveredFile, DeliveredValue, FORMAT, Frozen, Ledger, delivered_values, frozen,
    looks_the_same, value_changes,
};
pub use links::Links;
pub use lists::{
    Exception, StripTexts, exceptions_csv, provenance_csv, rescans_csv, strips_csv,
    unused_roster_csv, unused_rows,
};
pub use names::{Clash, FileNames, NameChange, name_sheets};
pub use pages::{check_pages, count_pages};
pub use pairing::{ListedPair, PairingFault, in_step, pair};
pub use parts::PartFields;
pub use pattern::{NamePattern, PatternFault};
pub use plan::DeliveryPlan;
pub use portable::{is_portable, portable_value};
pub use record::{KeyedBy, Legibility, Record, RecordValue};
pub use scans::{Scan, ScanFault, ScanFile, list_scans, modified};
pub use standing::{Standing, standing};
pub use verify::{Verified, verify};
pub use xlsx::{XlsxFault, xlsx_of};

/// At most 60 characters of a text, harmless on a screen.
fn brief(text: &str) -> String {
    let start: String = text.chars().take(60).collect();
    let mark = if start.len() < text.len() { "..." } else { "" };
    format!("{}{mark}", crate::value::shown(&start))
}
