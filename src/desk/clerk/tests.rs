//! The desk as a table: a sheet, keys, and what comes of them.

mod values;
mod whole_sheets;

use super::*;
use crate::journal::{Act, KeyedRecord, KeyedSource, KeyedValue, Keying, UNREADABLE};
use crate::proposal::{Face, Link, Proposal, ProposedField};
use crate::value::{Bounds, Probability, SheetId, SheetKind};

/// Numbers have to end in `9`; a roster of two rows.
struct Told;

impl Knowledge for Told {
    fn objection(&self, field: &str, value: &str) -> Option<String> {
        let is_wrong = field == "number" && !value.is_empty() && !value.ends_with('9');
        is_wrong.then(|| "it does not end in 9".to_owned())
    }

    /// A part that is more than 5 of a surname that begins with D.
    fn contradictions(&self, values: &[(&str, String)]) -> Vec<Contradiction> {
        let value = |name| values.iter().find(|(field, _)| *field == name);
        let (Some((_, surname)), Some((_, part))) = (value("surname"), value("part")) else {
            return Vec::new();
        };
        let is_broken = surname.starts_with('D') && part.as_str() > "5";
        let broken = is_broken.then(|| Contradiction {
            fields: vec!["surname".to_owned(), "part".to_owned()],
            words: "breaks the check part <= 5".to_owned(),
        });
        broken.into_iter().collect()
    }

    fn search(&self, words: &str, most: usize) -> Vec<RosterRow> {
        let rows = ["DALE", "DALTON"].into_iter().zip(["509", "519"]);
        let named = rows.filter(|(name, _)| !words.is_empty() && name.starts_with(words));
        named.take(most).map(|(name, key)| row(name, key)).collect()
    }

    fn row(&self, key: &str) -> Option<RosterRow> {
        (key == "509").then(|| row("DALE", "509"))
    }

    fn holds(&self, field: &str) -> bool {
        field != "part"
    }

    /// The row of the number; beside it that of the surname.
    fn likely(&self, values: &[(&str, String)], _: usize) -> LikelyRows {
        let value = |name| values.iter().find(|(field, _)| *field == name);
        let rows = [("DALE", "509"), ("DALTON", "519")].into_iter();
        let rows = rows.filter_map(|(name, key)| {
            let says = |field, own: &str| value(field).is_some_and(|(_, v)| v == own);
            let probability = match (says("number", key), says("surname", name)) {
                (true, _) => 0.9,
                (_, true) => 0.05,
                _ => return None,
            };
            Some((row(name, key), Probability::new(probability)))
        });
        let mut rows: Vec<_> = rows.collect();
        rows.sort_by(|a, b| b.1.get().total_cmp(&a.1.get()));
        LikelyRows {
            rows,
            none: Probability::new(0.1),
        }
    }
}

fn row(name: &str, key: &str) -> RosterRow {
    let fields = vec![
        ("surname".to_owned(), name.to_owned()),
        ("number".to_owned(), key.to_owned()),
    ];
    RosterRow {
        key: key.to_owned(),
        columns: fields.clone(),
        fields,
    }
}

fn plan() -> Plan {
    let field = |name: &str, required| PlannedField {
        name: name.to_owned(),
        required,
    };
    Plan {
        fields: vec![
            field("surname", true),
            field("number", true),
            field("part", false),
        ],
        hold_reasons: vec!["ask".to_owned(), "film".to_owned()],
        set_aside_reasons: vec!["no strip".to_owned()],
        may_overrule: true,
        overrule_reasons: vec!["typed so".to_owned()],
    }
}

/// Characters read with certainty, 20 pixels each.
fn read(text: &str) -> Vec<(String, Bounds, f64)> {
    let characters = text.chars().zip(0..);
    characters
        .map(|(c, at)| {
            (
                c.to_string(),
                Bounds::new(20 * at, 0, 20 * at + 20, 40),
                0.99,
            )
        })
        .collect()
}

