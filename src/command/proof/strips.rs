//! What the client is shown and asked of each sheet.

use super::is_done;
use crate::command::batch::Delivery;
use crate::delivery::{Legibility, Record};
use crate::desk::clerk::Knowledge;
use crate::desk::knowledge::JobKnowledge;
use crate::job::Job;
use crate::journal::{Act, Keying, Store};
use crate::review::{Comparer, FILE_NAME, Proof, SheetLines};
use crate::value::{SheetId, SheetKind, SheetState};
use std::collections::{HashMap, HashSet};

/// A sheet as the client sees it.
#[derive(Debug, Clone, Default)]
pub struct Strip {
    pub state: SheetState,
    pub lines: SheetLines,
    /// Values that are shown beside questions, and not asked about.
    pub context: Vec<(String, String)>,
    /// What the roster says, by what the value is called in the lines.
    pub roster: HashMap<String, String>,
}

/// The sheets of the job as the client would see them now.
pub struct Strips<'a, S: Store> {
    job: &'a Job<S>,
    delivery: &'a Delivery,
    by_sheet: HashMap<&'a SheetId, Vec<&'a Record>>,
    comparer: Comparer,
}

impl<'a, S: Store> Strips<'a, S> {
    /// From all records of the job, names and all.
    pub fn of(job: &'a Job<S>, delivery: &'a Delivery) -> Self {
        let mut by_sheet: HashMap<&SheetId, Vec<&Record>> = HashMap::new();
        for record in &delivery.records {
            by_sheet.entry(&record.sheet).or_default().push(record);
        }
        Self {
            job,
            delivery,
            by_sheet,
            comparer: comparer(job),
        }
    }

    /// The sample's sheets, each with its values and with all that is to be asked.
    pub fn sample(&self, proof: &Proof) -> Vec<Strip> {
        let sheets = proof.sheets().iter();
        let present = sheets.filter(|sheet| {
            self.by_sheet.contains_key(sheet) || self.delivery.unread.contains(sheet)
        });
        present
            .map(|sheet| self.strip(sheet, proof, true))
            .collect()
    }

    /// The sheets about which something is to be asked, sampled or not: put off, illegible, or asked about by the
    /// supervisor; without values to confirm.
    pub fn questioned(&self, proof: &Proof) -> Vec<Strip> {
        let mut seen = HashSet::new();
        let asked: HashSet<&SheetId> = proof.questions.iter().map(|asked| &asked.sheet).collect();
        let is_illegible = |record: &Record| {
            let mut values = record.values.iter();
            values.any(|value| {
                matches!(
                    value.legibility,
                    Legibility::CannotBeRead | Legibility::InPart
                )
            })
        };
        let records = self.delivery.records.iter();
        let meant = records.filter(|record| {
            record.state == SheetState::Held
                || is_illegible(record)
                || asked.contains(&record.sheet)
        });
        let unread = self
            .delivery
            .unread
            .iter()
            .filter(|sheet| asked.contains(sheet));
        meant
            .map(|record| &record.sheet)
            .chain(unread)
            .filter(|sheet| seen.insert(*sheet))
            .map(|sheet| self.strip(sheet, proof, false))
            .collect()
    }

    /// One sheet; without `is_proof` its questions alone, and those that compare with the roster not among them.
    fn strip(&self, sheet: &SheetId, proof: &Proof, is_proof: bool) -> Strip {
        let records = self.by_sheet.get(sheet).map_or(&[][..], Vec::as_slice);
        let mut strip = Strip {
            state: records
                .first()
                .map_or(SheetState::Waiting, |record| record.state),
            lines: SheetLines {
                sheet: sheet.clone(),
                ..SheetLines::default()
            },
            ..Strip::default()
        };
        let keyed = if is_done(strip.state) { records } else { &[] };
        for (n, record) in keyed.iter().enumerate() {
            let part = match records.len() {
                1 => String::new(),
                _ => format!(", record {}", n + 1),
            };
            self.add(&mut strip, record, &part, is_proof);
        }
        if is_proof && let Some(name) = self.delivery.names.get(sheet) {
            strip
                .lines
                .values
                .push((FILE_NAME.to_owned(), name.to_owned()));
        }
        let asked = proof.questions.iter().filter(|asked| asked.sheet == *sheet);
        for asked in asked {
            let question = (String::new(), asked.question.clone());
            if !strip.lines.questions.contains(&question) {
                strip.lines.questions.push(question);
            }
        }
        if !is_proof {
            strip.context = std::mem::take(&mut strip.lines.values);
        }
        strip
    }

