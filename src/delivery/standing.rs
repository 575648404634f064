//! What a sheet's entries come to over all its passes.

use crate::journal::{Act, Entry, KeyedRecord, SETTLEMENT_PASS, replay};
use crate::review::{Comparer, Reviewed};
use crate::value::{SheetKind, SheetState};

/// Where a sheet stands, and what it gives.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Standing<'a> {
    pub state: SheetState,
    /// The entry that it stands on: the last keying, the settlement, or who put the sheet off or set it aside. None
    /// while it waits.
    pub entry: Option<&'a Entry>,
    pub kind: SheetKind,
    /// As keyed, agreed or settled; of two keyings that differ the first.
    pub records: Vec<KeyedRecord>,
    /// SHA-256 of the image that was last keyed from; empty where nobody has.
    pub content_hash: String,
    /// What is still to be done before the sheet can be delivered; none where nothing is.
    pub lacks: Option<&'static str>,
}

/// Where these entries of one sheet, in the order of their numbers, leave it; `wants_second` says whether the job has
/// it keyed twice.
pub fn standing<'a>(history: &'a [Entry], wants_second: bool, comparer: &Comparer) -> Standing<'a> {
    let reviewed = Reviewed::of(history, [1, 2], comparer);
    let truth = reviewed.truth();
    let (first, second) = (reviewed.first, reviewed.second);
    let settlement = reviewed.settlement.map(|(entry, _)| entry);
    let keying = second.or(first);
    let (kind, records) = match (truth, first) {
        (Some(truth), _) => (truth.kind, truth.records),
        (None, Some((_, keying))) => (keying.kind, keying.records.clone()),
        (None, None) => Default::default(),
    };
    let keyed = Standing {
        state: reviewed.state,
        entry: settlement.or(keying.map(|(entry, _)| entry)),
        kind,
        records,
        content_hash: keying.map_or_else(String::new, |(_, k)| k.seen.content_hash.clone()),
        lacks: None,
    };
    let without_records = |lacks| Standing {
        state: reviewed.state,
        entry: put_off(history),
        lacks,
        ..Standing::default()
    };
    match reviewed.state {
        SheetState::Held => without_records(Some("it was put off; key it or set it aside")),
        SheetState::SetAside => without_records(None),
        SheetState::Waiting => Standing {
            lacks: Some("nobody has keyed it yet"),
            ..Standing::default()
        },
        SheetState::InDispute => Standing {
            lacks: Some("its two keyings differ; settle them"),
            ..keyed
        },
        SheetState::Keyed if wants_second => Standing {
            lacks: Some("it waits for its second keying"),
            ..keyed
        },
        SheetState::Keyed | SheetState::KeyedTwice | SheetState::Settled => keyed,
    }
}

/// Who put the sheet off or set it aside, the reviewer first.
fn put_off(history: &[Entry]) -> Option<&Entry> {
    [SETTLEMENT_PASS, 1, 2].into_iter().find_map(|pass| {
        let number = replay(history.iter().filter(|entry| entry.pass == pass)).entry;
        let entry = history.iter().find(|entry| Some(entry.number) == number)?;
        matches!(entry.act, Act::Held { .. } | Act::SetAside { .. }).then_some(entry)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::{
        Desk, FormatVersion, KeyedField, KeyedSource, KeyedValue, Keying, Settlement,
    };
    use crate::value::SheetId;

    /// Entries as words: "pass:act", acts being `k` and a value, `h`eld, `s`et aside, `r`eturned, `n`oted, `u` and the
    /// number of what is undone, and `t` and a value for what a reviewer settled of entries 1 and 2.
    fn history(words: &str) -> Vec<Entry> {
        let entry = |(number, word): (i64, &str)| {
            let (pass, act) = word.split_once(':').unwrap();
            let reason = "why".to_owned();
            let rest = &act[1..];
            let field = KeyedField {
                field: "surname".to_owned(),
                value: KeyedValue::Text(rest.to_owned()),
                as_roster: None,
                source: KeyedSource::Typed,
                proposed: None,
                overruled: None,
            };
            let record = KeyedRecord {
                fields: vec![field],
                roster_key: None,
            };
            Entry {
                format: FormatVersion::CURRENT,
                number,
                sheet: SheetId::new("1.png"),
                by: "mia".to_owned(),
                at: 0,
                pass: pass.parse().unwrap(),
                desk: Desk::Clerk,
                act: match act.as_bytes()[0] {
                    b't' => Act::Settled(Settlement {
                        of: [1, 2],
                        records: vec![record],
                        ..Settlement::default()
                    }),
                    b'k' => Act::Keyed(Keying {
                        records: vec![record],
                        ..Keying::default()
                    }),
                    b'h' => Act::Held { reason },
                    b's' => Act::SetAside { reason },
                    b'r' => Act::Returned,
                    b'n' => Act::Noted { note: reason },
                    _ => Act::Undone {
                        entry: rest.parse().unwrap(),
                    },
                },
                extra: Default::default(),
            }
        };
        (1..).zip(words.split_whitespace()).map(entry).collect()
    }

    #[test]
    fn entries_come_to_a_state() {
        use SheetState::*;
        for (words, wants_second, state, entry, is_done, surname) in [
            ("", false, Waiting, None, false, ""),
            ("1:kA", false, Keyed, Some(1), true, "A"),
            ("1:kA 1:kB", false, Keyed, Some(2), true, "B"),
            ("1:kA 1:kB 1:u2", false, Keyed, Some(1), true, "A"),
            ("1:kA 1:u1", false, Waiting, None, false, ""),
            ("1:h", false, Held, Some(1), false, ""),
            ("1:h 1:r", false, Waiting, None, false, ""),
            ("1:h 1:kA 1:n", false, Keyed, Some(2), true, "A"),
            ("1:s", false, SetAside, Some(1), true, ""),
            ("1:kA", true, Keyed, Some(1), false, "A"),
            ("1:kA 2:kA", true, KeyedTwice, Some(2), true, "A"),
            ("1:kA 2:kB", true, InDispute, Some(2), false, "A"),
            ("1:kA 2:kB", false, InDispute, Some(2), false, "A"),
            ("1:kA 2:kB 0:tC", true, Settled, Some(3), true, "C"),
            ("1:kA 2:kB 0:tC 0:u3", true, InDispute, Some(2), false, "A"),
            ("1:kA 2:kB 0:tC 1:kD", true, InDispute, Some(2), false, "D"),
            ("1:kA 2:h", true, Held, Some(2), false, ""),
            ("1:kA 2:kB 0:s", true, SetAside, Some(3), true, ""),
        ] {
            let history = history(words);
            let found = standing(&history, wants_second, &Comparer::default());
            assert_eq!(found.state, state, "{words}");
            assert_eq!(found.entry.map(|e| e.number), entry, "{words}");
            assert_eq!(found.lacks.is_none(), is_done, "{words}");
            let value = found
                .records
                .first()
                .map(|record| record.fields[0].value.clone());
            let expected = (!surname.is_empty()).then(|| KeyedValue::Text(surname.to_owned()));
            assert_eq!(value, expected, "{words}");
        }
    }
}
