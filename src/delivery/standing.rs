//! What a sheet's entries come to over all its passes.

use crate::journal::{Act, Desk, Entry, Keying, replay};
use crate::value::SheetState;
use std::collections::BTreeSet;

/// Where a sheet stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing<'a> {
    pub state: SheetState,
    /// The entry that it stands on: the keying that is delivered, or who held the sheet or set it aside. None while
    /// it waits.
    pub entry: Option<&'a Entry>,
    /// What is still to be done before the sheet can be delivered; none where nothing is.
    pub lacks: Option<&'static str>,
}

/// Where these entries of one sheet, in the order of their numbers, leave it in a job of so many keyings.
///
/// A reviewer's last word stands before any keying. Where the job wants one keying, the last that stands counts; where
/// it wants two, they have to say the same.
pub fn standing(history: &[Entry], passes: u8) -> Standing<'_> {
    let each: BTreeSet<u8> = history.iter().map(|entry| entry.pass).collect();
    let mut tops: Vec<&Entry> = each
        .into_iter()
        .filter_map(|pass| replay(history.iter().filter(|e| e.pass == pass)).entry)
        .filter_map(|number| history.iter().find(|entry| entry.number == number))
        .filter(|entry| !matches!(entry.act, Act::Returned))
        .collect();
    tops.sort_by_key(|entry| entry.number);
    let stands = |state, entry, lacks| Standing {
        state,
        entry: Some(entry),
        lacks,
    };
    let held = Some("it was put off; key it or set it aside");
    let is_put_off = |entry: &&&Entry| !matches!(entry.act, Act::Keyed(_));
    let of_reviewer = tops.iter().rev().find(|entry| entry.desk == Desk::Reviewer);
    if let Some(entry) = of_reviewer.or_else(|| tops.iter().rev().find(is_put_off)) {
        return match entry.act {
            Act::Held { .. } => stands(SheetState::Held, entry, held),
            Act::SetAside { .. } => stands(SheetState::SetAside, entry, None),
            _ => stands(SheetState::Settled, entry, None),
        };
    }
    let Some(&last) = tops.last() else {
        return Standing {
            state: SheetState::Waiting,
            entry: None,
            lacks: Some("nobody has keyed it yet"),
        };
    };
    if passes < 2 {
        return stands(SheetState::Keyed, last, None);
    }
    let keyings: Vec<&Keying> = tops.iter().filter_map(|entry| keying(entry)).collect();
    match &keyings[..] {
        [first, rest @ ..] if !rest.is_empty() => {
            if rest.iter().all(|other| say_the_same(first, other)) {
                stands(SheetState::KeyedTwice, last, None)
            } else {
                let lacks = Some("its two keyings differ; settle them");
                stands(SheetState::InDispute, last, lacks)
            }
        }
        _ => stands(
            SheetState::Keyed,
            last,
            Some("it waits for its second keying"),
        ),
    }
}

fn keying(entry: &Entry) -> Option<&Keying> {
    match &entry.act {
        Act::Keyed(keying) => Some(keying),
        _ => None,
    }
}

/// Whether two keyings have the same records with the same values.
fn say_the_same(a: &Keying, b: &Keying) -> bool {
    let values = |keying: &Keying| -> Vec<Vec<_>> {
        let records = keying.records.iter();
        let fields = |record: &crate::journal::KeyedRecord| {
            let fields = record.fields.iter();
            fields.map(|f| (f.field.clone(), f.value.clone())).collect()
        };
        records.map(fields).collect()
    };
    a.kind == b.kind && values(a) == values(b)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::{FormatVersion, KeyedField, KeyedRecord, KeyedSource, KeyedValue};
    use crate::value::SheetId;

    /// Entries as words: "pass:act", acts being `k` and a value, `h`eld, `s`et aside, `r`eturned, `n`oted, `u` and the
    /// number of what is undone; capital letters are a reviewer's.
    fn history(words: &str) -> Vec<Entry> {
        let entry = |(number, word): (i64, &str)| {
            let (pass, act) = word.split_once(':').unwrap();
            let reason = "why".to_owned();
            let rest = &act[1..];
            let desk = match act.starts_with(|c: char| c.is_uppercase()) {
                true => Desk::Reviewer,
                false => Desk::Clerk,
            };
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
                desk,
                act: match act.to_lowercase().as_bytes()[0] {
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
        for (words, passes, state, entry, is_done) in [
            ("", 1, Waiting, None, false),
            ("1:kA", 1, Keyed, Some(1), true),
            ("1:kA 1:kB", 1, Keyed, Some(2), true),
            ("1:kA 1:kB 1:u2", 1, Keyed, Some(1), true),
            ("1:kA 1:u1", 1, Waiting, None, false),
            ("1:h", 1, Held, Some(1), false),
            ("1:h 1:r", 1, Waiting, None, false),
            ("1:h 1:kA 1:n", 1, Keyed, Some(2), true),
            ("1:s", 1, SetAside, Some(1), true),
            ("1:kA", 2, Keyed, Some(1), false),
            ("1:kA 2:kA", 2, KeyedTwice, Some(2), true),
            ("1:kA 2:kB", 2, InDispute, Some(2), false),
            ("1:kA 2:kB 3:KC", 2, Settled, Some(3), true),
            ("1:kA 2:kB 3:KC 3:U3", 2, InDispute, Some(2), false),
            ("1:kA 2:h", 2, Held, Some(2), false),
            ("1:kA 2:kB 3:S", 2, SetAside, Some(3), true),
            ("1:kA 3:KC 1:kB", 1, Settled, Some(2), true),
        ] {
            let history = history(words);
            let found = standing(&history, passes);
            assert_eq!(found.state, state, "{words}");
            assert_eq!(found.entry.map(|e| e.number), entry, "{words}");
            assert_eq!(found.lacks.is_none(), is_done, "{words}");
        }
    }
}
