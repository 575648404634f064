//! The reviewer's desk as a table: keys, and what comes of them; and its screens.

use super::*;
use crate::desk::clerk::{Code, Contradiction, Key, Knowledge, LikelyRows, RosterRow};
use crate::desk::picture::{Memo, Shape};
use crate::desk::view::{Picture, Theme};
use crate::journal::{KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying, Taken};
use crate::reading::{Line, Reading};
use crate::review::{Comparer, Comparison, Harmless, HarmlessGroup, Member, Place};
use crate::value::SheetId;
use image::{GrayImage, Luma};
use ratatui::Terminal;
use ratatui::backend::TestBackend;

struct Told;

impl Knowledge for Told {
    fn objection(&self, field: &str, value: &str) -> Option<String> {
        let is_wrong = field == "number" && !value.ends_with('9');
        is_wrong.then(|| "it does not end in 9".to_owned())
    }

    fn contradictions(&self, _: &[(&str, String)]) -> Vec<Contradiction> {
        Vec::new()
    }

    fn search(&self, _: &str, _: usize) -> Vec<RosterRow> {
        Vec::new()
    }

    fn row(&self, key: &str) -> Option<RosterRow> {
        let cells = [("number", key), ("surname", "QUAYLE")];
        Some(RosterRow {
            key: key.to_owned(),
            columns: cells.map(|(a, b)| (a.to_owned(), b.to_owned())).into(),
            ..RosterRow::default()
        })
    }

    fn holds(&self, _: &str) -> bool {
        true
    }

    fn likely(&self, values: &[(&str, String)], _: usize) -> LikelyRows {
        let number = values.iter().find(|(field, _)| *field == "number");
        let rows = number.and_then(|(_, number)| self.row(number));
        LikelyRows {
            rows: rows.map(|row| (row, 0.9.into())).into_iter().collect(),
            none: 0.1.into(),
        }
    }
}

fn keying(surname: &str, number: &str) -> Keying {
    let field = |name: &str, value: &str| KeyedField {
        field: name.to_owned(),
        value: KeyedValue::Text(value.to_owned()),
        as_roster: None,
        source: KeyedSource::Typed,
        proposed: None,
        overruled: None,
    };
    let record = KeyedRecord {
        fields: vec![field("surname", surname), field("number", number)],
        roster_key: Some(number.to_owned()),
    };
    Keying {
        records: vec![record],
        ..Keying::default()
    }
}

fn case(first: [&str; 2], second: [&str; 2]) -> Case {
    let [first, second] = [first, second].map(|[surname, number]| keying(surname, number));
    Case {
        sheet: SheetId::new("jacket-\u{202e}7.png"),
        of: 3,
        comparison: Comparison::of(&first, &second, &Comparer::default()),
        first: Keyed {
            entry: 4,
            keying: first,
        },
        second: Keyed {
            entry: 9,
            keying: second,
        },
        seed: 1,
        has_no_strip: false,
        reading: Reading {
            lines: vec![Line::certain("QUAYLE   104219", 0.99)],
        },
        findings: Vec::new(),
        proposal: None,
        last: None,
    }
}

fn open(first: [&str; 2], second: [&str; 2]) -> Reviewer {
    let mut desk = Reviewer::new(case(first, second));
    desk.drawn(0);
    desk
}

/// The arrow that takes the first keying's value of the difference in hand, or the second's.
fn arrow(desk: &Reviewer, first: bool) -> Key {
    let at = &desk.in_hand().unwrap().at;
    let is_left = (desk.case().side_of_first(at) == Side::Left) == first;
    Key::plain(if is_left { Code::Left } else { Code::Right })
}

/// Presses keys half a second apart.
fn press(desk: &mut Reviewer, keys: &[Key]) -> Vec<Effect> {
    let mut effects = Vec::new();
    for (at, key) in keys.iter().enumerate() {
        let now = 1_000 + 500 * at as i64;
        effects.extend(desk.press(*key, now, &Told));
    }
    effects
}

fn letters(text: &str) -> Vec<Key> {
    text.chars().map(|c| Key::plain(Code::Char(c))).collect()
}

const ENTER: Key = Key::plain(Code::Enter);

fn settled(effects: &[Effect]) -> &crate::journal::Settlement {
    match effects.last() {
        Some(Effect::Settle(settlement)) => settlement,
        other => panic!("not settled: {other:?}"),
    }
}

fn surname(settlement: &crate::journal::Settlement) -> &KeyedValue {
    &settlement.records[0].fields[0].value
}

