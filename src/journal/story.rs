//! The story that every store has to tell alike.

use super::*;
use crate::proposal::{Face, Proposal, ProposedField};
use crate::reading::{Line, Reading};
use crate::rules::{Candidate, Extracted, Extraction, Source};
use crate::strip::Lay;
use crate::value::{Finding, Probability, Quad, Severity, SheetKind, Station};

pub fn sheet(name: &str, content: &str) -> SheetRecord {
    SheetRecord::new(
        SheetId::new(name),
        content.to_owned(),
        4096,
        1_700_000_000_123_456_789,
    )
}

pub fn reading(name: &str, text: &str) -> ReadingRecord {
    let lay = Lay {
        corners: Quad::default(),
        turned: 180,
        mirrored: false,
        inverted: true,
        skew: -1.25,
        band: Some([200, 10, 10]),
        facing_margin: 7.5,
    };
    let lines = vec![Line::certain(text, 0.9)];
    let mut record = ReadingRecord::new(
        SheetId::new(name),
        format!("key of {text}"),
        Some(lay),
        Reading { lines },
    );
    let message = "the strip leans";
    record.findings = vec![Finding::new(
        Severity::Note,
        Station::Strip,
        "skewed",
        message,
    )];
    record.milliseconds.insert("strip".to_owned(), 12.5);
    record
}

pub fn proposal(name: &str, value: &str) -> ProposalRecord {
    let extraction = Extraction {
        sheet: SheetKind::Record,
        rule: "name".to_owned(),
        score: -12.75,
        probability: Probability::new(0.75),
        fields: vec![Extracted {
            field: "surname".to_owned(),
            line: 0,
            positions: 2..7,
            record: 0,
            source: Source::Strip,
            candidates: vec![Candidate {
                doubt: None,
                value: value.to_owned(),
                probability: Probability::new(0.5),
                check_holds: Some(false),
            }],
            raw: value.to_owned(),
        }],
        tolerated: vec![],
    };
    let proposal = Proposal {
        rule: Some("name".to_owned()),
        fields: vec![ProposedField {
            field: "surname".to_owned(),
            as_typed: value.to_owned(),
            as_roster: None,
            probability: Probability::new(0.5),
            face: Face::Look,
            alternatives: vec![],
            reasons: vec![],
        }],
        ..Proposal::default()
    };
    ProposalRecord::new(
        SheetId::new(name),
        format!("key of {value}"),
        vec![extraction],
        proposal,
    )
}

fn names<T>(records: Records<T>, name: fn(&T) -> &SheetId) -> Vec<String> {
    records
        .map(|record| name(&record.unwrap()).as_str().to_owned())
        .collect()
}

