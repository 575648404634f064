//! The validated index.

use super::deliver::SCANS;
use super::hands::{HandKeyed, keyed, of_kind, record};
use crate::support::rows;
use headword::journal::{Act, ReadingRecord, Store};
use headword::reading::{Line, Reading};
use headword::value::SheetKind;
use std::fs;

#[test]
fn what_was_keyed_is_the_index_and_the_rest_is_listed() {
    let mut job = HandKeyed::of_sheets(9, "");
    job.run("index", &[]).exits(1).says(&["no sheet was keyed"]);
    let linked = record("DALTEN MARY~ANN 204517-4 1931 1958 1 2", Some("204517-4"));
    let linked = {
        let mut linked = linked;
        linked.fields[0].as_roster = Some("DALTON".to_owned());
        linked
    };
    job.does(1, "mia", 1, keyed(vec![linked]));
    // Two people on one sheet; a value like a formula; leading zeros.
    let two = vec![
        record("=QUAYLE JACK 0311", Some("0311")),
        record("HALE ?", None),
    ];
    job.does(2, "mia", 1, keyed(two));
    job.key(3, "WRONG PAT 000794-0");
    job.key(3, "O'BRIEN PAT 000794-0");
    let undone = job.key(3, "WORSE PAT 000794-0");
    job.does(3, "mia", 1, Act::Undone { entry: undone });
    job.does(4, "mia", 1, of_kind(SheetKind::Divider));
    job.does(5, "mia", 1, of_kind(SheetKind::RepeatScan));
    let reason = |words: &str| words.to_owned();
    let held = Act::Held {
        reason: reason("look at the film"),
    };
    job.does(6, "ada", 1, held);
    let given_up = Act::SetAside {
        reason: reason("no strip"),
    };
    job.does(7, "ada", 1, given_up);
    job.key(8, "S\u{fffd}ITH A 000001-2");
    job.run("index", &[])
        .exits(1)
        .says(&["5 records of 4 sheets", "2 sheets still to be keyed"]);

    assert_eq!(
        job.text("out/index/index.csv"),
        "file_name,surname_as_typed,surname_as_roster,surname_differs,forenames,number,from,to,part,parts\r\n\
         204517-4_DALTEN_1of2,DALTEN,DALTON,yes,MARY ANN,204517-4,1931,1958,1,2\r\n\
         0311_QUAYLE,=QUAYLE,,,JACK,0311,,,,\r\n\
         0311_QUAYLE,HALE,,,,,,,,\r\n\
         000794-0_OBRIEN,O'BRIEN,,,PAT,000794-0,,,,\r\n\
         000001-2_S_ITH,S\u{fffd}ITH,,,A,000001-2,,,,\r\n"
    );
    assert_eq!(
        job.text("out/index/exceptions.csv"),
        "sheet,kind,state,reason\r\n\
         0002.png,record,keyed,cannot be read: forenames\r\n\
         0004.png,divider,keyed,not a record: divider\r\n\
         0005.png,repeat scan,keyed,not a record: repeat scan\r\n\
         0006.png,record,held,look at the film\r\n\
         0007.png,record,set aside,no strip\r\n\
         0008.png,record,keyed,cannot be read: single characters of surname\r\n\
         0009.png,record,waiting,nobody has keyed it yet\r\n"
    );
    assert_eq!(
        job.text("out/index/rescans.csv"),
        "sheet,sheet_before,file_name_of_it,by,at\r\n0005.png,0004.png,,mia,2023-11-14T22:13:20Z\r\n"
    );
    assert_eq!(
        job.text("out/index/unused-roster.csv"),
        "number,surname,forenames\r\n000794-0,O'BRIEN,PAT\r\n"
    );
    let copy = job.text("out/index/index-for-spreadsheets.csv");
    assert!(copy.starts_with("\u{feff}file_name,") && copy.contains(",'=QUAYLE,"));
    let provenance = rows(&job.file("out/index/provenance.csv"));
    assert_eq!(provenance.len(), 5 * 7);
    let third = provenance.iter().find(|row| row["sheet"] == "0003.png");
    let third = third.unwrap();
    assert_eq!(
        [
            &third["as_typed"],
            &third["by"],
            &third["entry"],
            &third["at"]
        ],
        ["O'BRIEN", "mia", "4", "2023-11-14T22:13:20Z"]
    );
    let metadata: serde_json::Value =
        serde_json::from_str(&job.text("out/index/index.csv-metadata.json")).unwrap();
    assert_eq!(metadata["url"], "index.csv");
    assert!(
        fs::metadata(job.file("out/index/index.xlsx"))
            .unwrap()
            .len()
            > 1_000
    );
}

#[test]
fn the_folder_is_replaced_as_a_whole_and_the_same_each_time() {
    let mut job = HandKeyed::of_sheets(2, "");
    job.key(1, "A B 000001-2");
    job.key(2, "C D 000002-0");
    job.run("index", &[]).exits(0);
    let content = |name: &str| fs::read(job.file("out/index").join(name)).unwrap();
    let names = || -> Vec<String> {
        let entries = fs::read_dir(job.file("out/index")).unwrap();
        let mut names: Vec<String> = entries
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    };
    let before: Vec<Vec<u8>> = names().iter().map(|name| content(name)).collect();
    assert_eq!(before.len(), 8);
    job.run("index", &[]).exits(0);
    let after: Vec<Vec<u8>> = names().iter().map(|name| content(name)).collect();
    assert!(before == after);
    fs::write(job.file("out/index/notes.txt"), "the client rang").unwrap();
    job.run("index", &[]).exits(2).says(&["notes.txt"]);
}

