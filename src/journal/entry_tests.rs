//! Entries and claims on both stores alike.

use super::story::sheet;
use super::*;
use crate::value::SheetState;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

fn entry(name: &str, by: &str, pass: u8, act: Act) -> Entry {
    Entry {
        format: FormatVersion::CURRENT,
        number: 0,
        sheet: SheetId::new(name),
        by: by.to_owned(),
        at: 1_700_000_000_000,
        pass,
        desk: Desk::Clerk,
        act,
        extra: Default::default(),
    }
}

fn keyed(value: &str) -> Act {
    let field = KeyedField {
        field: "surname".to_owned(),
        value: KeyedValue::Text(value.to_owned()),
        as_roster: None,
        source: KeyedSource::Typed,
        proposed: None,
        overruled: None,
    };
    Act::Keyed(Keying {
        records: vec![KeyedRecord {
            fields: vec![field],
            roster_key: None,
        }],
        ..Keying::default()
    })
}

fn held() -> Act {
    Act::Held {
        reason: "too faint".to_owned(),
    }
}

/// An empty store of each kind; the folder keeps the file.
fn stores() -> (tempfile::TempDir, Vec<Box<dyn Store>>) {
    let folder = tempfile::tempdir().unwrap();
    let sqlite = SqliteStore::open(&folder.path().join("headword.db")).unwrap();
    (folder, vec![Box::new(MemoryStore::new()), Box::new(sqlite)])
}

#[test]
fn nobody_writes_over_anybody() {
    let (_folder, stores) = stores();
    for mut store in stores {
        store.put_sheets(&[sheet("1.png", "a")]).unwrap();
        let one = SheetId::new("1.png");
        assert_eq!(store.state(&one, 1).unwrap(), PassState::default());

        let first = store
            .append(&entry("1.png", "mia", 1, keyed("PIER")), None)
            .unwrap();
        let state = store.state(&one, 1).unwrap();
        assert_eq!(
            (
                state.state,
                state.last,
                state.by.as_deref().filter(|_| state.is_keyed())
            ),
            (SheetState::Keyed, Some(first), Some("mia"))
        );
        // Kim saw the sheet before Mia accepted it.
        let late = store.append(&entry("1.png", "kim", 1, keyed("PEER")), None);
        assert_eq!(
            late,
            Err(JournalError::Overtaken {
                sheet: one.clone(),
                by: "mia".to_owned(),
                state: SheetState::Keyed
            })
        );
        // Undoing: one's own only, once, and what stands only.
        let undo = |by, number| entry("1.png", by, 1, Act::Undone { entry: number });
        assert!(matches!(
            store.append(&undo("kim", first), Some(first)),
            Err(JournalError::NotOwn { .. })
        ));
        assert!(matches!(
            store.append(&undo("mia", 77), Some(first)),
            Err(JournalError::NothingToUndo { .. })
        ));
        let second = store.append(&undo("mia", first), Some(first)).unwrap();
        assert_eq!(store.state(&one, 1).unwrap().state, SheetState::Waiting);
        assert!(store.append(&undo("mia", first), Some(second)).is_err());
        // What stood before an undone entry stands again.
        let third = store
            .append(&entry("1.png", "mia", 1, held()), Some(second))
            .unwrap();
        let fourth = store
            .append(&entry("1.png", "mia", 1, keyed("PIER")), Some(third))
            .unwrap();
        store.append(&undo("mia", fourth), Some(fourth)).unwrap();
        assert_eq!(store.state(&one, 1).unwrap().state, SheetState::Held);
        // A note changes no state and needs no knowledge of it.
        let note = Act::Noted {
            note: "\u{1b}[31m= 1+1".to_owned(),
        };
        store.append(&entry("1.png", "kim", 1, note), None).unwrap();
        assert_eq!(store.state(&one, 1).unwrap().state, SheetState::Held);

        // All of it is there, in order, and what was refused left nothing.
        let history = store.history(&one).unwrap();
        let numbers: Vec<i64> = history.iter().map(|entry| entry.number).collect();
        assert_eq!(numbers, (first..first + 6).collect::<Vec<_>>());
        assert_eq!(store.entries(0, 4).unwrap(), history[..4]);
        assert_eq!(store.entries(numbers[3], 9).unwrap(), history[4..]);
        assert!(store.wrong_states().unwrap().is_empty());
        assert!(
            store
                .append(&entry("never seen.png", "mia", 1, held()), None)
                .is_err()
        );
    }
}

