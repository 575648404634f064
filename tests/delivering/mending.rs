//! The list of findings in a terminal, and the clerk's desk behind it.

use super::hands::HandKeyed;
use crate::pseudo_terminal::Terminal;

#[test]
fn the_list_opens_a_sheet_at_the_clerks_desk_and_checks_again() {
    let mut job = HandKeyed::of_sheets(2, "");
    job.key(1, "DALTON MARY 204517-4 1931 1958 1 1");
    job.key(2, "HALE JO 000794-0 1950 1931 1 1");
    let path = job.path().to_str().unwrap().to_owned();
    let arguments = ["check", &path, "--desk", "--as", "mia", "--picture", "off"];
    let mut list = Terminal::start(&arguments, (80, 24));
    list.shows(&[
        "> warning  odd-values",
        "0002.png",
        "Sheet 1 of 1: 0002.png",
    ]);
    list.send("\r");
    list.shows(&["2 of 2", "HALE"]);
    // Down to the later year, which is put right; the desk takes the sheet.
    for _ in 0..8 {
        list.press("");
        if list.cursor_row().contains("1931") {
            break;
        }
        list.send("\t");
    }
    list.press("\x7f\x7f\x7f\x7f");
    list.press("1961");
    list.press("\x19");
    for _ in 0..3 {
        list.press("");
        if list.text().contains("Checked again") {
            break;
        }
        list.press("\r");
    }
    list.shows(&["Checked again: 1 fewer"]);
    assert!(!list.text().contains("odd-values"), "{}", list.text());
    // Keys reach the list again. Only notes are left.
    list.send("\x1b[F");
    list.shows(&["> note"]);
    list.send("q");
    assert_eq!(list.ends(), 0);
    list.shows(&["left"]);
}
