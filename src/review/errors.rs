//! How often keyings are wrong, judged by what was agreed or settled.

use super::compare::{Comparison, Place, Verdict};
use super::same::Comparer;
use crate::figures::{CharacterErrors, Clusters, Share, character_errors};
use crate::journal::{KeyedRecord, KeyedValue, Keying};
use crate::proposal::Face;
use crate::value::SheetId;
use std::collections::BTreeMap;

/// One keying of a sheet laid beside the truth, or beside another keying.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The folder that the sheet's image is in, below the job's.
    pub batch: String,
    /// The rule that proposed for it.
    pub rule: Option<String>,
    pub by: String,
    pub fields: Vec<JudgedField>,
    /// The kind of the sheet is wrong, or a record is missing or too many.
    pub whole_is_wrong: bool,
}

#[derive(Debug, Clone, PartialEq)]
pub struct JudgedField {
    pub field: String,
    /// As it was proposed; none where nothing was.
    pub face: Option<Face>,
    pub is_wrong: bool,
    pub characters: CharacterErrors,
}

impl Judged {
    /// Lays a keying beside what is right. Fields of records that are missing or too many are all wrong; fields that
    /// only one of the two has are left out.
    pub fn of(
        keying: &Keying,
        truth: &Keying,
        comparer: &Comparer,
        (sheet, by, rule): (&SheetId, &str, Option<&str>),
    ) -> Self {
        let comparison = Comparison::of(keying, truth, comparer);
        let mut judged = Self {
            batch: batch(sheet).to_owned(),
            rule: rule.map(str::to_owned),
            by: by.to_owned(),
            fields: Vec::new(),
            whole_is_wrong: false,
        };
        if comparison
            .places
            .iter()
            .any(|place| place.at == Place::Kind)
        {
            judged.whole_is_wrong = true;
            let records = truth.records.iter().map(|record| (None, Some(record)));
            records.for_each(|(ours, right)| judged.add_whole(ours, right));
            return judged;
        }
        for compared in &comparison.places {
            match &compared.at {
                Place::Kind | Place::Row(_) => {}
                Place::Record(n) => {
                    judged.whole_is_wrong = true;
                    let [ours, right] = comparison.pairs[*n];
                    let ours = ours.map(|at| &keying.records[at]);
                    judged.add_whole(ours, right.map(|at| &truth.records[at]));
                }
                Place::Field(n, name) if compared.verdict != Verdict::KeyedOnce => {
                    let ours = comparison.pairs[*n][0].map(|at| &keying.records[at]);
                    let ours = ours.and_then(|r| r.fields.iter().find(|f| f.field == *name));
                    let proposed = ours.and_then(|field| field.proposed.as_ref());
                    let is_wrong = compared.verdict == Verdict::Different;
                    let right = plain(compared.second.as_ref());
                    let edits = match is_wrong {
                        true => character_errors(right, plain(compared.first.as_ref()))
                            .edits
                            .max(1),
                        false => 0,
                    };
                    let length = right.chars().count();
                    judged.fields.push(JudgedField {
                        field: name.clone(),
                        face: proposed.map(|proposed| proposed.face),
                        is_wrong,
                        characters: CharacterErrors { edits, length },
                    });
                }
                Place::Field(..) => {}
            }
        }
        judged
    }

    /// Counts a record that is missing, or one too many, as wrong in every field.
    fn add_whole(&mut self, ours: Option<&KeyedRecord>, right: Option<&KeyedRecord>) {
        let fields = ours.or(right).map_or(&[][..], |record| &record.fields);
        for field in fields {
            let length = plain(Some(&field.value)).chars().count();
            self.fields.push(JudgedField {
                field: field.field.clone(),
                face: field.proposed.as_ref().map(|proposed| proposed.face),
                is_wrong: true,
                characters: CharacterErrors {
                    edits: length,
                    length: right.map_or(0, |_| length),
                },
            });
        }
    }

    /// Wrong fields of all.
    pub fn wrong_fields(&self) -> Share {
        let mut share = Share::default();
        self.fields
            .iter()
            .for_each(|field| share.count(field.is_wrong));
        share
    }

    /// Whether anything of the sheet is wrong.
    pub fn is_wrong(&self) -> bool {
        self.whole_is_wrong || self.fields.iter().any(|field| field.is_wrong)
    }
}

/// The folder of a sheet's image: its batch.
fn batch(sheet: &SheetId) -> &str {
    let path = sheet.as_str();
    path.rsplit_once('/').map_or("", |(folder, _)| folder)
}

fn plain(value: Option<&KeyedValue>) -> &str {
    match value {
        Some(KeyedValue::Text(text)) => text,
        _ => "",
    }
}

/// Shares of wrong fields by something, in the order of its names. Never in the order of the shares: small numbers rank
/// by luck.
pub type Breakdown = BTreeMap<String, Clusters>;

/// Wrong characters, fields and sheets of many keyings. The sheet is the cluster of characters and fields.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Errors {
    /// Levenshtein distance by the length of what is right.
    pub characters: Clusters,
    pub fields: Clusters,
    pub sheets: Share,
    /// Fields whose errors are critical, and sheets with an error in one.
    pub critical_fields: Clusters,
    pub critical_sheets: Share,
    pub by_field: Breakdown,
    pub by_face: Breakdown,
    pub by_rule: Breakdown,
    pub by_batch: Breakdown,
    /// For the supervisor only.
    pub by_person: Breakdown,
}

