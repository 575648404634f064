//! What belongs to a whole sheet: its records, their rows of the roster, what was seen, work that was left.

use super::*;

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
        // A row that was picked stays.
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
    let mut desk = Clerk::new(plan(), bare, &Told);
    desk.drawn(0);
    let effects = press(&mut desk, "\n\n\n");
    assert!(desk.suggestions().is_empty());
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