#[test]
fn a_job_of_two_keyings_delivers_what_both_say() {
    let mut job = HandKeyed::of_sheets(3, "[keying]\npasses = 2\n");
    for (number, second) in [(1, "A B 000001-2"), (2, "A B 000002-9")] {
        job.key(
            number,
            &format!("A B 00000{number}-{}", if number == 1 { 2 } else { 0 }),
        );
        job.does(number, "ada", 2, keyed(vec![record(second, None)]));
    }
    job.key(3, "A B 000003-9");
    job.run("index", &[])
        .exits(1)
        .says(&["1 record of 1 sheet", "2 sheets still"]);
    let exceptions = job.text("out/index/exceptions.csv");
    assert!(exceptions.contains("0002.png,record,in dispute,its two keyings differ; settle them"));
    assert!(exceptions.contains("0003.png,record,keyed,it waits for its second keying"));
}

#[test]
fn an_image_that_is_gone_is_an_exception_and_its_entry_is_kept() {
    let mut job = HandKeyed::of_sheets(2, "");
    job.key(1, "A B 000001-2");
    job.key(2, "C D 000002-0");
    let gone = [job.sheet(2)];
    headword::journal::Store::mark_vanished(&mut job.store, &gone).unwrap();
    job.run("index", &[])
        .exits(1)
        .says(&["1 record of 1 sheet"]);
    assert!(
        job.text("out/index/exceptions.csv")
            .contains("its image is gone")
    );
}

#[test]
fn dates_in_edtf_and_what_was_read_go_along_where_the_job_asks() {
    let mut job = HandKeyed::of_sheets(3, "edtf = [\"from\"]\nfull_text = true\n");
    for (number, lines) in [
        (1, &["DALTON MARY", "1931-58"][..]),
        (3, &["=NO\u{1b} STRIP"]),
    ] {
        let lines = lines.iter().map(|line| Line::certain(line, 0.9));
        let reading = Reading {
            lines: lines.collect(),
        };
        let read = ReadingRecord::new(job.sheet(number), "key".to_owned(), None, reading);
        job.store.put_readings(&[read]).unwrap();
    }
    job.key(1, "DALTON MARY 204517-4 C.~1931 1958");
    job.key(2, "HALE JO 000794-0 UNKNOWN 1958");
    job.does(3, "mia", 1, of_kind(SheetKind::Divider));
    job.run("index", &[]).exits(0);
    let index = rows(&job.file("out/index/index.csv"));
    let dates: Vec<[&str; 2]> = index
        .iter()
        .map(|row| [row["from"].as_str(), row["from_edtf"].as_str()])
        .collect();
    assert_eq!(dates, [["C. 1931", "1931~"], ["UNKNOWN", ""]]);
    assert_eq!(
        job.text("out/index/strips.csv"),
        "file_name,sheet,line,as_read\r\n\
         204517-4_DALTON,0001.png,1,DALTON MARY\r\n\
         204517-4_DALTON,0001.png,2,1931-58\r\n\
         ,0003.png,1,=NO\u{1b} STRIP\r\n"
    );
}

#[test]
fn names_stand_in_the_index_as_they_will_be_delivered() {
    let mut job = HandKeyed::of_sheets(3, SCANS);
    fs::create_dir(job.file("scans")).unwrap();
    for number in 1..=3 {
        job.key(number, &format!("A B 00000{number}"));
    }
    let names = |job: &HandKeyed, index: &str| -> Vec<String> {
        let rows = rows(&job.file(index));
        rows.iter().map(|row| row["file_name"].clone()).collect()
    };
    job.run("index", &[])
        .exits(0)
        .says(&["without their scans' endings", "sheet 0001.png"]);
    assert_eq!(names(&job, "out/index/index.csv")[0], "000001_A");
    for number in 1..=3 {
        fs::write(job.file("scans").join(format!("000{number}.pdf")), "x").unwrap();
    }
    job.run("index", &[]).exits(0);
    let before = names(&job, "out/index/index.csv");
    assert_eq!(before, ["000001_A.pdf", "000002_A.pdf", "000003_A.pdf"]);
    job.run("deliver", &[]).exits(0);
    assert_eq!(names(&job, "out/delivery-0001/data/index.csv"), before);
}

#[test]
fn a_job_may_refuse_names_that_say_something_of_a_person() {
    let mut job = HandKeyed::of_sheets(1, "");
    job.key(1, "A B 000001");
    let text = job.text("job.toml");
    let refused = text.replace("[naming]\n", "[naming]\npersonal = \"refused\"\n");
    fs::write(job.file("job.toml"), &refused).unwrap();
    job.run("index", &[]).exits(2).says(&[
        "job.toml:15:22",
        "`surname` of the kind surname",
        "Write {number} or {part} or {parts} or {sheet}",
    ]);
    let pattern = "{number}_{surname:upper}[_{part:0}of{parts:0}]";
    for (other, name) in [("{number}", "000001"), ("{sheet}", "0001")] {
        fs::write(job.file("job.toml"), refused.replace(pattern, other)).unwrap();
        job.run("index", &[]).exits(0);
        assert_eq!(rows(&job.file("out/index/index.csv"))[0]["file_name"], name);
    }
    let faulty = text.replace("both = ", "edtf = [\"number\"]\nboth = ");
    fs::write(job.file("job.toml"), faulty).unwrap();
    job.run("index", &[])
        .exits(2)
        .says(&["`number`", "Write one of from, to"]);
}