#[test]
fn one_key_takes_a_side_and_another_settles() {
    for (first, expected, taken) in [
        (true, "QUAYLE", Taken::First),
        (false, "QUAYIE", Taken::Second),
    ] {
        let mut desk = open(["QUAYLE", "509"], ["QUAYIE", "509"]);
        assert!(!desk.is_ready());
        let key = arrow(&desk, first);
        assert!(press(&mut desk, &[key]).is_empty());
        assert!(desk.is_ready());
        let effects = press(&mut desk, &[ENTER]);
        let settlement = settled(&effects);
        assert_eq!(surname(settlement), &KeyedValue::Text(expected.to_owned()));
        assert_eq!(settlement.decided, [("surname".to_owned(), taken)]);
        assert_eq!((settlement.of, settlement.keystrokes), ([4, 9], 2));
        assert!(!settlement.saw_proposal && !settlement.saw_roster);
    }
}

#[test]
fn a_third_value_is_typed_marked_or_undone() {
    let mut desk = open(["QUAYLE", "509"], ["QUAYIE", "509"]);
    press(&mut desk, &letters("QUALE"));
    assert!(!desk.is_ready(), "what is typed was not taken yet");
    // Arrows move in what is typed.
    press(&mut desk, &[Key::plain(Code::Left), Key::plain(Code::Left)]);
    press(&mut desk, &letters("Y"));
    let effects = press(&mut desk, &[ENTER, ENTER]);
    assert_eq!(
        surname(settled(&effects)),
        &KeyedValue::Text("QUAYLE".to_owned())
    );
    assert_eq!(settled(&effects).decided[0].1, Taken::Third);

    let mut desk = open(["QUAYLE", "509"], ["QUAYIE", "509"]);
    press(&mut desk, &[Key::alt(Code::Char('x'))]);
    assert!(desk.is_ready());
    press(&mut desk, &[Key::alt(Code::Char('u'))]);
    assert!(!desk.is_ready());
    // Nothing is settled while something is open.
    let effects = press(&mut desk, &[Key::plain(Code::Tab), ENTER]);
    assert!(effects.is_empty());
    assert!(desk.message().unwrap().contains("expected a decision"));
}

#[test]
fn what_was_looked_at_beside_the_strip_is_written_down() {
    let mut desk = open(["QUAYLE", "509"], ["QUAYIE", "509"]);
    press(&mut desk, &[Key::ctrl('p'), Key::ctrl('f')]);
    assert!(desk.shows_proposal() && desk.shows_roster());
    let key = arrow(&desk, true);
    let effects = press(&mut desk, &[key, ENTER]);
    assert!(settled(&effects).saw_proposal && settled(&effects).saw_roster);
    // The next sheet shows neither.
    desk.written(Done::default());
    desk.open(case(["A", "1"], ["B", "1"]));
    assert!(!desk.shows_proposal() && !desk.shows_roster());
}

#[test]
fn a_record_whose_number_was_settled_is_linked_anew() {
    let mut desk = open(["QUAYLE", "509"], ["QUAYLE", "519"]);
    let places = desk.case().disputes().len();
    assert_eq!(places, 1, "the number alone: the row follows from it");
    press(&mut desk, &letters("529"));
    let effects = press(&mut desk, &[ENTER, ENTER]);
    let record = &settled(&effects).records[0];
    assert_eq!(record.roster_key.as_deref(), Some("529"));
}

#[test]
fn keys_that_nobody_meant_settle_nothing() {
    let mut desk = Reviewer::new(case(["QUAYLE", "509"], ["QUAYIE", "509"]));
    let key = arrow(&desk, true);
    assert_eq!(desk.press(key, 100, &Told), None, "not drawn yet");
    desk.drawn(1_000);
    desk.press(key, 1_100, &Told);
    assert!(desk.decided(0).is_none(), "not seen yet");
    desk.press(key, 2_000, &Told);
    assert!(desk.decided(0).is_some());
    // A key held down over sheet after sheet.
    let mut desk = open(["QUAYLE", "509"], ["QUAYIE", "509"]);
    let mut settled = 0;
    for at in 0..200 {
        let now = 33 * at;
        desk.drawn(now);
        if desk.press(ENTER, now, &Told).is_some() {
            settled += 1;
        }
    }
    assert_eq!(settled, 0);
    desk.paste("A\nB\u{1b}[31m\n");
    assert_eq!(desk.own.text(), "A B[31m ");
}

#[test]
fn sheets_are_put_off_with_a_reason_and_scans_asked_for() {
    let put_off = |keys: &[Key]| {
        let mut desk = open(["QUAYLE", "509"], ["QUAYIE", "509"]);
        match press(&mut desk, keys).pop() {
            Some(Effect::PutOff { reason, set_aside }) => (reason, set_aside),
            other => panic!("{other:?}"),
        }
    };
    let ask = [&[Key::ctrl('o')][..], &letters("ask")[..], &[ENTER][..]].concat();
    assert_eq!(put_off(&ask), ("ask".to_owned(), false));
    assert_eq!(
        put_off(&[Key::ctrl('r'), ENTER]),
        ("scan again".to_owned(), false)
    );
    let mut desk = open(["QUAYLE", "509"], ["QUAYIE", "509"]);
    let effects = press(&mut desk, &[Key::ctrl('x'), ENTER]);
    assert!(effects.is_empty());
    assert!(desk.message().unwrap().contains("Write a reason"));
    press(&mut desk, &[Key::plain(Code::Esc)]);
    assert_eq!(*desk.pane(), Pane::Disputes);
}