/// Tells the story to an empty store.
pub fn tell(store: &mut impl Store) {
    assert!(store.overview().unwrap().is_empty());
    assert_eq!(store.sheet(&SheetId::new("10.png")).unwrap(), None);

    // Hostile names and texts are only data.
    let odd = "9'; DROP TABLE sheets; --\u{1b}[31m.png";
    store
        .put_sheets(&[sheet("10.png", "a"), sheet(odd, "b"), sheet("2.png", "c")])
        .unwrap();
    store
        .put_readings(&[reading("10.png", "TEN"), reading(odd, "Ω\u{0}\u{202e}\"'")])
        .unwrap();
    store.put_proposals(&[proposal(odd, "PIER")]).unwrap();

    // What went in comes out, the whole of it.
    assert_eq!(
        store.reading(&SheetId::new(odd)).unwrap(),
        Some(reading(odd, "Ω\u{0}\u{202e}\"'"))
    );
    assert_eq!(store.reading(&SheetId::new("2.png")).unwrap(), None);
    assert_eq!(
        store.proposal(&SheetId::new(odd)).unwrap(),
        Some(proposal(odd, "PIER"))
    );

    // Probabilities to the last bit: a resumed run must propose what the first one did.
    let mut fine = proposal(odd, "PIER");
    for n in 1..=1_000_u32 {
        let probability = Probability::new(1.0 / f64::from(n * n + 2));
        let alternatives = &mut fine.proposal.fields[0].alternatives;
        alternatives.push((n.to_string(), probability));
    }
    store.put_proposals(std::slice::from_ref(&fine)).unwrap();
    assert_eq!(store.proposal(&fine.sheet).unwrap(), Some(fine));

    // Drawer order, with what a resumed run needs.
    let overview = store.overview().unwrap();
    let told: Vec<_> = overview
        .iter()
        .map(|status| {
            (
                status.record.sheet.as_str(),
                status.record.content_hash.as_str(),
                status.record.first_seen,
                status.reading_key.as_deref(),
                status.proposal_key.as_deref(),
            )
        })
        .collect();
    assert_eq!(
        told,
        [
            ("2.png", "c", 3, None, None),
            (
                odd,
                "b",
                2,
                Some("key of Ω\u{0}\u{202e}\"'"),
                Some("key of PIER")
            ),
            ("10.png", "a", 1, Some("key of TEN"), None),
        ]
    );
    assert_eq!(
        names(store.readings().unwrap(), |r| &r.sheet),
        [odd, "10.png"]
    );
    assert_eq!(names(store.proposals().unwrap(), |p| &p.sheet), [odd]);

    // A second put replaces and keeps the order of arrival.
    store.put_sheets(&[sheet("10.png", "a2")]).unwrap();
    store.put_readings(&[reading("10.png", "ELEVEN")]).unwrap();
    let ten = store.sheet(&SheetId::new("10.png")).unwrap().unwrap();
    assert_eq!(
        (ten.content_hash.as_str(), ten.first_seen, ten.vanished),
        ("a2", 1, false)
    );
    let read = store.reading(&ten.sheet).unwrap().unwrap();
    assert_eq!(read.reading.text(), "ELEVEN");

    // All of a put or nothing.
    let refused = store.put_readings(&[reading("2.png", "TWO"), reading("3.png", "THREE")]);
    let three = SheetId::new("3.png");
    assert_eq!(
        refused,
        Err(JournalError::UnknownSheet {
            sheet: three.clone(),
            what: "reading"
        })
    );
    assert_eq!(store.reading(&SheetId::new("2.png")).unwrap(), None);
    assert!(store.put_proposals(&[proposal("3.png", "X")]).is_err());
    assert_eq!(store.sheet(&three).unwrap(), None);

    // Vanished sheets are out of sight, not out of mind.
    store
        .mark_vanished(&[SheetId::new("10.png"), SheetId::new("never seen.png")])
        .unwrap();
    assert_eq!(store.overview().unwrap().len(), 2);
    assert_eq!(names(store.readings().unwrap(), |r| &r.sheet), [odd]);
    assert!(store.sheet(&ten.sheet).unwrap().unwrap().vanished);
    store.put_sheets(&[sheet("10.png", "a2")]).unwrap();
    let back = &store.overview().unwrap()[2];
    assert_eq!(back.reading_key.as_deref(), Some("key of ELEVEN"));
    assert_eq!(back.record.first_seen, 1);

    // Fields of a newer program survive a rewrite.
    let mut newer = reading("2.png", "TWO");
    newer
        .extra
        .insert("ink".to_owned(), serde_json::json!({"colour": "violet"}));
    store.put_readings(&[newer.clone()]).unwrap();
    let mut rewritten = store.reading(&newer.sheet).unwrap().unwrap();
    rewritten.key = "another".to_owned();
    store.put_readings(&[rewritten]).unwrap();
    let kept = store.reading(&newer.sheet).unwrap().unwrap();
    assert_eq!((kept.key.as_str(), &kept.extra), ("another", &newer.extra));

    // Decisions about the job come back in order, with fields of a newer program.
    assert_eq!(store.decisions().unwrap(), []);
    let publication = Publication {
        version: 1,
        files: vec![("rules/a.toml".to_owned(), "# Ω\u{202e}".to_owned())],
        ..Publication::default()
    };
    let mut decisions = ["ann", "bea"].map(|by| {
        Decision::new(
            by,
            1_700_000_000_000,
            Choice::RulesPublished(publication.clone()),
        )
    });
    decisions[1].extra = newer.extra;
    for (number, decision) in (1..).zip(&mut decisions) {
        decision.number = store.decide(decision).unwrap();
        assert_eq!(decision.number, number);
    }
    assert_eq!(store.decisions().unwrap(), decisions);
}
