//! Files as clients send them: cases as data.

use super::*;
use crate::roster::{ColumnKind, LISTED_FINDINGS, Prior, Query, Roster, Schema};

fn surnames() -> Schema {
    Schema {
        key: "number".to_owned(),
        columns: vec![("surname".to_owned(), ColumnKind::Surname)],
    }
}

#[test]
fn says_where_a_file_is_at_fault_and_goes_on() {
    type Case = (
        &'static [u8],
        usize,
        &'static [(&'static str, &'static str)],
    );
    let cases: &[Case] = &[
        (b"\xef\xbb\xbfnumber,surname\r\n1,A\r\n\r\n2,B\r\n", 2, &[]),
        (
            b"number,surname\n1,A\n2\n",
            2,
            &[(
                "roster-row-short",
                "roster line 3, column 2: expected 2 cells, found 1",
            )],
        ),
        (
            b"number,surname\n\n1,A,x\n2,B,\n",
            2,
            &[(
                "roster-row-long",
                "roster line 3, column 3: expected 2 cells, found 3",
            )],
        ),
        (
            b"number,surname\r\n1,A\r\n2,B\r\n1,C\r\n",
            3,
            &[(
                "roster-key-twice",
                "roster line 4, column 1 (number): the key 1 stands in line 2 already",
            )],
        ),
        (
            b"number,surname\n,A\n",
            1,
            &[(
                "roster-key-empty",
                "roster line 2, column 1 (number): expected a key",
            )],
        ),
        (
            b"number,surname\n1,A\n2,M\xfcller\n",
            2,
            &[(
                "roster-encoding",
                "roster line 3, byte 4: expected UTF-8, found byte 0xfc",
            )],
        ),
        (
            b"number;surname\n1;A,B\n",
            1,
            &[(
                "roster-separator",
                "roster line 1: expected commas between the columns, found semicolons",
            )],
        ),
        (
            b"number,,surname,Number\n1,x,A,y\n",
            1,
            &[
                ("roster-header", "roster line 1, column 2: expected a name"),
                (
                    "roster-header",
                    "roster line 1, column 4: the name Number stands in column 1 already",
                ),
            ],
        ),
        (
            b"number,surname\n1,\"A\nB\"\n2,\"C\n3,D\n",
            2,
            &[(
                "roster-quote-open",
                "roster line 4: a quotation mark is opened",
            )],
        ),
        (
            b"number,surname\n",
            0,
            &[(
                "roster-empty",
                "roster: expected one line a row after the header, found none",
            )],
        ),
        (
            b"\xff\xfen\0u\0m\0b\0e\0r\0,\0s\0u\0r\0n\0a\0m\0e\0\n\x001\0,\0A\0",
            1,
            &[(
                "roster-encoding",
                "roster line 1: expected UTF-8, found UTF-16",
            )],
        ),
    ];
    for (bytes, rows, expected) in cases {
        let told = String::from_utf8_lossy(bytes);
        let (table, mut findings) = Table::from_reader(*bytes).expect("a table");
        let (roster, more) = Roster::prepare(table, &surnames()).expect("a roster");
        findings.extend(more);
        assert_eq!(roster.len(), *rows, "{told}");
        assert_eq!(findings.len(), expected.len(), "{told}: {findings:#?}");
        for (finding, (code, start)) in findings.iter().zip(*expected) {
            assert_eq!(finding.code, *code, "{told}");
            assert!(
                finding.message.starts_with(start),
                "{told}: {}",
                finding.message
            );
        }
        let ranking = roster.rank(&Query::default(), Prior::default(), 3);
        assert_eq!(ranking.rows.is_empty(), *rows == 0, "{told}");
    }
}

#[test]
fn windows_1252_is_read_as_it_was_meant() {
    let (table, _) =
        Table::from_reader(&b"number,surname\n1,M\xfcller\n2,\x8aimek\n"[..]).expect("a table");
    assert_eq!([table.cell(0, 1), table.cell(1, 1)], ["Müller", "Šimek"]);
}

#[test]
fn what_cannot_be_used_is_refused_in_words() {
    let start = |bytes: &[u8]| match Table::from_reader(bytes) {
        Ok((table, _)) => Roster::prepare(table, &surnames())
            .expect_err("no such column")
            .to_string(),
        Err(error) => error.to_string(),
    };
    for (bytes, expected) in [
        (&b""[..], "roster: the file is empty"),
        (b"\n \r\n", "roster: the file is empty"),
        (
            b"PK\x03\x04\x00\x00",
            "roster byte 4: expected text, found a zero byte",
        ),
        (
            b"number,name\n1,A\n",
            "roster line 1: expected a column named surname, found: number, name",
        ),
    ] {
        let found = start(bytes);
        assert!(found.starts_with(expected), "{found}");
    }
    let missing = Roster::load(Path::new("no/such/roster.csv"), &surnames()).expect_err("no file");
    assert!(
        missing
            .to_string()
            .starts_with("roster no/such/roster.csv: expected a CSV file")
    );
}

#[test]
fn many_faults_are_counted_not_listed() {
    let text = format!("number,surname\n{}", "1\n".repeat(1000));
    let (table, findings) = Table::from_reader(text.as_bytes()).expect("a table");
    assert_eq!((table.len(), findings.len()), (1000, LISTED_FINDINGS + 1));
    assert_eq!(
        findings.last().expect("one").message,
        "roster: 980 more findings like the last"
    );
}