#[test]
fn a_second_pass_is_another_persons() {
    let (_folder, stores) = stores();
    for mut store in stores {
        store
            .put_sheets(&[sheet("1.png", "a"), sheet("2.png", "b")])
            .unwrap();
        store
            .append(&entry("1.png", "mia", 1, keyed("PIER")), None)
            .unwrap();
        let own = store.append(&entry("1.png", "mia", 2, keyed("PIER")), None);
        assert!(matches!(own, Err(JournalError::SamePerson { .. })));
        let ask = |by: &str| ClaimRequest {
            holder: Holder::here(by),
            pass: 2,
            count: 5,
            now: 0,
            lease: 10,
            behind: None,
            wanted: None,
            held: false,
            among: None,
        };
        assert!(store.claim(&ask("mia")).unwrap().is_empty());
        assert_eq!(
            store.claim(&ask("kim")).unwrap(),
            [SheetId::new("1.png")],
            "the other was not keyed yet"
        );
        // Whoever took a keying back has seen the sheet all the same.
        let nan = store
            .append(&entry("2.png", "nan", 1, keyed("QUAY")), None)
            .unwrap();
        let undone = Act::Undone { entry: nan };
        let last = store
            .append(&entry("2.png", "nan", 1, undone), Some(nan))
            .unwrap();
        store
            .append(&entry("2.png", "mia", 1, keyed("QUAY")), Some(last))
            .unwrap();
        assert_eq!(store.claim(&ask("nan")).unwrap(), []);
        let own = store.append(&entry("2.png", "nan", 2, keyed("QUAY")), None);
        assert!(matches!(own, Err(JournalError::SamePerson { .. })));
        store
            .append(&entry("1.png", "kim", 2, keyed("PIER")), None)
            .unwrap();
        let states = store.states(2).unwrap();
        let told: Vec<SheetState> = states.into_iter().map(|(_, state)| state.state).collect();
        assert_eq!(told, [SheetState::Keyed, SheetState::Waiting]);
        let tally = store.tally(2).unwrap();
        assert_eq!((tally.sheets, tally.keyed, tally.waiting()), (2, 1, 1));
    }
}

#[test]
fn claims_are_renewed_lapse_and_are_given_back() {
    let (_folder, stores) = stores();
    for mut store in stores {
        let sheets: Vec<SheetRecord> = (1..=4).map(|n| sheet(&format!("{n}.png"), "a")).collect();
        store.put_sheets(&sheets).unwrap();
        let mut ask = ClaimRequest {
            holder: Holder::here("mia"),
            pass: 1,
            count: 2,
            now: 1_000,
            lease: 100,
            behind: None,
            wanted: None,
            held: false,
            among: None,
        };
        let names = |sheets: Vec<SheetId>| -> Vec<String> {
            sheets.iter().map(|s| s.as_str().to_owned()).collect()
        };
        assert_eq!(names(store.claim(&ask).unwrap()), ["1.png", "2.png"]);
        let mia = ask.holder.clone();
        ask.holder = Holder::here("kim");
        assert_eq!(names(store.claim(&ask).unwrap()), ["3.png", "4.png"]);
        ask.wanted = Some(SheetId::new("2.png"));
        assert!(store.claim(&ask).unwrap().is_empty(), "Mia has it");
        store.renew(&mia, 5_000).unwrap();
        ask.now = 4_000;
        assert!(store.claim(&ask).unwrap().is_empty(), "she renewed it");
        ask.now = 6_000;
        assert_eq!(names(store.claim(&ask).unwrap()), ["2.png"], "lapsed");
        store.release(&ask.holder).unwrap();
        ask.holder = mia;
        assert_eq!(names(store.claim(&ask).unwrap()), ["2.png"]);
    }
}

