//! What goes into a delivery's bag, and the ledger that tells of it.

use crate::command::batch::Delivery;
use crate::command::index::index_files;
use crate::delivery::{
    BagFile, BagPlan, Consigned, Consignment, Delivered, DeliveredFile, FORMAT, FileNames, Frozen,
    Ledger, Made, PAYLOAD, Record, Scan, ScanFile, amendments_csv, delivered_values,
};
use crate::roster::Roster;
use crate::value::SheetId;
use jiff::Timestamp;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// A delivery on its way.
pub struct Shipping<'a> {
    pub number: u32,
    pub at: Timestamp,
    /// Why, where it is an amendment.
    pub amends: Option<String>,
    pub title: &'a str,
    pub consignment: &'a Consignment,
    pub paired: &'a [(SheetId, &'a Scan)],
    /// What stood delivered before.
    pub before: &'a Frozen,
}

impl Shipping<'_> {
    /// What the bag holds.
    pub fn bag(&self, delivery: &Delivery, roster: Option<&Roster>, link: bool) -> BagPlan {
        let sheets = &self.consignment.sheets;
        let shipped: BTreeSet<&SheetId> = sheets.iter().map(|one| &one.sheet).collect();
        let records = delivery
            .records
            .iter()
            .filter(|record| shipped.contains(&record.sheet));
        let records: Vec<Record> = records.cloned().collect();
        let names: BTreeMap<SheetId, String> = sheets
            .iter()
            .map(|one| (one.sheet.clone(), file_name(one).to_owned()))
            .collect();
        let (files, _) = index_files(&records, &FileNames::decided(names), delivery, roster);
        let mut texts: Vec<(String, Vec<u8>)> = files
            .into_iter()
            .map(|(name, content)| (format!("{PAYLOAD}{name}"), content))
            .collect();
        if let Some(reason) = &self.amends {
            let content = amendments_csv(sheets, reason);
            texts.push((format!("{PAYLOAD}amendments.csv"), content));
        }
        let mut info = vec![
            ("Bagging-Date", self.at.strftime("%Y-%m-%d").to_string()),
            ("External-Description", self.title.to_owned()),
            ("External-Identifier", format!("delivery {}", self.number)),
            (
                "Bag-Software-Agent",
                format!("headword {}", env!("CARGO_PKG_VERSION")),
            ),
        ];
        if let Some(reason) = &self.amends {
            info.push((
                "Internal-Sender-Description",
                format!("amendment: {reason}"),
            ));
        }
        BagPlan {
            scans: self
                .files()
                .map(|(one, file)| BagFile {
                    from: file.path.clone(),
                    bytes: file.bytes,
                    to: match file.within.is_empty() {
                        true => format!("{PAYLOAD}{}", one.name),
                        false => format!("{PAYLOAD}{}/{}", one.name, file.within),
                    },
                })
                .collect(),
            texts,
            info,
            link,
        }
    }

    /// The files that go along, in the order of the sheets.
    fn files(&self) -> impl Iterator<Item = (&Consigned, &ScanFile)> {
        let shipped = self.consignment.sheets.iter().filter(|one| one.ships_scan);
        shipped.flat_map(|one| {
            self.paired[one.pair]
                .1
                .files
                .iter()
                .map(move |file| (one, file))
        })
    }

    /// What the bag was, for later.
    pub fn ledger(&self, records: &[Record], made: &Made) -> Ledger {
        let mut by_sheet: HashMap<&SheetId, Vec<&Record>> = HashMap::new();
        for record in records {
            by_sheet.entry(&record.sheet).or_default().push(record);
        }
        let mut sums = made.sums.iter();
        let sheets = self.consignment.sheets.iter().map(|one| {
            let scan = self.paired[one.pair].1;
            let files = match (one.ships_scan, self.before.get(&one.sheet)) {
                (false, Some((_, before))) => before.files.clone(),
                _ => {
                    let files = scan.files.iter().zip(&mut sums);
                    files
                        .map(|(file, sha256)| DeliveredFile {
                            within: file.within.clone(),
                            bytes: file.bytes,
                            modified: file.modified,
                            sha256: sha256.clone(),
                        })
                        .collect()
                }
            };
            Delivered {
                sheet: one.sheet.clone(),
                scan: scan.name.clone(),
                name: one.name.clone(),
                shipped: one.ships_scan,
                files,
                records: by_sheet
                    .get(&one.sheet)
                    .map_or_else(Vec::new, |records| delivered_values(records)),
                reason: one.reason.clone(),
            }
        });
        Ledger {
            format: FORMAT,
            number: self.number,
            at: self.at.to_string(),
            amends: self.amends.clone(),
            sheets: sheets.collect(),
        }
    }
}

/// A sheet's name without the payload's folder.
fn file_name(one: &Consigned) -> &str {
    one.name.split_once('/').map_or(&one.name, |(_, name)| name)
}
