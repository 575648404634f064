//! Clerks at their desks, in terminals, with the real program.

use crate::pseudo_terminal::Terminal;
use crate::support::drawn_job;
use rusqlite::Connection;
use std::path::Path;

fn desk(job: &Path, person: &str, size: (u16, u16)) -> Terminal {
    let path = job.to_str().unwrap();
    Terminal::start(
        &["key", path, "--as", person, "--picture", "sextants"],
        size,
    )
}

/// The acts in the journal, in order: (sheet, person, act).
fn acts(job: &Path) -> Vec<(String, String, serde_json::Value)> {
    let journal = Connection::open(job.join("headword.db")).unwrap();
    let mut ask = journal
        .prepare("SELECT payload FROM entries ORDER BY number")
        .unwrap();
    let rows = ask.query_map([], |row| row.get::<_, String>(0)).unwrap();
    rows.map(|payload| {
        let entry: serde_json::Value = serde_json::from_str(&payload.unwrap()).unwrap();
        let text = |key: &str| entry[key].as_str().unwrap().to_owned();
        (text("sheet"), text("by"), entry["act"].clone())
    })
    .collect()
}

/// The value that was keyed in a field of a record.
fn value(act: &serde_json::Value, record: usize, field: usize) -> &str {
    let value = &act["keyed"]["records"][record]["fields"][field]["value"];
    value["text"].as_str().unwrap_or_else(|| panic!("{value}"))
}

#[test]
fn a_clerk_keys_a_drawer_with_all_that_happens() {
    let (_folder, job) = drawn_job(14, "default");
    let mut desk = desk(&job, "mia", (100, 30));
    desk.shows(&["1 of 14", "0 keyed", "surname", "Enter accepts the field"]);
    assert_eq!(desk.is_taken(), (true, true));

    // Confirmed: two fields to look at, then the sheet.
    desk.press("\r");
    desk.press("\r");
    desk.shows(&["Enter accepts the sheet"]);
    desk.press("\r");
    desk.shows(&["2 of 14", "1 keyed"]);

    // Corrected: to the first field, its text replaced.
    desk.press("\t\t\x15QUAY");
    desk.shows(&["QUAY", "typed"]);
    desk.press("\r");
    desk.press("\r");
    desk.press("\r");
    desk.press("\r");
    desk.shows(&["3 of 14", "2 keyed"]);

    // Ditto of the surname, then the whole sheet undone, back and accepted again.
    desk.press("\t\t\x04");
    desk.shows(&["as on jacket-00002"]);
    desk.press("\r");
    desk.press("\r");
    desk.press("\r");
    desk.shows(&["4 of 14", "3 keyed"]);
    desk.press("\x1bu");
    desk.shows(&["3 of 14", "2 keyed", "sheet before"]);
    desk.press("\r");
    desk.shows(&["4 of 14", "3 keyed"]);

    // Put off with a reason of one's own; a second record; other sizes of the window meanwhile.
    desk.press("\x0f");
    desk.shows(&["Why is this sheet put off?"]);
    desk.press("folded corner\r");
    desk.shows(&["5 of 14", "1 put off"]);
    desk.resize(40, 10);
    desk.shows(&["5 of 14"]);
    desk.resize(30, 8);
    desk.shows(&["the desk needs 40"]);
    desk.resize(120, 40);
    desk.shows(&["5 of 14", "Enter accepts the field"]);
    desk.press("\r");
    desk.press("\r");
    desk.press("\x1bn");
    desk.shows(&["record 2 of 2"]);
    desk.press("SLIP\r");
    desk.press("ANNA\r");
    desk.press("\x1b0");
    for _ in 0..4 {
        desk.press("\x1b0");
    }
    desk.shows(&["Enter accepts the sheet"]);
    // A paste goes where letters go, and its line break accepts nothing.
    desk.press("\x1b[200~1\r\n\x1b[201~");
    desk.shows(&["5 of 14"]);
    desk.press("\x1bu");
    desk.press("\r");
    desk.shows(&["6 of 14", "4 keyed"]);

    desk.press("\x1bq");
    assert_eq!(desk.ends(), 0);
    assert_eq!(
        desk.is_taken(),
        (false, false),
        "the terminal is given back"
    );
    desk.shows(&["of 14 sheets 4 are keyed, 1 put off"]);

    let acts = acts(&job);
    let kinds: Vec<String> = acts
        .iter()
        .map(|(sheet, by, act)| {
            assert_eq!(by, "mia");
            let kind = act.as_object().unwrap().keys().next().unwrap().clone();
            format!("{} {kind}", &sheet[7..12])
        })
        .collect();
    assert_eq!(
        kinds,
        [
            "00001 keyed",
            "00002 keyed",
            "00003 keyed",
            "00003 undone",
            "00003 keyed",
            "00004 held",
            "00005 keyed"
        ]
    );
    assert_eq!(value(&acts[1].2, 0, 0), "QUAY");
    assert_eq!(value(&acts[4].2, 0, 0), "QUAY");
    assert_eq!(
        acts[4].2["keyed"]["records"][0]["fields"][0]["source"],
        "ditto"
    );
    assert_eq!(acts[5].2["held"]["reason"], "folded corner");
    assert_eq!(value(&acts[6].2, 1, 0), "SLIP");

    // Opened again: the rest, and what was put off when it is asked for.
    let mut again = self::desk(&job, "mia", (80, 24));
    again.shows(&["6 of 14", "4 keyed"]);
    again.press("\x1bq");
    assert_eq!(again.ends(), 0);
    let path = job.to_str().unwrap();
    let mut held = Terminal::start(
        &["key", path, "--as", "mia", "--held", "--picture", "braille"],
        (80, 24),
    );
    held.shows(&["4 of 14"]);
    held.press("\x1bq");
    assert_eq!(held.ends(), 0);
}

