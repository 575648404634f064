//! Keyings for the room's tests.

use crate::journal::{
    Act, Desk, Entry, FormatVersion, KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying,
};
use crate::value::SheetId;

pub fn field(name: &str, text: &str) -> KeyedField {
    KeyedField {
        field: name.to_owned(),
        value: KeyedValue::Text(text.to_owned()),
        as_roster: None,
        source: KeyedSource::Typed,
        proposed: None,
        overruled: None,
    }
}

/// One record for each surname and number.
pub fn keying_of(records: &[(&str, &str)]) -> Keying {
    let record = |(surname, number): &(&str, &str)| KeyedRecord {
        fields: vec![field("surname", surname), field("number", number)],
        roster_key: None,
    };
    Keying {
        records: records.iter().map(record).collect(),
        ..Keying::default()
    }
}

pub fn keying(surname: &str, number: &str) -> Keying {
    keying_of(&[(surname, number)])
}

/// A keying linked to a row that holds the surname.
pub fn linked(surname: &str, key: &str) -> Keying {
    let mut keying = keying(surname, "1");
    keying.records[0].roster_key = Some(key.to_owned());
    keying.records[0].fields[0].as_roster = Some(format!("{surname} in {key}"));
    keying
}

pub fn entry(number: i64, by: &str, pass: u8, act: Act) -> Entry {
    Entry {
        format: FormatVersion::CURRENT,
        number,
        sheet: SheetId::new("a/1.png"),
        by: by.to_owned(),
        at: 0,
        pass,
        desk: Desk::Clerk,
        act,
        extra: Default::default(),
    }
}
