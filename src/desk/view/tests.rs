use super::*;
use crate::desk::clerk::{
    Code, Contradiction, DeskSheet, Done, FieldPlace, FrozenProposal, Key, Knowledge, LikelyRows,
    Plan, PlannedField, RosterRow,
};
use crate::journal::Act;
use crate::proposal::{Face, Link, Proposal, ProposedField};
use crate::reading::{Line as ReadLine, Reading};
use crate::value::{Finding, Probability, Severity, SheetId, Station};
use image::Luma;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::style::Color;

struct Told;

impl Knowledge for Told {
    fn objection(&self, field: &str, value: &str) -> Option<String> {
        let is_wrong = field == "number" && value.ends_with('7');
        is_wrong.then(|| "its check character does not follow from the rest".to_owned())
    }

    fn search(&self, words: &str, _: usize) -> Vec<RosterRow> {
        let rows = ["QUAYLE", "QUAY"]
            .into_iter()
            .filter(|name| name.starts_with(words));
        rows.map(row).collect()
    }

    fn row(&self, _: &str) -> Option<RosterRow> {
        Some(row("QUAYLE"))
    }

    fn holds(&self, _: &str) -> bool {
        false
    }

    fn contradictions(&self, _: &[(&str, String)]) -> Vec<Contradiction> {
        Vec::new()
    }

    fn likely(&self, _: &[(&str, String)], _: usize) -> LikelyRows {
        LikelyRows {
            rows: vec![
                (row("QUAYLE"), Probability::new(0.9)),
                (other_row(), Probability::new(0.08)),
            ],
            none: Probability::new(0.02),
        }
    }
}

fn other_row() -> RosterRow {
    let other = row("QUAY");
    RosterRow {
        key: "104211-X".to_owned(),
        ..other
    }
}

fn row(name: &str) -> RosterRow {
    let columns = [("number", "104210-1"), ("surname", name), ("born", "1901")];
    RosterRow {
        key: "104210-1".to_owned(),
        fields: vec![("surname".to_owned(), name.to_owned())],
        columns: columns.map(|(a, b)| (a.to_owned(), b.to_owned())).into(),
    }
}

/// A strip of one line, `QUAYIE, OWEN J   104210-7`, as bars of ink.
fn desk() -> (Clerk, GrayImage) {
    let line = ReadLine::certain("QUAYIE, OWEN J   104210-7", 0.99);
    let characters = |from: usize, to: usize, doubt: usize| {
        let positions = line.positions[from..to].iter().enumerate();
        let taken = positions.map(|(at, position)| {
            let probability = if at == doubt { 0.6 } else { 0.99 };
            (position.best().to_owned(), position.bounds, probability)
        });
        taken.collect()
    };
    let fields = [
        ("surname", "QUAYIE", Face::Look, characters(0, 6, 4)),
        ("forenames", "OWEN J", Face::Sure, characters(8, 14, 99)),
        ("number", "104210-7", Face::Look, characters(17, 25, 99)),
        ("part", "", Face::Empty, vec![]),
    ];
    let proposed = fields.iter().map(|(field, value, face, _)| ProposedField {
        field: (*field).to_owned(),
        as_typed: (*value).to_owned(),
        as_roster: (*field == "surname").then(|| "QUAYLE".to_owned()),
        probability: Probability::new(0.8),
        face: *face,
        alternatives: vec![("QUAYLE".to_owned(), Probability::new(0.15))],
        reasons: vec![],
    });
    let proposal = Proposal {
        fields: proposed.collect(),
        link: Some(Link {
            row: 0,
            key: "104210-1".to_owned(),
            probability: Probability::new(0.9),
        }),
        ..Proposal::default()
    };
    let plan = Plan {
        fields: fields
            .iter()
            .map(|(name, ..)| PlannedField {
                name: (*name).to_owned(),
                required: *name != "part",
            })
            .collect(),
        hold_reasons: vec!["ask the supervisor".to_owned()],
        ..Plan::default()
    };
    let places = fields
        .into_iter()
        .map(|(field, _, _, characters)| FieldPlace {
            field: field.to_owned(),
            characters,
            ..FieldPlace::default()
        });
    let strip = GrayImage::from_fn(510, 50, |x, y| {
        let is_ink = x % 20 < 8 && (8..34).contains(&y);
        Luma([if is_ink { 20 } else { 240 }])
    });
    let sheet = DeskSheet {
        sheet: SheetId::new("drawer 3/\u{1b}[31mjacket\u{202e}-7.png"),
        place: 7,
        of: 20,
        pass: 1,
        findings: vec![Finding::new(
            Severity::Warning,
            Station::Strip,
            "amended",
            "the strip looks written on",
        )],
        proposal: Some(FrozenProposal {
            key: "p".to_owned(),
            proposal,
            places: places.collect(),
        }),
        reading: Reading { lines: vec![line] },
        sees_proposal: true,
        ..DeskSheet::default()
    };
    let mut desk = Clerk::new(plan, sheet, &Told);
    let held = Act::Held {
        reason: "look at the film".to_owned(),
    };
    let done = Done::of(&SheetId::new("drawer 3/jacket-6.png"), &held, 5);
    desk.recall(done.into_iter().collect());
    desk.settle(&Told);
    (desk, strip)
}

fn drawn(
    desk: &Clerk,
    strip: Option<&GrayImage>,
    size: (u16, u16),
    theme: Theme,
) -> Terminal<TestBackend> {
    let mut terminal = Terminal::new(TestBackend::new(size.0, size.1)).unwrap();
    let scene = Scene {
        memo: &Memo::default(),
        desk,
        picture: strip.map_or(Picture::Coming, Picture::There),
        shape: Some(Shape::Sextant),
        theme,
        tally: Tally {
            sheets: 20,
            keyed: 6,
            held: 1,
            set_aside: 0,
        },
        person: "mia",
    };
    terminal.draw(|frame| draw(frame, &scene)).unwrap();
    terminal
}

#[test]
fn the_desk_at_three_sizes_with_and_without_colour() {
    let (desk, strip) = desk();
    for size in [(80, 24), (120, 40), (200, 50)] {
        let grey = drawn(&desk, Some(&strip), size, Theme::Greys);
        insta::assert_snapshot!(format!("{}x{}", size.0, size.1), grey.backend());
        let plain = drawn(&desk, Some(&strip), size, Theme::Plain);
        insta::assert_snapshot!(format!("{}x{} plain", size.0, size.1), plain.backend());
        let cells = plain.backend().buffer().content();
        assert!(
            cells
                .iter()
                .all(|cell| cell.fg == Color::Reset && cell.bg == Color::Reset)
        );
    }
}

#[test]
fn any_size_is_drawn_and_nothing_hostile_is_sent() {
    let (mut desk, strip) = desk();
    let keys = [
        Key::ctrl('o'),
        Key::plain(Code::Esc),
        Key::ctrl('f'),
        Key::alt(Code::Char('h')),
    ];
    for key in keys {
        desk.press(key, 0, &Told);
        for size in [
            (1, 1),
            (39, 10),
            (40, 10),
            (41, 13),
            (60, 12),
            (80, 14),
            (300, 90),
        ] {
            for strip in [None, Some(&strip)] {
                let terminal = drawn(&desk, strip, size, Theme::Greys);
                for cell in terminal.backend().buffer().content() {
                    assert!(!cell.symbol().chars().any(crate::value::is_obeyed));
                }
            }
        }
    }
    let small = drawn(&desk, None, (39, 9), Theme::Plain);
    assert!(small.backend().to_string().contains("window"));
}
