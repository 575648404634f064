//! What is proposed for the sample beside what was keyed blind: how right the rules are before the bulk.

use crate::figures::{Clusters, Share};
use crate::journal::{KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying, UNREADABLE};
use crate::proposal::{Face, Proposal, ProposedField};
use crate::review::{Comparer, Comparison, Verdict};
use crate::value::{SheetId, SheetKind};
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
        let proposed = as_keyed(proposal);
        let pairs = match (&keyed.records[..], &proposed.records[..]) {
            // Of what is proposed to be another kind nothing is proposed that could be right.
            (own, _) if keyed.kind != proposed.kind => {
                (0..own.len()).map(|at| [Some(at), None]).collect()
            }
            // However little they have in common.
            ([_], [_]) => vec![[Some(0), Some(0)]],
            _ => Comparison::of(keyed, &proposed, comparer).pairs,
        };
        let mut is_misjudged = keyed.kind != proposed.kind;
        let mut fields = Share::default();
        for [own, other] in pairs {
            is_misjudged |= own.is_none() || other.is_none();
            let keyed = own.map_or(&[][..], |at| &keyed.records[at].fields);
            let proposed = other.map_or(&[][..], |at| &proposed.records[at].fields);
            for field in keyed {
                if cannot_be_read(&field.value) {
                    self.unreadable += 1;
                    continue;
                }
                let mut others = proposed.iter();
                let other_value = others.find(|other| other.field == field.field);
                let nothing = KeyedValue::NothingOnStrip;
                let value = other_value.map_or(&nothing, |other| &other.value);
                let is_right =
                    comparer.compare(&field.field, &field.value, value) != Verdict::Different;
                let face = face(proposal, other, &field.field);
                fields.count(is_right);
                self.by_face[place_of(face)].count(!is_right);
                let by_field = self.by_field.entry(field.field.clone()).or_default();
                by_field.count(is_right);
                if !is_right {
                    self.misread.push(Misread {
                        sheet: sheet.clone(),
                        field: field.field.clone(),
                        proposed: text(value),
                        keyed: text(&field.value),
                        face,
                    });
                }
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

fn text(value: &KeyedValue) -> String {
    match value {
        KeyedValue::Text(text) => text.clone(),
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
            SheetKind::Record => std::iter::once(&proposal.fields)
                .chain(more)
                .map(record)
                .collect(),
            _ => Vec::new(),
        },
        ..Keying::default()
    }
}
