//! Proposals made from small evidence: cases as data.

use super::*;
use crate::reading::{Line, Reading};
use crate::roster::{ColumnKind, Prior, Roster, Schema, Table};
use crate::rules::{Candidate, Extracted, Extraction, Source};
use crate::value::{Severity, Station};

/// 600 rows: some people by name, among many whose names are made of syllables.
fn roster() -> Roster {
    let mut text = "number,surname,forenames,from,to\n\
        100001-1,DALTON,JOHN HENRY,1931,1952\n\
        100003-8,OBRIEN,MARY ANN,1935,1950\n\
        100006-2,HARPER,WILLIAM,1951,1972\n\
        100007-0,HARPER,WILLIAM,1921,1949\n"
        .to_owned();
    let starts = [
        "BAR", "COL", "DEN", "FEN", "GAR", "HOL", "KEL", "LAN", "MOR", "NOR",
    ];
    let ends = ["TON", "LEY", "FORD", "WICK", "MAN", "SON"];
    let forenames = [
        "ALBERT", "JOHN", "EDITH", "GEORGE", "HAROLD", "RUTH", "WALTER", "ROSE",
    ];
    for at in 0..600_usize {
        let number = format!("{}", 200_000 + at * 37);
        let check = crate::value::CheckScheme::Iso7064Mod11_2.check_character(&number);
        let surname = format!("{}{}", starts[at % 10], ends[at / 10 % 6]);
        let from = 1920 + at % 40;
        text += &format!(
            "{number}-{},{surname},{},{from},{}\n",
            check.expect("digits"),
            forenames[at * 7 / 3 % 8],
            from + 1 + at % 29
        );
    }
    let kinds = [
        ColumnKind::Code,
        ColumnKind::Surname,
        ColumnKind::Forenames,
        ColumnKind::Year,
        ColumnKind::Year,
    ];
    let (table, _) = Table::from_reader(text.as_bytes()).expect("a table");
    let columns = FIELDS.map(str::to_owned).into_iter().zip(kinds);
    let schema = Schema {
        key: "number".to_owned(),
        columns: columns.collect(),
    };
    Roster::prepare(table, &schema).expect("a roster").0
}

const FIELDS: [&str; 5] = ["number", "surname", "forenames", "from", "to"];

fn plans() -> Vec<FieldPlan> {
    let fields = FIELDS.iter().chain(&["part"]).map(|&name| FieldPlan {
        name: name.to_owned(),
        required: name == "number",
        not_above: (name == "from").then(|| "to".to_owned()),
        ..FieldPlan::default()
    });
    fields.collect()
}

/// `personnel:0.99 number=100001-1+ surname=DALTQN:0.6|DALTON:0.4`: a rule, its probability, fields with candidates;
/// `+` and `-` after a value: its check character fits or not; `_` stands for a blank; `raw~` may stand before the values.
fn extraction(text: &str) -> Extraction {
    let mut parts = text.split(' ');
    let (rule, probability) = parts
        .next()
        .and_then(|head| head.split_once(':'))
        .expect("rule:p");
    let fields = parts.map(|part| {
        let (field, values) = part.split_once('=').expect("field=values");
        let (raw, values) = values
            .split_once('~')
            .map_or((None, values), |(raw, values)| (Some(raw), values));
        let candidates = values.split('|').map(|value| {
            let (value, p) = value.split_once(':').unwrap_or((value, "0.999"));
            let check_holds = match value.as_bytes().last() {
                Some(b'+') => Some(true),
                Some(b'-') => Some(false),
                _ => None,
            };
            let value = value.trim_end_matches(['+', '-']).replace('_', " ");
            Candidate {
                doubt: None,
                value,
                probability: Probability::new(p.parse().expect("a probability")),
                check_holds,
            }
        });
        let candidates: Vec<_> = candidates.collect();
        Extracted {
            record: 0,
            source: Source::Strip,
            field: field.to_owned(),
            line: 0,
            positions: 0..0,
            raw: raw.unwrap_or(&candidates[0].value).to_owned(),
            candidates,
        }
    });
    Extraction {
        sheet: SheetKind::Record,
        rule: rule.to_owned(),
        score: 10.0,
        probability: Probability::new(probability.parse().expect("a probability")),
        fields: fields.collect(),
        tolerated: Vec::new(),
    }
}