/// A sheet whose proposal has these values: `=` sure, `?` to look at, `~` to look at and not on the strip, empty nothing.
fn sheet(values: [&str; 3]) -> DeskSheet {
    let named = ["surname", "number", "part"].into_iter().zip(values);
    let places = named.clone().filter(|(_, said)| !said.starts_with('~'));
    let places = places.map(|(field, said)| FieldPlace {
        field: field.to_owned(),
        characters: read(said.get(1..).unwrap_or_default()),
        ..FieldPlace::default()
    });
    let places = places.collect();
    let fields = named.map(|(field, said)| {
        let (face, value) = match said.split_at_checked(1) {
            Some(("=", value)) => (Face::Sure, value),
            Some(("?" | "~", value)) => (Face::Look, value),
            _ => (Face::Empty, ""),
        };
        ProposedField {
            field: field.to_owned(),
            as_typed: value.to_owned(),
            as_roster: None,
            probability: Probability::new(0.9),
            face,
            alternatives: vec![(format!("{value}X9"), Probability::new(0.05))],
            reasons: vec![],
        }
    });
    let proposal = Proposal {
        fields: fields.collect(),
        ..Proposal::default()
    };
    DeskSheet {
        sheet: SheetId::new("7.png"),
        place: 7,
        of: 9,
        pass: 1,
        proposal: Some(FrozenProposal {
            key: "p".to_owned(),
            proposal,
            places,
        }),
        sees_proposal: true,
        before: Some((SheetId::new("6.png"), vec![keyed_before()])),
        ..DeskSheet::default()
    }
}

fn keyed_before() -> KeyedRecord {
    let mut desk = Clerk::new(plan(), DeskSheet::default(), &Told);
    desk.drawn(0);
    press(&mut desk, "QUAY\n39\n");
    desk.work().keyed().remove(0)
}

/// Presses keys half a second apart: letters type; `\n` Enter, `\t` Tab, and `{...}` a binding by its name.
fn press(desk: &mut Clerk, keys: &str) -> Vec<Effect> {
    let mut effects = Vec::new();
    let mut rest = keys;
    let mut now = 1_000;
    while let Some(c) = rest.chars().next() {
        now += 500;
        let key = match c {
            '{' => {
                let (name, after) = rest[1..].split_once('}').unwrap();
                rest = after;
                let known = BINDINGS.iter().map(|(key, ..)| *key);
                let digits = ('1'..='9').map(|c| Key::alt(Code::Char(c)));
                let editing = [
                    Code::Backspace,
                    Code::Delete,
                    Code::Left,
                    Code::Home,
                    Code::End,
                ];
                let editing = editing.map(Key::plain);
                let mut all = known.chain(digits).chain(editing).chain([Key::ctrl('u')]);
                all.find(|key| key.name() == name)
                    .unwrap_or_else(|| panic!("no key {name}"))
            }
            c => {
                rest = &rest[c.len_utf8()..];
                Key::plain(match c {
                    '\n' => Code::Enter,
                    '\t' => Code::Tab,
                    c => Code::Char(c),
                })
            }
        };
        effects.extend(desk.press(key, now, &Told));
        desk.settle(&Told);
    }
    effects
}

fn open(values: [&str; 3]) -> Clerk {
    let mut desk = Clerk::new(plan(), sheet(values), &Told);
    desk.drawn(0);
    desk
}

