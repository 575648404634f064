//! All readings of a job on a bench for its rules, with what was keyed on them.

use super::{Job, JobError};
use crate::journal::{Act, KeyedRecord, KeyedValue, Keying, Store, UNREADABLE};
use crate::reading::Reading;
use crate::rules::{Bench, BenchSheet};
use crate::value::{SheetId, SheetKind};
use std::collections::HashMap;

/// Entries that are read at a time.
const ENTRIES: usize = 4_096;
/// The pass whose keyings are compared with, where several people keyed a sheet.
const PASS: u8 = 1;

impl<S: Store> Job<S> {
    /// Puts the readings of all sheets on a bench, in drawer order, beside what the first pass keyed on them.
    pub fn bench(&self) -> Result<Bench, JobError> {
        self.bench_of(&self.drawer_read()?)
    }

    /// The sheets that were read, in drawer order.
    pub fn drawer_read(&self) -> Result<Vec<SheetId>, JobError> {
        let overview = self.store.overview()?.into_iter();
        let read = overview.filter(|status| status.reading_key.is_some());
        Ok(read.map(|status| status.record.sheet).collect())
    }

    /// The same of these sheets, each at its place in the list; one whose reading is gone has nothing to be read.
    pub fn bench_of(&self, drawer: &[SheetId]) -> Result<Bench, JobError> {
        let mut keyings = self.keyings()?;
        let mut sheets = Vec::with_capacity(drawer.len());
        for sheet in drawer {
            let record = self.store.reading(sheet)?;
            let lay = record.as_ref().and_then(|record| record.lay.as_ref());
            let around = self.proposer.around(lay);
            sheets.push(BenchSheet {
                band: around.band,
                width: around.width,
                keyed: keyings.remove(sheet).and_then(|keying| values(&keying)),
                reading: record.map_or_else(Reading::default, |record| record.reading),
                sheet: sheet.clone(),
            });
        }
        let collection = self.settings.collection.as_deref().unwrap_or_default();
        Ok(Bench::new(collection, sheets))
    }

    /// The keyings that the sheets' states stand on.
    fn keyings(&self) -> Result<HashMap<SheetId, Keying>, JobError> {
        let states = self.store.states(PASS)?.into_iter();
        let standing: HashMap<i64, SheetId> = states
            .filter_map(|(sheet, state)| Some((state.entry?, sheet)))
            .collect();
        let mut keyings = HashMap::new();
        let mut after = 0;
        loop {
            let entries = self.store.entries(after, ENTRIES)?;
            let Some(last) = entries.last() else {
                return Ok(keyings);
            };
            after = last.number;
            for entry in entries {
                if let (Some(sheet), Act::Keyed(keying)) = (standing.get(&entry.number), entry.act)
                {
                    keyings.insert(sheet.clone(), keying);
                }
            }
        }
    }
}

/// The values of a keyed record, those of its second record as `field#2`; `None` for dividers and other kinds of sheet,
/// of which no values are asked. What could not be read is left out.
fn values(keying: &Keying) -> Option<Vec<(String, String)>> {
    let of_record = |(at, record): (usize, &KeyedRecord)| {
        let fields = record.fields.iter().filter_map(move |field| {
            let name = match at {
                0 => field.field.clone(),
                _ => format!("{}#{}", field.field, at + 1),
            };
            match &field.value {
                KeyedValue::Text(text) if text.contains(UNREADABLE) => None,
                KeyedValue::Text(text) => Some((name, text.clone())),
                KeyedValue::NothingOnStrip => Some((name, String::new())),
                KeyedValue::CannotBeRead => None,
            }
        });
        fields.collect::<Vec<_>>()
    };
    let records = keying.records.iter().enumerate();
    (keying.kind == SheetKind::Record).then(|| records.flat_map(of_record).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::{
        Desk, Entry, FormatVersion, KeyedField, KeyedSource, MemoryStore, ReadingRecord,
        SheetRecord,
    };
    use crate::reading::Line;
    use crate::rules::{Group, RuleBook};
    use std::sync::Arc;

    const RULES: &str = "[[field]]\nname = \"surname\"\nkind = \"surname\"\n[[field]]\nname = \"number\"\n\
                         kind = \"code\"\npattern = '\\d{4}'\n[[rule]]\nname = \"sheet\"\n\
                         line = \"{surname}   NO. {number}\"\n";
    const JOB: &str = "title = \"T\"\nsheets = { folder = \"s\" }\nrules = { files = [\"r.toml\"] }\n\
                       naming = { pattern = \"{number}\" }\n";

    fn keyed(values: [(&str, KeyedValue); 2]) -> Act {
        let fields = values.map(|(field, value)| KeyedField {
            field: field.to_owned(),
            value,
            as_roster: None,
            source: KeyedSource::Typed,
            proposed: None,
            overruled: None,
        });
        Act::Keyed(Keying {
            records: vec![KeyedRecord {
                fields: fields.into(),
                roster_key: None,
            }],
            ..Keying::default()
        })
    }

    #[test]
    fn readings_are_compared_with_the_keyings_that_stand() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("job.toml"), JOB).unwrap();
        std::fs::write(folder.path().join("r.toml"), RULES).unwrap();
        let mut job = Job::with_store(folder.path(), MemoryStore::default()).unwrap();
        let text = |text: &str| KeyedValue::Text(text.to_owned());
        let cases = [
            // Keyed twice: the later entry stands.
            (
                "1.png",
                "HARGREAVES   NO. 4418",
                vec![
                    [("surname", text("ORME")), ("number", text("4418"))],
                    [("surname", text("Hargreaves")), ("number", text("4418"))],
                ],
            ),
            (
                "2.png",
                "BELLAMY   NO. 4419",
                vec![[
                    ("surname", text("BELLAMI")),
                    ("number", KeyedValue::CannotBeRead),
                ]],
            ),
            ("3.png", "CRABTREE   NO. 4420", vec![]),
        ];
        for (name, strip, keyings) in cases {
            let sheet = SheetId::new(name);
            let record = SheetRecord::new(sheet.clone(), name.to_owned(), 1, 1);
            job.store.put_sheets(&[record]).unwrap();
            let lines = vec![Line::certain(strip, 0.97)];
            let reading =
                ReadingRecord::new(sheet.clone(), name.to_owned(), None, Reading { lines });
            job.store.put_readings(&[reading]).unwrap();
            let mut last = None;
            for values in keyings {
                let entry = Entry {
                    format: FormatVersion::CURRENT,
                    number: 0,
                    sheet: sheet.clone(),
                    by: "ann".to_owned(),
                    at: 0,
                    pass: PASS,
                    desk: Desk::Clerk,
                    act: keyed(values),
                    extra: Default::default(),
                };
                last = Some(job.store.append(&entry, last).unwrap());
            }
        }
        let mut bench = job.bench().unwrap();
        bench.put(Arc::new(RuleBook::parse("r.toml", RULES).unwrap()));
        assert!(bench.step(1, &|| true).is_complete());
        let keyed = bench.effect().keyed.unwrap();
        assert_eq!((keyed.sheets, keyed.values, keyed.right.now), (2, 3, 2));
        assert_eq!(bench.group(Group::DisagreeingWithKeyed), [1]);
    }
}
