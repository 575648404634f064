//! The list as a table: keys, and what comes of them; and its screens.

use super::*;
use crate::delivery::Check;
use crate::desk::clerk::{Code, Key};
use crate::value::{Severity, SheetId};
use ratatui::Terminal;
use ratatui::backend::TestBackend;

fn check(severity: Severity, code: &'static str, sheets: &[&str], message: &str) -> Check {
    Check {
        severity,
        code,
        sheets: sheets.iter().map(|sheet| SheetId::new(*sheet)).collect(),
        message: message.to_owned(),
    }
}

fn checks() -> Vec<Check> {
    use Severity::*;
    vec![
        check(
            Fault,
            "image-gone",
            &["9.png"],
            "the image file is gone or cannot be read; bring it back",
        ),
        check(
            Warning,
            "part-missing",
            &["1.png", "2\u{202e}.png", "3.png"],
            "204517-4 lacks part 2 of 3; look for the sheet, or note for the client that it is not there",
        ),
        check(
            Warning,
            "sheet-count",
            &[],
            "expected 6 sheets, found 5; look for the sheets that were not scanned, or correct [batch] in job.toml",
        ),
        check(
            Note,
            "not-in-roster",
            &["4.png"],
            "linked to no row of the roster",
        ),
    ]
}

fn press(list: &mut CheckList, codes: &[Code]) -> Vec<Effect> {
    codes
        .iter()
        .filter_map(|&code| list.press(Key::plain(code)))
        .collect()
}

#[test]
fn keys_choose_a_finding_and_a_sheet_of_it() {
    use Code::*;
    let open = |sheet: &str| vec![Effect::Open(SheetId::new(sheet))];
    for (codes, effects) in [
        (&[Enter][..], open("9.png")),
        (&[Up, Left, Enter], open("9.png")),
        (&[Down, Enter], open("1.png")),
        (&[Down, Right, Right, Right, Right, Enter], open("3.png")),
        (&[Down, Right, Right, Left, Enter], open("2\u{202e}.png")),
        // Another finding begins at its first sheet.
        (&[Down, Right, Up, Down, Enter], open("1.png")),
        (&[End, Right, Enter], open("4.png")),
        (&[PageDown, PageUp, Home, Enter], open("9.png")),
        // The whole batch has no sheet to open.
        (&[Down, Down, Enter], vec![]),
        (&[Char('r')], vec![Effect::CheckAgain]),
        (&[Esc], vec![Effect::Leave]),
        (&[Char('q')], vec![Effect::Leave]),
        (&[Char('x'), Tab], vec![]),
    ] {
        let mut list = CheckList::new(checks());
        assert_eq!(press(&mut list, codes), effects, "{codes:?}");
    }
    let mut none = CheckList::new(Vec::new());
    assert_eq!(
        press(&mut none, &[Down, End, Right, Enter, Char('q')]),
        [Effect::Leave]
    );
}

#[test]
fn what_is_in_hand_stays_there_when_all_is_checked_again() {
    let mut list = CheckList::new(checks());
    press(&mut list, &[Code::Down, Code::Right]);
    // The first finding is mended: the second is in hand still, at its sheet.
    list.check_again(checks()[1..].to_vec());
    assert_eq!(list.in_hand().unwrap().code, "part-missing");
    assert_eq!(list.sheet().unwrap().0, 1);
    assert!(list.message().unwrap().contains("1 fewer"));
    // The sheet in hand is mended.
    let mut fewer = checks();
    fewer[1].sheets.remove(1);
    list.check_again(fewer);
    assert_eq!(list.sheet().unwrap().1.as_str(), "3.png");
    // The finding is mended: what took its place is in hand.
    let mut fewer = checks();
    fewer.remove(1);
    list.check_again(fewer);
    assert_eq!(list.in_hand().unwrap().code, "sheet-count");
    list.check_again(Vec::new());
    assert_eq!(list.in_hand(), None);
}

fn drawn(list: &CheckList, size: (u16, u16)) -> String {
    let mut terminal = Terminal::new(TestBackend::new(size.0, size.1)).unwrap();
    let scene = Scene {
        list,
        title: "Harbour board",
    };
    terminal.draw(|frame| draw(frame, &scene)).unwrap();
    let buffer = terminal.backend().buffer();
    let obeyed = |cell: &ratatui::buffer::Cell| cell.symbol().chars().any(crate::value::is_obeyed);
    assert!(!buffer.content().iter().any(obeyed));
    terminal.backend().to_string()
}

#[test]
fn the_list_at_two_sizes_and_any_other() {
    let mut list = CheckList::new(checks());
    press(&mut list, &[Code::Down, Code::Right]);
    for size in [(80, 24), (120, 40)] {
        insta::assert_snapshot!(format!("{}x{}", size.0, size.1), drawn(&list, size));
    }
    let many: Vec<Check> = (0..500).flat_map(|_| checks()).collect();
    for checks in [Vec::new(), checks(), many] {
        let mut list = CheckList::new(checks);
        for size in [(1, 1), (39, 9), (40, 10), (60, 12), (300, 90)] {
            for code in [Code::Home, Code::PageDown, Code::End, Code::Up] {
                press(&mut list, &[code]);
                let screen = drawn(&list, size);
                let holds = |what: char| {
                    screen
                        .lines()
                        .any(|line| line.trim_start_matches('"').starts_with(what))
                };
                assert!(
                    size.0 < 40 || list.checks().is_empty() || holds('>'),
                    "{screen}"
                );
            }
        }
    }
}
