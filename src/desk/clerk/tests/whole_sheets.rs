//! What belongs to a whole sheet: its records, their rows of the roster, what was seen, work that was left.

use super::*;
use crate::desk::picture::Reversal;

/// The key of the row that the record in hand is linked to.
fn linked(desk: &Clerk) -> Option<&str> {
    desk.row().map(|row| row.key.as_str())
}

/// A sheet that was proposed with a link to DALE's row.
fn linked_sheet() -> DeskSheet {
    let mut linked = sheet(["=DALE", "?509", "?1"]);
    let frozen = linked.proposal.as_mut().unwrap();
    frozen.proposal.link = Some(Link {
        row: 0,
        key: "509".to_owned(),
        probability: Probability::new(0.99),
    });
    linked
}

#[test]
fn another_value_means_another_row() {
    for (keys, row, as_roster) in [
        ("", Some("509"), None),
        // Another number: DALTON's row, and then nobody's.
        ("{Ctrl+U}519", Some("519"), Some("519")),
        ("{Ctrl+U}529", None, None),
        ("{Ctrl+U}529{Alt+U}", Some("509"), None),
        // A row that was picked stays, whatever other row the values mean.
        ("{Ctrl+F}DALT\n{Ctrl+U}509", Some("519"), Some("519")),
        (
            "{Ctrl+U}{Ctrl+F}DALT\n\t{Backspace}9",
            Some("519"),
            Some("519"),
        ),
    ] {
        let mut desk = Clerk::new(plan(), linked_sheet(), &Told);
        desk.drawn(0);
        press(&mut desk, keys);
        assert_eq!(linked(&desk), row, "{keys}");
        let number = &desk.fields()[1];
        assert_eq!(number.as_roster.as_deref(), as_roster, "{keys}");
    }
    // Where only the picture may be seen, no row is looked up.
    let blind = DeskSheet {
        sees_proposal: false,
        ..linked_sheet()
    };
    let mut desk = Clerk::new(plan(), blind, &Told);
    desk.drawn(0);
    press(&mut desk, "DALTON\n519");
    assert_eq!(linked(&desk), None);
}

#[test]
fn work_that_was_left_comes_back_with_its_sheet() {
    let mut desk = open(["?DALE", "?509", "?1"]);
    let other = DeskSheet {
        sheet: SheetId::new("8.png"),
        ..sheet(["=ORME", "=519", "=2"])
    };
    press(&mut desk, "\n{Ctrl+U}519");
    desk.open(other.clone(), &Told);
    assert_eq!(shown(&desk), ">ORME= 519= 2=");
    desk.open(sheet(["?DALE", "?509", "?1"]), &Told);
    assert_eq!(shown(&desk), "DALE+ >519? 1?");
    assert!(desk.message().unwrap().contains("what you had begun"));
    desk.drawn(0);
    press(&mut desk, "{Alt+U}");
    assert_eq!(shown(&desk), ">DALE? 509? 1?");

    // What is written is not left; nor does work on one image pass to another.
    press(&mut desk, "X\n");
    let act = Act::Held {
        reason: "ask".to_owned(),
    };
    desk.written(1, &act);
    desk.open(other, &Told);
    desk.open(sheet(["?DALE", "?509", "?1"]), &Told);
    assert_eq!(shown(&desk), ">DALE? 509? 1?");
    desk.drawn(0);
    press(&mut desk, "X");
    let replaced = DeskSheet {
        content_hash: "another".to_owned(),
        ..sheet(["?DALE", "?509", "?1"])
    };
    desk.open(replaced, &Told);
    assert_eq!(shown(&desk), ">DALE? 509? 1?");
}

#[test]
fn suggestions_that_were_shown_count_as_seen_to_the_end() {
    let mut bare = sheet(["?DALE", "?509", "=1"]);
    let fields = &mut bare.proposal.as_mut().unwrap().proposal.fields;
    // Only the first field has another value to offer.
    fields
        .iter_mut()
        .skip(1)
        .for_each(|field| field.alternatives.clear());
    fields[2].as_typed = "1".to_owned();
    let mut desk = Clerk::new(plan(), bare, &Told);
    desk.drawn(0);
    let effects = press(&mut desk, "\n\n\n");
    assert!(keyed(&effects).seen.suggestions);
}

#[test]
fn two_records_on_one_sheet() {
    let mut desk = open(["=DALE", "=509", "=1"]);
    press(&mut desk, "{Alt+N}QUAY\n519\n\n");
    assert_eq!(
        (desk.record(), shown(&desk).as_str()),
        ((1, 2), "QUAY+ 519+ >none+")
    );
    let effects = press(&mut desk, "\n");
    let keying = keyed(&effects);
    assert_eq!(keying.records.len(), 2);
    assert_eq!(
        keying.records[1].fields[0].value,
        KeyedValue::Text("QUAY".to_owned())
    );
    // Esc gives an empty one up, and none that holds something.
    let mut desk = open(["=DALE", "=509", "=1"]);
    press(&mut desk, "{Alt+N}{Esc}");
    assert_eq!(desk.record(), (0, 1));
    press(&mut desk, "{Alt+N}Q{Esc}");
    assert_eq!(desk.record(), (1, 2));
    // It is taken off on purpose, and undo brings it back.
    press(&mut desk, "{Alt+E}");
    assert_eq!(desk.record(), (0, 1));
    press(&mut desk, "{Alt+E}");
    assert!(desk.message().unwrap().contains("one record at least"));
    press(&mut desk, "{Alt+U}");
    assert_eq!(
        (desk.record(), desk.fields()[0].value()),
        ((1, 2), "Q".to_owned())
    );
}