/// The fields as `value/sign`: `+` accepted, `=` sure, `?` look, `_` empty, `!` disputed; `>` before the one in hand.
fn shown(desk: &Clerk) -> String {
    let fields = desk.fields().iter().enumerate().map(|(at, field)| {
        let sign = match field.face() {
            _ if field.fault().is_some() => '!',
            _ if field.accepted => '+',
            Face::Sure => '=',
            Face::Look => '?',
            Face::Empty => '_',
        };
        let value = match field.mark {
            Some(Mark::NothingOnStrip) => "none".to_owned(),
            Some(Mark::CannotBeRead) => "unreadable".to_owned(),
            None => field.value(),
        };
        let focus = if at == desk.focus() { ">" } else { "" };
        format!("{focus}{value}{sign}")
    });
    fields.collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn check(values: [&str; 3], keys: &str, expected: &str, says: &str) -> Vec<Effect> {
    let mut desk = open(values);
    let effects = press(&mut desk, keys);
    assert_eq!(shown(&desk), expected, "{keys}");
    let message = desk.message().unwrap_or_default();
    assert!(message.contains(says), "{keys}: {message:?}");
    effects
}

fn keyed(effects: &[Effect]) -> &Keying {
    match effects.last() {
        Some(Effect::Append(Act::Keyed(keying))) => keying,
        other => panic!("not accepted: {other:?}"),
    }
}

#[test]
fn focus_goes_to_what_needs_a_look_and_enter_accepts() {
    let none = check(["=DALE", "?509", "?1"], "", "DALE= >509? 1?", "");
    assert!(none.is_empty());
    check(["=DALE", "?509", "?1"], "\n", "DALE= 509+ >1?", "");
    check(["=DALE", "?509", ""], "\n", "DALE= 509+ >_", "");
    // An empty field that is not needed: nothing on the strip.
    check(["=DALE", "?509", ""], "\n\n", "DALE= 509+ >none+", "");
    // One that is needed asks for an answer.
    check(["=DALE", "", ""], "\n", "DALE= >_ _", "number is needed");
    check(
        ["=DALE", "", ""],
        "{Alt+X}\n",
        "DALE= unreadable+ >none+",
        "",
    );
    check(["=DALE", "", ""], "{Alt+0}", "DALE= none+ >_", "");

    let effects = check(["=DALE", "=509", "=1"], "\n", ">DALE= 509= 1=", "");
    let keying = keyed(&effects);
    assert_eq!((keying.keystrokes, keying.milliseconds), (1, 1_500));
    assert!(keying.seen.proposal && keying.seen.suggestions);
    let record = &keying.records[0];
    assert_eq!(record.fields[1].value, KeyedValue::Text("509".to_owned()));
    assert_eq!(record.fields[1].source, KeyedSource::Proposal);
}

#[test]
fn what_is_filled_in_can_be_accepted_at_a_glance() {
    let effects = check(["?DALE", "?509", "?1"], "{Ctrl+Y}", ">DALE+ 509+ 1+", "");
    assert_eq!(keyed(&effects).keystrokes, 1);
    check(["?DALE", "?508", ""], "{Ctrl+Y}", "DALE+ >508! _", "");
    check(["?DALE", "?509", ""], "{Ctrl+Y}", "DALE+ 509+ >_", "");
    check(
        ["?DALE", "?509", ""],
        "{Ctrl+Y}{Alt+U}",
        ">DALE? 509? _",
        "",
    );
    // Esc and Enter that arrive as one accept nothing.
    let mut desk = open(["?DALE", "?509", "?1"]);
    desk.press(Key::alt(Code::Enter), 9_000, &Told);
    assert_eq!(shown(&desk), ">DALE? 509? 1?");
    // Not before the strip was seen.
    let mut desk = Clerk::new(plan(), sheet(["?DALE", "?509", "?1"]), &Told);
    desk.press(Key::ctrl('y'), 100, &Told);
    assert_eq!(shown(&desk), ">DALE? 509? 1?");
}

#[test]
fn an_enter_before_the_strip_was_seen_accepts_nothing() {
    let sure = ["=DALE", "=509", "=1"];
    let enter = Key::plain(Code::Enter);
    let mut desk = Clerk::new(plan(), sheet(sure), &Told);
    assert_eq!(desk.press(enter, 100, &Told), None, "not drawn yet");
    desk.drawn(1_000);
    assert_eq!(desk.press(enter, 1_249, &Told), None);
    assert!(desk.press(enter, 1_500, &Told).is_some());

    // A key held down over many sheets, 30 times a second, accepts none of them; released, the next press does.
    let mut desk = Clerk::new(plan(), sheet(sure), &Told);
    let mut accepted = 0;
    for at in 0..300 {
        let now = at * 33;
        desk.drawn(now);
        if let Some(Effect::Append(act)) = desk.press(enter, now, &Told) {
            accepted += 1;
            desk.written(at, &act);
            desk.open(sheet(sure), &Told);
        }
    }
    assert_eq!(accepted, 0);
    assert!(desk.press(enter, 20_000, &Told).is_some());
    // Until the entry is written nothing more happens to the sheet.
    assert_eq!(desk.press(enter, 21_000, &Told), None);
    desk.refused("the disk is full");
    assert_eq!(desk.message(), Some("the disk is full"));
    assert!(desk.press(enter, 22_000, &Told).is_some());
}

#[test]
fn undo_goes_back_step_by_step_and_over_sheets() {
    check(["=DALE", "?509", "=1"], "77{Alt+U}", "DALE= >509? 1=", "");
    check(
        ["=DALE", "?509", "=1"],
        "{Ctrl+U}{Alt+0}{Alt+U}{Alt+U}",
        "DALE= >509? 1=",
        "",
    );
    check(
        ["=DALE", "?509", "=1"],
        "{Alt+U}",
        "DALE= >509? 1=",
        "nothing of yours left",
    );
    let mut desk = open(["=DALE", "?509", "=1"]);
    let effects = press(&mut desk, "\n\n");
    let Some(Effect::Append(act)) = effects.last() else {
        panic!("{effects:?}")
    };
    desk.written(41, act);
    desk.open(sheet(["=DALTON", "=519", "=1"]), &Told);
    desk.drawn(0);
    let effects = press(&mut desk, "{Alt+U}");
    let Some(Effect::Undo(done)) = effects.last() else {
        panic!("{effects:?}")
    };
    assert_eq!((done.entry, done.words.as_str()), (41, "accepted"));
    let again = done.keying.clone();
    desk.undone();
    desk.open(
        DeskSheet {
            again,
            ..sheet(["=DALE", "?500", "=1"])
        },
        &Told,
    );
    assert_eq!(
        shown(&desk),
        ">DALE+ 509+ 1+",
        "what was keyed, not what is proposed"
    );
}

#[test]
fn esc_and_paste_lose_and_accept_nothing() {
    for pane in [
        "{Ctrl+O}x",
        "{Ctrl+X}",
        "{Ctrl+K}\t",
        "{Ctrl+F}DA",
        "{Ctrl+G}3",
        "{Ctrl+T}note",
        "{Ctrl+P}",
        "{Alt+H}",
    ] {
        let effects = check(
            ["=DALE", "?509", "=1"],
            &format!("{pane}{{Esc}}{{Esc}}"),
            "DALE= >509? 1=",
            "",
        );
        assert!(effects.is_empty(), "{pane}: {effects:?}");
    }
    let mut desk = open(["=DALE", "?", "=1"]);
    desk.paste("5\n1\r9\u{1b}[31m\n", &Told);
    assert_eq!(shown(&desk), "DALE= >5 1 9[31m ! 1=");
}

#[test]
fn sheets_are_put_off_set_aside_noted_and_told_apart() {
    let reason = |keys: &str| match press(&mut open(["=DALE", "?509", "=1"]), keys).pop() {
        Some(Effect::Append(act)) => act,
        other => panic!("{other:?}"),
    };
    let held = |reason: &str| Act::Held {
        reason: reason.to_owned(),
    };
    assert_eq!(reason("{Ctrl+O}\n"), held("ask"));
    assert_eq!(reason("{Ctrl+O}\t\n"), held("film"));
    assert_eq!(reason("{Ctrl+O}too faint\n"), held("too faint"));
    assert_eq!(
        reason("{Ctrl+X}\n"),
        Act::SetAside {
            reason: "no strip".to_owned()
        }
    );
    assert_eq!(
        reason("{Ctrl+T}torn\n"),
        Act::Noted {
            note: "torn".to_owned()
        }
    );
    // The last reason comes first the next time.
    let mut desk = open(["=DALE", "?509", "=1"]);
    let effects = press(&mut desk, "{Ctrl+O}\t\n");
    let Some(Effect::Append(act)) = effects.last() else {
        panic!()
    };
    desk.written(1, act);
    desk.open(sheet(["=DALE", "?509", "=1"]), &Told);
    desk.drawn(0);
    assert_eq!(
        press(&mut desk, "{Ctrl+O}\n"),
        [Effect::Append(held("film"))]
    );
    // A reason can be chosen by its number.
    assert_eq!(reason("{Ctrl+O}{Alt+2}"), held("film"));
    let effects = press(&mut open(["", "", ""]), "{Ctrl+K}{Alt+6}\n");
    assert_eq!(keyed(&effects).kind, SheetKind::Blank);
    // A sheet of another kind needs no fields.
    let effects = press(&mut open(["", "", ""]), "{Ctrl+K}\t\t\n\n");
    let keying = keyed(&effects);
    assert_eq!((keying.kind, keying.records.len()), (SheetKind::Target, 0));
    let jump = press(&mut open(["", "", ""]), "{Ctrl+G}12\n");
    assert_eq!(jump, [Effect::Jump("12".to_owned())]);
}
