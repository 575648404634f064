//! What is proposed, held against what was keyed.

use super::tests::sheets;
use super::*;
use crate::journal::KeyedValue;
use crate::proposal::{Face, Proposal, ProposedField};
use crate::review::testing::keying_of;
use crate::value::{Probability, SheetKind};

#[test]
fn what_is_proposed_is_held_against_what_was_keyed() {
    let proposed = |values: &[(&str, &str, Face)]| Proposal {
        rule: Some("one".to_owned()),
        fields: values
            .iter()
            .map(|(field, value, face)| ProposedField {
                field: (*field).to_owned(),
                as_typed: (*value).to_owned(),
                as_roster: None,
                probability: Probability::ONE,
                face: *face,
                alternatives: vec![],
                reasons: vec![],
            })
            .collect(),
        ..Proposal::default()
    };
    let mut rehearsal = Rehearsal::default();
    let all = sheets(6);
    let comparer = Comparer::default();
    let right = proposed(&[("surname", "Pier", Face::Sure), ("number", "1", Face::Look)]);
    let wrong = proposed(&[("surname", "PEER", Face::Sure), ("number", "2", Face::Look)]);
    let keyed = keying_of(&[("PIER", "1")]);
    rehearsal.add(&all[0], &keyed, Some(&right), &comparer);
    rehearsal.add(&all[1], &keyed, Some(&wrong), &comparer);
    let mut illegible = keying_of(&[("PIER", "1")]);
    illegible.records[0].fields[0].value = KeyedValue::CannotBeRead;
    rehearsal.add(&all[2], &illegible, Some(&right), &comparer);
    rehearsal.add(&all[3], &keyed, None, &comparer);
    rehearsal.add(
        &all[4],
        &keying_of(&[("PIER", "1"), ("DOCK", "2")]),
        Some(&right),
        &comparer,
    );
    let blank = Proposal {
        kind: SheetKind::Blank,
        ..Proposal::default()
    };
    rehearsal.add(&all[5], &keyed, Some(&blank), &comparer);
    assert_eq!((rehearsal.sheets.hits, rehearsal.sheets.of), (2, 6));
    assert_eq!(
        (rehearsal.fields.all.hits, rehearsal.fields.all.of),
        (5, 13)
    );
    let faces = rehearsal.by_face.map(|share| (share.hits, share.of));
    assert_eq!(faces, [(1, 3), (1, 4), (6, 6)]);
    assert_eq!(
        (rehearsal.unreadable, &rehearsal.misjudged[..]),
        (1, &all[4..])
    );
    assert_eq!(rehearsal.unfitted, [all[3].clone(), all[5].clone()]);
    let first = &rehearsal.misread[0];
    assert_eq!(
        (first.proposed.as_str(), first.keyed.as_str(), first.face),
        ("PEER", "PIER", Face::Sure)
    );
}