#[test]
fn what_was_not_seen_is_not_said_to_be() {
    let blind = |sheet: DeskSheet| {
        let mut desk = Clerk::new(plan(), sheet, &Told);
        desk.drawn(0);
        desk
    };
    let mut unfilled = sheet(["=DALE", "=509", "=1"]);
    unfilled.unfilled = true;
    let mut unseen = sheet(["=DALE", "=509", "=1"]);
    unseen.sees_proposal = false;
    for sheet in [unfilled, unseen] {
        let mut desk = blind(sheet.clone());
        assert_eq!(shown(&desk), ">_ _ _");
        assert!(desk.suggestions().is_empty());
        let effects = press(&mut desk, "DALE\n509\n\n\n");
        let keying = keyed(&effects);
        assert!(!keying.seen.proposal && !keying.seen.suggestions);
        assert_eq!(keying.seen.unfilled, sheet.unfilled);
        // What was proposed goes along all the same, for measuring.
        let proposed = keying.records[0].fields[0].proposed.as_ref().unwrap();
        assert_eq!(
            (proposed.value.as_str(), proposed.face),
            ("DALE", Face::Sure)
        );
        // Whoever looks into the roster has seen suggestions.
        let effects = press(&mut blind(sheet), "DALE\n{Ctrl+F}{Esc}509\n\n\n");
        assert!(desk.suggestions().is_empty());
        assert!(keyed(&effects).seen.suggestions);
    }
}

#[test]
fn a_sheet_is_read_again_only_another_way_round_and_what_was_keyed_stays() {
    let mut desk = open(["?DALE", "?509", "?1"]);
    assert!(press(&mut desk, "{Alt+A}").is_empty());
    assert!(desk.message().unwrap().contains("turn (Alt+T)"));
    let effects = press(&mut desk, "QUAY\n{Alt+T}{Alt+A}");
    let turned = Reversal {
        turned: true,
        ..Reversal::default()
    };
    assert_eq!(effects, [Effect::ReadAgain(turned)]);
    desk.read_anew(sheet(["?ORME", "=519", "?2"]), &Told);
    assert_eq!(shown(&desk), "QUAY+ 519= >2?");
    assert_eq!(desk.wishes().reversal, Reversal::default());
    // It has to be seen anew before an Enter counts.
    assert!(press(&mut desk, "\n").is_empty());
    assert_eq!(shown(&desk), "QUAY+ 519= >2?");
    press(&mut desk, "{Alt+U}");
    assert_eq!(shown(&desk), "QUAY+ >509? 1?");
    let mut none = sheet(["", "", ""]);
    none.has_no_strip = true;
    let mut desk = Clerk::new(plan(), none, &Told);
    assert!(desk.wishes().whole);
    assert!(press(&mut desk, "{Alt+T}{Alt+A}").is_empty());
}

#[test]
fn a_sheet_that_is_keyed_again_has_what_the_roster_says_now() {
    for (key, linked, says) in [("509", Some("509"), Some("DALE")), ("600", None, None)] {
        let mut first = open(["=DALE", "=509", "=1"]);
        let mut again = keyed(&press(&mut first, "{Ctrl+Y}")).clone();
        again.records[0].roster_key = Some(key.to_owned());
        again.records[0].fields[0].as_roster = Some("DALEY".to_owned());
        let again = Some(again);
        let mut desk = Clerk::new(
            plan(),
            DeskSheet {
                again,
                ..sheet(["=DALE", "=509", "=1"])
            },
            &Told,
        );
        desk.drawn(0);
        let effects = press(&mut desk, "{Ctrl+Y}");
        let record = &keyed(&effects).records[0];
        assert_eq!(record.roster_key.as_deref(), linked, "{key}");
        assert_eq!(record.fields[0].as_roster.as_deref(), says, "{key}");
    }
}

#[test]
fn what_was_done_before_this_sitting_can_be_undone() {
    let mut desk = open(["=DALE", "=509", "=1"]);
    let act = Act::Held {
        reason: "ask".to_owned(),
    };
    desk.recall(
        Done::of(&SheetId::new("5.png"), &act, 17)
            .into_iter()
            .collect(),
    );
    let effects = press(&mut desk, "{Alt+U}");
    assert!(matches!(&effects[..], [Effect::Undo(done)] if done.entry == 17));
}

#[test]
fn a_late_answer_of_the_roster_is_dropped() {
    let mut desk = Clerk::new(plan(), sheet(["?DALE", "?509", "=1"]), &Told);
    desk.drawn(0);
    let early = desk.question().unwrap();
    desk.press(Key::plain(Code::Char('Q')), 1_000, &Told);
    let answer = early.ask(&Told);
    desk.answer(&early, answer);
    assert_eq!(linked(&desk), None);
    assert!(desk.question().is_some(), "it is still open");
    desk.settle(&Told);
    assert_eq!(linked(&desk), Some("509"));
}