    fn add(&self, strip: &mut Strip, record: &Record, part: &str, is_proof: bool) {
        let lines = &mut strip.lines;
        let reason = record.reason.as_deref().unwrap_or("no reason given");
        match (record.state, record.kind) {
            (SheetState::Held, _) => {
                let question =
                    format!("We put this sheet off ({reason}). What is it to be indexed as?");
                return lines.questions.push((String::new(), question));
            }
            (SheetState::SetAside, _) => {
                let value = ("left out of the index".to_owned(), reason.to_owned());
                return lines.values.push(value);
            }
            (_, SheetKind::Record) => {}
            (_, kind) => {
                let value = ("kind of sheet".to_owned(), kind.to_string());
                return lines.values.push(value);
            }
        }
        let roster = self.roster_row(record);
        for column in &self.delivery.plan.layout.columns {
            let Some(value) = record.value(&column.field) else {
                continue;
            };
            let about = format!("{}{part}", column.field);
            let question = match value.legibility {
                Legibility::CannotBeRead => {
                    Some("We cannot read this on the strip. What does it say?".to_owned())
                }
                Legibility::InPart => Some(format!(
                    "We read {}, and cannot read the characters marked \u{fffd}. What does it say?",
                    value.as_typed
                )),
                _ => None,
            };
            if question.is_none() {
                lines.values.push((about.clone(), value.as_typed.clone()));
            }
            lines
                .questions
                .extend(question.map(|question| (about.clone(), question)));
            let Some(says) = roster
                .as_ref()
                .and_then(|(_, says)| says.get(&column.field))
            else {
                continue;
            };
            strip.roster.insert(about.clone(), says.clone());
            let differs = !self
                .comparer
                .same_text(&column.field, &value.as_typed, says);
            if is_proof
                && differs
                && !value.as_typed.is_empty()
                && value.legibility == Legibility::Read
            {
                lines.questions.push((
                    about,
                    format!(
                        "The strip says {}, your list says {says}. Which is right?",
                        value.as_typed
                    ),
                ));
            }
        }
        if is_proof && roster.is_none() && self.job.proposer.roster().is_some() {
            let question = "We did not find this one in your list. Is it missing there, or is a value above wrong?";
            lines.questions.push((
                part.trim_start_matches(", ").to_owned(),
                question.to_owned(),
            ));
        }
    }

    /// The row that a record is linked to, or is likely to mean where it was keyed from the picture alone: its key, and
    /// what it says by field.
    fn roster_row(&self, record: &Record) -> Option<(String, HashMap<String, String>)> {
        let knowledge = JobKnowledge::new(&self.job.proposer);
        let row = match &record.roster_key {
            Some(key) => knowledge.row(key),
            None => {
                let values = record
                    .values
                    .iter()
                    .filter(|value| !value.as_typed.is_empty());
                let values: Vec<(&str, String)> = values
                    .map(|value| (value.field.as_str(), value.as_typed.clone()))
                    .collect();
                knowledge.likely(&values, 1).meant().cloned()
            }
        }?;
        Some((row.key, row.fields.into_iter().collect()))
    }
}

/// What counts as the same value in the proof, where no field is left out.
pub fn comparer<S>(job: &Job<S>) -> Comparer {
    let mut quality = job.settings.quality.clone();
    quality.second_fields.clear();
    Comparer::new(&quality, job.proposer.rules().fields())
}

/// What was keyed first on a sheet and still counts.
pub fn first_keying<S: Store>(
    store: &S,
    sheet: &SheetId,
) -> crate::journal::Result<Option<Keying>> {
    let Some(number) = store.state(sheet, 1)?.entry else {
        return Ok(None);
    };
    let entries = store.history(sheet)?.into_iter();
    let mut entries = entries.filter(|entry| entry.number == number);
    Ok(entries.next().and_then(|entry| match entry.act {
        Act::Keyed(keying) => Some(keying),
        _ => None,
    }))
}

