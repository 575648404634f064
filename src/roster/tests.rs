//! The roster asked and answered: cases as data.

use super::*;

/// A small roster: namesakes, a father and a son, a double name, an accent, an apostrophe, numbers with MOD 11-2.
const PEOPLE: &str = "\
number,surname,forenames,from,to
100001-1,DALTON,JOHN HENRY,1931,1952
100002-X,DALTON,JOHN,1940,1961
100003-8,O'BRIEN,MARY ANN,1935,1950
100004-6,MÜLLER,HANS,1936,1948
100005-4,SMITH-JONES,PETER,1950,1971
100006-2,HARPER JR,WILLIAM,1951,1972
100007-0,HARPER SR,WILLIAM,1921,1949
100008-9,QUAYLE,CATHERINE,1944,1946
100009-7,SMITH,PETER,1947,1969
100010-X,SMITH,ANNE,1948,1970
100011-8,SMITH,JANE,1949,1970
100012-6,SMITH,MARY,1946,1970
";

fn schema() -> Schema {
    use ColumnKind::*;
    let columns = [
        ("number", Code),
        ("surname", Surname),
        ("forenames", Forenames),
        ("from", Year),
        ("to", Year),
    ];
    Schema {
        key: "number".to_owned(),
        columns: columns.map(|(name, kind)| (name.to_owned(), kind)).to_vec(),
    }
}

fn people() -> Roster {
    let (table, findings) = Table::from_reader(PEOPLE.as_bytes()).expect("a table");
    assert_eq!(findings, []);
    let (roster, findings) = Roster::prepare(table, &schema()).expect("a roster");
    assert_eq!(findings, []);
    roster
}

/// `number=100001-1 surname=DALTQN:0.6|DALTON:0.4`: columns with alternatives; `_` stands for a blank.
fn query(text: &str) -> Query {
    let columns = text.split(' ').map(|part| {
        let (column, values) = part.split_once('=').expect("column=values");
        let values = values.split('|').map(|value| {
            let (value, p) = value.split_once(':').unwrap_or((value, "1"));
            let p = Probability::new(p.parse().expect("a probability"));
            (value.replace('_', " "), p)
        });
        QueryColumn {
            column: column.to_owned(),
            values: values.collect(),
        }
    });
    Query {
        columns: columns.collect(),
        joint: Vec::new(),
    }
}

/// Asks; the best row has this key's last digits and at least this probability, and some reason has these words.
fn check(roster: &Roster, ask: &str, key: &str, least: f64, words: &str) {
    let ranking = roster.rank(&query(ask), Prior::default(), 20);
    let first = &ranking.rows[0];
    assert!(
        roster.key(first.row).starts_with(key),
        "{ask}: {ranking:#?}"
    );
    assert!(first.probability.get() >= least, "{ask}: {ranking:#?}");
    let told = first.reasons.iter().any(|reason| reason.words == words);
    assert!(told, "{ask}: {words} is not in {:#?}", first.reasons);
    let sum: f64 = ranking.rows.iter().map(|row| row.probability.get()).sum();
    assert!(
        (sum + ranking.none.get() - 1.0).abs() < 1e-5,
        "{ask}: {sum}"
    );
    for row in &ranking.rows {
        let weights: f64 = row.reasons.iter().map(|reason| reason.weight).sum();
        let odds = (row.probability.get() / ranking.none.get()).ln();
        assert!(
            (weights - odds).abs() < 1e-4,
            "{ask}: {weights} is not {odds}"
        );
    }
}