#[test]
fn two_clerks_never_have_the_same_sheet_and_a_killed_one_gives_hers_back() {
    let (_folder, job) = drawn_job(14, "default");
    let mut mia = desk(&job, "mia", (80, 24));
    mia.shows(&["1 of 14", "surname"]);
    let mut kim = desk(&job, "kim", (80, 24));
    // Mia has claimed the first twelve.
    kim.shows(&["13 of 14", "surname"]);
    kim.press("\x073\r");
    kim.shows(&["in somebody else's hands"]);
    mia.press("\r");
    mia.press("\r");
    mia.press("\r");
    mia.shows(&["2 of 14"]);
    mia.kill();
    // What she accepted is there, what she only had comes back.
    kim.press("\x072\r");
    kim.shows(&["2 of 14", "1 keyed"]);
    kim.press("\x1bq");
    assert_eq!(kim.ends(), 0);
    assert_eq!(acts(&job).len(), 1);
}

#[test]
fn a_sheet_is_read_again_and_what_was_done_before_the_sitting_is_undone() {
    let (_folder, job) = drawn_job(4, "default");
    let mut first = desk(&job, "mia", (120, 40));
    first.shows(&["1 of 4", "Enter accepts the field"]);
    // The whole sheet, and back.
    first.press("\x1bw");
    first.press("\x1bw");
    // As it was read there is nothing to read again; the other way round there is, and back.
    first.press("\x1ba");
    first.shows(&["It was read as it stands"]);
    first.press("\x1bt");
    first.press("\x1ba");
    first.shows(&["The sheet was read again"]);
    first.press("\x1bt");
    first.press("\x1ba");
    first.shows(&["being read again"]);
    first.shows(&["The sheet was read again"]);
    // All at a glance, the sheet with it.
    first.press("\x19");
    first.shows(&["2 of 4", "1 keyed", "Done last", "accepted"]);
    first.press("\x1bq");
    assert_eq!(first.ends(), 0);

    let run = crate::support::headword(["history", job.to_str().unwrap(), "jacket-00001"]);
    assert_eq!(run.out.matches("read again: turned").count(), 2, "{run:#?}");

    // Another sitting of the same person takes the sheet back; somebody else cannot.
    let mut kim = desk(&job, "kim", (80, 24));
    kim.shows(&["2 of 4", "1 keyed"]);
    kim.press("\x1bu");
    kim.shows(&["nothing of yours left to undo"]);
    kim.press("\x1bq");
    assert_eq!(kim.ends(), 0);
    let mut again = desk(&job, "mia", (80, 24));
    again.shows(&["2 of 4", "1 keyed"]);
    again.press("\x1bu");
    again.shows(&["1 of 4", "0 keyed", "+ seen", "is taken back"]);
    again.press("\x1bq");
    assert_eq!(again.ends(), 0);
    // Without pictures, what was read is there as text.
    let path = job.to_str().unwrap();
    let mut bare = Terminal::start(&["key", path, "--as", "mia", "--picture", "off"], (80, 24));
    bare.shows(&["1 of 4", "Read on the strip:"]);
    bare.press("\x19");
    bare.shows(&["2 of 4", "1 keyed"]);
    bare.press("\x1bq");
    assert_eq!(bare.ends(), 0);
    // A sheet that was keyed is opened to correct it.
    let mut corrected = Terminal::start(
        &["key", path, "--as", "mia", "--sheet", "jacket-00001"],
        (80, 24),
    );
    corrected.shows(&["1 of 4", "1 keyed", "+ seen"]);
    corrected.press("\x1bq");
    assert_eq!(corrected.ends(), 0);
    let mut unknown = Terminal::start(&["key", path, "--as", "mia", "--sheet", "zzz"], (80, 24));
    assert_eq!(unknown.ends(), 2);
    unknown.shows(&["no sheet of this job"]);
}