/// Whether the first keying of a sheet saw neither proposal nor suggestions; none where nobody has keyed it.
pub fn is_keyed_blind<S: Store>(
    store: &S,
    sheet: &SheetId,
) -> crate::journal::Result<Option<bool>> {
    let keying = first_keying(store, sheet)?;
    Ok(keying.map(|keying| !keying.seen.proposal && !keying.seen.suggestions))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::batch::Scope;
    use crate::journal::{
        Choice, Decision, Desk, Entry, FormatVersion, KeyedField, KeyedRecord, KeyedSource,
        KeyedValue, MemoryStore, ProofDrawn, QuestionAdded, ReadingRecord, SheetRecord,
    };
    use crate::reading::Reading;
    use std::fs;

    const RULES: &str = "[[field]]\nname = \"surname\"\nkind = \"surname\"\n[[field]]\nname = \"number\"\nkind = \"code\"\n\
                         pattern = '\\d{4}'\n[[rule]]\nname = \"r\"\nline = \"{surname}   {number}\"\n";
    const JOB: &str = "title = \"T\"\nsheets = { folder = \"s\" }\nrules = { files = [\"r.toml\"] }\n\
                       naming = { pattern = \"{number}\" }\n[roster]\nfile = \"r.csv\"\nkey = \"n\"\n\
                       columns = { surname = \"name\", number = \"n\" }\n";

    fn keyed(surname: KeyedValue, number: &str) -> Act {
        let field = |name: &str, value| KeyedField {
            field: name.to_owned(),
            value,
            as_roster: None,
            source: KeyedSource::Typed,
            proposed: None,
            overruled: None,
        };
        let number = field("number", KeyedValue::Text(number.to_owned()));
        Act::Keyed(Keying {
            records: vec![KeyedRecord {
                fields: vec![field("surname", surname), number],
                roster_key: None,
            }],
            ..Keying::default()
        })
    }

    /// A job whose first sheets were so worked on; the last waits. All are in the sample.
    fn job(folder: &std::path::Path, acts: Vec<Act>) -> Job<MemoryStore> {
        for (name, text) in [
            ("job.toml", JOB),
            ("r.toml", RULES),
            (
                "r.csv",
                "n,name\n1041,DALTON\n1042,DALTON\n2377,QUAYLE\n2378,QUAYLE\n",
            ),
        ] {
            fs::write(folder.join(name), text).unwrap();
        }
        let mut job = Job::with_store(folder, MemoryStore::default()).unwrap();
        let sheets: Vec<SheetId> = (1..acts.len() + 2)
            .map(|n| SheetId::new(format!("{n}.png")))
            .collect();
        for sheet in &sheets {
            let record = SheetRecord::new(sheet.clone(), "h".to_owned(), 1, 1);
            job.store.put_sheets(&[record]).unwrap();
            let reading =
                ReadingRecord::new(sheet.clone(), "k".to_owned(), None, Reading::default());
            job.store.put_readings(&[reading]).unwrap();
        }
        for (sheet, act) in sheets.iter().zip(acts) {
            let entry = Entry {
                format: FormatVersion::CURRENT,
                number: 0,
                sheet: sheet.clone(),
                by: "mia".to_owned(),
                at: 0,
                pass: 1,
                desk: Desk::Clerk,
                act,
                extra: Default::default(),
            };
            job.store.append(&entry, None).unwrap();
        }
        let drawn = ProofDrawn {
            sheets,
            ..ProofDrawn::default()
        };
        job.store
            .decide(&Decision::new("ann", 0, Choice::ProofDrawn(drawn)))
            .unwrap();
        job
    }

    #[test]
    fn what_is_asked_follows_from_what_was_keyed() {
        let text = |text: &str| KeyedValue::Text(text.to_owned());
        let reason = || "look at the film".to_owned();
        let divider = Act::Keyed(Keying {
            kind: SheetKind::Divider,
            ..Keying::default()
        });
        let folder = tempfile::tempdir().unwrap();
        let mut job = job(
            folder.path(),
            vec![
                keyed(text("Dalton"), "1041"),
                keyed(text("DALTEN"), "1042"),
                keyed(text("NOBODY"), "9999"),
                keyed(KeyedValue::CannotBeRead, "2377"),
                keyed(text("QUAY\u{fffd}E"), "2378"),
                divider,
                Act::Held { reason: reason() },
                Act::SetAside { reason: reason() },
            ],
        );
        let asked = QuestionAdded {
            sheet: SheetId::new("9.png"),
            question: "Ours?".to_owned(),
            ..QuestionAdded::default()
        };
        let asked = Choice::QuestionAdded(asked);
        // Asked twice it is one question.
        for _ in 0..2 {
            job.store
                .decide(&Decision::new("ann", 0, asked.clone()))
                .unwrap();
        }
        let proof = Proof::of(&job.store.decisions().unwrap());
        let delivery = Delivery::of(&job, Scope::Draft).unwrap();
        let strips = Strips::of(&job, &delivery);
        let told = |strips: &[Strip]| -> Vec<String> {
            let told = strips.iter().map(|strip| {
                let values = strip
                    .lines
                    .values
                    .iter()
                    .map(|(about, value)| format!("{about}={value}"));
                let asked = strip.lines.questions.iter().map(|(about, asked)| {
                    format!(
                        "{about}?{}",
                        asked.split(['.', ',', '(']).next().unwrap().trim()
                    )
                });
                values.chain(asked).collect::<Vec<_>>().join(" | ")
            });
            told.collect()
        };
        assert_eq!(
            told(&strips.sample(&proof)),
            [
                "surname=Dalton | number=1041 | file name=1041",
                "surname=DALTEN | number=1042 | file name=1042 | surname?The strip says DALTEN",
                "surname=NOBODY | number=9999 | file name=9999 | ?We did not find this one in your list",
                "number=2377 | file name=2377 | surname?We cannot read this on the strip",
                "number=2378 | file name=2378 | surname?We read QUAY\u{fffd}E",
                "kind of sheet=divider",
                "?We put this sheet off",
                "left out of the index=look at the film",
                "?Ours?",
            ]
        );
        let questioned = strips.questioned(&proof);
        assert_eq!(
            told(&questioned),
            [
                "surname?We cannot read this on the strip",
                "surname?We read QUAY\u{fffd}E",
                "?We put this sheet off",
                "?Ours?",
            ]
        );
        assert_eq!(
            questioned[0].context,
            [("number".to_owned(), "2377".to_owned())]
        );
        assert_eq!(questioned[0].roster["surname"], "QUAYLE");
    }
}