#[test]
fn finds_the_row_and_says_why() {
    let cases = [
        ("number=100001-1", "100001", 0.85, "number agrees"),
        (
            "number=100001-1 surname=DALTON",
            "100001",
            0.99,
            "surname agrees",
        ),
        (
            "number=100081-1 surname=DALTON forenames=JOHN_HENRY",
            "100001",
            0.9,
            "number agrees but for one character: 100081-1 / 100001-1",
        ),
        (
            "number=100010-1 surname=DALTON forenames=JOHN_HENRY",
            "100001",
            0.9,
            "number agrees but for two characters swapped: 100010-1 / 100001-1",
        ),
        (
            "number=100001-1 surname=DALTQN:0.6|DALTON:0.4",
            "100001",
            0.99,
            "surname agrees",
        ),
        (
            "number=100001-1 surname=DALTQN",
            "100001",
            0.99,
            "surname agrees but for one letter: DALTQN / DALTON",
        ),
        (
            "number=100001-1 surname=DATLON",
            "100001",
            0.99,
            "surname agrees but for two letters swapped: DATLON / DALTON",
        ),
        (
            "number=100001-1 forenames=J_H",
            "100001",
            0.99,
            "forenames agree, with initials: J H / JOHN HENRY",
        ),
        (
            "surname=DALTON forenames=JOHN_H",
            "100001",
            0.5,
            "forenames agree, with initials: JOHN H / JOHN HENRY",
        ),
        (
            "number=100001-1 forenames=JOHN",
            "100001",
            0.95,
            "forenames agree, a later one is left out: JOHN / JOHN HENRY",
        ),
        (
            "number=100001-1 forenames=HENRY_JOHN",
            "100001",
            0.9,
            "forenames agree in part: HENRY JOHN / JOHN HENRY",
        ),
        (
            "surname=OBRIEN forenames=MARY_ANN",
            "100003",
            0.9,
            "surname agrees but for accents, blanks or signs: OBRIEN / O'BRIEN",
        ),
        (
            "surname=O’_BRIEN forenames=MARY-ANN",
            "100003",
            0.9,
            "forenames agree",
        ),
        (
            "surname=MULLER forenames=HANS",
            "100004",
            0.9,
            "surname agrees but for accents, blanks or signs: MULLER / MÜLLER",
        ),
        (
            "surname=SMITH_JONES forenames=PETER",
            "100005",
            0.8,
            "surname agrees but for accents, blanks or signs: SMITH JONES / SMITH-JONES",
        ),
        (
            "number=100005-4 surname=JONES",
            "100005",
            0.9,
            "surname is half of a double name: JONES / SMITH-JONES",
        ),
        (
            "surname=HARPER_SR forenames=WILLIAM",
            "100007",
            0.7,
            "surname agrees",
        ),
        (
            "surname=HARPER forenames=WILLIAM from=1921",
            "100007",
            0.8,
            "from agrees",
        ),
        (
            "surname=QUAYLE forenames=CATH",
            "100008",
            0.8,
            "forenames agree in part: CATH / CATHERINE",
        ),
        (
            "number=100009-7 from=1948",
            "100009",
            0.5,
            "from is off by one: 1948 / 1947",
        ),
        (
            "number=100009-7 from=1974",
            "100009",
            0.5,
            "from agrees but for two digits swapped: 1974 / 1947",
        ),
        (
            "number=100009-7 from=1917",
            "100009",
            0.5,
            "from agrees but for one digit: 1917 / 1947",
        ),
        (
            "number=100009-7 surname=XQZVKW",
            "100009",
            0.5,
            "surname cannot be made out: XQZVKW / SMITH",
        ),
    ];
    let roster = people();
    for (ask, key, least, words) in cases {
        check(&roster, ask, key, least, words);
    }
}

#[test]
fn agrees_in_full_only_with_what_the_row_may_be_typed_as() {
    use Agreement::*;
    let roster = people();
    for (row, column, value, expected, like) in [
        (0, "surname", "DALTON", Full, "DALTON"),
        (0, "surname", "DALTQN", NotFull, "DALTON"),
        (2, "surname", "O BRIEN", Full, "O'BRIEN"),
        (5, "surname", "HARPER", NotFull, "HARPER JR"),
        (0, "forenames", "JOHN H", Full, "JOHN H"),
        (0, "forenames", "JQHN H", NotFull, "JOHN H"),
        (0, "forenames", "J", Full, "J"),
        (1, "forenames", "JOHN HENRY", NotFull, "JOHN"),
        (0, "number", "1000011", Full, "100001-1"),
        (0, "number", "100001-7", NotFull, "100001-1"),
        (0, "from", "1932", NotFull, "1931"),
        (0, "from", "", Silent, ""),
    ] {
        let found = roster.agreement(row, column, value);
        assert_eq!(found, Some(expected), "{column} {value}");
        let found = roster.as_typed_like(row, column, value).unwrap_or_default();
        assert_eq!(found, like, "{column} {value}");
    }
}

#[test]
fn namesakes_share_what_only_the_name_supports() {
    let roster = people();
    let ranking = roster.rank(
        &query("surname=HARPER forenames=WILLIAM"),
        Prior::default(),
        5,
    );
    let [a, b] = [&ranking.rows[0], &ranking.rows[1]].map(|row| row.probability.get());
    assert!((a - b).abs() < 1e-9 && a + b > 0.9, "{ranking:#?}");
}

