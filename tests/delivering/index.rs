//! The validated index.

use super::hands::{HandKeyed, keyed, of_kind, record};
use crate::support::rows;
use headword::journal::Act;
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