impl Errors {
    /// Counts one keying; `critical` names the critical fields.
    pub fn add(&mut self, judged: &Judged, critical: &[String]) {
        let is_critical = |field: &&JudgedField| critical.contains(&field.field);
        let mut characters = CharacterErrors::default();
        for field in &judged.fields {
            characters += field.characters;
        }
        let CharacterErrors { edits, length } = characters;
        self.characters.add(Share::new(edits as u64, length as u64));
        let fields = judged.wrong_fields();
        self.fields.add(fields);
        self.sheets.count(judged.is_wrong());
        let critical_of = judged.fields.iter().filter(is_critical);
        let mut critical = Share::default();
        critical_of.for_each(|field| critical.count(field.is_wrong));
        self.critical_fields.add(critical);
        if critical.of > 0 || judged.whole_is_wrong {
            self.critical_sheets
                .count(critical.hits > 0 || judged.whole_is_wrong);
        }
        let mut add = |breakdown: fn(&mut Self) -> &mut Breakdown, key: &str, share| {
            let breakdown = breakdown(self);
            match breakdown.get_mut(key) {
                Some(clusters) => clusters.add(share),
                None => breakdown.entry(key.to_owned()).or_default().add(share),
            }
        };
        let rule = judged.rule.as_deref().unwrap_or("no rule");
        add(|errors| &mut errors.by_rule, rule, fields);
        add(|errors| &mut errors.by_batch, &judged.batch, fields);
        add(|errors| &mut errors.by_person, &judged.by, fields);
        let mut faces = [Share::default(); 4];
        for field in &judged.fields {
            let one = Share::new(u64::from(field.is_wrong), 1);
            add(|errors| &mut errors.by_field, &field.field, one);
            faces[face_place(field.face)].count(field.is_wrong);
        }
        for (face, share) in FACES.into_iter().zip(faces) {
            if share.of > 0 {
                add(|errors| &mut errors.by_face, face, share);
            }
        }
    }
}

/// The faces' names in breakdowns.
pub(super) const FACES: [&str; 4] = ["sure", "look", "empty", "not proposed"];

pub(super) fn face_place(face: Option<Face>) -> usize {
    match face {
        Some(Face::Sure) => 0,
        Some(Face::Look) => 1,
        Some(Face::Empty) => 2,
        None => 3,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::review::testing::{keying, keying_of};
    use crate::value::SheetKind;

    fn errors(pairs: &[(Keying, Keying)]) -> Errors {
        let mut errors = Errors::default();
        let sheet = SheetId::new("box 1/a.png");
        for (ours, right) in pairs {
            let about = (&sheet, "mia", Some("plain"));
            let judged = Judged::of(ours, right, &Comparer::default(), about);
            errors.add(&judged, &["number".to_owned()]);
        }
        errors
    }

    /// (hits, of) of characters, fields, sheets, critical fields, critical sheets.
    fn check(ours: Keying, right: Keying, counts: [(u64, u64); 5]) {
        let errors = errors(&[(ours, right)]);
        let share = |share: Share| (share.hits, share.of);
        let found = [
            errors.characters.all,
            errors.fields.all,
            errors.sheets,
            errors.critical_fields.all,
            errors.critical_sheets,
        ];
        assert_eq!(found.map(share), counts);
    }

    #[test]
    fn counts_by_every_unit() {
        check(
            keying("PIER", "123"),
            keying("pier", "123"),
            [(0, 7), (0, 2), (0, 1), (0, 1), (0, 1)],
        );
        check(
            keying("PEAR", "123"),
            keying("PIER", "123"),
            [(2, 7), (1, 2), (1, 1), (0, 1), (0, 1)],
        );
        check(
            keying("PIER", "132"),
            keying("PIER", "123"),
            [(2, 7), (1, 2), (1, 1), (1, 1), (1, 1)],
        );
        // A record left out, and one too many: every field of it, and critical ones with it.
        check(
            keying("PIER", "123"),
            keying_of(&[("PIER", "123"), ("QUAY", "4")]),
            [(5, 12), (2, 4), (1, 1), (1, 2), (1, 1)],
        );
        check(
            keying_of(&[("PIER", "123"), ("QUAY", "4")]),
            keying("PIER", "123"),
            [(5, 7), (2, 4), (1, 1), (1, 2), (1, 1)],
        );
        let blank = Keying {
            kind: SheetKind::Blank,
            ..Keying::default()
        };
        check(
            blank.clone(),
            keying("PIER", "123"),
            [(7, 7), (2, 2), (1, 1), (1, 1), (1, 1)],
        );
        check(
            keying("PIER", "123"),
            blank,
            [(0, 0), (0, 0), (1, 1), (0, 0), (1, 1)],
        );
    }

    #[test]
    fn breaks_down_by_what_is_known() {
        let errors = errors(&[
            (keying("PIER", "1"), keying("PEER", "1")),
            (keying("PIER", "1"), keying("PIER", "1")),
        ]);
        let share = |breakdown: &Breakdown, key: &str| breakdown[key].all;
        assert_eq!(share(&errors.by_field, "surname"), Share::new(1, 2));
        assert_eq!(share(&errors.by_field, "number"), Share::new(0, 2));
        assert_eq!(share(&errors.by_rule, "plain"), Share::new(1, 4));
        assert_eq!(share(&errors.by_batch, "box 1"), Share::new(1, 4));
        assert_eq!(share(&errors.by_person, "mia"), Share::new(1, 4));
        assert_eq!(share(&errors.by_face, "not proposed"), Share::new(1, 4));
        assert_eq!((errors.by_face.len(), errors.fields.count), (1, 2));
    }
}