struct Case {
    ways: &'static [&'static str],
    findings: &'static [(Severity, &'static str)],
    /// `field=value/face`, for the fields worth naming.
    fields: &'static str,
    key: Option<&'static str>,
    /// Codes of the proposal's findings.
    noticed: &'static [&'static str],
}

fn run(ways: &[&str], findings: &[(Severity, &str)], roster: Option<&Roster>) -> Proposal {
    let extractions: Vec<_> = ways.iter().map(|way| extraction(way)).collect();
    let findings: Vec<_> = findings
        .iter()
        .map(|(severity, code)| Finding::new(*severity, Station::Strip, code, "of the strip"))
        .collect();
    let columns = FIELDS.map(|name| (name.to_owned(), name.to_owned()));
    let reading = Reading {
        lines: vec![Line::certain("", 0.99)],
    };
    propose(&Evidence {
        before: &Before::default(),
        band: "none",
        findings: &findings,
        reading: &reading,
        extractions: &extractions,
        fields: &plans(),
        roster: roster.map(|roster| RosterPlan {
            roster,
            columns: &columns,
            prior: Prior::default(),
        }),
        calibration: Calibration::default(),
        scorer: None,
    })
}

fn check(roster: &Roster, case: &Case) {
    let found = run(case.ways, case.findings, Some(roster));
    let told = format!("{:?}: {found:?}", case.ways);
    let names: Vec<_> = found
        .fields
        .iter()
        .map(|field| field.field.as_str())
        .collect();
    assert_eq!(
        names,
        ["number", "surname", "forenames", "from", "to", "part"],
        "{told}"
    );
    for expected in case.fields.split_whitespace() {
        let (name, rest) = expected.split_once('=').expect("field=value/face");
        let (value, face) = rest.split_once('/').expect("value/face");
        let field = found
            .fields
            .iter()
            .find(|field| field.field == name)
            .expect("the field");
        assert_eq!(field.as_typed, value.replace('_', " "), "{told}");
        assert_eq!(
            format!("{:?}", field.face).to_lowercase(),
            face,
            "{name}: {told}"
        );
    }
    assert_eq!(
        found.link.as_ref().map(|link| link.key.as_str()),
        case.key,
        "{told}"
    );
    let codes: Vec<_> = found
        .findings
        .iter()
        .map(|finding| finding.code.as_str())
        .collect();
    assert_eq!(codes, case.noticed, "{told}");
    for field in &found.fields {
        let sum: f64 = field.reasons.iter().map(|reason| reason.weight).sum();
        let shown = field.probability.log_odds();
        let nothing = field.reasons.is_empty() && field.face == Face::Empty;
        assert!(
            nothing || (sum - shown).abs() < 1e-6,
            "{}: {sum} is not {shown}: {told}",
            field.field
        );
    }
}