#[test]
fn a_stranger_is_not_in_the_roster() {
    let roster = people();
    for ask in [
        "number=734512-5 surname=KOWALSKI forenames=STANISLAV",
        "number=734512-5 surname=SMITH forenames=EDGAR",
        "surname=BARTON forenames=EDGAR",
    ] {
        let ranking = roster.rank(&query(ask), Prior::default(), 5);
        assert!(ranking.none.get() > 0.5, "{ask}: {ranking:#?}");
    }
    let never = Prior {
        in_roster: Probability::ZERO,
    };
    let ranking = roster.rank(&query("number=100001-1"), never, 5);
    assert_eq!((ranking.none, ranking.rows.len()), (Probability::ONE, 0));
}

#[test]
fn a_rare_surname_weighs_more_than_a_common_one() {
    let roster = people();
    let weight = |ask: &str, at: usize| {
        let ranking = roster.rank(&query(ask), Prior::default(), 20);
        let row = ranking
            .rows
            .iter()
            .find(|row| row.row == at)
            .expect("the row");
        row.reasons[1].weight
    };
    assert!(weight("surname=QUAYLE", 7) > weight("surname=SMITH", 8) + 0.5);
}

#[test]
fn nothing_asked_leaves_the_prior() {
    let ranking = people().rank(&query("surname= number="), Prior::default(), 3);
    assert!((ranking.none.get() - 0.1).abs() < 1e-9);
    assert!(ranking.evidence.abs() < 1e-9);
}

#[test]
fn values_cut_apart_in_several_ways_are_weighed_together() {
    let split = |surname: &str, forenames: &str, p: f64| {
        let values = vec![surname.to_owned(), forenames.to_owned()];
        (values, Probability::new(p))
    };
    let query = Query {
        columns: Vec::new(),
        joint: vec![QueryJoint {
            columns: vec!["surname".to_owned(), "forenames".to_owned()],
            // The reader prefers the wrong cut, and a mixture of both would fit another Smith.
            values: vec![
                split("MARY", "ANN O BRIEN", 0.7),
                split("O BRIEN", "MARY ANN", 0.3),
            ],
        }],
    };
    let roster = people();
    let ranking = roster.rank(&query, Prior::default(), 5);
    assert_eq!(roster.key(ranking.rows[0].row), "100003-8");
    assert!(ranking.rows[0].probability.get() > 0.9, "{ranking:#?}");
}

#[test]
fn search_leaves_out_only_what_is_negligible() {
    // Against the sum over all rows, each compared by itself.
    let roster = people();
    for ask in [
        "surname=SMITH forenames=PETER",
        "number=100009-7 forenames=ANNE",
        "forenames=JOHN",
    ] {
        let found = roster.rank(&query(ask), Prior::default(), 100);
        let each = 0.9 / roster.len() as f64;
        let asked = query(ask);
        let weigh = |row: usize| -> f64 {
            let columns = asked.columns.iter().map(|column| {
                let at = roster
                    .asked
                    .iter()
                    .find(|a| a.name() == column.column)
                    .expect("asked");
                at.ratio(
                    &at.compare(&column.values[0].0, slips::Slips::TypedAndRead),
                    row,
                )
            });
            each * columns.product::<f64>()
        };
        let sum: f64 = 0.1 + (0..roster.len()).map(weigh).sum::<f64>();
        for row in &found.rows {
            assert!(
                (row.probability.get() - weigh(row.row) / sum).abs() < 1e-6,
                "{ask}"
            );
        }
    }
}

#[test]
fn odd_values_leave_probabilities_whole() {
    let roster = people();
    let long = "A".repeat(3000);
    let sure = Prior {
        in_roster: Probability::ONE,
    };
    for value in [
        long.as_str(),
        "---",
        "\u{202e}",
        "名前",
        "Ø",
        "0000",
        "J J J J J J J J",
    ] {
        let columns = schema().columns.into_iter().map(|(column, _)| QueryColumn {
            column,
            values: vec![(value.to_owned(), Probability::ONE)],
        });
        let query = Query {
            columns: columns.collect(),
            joint: Vec::new(),
        };
        for prior in [Prior::default(), sure] {
            let ranking = roster.rank(&query, prior, 100);
            let rows = ranking.rows.iter().map(|row| row.probability.get());
            let sum = ranking.none.get() + rows.sum::<f64>();
            assert!((sum - 1.0).abs() < 1e-6, "{value:.20}: {sum}");
            let reasons = ranking.rows.iter().flat_map(|row| &row.reasons);
            assert!(
                reasons.clone().all(|reason| reason.weight.is_finite()),
                "{value:.20}"
            );
        }
    }
}