#[test]
fn a_group_is_looked_through_before_it_is_settled() {
    let member = |sheet: &str| Member {
        sheet: SheetId::new(sheet),
        at: Place::Field(0, "surname".to_owned()),
        first: "O'DWYER".to_owned(),
        second: "ODWYER".to_owned(),
        in_order: false,
    };
    let group = HarmlessGroup {
        field: "surname".to_owned(),
        sort: Harmless::Punctuation,
        forms: ["".to_owned(), "'".to_owned()],
        members: vec![member("1.png"), member("2.png"), member("3.png")],
    };
    let mut desk = open(["QUAYLE", "509"], ["QUAYIE", "509"]);
    let effects = press(&mut desk, &[Key::alt(Code::Char('b'))]);
    assert_eq!(effects, [Effect::GatherHarmless]);
    desk.open_bulk(vec![group.clone()]);
    // Into the group; no form chosen yet.
    assert!(press(&mut desk, &[ENTER, ENTER]).is_empty());
    assert!(desk.message().unwrap().contains("Choose the form"));
    let keys = [Code::Right, Code::Down, Code::Delete].map(Key::plain);
    press(&mut desk, &keys);
    let screen = drawn(&desk, (80, 24));
    assert!(screen.contains("left out"), "{screen}");
    let effects = press(&mut desk, &[ENTER]);
    let sheets = ["1.png", "3.png"].map(SheetId::new).to_vec();
    let form = 1;
    assert_eq!(
        effects,
        [Effect::SettleGroup {
            group,
            form,
            sheets
        }]
    );
    // Undone as one.
    let done = Done {
        entries: vec![(SheetId::new("1.png"), 7), (SheetId::new("3.png"), 8)],
        words: "two".to_owned(),
    };
    desk.written(done.clone());
    desk.open(case(["A", "1"], ["B", "1"]));
    let effects = press(&mut desk, &[Key::alt(Code::Char('u'))]);
    assert_eq!(effects, [Effect::Undo(done)]);
    desk.open_bulk(Vec::new());
    assert!(desk.message().unwrap().contains("No difference"));
}

#[test]
fn the_sides_are_drawn_for_each_place_and_stay() {
    let sides: Vec<Side> = (0..64)
        .map(|n| {
            let mut case = case(["QUAYLE", "509"], ["QUAYIE", "509"]);
            case.sheet = SheetId::new(format!("{n}.png"));
            let at = Place::Field(0, "surname".to_owned());
            assert_eq!(case.side_of_first(&at), case.side_of_first(&at));
            case.side_of_first(&at)
        })
        .collect();
    let left = sides.iter().filter(|side| **side == Side::Left).count();
    // Binomial: 32 expected, standard deviation 4; four of them.
    assert!((16..=48).contains(&left), "{left}");
}

fn drawn(desk: &Reviewer, size: (u16, u16)) -> String {
    let strip = GrayImage::from_fn(310, 50, |x, y| {
        let is_ink = x % 20 < 8 && (8..34).contains(&y);
        Luma([if is_ink { 20 } else { 240 }])
    });
    let scene = Scene {
        desk,
        picture: Picture::There(&strip),
        shape: Some(Shape::Sextant),
        memo: &Memo::default(),
        theme: Theme::Plain,
        knowledge: &Told,
        settled: 2,
        person: "rio",
    };
    let mut terminal = Terminal::new(TestBackend::new(size.0, size.1)).unwrap();
    terminal.draw(|frame| draw(frame, &scene)).unwrap();
    let buffer = terminal.backend().buffer();
    let obeyed = |cell: &ratatui::buffer::Cell| cell.symbol().chars().any(crate::value::is_obeyed);
    assert!(!buffer.content().iter().any(obeyed));
    terminal.backend().to_string()
}

#[test]
fn the_desk_at_three_sizes_and_any_other() {
    let mut desk = open(["QUAYLE", "509"], ["QUAYIE", "519"]);
    press(&mut desk, &[Key::ctrl('f')]);
    let key = arrow(&desk, true);
    press(&mut desk, &[key]);
    press(&mut desk, &letters("508"));
    for size in [(80, 24), (120, 40), (200, 50)] {
        insta::assert_snapshot!(format!("{}x{}", size.0, size.1), drawn(&desk, size));
    }
    for size in [(1, 1), (39, 9), (40, 10), (60, 12), (300, 90)] {
        for key in [
            Key::alt(Code::Char('h')),
            Key::plain(Code::Esc),
            Key::ctrl('o'),
        ] {
            desk.press(key, 99_000, &Told);
            drawn(&desk, size);
        }
    }
}
