use super::*;
use crate::delivery::{Delivered, Ledger, RecordValue, delivered_values, frozen, is_portable};
use crate::value::SheetKind;

/// A sheet as words: "id kind number", kinds being `r`ecord, `d`ivider, `o`pen, `a`side.
fn records(words: &str) -> Vec<Record> {
    let record = |words: &str| {
        let mut parts = words.split(' ');
        let sheet = SheetId::new(parts.next().unwrap());
        let kind = parts.next().unwrap();
        let number = parts.next().unwrap_or_default();
        let value = |field: &str, typed: &str| RecordValue {
            field: field.to_owned(),
            as_typed: typed.to_owned(),
            ..RecordValue::default()
        };
        Record {
            sheet,
            kind: match kind {
                "d" => SheetKind::Divider,
                _ => SheetKind::Record,
            },
            state: match kind {
                "a" => SheetState::SetAside,
                "o" => SheetState::Waiting,
                _ => SheetState::Keyed,
            },
            reason: match kind {
                "a" | "o" => Some("why".to_owned()),
                _ => None,
            },
            values: vec![
                value("number", number),
                value("note", parts.next().unwrap_or_default()),
            ],
            ..Record::default()
        }
    };
    words.split(", ").map(record).collect()
}

struct Case {
    records: Vec<Record>,
    scans: Vec<Scan>,
    frozen: Frozen,
    rescanned: BTreeSet<SheetId>,
    pattern: &'static str,
}

impl Case {
    fn new(words: &str) -> Self {
        let records = records(words);
        let mut names: Vec<&str> = records.iter().map(|r| r.sheet.as_str()).collect();
        names.dedup();
        let scans = names.iter().map(|name| Scan {
            name: format!("{}.pdf", stem(name)),
            files: vec![],
            is_folder: false,
        });
        Self {
            scans: scans.collect(),
            records,
            frozen: Frozen::new(),
            rescanned: BTreeSet::new(),
            pattern: "{number:0}",
        }
    }

    fn consign(&self, amends: bool, leaves_open: bool) -> Consignment {
        let mut sheets: Vec<SheetId> = self.records.iter().map(|r| r.sheet.clone()).collect();
        sheets.dedup();
        let paired: Vec<(SheetId, &Scan)> = sheets.into_iter().zip(&self.scans).collect();
        consign(&Consigning {
            records: &self.records,
            pattern: &NamePattern::parse(self.pattern, &["number", "note"]).unwrap(),
            paired: &paired,
            frozen: &self.frozen,
            rescanned: &self.rescanned,
            amends,
            leaves_open,
        })
    }

    /// The same after a delivery of all this, with other words for the sheets.
    fn delivered(self, words: &str) -> Self {
        let done = self.consign(false, true);
        assert_eq!(done.refusals, [""; 0]);
        let sheets = done.sheets.into_iter().map(|one| {
            let of_sheet = self.records.iter().filter(|r| r.sheet == one.sheet);
            Delivered {
                scan: self.scans[one.pair].name.clone(),
                name: one.name,
                shipped: true,
                files: vec![],
                records: delivered_values(&of_sheet.collect::<Vec<_>>()),
                reason: one.reason,
                sheet: one.sheet,
            }
        });
        let ledger = Ledger {
            format: 1,
            number: 1,
            at: String::new(),
            amends: None,
            sheets: sheets.collect(),
        };
        Self {
            frozen: frozen(&[ledger]),
            ..Self::new(words)
        }
    }
}

fn names(consignment: &Consignment) -> Vec<&str> {
    consignment
        .sheets
        .iter()
        .map(|one| one.name.as_str())
        .collect()
}