#[test]
fn joins_reader_rules_and_roster() {
    let cases = [
        // All agree: sure, but for the field that nothing supports.
        Case {
            ways: &[
                "personnel:0.9999 number=100001-1+ surname=DALTON forenames=JOHN_H from=1931 to=1952 part=2",
            ],
            findings: &[],
            fields: "number=100001-1/sure surname=DALTON/sure forenames=JOHN_H/sure from=1931/sure to=1952/sure part=2/look",
            key: Some("100001-1"),
            noticed: &[],
        },
        // The number lifts the surname that agrees with it, though the reader prefers another.
        Case {
            ways: &[
                "personnel:0.9999 number=100001-1+ surname=DALTQN:0.6|DALTON:0.39 forenames=JOHN_H from=1931 to=1952",
            ],
            findings: &[],
            fields: "surname=DALTON/sure part=/empty",
            key: Some("100001-1"),
            noticed: &[],
        },
        // What the reader never offered is put forward, to be looked at.
        Case {
            ways: &[
                "personnel:0.9999 number=100001-1+ surname=DALTQN:0.9 forenames=JOHN_H from=1931 to=1952",
            ],
            findings: &[],
            fields: "surname=DALTON/look",
            key: Some("100001-1"),
            noticed: &[],
        },
        // A married name stays what the strip says.
        Case {
            ways: &[
                "personnel:0.9999 number=100003-8+ surname=WETHERBY forenames=MARY_ANN from=1935 to=1950",
            ],
            findings: &[],
            fields: "surname=WETHERBY/look number=100003-8/sure",
            key: Some("100003-8"),
            noticed: &[],
        },
        // Only the name, and two of that name.
        Case {
            ways: &["personnel:0.9999 surname=HARPER forenames=WILLIAM"],
            findings: &[],
            fields: "number=/empty surname=HARPER/look",
            key: Some("100006-2"),
            noticed: &["roster-link-doubtful", "required-field-empty"],
        },
        // The years tell them apart.
        Case {
            ways: &["personnel:0.9999 surname=HARPER forenames=WILLIAM from=1921 to=1949"],
            findings: &[],
            fields: "surname=HARPER/sure",
            key: Some("100007-0"),
            noticed: &["required-field-empty"],
        },
        // A stranger.
        Case {
            ways: &[
                "personnel:0.9999 number=734512-5+ surname=GRANTHAM forenames=EDGAR from=1931 to=1952",
            ],
            findings: &[],
            fields: "surname=GRANTHAM/look",
            key: None,
            noticed: &["not-in-roster"],
        },
        // The check character does not fit and the roster does not help.
        Case {
            ways: &["personnel:0.9999 number=734512-3- surname=GRANTHAM forenames=EDGAR"],
            findings: &[],
            fields: "number=734512-3/look",
            key: None,
            noticed: &["not-in-roster"],
        },
        // A strip that was warned of, a doubtful rule: never sure.
        Case {
            ways: &[
                "personnel:0.9999 number=100001-1+ surname=DALTON forenames=JOHN_H from=1931 to=1952",
            ],
            findings: &[(Severity::Warning, "amended"), (Severity::Note, "turned")],
            fields: "number=100001-1/look surname=DALTON/look",
            key: Some("100001-1"),
            noticed: &[],
        },
        Case {
            ways: &[
                "personnel:0.9 number=100001-1+ surname=DALTON",
                "other:0.09 number=100001-1+ surname=DALTON",
            ],
            findings: &[],
            fields: "number=100001-1/look surname=DALTON/look",
            key: Some("100001-1"),
            noticed: &[],
        },
        // Two ways to cut the name: the roster knows which.
        Case {
            ways: &[
                "forenames-first:0.6 number=100001-1+ surname=JOHN forenames=DALTON",
                "surname-first:0.39 number=100001-1+ surname=DALTON forenames=JOHN",
            ],
            findings: &[],
            // The row has a second forename, which the reader may have lost.
            fields: "surname=DALTON/sure forenames=JOHN/look",
            key: Some("100001-1"),
            noticed: &[],
        },
        // A digit that the typist dropped: a guess holds the check and fits the row, and is not what is typed.
        Case {
            ways: &[
                "personnel:0.9999 number=10001-1~100001-1+ surname=DALTON forenames=JOHN_HENRY",
            ],
            findings: &[],
            fields: "number=100001-1/look surname=DALTON/sure",
            key: Some("100001-1"),
            noticed: &[],
        },
        // Number and name point to different rows.
        Case {
            ways: &["personnel:0.9999 number=100003-8+ surname=DALTON forenames=JOHN_HENRY"],
            findings: &[],
            fields: "surname=DALTON/look",
            key: Some("100001-1"),
            noticed: &["roster-contest"],
        },
        // The last year stands before the first.
        Case {
            ways: &[
                "personnel:0.9999 number=100001-1+ surname=DALTON forenames=JOHN_H from=1952 to=1931",
            ],
            findings: &[],
            fields: "from=1952/look to=1931/look surname=DALTON/sure",
            key: Some("100001-1"),
            noticed: &["fields-contradict"],
        },
        // No rule fits.
        Case {
            ways: &[],
            findings: &[],
            fields: "number=/empty surname=/empty",
            key: None,
            noticed: &["no-rule-fits"],
        },
    ];
    let roster = roster();
    for case in &cases {
        check(&roster, case);
    }
}

#[test]
fn what_the_row_says_is_kept_beside_what_was_typed() {
    let roster = roster();
    let found = run(
        &["r:0.9999 number=100001-1+ surname=DALTON forenames=J_H"],
        &[],
        Some(&roster),
    );
    let field = &found.fields[2];
    assert_eq!(
        (field.as_typed.as_str(), field.as_roster.as_deref()),
        ("J H", Some("JOHN HENRY"))
    );
    assert!(
        field
            .reasons
            .iter()
            .any(|reason| reason.words.contains("with initials")),
        "{field:#?}"
    );
}

