//! What is proposed for the sample beside what was keyed blind: how right the rules are before the bulk.

use crate::figures::{Clusters, Share};
use crate::journal::{KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying, UNREADABLE};
use crate::proposal::{Face, Proposal, ProposedField};
use crate::review::{Comparer, Comparison, Place, Verdict};
use crate::value::SheetId;
use serde::Serialize;
use std::collections::BTreeMap;

/// A field that is proposed otherwise than it was keyed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Misread {
    pub sheet: SheetId,
    pub field: String,
    pub proposed: String,
    pub keyed: String,
    pub face: Face,
}

/// The sample rehearsed.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Rehearsal {
    /// Sheets with every field proposed as keyed, of those that were keyed. Sheets are drawn independently of each
    /// other, so that the exact interval holds.
    pub sheets: Share,
    /// Fields proposed as keyed, by sheets: those of one sheet hang together.
    pub fields: Clusters,
    /// Wrongly proposed fields by face: sure, look, empty.
    pub by_face: [Share; 3],
    /// By field.
    pub by_field: BTreeMap<String, Share>,
    /// Fields that nobody could read: there is nothing to compare with.
    pub unreadable: usize,
    /// Sheets that are another kind, or hold another number of records, than proposed.
    pub misjudged: Vec<SheetId>,
    /// Keyed sheets that no rule fits.
    pub unfitted: Vec<SheetId>,
    /// What still misses, *sure* first.
    pub misread: Vec<Misread>,
}

impl Rehearsal {
    /// Counts one sheet of the sample that was keyed.
    pub fn add(
        &mut self,
        sheet: &SheetId,
        keyed: &Keying,
        proposal: Option<&Proposal>,
        comparer: &Comparer,
    ) {
        let nothing = Proposal::default();
        let proposal = proposal.unwrap_or(&nothing);
        if proposal.rule.is_none() {
            self.unfitted.push(sheet.clone());
        }
        let comparison = Comparison::of(keyed, &as_keyed(proposal), comparer);
        let mut fields = Share::default();
        let mut is_misjudged = false;
        for place in &comparison.places {
            let Place::Field(record, name) = &place.at else {
                is_misjudged |= matches!(place.at, Place::Kind | Place::Record(_));
                continue;
            };
            if place.first.as_ref().is_none_or(cannot_be_read) {
                self.unreadable += 1;
                continue;
            }
            let is_right = matches!(place.verdict, Verdict::Same | Verdict::SameByJob);
            let at = comparison.pairs[*record][1];
            let face = face(proposal, at, name);
            fields.count(is_right);
            self.by_face[place_of(face)].count(!is_right);
            self.by_field
                .entry(name.clone())
                .or_default()
                .count(is_right);
            if !is_right {
                self.misread.push(Misread {
                    sheet: sheet.clone(),
                    field: name.clone(),
                    proposed: text(place.second.as_ref()),
                    keyed: text(place.first.as_ref()),
                    face,
                });
            }
        }
        if is_misjudged {
            self.misjudged.push(sheet.clone());
        }
        self.sheets.count(!is_misjudged && fields.hits == fields.of);
        self.fields.add(fields);
        self.misread.sort_by_key(|misread| place_of(misread.face));
    }
}

/// Sure, look, empty.
fn place_of(face: Face) -> usize {
    match face {
        Face::Sure => 0,
        Face::Look => 1,
        Face::Empty => 2,
    }
}

fn cannot_be_read(value: &KeyedValue) -> bool {
    match value {
        KeyedValue::CannotBeRead => true,
        KeyedValue::Text(text) => text.contains(UNREADABLE),
        KeyedValue::NothingOnStrip => false,
    }
}

fn text(value: Option<&KeyedValue>) -> String {
    match value {
        Some(KeyedValue::Text(text)) => text.clone(),
        _ => String::new(),
    }
}

/// How a field of a proposed record was proposed; empty where there is no such record.
fn face(proposal: &Proposal, record: Option<usize>, name: &str) -> Face {
    let fields = match record {
        Some(0) => Some(&proposal.fields),
        Some(at) => proposal.more.get(at - 1).map(|record| &record.fields),
        None => None,
    };
    let mut fields = fields.into_iter().flatten();
    let field = fields.find(|field| field.field == name);
    field.map_or(Face::Empty, |field| field.face)
}

/// A proposal as if somebody had accepted it as it stands.
fn as_keyed(proposal: &Proposal) -> Keying {
    let field = |field: &ProposedField| KeyedField {
        field: field.field.clone(),
        value: KeyedValue::Text(field.as_typed.clone()),
        as_roster: None,
        source: KeyedSource::Proposal,
        proposed: None,
        overruled: None,
    };
    let record = |fields: &Vec<ProposedField>| KeyedRecord {
        fields: fields.iter().map(field).collect(),
        roster_key: None,
    };
    let more = proposal.more.iter().map(|more| &more.fields);
    Keying {
        kind: proposal.kind,
        records: match proposal.kind {
            crate::value::SheetKind::Record => std::iter::once(&proposal.fields)
                .chain(more)
                .map(record)
                .collect(),
            _ => Vec::new(),
        },
        ..Keying::default()
    }
}