#[test]
fn every_finished_sheet_gets_a_name() {
    let case = Case::new("1.png r 7, 2.png d, 3.png a, b/4.png r 12, b/4.png r 13");
    let done = case.consign(false, false);
    assert_eq!(done.refusals, [""; 0]);
    assert_eq!(
        names(&done),
        [
            "sheets/07.pdf",
            "exceptions/2.pdf",
            "exceptions/3.pdf",
            "sheets/12.pdf"
        ]
    );
    assert_eq!(done.sheets[2].reason.as_deref(), Some("why"));

    let open = Case::new("1.png r 7, 2.png o");
    assert!(open.consign(false, false).refusals[0].contains("1 sheets are not finished"));
    let done = open.consign(false, true);
    assert_eq!((names(&done), done.open.len()), (vec!["sheets/7.pdf"], 1));

    let clash = Case::new("1.png r 7, 2.png r 7").consign(false, false);
    assert!(
        clash.refusals[0].contains("7 is wanted more than once"),
        "{clash:?}"
    );

    let mut own = Case::new("1.png r 7");
    own.pattern = "{number}.tif";
    assert!(own.consign(false, false).refusals[0].contains("end in .tif, its scan is 1.pdf"));
    own.pattern = "{number}.PDF";
    assert_eq!(names(&own.consign(false, false)), ["sheets/7.PDF"]);
    own.scans[0].is_folder = true;
    assert_eq!(names(&own.consign(false, false)), ["sheets/7"]);
}

#[test]
fn delivered_names_are_frozen_and_amended_only_where_something_changed() {
    // Wider numbers came, a note changed, a number changed, a sheet was set aside.
    let case = Case::new("1.png r 7, 2.png r 8 x, 3.png r 9, 4.png r 5")
        .delivered("1.png r 7, 2.png r 8 y, 3.png r 19, 4.png a, 5.png r 100");
    let next = case.consign(false, false);
    assert_eq!(
        (names(&next), next.changed.len()),
        (vec!["sheets/100.pdf"], 3)
    );
    let amended = case.consign(true, false);
    assert_eq!(
        names(&amended),
        ["sheets/8.pdf", "sheets/019.pdf", "exceptions/4.pdf"]
    );
    let told: Vec<(bool, String)> = amended
        .sheets
        .iter()
        .map(|one| (one.ships_scan, one.change.as_ref().unwrap().what.join("; ")))
        .collect();
    assert_eq!(
        told,
        [
            (false, "note: x -> y".to_owned()),
            (true, "number: 9 -> 19".to_owned()),
            (true, "no record any more".to_owned())
        ]
    );
    let csv = String::from_utf8(amendments_csv(&amended.sheets, "client, May")).unwrap();
    assert!(
        csv.contains("1,3.png,sheets/9.pdf,sheets/019.pdf,number: 9 -> 19,\"client, May\""),
        "{csv}"
    );

    let mut rescanned = Case::new("1.png r 7, 2.png r 8").delivered("1.png r 7, 2.png r 8");
    rescanned.rescanned.insert(SheetId::new("2.png"));
    let amended = rescanned.consign(true, false);
    assert_eq!(
        (names(&amended), amended.sheets[0].ships_scan),
        (vec!["sheets/8.pdf"], true)
    );
    // A new sheet wants a name that was delivered, in other letters.
    let taken = Case::new("1.png r a")
        .delivered("1.png r a, 2.png r A")
        .consign(false, false);
    assert!(!taken.refusals.is_empty());
    // Names change places: each is free once the other has left it.
    let swapped = Case::new("1.png r 7, 2.png r 8").delivered("1.png r 8, 2.png r 7");
    let amended = swapped.consign(true, false);
    assert_eq!(
        (names(&amended), amended.refusals.len()),
        (vec!["sheets/8.pdf", "sheets/7.pdf"], 0)
    );
}

#[test]
fn hostile_ids_and_endings_give_portable_names() {
    let long = format!("{}.png", "x".repeat(10_000));
    for id in [
        "../../etc/passwd",
        "a/../b.png",
        "con.png",
        "\u{202e}x\u{1b}.png",
        "....",
        long.as_str(),
        "-rf.png",
    ] {
        let mut case = Case::new("1.png d");
        case.records[0].sheet = SheetId::new(id);
        for ending in [".pdf", ".P D\u{1b}F", "", ".nul", ".abcdefghijklmno", "."] {
            case.scans[0].name = format!("scan{ending}");
            let done = case.consign(false, false);
            let name = done.sheets[0].name.strip_prefix("exceptions/").unwrap();
            assert!(is_portable(name), "{id:?} {ending:?}: {name:?}");
        }
    }
}