#[test]
fn without_a_roster_only_a_check_character_makes_sure() {
    let found = run(
        &["r:0.9999 number=100001-1+:0.99999 surname=DALTON:0.99999"],
        &[],
        None,
    );
    let faces: Vec<_> = found
        .fields
        .iter()
        .take(2)
        .map(|field| field.face)
        .collect();
    assert_eq!((faces, found.link), (vec![Face::Look, Face::Look], None));
    assert_eq!(found.not_in_roster, Probability::ZERO);
    let surely = run(
        &["r:0.999999 number=100001-1+:0.999999 surname=DALTON:0.999999"],
        &[],
        None,
    );
    assert_eq!(
        (surely.fields[0].face, surely.fields[1].face),
        (Face::Sure, Face::Look)
    );
}

#[test]
fn calibration_keeps_order_and_never_adds_confidence() {
    let calibration = Calibration::default();
    let shown: Vec<f64> = (1..1000)
        .map(|at| {
            let model = Probability::new(f64::from(at) / 1000.0);
            let shown = calibration.apply(model);
            assert!(shown <= model);
            shown.get()
        })
        .collect();
    assert!(shown.windows(2).all(|pair| pair[0] < pair[1]));
    assert_eq!(calibration.apply(Probability::ONE), calibration.ceiling);
    assert_eq!(calibration.apply(Probability::ZERO), Probability::ZERO);
}

#[test]
fn the_picture_decides_between_what_was_read_and_what_the_roster_holds() {
    let roster = roster();
    let columns = FIELDS.map(|name| (name.to_owned(), name.to_owned()));
    let reading = Reading {
        lines: vec![Line::certain("DALTQN, J H 100001-1", 0.99)],
    };
    let mut way = extraction("r:0.9999 number=100001-1+ surname=DALTQN:0.97");
    way.fields[1].positions = 0..6;
    let surname = |against: f64| {
        let scorer = |_: usize, text: &str| match text {
            "DALTON, J H 100001-1" => against,
            "DALTQN, J H 100001-1" => 0.0,
            other => panic!("asked about {other}"),
        };
        let proposal = propose(&Evidence {
            before: &Before::default(),
            band: "none",
            findings: &[],
            reading: &reading,
            extractions: std::slice::from_ref(&way),
            fields: &plans(),
            roster: Some(RosterPlan {
                roster: &roster,
                columns: &columns,
                prior: Prior::default(),
            }),
            calibration: Calibration::default(),
            scorer: Some(&scorer),
        });
        proposal.fields[1].as_typed.clone()
    };
    assert_eq!(
        (surname(-3.0).as_str(), surname(-30.0).as_str()),
        ("DALTON", "DALTQN")
    );
}

#[test]
fn a_ditto_mark_is_not_asked_of_the_roster() {
    let roster = roster();
    let proposal = |source: Source| {
        let mut way = extraction("r:0.9999 number=100001-1+ surname=DO");
        way.fields[1].source = source;
        let columns = FIELDS.map(|name| (name.to_owned(), name.to_owned()));
        propose(&Evidence {
            before: &Before {
                divider: None,
                record: Some(EarlierSheet {
                    sheet: crate::value::SheetId::new("before.tif"),
                    values: vec![(
                        "surname".to_owned(),
                        "DALTON".to_owned(),
                        Probability::new(0.999),
                        Face::Sure,
                    )],
                }),
            },
            band: "none",
            findings: &[],
            reading: &Reading::default(),
            extractions: std::slice::from_ref(&way),
            fields: &plans(),
            roster: Some(RosterPlan {
                roster: &roster,
                columns: &columns,
                prior: Prior::default(),
            }),
            calibration: Calibration::default(),
            scorer: None,
        })
    };
    let (mark, text) = (proposal(Source::Ditto), proposal(Source::Strip));
    let linked = |proposal: &Proposal| proposal.link.as_ref().map(|link| link.probability.get());
    // The same row as without the surname, and not less probable for a mark that no surname looks like.
    let without = run(&["r:0.9999 number=100001-1+"], &[], Some(&roster));
    assert_eq!(linked(&mark), linked(&without));
    assert!(linked(&mark) > linked(&text), "{mark:?} {text:?}");
    assert_eq!(mark.fields[1].as_typed, "DALTON");
}