/// Several people do whatever comes to their minds, with stale knowledge too; after every step the state that is
/// kept is the one that a replay gives, and both stores agree on what they accept.
#[test]
fn the_kept_state_is_always_the_replayed_one() {
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let (_folder, mut stores) = stores();
    let names = ["1.png", "2.png", "3.png"];
    for store in &mut stores {
        let sheets: Vec<SheetRecord> = names.iter().map(|name| sheet(name, "a")).collect();
        store.put_sheets(&sheets).unwrap();
    }
    let (mut accepted, mut refused) = (0, 0);
    for step in 0..400 {
        let name = names[random.random_range(0..3)];
        let pass = random.random_range(1..=2);
        let by = ["mia", "kim", "olga"][random.random_range(0..3)];
        let act = match random.random_range(0..7) {
            0..=2 => keyed(&step.to_string()),
            3 => held(),
            4 => Act::SetAside {
                reason: "torn".to_owned(),
            },
            5 => Act::Returned,
            _ => Act::Undone {
                entry: random.random_range(1..=i64::from(accepted + 1)),
            },
        };
        let one = SheetId::new(name);
        let mut known = stores[0].state(&one, pass).unwrap().last;
        if random.random_range(0..10) == 0 {
            known = Some(1);
        }
        let new = entry(name, by, pass, act);
        let answers: Vec<Result<i64>> = stores
            .iter_mut()
            .map(|store| store.append(&new, known))
            .collect();
        assert_eq!(answers[0], answers[1], "{new:?}");
        match answers[0] {
            Ok(_) => accepted += 1,
            Err(_) => refused += 1,
        }
        for store in &stores {
            let history = store.history(&one).unwrap();
            let replayed = replay(history.iter().filter(|e| e.pass == pass));
            assert_eq!(store.state(&one, pass).unwrap(), replayed);
        }
    }
    assert!(accepted > 100 && refused > 50, "{accepted}, {refused}");
    for store in &stores {
        assert!(store.wrong_states().unwrap().is_empty());
    }
}

#[test]
fn nobody_settles_what_he_or_she_keyed() {
    let (_folder, stores) = stores();
    for mut store in stores {
        store.put_sheets(&[sheet("1.png", "a")]).unwrap();
        let first = entry("1.png", "mia", 1, keyed("PIER"));
        let second = entry("1.png", "kim", 2, keyed("PEER"));
        let of = [&first, &second].map(|entry| store.append(entry, None).unwrap());
        let settled = |by| {
            let settlement = Settlement {
                of,
                decided: vec![("surname".to_owned(), Taken::First)],
                ..Settlement::default()
            };
            entry("1.png", by, SETTLEMENT_PASS, Act::Settled(settlement))
        };
        for by in ["mia", "kim"] {
            let refused = store.append(&settled(by), None);
            assert!(matches!(refused, Err(JournalError::SamePerson { .. })));
        }
        let number = store.append(&settled("rio"), None).unwrap();
        let one = SheetId::new("1.png");
        let state = store.state(&one, SETTLEMENT_PASS).unwrap();
        assert_eq!(
            (state.state, state.last),
            (SheetState::Settled, Some(number))
        );
        // Nor inspects what he or she settled.
        let inspected = store.append(&entry("1.png", "rio", 3, keyed("PIER")), None);
        assert!(matches!(inspected, Err(JournalError::SamePerson { .. })));
        assert_eq!(store.history(&one).unwrap()[2].act, settled("rio").act);
        assert!(store.wrong_states().unwrap().is_empty());
    }
}
